"""Gather: references from files into the catalogue, once each, with nothing lost and every doubt told."""

from collections.abc import Callable, Container, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import settings, stored_records
from evidence.catalogue.tables import Reference
from evidence.catalogue.worked_out import keep_up
from evidence.errors import BadInput
from evidence.workflows.gather.apart import pairs_apart
from references.citing import short_citation
from references.duplicates import find_duplicates_by_blocks
from references.errors import Problem, ReferencesError, Severity
from references.reading import open_path
from references.record import Record
from references.text import plain

if TYPE_CHECKING:
    from evidence.workflows.gather.intake import Intake


@dataclass(frozen=True, slots=True)
class Match:
    """An incoming reference and the known one it was compared with."""

    incoming: str
    known: str
    answer: str
    reason: str


@dataclass(frozen=True, slots=True)
class GatherReport:
    """What became of one file: every entry is added, already known, or kept as text with a problem.

    `notices`: what records of the file say of stored references, such as that one is retracted.
    """

    name: str
    format: str
    encoding: str
    read: int
    lines: int
    added: tuple[str, ...]
    known: tuple[Match, ...]
    likely: tuple[Match, ...]
    problems: tuple[Problem, ...]
    kept_as_text: int
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a file is: bytes gone through, of how many, and the records in them."""

    position: int
    size: int
    records: int


Tell = Callable[[Progress], None]


def say_nothing(progress: Progress) -> None:
    """Where nobody watches."""


class Whole:
    """How far several files are, taken one after the other: what is told of each counts from those before it."""

    def __init__(self, size: int, tell: Tell) -> None:
        self.size = size
        self.tell = tell
        self.position = self.records = 0

    def tell_part(self, part: Progress) -> None:
        """Tell of the whole what is told of the present file."""
        self.tell(Progress(self.position + part.position, self.size, self.records + part.records))

    def go_on(self, size: int, records: int) -> None:
        """The present file is done."""
        self.position += size
        self.records += records


def gather(catalogue: Catalogue, path: Path, who: str, tell: Tell = say_nothing) -> GatherReport:
    """Read a file of references, compressed or not, and store what is new, in one transaction."""
    from evidence.workflows.gather.intake import Intake

    reading = open_path(path)
    with catalogue.changing(who, f"refs add {path.name}") as session:
        return Intake(session, catalogue).take_in(path.name, reading, path.stat().st_size, tell)


def gather_folder(
    catalogue: Catalogue, folder: Path, who: str, tell: Tell = say_nothing
) -> tuple[GatherReport, ...]:
    """The same for every file below a folder, all in one transaction; a file that cannot be read is a problem."""
    from evidence.workflows.gather.intake import Intake

    files = find_files(folder)
    if not files:
        raise BadInput("there is no file in this folder", where=str(folder))
    with catalogue.changing(who, f"refs add {folder.resolve().name}") as session:
        intake = Intake(session, catalogue)
        whole = Whole(sum(file.stat().st_size for file in files), tell)
        reports = []
        for file in files:
            reports.append(take_in_file(intake, file, str(file.relative_to(folder)), whole.tell_part))
            whole.go_on(file.stat().st_size, reports[-1].read)
        return tuple(reports)


def take_in_file(intake: "Intake", path: Path, source: str, tell: Tell) -> GatherReport:
    """A file of a folder; where it cannot be read, a report that says why."""
    try:
        reading = open_path(path)
    except (ReferencesError, OSError) as error:
        reason = getattr(error, "message", None) or str(error)
        problem = Problem(reason, severity=Severity.ERROR)
        return GatherReport(source, "unknown", "unknown", 0, 0, (), (), (), (problem,), 0)
    return intake.take_in(source, reading, path.stat().st_size, tell)


def find_files(folder: Path) -> list[Path]:
    """Every file below a folder, in name order, but for hidden ones."""
    return sorted(
        item
        for item in folder.rglob("*")
        if item.is_file() and not any(part.startswith(".") for part in item.relative_to(folder).parts)
    )


def as_row(record: Record, source: str, catalogue: Catalogue) -> Reference:
    """A reference row: the record whole, and the columns by which it is found."""
    return Reference(**column_values(record), source=place_of(record, source), added_at=catalogue.now())


def place_of(record: Record, source: str) -> str:
    """Where a record came from."""
    return f"{source}, line {record.source_line}" if record.source_line else source


def update_row(row: Reference, record: Record) -> None:
    """Bring a row in step with its record."""
    if row.csl == record.to_csl() and row.raw == record.raw:
        return
    for name, value in column_values(record).items():
        setattr(row, name, value)


def column_values(record: Record) -> dict[str, Any]:
    """The columns of a reference that are drawn from its record."""
    names = record.author or record.editor
    return {
        "key": record.key,
        "csl": record.to_csl(),
        "raw": record.raw,
        "type": record.type,
        "title": plain(record.title or ""),
        "first_author": names[0].sort_family if names else "",
        "year": record.year,
        "container": plain(record.container_title or ""),
        "doi": record.doi.lower() if record.doi else None,
        "pmid": record.pmid,
    }


def as_record(row: Reference) -> Record:
    """The record that a row holds."""
    return replace(Record.from_csl(row.csl), key=row.key, raw=row.raw)


def suggest_key(record: Record) -> str:
    """A key for a record that came without one: first author and year."""
    name = "".join(c for c in short_citation(record).split(" ")[0].casefold() if c.isalnum())
    return f"{name or 'reference'}{record.year or ''}"


def free_key(key: str, taken: Container[str]) -> str:
    """The key, or the key with the first free suffix."""
    if key not in taken:
        return key
    return next(f"{key}-{number}" for number in count(2) if f"{key}-{number}" not in taken)


@dataclass(frozen=True, slots=True)
class PairFound:
    """Two references that may be the same work, or belong together."""

    a: str
    b: str
    answer: str
    reason: str


def list_duplicates(catalogue: Catalogue) -> tuple[PairFound, ...]:
    """Pairs of stored references that look like the same work, or related ones; not those that were set apart."""
    from evidence.workflows.gather.indexing import blocks_kind, read_known_keys

    keep_up(catalogue, blocks_kind())
    with catalogue.reading() as session:
        known = read_known_keys(session).in_order()

        def recall(keys: Sequence[str]) -> Iterator[Record]:
            return (as_record(row) for row in stored_records(session, keys))

        found = find_duplicates_by_blocks(known.keys, known.blocks, recall)
        apart = pairs_apart(settings(session))
    return tuple(
        PairFound(p.a_key, p.b_key, str(p.answer) + (f" ({p.relation})" if p.relation else ""), p.reason)
        for p in found.pairs
        if frozenset((p.a_key, p.b_key)) not in apart
    )
