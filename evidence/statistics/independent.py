"""Two groups of different people: A minus B (or A over B) from their means, SDs and numbers.

Every function takes two `Summary` values in one unit and returns an `Effect` whose steps hold the formula
and its source. Swapping A and B turns the sign and keeps the variance, except where one group's SD is the
yardstick. Equation numbers are from memory, except those of Lajeunesse 2015 and Senior 2020.
"""

import math
from enum import StrEnum

from evidence.errors import NumberProblem
from evidence.statistics.effect import (
    Effect,
    Metric,
    Summary,
    derive,
    hedges_factor,
    require_positive_means,
)


class Variance(StrEnum):
    """Which published sampling variance of a standardised difference is meant (m = df)."""

    LARGE_SAMPLE = "large_sample"  # 1/n terms + g²/(2N): Hedges 1982, eq. 8
    SHRUNK = "shrunk"  # J² times the variance of the uncorrected d: Borenstein 2009, eq. 4.24
    UNBIASED = "unbiased"  # 1/n terms + (1 − (m−2)/(m·J²))·g²: Hedges 1983
    UNCORRECTED = "uncorrected"  # d without small-sample correction, large-sample variance


def pool_sd(*groups: Summary) -> float:
    """The pooled SD, groups weighted by n − 1."""
    squares = sum((group.n - 1) * group.sd**2 for group in groups)
    return math.sqrt(squares / sum(group.n - 1 for group in groups))


def mean_difference(a: Summary, b: Summary, *, equal_sds: bool = False) -> Effect:
    """A − B in the printed unit; `equal_sds` uses the pooled SD in the variance."""
    if equal_sds:
        pooled = pool_sd(a, b)
        variance = pooled**2 * (1 / a.n + 1 / b.n)
        formula = "SDpooled² · (1/nA + 1/nB)"
    else:
        variance = a.sd**2 / a.n + b.sd**2 / b.n
        formula = "SDA²/nA + SDB²/nB"
    estimate = a.mean - b.mean
    return Effect(
        Metric.MEAN_DIFFERENCE,
        estimate,
        variance,
        n=a.n + b.n,
        steps=(
            derive(
                "mean difference", "meanA − meanB", "Cochrane Handbook 6.5.1.1", estimate, A=a.mean, B=b.mean
            ),
            derive("sampling variance", formula, "Cochrane Handbook 6.5.1.1", variance, **_spreads(a, b)),
        ),
    )


def standardised_mean_difference(
    a: Summary, b: Summary, *, variance: Variance = Variance.LARGE_SAMPLE
) -> Effect:
    """Hedges' g: (A − B) over the pooled SD, times the exact small-sample factor.

    `variance` picks the published sampling variance; the default is the large-sample form with g in it.
    """
    df = a.n + b.n - 2
    pooled = _require_yardstick(pool_sd(a, b))
    d = (a.mean - b.mean) / pooled
    return _standardise(d, df, 1 / a.n + 1 / b.n, a.n + b.n, variance, pooled=pooled)


def standardise_by_average_sd(
    a: Summary, b: Summary, *, shrunk: bool = False, plain_n: bool = False
) -> Effect:
    """(A − B) over √((SDA² + SDB²)/2) for unequal SDs, small-sample corrected (Bonett 2008; 2009).

    `plain_n` puts n for n − 1 in the variance; `shrunk` multiplies it by the squared small-sample factor.
    """
    factor = hedges_factor(a.n + b.n - 2)
    yardstick = _require_yardstick(math.sqrt((a.sd**2 + b.sd**2) / 2))
    estimate = factor * (a.mean - b.mean) / yardstick
    count_a, count_b = (a.n, b.n) if plain_n else (a.n - 1, b.n - 1)
    value = (
        estimate**2 * (a.sd**4 / count_a + b.sd**4 / count_b) / (8 * yardstick**4)
        + (a.sd**2 / count_a + b.sd**2 / count_b) / yardstick**2
    ) * (factor**2 if shrunk else 1)
    return Effect(
        Metric.SMD,
        estimate,
        value,
        n=a.n + b.n,
        steps=(
            derive("yardstick", "√((SDA² + SDB²)/2)", "Bonett 2008", yardstick, SDA=a.sd, SDB=b.sd),
            derive("small-sample factor", _J, _HEDGES, factor, df=a.n + b.n - 2),
            derive("standardised difference", "J · (meanA − meanB) / yardstick", "Bonett 2008", estimate),
            derive(
                "sampling variance",
                "g²(SDA⁴/νA + SDB⁴/νB)/(8s⁴) + (SDA²/νA + SDB²/νB)/s²",
                "Bonett 2009",
                value,
                **_spreads(a, b),
            ),
        ),
    )


def standardise_by_b(a: Summary, b: Summary, *, equal_sds: bool = True, plain_n: bool = False) -> Effect:
    """Glass's Δ: (A − B) over the SD of B, small-sample corrected with nB − 1 df (Glass 1976).

    With `equal_sds` False the variance allows for different SDs (Bonett 2008), `plain_n` using n for n − 1.
    """
    factor = hedges_factor(b.n - 1)
    yardstick = _require_yardstick(b.sd)
    estimate = factor * (a.mean - b.mean) / yardstick
    if equal_sds:
        value = 1 / a.n + 1 / b.n + estimate**2 / (2 * b.n)
        formula = "1/nA + 1/nB + g²/(2nB)"
    else:
        count_a, count_b = (a.n, b.n) if plain_n else (a.n - 1, b.n - 1)
        value = (a.sd / b.sd) ** 2 / count_a + 1 / count_b + estimate**2 / (2 * count_b)
        formula = "(SDA²/SDB²)/νA + 1/νB + g²/(2νB)"
    return Effect(
        Metric.SMD,
        estimate,
        value,
        n=a.n + b.n,
        steps=(
            derive("small-sample factor", _J, _HEDGES, factor, df=b.n - 1),
            derive("standardised difference", "J · (meanA − meanB) / SDB", "Glass 1976", estimate, SDB=b.sd),
            derive("sampling variance", formula, "Bonett 2008", value, **_spreads(a, b)),
        ),
    )


def log_ratio_of_means(
    a: Summary,
    b: Summary,
    *,
    equal_sds: bool = False,
    bias_corrected: bool = False,
    second_order: bool = False,
) -> Effect:
    """ln(meanA / meanB) with the delta-method variance (Hedges, Gurevitch & Curtis 1999, eq. 1).

    `bias_corrected` adds half the difference of the squared CVs over n, `second_order` the second-order
    variance terms (Lajeunesse 2015, eq. 8 and 9). Raises NumberProblem when a mean is not above 0.
    """
    require_positive_means(a, b)
    spread_a, spread_b = a.squared_cv_over_n, b.squared_cv_over_n
    if equal_sds:
        pooled = pool_sd(a, b)
        spread_a, spread_b = pooled**2 / (a.n * a.mean**2), pooled**2 / (b.n * b.mean**2)
    estimate = math.log(a.mean / b.mean)
    steps = [
        derive("log ratio of means", "ln(meanA / meanB)", _HGC, estimate, A=a.mean, B=b.mean),
    ]
    if bias_corrected:
        estimate += (spread_a - spread_b) / 2
        steps.append(derive("bias correction", "+ (CVA²/nA − CVB²/nB)/2", "Lajeunesse 2015, eq. 8", estimate))
    value = spread_a + spread_b
    steps.append(
        derive("sampling variance", "SDA²/(nA·meanA²) + SDB²/(nB·meanB²)", _HGC, value, **_spreads(a, b))
    )
    if second_order:
        value += (spread_a**2 + spread_b**2) / 2
        steps.append(
            derive("second-order variance", "+ (CVA⁴/nA² + CVB⁴/nB²)/2", "Lajeunesse 2015, eq. 9", value)
        )
    return Effect(Metric.LOG_RATIO_OF_MEANS, estimate, value, n=a.n + b.n, steps=tuple(steps))


def log_variability_ratio(a: Summary, b: Summary, *, second_order: bool = False) -> Effect:
    """ln(SDA / SDB), small-sample corrected (Nakagawa 2015)."""
    estimate, value = _compare_spreads(a, b, second_order)
    step = derive(
        "log variability ratio",
        "ln(SDA/SDB) + 1/(2(nA−1)) − 1/(2(nB−1))",
        "Nakagawa 2015",
        estimate,
        **_spreads(a, b),
    )
    return Effect(Metric.LOG_VARIABILITY_RATIO, estimate, value, n=a.n + b.n, steps=(step,))


def log_cv_ratio(a: Summary, b: Summary, *, second_order: bool = False, correct_means: bool = True) -> Effect:
    """ln of the ratio of coefficients of variation, small-sample corrected (Senior 2020, eq. 6).

    `correct_means` False leaves out the correction of the means, as older papers do (Nakagawa 2015).
    """
    require_positive_means(a, b)
    estimate, value = _compare_spreads(a, b, second_order)
    spread_a, spread_b = a.squared_cv_over_n, b.squared_cv_over_n
    estimate -= math.log(a.mean / b.mean)
    if correct_means:
        estimate += (spread_b - spread_a) / 2
    value += spread_a + spread_b
    if second_order:
        value += (spread_a**2 + spread_b**2) / 2
    step = derive(
        "log ratio of CVs",
        "ln(CVA/CVB) + small-sample terms",
        "Senior 2020, eq. 6",
        estimate,
        meanA=a.mean,
        meanB=b.mean,
        **_spreads(a, b),
    )
    return Effect(Metric.LOG_CV_RATIO, estimate, value, n=a.n + b.n, steps=(step,))


_J = "Γ(m/2) / (√(m/2)·Γ((m−1)/2)), m = df"
_HEDGES = "Hedges 1981, eq. 6e"
_HGC = "Hedges, Gurevitch & Curtis 1999, eq. 1"


def _standardise(d: float, df: float, base: float, total: int, form: Variance, *, pooled: float) -> Effect:
    factor = 1.0 if form is Variance.UNCORRECTED else hedges_factor(df)
    g = factor * d
    value, formula, source = vary_standardised(d, factor, df, base, total, form)
    return Effect(
        Metric.SMD,
        g,
        value,
        n=total,
        steps=(
            derive("pooled SD", "√(Σ(n−1)SD² / Σ(n−1))", "Cochrane Handbook 6.5.1.2", pooled),
            derive("Cohen's d", "(meanA − meanB) / SDpooled", "Cohen 1988", d),
            derive("small-sample factor", _J, _HEDGES, factor, df=df),
            derive("Hedges' g", "J · d", _HEDGES, g),
            derive("sampling variance", formula.replace("base", "1/nA + 1/nB"), source, value),
        ),
    )


def vary_standardised(
    d: float, factor: float, df: float, base: float, total: float, form: Variance
) -> tuple[float, str, str]:
    """Sampling variance of g = factor · d, its formula and source; `base` is the part free of the effect."""
    g = factor * d
    if form is Variance.SHRUNK:
        return (
            factor**2 * (base + d**2 / (2 * total)),
            "J² · (base + d²/(2N))",
            "Borenstein 2009, eq. 4.20, 4.24",
        )
    if form is Variance.UNBIASED:
        return (
            base + (1 - (df - 2) / (df * factor**2)) * g**2,
            "base + (1 − (m−2)/(m·J²))·g²",
            "Hedges 1983",
        )
    return base + g**2 / (2 * total), "base + g²/(2N)", "Hedges 1982, eq. 8"


def _compare_spreads(a: Summary, b: Summary, second_order: bool) -> tuple[float, float]:
    for group in (a, b):
        _require_yardstick(group.sd)
    estimate = math.log(a.sd / b.sd) + 1 / (2 * (a.n - 1)) - 1 / (2 * (b.n - 1))
    if second_order:
        return estimate, (a.n / (a.n - 1) ** 2 + b.n / (b.n - 1) ** 2) / 2
    return estimate, 1 / (2 * (a.n - 1)) + 1 / (2 * (b.n - 1))


def _require_yardstick(sd: float) -> float:
    if sd <= 0:
        raise NumberProblem(
            "The standard deviation is 0, so nothing can be measured in units of it.",
            hint="Use the mean difference in the printed unit, or check the printed SD.",
        )
    return sd


def _spreads(a: Summary, b: Summary) -> dict[str, float | str]:
    return {"SDA": a.sd, "nA": a.n, "SDB": b.sd, "nB": b.n}
