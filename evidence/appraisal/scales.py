"""Published quality scales (TESTEX, PEDro, MINORS): totals, and what their items say of risk of bias.

A total measures reporting as much as bias: it is kept beside the judgement and never in its place. Items
and maxima are in `rules/scales.yaml`. TESTEX has no verified bands and gets none.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from evidence.appraisal.bias import HIGH, LOW, SOME
from evidence.appraisal.rulebook import load_rules
from evidence.errors import BadInput

PEDRO_ITEMS, MINORS_ITEMS, TESTEX_MAXIMA = 11, 12, (1, 1, 1, 1, 1, 3, 1, 2, 1, 1, 1, 1)


@dataclass(frozen=True, slots=True)
class ScaleTotal:
    """A total of a scale, its maximum, and what has to be said with it."""

    scale: str
    total: int
    maximum: int
    note: str


def list_items(scale: str) -> tuple[tuple[int, str], ...]:
    """(number, label) of a scale's items, in our own words: TESTEX, PEDro or MINORS. Raises BadInput for another."""
    scales = load_rules("scales")
    if scale not in ("TESTEX", "PEDro", "MINORS"):
        raise BadInput(f"no scale is called {scale!r}", hint="There are TESTEX, PEDro and MINORS.")
    items = scales[scale]["items"]
    pairs = items.items() if isinstance(items, dict) else [(item["id"], item["label"]) for item in items]
    return tuple((int(number), str(label)) for number, label in pairs)


def list_points(scale: str) -> tuple[tuple[int, str, int], ...]:
    """(number, label, most points) of a scale's items."""
    most = {"TESTEX": TESTEX_MAXIMA, "PEDro": (1,) * PEDRO_ITEMS, "MINORS": (2,) * MINORS_ITEMS}
    return tuple((n, label, most[scale][n - 1]) for n, label in list_items(scale))


def score_testex(items: Sequence[int]) -> ScaleTotal:
    """TESTEX (Smart 2015): 12 rows, 15 points."""
    _check("TESTEX", items, TESTEX_MAXIMA)
    return ScaleTotal(
        "TESTEX", sum(items), sum(TESTEX_MAXIMA), "No bands of the authors could be verified; none are given."
    )


def score_pedro(items: Sequence[int]) -> ScaleTotal:
    """PEDro: 11 items of which the first (eligibility) is not counted; 10 points."""
    _check("PEDro", items, (1,) * PEDRO_ITEMS)
    return ScaleTotal(
        "PEDro", sum(items[1:]), 10, "Item 1 is not counted. In exercise trials 8 is about the ceiling."
    )


def score_minors(items: Sequence[int]) -> ScaleTotal:
    """MINORS: 8 items (16 points) without a comparison, 12 (24 points) with one."""
    if len(items) not in (8, 12):
        raise BadInput(f"MINORS has 8 or 12 items, not {len(items)}")
    _check("MINORS", items, (2,) * len(items))
    return ScaleTotal("MINORS", sum(items), 2 * len(items), "Bands differ between papers; none are given.")


def propose_from_pedro(items: Sequence[int]) -> str:
    """What PEDro items propose of risk of bias: never better than the items 2, 3, 7 and 8 allow."""
    _check("PEDro", items, (1,) * PEDRO_ITEMS)
    if not items[1]:
        return HIGH
    return SOME if not all(items[i - 1] for i in (3, 7, 8)) else LOW


def _check(scale: str, items: Sequence[int], maxima: Sequence[int]) -> None:
    if len(items) != len(maxima):
        raise BadInput(f"{scale} has {len(maxima)} items, not {len(items)}")
    for number, (points, most) in enumerate(zip(items, maxima, strict=True), 1):
        if not 0 <= points <= most:
            raise BadInput(f"{points} points", where=f"{scale} item {number}", hint=f"It gives 0 to {most}.")
