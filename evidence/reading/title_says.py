"""What the title of a table says its figures are: "Pearson correlations", "Change after 8 weeks", "Effect sizes".

A title that opens so over bare figures is believed; one that only speaks of it is asked about. Figures that have a
time point or a statistic of their own are left as they are.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.reading.table import ReadCell, add_doubt
from evidence.vocabulary.terms import Statistic

_NUMBER = r"^\W*(?:\w+\.?\s+[A-Z]?\d+\w*[.:|]?\s+)?"
_LEAD = r"(?:(?:the|mean|average|absolute|pearson|spearman|bivariate|within|between|group|relative)(?:['’]?s)?[ -]+)*"
_PERCENT = (
    r"(?:percent(?:age)?|relative|%)\s*(?:of )?(?:changes?|gains?|increases?|improvements?)|changes? \(?%"
)
_CHANGE = r"changes?\s+(?:from|over|in|after|during|between|across|following|with)\b|changes?\W*$"


@dataclass(frozen=True, slots=True)
class _Said:
    """A statistic and the words of it; `bare`: of figures without a spread alone; `largest`: none is larger."""

    statistic: Statistic
    words: str
    told: str
    bare: bool = False
    largest: float | None = None

    def opens(self, title: str) -> bool:
        return bool(re.match(f"{_NUMBER}{_LEAD}(?:{self.words})", title, re.IGNORECASE))

    def speaks(self, title: str) -> bool:
        return bool(re.search(rf"(?<![\w-])(?:{self.words})", title, re.IGNORECASE))


_SAID = (
    _Said(
        Statistic.CORRELATION,
        r"correlations?\b|correlation (?:coefficients?|matrix)",
        "correlations",
        True,
        1.0,
    ),
    _Said(
        Statistic.SMD,
        r"effect sizes?\b|standardi[sz]ed (?:mean )?(?:differences?|effects?)|cohen['’]?s d\b|hedges['’]? g\b",
        "effect sizes",
        True,
    ),
    _Said(Statistic.TEST, r"p[- ]values?\b|significance (?:levels?|values?)\b", "p-values", True, 1.0),
    _Said(Statistic.PERCENT_CHANGE, _PERCENT, "percent changes"),
    _Said(Statistic.CHANGE, rf"{_CHANGE}|mean changes?\b", "changes"),
    _Said(Statistic.DIFFERENCE, r"between[- ]groups? differences?|mean differences?", "differences"),
)


def hold_against_title(cells: Sequence[ReadCell], title: str) -> list[ReadCell]:
    """The cells read as means, as what the title says they are, or doubted where it only speaks of it."""
    said = next((s for s in _SAID if (s.opens if s.statistic is Statistic.TEST else s.speaks)(title)), None)
    if said is None:
        return list(cells)
    open_cells = [c for c in cells if _is_open(c, said)]
    if not open_cells:
        return list(cells)
    believed = said.opens(title) and _agrees(said, cells, open_cells, title)
    text = f"the title speaks of {said.told}"
    return [
        cell
        if not _is_open(cell, said)
        else _as_p(cell)
        if believed and said.statistic is Statistic.TEST
        else replace(cell, value_kind=said.statistic)
        if believed
        else offer(cell, text, said.statistic)
        for cell in cells
    ]


def _as_p(cell: ReadCell) -> ReadCell:
    """A figure that is a p-value, as printed."""
    figure = re.search(r"[<>≤≥]?\s?\d*[.,·]?\d+", cell.printed)
    return replace(
        cell, p=figure.group() if figure else cell.printed, value=None, value_kind=Statistic.TEST, n=None
    )


def _is_open(cell: ReadCell, said: _Said) -> bool:
    """Whether nothing but the habit of reading means speaks for a mean."""
    mean = cell.value_kind is Statistic.MEAN and not cell.doubts and cell.timepoint is None
    return mean and not (said.bare and cell.spread is not None)


def _agrees(said: _Said, cells: Sequence[ReadCell], own: Sequence[ReadCell], title: str) -> bool:
    """Whether the figures bear the title out."""
    if said.largest is not None:
        return all(cell.value is not None and abs(cell.value) <= said.largest for cell in own)
    if said.statistic is Statistic.CHANGE:
        from_start = re.search(r"changes? from (?:baseline|pre\b|pre-\w+|before)", title, re.IGNORECASE)
        untimed = not any(cell.timepoint for cell in cells)
        return untimed and bool(from_start or any(cell.value is not None and cell.value < 0 for cell in own))
    return said.statistic in (Statistic.SMD, Statistic.PERCENT_CHANGE) and len(own) == len(
        [cell for cell in cells if cell.value is not None]
    )


def offer(cell: ReadCell, text: str, kind: Statistic) -> ReadCell:
    """The cell with a doubt between another statistic and a mean."""
    effects = ((("value_kind", kind),), (("value_kind", Statistic.MEAN),))
    return add_doubt(cell, text, (kind.value, "mean"), effects)
