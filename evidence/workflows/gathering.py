"""Gather: references from files into the catalogue, once each, with nothing lost and every doubt told."""

import hashlib
import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import all_references, list_unread, settings
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Reference, UnreadEntry
from evidence.errors import BadInput
from evidence.workflows.apart import pairs_apart
from evidence.workflows.joining import OTHER_KEYS, join
from references.citing import short_citation
from references.duplicates import Answer, Pair, find_duplicates
from references.errors import Problem, ReferencesError, Severity
from references.reading import ReadReport, read_path
from references.record import Record
from references.text import plain

TOLD_EVERY = 1000  # records between two words on how far it is


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
Found = tuple[str | int, Pair]  # a stored reference by its key, or an earlier incoming record by its place


def say_nothing(done: int, of: int) -> None:
    """Where nobody watches."""


def gather(catalogue: Catalogue, path: Path, who: str, tell: Tell = say_nothing) -> GatherReport:
    """Read a file of references, compressed or not, and store what is new, in one transaction."""
    report = read_path(path)
    with catalogue.changing(who, f"refs add {path.name}") as session:
        return Intake(session, catalogue, tell).take_in([(path.name, report)])[0]


def gather_folder(
    catalogue: Catalogue, folder: Path, who: str, tell: Tell = say_nothing
) -> tuple[GatherReport, ...]:
    """The same for every file below a folder, all in one transaction; a file that cannot be read is a problem."""
    files = find_files(folder)
    if not files:
        raise BadInput("there is no file in this folder", where=str(folder))
    reports = [(str(file.relative_to(folder)), read_in_folder(file)) for file in files]
    with catalogue.changing(who, f"refs add {folder.resolve().name}") as session:
        return Intake(session, catalogue, tell).take_in(reports)


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
    """The references that a session holds, and what becomes of records that come to them."""

    def __init__(self, session: ChangingSession, catalogue: Catalogue, tell: Tell) -> None:
        self.session = session
        self.catalogue = catalogue
        self.tell = tell
        self.rows = {row.key: row for row in all_references(session)}
        self.records = {key: as_record(row) for key, row in self.rows.items()}
        self.homes = {
            other: key for key, record in self.records.items() for other in record.extra.get(OTHER_KEYS, [])
        } | {key: key for key in self.records}
        self.apart = pairs_apart(settings(session))

    def take_in(self, reports: Sequence[tuple[str, ReadReport]]) -> tuple[GatherReport, ...]:
        """Store the records of reports, named by their sources, that are not here yet."""
        reports = [(source, set_unstorable_aside(report)) for source, report in reports]
        incoming = [record for source, report in reports for record in report.records]
        pairs = self.find_pairs(incoming)
        kept: list[str | None] = []  # keys under which incoming records were stored; None: joined to another
        made = []
        for source, report in reports:
            added: list[str] = []
            same: list[Match] = []
            likely: list[Match] = []
            for record in report.records:
                if len(kept) % TOLD_EVERY == 0:
                    self.session.flush()
                    self.tell(len(kept), len(incoming))
                match = self.choose(record, pairs.get(len(kept), ()), kept)
                if match is not None and match.answer == Answer.SAME and self.join_known(match.known, record):
                    kept.append(None)
                    same.append(match)
                    continue
                key = self.add(record, source)
                kept.append(key)
                added.append(key)
                if match is not None:
                    likely.append(replace(match, incoming=key))
            kept_as_text = keep_unread(self.session, report.problems, source, self.catalogue)
            made.append(
                GatherReport(
                    source,
                    str(report.format),
                    str(report.encoding),
                    len(report.records),
                    tuple(added),
                    tuple(same),
                    tuple(likely),
                    tuple(report.problems),
                    kept_as_text,
                )
            )
        self.tell(len(incoming), len(incoming))
        return tuple(made)

    def find_pairs(self, incoming: Sequence[Record]) -> dict[int, list[Found]]:
        """By incoming record, the stored ones (by key) and the earlier incoming ones (by place) that may be it."""
        new = [place for place, record in enumerate(incoming) if self.find_text(record) is None]
        if not new:
            return {}
        stored = list(self.records)
        numbered = [replace(self.records[key], key=f"s{n}") for n, key in enumerate(stored)]
        numbered += [replace(incoming[place], key=f"i{place}") for place in new]
        found: dict[int, list[Found]] = {}
        for pair in find_duplicates(numbered).pairs:
            ends = sorted((pair.a_key, pair.b_key), key=lambda end: (end[0] == "i", int(end[1:])))
            if ends[1][0] == "i":
                first, later = ends[0], int(ends[1][1:])
                other = stored[int(first[1:])] if first[0] == "s" else int(first[1:])
                found.setdefault(later, []).append((other, pair))
        return found

    def find_text(self, record: Record) -> str | None:
        """The key of the stored reference that holds just this text under this key."""
        home = self.homes.get(record.key)
        if home is None or not record.raw or frozenset((record.key, home)) in self.apart:
            return None
        return home if record.raw in (self.records[home].raw or "") else None

    def choose(self, record: Record, found: Sequence[Found], kept: Sequence[str | None]) -> Match | None:
        """The surest and nearest of the references that an incoming record may be; those set apart are none."""
        home = self.find_text(record)
        if home is not None:
            return Match(record.key, home, str(Answer.SAME), "one text")
        for other, pair in found:  # they come with the surest and nearest first
            key = kept[other] if isinstance(other, int) else other
            if key is None or frozenset((record.key, key)) in self.apart:
                continue
            what = f"{pair.answer} ({pair.relation})" if pair.relation else str(pair.answer)
            return Match(record.key, key, what, pair.reason or "close in every part")
        return None

    def join_known(self, key: str, record: Record) -> bool:
        """Add to a known record what an incoming one knows more; False where they may not be joined."""
        joined = join(self.records[key], record)
        if joined is None:
            return False
        self.homes.setdefault(record.key, key)
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
        self.homes[kept.key] = kept.key
        return kept.key


def set_unstorable_aside(report: ReadReport) -> ReadReport:
    """The report with what a catalogue cannot hold turned into problems, so that it takes no neighbour with it."""
    kept: list[Record] = []
    problems = list(report.problems)
    for record in report.records:
        key = "".join(c for c in record.key if c.isprintable()).strip()
        trouble = find_trouble(record)
        if trouble is None:
            kept.append(record if key == record.key else replace(record, key=key))
            continue
        text = record.raw or record.title or record.key
        problems.append(
            Problem(line=record.source_line, entry=key, reason=trouble, text=text, severity=Severity.ERROR)
        )
    return replace(report, records=tuple(kept), problems=tuple(problems))


def find_trouble(record: Record) -> str | None:
    """Why a record cannot be stored; None when it can."""
    if record.year is not None and not -9999 <= record.year <= 9999:
        return f"the year {record.year} cannot be right"
    text = json.dumps(record.to_csl(), ensure_ascii=False, default=str) + (record.raw or "")
    if "\\u0000" in text or "\x00" in text:
        return "it holds a NUL character"
    if any("\ud800" <= c <= "\udfff" for c in text):
        return "it holds half a character"
    return None


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
