"""Notices: retractions, concerns and corrections from a file, put on the references they are about."""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import all_references, studies_of_reference
from evidence.errors import BadInput
from evidence.workflows.gathering import as_record
from references.errors import Problem
from references.notice_sources import read_crossref, read_retraction_file
from references.notices import Notice, State, find_notices, judge_state


@dataclass(frozen=True, slots=True)
class NoticesApplied:
    """What a file of notices changed. References it does not list stay as they were; that is not "clean"."""

    changed: tuple[str, ...]
    doubtful: tuple[str, ...]
    studies: tuple[str, ...]
    read: int
    unlisted: int
    unjoinable: tuple[str, ...]
    problems: tuple[Problem, ...]


def apply_notices(catalogue: Catalogue, path: Path, who: str) -> NoticesApplied:
    """Apply the open retraction table (CSV) or Crossref-shaped JSON to the stored references."""
    if not path.is_file():
        raise BadInput("is no file.", where=str(path))
    today = catalogue.now()
    changed: list[str] = []
    doubtful: list[str] = []
    problems: list[Problem] = []
    touched: dict[str, None] = {}
    with catalogue.changing(who, f"refs notices apply {path.name}") as session:
        rows = {row.key: row for row in all_references(session)}
        report = find_notices([as_record(row) for row in rows.values()], read_notices(path, problems.append))
        by_key: dict[str, list[Notice]] = {}
        for match in report.found:
            if match.doubt:
                doubtful.append(f"{match.key}: {match.doubt}")
            else:
                by_key.setdefault(match.key, []).append(match.notice)
        for key, notices in by_key.items():
            state = judge_state(notices, checked_on=today.date(), sources=[path.name]).state
            word = None if state in (State.NOT_LISTED, State.REINSTATED) else state.value.replace("_", " ")
            row = rows[key]
            row.notice_checked_on = today
            if row.notice != word:
                changed.append(f"{key} is now {word or 'reinstated'}")
                row.notice = word
                touched.update(dict.fromkeys(s.key for s in studies_of_reference(session, row)))
        for key in report.unlisted:
            rows[key].notice_checked_on = today
    return NoticesApplied(
        tuple(changed),
        tuple(doubtful),
        tuple(touched),
        report.read,
        len(report.unlisted),
        report.unjoinable,
        tuple(problems),
    )


def read_notices(path: Path, tell: Callable[[Problem], None]) -> Iterator[Notice]:
    """Notices of a file, by what it holds; rows that cannot be read are told, and take no neighbour with them."""
    with path.open("rb") as file:
        start = file.read(64).lstrip(b"\xef\xbb\xbf \r\n\t")
    if start[:1] in (b"{", b"["):
        try:
            document = json.loads(path.read_text("utf-8-sig"))
        except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as problem:
            raise BadInput(f"is no JSON that can be read: {problem}.", where=str(path)) from problem
        yield from read_crossref(document)
        return
    yield from read_retraction_file(path, on_problem=tell)
