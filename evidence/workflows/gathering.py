"""Gather: references from files into the catalogue, once each, with nothing lost and every doubt told."""

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import all_references, list_unread, settings
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Reference, UnreadEntry
from evidence.errors import BadInput
from evidence.workflows.apart import pairs_apart
from evidence.workflows.joining import join
from references.citing import short_citation
from references.duplicates import Answer, Comparison, KnownRecords, compare_pair, find_duplicates
from references.errors import Problem, ReferencesError, Severity
from references.reading import ReadReport, read_path
from references.record import Record
from references.text import plain

TOLD_EVERY = 200  # records between two words on how far it is


@dataclass(frozen=True, slots=True)
class Match:
    """An incoming reference and the known one it was compared with."""

    incoming: str
    known: str
    answer: str
    reason: str


@dataclass(frozen=True, slots=True)
class GatherReport:
    """What became of one file: every entry is added, already known, or kept as text with a problem."""

    name: str
    format: str
    encoding: str
    read: int
    added: tuple[str, ...]
    known: tuple[Match, ...]
    likely: tuple[Match, ...]
    problems: tuple[Problem, ...]
    kept_as_text: int


Tell = Callable[[int, int], None]  # records gone through, of how many


def say_nothing(done: int, of: int) -> None:
    """Where nobody watches."""


def gather(catalogue: Catalogue, path: Path, who: str, tell: Tell = say_nothing) -> GatherReport:
    """Read a file of references, compressed or not, and store what is new, in one transaction."""
    report = read_path(path)
    with catalogue.changing(who, f"refs add {path.name}") as session:
        return Intake(session, catalogue).take_in(report, path.name, tell)


def gather_folder(
    catalogue: Catalogue, folder: Path, who: str, tell: Tell = say_nothing
) -> tuple[GatherReport, ...]:
    """The same for every file below a folder, all in one transaction; a file that cannot be read is a problem."""
    files = find_files(folder)
    if not files:
        raise BadInput("there is no file in this folder", where=str(folder))
    with catalogue.changing(who, f"refs add {folder.resolve().name}") as session:
        intake = Intake(session, catalogue)
        return tuple(
            intake.take_in(read_in_folder(file), str(file.relative_to(folder)), tell) for file in files
        )


def find_files(folder: Path) -> list[Path]:
    """Every file below a folder, in name order, but for hidden ones."""
    return sorted(
        item
        for item in folder.rglob("*")
        if item.is_file() and not any(part.startswith(".") for part in item.relative_to(folder).parts)
    )


def read_in_folder(path: Path) -> ReadReport:
    """A file of a folder; where it cannot be read, a report that says why."""
    try:
        return read_path(path)
    except (ReferencesError, OSError) as error:
        reason = getattr(error, "message", None) or str(error)
        problem = Problem(reason, severity=Severity.ERROR)
        return ReadReport(path.name, "unknown", "unknown", (), (problem,), 0)


class Intake:
    """The references that a session holds, made ready for taking in more."""

    def __init__(self, session: ChangingSession, catalogue: Catalogue) -> None:
        self.session = session
        self.catalogue = catalogue
        self.rows = {row.key: row for row in all_references(session)}
        self.records = {key: as_record(row) for key, row in self.rows.items()}
        self.known = KnownRecords(self.records.values())
        self.apart = pairs_apart(settings(session))

    def take_in(self, report: ReadReport, source: str, tell: Tell = say_nothing) -> GatherReport:
        """Store the records of a report that are not here yet."""
        added: list[str] = []
        same: list[Match] = []
        likely: list[Match] = []
        for number, record in enumerate(report.records):
            if number % TOLD_EVERY == 0:
                tell(number, len(report.records))
            found = self.compare(record)
            if found.answer is Answer.SAME and self.join_known(found.known_key, record):
                same.append(as_match(found, record.key))
                continue
            key = self.add(record, source)
            added.append(key)
            if found.known_key and found.answer is not Answer.DIFFERENT:
                likely.append(as_match(found, key))
        tell(len(report.records), len(report.records))
        kept_as_text = keep_unread(self.session, report.problems, source, self.catalogue)
        return GatherReport(
            source, str(report.format), str(report.encoding), len(report.records),
            tuple(added), tuple(same), tuple(likely), tuple(report.problems), kept_as_text,
        )  # fmt: skip

    def compare(self, record: Record) -> Comparison:
        """What an incoming record is to those that are here; what a person set apart is not proposed again."""
        here = self.records.get(record.key)
        if here is not None and record.raw and here.raw and record.raw in here.raw:
            return Comparison(record.key, here.key, Answer.SAME, None, None, "one text")
        found = self.known.compare(record)
        if found.known_key is None or frozenset((record.key, found.known_key)) not in self.apart:
            return found
        nothing = Comparison(record.key, None, Answer.DIFFERENT, None, None)
        if here is None:
            return nothing
        pair = compare_pair(record, here)
        if pair.answer is Answer.DIFFERENT:
            return nothing
        return Comparison(record.key, here.key, pair.answer, pair.relation, pair.distance, pair.reason)

    def join_known(self, key: str | None, record: Record) -> bool:
        """Add to a known record what an incoming one knows more; False where they may not be joined."""
        if key is None or key not in self.records:
            return False
        joined = join(self.records[key], record)
        if joined is None:
            return False
        if joined is not self.records[key]:
            self.records[key] = joined
            update_row(self.rows[key], joined)
        return True

    def add(self, record: Record, source: str) -> str:
        """Store a new record; returns its key."""
        kept = replace(record, key=free_key(record.key or suggest_key(record), self.records))
        row = as_row(kept, source, self.catalogue)
        self.session.add(row)
        self.rows[kept.key], self.records[kept.key] = row, kept
        self.known.add(kept)
        return kept.key


def keep_unread(
    session: ChangingSession, problems: Iterable[Problem], source: str, catalogue: Catalogue
) -> int:
    """Keep the text of entries that could not be read, each once."""
    here = {(row.source, row.digest) for row in list_unread(session)}
    count = 0
    for problem in problems:
        if problem.severity != "error" or not problem.text:
            continue
        count += 1
        digest = hashlib.sha256(problem.text.encode("utf-8", "surrogatepass")).hexdigest()
        if (source, digest) in here:
            continue
        here.add((source, digest))
        text = problem.text.replace("\x00", "\N{SYMBOL FOR NULL}")
        session.add(
            UnreadEntry(
                source=source,
                line=problem.line,
                reason=problem.reason,
                text=text,
                digest=digest,
                added_at=catalogue.now(),
            )
        )
    return count


def as_row(record: Record, source: str, catalogue: Catalogue) -> Reference:
    """A reference row: the record whole, and the columns by which it is found."""
    place = f"{source}, line {record.source_line}" if record.source_line else source
    row = Reference(key=record.key, source=place, added_at=catalogue.now())
    update_row(row, record)
    return row


def update_row(row: Reference, record: Record) -> None:
    """Bring a row in step with its record."""
    csl = record.to_csl()
    if row.csl == csl and row.raw == record.raw:
        return
    row.csl = csl
    row.raw = record.raw
    row.type = record.type
    row.title = plain(record.title or "")
    row.first_author = (
        (record.author or record.editor)[0].sort_family if record.author or record.editor else ""
    )
    row.year = record.year
    row.container = plain(record.container_title or "")
    row.doi = record.doi.lower() if record.doi else None
    row.pmid = record.pmid


def as_record(row: Reference) -> Record:
    """The record that a row holds."""
    return replace(Record.from_csl(row.csl), key=row.key, raw=row.raw)


def as_match(comparison: Comparison, key: str) -> Match:
    """A comparison as reported."""
    what = f"{comparison.answer} ({comparison.relation})" if comparison.relation else str(comparison.answer)
    return Match(key, comparison.known_key or "", what, comparison.reason or "close in every part")


def suggest_key(record: Record) -> str:
    """A key for a record that came without one: first author and year."""
    name = "".join(c for c in short_citation(record).split(" ")[0].casefold() if c.isalnum())
    return f"{name or 'reference'}{record.year or ''}"


def free_key(key: str, taken: dict[str, Record]) -> str:
    """The key, or the key with the first free suffix."""
    if key not in taken:
        return key
    for number in range(2, len(taken) + 3):
        if f"{key}-{number}" not in taken:
            return f"{key}-{number}"
    raise AssertionError("more suffixes than references")


@dataclass(frozen=True, slots=True)
class PairFound:
    """Two references that may be the same work, or belong together."""

    a: str
    b: str
    answer: str
    reason: str


def list_duplicates(catalogue: Catalogue) -> tuple[PairFound, ...]:
    """Pairs of stored references that look like the same work, or related ones; not those that were set apart."""
    with catalogue.reading() as session:
        records = [as_record(row) for row in all_references(session)]
        apart = pairs_apart(settings(session))
    return tuple(
        PairFound(p.a_key, p.b_key, str(p.answer) + (f" ({p.relation})" if p.relation else ""), p.reason)
        for p in find_duplicates(records).pairs
        if frozenset((p.a_key, p.b_key)) not in apart
    )
