"""A trend as lines of text: a row for each level, the line over all with its interval, and each study by a letter.

No two studies have one letter. Where more than one stands on a spot, how many is drawn there, and which is told below.
"""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from evidence.publishing.axis import Axis, scale_text
from evidence.publishing.figures import shorten
from evidence.publishing.trend_figure import TrendPlot, name_line, placed, rise, tell_line, upright_axis

# Greek letters that look like Latin ones are left out; what is beyond them has no letter of its own.
LETTERS = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZαβγδεζηθλμξπρςστφχψωΓΔΘΛΞΠΣΦΨΩ"
UNLETTERED = "•"
MANY = "+"  # ten studies or more on a spot


@dataclass(frozen=True, slots=True)
class _Row:
    """The cells of one level, and the letters of the studies that share a spot of it."""

    level: float
    drawn: str
    shared: tuple[str, ...]


def trend_text(plot: TrendPlot, width: int = 78) -> str:
    """The drawing in characters, at most `width` wide (40 at the least)."""
    width = max(width, 40)
    axis = upright_axis(plot)
    levels = sorted({level for study in plot.drawn for level in study.levels})
    left = max((len(f"{level:g}") for level in levels), default=1) + 1
    room = width - left - 8
    letters = letter_studies(len(plot.drawn))
    rows = [_row(plot, letters, level, axis, room) for level in levels]
    lines = [shorten(f"{plot.detail}; change against the lowest ({plot.metric.unit})", width)]
    lines += [f"{row.level:>{left}g} {row.drawn}".rstrip() for row in rows]
    lines.append((" " * (left + 1) + scale_text(axis, room)).rstrip())
    lines += _tell_shared(rows, width)
    for letter, study in zip(letters, plot.drawn, strict=True):
        lines.append(shorten(f"{letter}: {study.label}, {study.n} people", width))
    if plot.slope is not None:
        lines += [
            f"│: {name_line(plot).lower()}, ─: its 95 % interval",
            "   " + shorten(f"{tell_line(plot)} {plot.told_step}", width - 3),
        ]
    return "\n".join(lines) + "\n"


def letter_studies(number: int) -> str:
    """A letter for each study; those beyond the last letter share a sign that is none."""
    return LETTERS[:number] + UNLETTERED * (number - len(LETTERS))


def _tell_shared(rows: Sequence[_Row], width: int) -> list[str]:
    """Which studies stand on one spot: "2, 3, ...: so many on one spot (at 30: a b; at 60: c d e)"."""
    told = "; ".join(f"at {row.level:g}: {letters}" for row in rows for letters in row.shared)
    if not told:
        return []
    said = f"A figure: so many studies on one spot ({told})"
    return textwrap.wrap(said, width, subsequent_indent="   ", break_on_hyphens=False)


def _row(plot: TrendPlot, letters: str, level: float, axis: Axis, room: int) -> _Row:
    cells = [" "] * room

    def column(value: float) -> int:
        return round(axis.place(value) * (room - 1))

    along = level - plot.low
    if plot.slope is not None:
        if plot.slope_low is not None and plot.slope_high is not None:
            first, last = sorted((column(rise(plot.slope_low, along)), column(rise(plot.slope_high, along))))
            cells[first : last + 1] = "─" * (last + 1 - first)
        cells[column(rise(plot.slope, along))] = "│"
    spots: dict[int, list[str]] = {}
    for letter, study in zip(letters, plot.drawn, strict=True):
        for found, value in zip(study.levels, study.values, strict=True):
            if found == level:
                spots.setdefault(column(value - placed(plot, study)), []).append(letter)
    for place, standing in spots.items():
        cells[place] = _sign(standing)
    shared = tuple(" ".join(standing) for _, standing in sorted(spots.items()) if len(standing) > 1)
    return _Row(level, "".join(cells), shared)


def _sign(standing: Sequence[str]) -> str:
    """What is drawn on a spot: the letter of its study, or how many there are."""
    if len(standing) == 1:
        return standing[0]
    return str(len(standing)) if len(standing) < 10 else MANY
