"""Looking through stored references: filters and pages, how far each was read, notices, entries to be mended."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import (
    ReferenceFilter,
    count_checked,
    count_references,
    list_references,
    list_unread,
    reference_by_key,
    studies_of_reference,
)
from evidence.catalogue.tables import Reference
from evidence.errors import BadInput, NotFound
from evidence.workflows.gather.gathering import as_record
from references.citing import short_citation
from references.folding import fold

READING_STATES = {"unread": "unread", "abstract": "abstract", "full-text": "full text"}
STATES = (*READING_STATES, "noticed", "in-study", "no-study")
_YEARS = re.compile(r"(?P<only>\d{1,4})|(?P<first>\d{1,4})?\s*[-–]\s*(?P<last>\d{1,4})?")


@dataclass(frozen=True, slots=True)
class ReferenceLine:
    """One reference in a list."""

    key: str
    short: str
    title: str
    state: str


@dataclass(frozen=True, slots=True)
class ReferencePage:
    """Some of the references that were asked for: `start` counts from 1, `total` are all that fit."""

    lines: tuple[ReferenceLine, ...]
    start: int
    total: int


def list_page(
    catalogue: Catalogue,
    words: str = "",
    *,
    year: str | None = None,
    state: str | None = None,
    author: str | None = None,
    most: int | None = None,
    start: int = 1,
) -> ReferencePage:
    """References with all the words in title, first author, journal or key, that pass the other filters too.

    `year`: "2017", "2015-2020", "2015-" or "-1990"; `state`: one of STATES; `author`: a part of any author's name,
    accents and case aside. Raises BadInput for a year or state that is none.
    """
    wanted = read_filter(words, year, state)
    with catalogue.reading() as session:
        if author and author.strip():
            fitting = [row for row in list_references(session, wanted) if is_by(row, author)]
            total = len(fitting)
            rows = fitting[start - 1 :][:most]
        else:
            total = count_references(session, wanted)
            rows = list_references(session, wanted, limit=most, offset=start - 1)
    return ReferencePage(tuple(map(as_line, rows)), start, total)


def read_filter(words: str, year: str | None, state: str | None) -> ReferenceFilter:
    """The filter that the options name. Raises BadInput."""
    first, last = read_years(year)
    if state is not None and state not in STATES:
        raise BadInput(f"{state!r} is no state", hint=f"There are: {', '.join(STATES)}.")
    return ReferenceFilter(
        text=words,
        year_from=first,
        year_to=last,
        reading_state=READING_STATES.get(state or ""),
        noticed=True if state == "noticed" else None,
        cited_by_study={"in-study": True, "no-study": False}.get(state or ""),
    )


def read_years(year: str | None) -> tuple[int | None, int | None]:
    """The first and the last year of "2017", "2015-2020", "2015-" or "-1990". Raises BadInput."""
    if year is None:
        return None, None
    found = _YEARS.fullmatch(year.strip())
    if found is None or not any(found.groups()):
        raise BadInput(f"{year!r} is no year", hint="Write 2017, 2015-2020, 2015- or -1990.")
    only = found["only"]
    first, last = (int(y) if y else None for y in (only or found["first"], only or found["last"]))
    if first is not None and last is not None and first > last:
        raise BadInput(f"{year!r} runs backwards", hint=f"Write {last}-{first}.")
    return first, last


def is_by(row: Reference, author: str) -> bool:
    """Whether each part of a name is in the name of one author or editor."""
    record = as_record(row)
    parts = fold(author).split()
    names = [
        fold(" ".join(part for part in (n.given, n.sort_family, n.literal) if part))
        for n in (*record.author, *record.editor)
    ]
    return any(all(part in name for part in parts) for name in names)


def as_line(row: Reference) -> ReferenceLine:
    """A reference as listed."""
    return ReferenceLine(row.key, short_citation(as_record(row)), row.title, state_of(row))


def state_of(row: Reference) -> str:
    """How far a reference was read, and what notices are known; never "clean"."""
    notice = row.notice or "no notice known"
    return f"{row.reading_state}; {notice}"


def mark_read(catalogue: Catalogue, keys: Sequence[str], state: str, who: str) -> tuple[str, ...]:
    """Note how far references were read ("unread", "abstract", "full-text"); keys of those that changed."""
    word = READING_STATES[state]
    changed = []
    with catalogue.changing(who, f"refs read {' '.join(keys)} --{state}") as session:
        for row in [reference_by_key(session, key) for key in dict.fromkeys(keys)]:
            if row.reading_state != word:
                row.reading_state = word
                changed.append(row.key)
    return tuple(changed)


@dataclass(frozen=True, slots=True)
class NoticedReference:
    """A reference that a notice concerns, and the studies that lead to it."""

    key: str
    short: str
    notice: str
    checked_on: datetime | None
    studies: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NoticesKnown:
    """Notices on stored references. `not_listed` were looked for and not found, which does not make them sound."""

    noticed: tuple[NoticedReference, ...]
    not_listed: int
    never_checked: int
    oldest_check: datetime | None


def list_notices(catalogue: Catalogue) -> NoticesKnown:
    """What is known of retractions, concerns and corrections, and of how many references nothing is known."""
    with catalogue.reading() as session:
        noticed = tuple(
            NoticedReference(
                row.key,
                short_citation(as_record(row)),
                row.notice,
                row.notice_checked_on,
                tuple(study.key for study in studies_of_reference(session, row)),
            )
            for row in list_references(session, ReferenceFilter(noticed=True))
            if row.notice
        )
        checked = count_checked(session)
    return NoticesKnown(noticed, checked.not_listed, checked.never, checked.oldest)


@dataclass(frozen=True, slots=True)
class EntryToMend:
    """An entry of an imported file that could not be read, as it stood there."""

    number: int
    source: str
    line: int | None
    reason: str
    text: str


def list_to_mend(catalogue: Catalogue) -> tuple[EntryToMend, ...]:
    """Entries that could not be read, by file and line."""
    with catalogue.reading() as session:
        return tuple(
            EntryToMend(row.id or 0, row.source, row.line, row.reason, row.text)
            for row in list_unread(session)
        )


def write_to_mend(path: Path, entries: Sequence[EntryToMend]) -> None:
    """Write the texts of entries to a file, to be mended there and read again. Raises BadInput."""
    from evidence.workflows.making import write_text

    if path.exists():
        raise BadInput("there is a file already", where=str(path), hint="Name another one.")
    write_text(path, "\n\n".join(entry.text for entry in entries) + "\n")


def settle(catalogue: Catalogue, number: int, who: str) -> str:
    """Take an entry off the list, once it was mended or is not wanted; where it came from. Raises NotFound."""
    with catalogue.changing(who, f"refs mend --settled {number}") as session:
        row = next((row for row in list_unread(session) if row.id == number), None)
        if row is None:
            raise NotFound(
                f"no entry to mend has the number {number}", hint="`steelyard refs mend` lists them."
            )
        session.delete(row)
        return f"{row.source}, line {row.line}" if row.line else row.source
