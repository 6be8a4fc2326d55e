"""Drafts: labelled sentences, and an article with expected findings and tempting non-findings.

A sentence passes when every kind under `expect` is found and nothing beyond `expect` and `tolerate` is. In the article
a row passes likewise; kinds beyond the listed ones on a line with expected findings do not count; a finding on a line
in neither list is a false alarm. Contested items are left out. The catalogue: drafts/catalogue.yaml beside the runner.
"""

from __future__ import annotations

import atexit
import sys
from collections.abc import Iterator
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from drafts_catalogue import make_catalogue, read_document
from outcome import CaseOutcome

from evidence.reading.drafts import Draft, read_draft_text
from evidence.workflows.drafts.checking import Checked, check_draft
from evidence.workflows.drafts.knowing import know_catalogue
from evidence.workflows.drafts.knowledge import Knowledge

DRAFTS = Path(__file__).resolve().parents[1] / "drafts"
FORMATS = {"article": "markdown", "note": "text", "caption": "text"}


def matches(document: Any) -> bool:
    if not isinstance(document, dict):
        return False
    items = document.get("items")
    sentences = isinstance(items, list) and bool(items) and all("expect" in i and "text" in i for i in items)
    return sentences or ("draft" in document and "tempting_non_findings" in document)


def evaluate(document: Any) -> Iterator[CaseOutcome]:
    known = knowledge()
    if "items" in document:
        for item in document["items"]:
            if not item.get("contested"):
                yield judge_sentence(item, known)
    else:
        yield from judge_article(document, known)


@cache
def knowledge() -> Knowledge:
    """The catalogue of the cases, read back from a real one."""
    data = read_document()
    folder = TemporaryDirectory(prefix="steelyard-cases-")
    catalogue = make_catalogue(Path(folder.name), data)
    atexit.register(folder.cleanup)
    atexit.register(catalogue.close)  # before the folder: what was registered last is called first
    return know_catalogue(catalogue, date.fromisoformat(data["as_of"]))


def found_kinds(item: dict[str, Any], known: Knowledge) -> set[str]:
    """The kinds found in one sentence."""
    draft = read_draft_text(item["text"], FORMATS.get(item["format"], "text"), item["id"])
    ties = {}
    if item.get("tied") and item.get("claim"):
        ties = {i: [item["claim"]] for i in range(len(draft.sentences))}
    return {f.kind for f in check_draft(draft, known, item.get("audience"), ties).findings}


def judge_sentence(item: dict[str, Any], known: Knowledge) -> CaseOutcome:
    found = found_kinds(item, known)
    expect, tolerate = set(item["expect"]), set(item["tolerate"])
    missed, false = sorted(expect - found), sorted(found - expect - tolerate)
    differences = [f"missed: {', '.join(missed)}"] if missed else []
    differences += [f"false alarm: {', '.join(false)}"] if false else []
    return CaseOutcome(
        item["id"],
        not differences,
        tuple(differences),
        right=len(expect & found),
        asked=len(missed),
        wrong=len(false),
    )


def check_article(document: Any, known: Knowledge) -> tuple[Draft, Checked, dict[int, set[str]]]:
    text = (DRAFTS / document["draft"]).read_text("utf-8")
    draft = read_draft_text(text, "markdown", document["draft"])
    ends = [draft.place(max(s.end - 1, s.start)).line for s in draft.sentences]
    wanted = {row["line"]: row["claim"] for row in document["ties"]}
    ties = {i: [wanted[line]] for i, line in enumerate(ends) if line in wanted}
    checked = check_draft(draft, known, None, ties)
    by_line: dict[int, set[str]] = {}
    for finding in checked.findings:
        by_line.setdefault(ends[finding.sentence], set()).add(finding.kind)
    return draft, checked, by_line


def judge_article(document: Any, known: Knowledge) -> Iterator[CaseOutcome]:
    _, _, by_line = check_article(document, known)
    listed: set[int] = set()
    for row in document["findings"]:
        listed.add(row["line"])
        if row.get("contested"):
            continue
        found = by_line.get(row["line"], set())
        missed = sorted(set(row["kinds"]) - found)
        differences = (f"missed: {', '.join(missed)}",) if missed else ()
        yield CaseOutcome(
            f"line {row['line']}",
            not missed,
            differences,
            right=len(set(row["kinds"]) & found),
            asked=len(missed),
        )
    for row in document["tempting_non_findings"]:
        listed.add(row["line"])
        if row.get("contested"):
            continue
        false = sorted(by_line.get(row["line"], set()) - set(row.get("tolerate", ())))
        differences = (f"false alarm: {', '.join(false)}",) if false else ()
        yield CaseOutcome(f"line {row['line']} (tempting)", not false, differences, wrong=len(false))
    for line in sorted(set(by_line) - listed):
        kinds = sorted(by_line[line])
        yield CaseOutcome(
            f"line {line} (unlisted)", False, (f"false alarm: {', '.join(kinds)}",), wrong=len(kinds)
        )
