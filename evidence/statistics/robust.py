"""Cluster-robust standard errors with small-sample corrections, and tests with Satterthwaite degrees of
freedom.

The variance of the coefficients is taken from the residuals of whole studies, so it holds even when the
assumed covariance within studies is wrong. Sources: Liang & Zeger 1986 (CR0); Bell & McCaffrey 2002 and
Pustejovsky & Tipton 2018 (CR2, Satterthwaite df, approximate Hotelling test); Tipton 2015.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evidence.errors import NumberProblem
from evidence.statistics.blocks import Rows
from evidence.statistics.heterogeneity import Array
from evidence.statistics.quantiles import check_level, f_tail, t_quantile, t_two_sided

CORRECTIONS = ("CR0", "CR1", "CR1p", "CR1S", "CR2")


@dataclass(frozen=True, slots=True)
class Robust:
    """`covariance` (p, p), `se` (p) and Satterthwaite `df` (p) of the coefficients; `studies` is the number
    of clusters.

    `test` holds what a joint test needs: per cluster the adjusted weights a (n, p) and Phi a.
    """

    correction: str
    beta: Array
    covariance: Array
    se: Array
    df: Array
    studies: int
    working: Array
    leverages: tuple[tuple[Array, Array], ...]


@dataclass(frozen=True, slots=True)
class HotellingTest:
    """Approximate Hotelling T^2 test of several coefficients (AHZ of Pustejovsky & Tipton 2018): F with (df1,
    df2).
    """

    f: float
    df1: int
    df2: float
    p: float


def estimate_robust(
    x: Array,
    y: Array,
    beta: Array,
    working: Array,
    rows: Sequence[Rows],
    phi: Sequence[Array],
    *,
    correction: str = "CR2",
) -> Robust:
    """Robust covariance of a fit whose weights are the inverse of the working covariance.

    Args:
        x, y, beta: design (k, p), effects (k), coefficients (p).
        working: model-based covariance (X'Phi^-1 X)^-1.
        rows, phi: for every cluster its rows and its working covariance.
        correction: CR0 none; CR1 m/(m - 1); CR1p m/(m - p); CR1S m(N - 1)/((m - 1)(N - p)); CR2 bias-reduced.

    Raises:
        NumberProblem: an unknown correction, or too few clusters for it.
    """
    if correction not in CORRECTIONS:
        raise NumberProblem(
            f"No correction is called {correction!r}.", hint=f"Choose {', '.join(CORRECTIONS)}."
        )
    m, p = len(rows), x.shape[1]
    if m <= p:
        raise NumberProblem(f"{m} studies are too few for robust standard errors of {p} coefficients.")
    meat = np.zeros((p, p))
    leverages = []
    for members, block in zip(rows, phi, strict=True):
        weighted = np.linalg.solve(block, x[members])
        if correction == "CR2":
            weighted = _adjust(x[members], block, working).T @ weighted
        pull = weighted.T @ (y[members] - x[members] @ beta)
        meat += np.outer(pull, pull)
        leverage = weighted @ working
        leverages.append((x[members].T @ leverage, leverage.T @ block @ leverage))
    covariance = _scale(correction, m, p, y.size) * (working @ meat @ working)
    df = np.array([_satterthwaite(leverages, working, c) for c in range(p)])
    se = np.sqrt(np.diag(covariance))
    return Robust(correction, beta, covariance, se, df, m, working, tuple(leverages))


def robust_interval(robust: Robust, c: int = 0, level: float = 0.95) -> tuple[float, float, float]:
    """Return low, high and p of coefficient c, from t with its Satterthwaite df."""
    width = t_quantile(check_level(level), float(robust.df[c])) * float(robust.se[c])
    estimate = float(robust.beta[c])
    return (
        estimate - width,
        estimate + width,
        t_two_sided(estimate / float(robust.se[c]), float(robust.df[c])),
    )


def compare_with_zero(robust: Robust, chosen: Sequence[int]) -> HotellingTest:
    """Test that the chosen coefficients are all 0, allowing for few clusters.

    Raises:
        NumberProblem: too few clusters for so many coefficients.
    """
    index = list(chosen)
    q = len(index)
    covariance = robust.covariance[np.ix_(index, index)]
    estimate = robust.beta[index]
    u = np.stack([ux[:, index] for ux, _ in robust.leverages])  # (m, p, q): X'a
    d = np.stack([block[np.ix_(index, index)] for _, block in robust.leverages])  # (m, q, q): a'Phi a
    # Expected value of the estimator under the working model; it standardises the coefficients.
    expected = d.sum(axis=0) - np.einsum("jps,pr,jrt->st", u, robust.working, u)
    values, vectors = np.linalg.eigh(expected)
    root = vectors @ np.diag(1.0 / np.sqrt(values)) @ vectors.T
    u, d = u @ root, root @ d @ root
    cross = -np.einsum("ips,pr,jrt->ijst", u, robust.working, u, optimize=True)
    m = u.shape[0]
    cross[np.arange(m), np.arange(m)] += d
    same = np.einsum("ijss,ijtt->", cross, cross)
    swapped = np.einsum("ijst,ijts->", cross, cross)
    eta = q * (q + 1) / float(same + swapped)
    if eta <= q - 1:
        raise NumberProblem(f"{robust.studies} studies are too few to test {q} coefficients together.")
    quadratic = float(estimate @ np.linalg.solve(covariance, estimate))
    df2 = eta - q + 1
    f = df2 / (eta * q) * quadratic
    return HotellingTest(f, q, df2, f_tail(f, q, df2))


def _adjust(x: Array, phi: Array, working: Array) -> Array:
    """A = D'(D (Phi - X C X') D')^(-1/2) D with Phi = D'D: makes the estimator unbiased under the working
    model.
    """
    d = np.linalg.cholesky(phi).T
    values, vectors = np.linalg.eigh(d @ (phi - x @ working @ x.T) @ d.T)
    usable = values > 1e-12 * max(float(values[-1]), 0.0)
    inverse = np.where(usable, 1.0 / np.sqrt(np.where(usable, values, 1.0)), 0.0)
    return np.asarray(d.T @ (vectors * inverse) @ vectors.T @ d, dtype=np.float64)


def _satterthwaite(leverages: Sequence[tuple[Array, Array]], working: Array, c: int) -> float:
    """df = 2 E(V)^2/Var(V) of the estimated variance V of coefficient c, under the working model."""
    u = np.stack([ux[:, c] for ux, _ in leverages])
    own = np.array([block[c, c] for _, block in leverages])
    hat = np.einsum("jp,pr,jr->j", u, working, u)
    shared = working @ (u.T @ u)
    total = float((own - hat).sum())
    square = float((own * own - 2.0 * own * hat).sum()) + float(np.einsum("pr,rp->", shared, shared))
    return total**2 / square


def _scale(correction: str, m: int, p: int, k: int) -> float:
    if correction == "CR1":
        return m / (m - 1)
    if correction == "CR1p":
        return m / (m - p)
    if correction == "CR1S":
        return m * (k - 1) / ((m - 1) * (k - p))
    return 1.0
