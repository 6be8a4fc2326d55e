"""The same people under two conditions, or before and after: A minus B (post minus pre), with r.

`r` is a number (printed) or a `Correlation` (then what was assumed travels with the effect). Both
summaries must come from the same people, so their n must agree. Equation numbers are from memory, except
Senior 2020, eq. 19.
"""

import math

from evidence.errors import NumberProblem
from evidence.statistics.correlations import Correlation, as_correlation
from evidence.statistics.effect import (
    Assumption,
    Effect,
    Metric,
    Step,
    Summary,
    derive,
    hedges_factor,
    require_correlation,
    require_finite,
    require_people,
    require_positive_means,
)
from evidence.statistics.independent import Variance, vary_standardised

_HANDBOOK = "Cochrane Handbook 6.5.2.8"
_HEDGES = "Hedges 1981, eq. 6e"
_J = "Γ(m/2) / (√(m/2)·Γ((m−1)/2)), m = df"
Linked = Correlation | float


def difference_sd(a: Summary, b: Summary, r: Linked) -> float:
    """SD of the individual differences: √(SDA² + SDB² − 2·r·SDA·SDB), in the printed unit."""
    value = as_correlation(r).value
    return math.sqrt(max(0.0, a.sd**2 + b.sd**2 - 2 * value * a.sd * b.sd))


def mean_difference(a: Summary, b: Summary, r: Linked) -> Effect:
    """A − B in the printed unit."""
    _require_same_people(a, b)
    sd = difference_sd(a, b, r)
    estimate, variance = a.mean - b.mean, sd**2 / a.n
    steps = (
        _explain_difference_sd(a, b, r, sd),
        derive("mean difference", "meanA − meanB", _HANDBOOK, estimate, A=a.mean, B=b.mean),
        derive("sampling variance", "SDdiff² / n", _HANDBOOK, variance, n=a.n),
    )
    return Effect(Metric.MEAN_DIFFERENCE, estimate, variance, a.n, None, steps, _assume(r))


def log_ratio_of_means(
    a: Summary, b: Summary, r: Linked, *, bias_corrected: bool = False, second_order: bool = False
) -> Effect:
    """ln(meanA / meanB) for the same people (Lajeunesse 2011, eq. 6: the covariance enters through r).

    `bias_corrected` adds half the difference of the squared CVs over n; `second_order` the second-order
    variance (Senior 2020, eq. 19). Raises NumberProblem when a mean is not above 0.
    """
    _require_same_people(a, b)
    require_positive_means(a, b)
    value = as_correlation(r).value
    spread_a, spread_b = a.squared_cv_over_n, b.squared_cv_over_n
    shared = value * a.sd * b.sd / (a.n * a.mean * b.mean)
    estimate = math.log(a.mean / b.mean)
    variance = spread_a + spread_b - 2 * shared
    steps = [
        derive(
            "log ratio of means",
            "ln(meanA / meanB)",
            "Hedges, Gurevitch & Curtis 1999",
            estimate,
            A=a.mean,
            B=b.mean,
        ),
        derive(
            "sampling variance",
            "SDA²/(n·meanA²) + SDB²/(n·meanB²) − 2·r·SDA·SDB/(n·meanA·meanB)",
            "Lajeunesse 2011, eq. 6",
            variance,
            SDA=a.sd,
            SDB=b.sd,
            n=a.n,
            r=value,
        ),
    ]
    if bias_corrected:
        estimate += (spread_a - spread_b) / 2
        steps.append(derive("bias correction", "+ (CVA²/n − CVB²/n)/2", "Senior 2020", estimate))
    if second_order:
        linked = (value * a.sd * b.sd / a.n) ** 2 * (a.mean**-4 + b.mean**-4)
        variance += (spread_a**2 + spread_b**2 + linked) / 2
        formula = "+ (SDA⁴/meanA⁴ + SDB⁴/meanB⁴ + r²SDA²SDB²(meanA⁻⁴ + meanB⁻⁴))/(2n²)"
        steps.append(derive("second-order variance", formula, "Senior 2020, eq. 19", variance))
    return Effect(Metric.LOG_RATIO_OF_MEANS, estimate, variance, a.n, None, tuple(steps), _assume(r))


def standardised_mean_difference(
    a: Summary, b: Summary, r: Linked, *, equal_sds: bool = True, metric: Metric = Metric.SMD
) -> Effect:
    """(A − B) over √((SDA² + SDB²)/2), raw-score units, small-sample corrected: the same whichever side is A.

    Correction and variance allow for r: df 2(n−1)/(1+r²) (Cousineau 2020); with `equal_sds` False the
    variance of Bonett 2008 for unequal SDs.
    """
    _require_same_people(a, b)
    value = as_correlation(r).value
    yardstick = _require_spread(math.sqrt((a.sd**2 + b.sd**2) / 2))
    df = 2 * (a.n - 1) / (1 + value**2)
    factor = hedges_factor(df)
    estimate = factor * (a.mean - b.mean) / yardstick
    if equal_sds:
        variance = 2 * (1 - value) / a.n + estimate**2 * (1 + value**2) / (4 * a.n)
        formula, source = "2(1−r)/n + g²(1+r²)/(4n)", "Cousineau 2020"
    else:
        quartic = a.sd**4 + b.sd**4 + 2 * value**2 * a.sd**2 * b.sd**2
        variance = difference_sd(a, b, r) ** 2 / (yardstick**2 * (a.n - 1)) + estimate**2 * quartic / (
            8 * yardstick**4 * (a.n - 1)
        )
        formula = "SDdiff²/(s²(n−1)) + g²(SDA⁴ + SDB⁴ + 2r²SDA²SDB²)/(8s⁴(n−1))"
        source = "Bonett 2008"
    steps = (
        derive("yardstick", "√((SDA² + SDB²)/2)", "Bonett 2008", yardstick, SDA=a.sd, SDB=b.sd),
        derive("small-sample factor", _J, _HEDGES, factor, df=df),
        derive("standardised difference", "J·(meanA − meanB)/s", source, estimate, A=a.mean, B=b.mean),
        derive("sampling variance", formula, source, variance, n=a.n, r=value),
    )
    return Effect(metric, estimate, variance, a.n, None, steps, _assume(r))


def standardise_by_b(
    a: Summary,
    b: Summary,
    r: Linked,
    *,
    variance: Variance = Variance.LARGE_SAMPLE,
    metric: Metric = Metric.SMD_CHANGE,
) -> Effect:
    """(A − B) over the SD of B, raw-score units, small-sample corrected with n − 1 df (Becker 1988).

    With A after and B before this is the standardised mean change. To use the SD of A, swap twice: −f(B, A).
    """
    _require_same_people(a, b)
    value = as_correlation(r).value
    d = (a.mean - b.mean) / _require_spread(b.sd)
    factor = 1.0 if variance is Variance.UNCORRECTED else hedges_factor(a.n - 1)
    base = 2 * (1 - value) / a.n
    if variance is Variance.UNBIASED:
        base = 2 * (1 - correct_correlation(value, a.n)) / a.n
    spread, formula, source = vary_standardised(d, factor, a.n - 1, base, a.n, variance)
    return _as_change(
        metric, a, b, r, factor, factor * d, spread, formula.replace("base", "2(1−r)/n"), source
    )


def standardise_by_b_unequal(
    a: Summary,
    b: Summary,
    r: Linked,
    *,
    plain_n: bool = False,
    shrunk: bool = False,
    metric: Metric = Metric.SMD_CHANGE,
) -> Effect:
    """As `standardise_by_b`, with a variance that allows for different SDs (Bonett 2008)."""
    _require_same_people(a, b)
    factor = hedges_factor(a.n - 1)
    estimate = factor * (a.mean - b.mean) / _require_spread(b.sd)
    count = a.n if plain_n else a.n - 1
    spread = difference_sd(a, b, r) ** 2 / (b.sd**2 * count) + estimate**2 / (2 * count)
    if shrunk:
        spread *= factor**2
    formula = "SDdiff²/(SDB²·ν) + g²/(2ν)"
    return _as_change(metric, a, b, r, factor, estimate, spread, formula, "Bonett 2008")


def standardise_by_difference_sd(
    a: Summary,
    b: Summary,
    r: Linked,
    *,
    variance: Variance = Variance.LARGE_SAMPLE,
    metric: Metric = Metric.SMD_CHANGE,
) -> Effect:
    """(A − B) over the SD of the differences (Gibbons 1993): not on the scale of other comparisons."""
    _require_same_people(a, b)
    sd = _require_spread(difference_sd(a, b, r))
    d = (a.mean - b.mean) / sd
    factor = 1.0 if variance is Variance.UNCORRECTED else hedges_factor(a.n - 1)
    spread, formula, source = vary_standardised(d, factor, a.n - 1, 1 / a.n, a.n, variance)
    steps = (
        _explain_difference_sd(a, b, r, sd),
        derive("small-sample factor", _J, _HEDGES, factor, df=a.n - 1),
        derive("standardised difference", "J·(meanA − meanB)/SDdiff", "Gibbons 1993", factor * d),
        derive("sampling variance", formula.replace("base", "1/n"), source, spread, n=a.n),
    )
    return Effect(metric, factor * d, spread, a.n, None, steps, _assume(r))


def log_variability_ratio(a: Summary, b: Summary, r: Linked) -> Effect:
    """ln(SDA / SDB) for the same people; variance (1 − r²)/(n − 1) (Senior 2020)."""
    _require_same_people(a, b)
    value = as_correlation(r).value
    estimate = math.log(_require_spread(a.sd) / _require_spread(b.sd))
    variance = (1 - value**2) / (a.n - 1)
    step = derive(
        "log variability ratio", "ln(SDA/SDB)", "Senior 2020", estimate, SDA=a.sd, SDB=b.sd, r=value
    )
    return Effect(Metric.LOG_VARIABILITY_RATIO, estimate, variance, a.n, None, (step,), _assume(r))


def log_cv_ratio(a: Summary, b: Summary, r: Linked) -> Effect:
    """ln of the ratio of coefficients of variation for the same people (Senior 2020)."""
    ratio, spread = log_ratio_of_means(a, b, r), log_variability_ratio(a, b, r)
    estimate, variance = spread.estimate - ratio.estimate, spread.variance + ratio.variance
    step = derive("log ratio of CVs", "ln(SDA/SDB) − ln(meanA/meanB)", "Senior 2020", estimate)
    return Effect(
        Metric.LOG_CV_RATIO, estimate, variance, a.n, None, (*ratio.steps, *spread.steps, step), _assume(r)
    )


def correct_correlation(r: float, n: int) -> float:
    """The unbiased estimate of a correlation: r·₂F₁(½, ½; (n−2)/2; 1−r²) (Olkin & Pratt 1958). Needs three people."""
    from scipy.special import hyp2f1

    require_correlation(r)
    require_people(n, at_least=3)

    if r == 0:
        return 0.0
    estimate = float(r * hyp2f1(0.5, 0.5, (n - 2) / 2, 1 - r**2))
    require_finite(corrected_correlation=estimate)
    return estimate


def _as_change(
    metric: Metric,
    a: Summary,
    b: Summary,
    r: Linked,
    factor: float,
    estimate: float,
    variance: float,
    formula: str,
    source: str,
) -> Effect:
    steps = (
        derive("small-sample factor", _J, _HEDGES, factor, df=a.n - 1),
        derive(
            "standardised difference",
            "J·(meanA − meanB)/SDB",
            "Becker 1988",
            estimate,
            A=a.mean,
            B=b.mean,
            SDB=b.sd,
        ),
        derive("sampling variance", formula, source, variance, n=a.n, r=as_correlation(r).value),
    )
    return Effect(metric, estimate, variance, a.n, None, steps, _assume(r))


def _explain_difference_sd(a: Summary, b: Summary, r: Linked, sd: float) -> Step:
    value = as_correlation(r).value
    return derive(
        "SD of differences", "√(SDA² + SDB² − 2·r·SDA·SDB)", _HANDBOOK, sd, SDA=a.sd, SDB=b.sd, r=value
    )


def _assume(r: Linked) -> tuple[Assumption, ...]:
    return as_correlation(r).assumptions()


def _require_same_people(a: Summary, b: Summary) -> None:
    if a.n != b.n:
        raise NumberProblem(
            f"The two conditions have {a.n} and {b.n} people; the same people must stand behind both.",
            hint="Use the number who did both, or compare them as different groups.",
        )


def _require_spread(sd: float) -> float:
    if sd <= 0:
        raise NumberProblem(
            "The standard deviation is 0, so nothing can be measured in units of it.",
            hint="Use the mean difference in the printed unit, or check the printed SD.",
        )
    return sd
