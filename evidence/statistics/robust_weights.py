"""Robust variance estimation with approximate weights, when the covariance within studies is not known at
all.

Weights come from a rough working model, the standard errors from the residuals of whole studies. Sources:
Hedges, Tipton & Johnson 2010 (both weightings and their moment estimators); Tipton 2015 (small-sample
correction and df).
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from evidence.errors import NumberProblem
from evidence.statistics.dependence import Clusters, group_rows
from evidence.statistics.heterogeneity import Array
from evidence.statistics.quantiles import check_level, t_quantile, t_two_sided
from evidence.statistics.robust import estimate_robust


@dataclass(frozen=True, slots=True)
class RobustFit:
    """Coefficients with robust standard errors; `omega2` (within studies) only for hierarchical weights."""

    beta: Array
    se: Array
    df: Array
    low: Array
    high: Array
    p: Array
    tau2: float
    omega2: float | None
    i2: float | None


def fit_robust_weights(
    y: Array,
    v: Array,
    study_ids: Sequence[Hashable],
    *,
    x: Array | None = None,
    weights: str = "correlated",
    rho: float = 0.8,
    small_sample: bool = True,
    level: float = 0.95,
) -> RobustFit:
    """Fit with "correlated" weights 1/(k_j (mean v_j + tau^2)) or "hierarchical" ones 1/(v + tau^2 +
    omega^2).

    `rho` enters tau^2 of the correlated weights only. `small_sample`: CR2 with Satterthwaite df, otherwise
    m/(m - p) and m - p df.

    Raises:
        NumberProblem: unknown weights, or too few studies.
    """
    design = np.ones((y.size, 1)) if x is None else x
    clusters = group_rows(study_ids)
    omega2: float | None = None
    i2: float | None = None
    if weights == "correlated":
        tau2, i2 = _moments_correlated(y, v, design, clusters, rho)
        w = np.empty(y.size)
        for rows in clusters.rows:
            w[rows] = 1.0 / (rows.size * (float(v[rows].mean()) + tau2))
    elif weights == "hierarchical":
        tau2, omega2 = _moments_hierarchical(y, v, design, clusters)
        w = 1.0 / (v + tau2 + omega2)
    else:
        raise NumberProblem(f"No weights are called {weights!r}.", hint='"correlated" or "hierarchical".')
    working = np.asarray(np.linalg.inv(design.T @ (w[:, None] * design)), dtype=np.float64)
    beta = working @ (design.T @ (w * y))
    robust = estimate_robust(
        design,
        y,
        beta,
        working,
        clusters.rows,
        [np.diag(1.0 / w[rows]) for rows in clusters.rows],
        correction="CR2" if small_sample else "CR1p",
    )
    df = robust.df if small_sample else np.full(beta.size, float(len(clusters.rows) - beta.size))
    upper = check_level(level)
    width = np.array([t_quantile(upper, float(one)) for one in df]) * robust.se
    p = np.array([t_two_sided(float(t), float(one)) for t, one in zip(beta / robust.se, df, strict=True)])
    return RobustFit(beta, robust.se, df, beta - width, beta + width, p, tau2, omega2, i2)


def _moments_correlated(
    y: Array, v: Array, x: Array, clusters: Clusters, rho: float
) -> tuple[float, float | None]:
    """tau^2 by Hedges, Tipton & Johnson 2010, equation 15, w_j = 1/(k_j mean v_j); and I^2 in percent."""
    w = np.empty(y.size)
    for rows in clusters.rows:
        w[rows] = 1.0 / float(v[rows].sum())
    inverse = np.linalg.inv(x.T @ (w[:, None] * x))
    residual = y - x @ (inverse @ (x.T @ (w * y)))
    q = float(w @ residual**2)
    own, all_pairs, squares = (np.zeros_like(inverse) for _ in range(3))
    for rows in clusters.rows:
        weight = float(w[rows[0]])
        total = x[rows].sum(axis=0)
        own += weight / rows.size * (x[rows].T @ x[rows])
        all_pairs += weight / rows.size * np.outer(total, total)
        squares += weight**2 * np.outer(total, total)
    expected = len(clusters.rows) - (1.0 - rho) * float(np.trace(inverse @ own))
    expected -= rho * float(np.trace(inverse @ all_pairs))
    raw = (q - expected) / (float(w.sum()) - float(np.trace(inverse @ squares)))
    return max(0.0, raw), 100.0 * max(0.0, (q - expected) / q) if q > 0.0 else None


def _moments_hierarchical(y: Array, v: Array, x: Array, clusters: Clusters) -> tuple[float, float]:
    """tau^2 and omega^2 from two moments of the residuals of the 1/v fit: e'We and e'Je (study sums).

    With B = (X'WX)^-1, T = study sums of X, Z = study sums of WX, the expected values need only p x p
    products.
    """
    w = 1.0 / v
    b = np.linalg.inv(x.T @ (w[:, None] * x))
    residual = y - x @ (b @ (x.T @ (w * y)))
    sums = np.array([float(residual[rows].sum()) for rows in clusters.rows])
    t = np.stack([x[rows].sum(axis=0) for rows in clusters.rows])
    z = np.stack([w[rows] @ x[rows] for rows in clusters.rows])
    sizes = np.array([float(rows.size) for rows in clusters.rows])
    x_w2_x = x.T @ ((w * w)[:, None] * x)
    excess = np.array(
        [
            float(w @ residual**2) - (y.size - x.shape[1]),
            float(sums @ sums) - (float(v.sum()) - float(np.trace(b @ (t.T @ t)))),
        ]
    )
    slopes = np.array(
        [
            [w.sum() - np.trace(b @ (z.T @ z)), w.sum() - np.trace(b @ x_w2_x)],
            [
                sizes @ sizes
                - 2.0 * np.einsum("j,jp,pr,jr->", sizes, t, b, z)
                + np.einsum("pr,rs,sq,qp->", t.T @ t, b, z.T @ z, b),
                y.size - 2.0 * np.trace(b @ (z.T @ t)) + np.trace(b @ x_w2_x @ b @ (t.T @ t)),
            ],
        ]
    )
    if np.linalg.matrix_rank(slopes) < 2:
        raise NumberProblem(
            "The spread within studies cannot be told from that between them.",
            hint="No study gives several results: use correlated weights, or pool them as independent.",
        )
    tau2, omega2 = np.linalg.solve(slopes, excess)
    return max(0.0, float(tau2)), max(0.0, float(omega2))
