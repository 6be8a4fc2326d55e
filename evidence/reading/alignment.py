"""Which column each figure of a row stands in. A row that has lost figures is never moved left to close the
gap.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from evidence.reading.body import Body, Row, Slot
from evidence.reading.cells import Shape, Token
from evidence.reading.places import Column, Place

_RICH = (Shape.PAIR, Shape.INTERVAL, Shape.WORDED)


@dataclass(frozen=True, slots=True)
class Placed:
    """A figure and its column; `others`: further columns it may stand in."""

    slot: Slot
    column: int
    others: tuple[int, ...] = ()


def column_shapes(body: Body) -> list[Shape | None]:
    """The usual kind of cell of each column, from the rows that have all their cells."""
    full = [row for row in body.rows if len(row.slots) == body.width]
    shapes: list[Shape | None] = []
    for column in range(body.width):
        found = Counter(
            token.shape
            for row in full
            if (token := row.tokens[column]) is not None and token.shape is not Shape.MISSING
        )
        if found[Shape.P] and found[Shape.P] + found[Shape.NUMBER] == sum(found.values()):
            shapes.append(Shape.P)
        else:
            shapes.append(found.most_common(1)[0][0] if found else None)
    return shapes


def place_row(
    number: int,
    body: Body,
    columns: Sequence[Column],
    shapes: Sequence[Shape | None],
    places: Sequence[Place],
) -> list[Placed]:
    """Put the figures of one row into columns."""
    row = body.rows[number]
    if (body.fixed and not row.loose) or len(row.slots) == body.width:
        return [Placed(slot, i) for i, slot in enumerate(row.slots) if i < body.width]
    if len(row.slots) > body.width:
        return [Placed(slot, min(i, body.width - 1)) for i, slot in enumerate(row.slots[: body.width])]
    spanning = [i for i, column in enumerate(columns) if column.spanning]
    if spanning and len(spanning) == body.width - len(row.slots) and _follows_full(number, body, places):
        kept = [i for i in range(body.width) if i not in spanning]
        if all(_fits(slot.token, shapes[i]) for slot, i in zip(row.slots, kept, strict=True)):
            return [Placed(slot, i) for slot, i in zip(row.slots, kept, strict=True)]
    return [Placed(slot, at[0], at[1:]) for slot, at in zip(row.slots, _possible(row, shapes), strict=True)]


def _follows_full(number: int, body: Body, places: Sequence[Place]) -> bool:
    """Whether a row of the same outcome above it carries the figures that stand for all groups."""
    for above in range(number - 1, -1, -1):
        if places[above].row != places[number].row or places[above].group is None:
            return False
        if len(body.rows[above].slots) == body.width:
            return places[number].group is not None
    return False


def _possible(row: Row, shapes: Sequence[Shape | None]) -> list[tuple[int, ...]]:
    """For each cell every column it may stand in, when the order is kept and cells stand over cells of their kind.

    When no such way exists, the order alone counts.
    """
    count, width = len(row.slots), len(shapes)
    fits = [[_fits(slot.token, shape) for shape in shapes] for slot in row.slots]
    first: list[int] = []  # the leftmost place of each cell, taken from the left
    column = -1
    for own in fits:
        column = next((i for i in range(column + 1, width) if own[i]), width)
        first.append(column)
    last: list[int] = []  # the rightmost, taken from the right
    column = width
    for own in reversed(fits):
        column = next((i for i in range(column - 1, -1, -1) if own[i]), -1)
        last.insert(0, column)
    if any(a > b for a, b in zip(first, last, strict=True)):
        return [tuple(range(i, width - count + i + 1)) for i in range(count)]
    return [tuple(i for i in range(a, b + 1) if own[i]) for own, a, b in zip(fits, first, last, strict=True)]


def _fits(token: Token | None, shape: Shape | None) -> bool:
    """Whether a cell can stand in a column of this kind."""
    if token is None or shape is None or token.shape is Shape.MISSING or token.shape is shape:
        return True
    if {token.shape, shape} <= {Shape.NUMBER, Shape.P}:
        return True
    return token.shape not in _RICH and shape not in _RICH and shape is not Shape.P
