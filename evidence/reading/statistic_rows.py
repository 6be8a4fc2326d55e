"""Rows that only complete the row above them: "SD" under "Mean", "n", "95% CI", "Minimum" and "Maximum"."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from evidence.reading.labels import Kind, read_phrase
from evidence.reading.places import Place
from evidence.reading.table import ReadCell
from evidence.vocabulary.terms import Spread, Statistic

COMPLETING = (Kind.SPREAD, Kind.N, Kind.LOWER, Kind.UPPER, Kind.INTERVAL)


def join_statistic_rows(cells: Sequence[ReadCell], place_of: Mapping[str, Place]) -> list[ReadCell]:
    """One cell for each figure, with what the rows below say of it. `place_of`: each cell's row, by the cell's id."""
    rows = {place.kind for place in place_of.values()}
    if not rows & set(COMPLETING) - {Kind.N} and not _counts_each(place_of):
        return _apply_count_rows(cells, place_of)
    joined: list[ReadCell] = []
    ends: dict[int, float] = {}
    for cell in cells:
        kind = place_of[cell.id].kind
        target = _target(joined, cell) if kind in COMPLETING and cell.p is None else None
        new = _complete(joined[target], cell, kind, ends, target) if target is not None else None
        if new is None or target is None:
            joined.append(cell)
        else:
            joined[target] = replace(new, printed=f"{joined[target].printed} {cell.printed}")
    return _apply_count_rows(joined, place_of)


def _counts_each(place_of: Mapping[str, Place]) -> bool:
    """Whether "n" stands under several rows."""
    return len({place.section or place.row for place in place_of.values() if place.kind is Kind.N}) > 1


def _target(joined: Sequence[ReadCell], cell: ReadCell) -> int | None:
    """The last figure read in the same column, of the same section and people."""
    for number in range(len(joined) - 1, -1, -1):
        other = joined[number]
        if (other.column, other.section, other.group) == (cell.column, cell.section, cell.group):
            fits = other.value is not None and other.value_kind is not Statistic.TEST
            return number if fits else None
    return None


def _complete(
    figure: ReadCell, cell: ReadCell, kind: Kind, ends: dict[int, float], target: int | None
) -> ReadCell | None:
    """The figure with what a cell below it says; None when it cannot be said of it."""
    if kind is Kind.INTERVAL:
        return _set_ends(figure, cell.low, cell.high, cell.row) if cell.low is not None else None
    if cell.value is None:
        return None
    if kind is Kind.SPREAD:
        stated = cell.spread_kind if cell.spread_kind is not Spread.NONE else read_phrase(cell.row).spread
        free = figure.spread is None and cell.spread is None
        return replace(figure, spread=cell.value, spread_kind=stated or Spread.NOT_STATED) if free else None
    if kind is Kind.N:
        return (
            replace(figure, n=int(cell.value)) if cell.value == int(cell.value) and figure.n is None else None
        )
    if target is None or kind is Kind.LOWER:
        ends[target or 0] = cell.value
        return figure
    return _set_ends(figure, ends.pop(target), cell.value, cell.row) if target in ends else None


def _set_ends(figure: ReadCell, low: float | None, high: float | None, label: str) -> ReadCell | None:
    if figure.low is not None or low is None or high is None:
        return None
    named = read_phrase(label)
    kind = Spread.RANGE if re.search(r"\bmax", label, re.IGNORECASE) else named.spread or Spread.NOT_STATED
    figure = replace(figure, low=low, high=high, level=named.level)
    return replace(figure, spread_kind=kind) if figure.spread is None else replace(figure, interval_kind=kind)


def _apply_count_rows(cells: Sequence[ReadCell], place_of: Mapping[str, Place]) -> list[ReadCell]:
    """A row "n" gives the number of people of each column; it is no result."""
    rows = {place_of[cell.id].row for cell in cells if place_of[cell.id].kind is Kind.N}
    if len(rows) != 1:
        return list(cells)
    counts = {
        c.column: int(c.value)
        for c in cells
        if c.row in rows and place_of[c.id].kind is Kind.N and c.value is not None and c.value == int(c.value)
    }
    rest = [c for c in cells if place_of[c.id].kind is not Kind.N or c.column not in counts]
    return [
        replace(c, n=counts[c.column]) if c.n is None and c.column in counts and c.p is None else c
        for c in rest
    ]
