"""Further intervals for heterogeneity, beside the Q-profile: for I^2 and H, and two more for tau^2.

Sources: Higgins & Thompson 2002 (test-based interval for H and I^2); Jackson 2013 (generalised Q with fixed
weights 1/v); Hardy & Thompson 1996 (profile likelihood); Crippa et al. 2016 (R_b). The distribution of the
generalised Q is a weighted sum of chi-squares; its characteristic function is known in O(k) and is inverted
as in Davies 1973.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evidence.errors import NumberProblem
from evidence.statistics.heterogeneity import (
    Array,
    estimate_tau2,
    fit_weighted,
    log_likelihood,
    typical_variance,
)
from evidence.statistics.quantiles import check_level, chi2_quantile, normal_quantile


@dataclass(frozen=True, slots=True)
class Inconsistency:
    """H and I^2 (percent) with test-based limits; limits are None where they do not exist (two results that
    agree).
    """

    h: float
    h_low: float | None
    h_high: float | None
    i2: float
    i2_low: float | None
    i2_high: float | None


def measure_inconsistency(q: float, df: int, level: float = 0.95) -> Inconsistency:
    """Return H = sqrt(Q/df), never below 1, and I^2 = 1 - 1/H^2 with limits from the spread of log H.

    Raises:
        NumberProblem: df below 1.
    """
    if df < 1:
        raise NumberProblem("Inconsistency needs at least two results.")
    h = max(1.0, math.sqrt(q / df))
    k = df + 1
    if q > k:
        se = 0.5 * (math.log(q) - math.log(df)) / (math.sqrt(2.0 * q) - math.sqrt(2.0 * k - 3.0))
    elif k > 2:
        se = math.sqrt((1.0 - 1.0 / (3.0 * (k - 2) ** 2)) / (2.0 * (k - 2)))
    else:
        return Inconsistency(h, None, None, _i2(h), None, None)
    width = normal_quantile(check_level(level)) * se
    # The limits are those of log H as it falls out of Q, even below 0; only then are they cut at H = 1.
    centre = math.log(h)
    low, high = max(1.0, math.exp(centre - width)), max(1.0, math.exp(centre + width))
    return Inconsistency(h, low, high, _i2(h), _i2(low), _i2(high))


def _i2(h: float) -> float:
    return 100.0 * (1.0 - 1.0 / h**2)


def between_proportion(v: Array, tau2: float) -> float:
    """R_b (Crippa et al. 2016) in percent: the mean share of tau^2 in the total variance of a result."""
    return 100.0 * float(np.mean(tau2 / (tau2 + v)))


def i2_from_tau2(v: Array, tau2: float) -> float:
    """I^2 in percent from tau^2 and the typical sampling variance; with tau^2 from DL it equals the one from
    Q.
    """
    return 100.0 * tau2 / (tau2 + typical_variance(v))


def profile_likelihood_tau2(
    y: Array, v: Array, level: float = 0.95, *, restricted: bool = True
) -> tuple[float, float]:
    """Return the tau^2 whose (restricted) log-likelihood lies within chi2_1(level)/2 of its maximum."""
    check_level(level)
    peak = estimate_tau2(y, v, "REML" if restricted else "ML").value
    bar = log_likelihood(y, v, peak, restricted=restricted) - chi2_quantile(level, 1) / 2.0

    def height(tau2: float) -> float:
        return log_likelihood(y, v, tau2, restricted=restricted) - bar

    low = 0.0 if height(0.0) >= 0.0 else _find_root(height, 0.0, peak)
    high = max(2.0 * peak, float(v.mean()))
    while height(high) > 0.0:
        high *= 2.0
    return low, _find_root(height, peak, high)


def generalised_q_tau2(
    y: Array, v: Array, level: float = 0.95, x: Array | None = None
) -> tuple[float, float]:
    """Return the interval of tau^2 from the exact distribution of Q with weights 1/v.

    Without a design: Jackson 2013. With a design x (k x p), the interval of the variance that the moderators leave:
    Jackson, Turner, Rhodes & Viechtbauer 2014.
    """
    upper = check_level(level)
    q = fit_weighted(y, 1.0 / v, x).q

    def solve(probability: float) -> float:
        def excess(tau2: float) -> float:
            return q_distribution(q, v, tau2, x) - probability

        if excess(0.0) <= 0.0:  # the chance of a Q this small falls as tau^2 grows
            return 0.0
        high = float(v.mean())
        while excess(high) > 0.0:
            high *= 2.0
        return _find_root(excess, 0.0, high)

    return solve(upper), solve(1.0 - upper)


def q_distribution(q: float, v: Array, tau2: float, x: Array | None = None) -> float:
    """P(Q <= q) for Q = y'Py with weights 1/v when the results vary with v + tau^2 (at least two df).

    Q is a quadratic form in normals: its characteristic function is det(I - 2it S P)^(-1/2) with S = diag(v +
    tau^2) and P = A - A X (X'AX)^-1 X'A, A = diag(1/v). P is diagonal less a matrix of rank p, so the
    determinant costs O(k p^2).
    """
    a = 1.0 / v
    ratio = (v + tau2) * a
    columns = np.ones((v.size, 1)) if x is None else x
    basis = np.linalg.qr(np.sqrt(a)[:, None] * columns)[0]  # (k, p): A^1/2 X (X'AX)^-1/2, up to a rotation
    df = v.size - basis.shape[1]
    fit = fit_weighted(v, a, x)  # only for its traces
    mean = df + tau2 * fit.trace_p
    variance = 2.0 * (df + 2.0 * tau2 * fit.trace_p + tau2**2 * fit.trace_pp)
    # Davies's step: the error is the chance of Q passing 2 pi/step beyond q, here some 20 standard
    # deviations.
    step = 2.0 * math.pi / (mean + max(q, mean) + 20.0 * math.sqrt(variance))
    answer, offset = 0.5, 0
    while offset < 400_000:
        t = (np.arange(offset, offset + 500) + 0.5) * step
        turn = 1.0 - 2.0j * t[:, None] * ratio
        corner = _eigenvalues_of_corner(basis, 1.0 + 2.0j * t[:, None] * ratio / turn)
        # Every factor has a positive real part, so the angles add up without a jump.
        phase = -0.5 * (np.angle(turn).sum(axis=1) + np.angle(corner).sum(axis=1))
        size = np.exp(-0.5 * (np.log(np.abs(turn)).sum(axis=1) + np.log(np.abs(corner)).sum(axis=1)))
        terms = size * np.sin(phase - t * q) / t
        answer -= float(terms.sum()) * step / math.pi
        if size[-1] < 1e-9:
            break
        offset += 500
    return min(max(answer, 0.0), 1.0)


def _eigenvalues_of_corner(basis: Array, factors: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Eigenvalues (t, p) of basis' diag(factors) basis for every row of `factors` (t, k)."""
    if basis.shape[1] == 1:
        return np.asarray(factors @ (basis * basis), dtype=np.complex128)
    products = (basis[:, :, None] * basis[:, None, :]).reshape(basis.shape[0], -1)
    size = basis.shape[1]
    return np.asarray(np.linalg.eigvals((factors @ products).reshape(-1, size, size)), dtype=np.complex128)


def _find_root(function: Callable[[float], float], low: float, high: float) -> float:
    """Bisection to full precision; the ends must have different signs."""
    rising = function(high) > 0.0
    for _ in range(200):
        middle = (low + high) / 2.0
        if high - low <= 1e-10 * abs(middle):
            break
        if (function(middle) > 0.0) == rising:
            high = middle
        else:
            low = middle
    return (low + high) / 2.0
