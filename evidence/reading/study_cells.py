"""Strict reading of one cell in a study file: "26.23 [10.1]", "63,2 ± 21,4*", "-1.6 (-6.1 to 2.0)", "69.5".

What a file states is typed or checked by a person, so anything unusual is refused rather than interpreted.
"""

import re
from dataclasses import dataclass

_MINUS = str.maketrans({"−": "-", "–": "-", "‒": "-", "﹣": "-", "－": "-"})
_NUMBER = r"[-+]?(?:\d+(?:[.,]\d+)?|[.,]\d+)"
_MARKS = r"(?P<marks>[*†‡§¶#$a-d]{0,6}(?:\s?[*†‡§¶#$]){0,3})"
_SPREAD = rf"(?:±|\+/-|\+-)\s*(?P<pm>{_NUMBER})|[\[(]\s*(?:±\s*)?(?P<one>{_NUMBER})\s*[\])]"
_PAIR = rf"[\[(]\s*(?P<low>{_NUMBER})\s*(?:to|;|,\s|\.\.|-(?=\s*[-+]?\d))\s*(?P<high>{_NUMBER})\s*[\])]"
_CELL = re.compile(rf"(?P<value>{_NUMBER})\s*%?\s*(?:{_PAIR}|{_SPREAD})?\s*%?\s*{_MARKS}")
LONGEST = 80  # characters
_EMPTY = {"", "-", "--", "—", "na", "n/a", "nr", "n.r.", "not reported", "."}


@dataclass(frozen=True, slots=True)
class Cell:
    """The figures of a cell: `spread` where one figure follows, `low` and `high` where two do."""

    value: float
    spread: float | None = None
    low: float | None = None
    high: float | None = None
    marks: str | None = None


def is_empty_cell(text: str) -> bool:
    """Whether nothing was printed in the cell."""
    return text.strip().translate(_MINUS).casefold() in _EMPTY


def read_cell(text: str) -> Cell | str:
    """The figures of `text`, or why they cannot be read, in words."""
    if len(text) > LONGEST:
        return "too long for a cell"
    found = _CELL.fullmatch(text.strip().translate(_MINUS))
    if found is None:
        return "not a figure with an optional spread, such as 26.23 [10.1], 26.2 ± 10.1 or 3.6 (0.7 to 6.4)"
    numbers = {name: found[name] for name in ("value", "pm", "one", "low", "high") if found[name]}
    comma = any("," in number for number in numbers.values())
    if comma and any("." in number for number in numbers.values()):
        return "both a point and a comma stand in the numbers"
    if any(re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", number) for number in numbers.values()):
        return "a comma before three digits may be a decimal comma or a thousands mark; write 1363 or 1.363"
    figures = {name: float(number.replace(",", ".")) for name, number in numbers.items()}
    return Cell(
        value=figures["value"],
        spread=figures.get("pm", figures.get("one")),
        low=figures.get("low"),
        high=figures.get("high"),
        marks=found["marks"].replace(" ", "") or None,
    )
