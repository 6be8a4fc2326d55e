"""How often in a week something is done, wherever it is written: "twice a week", "2x/week", "2-3 times per week".

Usage as seen in programmes; common practice, no source.
"""

import re

from evidence.reading.programme_limits import LIMITS
from evidence.reading.programme_model import Range

_WORDS = {
    "once": 1.0, "twice": 2.0, "thrice": 3.0, "one": 1.0, "two": 2.0, "three": 3.0, "four": 4.0, "five": 5.0,
    "six": 6.0, "seven": 7.0,
}  # fmt: skip
_FIGURE = rf"(?:\d{{1,2}}|{'|'.join(_WORDS)})"
_WEEK = r"(?:weeks?|wk|woche|semana|semaine|settimana)\b"
_PER = r"\s*(?:/|\b(?:a|in\s+a|per|each|every|the|pro|die|in\s+der|por|a\s+la|par|alla)\s+)\s*"
_COUNT = (
    rf"(?P<low>{_FIGURE})(?:\s*(?:-|–|—|to|or|bis)\s*(?P<high>{_FIGURE}))?"
    r"\s*(?:[x×]|(?:times?|days?|sessions?|mal|veces|fois|volte)\b)"
)
# Before it no figure and no "x": the 10 of "3x10/week" is no number of times.
_FREE = r"(?<![\w.,/×-])(?<![x×]\s)"
OFTEN = (
    rf"{_FREE}(?:{_COUNT}|(?:(?P<first>once|twice)\s*(?:-|–|or|to)\s*)?(?P<word>once|twice|thrice))"
    rf"(?:{_PER}{_WEEK}|\s*weekly\b)"
    rf"|{_FREE}(?P<bare>[1-9])\s*(?:/\s*|\bper\s+){_WEEK}"
    r"|\b(?:(?:once\s+)?every\s+(?:other|second|two|2)\s+weeks?|fortnightly)\b(?P<half>)"
    r"|\bevery\s+(?:other|second)\s+day\b(?P<alternate>)|\b(?:daily(?!\s+max)|every\s+day)\b(?P<daily>)"
)
_ON_A_LINE = re.compile(OFTEN, re.IGNORECASE)


def read_often(text: str) -> Range | None:
    """The times a week that a text names, low to high; None where it names none, or one that cannot be."""
    found = _ON_A_LINE.search(text[:400])
    return None if found is None else often_of(found)


def read_often_cell(text: str) -> Range | None:
    """The same of a cell that holds nothing else, where a bare figure will do: "2", "2-3", "2x", "twice a week"."""
    bare = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)(?:\s*(?:-|–|to)\s*(\d+(?:[.,]\d+)?))?\s*[x×]?\s*", text[:40])
    if bare is None:
        return read_often(text)
    low, high = (float(figure.replace(",", ".")) for figure in (bare[1], bare[2] or bare[1]))
    return _within(min(low, high), max(low, high))


def often_of(found: re.Match[str]) -> Range | None:
    """The times a week of a match of OFTEN; None beyond the limits of a week."""
    return _within(*_figures(found))


def _within(low: float, high: float) -> Range | None:
    least, most = LIMITS["times_per_week"]
    return (low, high) if least <= low <= high <= most else None


def _figures(found: re.Match[str]) -> tuple[float, float]:
    for name, value in (("half", 0.5), ("alternate", 3.5), ("daily", 7.0)):
        if found[name] is not None:
            return value, value
    first = found["low"] or found["first"] or found["word"] or found["bare"]
    low, high = _number(first), _number(found["high"] or found["word"] or first)
    return min(low, high), max(low, high)


def _number(text: str) -> float:
    return _WORDS.get(text.casefold()) or float(text)
