"""Figures broken over two lines, as a narrow column of a PDF leaves them: "28.4 ±" over "11.1"."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import cache

from evidence.reading.table import Repair

_LONE = re.compile(r"\s*[-–−]?(?:\d+[.,·]\d+|[.·]\d+|\d+)\s*%?[)\]]?[^\w\s]{0,3}\s*")
_OPEN = re.compile(r"(?P<figure>\d[.,·]\d+)\s*(?P<sign>±|\+/-|\+/−|[(\[])\s*$")
_CODED = re.compile(r"(?P<figure>\d[.,·]\d+)\s+(?P<sign>[^\s.,;:)\]])\s*$")
USUAL = (
    2  # other places where a character stands between two figures, before it counts as the sign that is open
)


def join_broken(lines: Sequence[str]) -> tuple[list[str], tuple[Repair, ...]]:
    """The lines with the second half of a broken figure put behind the first; its own line is left empty.

    Only where a line ends in a figure and an open sign, and the next holds nothing but a figure. A character that
    stands for ± ("28.4 6") counts as open where it stands between two figures elsewhere.
    """
    whole = "\n".join(lines)

    @cache
    def is_usual(sign: str) -> bool:
        return stands_between(sign, whole) >= USUAL

    joined, repairs = list(lines), []
    for number, line in enumerate(lines[:-1]):
        below = lines[number + 1]
        if not _LONE.fullmatch(below) or not is_open(line, is_usual) or is_open(below, is_usual):
            continue
        joined[number], joined[number + 1] = f"{line.rstrip()} {below.strip()}", ""
        before = " ".join(line.split()[-2:])
        repairs.append(
            Repair(
                "a figure broken over two lines",
                f"{before} / {below.strip()}",
                f"{before} {below.strip()}",
                "the first line ends in an open sign and the second is nothing but a figure",
            )
        )
    return joined, tuple(repairs)


def is_open(line: str, is_usual: Callable[[str], bool]) -> bool:
    """Whether a line ends in the first half of a figure with its spread. `is_usual`: of a character that may be ±."""
    if _OPEN.search(line):
        return True
    coded = _CODED.search(line)
    return coded is not None and is_usual(coded["sign"])


def stands_between(sign: str, text: str) -> int:
    """How often a character stands between two figures."""
    return len(re.findall(rf"\d[.,·]\d+\s+{re.escape(sign)}\s+\d+[.,·]\d", text))
