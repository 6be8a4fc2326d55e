"""The invented catalogue of the drafts cases, in a real catalogue: references, studies, results, claims, appraisals.

What the file says of verdict and confidence is stored as the last appraisal of each claim; everything else goes through
the tables as any study does. Names that the vocabulary lacks ("heavy loads") are added as a user would add them.
"""

from __future__ import annotations

import math
import re
from datetime import UTC, date, datetime, timedelta
from importlib.metadata import version
from pathlib import Path
from typing import Any

import yaml

from evidence.appraisal.rulebook import load_rules
from evidence.catalogue import Catalogue, Location, create_catalogue, open_catalogue, tables
from evidence.vocabulary import load_vocabulary

HERE = Path(__file__).resolve().parent
START = datetime(2026, 4, 1, 8, 0, tzinfo=UTC)
EXERCISES = {"prone_leg_curl": "lying_leg_curl", "romanian_deadlift": "rdl"}
REGIONS = {
    "biceps_femoris_long_head": "biceps_femoris_long",
    "biceps_femoris_short_head": "biceps_femoris_short",
}
NOT_MUSCLES = {"knee", "lower_limb", "knee_flexors"}
OWN = {  # what the vocabulary lacks: name, and what people call it
    "full_squat": ("full squat", ["full squats", "deep squat", "squat all the way down"]),
    "partial_squat": ("partial squat", ["half squat", "partials", "half reps"]),
    "wide_squat": ("wide-stance squat", ["wide squat", "wide stance", "going wide", "squatting wide"]),
    "narrow_squat": ("narrow-stance squat", ["narrow squat", "narrow stance", "going narrow"]),
    "reverse_lunge": ("reverse lunge", ["flat lunge", "lunge"]),
    "deficit_reverse_lunge": ("deficit reverse lunge", ["deficit lunge", "lunge with a deficit"]),
    "slow_eccentric_squat": ("slow lowering", ["slow group", "slow squat", "four-second negatives"]),
    "fast_eccentric_squat": ("fast lowering", ["fast group", "quick ones", "fast squat"]),
    "rest_3_min": ("three minutes of rest", ["long rest", "3 minutes of rest", "resting three minutes"]),
    "rest_1_min": ("one minute of rest", ["short rest", "1 minute of rest", "resting one"]),
    "knee_extension_short_partials": ("short-length partials", ["short partials", "short half"]),
    "knee_extension_long_partials": ("long-length partials", ["long partials", "long half"]),
    "load_80_plus": ("heavy loads", ["heavy sets", "heavy load", "heavy"]),
    "load_50_60": ("light loads", ["light sets", "light load", "light"]),
    "twice_weekly": ("two leg sessions a week", ["twice a week", "two leg days"]),
    "once_weekly": ("one leg session a week", ["once a week", "one leg day"]),
    "calf_raise_with_stretch": (
        "calf raises with stretching",
        ["calf stretching", "stretching between sets"],
    ),
    "calf_raise": ("calf raises alone", []),
    "nordic_programme": ("Nordic programme", ["Nordics", "Nordic curl programme"]),
    "usual_training": ("usual training", []),
    "squat_depth": ("deeper squatting", ["going below parallel", "squatting deeper", "deep squats", "depth"]),
    "knee_extension_training": ("knee extension training", ["knee extensions"]),
    "education": ("education", []),
    "leg_press_single": ("one-leg press", ["one leg at a time", "one leg"]),
    "squat_after_band_walk": ("squat after band walks", ["band walks first", "band walk"]),
}
STATUS = {"untrained": "untrained", "recreationally trained": "recreational", "trained": "trained"}
LEVELS = {"supports": "supported", "contradicts": "contradicted", "unclear": "no clear difference"}
LEVELS |= {"equivalent": "little to no difference", "little to no difference": "little to no difference"}
METRICS = {"percent, relative": "log_ratio_of_means", "SMD": "smd", "risk ratio": "log_risk_ratio", "r": "r"}


def read_document(path: Path | None = None) -> dict[str, Any]:
    text = (path or HERE / "drafts" / "catalogue.yaml").read_text("utf-8")
    return dict(yaml.load(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader)))


class Clock:
    """Moves on a minute at each look; `at` may be set."""

    def __init__(self) -> None:
        self.at = START

    def __call__(self) -> datetime:
        self.at += timedelta(minutes=1)
        return self.at


def make_catalogue(folder: Path, document: dict[str, Any] | None = None) -> Catalogue:
    """A new catalogue in a folder, holding the document."""
    data = document or read_document()
    place = Location(path=folder / "drafts.sqlite")
    create_catalogue(place).close()
    clock = Clock()
    catalogue = open_catalogue(place, now=clock)
    with catalogue.changing("tests", "own names") as session:
        for key, (name, names) in OWN.items():
            if key in load_vocabulary().exercises:
                continue
            session.add(
                tables.OwnExercise(
                    key=key, name=name, body={"primary": [], "secondary": []}, added_by="tests"
                )
            )
            session.add_all(
                tables.OwnAlias(kind="exercise", alias=alias, target=key, added_by="tests") for alias in names
            )
    with catalogue.changing("tests", "studies") as session:
        for key, study in data["studies"].items():
            store_study(session, key, study)
    with catalogue.changing("tests", "claims") as session:
        for claim in data["claims"]:
            store_claim(session, claim, data)
    with catalogue.changing("tests", "appraisals") as session:
        for claim in data["claims"]:
            store_appraisal(session, claim, data, clock())
    return catalogue


def store_study(session: Any, key: str, study: dict[str, Any]) -> None:
    authors = [dict(zip(("family", "given"), a.split(", "), strict=False)) for a in study["authors"]]
    status = study["status"]
    csl: dict[str, Any] = {
        "id": key,
        "type": "article" if status == "preprint" else "article-journal",
        "title": study["title"],
        "author": authors,
        "issued": {"date-parts": [[study["year"]]]},
        "container-title": study["journal"],
        "DOI": study["doi"],
    }
    if status == "preprint":
        csl["genre"] = "preprint"
    notice = {"retracted": "retracted", "corrected": "corrected", "expression of concern": "concern"}.get(
        status
    )
    reference = tables.Reference(
        key=key, title=study["title"], first_author=authors[0]["family"], year=study["year"], doi=study["doi"],
        container=study["journal"], csl=csl, notice=notice, added_at=START, type=csl["type"],
        reading_state="abstract" if study["access"] == "abstract" else "full text",
    )  # fmt: skip
    within = "within" in study["design"]
    row = tables.Study(
        key=key, title=study["title"], year=study["year"], design="randomised_crossover" if within else "rct_parallel",
        pairing="within" if within else "between", randomised="no" if "not randomised" in study["design"] else "yes",
        weeks=study.get("weeks"), invented=True, sample=study.get("sample"), added_at=START,
    )  # fmt: skip
    session.add_all([reference, row])
    session.flush()
    session.add(
        tables.StudyReference(
            study_id=row.id, reference_id=reference.id, role="preprint" if status == "preprint" else "report"
        )
    )
    people = read_people(study["people"], study["n"])
    session.add(tables.People(study_id=row.id, key="all", **people))
    conditions: dict[str, tables.Condition] = {}
    outcomes: dict[tuple[str, str], tables.Outcome] = {}
    for contrast in study["contrasts"]:
        store_contrast(session, row, study, contrast, conditions, outcomes)


def store_contrast(
    session: Any, row: Any, study: dict[str, Any], contrast: dict[str, Any], conditions: Any, outcomes: Any
) -> None:
    printed = contrast["printed"]
    for side in ("A", "B"):
        name = contrast[side]
        if name not in conditions:
            known = EXERCISES.get(name, name)
            exercise = known if known in load_vocabulary().exercises or name in OWN else None
            details = {"load": printed["load"]} if printed.get("load") else {}
            conditions[name] = tables.Condition(
                study_id=row.id,
                key=name.replace("_", "-"),
                exercise=exercise,
                printed=name.replace("_", " "),
                details=details,
            )
            session.add(conditions[name])
    unit = str(printed.get("unit") or "").split(",")[0]
    outcome_key = (contrast["outcome"], unit)
    if outcome_key not in outcomes:
        outcomes[outcome_key] = tables.Outcome(
            study_id=row.id,
            key=f"o{len(outcomes)}",
            construct_id=contrast["outcome"],
            unit=unit,
            better="lower" if "lower is better" in str(printed.get("unit")) else "higher",
        )
        session.add(outcomes[outcome_key])
    session.flush()
    outcome = outcomes[outcome_key]
    region = contrast["region"]
    region = None if region in NOT_MUSCLES else REGIONS.get(region, region)
    read_from = "abstract" if study["access"] == "abstract" else "full text"
    base = {
        "study_id": row.id, "outcome_id": outcome.id, "region": region, "locator": printed.get("locator", "p. 5"),
        "read_from": read_from, "read_by": "tests", "read_at": START,
    }  # fmt: skip
    for side in ("A", "B"):
        values = printed.get(side)
        if not isinstance(values, dict):
            continue
        condition = conditions[contrast[side]]
        made = []
        if "mean" in values:
            made.append(
                {
                    "timepoint": "acute",
                    "statistic": "mean",
                    "value": values["mean"],
                    "spread": values["sd"],
                    "spread_kind": "SD",
                }
            )
        for point in ("pre", "post"):
            if point in values:
                mean, sd = values[point]
                made.append(
                    {
                        "timepoint": point,
                        "statistic": "mean",
                        "value": mean,
                        "spread": sd,
                        "spread_kind": "SD",
                        "n": values.get("n"),
                    }
                )
        if "events" in values:
            made.append(
                {"timepoint": "over", "statistic": "count", "events": values["events"], "n": values["n"]}
            )
        if "change_percent" in values:
            p = str(values["p_within"]) if "p_within" in values else None
            made.append(
                {
                    "timepoint": "over",
                    "statistic": "percent_change",
                    "value": values["change_percent"],
                    "p": p,
                    "printed_unit": "%",
                }
            )
        for one in made:
            number = session.info.setdefault("results", 0)
            session.info["results"] = number + 1
            session.add(
                tables.Result(
                    key=f"r{number}",
                    condition_id=condition.id,
                    printed=str(one.get("value", "")),
                    **base,
                    **one,
                )
            )
    if "r" in printed:
        session.add(
            tables.Result(
                key="r-correlation",
                condition_id=conditions[contrast["A"]].id,
                timepoint="over",
                statistic="correlation",
                value=printed["r"],
                n=printed["n"],
                printed=str(printed["r"]),
                **base,
            )
        )


def read_people(words: str, n: int) -> dict[str, Any]:
    both = "men and women" in words or words.startswith("adults")
    sex = (
        "both"
        if both
        else "female"
        if "women" in words
        else "male"
        if re.search(r"\b(men|male)\b", words)
        else "both"
    )
    status = next((s for w, s in STATUS.items() if words.startswith(w)), "not stated")
    return {
        "label": words, "recruited": n, "analysed": n, "sex": sex, "training_status": status,
        "health": "knee osteoarthritis" if "osteoarthritis" in words else "healthy",
    }  # fmt: skip


def store_claim(session: Any, claim: dict[str, Any], data: dict[str, Any]) -> None:
    region = claim["region"]
    stated = (
        "differs"
        if "differently" in claim["statement"]
        else "same"
        if "same extent" in claim["statement"]
        else "more"
    )
    sides = [EXERCISES.get(claim[s] or "", claim[s]) for s in ("A", "B")]
    if " lowers " in claim["statement"]:
        stated = "less"
    if claim["A"] == "squat_depth":
        stated, sides = "less", ["squat_depth", None]
    session.add(
        tables.Claim(
            key=claim["id"],
            statement=claim["statement"],
            exercise=sides[0] if claim["A"] != "ranking" else None,
            comparator=sides[1],
            region=None if region in NOT_MUSCLES else REGIONS.get(region, region),
            construct_id=claim["outcome"],
            direction=stated,
            review_due=date.fromisoformat(str(claim["review_due"])),
            surrogate="activation" if claim.get("surrogate") else None,
            note=claim.get("note"),
            added_at=START,
            added_by="tests",
            kind="superlative" if claim["A"] == "ranking" else "comparison",
        )
    )
    session.flush()
    from sqlmodel import select

    row = session.exec(select(tables.Claim).where(tables.Claim.key == claim["id"])).one()
    for key in claim.get("contradicting", []):
        reference = session.exec(select(tables.Reference).where(tables.Reference.key == key)).one()
        session.add(
            tables.ClaimLink(
                claim_id=row.id,
                reference_id=reference.id,
                stance="against",
                kind="study",
                locator="",
                said="",
                person="tests",
                at=START,
            )
        )


def current_versions() -> dict[str, str]:
    """The versions by which an appraisal counts as made today."""
    return {
        "steelyard": version("steelyard"),
        "rule_set": "default",
        "rules": str(load_rules("default")["version"]),
    }


def store_appraisal(session: Any, claim: dict[str, Any], data: dict[str, Any], at: datetime) -> None:
    from sqlmodel import select

    row = session.exec(select(tables.Claim).where(tables.Claim.key == claim["id"])).one()
    pooled = claim.get("pooled") or {}
    ratio = pooled.get("unit") == "risk ratio"
    percent = pooled.get("unit") == "percent, relative"

    def scaled(value: float) -> float:
        return math.log(value) if ratio else math.log1p(value / 100) if percent else value

    estimate = scaled(pooled["estimate"]) if pooled else None
    low, high = (scaled(v) for v in pooled["ci"]) if pooled else (None, None)
    studies = []
    for key in claim["studies"]:
        found = next(
            (
                c.get("computed")
                for c in data["studies"][key]["contrasts"]
                if c["outcome"] == claim["outcome"]
            ),
            None,
        )
        entry: dict[str, Any] = {
            "study": key,
            "n": data["studies"][key]["n"],
            "estimate": None,
            "variance": None,
        }
        if found:
            lo, hi = (scaled(v) for v in found["ci"])
            entry |= {"estimate": scaled(found["estimate"]), "variance": ((hi - lo) / 3.92) ** 2}
        studies.append(entry)
    verdict = LEVELS.get(claim["verdict"], "nothing found")
    if claim["verdict"].startswith("association"):
        verdict = "supported"
    session.add(
        tables.Appraisal(
            claim_id=row.id,
            at=at,
            inputs_hash="tests",
            versions=current_versions(),
            verdict=verdict,
            confidence=claim["confidence"],
            confidence_low=claim["confidence"],
            confidence_high=claim["confidence"],
            estimate=estimate,
            low=low,
            high=high,
            metric=METRICS.get(pooled.get("unit", "")),
            k=pooled.get("k", 0),
            body={"studies": studies},
        )
    )
