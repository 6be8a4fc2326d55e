"""Running header lines over each other: the lowest is divided into columns, those above it are spread over them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from evidence.reading.cells import Shape
from evidence.reading.headers import Parts, divide, split_atoms
from evidence.reading.labels import STUB, read_phrase
from evidence.reading.legend import is_caption

LONGEST_TAIL = 4  # columns at the end that only an upper line names ("p" beside two groups over pre and post)


@dataclass(frozen=True, slots=True)
class Division:
    """A way to read a header: the parts of each column, the label headers before them, the lines that were
    caption.
    """

    columns: tuple[Parts, ...]
    cost: float
    stubs: tuple[str, ...] = ()
    caption: int = 0
    unplaced: tuple[str, ...] = ()


def plain(label: str) -> str:
    """A header for comparing: no n, no case."""
    return read_phrase(label).name.casefold()


def place_upper(text: str | Sequence[str], leaf: Sequence[str]) -> tuple[list[str], float, bool]:
    """Spread an upper header line over the columns: (text per column, cost, whether it could be placed)."""
    width = len(leaf)
    blocks = _blocks([plain(label) for label in leaf])
    options: list[tuple[float, list[str]]] = []
    for spans, price in blocks:
        if isinstance(text, str):
            for cost, units, _ in divide(text, [None] * len(spans), keep=1):
                if len(units) == len(text.split()):
                    cost = min(cost, 0.3 * len(units))
                options.append((cost + price, _spread(units, spans, width)))
        elif len(text) == len(spans) or (len(text) == len(spans) + 1 and STUB.match(text[0])):
            options.append((price, _spread(list(text)[-len(spans) :], spans, width)))
    if not options:
        return [""] * width, 1.0, False
    cost, placed = min(options, key=lambda option: option[0])
    return (placed, cost, True) if cost < 0.9 * max(1, len(set(placed))) + 0.5 else ([""] * width, 1.0, False)


def _blocks(leaf: Sequence[str]) -> list[tuple[list[range], float]]:
    """How an upper line may span the columns: whole blocks of repeated headers, blocks and single columns,
    or one to one.
    """
    width = len(leaf)
    options: list[tuple[list[range], float]] = []
    for period in range(1, width // 2 + 1):
        repeats = 1
        while (repeats + 1) * period <= width and all(
            leaf[repeats * period + i] == leaf[i] for i in range(period)
        ):
            repeats += 1
        if repeats < 2 or (period == 1 and repeats < width):
            continue
        spans = [range(i * period, (i + 1) * period) for i in range(repeats)]
        rest = [range(i, i + 1) for i in range(repeats * period, width)]
        if period > 1:
            options.append((spans + rest, 0.0 if not rest else 0.1))
            if rest:
                options.append((rest, 0.4))
            if len(rest) > 1:
                options.append(([*spans, range(repeats * period, width)], 0.05))
    if not any(price == 0.0 for _, price in options):
        options.append(([range(i, i + 1) for i in range(width)], 0.2))
    return options


def _spread(units: Sequence[str], spans: Sequence[range], width: int) -> list[str]:
    placed = [""] * width
    for unit, span in zip(units, spans, strict=True):
        for column in span:
            placed[column] = unit
    return placed


def read_header_lines(lines: Sequence[str], shapes: Sequence[Shape | None]) -> list[Division]:
    """The ways to read running header lines, the best first; a caption may stand before them."""
    found: list[Division] = []
    first = max(
        (i for i, line in enumerate(lines) if is_caption(line)), default=0
    )  # text of the paper may precede it
    for caption in range(first, len(lines)):
        dropped = _caption_cost(lines[first:caption])
        if dropped >= 4.0 or is_caption(lines[caption]):
            continue
        rest = lines[caption:]
        if len(rest) > 40:
            continue
        for start in range(len(rest)):
            extra = dropped + 0.02 * (len(rest) - start - 1)
            longest = min(LONGEST_TAIL, len(shapes) - 2) if 0 < start >= len(rest) - 2 else 0
            for tail in range(longest + 1):
                lower = divide(" ".join(rest[start:]), shapes[: len(shapes) - tail])
                found += [
                    way
                    for cost, units, stubs in lower
                    if (way := _stack(rest[:start], units, stubs, cost + extra, caption, shapes))
                ]
    unique: dict[tuple[Parts, ...], Division] = {}
    for division in sorted(found, key=lambda d: d.cost):
        unique.setdefault(division.columns, division)
    return list(unique.values())[:3]


def _stack(
    upper: Sequence[str],
    leaf: Sequence[str],
    stubs: tuple[str, ...],
    cost: float,
    caption: int,
    shapes: Sequence[Shape | None],
) -> Division | None:
    """Put upper lines over the lowest headers; None when columns at the end are named by none of them."""
    layers: list[list[str]] = [list(leaf)]
    tail = shapes[len(leaf) :]
    ends: list[str] = []
    unplaced: list[str] = []
    for line in reversed(upper):
        if all(a.kind in ("stub", "bracket") for a in split_atoms(line)):
            stubs = (*stubs, line)
            continue
        below = [" ".join(layer[i] for layer in layers if layer[i]) for i in range(len(leaf))]
        longer = _place_with_tail(line, below, tail) if tail and not ends else None
        if longer:
            placed, ends, before, price = longer
            stubs = (*stubs, *before)
        else:
            placed, price, done = place_upper(line, below)
            if not done:
                unplaced.insert(0, line)
                cost += price
                continue
        cost += price
        layers.insert(0, placed)
    if len(ends) != len(tail):
        return None
    columns = tuple(tuple(layer[i] for layer in layers if layer[i]) for i in range(len(leaf)))
    columns = (*columns, *((text,) for text in ends))
    repeated = len(columns) - len(set(columns))
    return Division(columns, cost + (0.2 if unplaced else 0.5) * repeated, stubs, caption, tuple(unplaced))


def _place_with_tail(
    line: str, below: Sequence[str], tail: Sequence[Shape | None]
) -> tuple[list[str], list[str], tuple[str, ...], float] | None:
    """An upper line over whole blocks of the headers below, and after them a header for each column of the tail."""
    ways = []
    for spans, price in _blocks([plain(label) for label in below]):
        if len(spans) < 2 or sum(map(len, spans)) != len(below) or len({len(span) for span in spans}) > 1:
            continue
        for cost, units, before in divide(line, [*([None] * len(spans)), *tail], keep=1):
            ways.append(
                (cost + price, _spread(units[: len(spans)], spans, len(below)), units[len(spans) :], before)
            )
    best = min(ways, key=lambda way: way[0], default=None)
    if best is None or best[0] >= 0.9 * (len(set(best[1])) + len(tail)) + 0.5:
        return None
    cost, placed, ends, before = best
    return placed, list(ends), before, cost


def _caption_cost(lines: Sequence[str]) -> float:
    """How unlikely it is that these lines are caption and not header."""
    cost = 0.0
    for number, line in enumerate(lines):
        if not is_caption(line) and sum(a.kind == "people" for a in split_atoms(line)) > 1:
            cost += 3.0  # two groups with their numbers are a header
        if number == 0:
            cost += 0.0 if is_caption(line) else 0.6 if len(line.split()) > 3 else 1.5
        elif re.search(r"[.:]\s*$", lines[number - 1]):
            cost += 2.5
        else:
            cost += 0.1 if re.match(r"[a-z(]", line) or line.rstrip().endswith(".") else 0.5
    return cost
