"""Between-study variance tau^2: nine estimators, its Q-profile interval, Q, I^2 and H^2.

Everything is a sum over studies: no k x k matrix is formed, so the cost grows in step with k. The same code
serves a plain pooled mean (`x` is None, one coefficient) and a meta-regression (`x` is a k x p design
matrix).

Notation: w = 1/(v + tau^2), W = diag(w), P = W - W X (X'WX)^-1 X'W, r = y - X beta. Then Q(tau^2) = y'Py.

Sources: DerSimonian & Laird 1986 (DL); Hedges & Olkin 1985 (HE); Hunter & Schmidt 1990 (HS; HSk corrects it
by k/(k - p)); Sidik & Jonkman 2005 (SJ); Paule & Mandel 1982 (PM); Morris 1983 (EB, the same estimating
equation as PM); Viechtbauer 2005 (ML, REML, standard errors); Viechtbauer 2007 (Q-profile); Higgins &
Thompson 2002 (I^2, H^2).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evidence.errors import NumberProblem
from evidence.statistics.quantiles import check_level, chi2_quantile

Array = NDArray[np.float64]

ESTIMATORS = ("REML", "DL", "PM", "ML", "EB", "SJ", "HE", "HS", "HSk")


@dataclass(frozen=True, slots=True)
class WeightedFit:
    """Weighted least squares with weights 1/(v + tau^2), and the traces that the estimators need.

    `beta` (p), `covariance` (p x p) = (X'WX)^-1, `residuals` (k), `trace_p` = tr(P), `trace_pp` = tr(PP).
    """

    weights: Array
    beta: Array
    covariance: Array
    residuals: Array
    trace_p: float
    trace_pp: float

    @property
    def q(self) -> float:
        """Weighted sum of squared residuals, y'Py."""
        return float(self.weights @ (self.residuals * self.residuals))

    @property
    def squared_slope(self) -> float:
        """y'PPy, which is minus the derivative of Q with respect to tau^2."""
        weighted = self.weights * self.residuals
        return float(weighted @ weighted)


@dataclass(frozen=True, slots=True)
class BetweenVariance:
    """An estimate of tau^2 in squared units of the effect; `untruncated` may be negative, `value` never is.

    `se` is None where theory gives none; `converged` is False when an iteration stopped short of its
    tolerance.
    """

    method: str
    value: float
    untruncated: float
    se: float | None
    converged: bool


def fit_weighted(y: Array, weights: Array, x: Array | None = None) -> WeightedFit:
    """Fit y on x (or on a constant) with the given weights, in O(k p^2)."""
    w2 = weights * weights
    if x is None:
        s1, s2 = float(weights.sum()), float(w2.sum())
        mean = float(weights @ y) / s1
        return WeightedFit(
            weights,
            np.array([mean]),
            np.array([[1.0 / s1]]),
            y - mean,
            s1 - s2 / s1,
            s2 - 2.0 * float(w2 @ weights) / s1 + (s2 / s1) ** 2,
        )
    root = np.sqrt(weights)
    q, r = np.linalg.qr(root[:, None] * x)
    inverse = np.linalg.inv(r)
    beta = np.asarray(inverse @ (q.T @ (root * y)), dtype=np.float64)
    once = q.T @ (weights[:, None] * q)  # similar to (X'WX)^-1 X'W^2 X
    trace_pp = float(w2.sum() - 2.0 * (w2 @ (q * q)).sum() + (once * once).sum())
    trace_p = float(weights.sum() - np.trace(once))
    covariance = np.asarray(inverse @ inverse.T, dtype=np.float64)
    return WeightedFit(weights, beta, covariance, y - x @ beta, trace_p, trace_pp)


def estimate_tau2(y: Array, v: Array, method: str = "REML", x: Array | None = None) -> BetweenVariance:
    """Estimate tau^2 from effects y (k) and sampling variances v (k), with design x (k x p) if given.

    With no residual degrees of freedom (one study) tau^2 cannot be estimated and 0 is returned.

    Raises:
        NumberProblem: the estimator is unknown.
    """
    if method not in ESTIMATORS:
        raise NumberProblem(
            f"No estimator of the between-study variance is called {method!r}.",
            hint=f"Choose one of {', '.join(ESTIMATORS)}.",
        )
    df = y.size - (1 if x is None else x.shape[1])
    if df < 1:
        return BetweenVariance(method, 0.0, 0.0, None, True)
    return _FORMULAS[method](y, v, x, df)


def profile_tau2(y: Array, v: Array, level: float = 0.95, x: Array | None = None) -> tuple[float, float]:
    """Return the Q-profile interval of tau^2 (Viechtbauer 2007), its lower end cut at 0.

    Both ends are 0 when even tau^2 = 0 explains more than the data vary.
    """
    upper = check_level(level)
    df = y.size - (1 if x is None else x.shape[1])
    if df < 1:
        return 0.0, float("inf")
    low, _ = solve_q(y, v, chi2_quantile(upper, df), x)
    high, _ = solve_q(y, v, chi2_quantile(1.0 - upper, df), x)
    return low, high


def solve_q(y: Array, v: Array, target: float, x: Array | None = None) -> tuple[float, bool]:
    """Return tau^2 >= 0 with Q(tau^2) = target (0 when Q(0) is already below it), and whether that was
    reached.

    Newton's method on 1/Q. By Cauchy-Schwarz (y'PPy)^2 <= (y'Py)(y'PPPy), so 1/Q is increasing and concave in
    tau^2: started at 0 the iterates rise towards the root and cannot overshoot it, whatever the data.
    """
    tau2 = 0.0
    for _ in range(200):
        fit = fit_weighted(y, 1.0 / (v + tau2), x)
        q = fit.q
        if q <= target:
            return tau2, True
        step = q * (q - target) / (target * fit.squared_slope)
        tau2 += step
        if step <= 1e-14 * tau2:
            return tau2, True
    return tau2, False


def typical_variance(v: Array, x: Array | None = None) -> float:
    """The "typical" sampling variance (k - p)/tr(P) of Higgins & Thompson 2002, equation 9."""
    df = v.size - (1 if x is None else x.shape[1])
    return df / fit_weighted(np.zeros_like(v), 1.0 / v, x).trace_p


def i2_from_q(q: float, df: int) -> float:
    """I^2 in percent from Q (Higgins & Thompson 2002): max(0, (Q - df)/Q)."""
    return 100.0 * max(0.0, (q - df) / q) if q > 0.0 and df > 0 else 0.0


def log_likelihood(y: Array, v: Array, tau2: float, x: Array | None = None, *, restricted: bool) -> float:
    """Log-likelihood of tau^2 with the coefficients profiled out; restricted: with log det(X'X)/2."""
    total = v + tau2
    fit = fit_weighted(y, 1.0 / total, x)
    value = -0.5 * (float(np.log(total).sum()) + fit.q + y.size * np.log(2.0 * np.pi))
    if restricted:
        p = fit.beta.size
        xx = np.array([[float(y.size)]]) if x is None else x.T @ x
        value += 0.5 * (p * np.log(2.0 * np.pi) + np.linalg.slogdet(xx)[1])
        value += 0.5 * np.linalg.slogdet(fit.covariance)[1]
    return float(value)


def _estimate_dl(y: Array, v: Array, x: Array | None, df: int) -> BetweenVariance:
    fit = fit_weighted(y, 1.0 / v, x)
    raw = (fit.q - df) / fit.trace_p
    return _moment_result("DL", raw, _quadratic_variance(fit, df, max(raw, 0.0)) / fit.trace_p**2)


def _estimate_hs(y: Array, v: Array, x: Array | None, df: int) -> BetweenVariance:
    return _hunter_schmidt("HS", 1.0, y, v, x, df)


def _estimate_hsk(y: Array, v: Array, x: Array | None, df: int) -> BetweenVariance:
    return _hunter_schmidt("HSk", y.size / df, y, v, x, df)


def _hunter_schmidt(
    method: str, factor: float, y: Array, v: Array, x: Array | None, df: int
) -> BetweenVariance:
    fit = fit_weighted(y, 1.0 / v, x)
    total = float(fit.weights.sum())
    raw = (factor * fit.q - y.size) / total
    return _moment_result(method, raw, factor**2 * _quadratic_variance(fit, df, max(raw, 0.0)) / total**2)


def _quadratic_variance(fit: WeightedFit, df: int, tau2: float) -> float:
    """Variance of Q with inverse-variance weights when the true variance is tau2 (Viechtbauer 2007)."""
    return 2.0 * df + 4.0 * tau2 * fit.trace_p + 2.0 * tau2**2 * fit.trace_pp


def _estimate_he(y: Array, v: Array, x: Array | None, df: int) -> BetweenVariance:
    fit = fit_weighted(y, np.ones_like(y), x)
    tr_pv, tr_pvpv = _traces_with_v(fit, v, x)
    raw = (fit.q - tr_pv) / df
    tau2 = max(raw, 0.0)
    return _moment_result("HE", raw, (2.0 * tr_pvpv + 4.0 * tau2 * tr_pv + 2.0 * tau2**2 * df) / df**2)


def _estimate_sj(y: Array, v: Array, x: Array | None, df: int) -> BetweenVariance:
    start = float(np.mean((y - y.mean()) ** 2))
    if start == 0.0:
        return BetweenVariance("SJ", 0.0, 0.0, None, True)
    fit = fit_weighted(y, 1.0 / (v + start), x)
    raw = start * fit.q / df
    # y'Py is a quadratic form in y with variance v + tau^2: 2 tr(P(V + tau^2)P(V + tau^2)).
    _, spread = _traces_with_v(fit, v + raw, x)
    return _moment_result("SJ", raw, 2.0 * spread * (start / df) ** 2)


def _traces_with_v(fit: WeightedFit, v: Array, x: Array | None) -> tuple[float, float]:
    """tr(PV) and tr(PVPV) for a diagonal V, in O(k p^2)."""
    columns = np.ones((v.size, 1)) if x is None else x
    wx = fit.weights[:, None] * columns
    once = fit.covariance @ (wx.T @ (v[:, None] * wx))
    wv = fit.weights * v
    twice = fit.covariance @ ((wv[:, None] * wx).T @ (v[:, None] * wx))
    tr_pvpv = float(wv @ wv) - 2.0 * float(np.trace(twice)) + float(np.einsum("ij,ji->", once, once))
    return float(wv.sum()) - float(np.trace(once)), tr_pvpv


def _moment_result(method: str, raw: float, variance: float) -> BetweenVariance:
    return BetweenVariance(method, max(raw, 0.0), raw, float(np.sqrt(variance)), True)


def _estimate_pm(y: Array, v: Array, x: Array | None, df: int) -> BetweenVariance:
    return _paule_mandel("PM", y, v, x, df)


def _estimate_eb(y: Array, v: Array, x: Array | None, df: int) -> BetweenVariance:
    return _paule_mandel("EB", y, v, x, df)


def _paule_mandel(method: str, y: Array, v: Array, x: Array | None, df: int) -> BetweenVariance:
    value, converged = solve_q(y, v, float(df), x)
    se = float(np.sqrt(2.0 * y.size**2 / df) / np.sum(1.0 / (v + value)))
    return BetweenVariance(method, value, value, se, converged)


def _estimate_ml(y: Array, v: Array, x: Array | None, df: int) -> BetweenVariance:
    value, converged = _maximise_likelihood(y, v, x, restricted=False)
    weights = 1.0 / (v + value)
    return BetweenVariance("ML", value, value, float(np.sqrt(2.0 / (weights @ weights))), converged)


def _estimate_reml(y: Array, v: Array, x: Array | None, df: int) -> BetweenVariance:
    value, converged = _maximise_likelihood(y, v, x, restricted=True)
    trace_pp = fit_weighted(y, 1.0 / (v + value), x).trace_pp
    return BetweenVariance("REML", value, value, float(np.sqrt(2.0 / trace_pp)), converged)


_FORMULAS: dict[str, Callable[[Array, Array, Array | None, int], BetweenVariance]] = {
    "REML": _estimate_reml,
    "DL": _estimate_dl,
    "PM": _estimate_pm,
    "ML": _estimate_ml,
    "EB": _estimate_eb,
    "SJ": _estimate_sj,
    "HE": _estimate_he,
    "HS": _estimate_hs,
    "HSk": _estimate_hsk,
}


def _maximise_likelihood(y: Array, v: Array, x: Array | None, *, restricted: bool) -> tuple[float, bool]:
    """Return the tau^2 >= 0 that maximises the (restricted) likelihood, and whether the search converged.

    The likelihood can have several peaks, so a coarse grid finds the highest; Fisher scoring climbs it. A
    step that leaves the bracket, or is not half the last one, is replaced by halving the bracket: undamped scoring can
        swing for ever.
    """
    low, tau2, high = _bracket_peak(y, v, x, restricted)
    floor = 1e-15 * float(v.min())
    last = float("inf")
    for _ in range(200):
        fit = fit_weighted(y, 1.0 / (v + tau2), x)
        pull = fit.trace_p if restricted else float(fit.weights.sum())
        information = fit.trace_pp if restricted else float(fit.weights @ fit.weights)
        score = fit.squared_slope - pull
        if score > 0.0:
            low = tau2
            high = 4.0 * tau2 if tau2 >= high else high
        elif tau2 == 0.0:
            return 0.0, True
        else:
            high = tau2
        step = score / information
        if not low <= tau2 + step <= high or abs(step) > 0.5 * last:
            step = (low + high) / 2.0 - tau2
        tau2, last = tau2 + step, abs(step)
        if last <= 1e-13 * tau2 + floor:
            # The bracket may have closed on 0 itself, where the likelihood falls away on the right.
            return (0.0 if tau2 <= floor else tau2), True
    return tau2, False


def _bracket_peak(y: Array, v: Array, x: Array | None, restricted: bool) -> tuple[float, float, float]:
    """Return the grid point of highest likelihood between its two neighbours on the grid (0 included)."""
    centred = y - y.mean()
    top = max(float(centred @ centred), float(v.max()) * 1e-6)
    bottom = min(float(v.min()), top) * 1e-3
    grid = np.concatenate(([0.0], np.geomspace(bottom, top, 23)))
    weights = 1.0 / (v + grid[:, None])
    # An orthonormal basis of the columns spans the same model and keeps the normal equations well
    # conditioned.
    columns = np.ones((y.size, 1)) if x is None else np.linalg.qr(x)[0]
    p = columns.shape[1]
    information = (weights @ np.einsum("ki,kj->kij", columns, columns).reshape(y.size, p * p)).reshape(
        -1, p, p
    )
    moments = weights @ (columns * centred[:, None])
    beta = np.linalg.solve(information, moments[:, :, None])[:, :, 0]
    fit = weights @ (centred * centred) - np.einsum("gp,gp->g", beta, moments)
    height = np.log(weights).sum(axis=1) - fit
    if restricted:
        height -= np.linalg.slogdet(information)[1]
    best = int(np.argmax(height))
    return (
        float(grid[max(best - 1, 0)]),
        float(grid[best]),
        float(grid[best + 1]) if best + 1 < grid.size else 4.0 * top,
    )
