"""Spreads printed on the line below their figures: "121.4 | 119.8" over "(18.2) | (17.5)".

A line that holds nothing but bracketed or ±-led figures, one under each figure of the line above, is put behind
those figures. A line with more or fewer is left as it is.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from evidence.reading.cells import DASHES, THIN, Shape, read_cell, read_run
from evidence.reading.grid import Grid, Layout, Piece, is_blank

_END = rf"[{DASHES}]?\s?\d[\d.,·]*"
_BRACKET = rf"[(\[]\s*(?:±\s*)?{_END}\s?%?(?:\s?(?:to|[,;{DASHES}])\s?{_END})?\s*[)\]]"
_TAIL = rf"(?:{_BRACKET}|±\s?\d[\d.,·]*)[*†‡§¶#a-h]{{0,3}}"
_TAIL_ALONE = re.compile(_TAIL)
_TAILS = re.compile(rf"\s*{_TAIL}(?:[\s{THIN}]+{_TAIL})*\s*")


def join_stacked(layout: Layout, decimal: str) -> Layout:
    """The paste with each spread behind the figure it stands under."""
    if layout.grid is not None:
        return replace(layout, grid=_join_grid(_join_columns(layout.grid, decimal), decimal))
    return replace(layout, lines=tuple(_join_lines(layout.lines, decimal)))


def _join_columns(grid: Grid, decimal: str) -> Grid:
    """The grid with "23.1 | ± | 2.8" and "23.1 | ± 2.8" as one column."""
    column = 1
    while grid and column < len(grid[0]):
        sign = _mostly(grid, column, re.compile("±"))
        if (sign and column + 1 < len(grid[0])) or _mostly(grid, column, re.compile(r"±\s?\d[\d.,·]*\W*")):
            size = 3 if sign else 2
            rows = [i for i, row in enumerate(grid) if _is_bare(row[column - 1].text, decimal)]
            if not rows:
                return grid
            grid = [_join_pieces(row, column - 1, size, number >= rows[0]) for number, row in enumerate(grid)]
        column += 1
    return grid


def _mostly(grid: Grid, column: int, pattern: re.Pattern[str]) -> bool:
    filled = [row[column].text for row in grid if not is_blank(row[column])]
    return len(filled) > 1 and sum(bool(pattern.fullmatch(text)) for text in filled) >= 0.6 * len(filled)


def _join_pieces(row: Sequence[Piece], start: int, size: int, data: bool) -> list[Piece]:
    parts = [piece for piece in row[start : start + size] if not is_blank(piece)]
    between = " " if data else " / "
    texts = [part.text for part in parts if data or part.text != "±"]
    first = parts[0] if parts else row[start]
    raw = "\t".join(part.raw for part in parts)
    whole = replace(first, text=between.join(dict.fromkeys(texts) if not data else texts), raw=raw)
    return [*row[:start], whole, *row[start + size :]]


def _join_grid(grid: Grid, decimal: str) -> Grid:
    joined: Grid = []
    for row in grid:
        if joined and _stands_under(joined[-1], row, decimal):
            joined[-1] = [
                above if is_blank(own) else _glue(above, own)
                for above, own in zip(joined[-1], row, strict=True)
            ]
        else:
            joined.append(row)
    return joined


def _stands_under(above: Sequence[Piece], row: Sequence[Piece], decimal: str) -> bool:
    """Whether a row holds spreads alone, under just the bare figures of the row above."""
    own = [i for i, piece in enumerate(row) if not is_blank(piece)]
    if not own or own[0] == 0 or not all(_TAIL_ALONE.fullmatch(row[i].text) for i in own):
        return False
    return all(_is_bare(above[i].text, decimal) for i in own)


def _is_bare(text: str, decimal: str) -> bool:
    token = read_cell(text, decimal)
    return token is not None and token.shape is Shape.NUMBER


def _glue(above: Piece, own: Piece) -> Piece:
    return replace(above, text=f"{above.text} {own.text}", raw=f"{above.raw} {own.raw}")


def _join_lines(lines: Sequence[Piece], decimal: str) -> list[Piece]:
    joined: list[Piece] = []
    for piece in lines:
        whole = _put_behind(joined[-1], piece, decimal) if joined and _TAILS.fullmatch(piece.text) else None
        if whole is None:
            joined.append(piece)
        else:
            joined[-1] = whole
    return joined


def _put_behind(above: Piece, below: Piece, decimal: str) -> Piece | None:
    """A running line with the spreads of the line below behind its figures; None when they are not as many."""
    tails = [found.group() for found in re.finditer(_TAIL, below.text)]
    tokens = read_run(above.text, decimal).tokens
    bare = [token for token in tokens if token.shape is Shape.NUMBER]
    if len(tails) < 2 or len(bare) != len(tails) or len(bare) != len(tokens):
        return None
    text = above.text[: bare[0].start]
    for token, tail in zip(bare, tails, strict=True):
        text += f"{token.text} {tail} "
    return replace(above, text=text.rstrip(), raw=text.rstrip())
