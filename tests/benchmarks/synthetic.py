"""A large invented catalogue, made in seconds, for benchmarks: `make_catalogue(path, studies=2000, ...)`.

Everything in it is invented and says so. The same arguments make the same catalogue, but for its times.
"""

import random
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import combinations, product
from pathlib import Path
from typing import Any

from evidence.catalogue import Catalogue, Location, create_catalogue, open_catalogue, tables
from evidence.catalogue.recording import add_rows

AT = datetime(2026, 1, 1, 8, 0, tzinfo=UTC)
WHO = "Synthetic (invented)"
EXERCISES = (
    "back_squat", "front_squat", "leg_press", "hack_squat", "split_squat", "walking_lunge", "step_up", "leg_extension",
    "seated_leg_curl", "lying_leg_curl", "nordic_curl", "rdl", "conventional_deadlift", "good_morning", "hip_thrust",
    "glute_bridge", "kettlebell_swing", "standing_calf_raise", "seated_calf_raise", "box_squat",
)  # fmt: skip
REGIONS = ("hamstrings", "quadriceps_femoris", "gluteus_maximus", "gastrocnemius", "soleus")
STATUSES = (None, "trained", "untrained", "recreational")
DIRECTIONS = ("more", "less", "differs", "same")


def make_catalogue(
    path: Path,
    studies: int = 2_000,
    results_per_study: int = 5,
    claims: int = 10_000,
    references: int | None = None,
    *,
    seed: int = 1,
) -> Catalogue:
    """Make a catalogue at `path` and open it. `references` beyond one for each study stand alone."""
    create_catalogue(Location(path=path)).close()
    catalogue = open_catalogue(Location(path=path))
    fill_catalogue(catalogue, studies, results_per_study, claims, references, seed=seed)
    return catalogue


def fill_catalogue(
    catalogue: Catalogue,
    studies: int,
    results_per_study: int,
    claims: int,
    references: int | None = None,
    *,
    seed: int = 1,
) -> None:
    """Put the invented rows into a catalogue, beside what it holds."""
    rng = random.Random(seed)
    with catalogue.changing(WHO, f"make {studies} invented studies") as session:
        numbers = add_rows(
            session,
            tables.Reference,
            [reference_row(i) for i in range(max(studies, references or studies))],
        )
        ids = add_rows(session, tables.Study, [study_row(i) for i in range(studies)])
        add_rows(
            session,
            tables.StudyReference,
            [{"study_id": s, "reference_id": r} for s, r in zip(ids, numbers, strict=False)],
        )
        people = add_rows(session, tables.People, [people_row(i, s) for i, s in enumerate(ids)])
        outcomes = add_rows(session, tables.Outcome, [outcome_row(i, s) for i, s in enumerate(ids)])
        conditions: list[dict[str, Any]] = []
        for i, study in enumerate(ids):
            conditions += condition_rows(i, study, people[i], results_per_study, rng)
        placed = add_rows(session, tables.Condition, conditions)
        by_study: dict[int, list[int]] = {}
        for number, row in zip(placed, conditions, strict=True):
            by_study.setdefault(row["study_id"], []).append(number)
        results: list[dict[str, Any]] = []
        for i, study in enumerate(ids):
            results += result_rows(i, study, outcomes[i], by_study[study], results_per_study, rng)
        add_rows(session, tables.Result, results)
        add_rows(session, tables.Claim, claim_rows(claims))


def add_study(catalogue: Catalogue, number: int, results: int = 5) -> str:
    """One study more, with a reference of its own; returns its key."""
    rng = random.Random(number)
    with catalogue.changing(WHO, f"add invented study {number}") as session:
        (reference,) = add_rows(session, tables.Reference, [reference_row(number)])
        (study,) = add_rows(session, tables.Study, [study_row(number)])
        add_rows(session, tables.StudyReference, [{"study_id": study, "reference_id": reference}])
        (people,) = add_rows(session, tables.People, [people_row(number, study)])
        (outcome,) = add_rows(session, tables.Outcome, [outcome_row(number, study)])
        rows = condition_rows(number, study, people, results, rng)
        conditions = add_rows(session, tables.Condition, rows)
        add_rows(session, tables.Result, result_rows(number, study, outcome, conditions, results, rng))
    return str(study_row(number)["key"])


def is_acute(i: int) -> bool:
    """Every second study compares many exercises in one session; the others two over weeks."""
    return i % 2 == 0


def reference_row(i: int) -> dict[str, Any]:
    """An invented article."""
    title, name, year = f"[Invented] Study number {i} of an imagined series", f"Fictional{i}", 1990 + i % 36
    return {
        "key": f"fictional{i}",
        "title": title,
        "first_author": name,
        "year": year,
        "container": "Journal of Invented Strength",
        "doi": f"10.5555/synthetic.{i}",
        "csl": {
            "type": "article-journal",
            "title": title,
            "author": [{"family": name, "given": "F."}],
            "issued": {"date-parts": [[year]]},
            "container-title": "Journal of Invented Strength",
            "DOI": f"10.5555/synthetic.{i}",
        },
        "added_at": AT,
    }


def study_row(i: int) -> dict[str, Any]:
    """An invented study."""
    return {
        "key": f"study-{i:05d}",
        "title": f"[Invented] Study number {i} of an imagined series",
        "year": 1990 + i % 36,
        "design": "randomised_crossover" if is_acute(i) else "randomised_parallel",
        "pairing": "within" if is_acute(i) else "between",
        "randomised": "yes",
        "weeks": None if is_acute(i) else 8 + i % 9,
        "invented": True,
        "added_at": AT,
    }


def people_row(i: int, study: int) -> dict[str, Any]:
    """Who took part."""
    return {
        "study_id": study,
        "key": "all",
        "recruited": 12 + i % 30,
        "analysed": 12 + i % 30,
        "sex": ("both", "female", "male")[i % 3],
        "training_status": STATUSES[1:][i % 3],
        "health": "healthy",
    }


def outcome_row(i: int, study: int) -> dict[str, Any]:
    """What was measured: activation in a session, growth over weeks."""
    if is_acute(i):
        return {
            "study_id": study, "key": "emg", "construct_id": "activation", "instrument": "surface EMG",
            "unit": "%MVIC", "normalisation": "mvc_standard_isometric", "amplitude": "mean",
        }  # fmt: skip
    return {
        "study_id": study, "key": "thickness", "construct_id": "hypertrophy",
        "instrument": "ultrasound muscle thickness", "unit": "mm",
    }  # fmt: skip


def condition_rows(i: int, study: int, people: int, results: int, rng: random.Random) -> list[dict[str, Any]]:
    """As many exercises as results in a session; two over weeks."""
    chosen = rng.sample(EXERCISES, min(results, len(EXERCISES)) if is_acute(i) else 2)
    return [
        {"study_id": study, "key": name, "exercise": name, "printed": name, "people_id": people, "n": 12 + i % 30}
        for name in chosen
    ]  # fmt: skip


def result_rows(
    i: int, study: int, outcome: int, conditions: list[int], results: int, rng: random.Random
) -> list[dict[str, Any]]:
    """Means with their SD, as printed."""
    found: list[dict[str, Any]] = []
    for number, (condition, region, timepoint) in enumerate(cells(i, conditions)):
        if number == results:
            break
        mean, sd = (rng.uniform(30, 90), rng.uniform(10, 25)) if is_acute(i) else (rng.uniform(18, 40), 4.5)
        mean, sd = round(mean, 1), round(sd, 1)
        found.append(
            {
                "study_id": study, "key": f"r{number + 1}", "outcome_id": outcome, "condition_id": condition,
                "region": region, "timepoint": timepoint, "statistic": "mean", "value": mean, "spread": sd,
                "spread_kind": "SD", "n": 12 + i % 30, "printed": f"{mean} ({sd})", "locator": "Table 2",
                "read_from": "full text", "read_by": WHO, "read_at": AT,
            }
        )  # fmt: skip
    return found


def cells(i: int, conditions: list[int]) -> Iterator[tuple[int, str, str]]:
    """Condition, region and time of each figure of a study, in the order of its table."""
    times = ("acute",) if is_acute(i) else ("pre", "post")
    for turn in range(len(REGIONS)):
        for timepoint, condition in product(times, conditions):
            yield condition, REGIONS[(i // 2 + turn) % len(REGIONS)], timepoint


def claim_rows(count: int) -> list[dict[str, Any]]:
    """Distinct comparisons of two exercises on a region, as many as asked (at most 30,400)."""
    every = product(STATUSES, DIRECTIONS, ("activation", "hypertrophy"), REGIONS, combinations(EXERCISES, 2))
    rows = []
    for number, (status, says, construct, region, (one, other)) in enumerate(every):
        if number == count:
            break
        rows.append(
            {
                "key": f"claim-{number:05d}", "statement": f"[Invented] {one} {says} {other}: {region}, {construct}",
                "exercise": one, "comparator": other, "region": region, "construct_id": construct,
                "direction": says, "training_status": status, "added_at": AT, "added_by": WHO,
            }
        )  # fmt: skip
    return rows
