"""A second look at cells already read: what their own labels contradict becomes a question, never a silent reading.

A row headed "n (%)" holds counts, one headed "median (range)" no mean; a group called "Pre" is a time. A title
that opens with "Change from baseline" over a table without times says what its figures are.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import replace

from evidence.reading.table import ReadCell, add_doubt
from evidence.vocabulary.terms import Spread, Statistic

_FIGURE = re.compile(r"\d\s*(?:±|\+/[-\N{MINUS SIGN}])")
_COUNTS = re.compile(r"(?:\bn\b|\bno\.?|\bnumber)\s*(?:of \w+\s*)?[\[(,]\s*%", re.IGNORECASE)
_MEDIAN = re.compile(r"\bmedian\b", re.IGNORECASE)
_CHANGE = re.compile(r"\bchanges?\s+(?:from|over|in)\b|\bmean changes?\b", re.IGNORECASE)
_CHANGES_ALONE = re.compile(
    r"(?:\w+\.?\s+[A-Z]?\d+\w*[.:]?\s+)?(?:mean |absolute )?changes? from (?:baseline|pre\b|pre-\w+|before)"
    r"(?!.*(?:% ?change|percent|\(%\)))",
    re.IGNORECASE,
)
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
    timed = any(cell.timepoint for cell in seen)
    return tuple(_hold_against_title(cell, title, timed=timed) for cell in seen)


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
    if cell.value_kind is not Statistic.MEAN or cell.doubts:
        return cell
    said = f"{cell.row} {cell.column} {before}"
    if _COUNTS.search(said):
        text = "the label speaks of numbers of people with percentages"
        return add_doubt(
            cell, text, ("a count (%)", "mean (spread)"), (_COUNT, (("value_kind", Statistic.MEAN),))
        )
    if _MEDIAN.search(said):
        return _offer(cell, "the label speaks of a median", Statistic.MEDIAN)
    return cell


def _hold_against_title(cell: ReadCell, title: str, *, timed: bool) -> ReadCell:
    if cell.value_kind is not Statistic.MEAN or cell.doubts or cell.timepoint is not None:
        return cell
    if not timed and _CHANGES_ALONE.match(title):
        return replace(cell, value_kind=Statistic.CHANGE)
    return _offer(cell, "the title speaks of changes", Statistic.CHANGE) if _CHANGE.search(title) else cell


def _offer(cell: ReadCell, text: str, kind: Statistic) -> ReadCell:
    """A doubt between another statistic and a mean."""
    effects = ((("value_kind", kind),), (("value_kind", Statistic.MEAN),))
    return add_doubt(cell, text, (kind.value, "mean"), effects)
