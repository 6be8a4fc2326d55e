"""A second look at cells already read: what their own labels contradict becomes a question, never a silent reading.

A row headed "n (%)" holds counts, one headed "median (range)" no mean; a group called "Pre" is a time. No mean of
kilograms is below zero. What the title of the whole table says stands in `title_says.py`.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import replace

from evidence.reading.table import ReadCell, add_doubt
from evidence.reading.title_says import hold_against_title, offer
from evidence.vocabulary.terms import Spread, Statistic

_FIGURE = re.compile(r"\d\s*(?:±|\+/[-\N{MINUS SIGN}])")
_COUNTS = re.compile(r"(?:\bn\b|\bno\.?|\bnumber)\s*(?:of \w+\s*)?[\[(,]\s*%", re.IGNORECASE)
_MEDIAN = re.compile(r"\bmedian\b", re.IGNORECASE)
_NEVER_BELOW_ZERO = re.compile(
    r"kg|g|lbs?|N|kN|W|mm|[cm]m\W?[23²³]|cm|s|ms|reps?|m\W?s(?:\W?1)?|N\W?m|Nm(?:/kg)?|[µμ]V|mV"
    r"|%\s?(?:of )?(?:M?VI?C|MVIC|1\s?RM)",
)
_PRE_LESS_POST = re.compile(
    r"\b(?:pre|before|baseline)(?:[- ]?\w+)?\s?[-–−]\s?(?:post|after|follow)|\b(?:pre|before) minus (?:post|after)",
    re.IGNORECASE,
)
_NO_SPREAD = (Statistic.SMD, Statistic.RATIO, Statistic.CORRELATION)
_TIMES = re.compile(
    r"pre(?:[- ]?(?:test|training))?|post(?:[- ]?(?:test|training))?|baseline|follow[- ]?up", re.IGNORECASE
)
_AS_READ = ("as read here", "otherwise: see the paste")
_COUNT = (("value_kind", Statistic.COUNT), ("spread", None), ("spread_kind", Spread.NONE))


def look_again(cells: Sequence[ReadCell], labels: Sequence[str], title: str) -> tuple[ReadCell, ...]:
    """The cells, doubted where a label that belongs to them speaks against how they were read.

    `labels`: the lines of the paste, which may say more of a row than its label kept. `title` speaks of all cells.
    """
    seen = [_look(cell, _line_of(cell, labels)) for cell in cells]
    return tuple(_doubt_below_zero(hold_against_title(seen, title)))


def _line_of(cell: ReadCell, lines: Sequence[str]) -> str:
    """The text of the paste in front of a cell, on its line."""
    line, column = cell.position
    return lines[line - 1][: max(0, column - 1)] if 0 < line <= len(lines) else ""


def _look(cell: ReadCell, before: str) -> ReadCell:
    if cell.group and cell.timepoint is None and _TIMES.fullmatch(cell.group.strip()):
        cell = replace(cell, timepoint=cell.group, group=None)
    if _FIGURE.search(cell.row):
        return add_doubt(
            cell, "a figure stands in the label of the row, so its cells may have moved", _AS_READ
        )
    if any(x is not None and not math.isfinite(x) for x in (cell.value, cell.spread, cell.low, cell.high)):
        return add_doubt(cell, "this is no figure that can be measured", _AS_READ)
    if _PRE_LESS_POST.search(f"{cell.column} {cell.row}") and cell.value is not None:
        return _turn_round(cell, cell.value)
    if cell.value_kind in _NO_SPREAD and cell.spread is not None and cell.spread_kind is not Spread.SE:
        return _limits(cell)
    if cell.value_kind is not Statistic.MEAN or cell.doubts:
        return cell
    said = f"{cell.row} {cell.column} {before}"
    if _COUNTS.search(said):
        text = "the label speaks of numbers of people with percentages"
        return add_doubt(
            cell, text, ("a count (%)", "mean (spread)"), (_COUNT, (("value_kind", Statistic.MEAN),))
        )
    if _MEDIAN.search(said):
        return offer(cell, "the label speaks of a median", Statistic.MEDIAN)
    return cell


def _turn_round(cell: ReadCell, value: float) -> ReadCell:
    """A change that the paper counts from after to before."""
    effects = (
        (
            ("value", -value),
            ("low", _turned(cell.high)),
            ("high", _turned(cell.low)),
            ("value_kind", Statistic.CHANGE),
        ),
        (("value_kind", Statistic.CHANGE),),
    )
    shown = (f"{-value:g}: the sign turned round", f"{value:g}: as printed")
    return add_doubt(
        cell, "the label says before minus after; a change is counted after minus before", shown, effects
    )


def _turned(end: float | None) -> float | None:
    return -end if end is not None else None


def _limits(cell: ReadCell) -> ReadCell:
    """An effect with ± behind it: half of its interval, or its standard error; effects have no SD."""
    if cell.value is None or cell.spread is None:
        return cell
    low, high = cell.value - cell.spread, cell.value + cell.spread
    limits = (("spread", None), ("low", round(low, 6)), ("high", round(high, 6)), ("spread_kind", Spread.CI))
    text = "an effect has no standard deviation: what is the figure behind it?"
    effects = (limits, (("spread_kind", Spread.SE),))
    return add_doubt(cell, text, ("confidence limits", "the standard error"), effects)


def _doubt_below_zero(cells: Sequence[ReadCell]) -> list[ReadCell]:
    """The means of a column that has one below zero in a unit which has nothing below zero: changes, perhaps."""
    below = {cell.column for cell in cells if _is_below_zero(cell)}
    text = "a figure below zero stands here in a unit that has none: a change?"
    return [
        offer(cell, text, Statistic.CHANGE)
        if cell.column in below and cell.value_kind is Statistic.MEAN and not cell.doubts
        else cell
        for cell in cells
    ]


def _is_below_zero(cell: ReadCell) -> bool:
    mean = cell.value_kind is Statistic.MEAN and cell.value is not None and cell.value < 0
    return mean and bool(_NEVER_BELOW_ZERO.fullmatch((cell.unit or "").strip()))
