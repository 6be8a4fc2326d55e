"""From one scale of effect to another: d, r, odds ratio, risk ratio, and shares of people."""

import math

from evidence.errors import NumberProblem
from evidence.statistics.effect import Effect, Metric, derive, require_correlation

LOGISTIC = math.pi / math.sqrt(3)  # SD of the standard logistic distribution (Hasselblad & Hedges 1995)
COX = 1.65  # normal-based factor (Cox 1970, from memory)


def correlation_from_d(d: float) -> float:
    """r = d/√(d² + 4) for groups of equal size."""
    return d / math.sqrt(d**2 + 4)


def d_from_correlation(r: float) -> float:
    """d = 2r/√(1 − r²) for groups of equal size."""
    require_correlation(r)
    if abs(r) == 1:
        raise NumberProblem("A perfect correlation has no finite d.", hint="Enter more decimals.")
    return 2 * r / math.sqrt(1 - r**2)


def point_biserial(effect: Effect, n_a: int, n_b: int) -> Effect:
    """The correlation with group membership behind an uncorrected d: r = d/√(d² + h), h = m/nA + m/nB."""
    h = (n_a + n_b - 2) * (1 / n_a + 1 / n_b)
    d = effect.estimate
    value = d / math.sqrt(d**2 + h)
    variance = h**2 * effect.variance / (d**2 + h) ** 3
    step = derive(
        "point-biserial r", "d/√(d² + h)", "Jacobs & Viechtbauer 2017, delta method", value, d=d, h=h
    )
    return Effect(
        Metric.CORRELATION, value, variance, effect.n, None, (*effect.steps, step), effect.assumptions
    )


def log_odds_ratio_from_smd(effect: Effect, *, factor: float = LOGISTIC) -> Effect:
    """ln OR = factor·d, factor π/√3 for logistic or 1.65 for normal data."""
    value = factor * effect.estimate
    step = derive("log odds ratio", "factor·d", "Hasselblad & Hedges 1995", value, factor=factor)
    return Effect(
        Metric.LOG_ODDS_RATIO,
        value,
        factor**2 * effect.variance,
        effect.n,
        None,
        (*effect.steps, step),
        effect.assumptions,
    )


def log_odds_ratio_from_d(d: float) -> float:
    """d·π/√3 (Hasselblad & Hedges 1995)."""
    return d * LOGISTIC


def d_from_odds_ratio(odds_ratio: float) -> float:
    """ln(OR)·√3/π."""
    if odds_ratio <= 0:
        raise NumberProblem(f"An odds ratio of {odds_ratio:g} has no logarithm.", hint="It must be above 0.")
    return math.log(odds_ratio) / LOGISTIC


def risk_ratio_from_odds_ratio(odds_ratio: float, baseline: float) -> float:
    """RR = OR/(1 − p0 + p0·OR) with p0 the risk in group B (Zhang & Yu 1998)."""
    _require_risk(baseline)
    return odds_ratio / (1 - baseline + baseline * odds_ratio)


def number_needed(odds_ratio: float, baseline: float) -> float | None:
    """People per one event more or fewer, 1/|p1 − p0|; None where the risks are equal."""
    _require_risk(baseline)
    difference = baseline * risk_ratio_from_odds_ratio(odds_ratio, baseline) - baseline
    return None if difference == 0 else 1 / abs(difference)


def probability_of_superiority(d: float) -> float:
    """Chance that a random person of A lies above a random one of B, Φ(d/√2) (McGraw & Wong 1992)."""
    return _normal(d / math.sqrt(2))


def share_above_mean(d: float) -> float:
    """Share of A above the mean of B, Φ(d) (Cohen's U3)."""
    return _normal(d)


def overlap(d: float) -> float:
    """Overlap of the two normal distributions, 2Φ(−|d|/2)."""
    return 2 * _normal(-abs(d) / 2)


def eta_squared(f: float, df1: float, df2: float) -> float:
    """Partial η² = F·df1/(F·df1 + df2)."""
    return f * df1 / (f * df1 + df2)


def epsilon_squared(f: float, df1: float, df2: float) -> float:
    """Partial ε² = (F − 1)·df1/(F·df1 + df2), not below 0 (Kelley 1935)."""
    return max(0.0, (f - 1) * df1 / (f * df1 + df2))


def omega_squared(f: float, df1: float, df2: float) -> float:
    """Partial ω² = (F − 1)·df1/(F·df1 + df2 + 1), not below 0 (Hays 1963; one sample of df1 + df2 + 1)."""
    return max(0.0, (f - 1) * df1 / (f * df1 + df2 + 1))


def _normal(z: float) -> float:
    from scipy.special import ndtr

    return float(ndtr(z))


def _require_risk(baseline: float) -> None:
    if not 0 < baseline < 1:
        raise NumberProblem(
            f"The risk in group B is {baseline:g}; it must lie between 0 and 1.", hint="Write 0.2 for 20 %."
        )
