"""A second look at cells already read: what their own labels contradict becomes a question, never a silent reading.

A row headed "n (%)" holds counts, one headed "median (range)" no mean; a group called "Pre" is a time.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import replace

from evidence.reading.table import ReadCell, add_doubt
from evidence.vocabulary.terms import Statistic

_FIGURE = re.compile(r"\d\s*(?:±|\+/[-\N{MINUS SIGN}])")
_COUNTS = re.compile(r"(?:\bn\b|\bno\.?|\bnumber)\s*(?:of \w+\s*)?[\[(,]\s*%", re.IGNORECASE)
_MEDIAN = re.compile(r"\bmedian\b", re.IGNORECASE)
_CHANGE = re.compile(r"\bchanges?\s+(?:from|over|in)\b|\bmean changes?\b", re.IGNORECASE)
_TIMES = re.compile(
    r"pre(?:[- ]?(?:test|training))?|post(?:[- ]?(?:test|training))?|baseline|follow[- ]?up", re.IGNORECASE
)


def look_again(cells: Sequence[ReadCell], labels: Sequence[str], title: str) -> tuple[ReadCell, ...]:
    """The cells, doubted where a label that belongs to them speaks against how they were read.

    `labels`: the lines of the paste, which may say more of a row than its label kept. `title` speaks of all cells.
    """
    return tuple(_look(cell, _line_of(cell, labels), title) for cell in cells)


def _line_of(cell: ReadCell, lines: Sequence[str]) -> str:
    """The text of the paste in front of a cell, on its line."""
    line, column = cell.position
    return lines[line - 1][: max(0, column - 1)] if 0 < line <= len(lines) else ""


def _look(cell: ReadCell, before: str, title: str) -> ReadCell:
    if cell.group and cell.timepoint is None and _TIMES.fullmatch(cell.group.strip()):
        cell = replace(cell, timepoint=cell.group, group=None)
    if _FIGURE.search(cell.row):
        return add_doubt(cell, "a figure stands in the label of the row, so its cells may have moved", ())
    if any(x is not None and not math.isfinite(x) for x in (cell.value, cell.spread, cell.low, cell.high)):
        return add_doubt(cell, "this is no figure that can be measured", ())
    if cell.value_kind is not Statistic.MEAN or cell.doubts:
        return cell
    said = f"{cell.row} {cell.column} {before}"
    if _COUNTS.search(said):
        return add_doubt(
            cell, "the label speaks of numbers of people with percentages", ("a count (%)", "mean (spread)")
        )
    if _MEDIAN.search(said):
        return add_doubt(cell, "the label speaks of a median", ("median", "mean"))
    if cell.timepoint is None and _CHANGE.search(title):
        return add_doubt(cell, "the title speaks of changes", ("change", "mean"))
    return cell
