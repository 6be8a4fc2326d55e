"""A trend as lines of text: a row for each level, the line over all with its interval, and each study by a letter."""

from evidence.publishing.axis import Axis, scale_text
from evidence.publishing.figures import shorten
from evidence.publishing.trend_figure import TrendPlot, name_line, placed, tell_line, upright_axis

LETTERS = "abcdefghijklmnopqrstuvwxyz"


def trend_text(plot: TrendPlot, width: int = 78) -> str:
    """The drawing in characters, at most `width` wide (40 at the least)."""
    axis = upright_axis(plot)
    levels = sorted({level for study in plot.drawn for level in study.levels})
    left = max((len(f"{level:g}") for level in levels), default=1) + 1
    room = max(width, 40) - left - 8
    lines = [shorten(f"{plot.detail}; change against the lowest ({plot.metric.unit})", width)]
    lines += [f"{level:>{left}g} {_row(plot, level, axis, room)}".rstrip() for level in levels]
    lines.append((" " * (left + 1) + scale_text(axis, room)).rstrip())
    for letter, study in zip(_letters(plot), plot.drawn, strict=True):
        lines.append(shorten(f"{letter}: {study.label}, {study.n} people", width))
    if plot.slope is not None:
        lines += [
            f"│: {name_line(plot).lower()}, ─: its 95 % interval",
            shorten(f"   {tell_line(plot)} {plot.told_step}", width),
        ]
    return "\n".join(lines) + "\n"


def _letters(plot: TrendPlot) -> list[str]:
    return [LETTERS[place % len(LETTERS)] for place in range(len(plot.drawn))]


def _row(plot: TrendPlot, level: float, axis: Axis, room: int) -> str:
    cells = [" "] * room

    def column(value: float) -> int:
        return round(axis.place(value) * (room - 1))

    along = level - plot.low
    if plot.slope is not None:
        if plot.slope_low is not None and plot.slope_high is not None:
            first, last = sorted((column(plot.slope_low * along), column(plot.slope_high * along)))
            cells[first : last + 1] = "─" * (last + 1 - first)
        cells[column(plot.slope * along)] = "│"
    for letter, study in zip(_letters(plot), plot.drawn, strict=True):
        for found, value in zip(study.levels, study.values, strict=True):
            if found == level:
                cells[column(value - placed(plot, study))] = letter
    return "".join(cells)
