"""Two tables of one paper in one paste: parted at their captions, read one by one, put together again."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

from evidence.reading.legend import is_caption
from evidence.reading.table import Legend, ReadCell, TableReading
from evidence.vocabulary.terms import Spread

FEWEST = 2  # cells of a part that is a table


def part_tables(lines: Sequence[str]) -> list[range]:
    """The lines of each table, where numbered captions open more than one; else all lines as one."""
    starts = [i for i, line in enumerate(lines) if is_caption(line) and re.match(r"\W*\w+\W+[A-Z]?\d", line)]
    if len(starts) < 2:
        return [range(len(lines))]
    bounds = [0, *starts[1:], len(lines)]
    return [range(left, right) for left, right in pairwise(bounds)]


def read_each(
    parts: Sequence[range], read: Callable[[range], TableReading], whole: Callable[[], TableReading]
) -> TableReading:
    """The tables read apart and joined; the paste as one table when a part alone is none."""
    if len(parts) < 2:
        return whole()
    readings = [read(part) for part in parts]
    if any(r.refused or len(r.cells) < FEWEST for r in readings):
        return whole()
    return join_readings(readings)


def join_readings(readings: Sequence[TableReading]) -> TableReading:
    """One reading of several tables: cells that share their labels with another table's name their table."""
    named = [_name_cells(r, [o for o in readings if o is not r]) for r in readings]
    legend, warnings = _join_legends(readings)
    stated = {r.spread_stated for r in readings}
    questions: dict[str, list[str]] = {}
    for reading in readings:
        for question in reading.questions:
            questions.setdefault(question.id, []).extend(question.cells)
    first = {q.id: q for r in reversed(readings) for q in r.questions}
    return replace(
        readings[0],
        title=" | ".join(r.title for r in readings if r.title),
        cells=tuple(cell for cells in named for cell in cells),
        questions=tuple(replace(first[key], cells=tuple(cells)) for key, cells in questions.items()),
        repairs=tuple(dict.fromkeys(repair for r in readings for repair in r.repairs)),
        warnings=(
            f"{len(readings)} tables were found in this paste and read one by one.",
            *warnings,
            *(text for r in readings for text in r.warnings),
        ),
        legend=legend,
        mapping={char: sign for r in readings for char, sign in r.mapping.items()},
        spread_stated=stated.pop() if len(stated) == 1 else Spread.NOT_STATED,
        unread=tuple(line for r in readings for line in r.unread),
    )


def _name_cells(reading: TableReading, others: Sequence[TableReading]) -> list[ReadCell]:
    taken = {_place(cell) for other in others for cell in other.cells}
    name = re.split(r"[.:]\s", reading.title, maxsplit=1)[0][:40]
    return [replace(c, section=c.section or name) if _place(c) in taken else c for c in reading.cells]


def _place(cell: ReadCell) -> tuple[object, ...]:
    return cell.row, cell.section, cell.column, cell.group, cell.timepoint


def _join_legends(readings: Sequence[TableReading]) -> tuple[Legend, list[str]]:
    """The notes of all tables; a mark that means two things keeps none, and that is said."""
    marks: dict[str, str] = {}
    torn: dict[str, list[str]] = {}
    abbreviations: dict[str, str] = {}
    for reading in readings:
        abbreviations |= {k: v for k, v in reading.legend.abbreviations.items() if k not in abbreviations}
        for mark, meaning in reading.legend.marks.items():
            if marks.setdefault(mark, meaning) != meaning:
                torn.setdefault(mark, [marks[mark]]).append(meaning)
    warnings = [
        f"The mark {m} means different things in these tables: {'; '.join(t)}." for m, t in torn.items()
    ]
    kept = {mark: meaning for mark, meaning in marks.items() if mark not in torn}
    notes = tuple(note for r in readings for note in r.legend.notes)
    return Legend(abbreviations, kept, notes), warnings
