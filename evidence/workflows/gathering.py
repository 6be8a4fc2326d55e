"""Gather: references from files into the catalogue, once each, with nothing lost and every doubt told."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import all_references, list_unread
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Reference, UnreadEntry
from references.citing import short_citation
from references.duplicates import Answer, Comparison, KnownRecords, find_duplicates, merge
from references.errors import Problem
from references.merging import VetoedMerge
from references.reading import ReadReport, read_path
from references.record import Record
from references.text import plain


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


def gather(catalogue: Catalogue, path: Path, who: str) -> GatherReport:
    """Read a file of references and store what is new, in one transaction."""
    report = read_path(path)
    with catalogue.changing(who, f"refs add {path.name}") as session:
        return take_in(session, report, path.name, catalogue)


def take_in(session: ChangingSession, report: ReadReport, source: str, catalogue: Catalogue) -> GatherReport:
    """Store the records of a report that the session does not hold yet."""
    stored = {row.key: row for row in all_references(session)}
    records = {key: as_record(row) for key, row in stored.items()}
    known = KnownRecords(records.values())
    added: list[str] = []
    same: list[Match] = []
    likely: list[Match] = []
    for record in report.records:
        comparison = known.compare(record)
        if comparison.answer is Answer.SAME and comparison.known_key in records:
            merged = join(records[comparison.known_key], record)
            if merged is not None:
                records[comparison.known_key] = merged
                update_row(stored[comparison.known_key], merged)
                same.append(as_match(comparison, record.key))
                continue
        kept = replace(record, key=free_key(record.key or suggest_key(record), records))
        row = as_row(kept, source, catalogue)
        session.add(row)
        stored[kept.key], records[kept.key] = row, kept
        known.add(kept)
        added.append(kept.key)
        if comparison.known_key and comparison.answer in (Answer.SAME, Answer.LIKELY_SAME, Answer.RELATED):
            likely.append(as_match(comparison, kept.key))
    kept_as_text = keep_unread(session, report.problems, source, catalogue)
    return GatherReport(
        source, str(report.format), str(report.encoding), len(report.records),
        tuple(added), tuple(same), tuple(likely), tuple(report.problems), kept_as_text,
    )  # fmt: skip


def join(known: Record, incoming: Record) -> Record | None:
    """The known record with what the incoming one adds, both source texts kept; None when they may not be joined."""
    if incoming.raw and known.raw and incoming.raw in known.raw:
        return known
    try:
        merged = merge(known, incoming).record
    except VetoedMerge:
        return None
    raw = "\n\n".join(text for text in (known.raw, incoming.raw) if text)
    keys = [*known.extra.get("other_keys", []), incoming.key]
    others = [key for key in dict.fromkeys(keys) if key and key != known.key]
    extra = {**merged.extra, **({"other_keys": others} if others else {})}
    return replace(merged, key=known.key, raw=raw, extra=extra)


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
    """Pairs of stored references that look like the same work, or related ones."""
    with catalogue.reading() as session:
        records = [as_record(row) for row in all_references(session)]
    return tuple(
        PairFound(p.a_key, p.b_key, str(p.answer) + (f" ({p.relation})" if p.relation else ""), p.reason)
        for p in find_duplicates(records).pairs
    )
