"""Pairs of records: duplicate, related (and how), or not a duplicate.

A case passes when `duplicate` is answered same or likely same, `related` is answered related with the expected
relation, and `not_duplicate` is answered neither same nor likely same. `wrong` counts pairs that would be merged
wrongly.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from outcome import CaseOutcome

from references.duplicates import Answer, Pair, compare_pair
from references.names import Name, read_direct, read_indexed, read_inverted
from references.record import PartialDate, Record

_TYPES = {"preprint": "article", "abstract": "paper-conference"}
_MERGED = (Answer.SAME, Answer.LIKELY_SAME)
_INITIALS_FIRST = re.compile(r"^(?:[A-Z]\.?[\s-]*){1,4}[^\W\d_]{2,}")


def matches(document: Any) -> bool:
    pairs = document.get("dedup_pairs") if isinstance(document, dict) else None
    return bool(pairs) and all({"a", "b", "label"} <= set(pair) for pair in pairs)


def evaluate(document: Any) -> Iterator[CaseOutcome]:
    for case in document["dedup_pairs"]:
        yield judge_case(case, compare_pair(read_record(case["a"], "a"), read_record(case["b"], "b")))


def read_record(row: dict[str, Any], key: str) -> Record:
    kind = row.get("type")
    return Record(
        key=key,
        type=_TYPES.get(kind or "", kind if kind in ("book", "chapter", "thesis") else "article-journal"),
        genre=kind,
        title=row.get("title"),
        author=tuple(read_name(text) for text in row.get("authors", ())),
        issued=PartialDate(year=row["year"]) if row.get("year") else None,
        container_title=row.get("journal"),
        volume=row.get("volume"),
        page=row.get("pages"),
        doi=row.get("doi"),
        pmid=row.get("pmid"),
        abstract=row.get("abstract"),
        status=row.get("status"),
    )


def read_name(text: str) -> Name:
    """`Moe, Tor`, `Moe T` or `T. Moe`."""
    if "," in text:
        return read_inverted(text)
    return read_direct(text) if _INITIALS_FIRST.match(text) else read_indexed(text)


def judge_case(case: dict[str, Any], found: Pair) -> CaseOutcome:
    label, merged = case["label"], found.answer in _MERGED
    told = f"{found.answer.value} {found.relation or ''}: {found.reason}; distance {found.distance}"
    if label == "duplicate":
        passed = merged
    elif label == "related":
        passed = found.answer is Answer.RELATED and found.relation == case.get("relation", found.relation)
    else:
        passed = not merged
    differences = () if passed else (f"expected {label} {case.get('relation', '')}; {told}",)
    wrong = int(merged and label != "duplicate")
    return CaseOutcome(case["id"], passed, differences, int(passed), int(not passed and not wrong), wrong)
