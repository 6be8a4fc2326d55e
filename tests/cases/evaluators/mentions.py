"""Garbled mentions: the match, the candidates to ask about, or none; related records and a warning where
expected.

A case passes when its outcome is right; for a match the key too, with `related` listed and `flag` warned
of; for
ambiguous all `ids` must be among the candidates. `accept` lists other outcomes that pass. Records:
mentions_catalogue.yaml beside the runner. `wrong` counts cases attached to a wrong record.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from outcome import CaseOutcome

from references.mention_index import MentionIndex, RecordFacts, build_index
from references.mentions import MentionAnswer, match_in_index
from references.names import Name
from references.record import PartialDate, Record

CATALOGUE = Path(__file__).resolve().parents[1] / "mentions_catalogue.yaml"
_TYPES = {"preprint": "article"}


def matches(document: Any) -> bool:
    cases = document.get("cases") if isinstance(document, dict) else None
    return bool(cases) and all(
        isinstance(case, dict) and "text" in case and "outcome" in (case.get("expect") or {})
        for case in cases
    )


def evaluate(document: Any) -> Iterator[CaseOutcome]:
    index = catalogue_index()
    for case in document["cases"]:
        yield judge_case(case, match_in_index(case["text"], index))


@cache
def catalogue_index() -> MentionIndex:
    data = yaml.load(
        CATALOGUE.read_text(encoding="utf-8"), Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    )
    rows = data["records"]
    return build_index([read_record(row) for row in rows], {row["id"]: read_facts(row) for row in rows})


def read_record(row: dict[str, Any]) -> Record:
    authors = tuple(
        Name(
            family=author.get("family"),
            given=author.get("given"),
            non_dropping_particle=author.get("particle"),
            suffix=author.get("suffix"),
            literal=author.get("literal"),
        )
        for author in row["authors"]
    )
    return Record(
        key=row["id"],
        type=_TYPES.get(row["type"], "article-journal"),
        genre="preprint" if row["type"] == "preprint" else None,
        title=row["title"],
        author=authors,
        issued=PartialDate(year=row["year"]),
        container_title=row.get("journal"),
        container_title_short=row.get("journal_abbrev"),
        volume=row.get("volume"),
        doi=row.get("doi"),
    )


def read_facts(row: dict[str, Any]) -> RecordFacts:
    """The catalogue's own type is the kind; a retracted trial is a trial with a state."""
    retracted = row["type"] == "retracted"
    return RecordFacts(
        sample_sizes=(row["n"],) if row.get("n") else (),
        kind="trial" if retracted else row["type"],
        state="retracted" if retracted else None,
    )


def judge_case(case: dict[str, Any], answer: MentionAnswer) -> CaseOutcome:
    expected = case["expect"]
    listed = [candidate.key for candidate in answer.candidates]
    found = f"{answer.outcome.value} {answer.key or listed[:4]}: {answer.reason}"
    wrong = int(answer.key is not None and answer.key != expected.get("id"))
    differences: list[str] = []
    if answer.outcome.value in expected.get("accept", ()):
        return CaseOutcome(case["id"], True, (f"accepted: {found}",), right=1)
    if answer.outcome.value != expected["outcome"] or (expected.get("id") and answer.key != expected["id"]):
        differences.append(
            f"expected {expected['outcome']} {expected.get('id') or expected.get('ids') or ''}; {found}"
        )
    missing = [key for key in expected.get("ids", ()) if key not in listed]
    if not differences and missing:
        differences.append(f"not among the candidates: {', '.join(missing)}")
    unrelated = [key for key in expected.get("related", ()) if key not in answer.related]
    if not differences and unrelated:
        differences.append(f"not listed as related: {', '.join(unrelated)}")
    flag = expected.get("flag")
    if not differences and flag and not any(flag in warning for warning in answer.warnings):
        differences.append(f"no warning that it is {flag}")
    passed = not differences
    asked = int(not passed and not wrong)
    return CaseOutcome(case["id"], passed, tuple(differences), right=int(passed), asked=asked, wrong=wrong)
