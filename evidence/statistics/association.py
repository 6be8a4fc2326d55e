"""Correlations between two measures in one sample of people."""

import math
from dataclasses import dataclass

from evidence.errors import NumberProblem
from evidence.statistics.effect import (
    Effect,
    Metric,
    critical_value,
    derive,
    require_correlation,
    require_people,
)
from evidence.statistics.paired import correct_correlation
from evidence.statistics.t_tests import two_sided_p


@dataclass(frozen=True, slots=True)
class CorrelationTest:
    """r with its limits (through Fisher's z), t, degrees of freedom and two-sided p."""

    r: float
    z: float
    se_z: float
    low: float
    high: float
    t: float
    df: int
    p: float


def fisher_z(r: float, n: int) -> Effect:
    """atanh(r) with variance 1/(n − 3) (Fisher 1921). Needs |r| < 1 and at least 4 people."""
    _require_open(r)
    require_people(n, at_least=4)
    estimate = math.atanh(r)
    steps = (
        derive("Fisher's z", "atanh(r)", "Fisher 1921", estimate, r=r),
        derive("sampling variance", "1/(n − 3)", "Fisher 1921", 1 / (n - 3), n=n),
    )
    return Effect(Metric.FISHER_Z, estimate, 1 / (n - 3), n, None, steps)


def raw_correlation(r: float, n: int, *, unbiased: bool = False) -> Effect:
    """r itself with variance (1 − r²)²/(n − 1); `unbiased` corrects r first (Olkin & Pratt 1958).

    With `unbiased` the variance is the unbiased one of Hedges 1989, from the corrected r.
    """
    require_correlation(r)
    require_people(n, at_least=5 if unbiased else 3)
    if not unbiased:
        variance = (1 - r**2) ** 2 / (n - 1)
        step = derive("sampling variance", "(1 − r²)²/(n − 1)", "Hedges 1989", variance, r=r, n=n)
        return Effect(Metric.CORRELATION, r, variance, n, None, (step,))
    corrected = correct_correlation(r, n)
    variance = (1 - corrected**2) ** 2 / (n - 1)
    steps = (
        derive("unbiased r", "r·₂F₁(½, ½; (n−2)/2; 1−r²)", "Olkin & Pratt 1958", corrected, r=r, n=n),
        derive("sampling variance", "(1 − r²)²/(n − 1), unbiased r", "Hedges 1989", variance),
    )
    return Effect(Metric.CORRELATION, corrected, variance, n, None, steps)


def assess_correlation(r: float, n: int, level: float = 0.95) -> CorrelationTest:
    """Limits of r through Fisher's z, and the t test of r = 0 with n − 2 df."""
    effect = fisher_z(r, n)
    margin = critical_value(level) * effect.se
    t = r * math.sqrt((n - 2) / (1 - r**2))
    return CorrelationTest(
        r,
        effect.estimate,
        effect.se,
        math.tanh(effect.estimate - margin),
        math.tanh(effect.estimate + margin),
        t,
        n - 2,
        two_sided_p(t, n - 2),
    )


def correlation_from_t(t: float, df: float) -> float:
    """r = t / √(t² + df): of a correlation with n − 2 df, or point-biserial for two groups."""
    return t / math.sqrt(t**2 + df)


def _require_open(r: float) -> None:
    require_correlation(r)
    if abs(r) == 1:
        raise NumberProblem(
            f"The correlation is {r:g}; a perfect correlation has no Fisher z.",
            hint="Enter more decimals, or check whether the two measures are one and the same.",
        )
