"""Do small studies show other effects than large ones? Tests, and looks at what the answer could do to the
estimate.

None of this proves that results are missing: small studies differ in other ways too. Below ten results the
tests have no power to speak of; they can be computed, and say so in a note.

Sources: Egger et al. 1997; Sterne & Egger 2005 (mixed-effects form); Begg & Mazumdar 1994; Stanley &
Doucouliagos 2014 (PET-PEESE); Rosenthal 1979 and Rosenberg 2005 (fail-safe N); Henmi & Copas 2010.
Trim-and-fill has its own module.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from evidence.errors import NumberProblem
from evidence.statistics.heterogeneity import Array, estimate_tau2, fit_weighted
from evidence.statistics.pooling import check_results
from evidence.statistics.quantiles import (
    check_level,
    normal_quantile,
    normal_two_sided,
    t_quantile,
    t_two_sided,
)
from evidence.statistics.regression import regress

ENOUGH = 10  # Sterne et al. 2011, BMJ 343:d4002: fewer than ten studies give the test too little power


@dataclass(frozen=True, slots=True)
class FunnelRegression:
    """Effects regressed on their standard error (or variance); `limit` is the effect expected of an endless
    study.

    All figures are None, with a note, when the regressor does not vary or there are fewer than three results.
    """

    k: int
    model: str
    slope: float | None
    slope_se: float | None
    statistic: float | None
    df: float | None
    p: float | None
    limit: float | None
    limit_se: float | None
    limit_low: float | None
    limit_high: float | None
    limit_p: float | None
    tau2: float | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RankTest:
    """Kendall's tau between standardised effects and variances; `exact` tells which distribution gave `p`."""

    k: int
    tau: float | None
    p: float | None
    p_normal: float | None
    p_normal_continuity: float | None
    exact: bool
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FailSafe:
    """How many null results it would take to lose significance (Rosenthal 1979, Rosenberg 2005)."""

    rosenthal: int
    rosenthal_p: float
    rosenberg: int


@dataclass(frozen=True, slots=True)
class RobustInterval:
    """Common-effect estimate with an interval that allows for between-study variance (Henmi & Copas 2010)."""

    estimate: float
    se: float
    low: float
    high: float
    tau2: float


def regress_on_precision(
    estimates: ArrayLike,
    variances: ArrayLike,
    *,
    predictor: str = "se",
    tau2_method: str | None = None,
    labels: Sequence[str] | None = None,
    level: float = 0.95,
) -> FunnelRegression:
    """Regress the effects on `predictor` ("se": Egger, PET; "variance": PEESE).

    Without `tau2_method` it is the classic form: weights 1/v, residual variance estimated, t with k - 2 df.
    With one it is a meta-regression with between-study variance and a normal test.

    Raises:
        NumberProblem: unusable figures or an unknown predictor.
    """
    if predictor not in ("se", "variance"):
        raise NumberProblem(f"No predictor is called {predictor!r}.", hint='Choose "se" or "variance".')
    y, v, _ = check_results(estimates, variances, labels)
    check_level(level)
    model = f"mixed effects, {tau2_method}" if tau2_method else "weighted least squares"
    column = np.sqrt(v) if predictor == "se" else v
    if y.size < 3:
        return _no_funnel(y.size, model, "Fewer than three results: there is no asymmetry to test.")
    if np.ptp(column) <= 1e-12 * float(column.max()):
        return _no_funnel(y.size, model, "All results are equally precise, so asymmetry cannot be tested.")
    if tau2_method:
        fitted = regress(y, v, {predictor: column}, tau2_method=tau2_method, interval="wald", level=level)
        limit, slope = fitted.coefficients
        return FunnelRegression(
            y.size,
            model,
            slope.estimate,
            slope.se,
            slope.statistic,
            None,
            slope.p,
            limit.estimate,
            limit.se,
            limit.low,
            limit.high,
            limit.p,
            fitted.tau2,
            _note_few(y.size),
        )
    return _fit_classic(y, v, column, model, level)


def _fit_classic(y: Array, v: Array, column: Array, model: str, level: float) -> FunnelRegression:
    df = float(y.size - 2)
    fit = fit_weighted(y, 1.0 / v, np.column_stack([np.ones_like(y), column]))
    dispersion = fit.q / df
    if dispersion <= 1e-24 * max(1.0, float(np.max(y * y / v))):
        return _no_funnel(y.size, model, "The effects lie exactly on a line, so no standard error exists.")
    limit, slope = fit.beta.tolist()
    limit_se, slope_se = np.sqrt(dispersion * np.diag(fit.covariance)).tolist()
    width = t_quantile(check_level(level), df) * limit_se
    return FunnelRegression(
        y.size,
        model,
        slope,
        slope_se,
        slope / slope_se,
        df,
        t_two_sided(slope / slope_se, df),
        limit,
        limit_se,
        limit - width,
        limit + width,
        t_two_sided(limit / limit_se, df),
        None,
        _note_few(y.size),
    )


def correlate_with_precision(
    estimates: ArrayLike, variances: ArrayLike, *, labels: Sequence[str] | None = None
) -> RankTest:
    """Begg & Mazumdar 1994: Kendall's tau-b between (y - mu)/sqrt(v - 1/sum(1/v)) and v.

    The exact distribution is used without ties up to 200 results, otherwise the normal one (ties
    corrected).

    Raises:
        NumberProblem: unusable figures.
    """
    y, v, _ = check_results(estimates, variances, labels)
    k = y.size
    if k < 3:
        return RankTest(k, None, None, None, None, False, ("Fewer than three results: nothing to rank.",))
    weights = 1.0 / v
    centre = float(weights @ y) / float(weights.sum())
    standardised = (y - centre) / np.sqrt(v - 1.0 / float(weights.sum()))
    score, ties_a, ties_b = _kendall_score(standardised, v)
    pairs = k * (k - 1) / 2.0
    tied_a = sum(t * (t - 1) / 2.0 for t in ties_a)
    tied_b = sum(t * (t - 1) / 2.0 for t in ties_b)
    if tied_a >= pairs or tied_b >= pairs:
        return RankTest(k, None, None, None, None, False, ("All results are equally precise.",))
    spread = math.sqrt(_kendall_variance(k, ties_a, ties_b))
    exact = k <= 200 and tied_a == tied_b == 0
    normal = normal_two_sided(score / spread)
    continuity = normal_two_sided(max(abs(score) - 1.0, 0.0) / spread)
    return RankTest(
        k,
        score / math.sqrt((pairs - tied_a) * (pairs - tied_b)),
        _kendall_exact(k, score) if exact else normal,
        normal,
        continuity,
        exact,
        _note_few(k),
    )


def _kendall_score(a: Array, b: Array) -> tuple[int, list[int], list[int]]:
    """Concordant minus discordant pairs, and the sizes of the groups of ties in each variable."""
    score = sum(
        int((np.sign(a[i + 1 :] - a[i]) * np.sign(b[i + 1 :] - b[i])).sum()) for i in range(a.size - 1)
    )
    ties = [np.unique(values, return_counts=True)[1] for values in (a, b)]
    ties_a, ties_b = ([int(t) for t in counts if t > 1] for counts in ties)
    return score, ties_a, ties_b


def _kendall_variance(k: int, ties_a: list[int], ties_b: list[int]) -> float:
    """Variance of the score under independence, with ties (Kendall 1970, chapter 4)."""

    def total(ties: list[int], power: int) -> float:
        if power == 1:
            return float(sum(t * (t - 1) for t in ties))
        if power == 2:
            return float(sum(t * (t - 1) * (t - 2) for t in ties))
        return float(sum(t * (t - 1) * (2 * t + 5) for t in ties))

    value = (k * (k - 1) * (2 * k + 5) - total(ties_a, 3) - total(ties_b, 3)) / 18.0
    value += total(ties_a, 1) * total(ties_b, 1) / (2.0 * k * (k - 1))
    return value + total(ties_a, 2) * total(ties_b, 2) / (9.0 * k * (k - 1) * (k - 2))


def _kendall_exact(k: int, score: int) -> float:
    """Two-sided exact p: permutations are counted by their number of discordant pairs."""
    counts = np.ones(1)
    for size in range(2, k + 1):
        counts = np.convolve(counts, np.full(size, 1.0 / size))
    discordant = (k * (k - 1) // 2 - score) // 2
    low = float(counts[: discordant + 1].sum())
    high = float(counts[discordant:].sum())
    return min(1.0, 2.0 * min(low, high))


def fail_safe(estimates: ArrayLike, variances: ArrayLike, *, alpha: float = 0.05) -> FailSafe:
    """Fail-safe N: Rosenthal 1979 (one-tailed alpha, sum of z) and Rosenberg 2005 (weighted, two-tailed).

    A look only: it says nothing of how many results are in fact missing.

    Raises:
        NumberProblem: unusable figures, or alpha not between 0 and 1.
    """
    y, v, _ = check_results(estimates, variances)
    check_level(1.0 - alpha)
    k = y.size
    z = float(np.sum(y / np.sqrt(v)))
    rosenthal = max(0, math.ceil((z / normal_quantile(alpha)) ** 2 - k))
    weights = 1.0 / v
    total = float(weights.sum())
    missing = (float(weights @ y) / normal_quantile(alpha / 2.0)) ** 2 - total
    return FailSafe(
        rosenthal,
        normal_two_sided(z / math.sqrt(k)) / 2.0,
        max(0, math.ceil(k * missing / total)),
    )


def robust_to_missing(estimates: ArrayLike, variances: ArrayLike, *, level: float = 0.95) -> RobustInterval:
    """Henmi & Copas 2010: common-effect weights, which publication bias sways less, with an interval wide
    enough.

    The integral is taken by Gauss-Legendre quadrature; the original program's limits agree to about four
    digits.

    Raises:
        NumberProblem: unusable figures, or fewer than two results.
    """
    y, v, _ = check_results(estimates, variances)
    if y.size < 2:
        raise NumberProblem("This interval needs at least two results.")
    tau2 = estimate_tau2(y, v, "DL").value
    w = 1.0 / v
    total = float(w.sum())
    estimate = float(w @ y) / total
    moments = [float(np.sum(w**power)) / total for power in (2, 3, 4)]
    se = math.sqrt((1.0 + tau2 * moments[0]) / total)
    width = _copas_ratio(y.size, total, tau2, moments, check_level(level)) * se
    return RobustInterval(estimate, se, estimate - width, estimate + width, tau2)


def _copas_ratio(k: int, w1: float, tau2: float, moments: list[float], upper: float) -> float:
    """The critical value t of Henmi & Copas 2010: P(R > t f(Q)) = 1 - upper, with Q given R near a gamma.

    R ~ N(0, vr); the search runs over x = t/sqrt(vr), so that R/sqrt(vr) is standard normal.
    """
    from scipy.special import gammainc

    w2, w3, w4 = moments
    vr = 1.0 + tau2 * w2
    nodes, node_weights = np.polynomial.legendre.leggauss(400)

    def tail(x: float) -> float:
        # R beyond 12 has no mass worth counting.
        z = x + (nodes + 1.0) / 2.0 * (12.0 - x)
        r2 = vr * z * z
        bend = r2 / vr**2 - 1.0 / vr
        mean = (k - 1) + tau2 * (w1 - w2) + tau2**2 * bend * (w3 - w2**2)
        var = (
            2.0 * (k - 1)
            + 4.0 * tau2 * (w1 - w2)
            + 2.0 * tau2**2 * (w1 * w2 - 2.0 * w3 + w2**2)
            + 4.0 * tau2**2 * bend * (w3 - w2**2)
            + 4.0 * tau2**3 * bend * (w4 - 2.0 * w2 * w3 + w2**3)
            + 2.0 * tau2**4 * (1.0 / vr**2 - 2.0 * r2 / vr**3) * (w3 - w2**2) ** 2
        )
        bound = (w1 / w2 - 1.0) * ((z / x) ** 2 - 1.0) + (k - 1)
        below = gammainc(mean**2 / var, bound / (var / mean))
        density = np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
        return float((below * density) @ node_weights) * (12.0 - x) / 2.0

    low, high = 1e-6, 10.0
    for _ in range(100):
        middle = (low + high) / 2.0
        low, high = (middle, high) if tail(middle) > 1.0 - upper else (low, middle)
    return math.sqrt(vr) * (low + high) / 2.0


def _note_few(k: int) -> tuple[str, ...]:
    if k >= ENOUGH:
        return ()
    return (f"Only {k} results: below {ENOUGH} such a test has little power and should not be relied on.",)


def _no_funnel(k: int, model: str, note: str) -> FunnelRegression:
    return FunnelRegression(
        k, model, None, None, None, None, None, None, None, None, None, None, None, (note,)
    )
