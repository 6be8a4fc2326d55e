"""Classic t tests from printed summaries, and limits of a standardised difference by the noncentral t."""

import math
from dataclasses import dataclass

from evidence.errors import NumberProblem
from evidence.statistics.effect import Summary, critical_value
from evidence.statistics.independent import pool_sd


@dataclass(frozen=True, slots=True)
class TTest:
    """A difference with its standard error, t, df, two-sided p and limits, in the printed unit."""

    difference: float
    se: float
    df: float
    t: float
    p: float
    low: float
    high: float


def compare_equal_spreads(a: Summary, b: Summary, level: float = 0.95) -> TTest:
    """Student's two-sample t with the pooled SD."""
    return weigh_difference(
        a.mean - b.mean, pool_sd(a, b) * math.sqrt(1 / a.n + 1 / b.n), a.n + b.n - 2, level
    )


def compare_unequal_spreads(a: Summary, b: Summary, level: float = 0.95) -> TTest:
    """Welch's two-sample t with the degrees of freedom of Satterthwaite 1946."""
    part_a, part_b = a.sd**2 / a.n, b.sd**2 / b.n
    if part_a + part_b == 0:
        raise NumberProblem("Both standard deviations are 0, so no test is possible.", hint="Check the SDs.")
    df = (part_a + part_b) ** 2 / (part_a**2 / (a.n - 1) + part_b**2 / (b.n - 1))
    return weigh_difference(a.mean - b.mean, math.sqrt(part_a + part_b), df, level)


def weigh_difference(difference: float, se: float, df: float, level: float = 0.95) -> TTest:
    """The t test of a difference with a known standard error."""
    if not se > 0:
        raise NumberProblem("The standard error is 0, so no test is possible.", hint="Check the SDs.")
    t = difference / se
    margin = critical_value(level, df) * se
    return TTest(difference, se, df, t, two_sided_p(t, df), difference - margin, difference + margin)


def two_sided_p(t: float, df: float | None = None) -> float:
    """Two-sided p of t with `df`, or of z when df is None."""
    from scipy.special import ndtr, stdtr

    tail = ndtr(-abs(t)) if df is None or math.isinf(df) else stdtr(df, -abs(t))
    return float(2 * tail)


def t_from_p(p: float, df: float | None = None) -> float:
    """The absolute t (or z) that a two-sided p stands for."""
    from scipy.special import ndtri, stdtrit

    if not 0 < p <= 1:
        raise NumberProblem(
            f"A p-value lies above 0 and at most at 1, not {p:g}.",
            hint="A printed p = 0.000 means p < 0.0005: enter it as a threshold.",
        )
    low = ndtri(p / 2) if df is None or math.isinf(df) else stdtrit(df, p / 2)
    return abs(float(low))


def limit_noncentrality(t: float, df: float, level: float = 0.95) -> tuple[float, float]:
    """Limits for the noncentrality of an observed t by inversion (Steiger & Fouladi 1997)."""
    from scipy.special import nctdtr

    tail = (1 - level) / 2

    def invert(target: float) -> float:
        low, high = t - 10.0, t + 10.0
        # The noncentral t distribution function falls as its noncentrality rises.
        while nctdtr(df, low, t) < target:
            low -= 10.0
        while nctdtr(df, high, t) > target:
            high += 10.0
        for _ in range(200):
            middle = (low + high) / 2
            if nctdtr(df, middle, t) > target:
                low = middle
            else:
                high = middle
            if high - low <= 1e-13 * max(1.0, abs(middle)):
                break
        return (low + high) / 2

    return invert(1 - tail), invert(tail)
