"""Header rows of a grid: wrapped texts become one, merged cells are filled, each column gets its texts."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from evidence.reading.grid import Grid, Piece, is_blank
from evidence.reading.header_lines import LONGEST_TAIL
from evidence.reading.labels import Kind, read_phrase

Texts = tuple[tuple[str, ...], ...]


def join_wrapped(heads: Grid) -> Grid:
    """ "Concentric" over "training": a header row that only goes on with the one above is joined to it."""
    joined: Grid = []
    for row in heads:
        if joined and _continues(joined[-1], row):
            joined[-1] = [_glue(above, own) for above, own in zip(joined[-1], row, strict=True)]
        else:
            joined.append(row)
    return joined


def _continues(above: Sequence[Piece], row: Sequence[Piece]) -> bool:
    """Whether every text of a row opens small or with a bracket and has a text of its own right above it."""
    own = [i for i, piece in enumerate(row) if not is_blank(piece)]
    if not own or any(is_blank(above[i]) or above[i].copy or row[i].copy for i in own):
        return False
    texts = [row[i].text for i in own]
    if not all(re.match(r"[a-z(\[]", text) for text in texts):
        return False
    phrases = [read_phrase(text) for text in texts]
    plain = all(p.timepoint is None and p.kind is Kind.PLAIN for p in phrases)
    return all(text[0] in "([" for text in texts) or (plain and len({above[i].text for i in own}) == len(own))


def _glue(above: Piece, own: Piece) -> Piece:
    return above if is_blank(own) else replace(above, text=f"{above.text} {own.text}")


def place_headers(heads: Grid, stub: int, used: Sequence[int]) -> tuple[Texts, Texts]:
    """Header texts by column, outermost first; or, when the header has no cell for the label column, in order only.

    A blank in an upper row is filled from its left, as merged cells arrive, until the rows below begin again.
    """
    if not heads:
        return (), ()
    leaf = [i for i, p in enumerate(heads[-1]) if not is_blank(p)]
    if leaf != list(used) and len(leaf) == len(used) and any(i < stub for i in leaf):
        return (), tuple(tuple(p.text for p in row if not is_blank(p)) for row in heads)
    placed = [[heads[-1][column].text for column in used]]
    for row in reversed(heads[:-1]):
        below = list(zip(*placed, strict=True))
        placed.insert(0, _fill_right([row[column].text for column in used], below))
    return tuple(tuple(row) for row in placed), ()


def _fill_right(texts: list[str], below: Sequence[tuple[str, ...]]) -> list[str]:
    filled = list(texts)
    start = 0  # where the text now carried to the right was printed
    for place, text in enumerate(texts):
        if text:
            start = place
        elif place and filled[place - 1] and below[place][-1] and below[place] not in below[start:place]:
            filled[place] = filled[place - 1]
    return filled


def stack_texts(head: Sequence[str], width: int) -> tuple[Texts, tuple[str, ...]] | None:
    """Header texts that came one by one, as rows over `width` columns, and the header of the labels before them.

    The lowest row holds the last texts; a row above it has a text for each block of headers that comes again below it,
    and perhaps one for each column at the end that the rows below leave out. None when the texts do not add up so.
    """
    for tail in range(min(LONGEST_TAIL, width - 2) + 1):
        size = width - tail
        if len(head) < size:
            continue
        leaf, rest = list(head[-size:]), list(head[:-size])
        found = (([leaf], rest) if len(rest) <= 1 else None) if not tail else None
        found = found or _stack_over([leaf], rest, tail)
        if found:
            rows, before = found
            return tuple((*row, *[""] * (width - len(row))) for row in rows), tuple(before)
    return None


def _stack_over(
    rows: list[list[str]], rest: list[str], tail: int
) -> tuple[list[list[str]], list[str]] | None:
    below = [" ".join(row[i] for row in rows) for i in range(len(rows[-1]))]
    for period in range(1, len(below) // 2 + 1):
        blocks = len(below) // period
        if len(below) % period or below != below[:period] * blocks:
            continue
        for taken in (blocks + tail, blocks) if tail else (blocks,):
            if len(rest) < taken:
                continue
            texts, left = rest[-taken:], rest[:-taken]
            row = [texts[i // period] for i in range(len(below))] + texts[blocks:]
            still = tail if taken == blocks else 0
            if len(left) <= 1 and not still:
                return [row, *rows], left
            if taken == blocks and (found := _stack_over([row, *rows], left, still)):
                return found
    return None
