"""Effects from what a paper prints about a comparison: an estimate with SE, interval or p, or only t, F or p.

A paired test is never run through the formula for independent groups: the two have different functions. F
and a two-sided p carry no direction, so `a_higher` must say it. "p < 0.05" gives a `Bound`, never an effect.
"""

import math
from dataclasses import dataclass

from evidence.errors import NumberProblem
from evidence.statistics import correlations
from evidence.statistics.correlations import Correlation
from evidence.statistics.effect import (
    LOG_RATIOS,
    Assumption,
    Effect,
    Metric,
    Step,
    critical_value,
    derive,
    hedges_factor,
    require_finite,
    require_people,
)
from evidence.statistics.t_tests import t_from_p

_HANDBOOK = "Cochrane Handbook 6.3.1"
_FROM_P = "Cochrane Handbook 6.5.2.3"


@dataclass(frozen=True, slots=True)
class Bound:
    """What a p-threshold says: the standardised difference is at least (or at most) this far from 0."""

    metric: Metric
    magnitude: float
    at_least: bool
    a_higher: bool | None
    text: str
    steps: tuple[Step, ...]


def effect_from_se(metric: Metric, estimate: float, se: float, n: int | None = None) -> Effect:
    """An estimate printed with its standard error, both on the scale of `metric` (logarithms for ratios)."""
    step = derive("sampling variance", "SE²", _HANDBOOK, se**2, SE=se)
    return Effect(metric, estimate, se**2, n, None, (step,))


def effect_from_interval(
    metric: Metric,
    estimate: float,
    low: float,
    high: float,
    *,
    level: float = 0.95,
    df: float | None = None,
    n: int | None = None,
) -> Effect:
    """An estimate printed with its confidence interval; for ratio metrics all three as printed ratios, not
    logs.

    `df` when the interval was built with t. An estimate off the centre of its interval (bootstrap, a
    misprint) is kept, and the lack of symmetry travels with it.
    """
    require_finite(estimate=estimate, lower_limit=low, upper_limit=high)
    if low > high:
        raise NumberProblem(
            f"The lower limit {low:g} is above the upper limit {high:g}.",
            hint="A minus sign may have been lost when the table was copied.",
        )
    if metric in LOG_RATIOS:
        estimate, low, high = (_log(value) for value in (estimate, low, high))
    se = (high - low) / (2 * critical_value(level, df))
    step = derive("SE from interval", "(high − low)/(2q)", _HANDBOOK, se, low=low, high=high, level=level)
    off = abs(estimate - (low + high) / 2)
    lopsided = off > 0.05 * (high - low)
    text = (
        "The estimate is not in the middle of its interval; the SE comes from the width. If the interval is "
        "a bootstrap one this is an approximation, otherwise check the figures."
    )
    said = (Assumption("asymmetric_interval", text, off),) if lopsided else ()
    return Effect(metric, estimate, se**2, n, None, (step,), said)


def effect_from_p(
    metric: Metric, estimate: float, p: float, *, df: float | None = None, n: int | None = None
) -> Effect:
    """An estimate with an exact two-sided p: SE = |estimate|/t, z when df is None; ratios as printed."""
    require_finite(estimate=estimate, p=p)
    value = _log(estimate) if metric in LOG_RATIOS else estimate
    t = t_from_p(p, df)
    if value == 0 or t == 0:
        raise NumberProblem(
            "A difference of 0, or p = 1, says nothing about the uncertainty.",
            hint="Use the printed SDs or the interval instead.",
        )
    se = abs(value) / t
    steps = (
        derive("t or z from p", "quantile at 1 − p/2", _FROM_P, t, p=p),
        derive("SE", "|estimate|/t", _FROM_P, se, estimate=value),
    )
    return Effect(metric, value, se**2, n, None, steps)


def mean_difference_from_t(difference: float, t: float, n_a: int, n_b: int) -> Effect:
    """A mean difference of two groups of different people printed with Student's t: SE = difference/t."""
    _require_groups(n_a, n_b)
    if t == 0 or difference == 0:
        raise NumberProblem(
            "A t or difference of 0 says nothing about the uncertainty.", hint="Use the printed SDs instead."
        )
    se = abs(difference / t)
    step = derive("SE", "|difference/t|", _FROM_P, se, difference=difference, t=t)
    return Effect(Metric.MEAN_DIFFERENCE, difference, se**2, n_a + n_b, None, (step,))


def pooled_sd_from_se(se: float, n_a: int, n_b: int) -> float:
    """SDpooled = SE/√(1/nA + 1/nB), the yardstick behind a mean difference (Cochrane Handbook 6.5.2.3)."""
    return se / math.sqrt(1 / n_a + 1 / n_b)


def smd_from_t(t: float, n_a: int, n_b: int, *, corrected: bool = True) -> Effect:
    """Hedges' g from Student's t of two groups of different people: d = t·√(1/nA + 1/nB)."""
    require_finite(t=t)
    _require_groups(n_a, n_b)
    base, total = 1 / n_a + 1 / n_b, n_a + n_b
    factor = hedges_factor(total - 2) if corrected else 1.0
    g = factor * t * math.sqrt(base)
    variance = base + g**2 / (2 * total)
    steps = (
        derive("Cohen's d", "t·√(1/nA + 1/nB)", "Rosenthal 1994", t * math.sqrt(base), t=t, nA=n_a, nB=n_b),
        derive("Hedges' g", "J·d", "Hedges 1981, eq. 6e", g, J=factor),
        derive("sampling variance", "1/nA + 1/nB + g²/(2N)", "Hedges 1982, eq. 8", variance),
    )
    return Effect(Metric.SMD, g, variance, total, None, steps)


def smd_from_f(f: float, n_a: int, n_b: int, *, a_higher: bool) -> Effect:
    """Hedges' g from F(1, df) of two groups of different people: |t| = √F."""
    return smd_from_t(_sign(a_higher) * _root_f(f), n_a, n_b)


def smd_from_p(p: float, n_a: int, n_b: int, *, a_higher: bool) -> Effect:
    """Hedges' g from the exact two-sided p of a two-sample t test."""
    _require_groups(n_a, n_b)
    return smd_from_t(_sign(a_higher) * t_from_p(p, n_a + n_b - 2), n_a, n_b)


def smd_from_paired_t(
    t: float, n: int, r: Correlation | float | None = None, *, corrected: bool = True
) -> Effect:
    """A standardised difference from a paired t.

    Without `r` the yardstick is the SD of the differences (dz = t/√n, not t/√df), which is not comparable
    with other designs. With `r` it is put on the raw-score scale, times √(2(1−r)), taking both SDs as equal.
    """
    require_finite(t=t)
    require_people(n, at_least=3)
    factor = hedges_factor(n - 1) if corrected else 1.0
    dz = factor * t / math.sqrt(n)
    variance = 1 / n + dz**2 / (2 * n)
    steps = [
        derive("dz", "J·t/√n", "Gibbons 1993", dz, t=t, n=n, J=factor),
        derive("sampling variance", "1/n + dz²/(2n)", "Gibbons 1993", variance, n=n),
    ]
    if r is None:
        return Effect(Metric.SMD_CHANGE, dz, variance, n, None, tuple(steps))
    link = correlations.as_correlation(r)
    scale = 2 * (1 - link.value)
    if scale <= 0:
        raise NumberProblem("With r = 1 the differences have no spread.", hint="Check the correlation.")
    estimate = dz * math.sqrt(scale)
    steps.append(
        derive("raw-score scale", "dz·√(2(1−r))", "Morris & DeShon 2002, eq. 12", estimate, r=link.value)
    )
    equal = Assumption(
        "equal_sds", "Both conditions were taken to have the same SD.", source="Morris & DeShon 2002"
    )
    return Effect(Metric.SMD, estimate, scale * variance, n, None, tuple(steps), (*link.assumptions(), equal))


def smd_from_paired_f(f: float, n: int, r: Correlation | float | None = None, *, a_higher: bool) -> Effect:
    """As `smd_from_paired_t` from F(1, n − 1)."""
    return smd_from_paired_t(_sign(a_higher) * _root_f(f), n, r)


def smd_from_paired_p(p: float, n: int, r: Correlation | float | None = None, *, a_higher: bool) -> Effect:
    """As `smd_from_paired_t` from the exact two-sided p."""
    require_people(n, at_least=3)
    return smd_from_paired_t(_sign(a_higher) * t_from_p(p, n - 1), n, r)


def bound_from_threshold(
    p: float, n_a: int, n_b: int | None = None, *, below: bool = True, a_higher: bool | None = None
) -> Bound:
    """What "p < 0.05" (or "p > 0.05", `below` False) says about |d|; one group size means a paired test.

    It is a bound and not a value: an effect of any size beyond it would have been printed the same way.
    """
    df = n_a - 1 if n_b is None else n_a + n_b - 2
    require_people(df, at_least=1, name="the degrees of freedom")
    t = t_from_p(p, df)
    scale = 1 / n_a if n_b is None else 1 / n_a + 1 / n_b
    magnitude = t * math.sqrt(scale)
    side = "at least" if below else "at most"
    sign = "<" if below else ">"
    text = f"p {sign} {p:g} only says that the standardised difference is {side} {magnitude:.2f} from 0."
    steps = (
        derive("t at the threshold", "quantile at 1 − p/2", _FROM_P, t, p=p, df=df),
        derive("bound", "t·√(1/n)" if n_b is None else "t·√(1/nA + 1/nB)", "Rosenthal 1994", magnitude),
    )
    metric = Metric.SMD_CHANGE if n_b is None else Metric.SMD
    return Bound(metric, magnitude, below, a_higher, text, steps)


def _sign(a_higher: bool) -> int:
    return 1 if a_higher else -1


def _root_f(f: float) -> float:
    require_finite(F=f)
    if f < 0:
        raise NumberProblem(f"F is {f:g}; it cannot be negative.", hint="It may be a t value.")
    return math.sqrt(f)


def _log(value: float) -> float:
    if value <= 0:
        raise NumberProblem(
            f"A ratio of {value:g} has no logarithm.",
            hint="Enter ratios as printed (1 = no difference), or use a difference metric.",
        )
    return math.log(value)


def _require_groups(n_a: int, n_b: int) -> None:
    require_people(n_a, at_least=2, name="n of A")
    require_people(n_b, at_least=2, name="n of B")
