"""How long a draft takes: `python tests/benchmarks/drafts.py [WORDS] [CLAIMS]`. Aim: 10,000 words, 2,000 claims: 2 s.

The catalogue is invented and made here: claims over pairs of exercises, regions and outcomes, one study for each, each
with an appraisal. The time counts reading the catalogue and the draft and every check; not the start of Python.
"""

import random
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from importlib.metadata import version
from pathlib import Path
from typing import Any

from evidence.appraisal.rulebook import load_rules
from evidence.catalogue import Catalogue, Location, create_catalogue, open_catalogue, tables
from evidence.reading.drafts import read_draft_text
from evidence.vocabulary import load_vocabulary
from evidence.workflows.drafts.checking import check_draft
from evidence.workflows.drafts.knowing import know_catalogue

START = datetime(2026, 4, 1, 8, 0, tzinfo=UTC)
VERBS = {"hypertrophy": "grow", "activation": "activate", "strength": "strengthen"}


def make_catalogue(folder: Path, claims: int, seed: int = 7) -> Catalogue:
    """An invented catalogue with so many claims."""
    chance = random.Random(seed)
    place = Location(path=folder / "bench.sqlite")
    create_catalogue(place).close()
    at = [START]

    def now() -> datetime:
        at[0] += timedelta(seconds=1)
        return at[0]

    catalogue = open_catalogue(place, now=now)
    vocabulary = load_vocabulary()
    exercises, regions = (
        sorted(vocabulary.exercises),
        sorted(r.id for r in vocabulary.regions.values() if r.kind == "muscle"),
    )
    for start in range(0, claims, 200):
        with catalogue.changing("bench", f"studies {start}") as session:
            for i in range(start, min(start + 200, claims)):
                store_study(session, i, chance, exercises, regions)
    with catalogue.changing("bench", "appraisals") as session:
        from sqlmodel import select

        rules = str(load_rules("default")["version"])
        versions = {"steelyard": version("steelyard"), "rule_set": "default", "rules": rules}
        for claim in session.exec(select(tables.Claim)).all():
            number = int(claim.key.split("-")[-1])
            level = chance.choice(["high", "moderate", "low", "very low"])
            session.add(
                tables.Appraisal(
                    claim_id=claim.id,
                    at=now(),
                    inputs_hash="bench",
                    versions=versions,
                    verdict="supported",
                    confidence=level,
                    confidence_low=level,
                    confidence_high=level,
                    estimate=0.3,
                    low=0.1,
                    high=0.5,
                    metric="smd",
                    k=1,
                    body={
                        "studies": [{"study": f"study-{number}", "n": 20, "estimate": 0.3, "variance": 0.01}],
                        "wordings": {
                            "short": claim.statement,
                            "plain": claim.statement,
                            "full": claim.statement,
                        },
                    },
                )
            )
    return catalogue


def store_study(
    session: Any, i: int, chance: random.Random, exercises: list[str], regions: list[str]
) -> None:
    one, other = chance.sample(exercises, 2)
    region, construct = chance.choice(regions), chance.choice(sorted(VERBS))
    name = f"Invented{chance.choice('abcdefghij')}{i:04d}"
    csl = {"id": f"ref{i}", "type": "article-journal", "title": f"[Invented] Study {i}",
           "author": [{"family": name, "given": "I."}], "issued": {"date-parts": [[2000 + i % 25]]}}  # fmt: skip
    reference = tables.Reference(
        key=f"ref{i}", title=csl["title"], first_author=name, year=2000 + i % 25, csl=csl, added_at=START
    )
    study = tables.Study(key=f"study-{i}", title=csl["title"], design="rct_parallel", pairing="between",
                         randomised="yes", invented=True, added_at=START)  # fmt: skip
    session.add_all([reference, study])
    session.flush()
    session.add(tables.StudyReference(study_id=study.id, reference_id=reference.id))
    session.add(
        tables.People(study_id=study.id, key="all", analysed=20, sex="male", training_status="trained")
    )
    outcome = tables.Outcome(study_id=study.id, key="o", construct_id=construct, unit="cm2")
    sides = [
        tables.Condition(study_id=study.id, key=e.replace("_", "-"), exercise=e, printed=e)
        for e in (one, other)
    ]
    session.add_all([outcome, *sides])
    session.flush()
    for n, side in enumerate(sides):
        for m, point in enumerate(("pre", "post")):
            session.add(
                tables.Result(
                    study_id=study.id,
                    key=f"r{n}{m}",
                    outcome_id=outcome.id,
                    condition_id=side.id,
                    region=region,
                    timepoint=point,
                    statistic="mean",
                    value=40 + m * 3 + n,
                    spread=5,
                    spread_kind="SD",
                    printed="40",
                    locator="Table 2",
                    read_from="full text",
                    read_by="bench",
                    read_at=START,
                )
            )
    session.add(
        tables.Claim(
            key=f"claim-{i}",
            statement=f"The {one.replace('_', ' ')} does more for the {region.replace('_', ' ')} than the "
            f"{other.replace('_', ' ')}",
            exercise=one,
            comparator=other,
            region=region,
            construct_id=construct,
            added_at=START,
            added_by="bench",
        )
    )


def make_draft(words: int, claims: int, seed: int = 3) -> str:
    """An invented article of so many words: sentences with and without citations, figures, and plain talk."""
    chance = random.Random(seed)
    vocabulary = load_vocabulary()
    names = sorted(e.name for e in vocabulary.exercises.values())
    regions = ["hamstrings", "quads", "glutes", "calves", "adductors"]
    lines, count = [], 0
    while count < words:
        a, b = chance.sample(names, 2)
        i, n = chance.randrange(claims), chance.randrange(4, 40)
        line = chance.choice([
            f"The {a} probably grows the {chance.choice(regions)} {n} per cent more than the {b} [@ref{i}].",
            f"[Studies show that the {a} is the best exercise for the {chance.choice(regions)}.]{{claim=claim-{i}}}",
            "I rest two minutes because that is how long it takes me to drink some water, and nobody complains.",
            f"In a trial of {n} people the {a} and the {b} could not be told apart [@ref{i}; @ref{(i + 1) % claims}].",
            f"Do 3 x 8 of the {a}, then rest, and write down how it went before you forget it.",
        ])  # fmt: skip
        lines.append(line)
        count += len(line.split())
    return "\n".join(line + ("\n" if k % 6 == 5 else "") for k, line in enumerate(lines))


def main() -> None:
    words = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    claims = int(sys.argv[2]) if len(sys.argv) > 2 else 2_000
    with tempfile.TemporaryDirectory() as folder:
        started = time.perf_counter()
        with make_catalogue(Path(folder), claims) as catalogue:
            print(
                f"made a catalogue of {claims} claims in {time.perf_counter() - started:.1f} s (not counted)"
            )
            text = make_draft(words, claims)
            began = time.perf_counter()
            knowledge = know_catalogue(catalogue)
            known = time.perf_counter()
            draft = read_draft_text(text, "markdown")
            read = time.perf_counter()
            checked = check_draft(draft, knowledge)
            done = time.perf_counter()
            again = check_draft(draft, knowledge)
            twice = time.perf_counter()
    print(f"{len(text.split())} words, {checked.sentences} sentences, {len(checked.findings)} findings")
    print(
        f"catalogue {known - began:.2f} s, draft {read - known:.2f} s, checks {done - read:.2f} s: {done - began:.2f} s"
    )
    print(f"checked again, catalogue already read: {twice - done:.2f} s ({len(again.findings)} findings)")


if __name__ == "__main__":
    main()
