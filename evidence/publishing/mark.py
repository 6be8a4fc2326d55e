"""The mark of confidence: a weight on a beam with four notches, one for each level. The words come first.

A range (a domain that is open or borderline) is the thick part of the beam; nothing is said by colour.
"""

from dataclasses import dataclass

from evidence.appraisal.levels import ORDER, Level, describe_range
from evidence.publishing.templating import render

WIDTH, STEP, FIRST = 104, 24, 16


@dataclass(frozen=True, slots=True)
class Notch:
    """One notch of the drawn beam."""

    x: int
    name: str


def mark_words(level: Level, low: Level, high: Level) -> str:
    """`moderate`, or `low (between very low and moderate)`."""
    return describe_range(level, low, high)


def mark_text(
    level: Level, low: Level | None = None, high: Level | None = None, *, ascii_only: bool = False
) -> str:
    """Words and the beam in one line: `low (between very low and low) ╞═╪▼┼──┼──┤`; in ASCII
    `+==V--+--+`.
    """
    words = mark_words(level, low or level, high or level)
    return f"{words}  {beam_text(level, low, high, ascii_only=ascii_only)}"


def beam_text(
    level: Level, low: Level | None = None, high: Level | None = None, *, ascii_only: bool = False
) -> str:
    """The beam alone, in characters; put it after the words."""
    low, high = low or level, high or level
    thick, thin, notch, weight = ("=", "-", "+", "V") if ascii_only else ("═", "─", "┼", "▼")
    cells: list[str] = []
    for index, here in enumerate(ORDER):
        cells.append(weight if here == level else notch)
        if index + 1 < len(ORDER):
            inside = low.rank <= here.rank and ORDER[index + 1].rank <= high.rank
            cells.append((thick if inside else thin) * 2)
    return "".join(cells)


def mark_svg(level: Level, low: Level | None = None, high: Level | None = None) -> str:
    """The beam as a small inline SVG with the words as its name; put it after the words, never in their
    place.
    """
    low, high = low or level, high or level
    notches = [Notch(FIRST + STEP * (here.rank - 1), str(here)) for here in ORDER]
    return render(
        "mark.svg",
        width=WIDTH,
        notches=notches,
        at=notches[level.rank - 1].x,
        thick_from=notches[low.rank - 1].x,
        thick_to=notches[high.rank - 1].x,
        words=f"Confidence {mark_words(level, low, high)}, on a beam from {ORDER[0]} to {ORDER[-1]}",
    )
