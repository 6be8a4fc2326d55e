"""Two figures in one cell with an arrow between them, "95.0 ± 14.0 → 108.1 ± 15.2": two columns, before and after."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from evidence.reading.cells import read_cell
from evidence.reading.grid import EMPTY, Grid, Layout, Piece, is_blank
from evidence.reading.labels import TIME

_ARROW = re.compile(r"\s*(?:→|⟶|➔|➝|->|=>|–>|—>)\s*")
_NAMED = re.compile(rf"({TIME.pattern})\s*(?:→|⟶|➔|➝|->|=>|–>|—>|to|/|and)\s*({TIME.pattern})", re.IGNORECASE)


def part_arrows(layout: Layout, decimal: str) -> Layout:
    """The paste with each column of "before → after" as two; as it is where no such column stands."""
    if layout.grid is None or not any(_ARROW.search(p.text) for row in layout.grid for p in row):
        return layout
    grid = layout.grid
    at = [c for c in range(len(grid[0])) if _is_arrow_column(grid, c, decimal)]
    first = next((i for i, row in enumerate(grid) if any(_halves(row[c], decimal) for c in at)), 0)
    if not at or not first:
        return layout
    names = _read_names([*layout.before, *(p.text for row in grid[:first] for p in row), *layout.after])
    parted: Grid = []
    for number, row in enumerate(grid):
        if number == first:
            parted.append([p for c in range(len(row)) for p in (names if c in at else (EMPTY,))])
        parted.append(
            [p for c, piece in enumerate(row) for p in _part(piece, c in at, number < first, decimal)]
        )
    return replace(layout, grid=parted)


def _is_arrow_column(grid: Grid, column: int, decimal: str) -> bool:
    filled = [row[column] for row in grid if not is_blank(row[column])]
    return len(filled) > 1 and sum(_halves(p, decimal) is not None for p in filled) >= 0.5 * len(filled)


def _halves(piece: Piece, decimal: str) -> tuple[Piece, Piece] | None:
    """The two cells beside an arrow, each where it stands in the paste."""
    cut = list(_ARROW.finditer(piece.text))
    if len(cut) != 1:
        return None
    left, right = piece.text[: cut[0].start()], piece.text[cut[0].end() :]
    if read_cell(left, decimal) is None or read_cell(right, decimal) is None:
        return None
    raw = _ARROW.split(piece.raw)
    raws = raw if len(raw) == 2 else [left, right]
    return (
        replace(piece, text=left, raw=raws[0].strip()),
        replace(piece, text=right, raw=raws[1].strip(), column=piece.column + cut[0].end()),
    )


def _part(piece: Piece, cut: bool, head: bool, decimal: str) -> tuple[Piece, ...]:
    if not cut:
        return (piece,)
    if head:
        plain = replace(piece, text=_NAMED.sub(" ", piece.text).strip(" ,:;()"))
        return plain, replace(plain, copy=True)
    return _halves(piece, decimal) or (piece, EMPTY)


def _read_names(texts: Sequence[str]) -> tuple[Piece, Piece]:
    """What the paper calls before and after; an arrow leads from the one to the other."""
    found = next((m for text in texts if (m := _NAMED.search(text))), None)
    times = TIME.findall(found.group()) if found else []
    named = [m.group() for m in TIME.finditer(found.group())] if found else []
    before, after = (named[0], named[-1]) if len(times) >= 2 else ("Pre", "Post")
    return Piece(before, before, -2, 0), Piece(after, after, -2, 0)
