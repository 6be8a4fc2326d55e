"""A printed t against the printed means, SDs and n: could they have given it, with every rounding allowed?"""

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Literal

from evidence.statistics.effect import Summary, derive, require_people
from evidence.statistics.integrity import Finding, Printed, Severity, read_printed, read_spread, tell
from evidence.statistics.t_tests import compare_equal_spreads, compare_unequal_spreads

Figure = str | float | Printed
Side = tuple[Figure, Figure, int]  # mean, spread, n
Span = tuple[float, float]
REASONS = "A paired or adjusted analysis would explain it."
PAIRED_REASONS = "A test of different people, or an adjusted one, would explain it."


def check_summary_t(a: Side, b: Side, t: Figure, *, se: bool = False) -> Finding | None:
    """C2: whether a printed t can come from two groups of different people, (mean, spread, n) each.

    Student's t and Welch's are both allowed (INSPECT-SR, check 4.9), and either sign. `se`: the printed spreads are
    standard errors. Raises BadInput for a figure that is no number, NumberProblem for fewer than 2 people.
    """
    return _check((a, b), t, _span_groups, ("Student's or Welch's t", "", REASONS), se)


def check_paired_t(a: Side, b: Side, t: Figure, *, se: bool = False) -> Finding | None:
    """C2: whether a printed paired t can come from two conditions of the same people at any correlation from −1 to 1.

    t = |meanA − meanB|·√n/SDdiff, and SDdiff lies between |SDA − SDB| and SDA + SDB (Cochrane Handbook 6.5.2.8 with
    r = 1 and r = −1). `se`: the printed spreads are standard errors. Raises BadInput for a figure that is no number.
    """
    words = (
        "|meanA − meanB|·√n/SDdiff, r from −1 to 1",
        " and any correlation within people",
        PAIRED_REASONS,
    )
    return _check((a, b), t, _span_pairs, words, se)


def read_root(f: Figure) -> Printed:
    """The t that an F with 1 degree of freedom above stands for, with the rounding of the F: t² = F(1, df)."""
    printed = read_printed(f)
    low, high = (math.sqrt(max(0.0, float(end))) for end in (printed.low, printed.high))
    middle, half = (read_printed((high + low) / 2), read_printed((high - low) / 2))
    return Printed(f"√{printed.text}", middle.value, half.value)


def grow_se(spread: Figure, n: int) -> Printed:
    """The SD that a printed spread stands for if it is a standard error: SE·√n, with its rounding."""
    printed, root = read_spread(spread), read_printed(math.sqrt(n)).value
    return Printed(f"{printed.text}·√{n}", printed.value * root, printed.half_unit * root)


def _check(
    sides: tuple[Side, Side],
    t: Figure,
    span: Callable[[Side, Side], Span],
    words: tuple[str, str, str],
    se: bool,
) -> Finding | None:
    for side in sides:
        require_people(side[2], at_least=2)
    grown = tuple((mean, grow_se(spread, n), n) for mean, spread, n in sides)
    (read, otherwise) = (grown, sides) if se else (sides, grown)
    printed, (low, high) = read_printed(t), span(*read)
    if _fits(printed, (low, high)):
        return None
    formula, allowed, reasons = words
    step = derive("t from means and SDs", formula, "INSPECT-SR, check 4.9", low, highest=high)
    if _fits(printed, span(*otherwise)):
        kinds = ("SDs", "standard errors") if se else ("standard errors", "SDs")
        reasons = f"It would fit if the spreads were {kinds[0]}, not {kinds[1]}."
    text = (
        f"the printed means, spreads and n give t between {low:.3g} and {high:.3g} with all rounding{allowed} "
        f"allowed; printed is t = {printed.text}. {reasons}"
    )
    shown = {name: f"{side[0]} ± {side[1]}, n = {side[2]}" for name, side in zip("AB", sides, strict=True)}
    return tell("C2", Severity.WARNING, text, step, t=printed.text, **shown)


def _fits(t: Printed, span: Span) -> bool:
    size = abs(t.value)
    return float(size + t.half_unit) >= span[0] and float(size - t.half_unit) <= span[1]


def _span_groups(a: Side, b: Side) -> Span:
    """The least and the largest t of two groups over the rounding of their figures."""
    near, far = _gaps(a, b)
    ends = []
    for gap, spreads in ((near, _spreads(a, b, "high")), (far, _spreads(a, b, "low"))):
        if max(spreads) == 0:
            ends += [math.inf if gap > 0 else 0.0]
            continue
        sides = [
            Summary(mean, sd, side[2]) for mean, sd, side in zip((gap, 0.0), spreads, (a, b), strict=True)
        ]
        ends += [
            compare(sides[0], sides[1]).t for compare in (compare_equal_spreads, compare_unequal_spreads)
        ]
    return min(ends), max(ends)


def _span_pairs(a: Side, b: Side) -> Span:
    """The least and the largest paired t over every correlation and the rounding of the figures."""
    near, far = _gaps(a, b)
    root = math.sqrt(min(a[2], b[2]))
    (low_a, low_b), (high_a, high_b) = _spreads(a, b, "low"), _spreads(a, b, "high")
    closest = max(0.0, low_a - high_b, low_b - high_a)  # 0 where the two SDs may be the same
    largest = far * root / closest if closest > 0 else math.inf
    return near * root / (high_a + high_b) if near > 0 else 0.0, largest


def _gaps(a: Side, b: Side) -> Span:
    one, other = read_printed(a[0]), read_printed(b[0])
    gap, slack = abs(one.value - other.value), one.half_unit + other.half_unit
    return float(max(gap - slack, Fraction(0))), float(gap + slack)


def _spreads(a: Side, b: Side, end: Literal["low", "high"]) -> tuple[float, float]:
    one, other = (read_spread(side[1]) for side in (a, b))
    if end == "low":
        return max(0.0, float(one.low)), max(0.0, float(other.low))
    return float(one.high), float(other.high)
