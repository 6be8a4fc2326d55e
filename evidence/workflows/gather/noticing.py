"""Notices: retractions, concerns, corrections and preprints, put on the references they are about."""

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import (
    linked_claims,
    reference_by_key,
    reference_identifiers,
    settings,
    stored_records,
    studies_of_reference,
    uses_touching,
)
from evidence.catalogue.queries.standings import last_appraisals_naming
from evidence.catalogue.recording import ChangingSession
from evidence.errors import BadInput
from evidence.workflows.gather.gathering import Progress, Tell, say_nothing
from evidence.workflows.gather.notice_log import add_notices, keep_notices, notices_kept
from references.errors import Problem, ReferencesError
from references.notice_sources import read_crossref, read_record_notices, read_retraction_file
from references.notices import Notice, NoticeReport, State, find_notices, judge_state
from references.reading import open_path
from references.record import Record

TOLD_EVERY = 500  # notices


@dataclass(frozen=True, slots=True)
class NoticeChange:
    """A reference whose state changed: from what to what ("" where nothing is known), and what follows from it."""

    key: str
    before: str
    now: str
    effect: str
    studies: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Touched:
    """What rests on a reference that changed: claims, and what went out (briefs, programmes, ...) because of it."""

    claims: tuple[str, ...]
    uses: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NoticesApplied:
    """What a file of notices changed. References it does not list stay as they were; that is not "clean".

    `doubtful`: notices that were not applied, with the reason to look first.
    """

    changes: tuple[NoticeChange, ...]
    touched: Touched
    doubtful: tuple[str, ...]
    read: int
    unlisted: int
    unjoinable: tuple[str, ...]
    problems: tuple[Problem, ...]
    checked_on: datetime

    @property
    def changed(self) -> tuple[str, ...]:
        """The changes in words."""
        return tuple(map(tell_change, self.changes))

    @property
    def studies(self) -> tuple[str, ...]:
        """The studies that references with a change report."""
        return tuple(dict.fromkeys(study for change in self.changes for study in change.studies))


def tell_change(change: NoticeChange) -> str:
    """A change in words."""
    before = f", was {change.before}" if change.before else ""
    return f"{change.key} is now {change.now}{before}"


class Watch:
    """How far a file of notices is; `tell` hears of it every so many notices."""

    def __init__(self, size: int, tell: Tell) -> None:
        self.size = size
        self.tell = tell
        self.position = 0

    def move(self, position: int) -> None:
        """Take note of the bytes gone through."""
        self.position = min(position, self.size)

    def count(self, notices: Iterable[Notice]) -> Iterator[Notice]:
        """The notices, counted on their way."""
        number = 0
        for number, notice in enumerate(notices, 1):
            if number % TOLD_EVERY == 0:
                self.tell(Progress(self.position, self.size, number))
            yield notice
        self.tell(Progress(self.size, self.size, number))


def apply_notices(catalogue: Catalogue, path: Path, who: str, tell: Tell = say_nothing) -> NoticesApplied:
    """Apply the open retraction table (CSV), Crossref-shaped JSON, or PubMed records to the stored references."""
    if not path.is_file():
        what = "this is a folder" if path.is_dir() else "there is no such file"
        raise BadInput(f"{what}.", where=str(path), hint="Name a file of notices.")
    problems: list[Problem] = []
    with catalogue.changing(who, f"refs notices apply {path.name}") as session:
        now = catalogue.now()
        watch = Watch(path.stat().st_size, tell)
        notices = watch.count(read_notices(path, problems.append, watch.move))
        report = find_notices(all_identifiers(session), notices)
        if not report.read and path.suffix.casefold() in (".csv", ".json"):
            raise BadInput(
                "holds no notice, so nothing was looked up in it.",
                where=str(path),
                hint="Fetch it again; references are marked as looked up only in a list that holds notices.",
            )
        changes = put_notices(session, report, path.name, now)
        for row in stored_records(session, report.unlisted):
            row.notice_checked_on = now
        touched = find_touched(session, changes)
    return NoticesApplied(
        changes,
        touched,
        tuple(f"{match.key}: {match.doubt}" for match in report.found if match.doubt),
        report.read,
        len(report.unlisted),
        report.unjoinable,
        tuple(problems),
        now,
    )


def all_identifiers(session: ChangingSession) -> Iterator[Record]:
    """Every reference with its identifiers and nothing else."""
    return (Record(key=key, doi=doi, pmid=pmid) for key, doi, pmid in reference_identifiers(session))


def put_notices(
    session: ChangingSession, report: NoticeReport, source: str, now: datetime
) -> tuple[NoticeChange, ...]:
    """Add the notices that were found to those known, and note what they come to; references whose state changed."""
    by_reference: dict[str, list[Notice]] = {}
    for match in report.found:
        if not match.doubt:
            by_reference.setdefault(match.key, []).append(match.notice)
    known = settings(session) if by_reference else {}
    changes = []
    for row in stored_records(session, list(by_reference)):
        notices = add_notices(notices_kept(known, row.key), by_reference[row.key])
        keep_notices(session, row.key, notices)
        judged = judge_state(notices, checked_on=now.date(), sources=[source])
        none = judged.state in (State.NOT_LISTED, State.REINSTATED)
        word = None if none else judged.state.value.replace("_", " ")
        row.notice_checked_on = now
        if row.notice != word:
            studies = tuple(study.key for study in studies_of_reference(session, row))
            changes.append(
                NoticeChange(row.key, row.notice or "", word or "reinstated", judged.effect, studies)
            )
            row.notice = word
    session.flush()
    return tuple(sorted(changes, key=lambda change: change.key))


def find_touched(session: ChangingSession, changes: Iterable[NoticeChange]) -> Touched:
    """Claims that a changed reference backs, or whose last weighing counted a study of it; and what came of them."""
    keys = [change.key for change in changes]
    if not keys:
        return Touched((), ())
    studies = {study for change in changes for study in change.studies}
    references = [reference_by_key(session, key).id for key in keys]
    claims = linked_claims(session, [number for number in references if number is not None])
    counted = {
        appraisal.claim_id
        for appraisal in last_appraisals_naming(session, studies)
        if studies & {study["study"] for study in appraisal.body.get("studies", ())}
    }
    named, uses = uses_touching(session, claims | counted, [n for n in references if n is not None])
    told = dict.fromkeys(f"{use.kind} {use.name}" + (f" ({use.place})" if use.place else "") for use in uses)
    return Touched(tuple(sorted(named)), tuple(sorted(told)))


def read_notices(
    path: Path, tell: Callable[[Problem], None], move: Callable[[int], None]
) -> Iterator[Notice]:
    """Notices of a file, by what it holds; rows that cannot be read are told, and take no neighbour with them.

    `move` hears how many bytes of the file have been gone through.
    """
    with path.open("rb") as file:
        start = file.read(4096).lstrip(b"\xef\xbb\xbf \r\n\t")
    if start[:1] in (b"{", b"["):
        try:
            document = json.loads(path.read_text("utf-8-sig"))
        except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as problem:
            raise BadInput(f"is no JSON that can be read: {problem}.", where=str(path)) from problem
        move(path.stat().st_size)
        yield from read_crossref(document)
    elif start.startswith((b"<", b"PMID")) or b"\nPMID-" in start:
        reading = open_path(path)
        for item in reading.items():
            move(reading.position)
            if isinstance(item, Problem):
                tell(item)
            else:
                yield from read_record_notices(item, path.name)
    else:
        try:
            yield from read_retraction_file(path, on_problem=tell, on_position=move)
        except ReferencesError as problem:
            place = problem.where or ""
            where = place if str(path) in place else ", ".join(filter(None, (str(path), place)))
            raise BadInput(problem.message, where=where, hint=problem.hint) from problem


class NoticesMet:
    """Notices that records of an import carry, about themselves or about other works, until they can be applied."""

    def __init__(self, session: ChangingSession, now: datetime) -> None:
        self.session = session
        self.now = now
        self.notices: list[Notice] = []

    def meet(self, record: Record) -> None:
        """Take note of what a record says of works; that a work is a preprint or has versions is no news of its own."""
        self.notices += [n for n in read_record_notices(record) if n.doi or n.pmid]

    def apply(self, source: str) -> tuple[str, ...]:
        """Put the notices on the references that are stored now; the changes in words."""
        if not self.notices:
            return ()
        report = find_notices(all_identifiers(self.session), self.notices)
        self.notices = []
        changes = put_notices(self.session, report, source, self.now)
        touched = find_touched(self.session, changes)
        told = [tell_change(change) for change in changes]
        told += [f"claim to weigh again: {claim}" for claim in touched.claims]
        return (*told, *(f"says something that rests on it: {use}" for use in touched.uses))
