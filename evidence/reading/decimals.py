"""Whether a comma is the decimal sign of a paste, from all its numbers together."""

from __future__ import annotations

import re
from collections.abc import Sequence


def infer_decimal(lines: Sequence[str], answered: str | None = None) -> tuple[str, str]:
    """The decimal sign, and the doubt to put on numbers such as "1,363" when nothing decides ("" when it is
    decided).
    """
    if answered in (".", ","):
        return answered, ""
    text = "\n".join(lines)
    points = len(re.findall(r"(?<![\d.,])(?:\d+\.\d{1,2}|\d+\.\d{4,}|0?\.\d+)(?![\d.,]*\d)", text))
    points += 2 * len(re.findall(r"\d,\d{3}\.\d", text))
    commas = len(re.findall(r"(?<![\d.,])(?:\d+,\d{1,2}|\d+,\d{4,}|0,\d+)(?!\d)", text))
    commas += 2 * len(re.findall(r"\d\.\d{3},\d", text))
    threes = len(re.findall(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?![\d.,])", text))
    if commas > points:
        return ",", ""
    if points or not threes or _thousands_by_spread(text):
        return ".", ""
    return ".", "the comma may part thousands or be the decimal sign"


_PAIR = re.compile(r"(?<![\d.,])([1-9]\d{0,2}),\d{3}\s?[*†‡§#]?\s?(?:±|\()\s?(\d{2,3})(?![\d.,%])(?!\s?[-–])")


def _thousands_by_spread(text: str) -> bool:
    """Whether every spread beside such a number is whole and far above it, were the comma its decimal sign
    ("1,250 ± 214").
    """
    pairs = _PAIR.findall(text)
    return len(pairs) >= 2 and all(int(spread) > 3 * (int(whole) + 1) for whole, spread in pairs)
