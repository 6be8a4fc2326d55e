"""Linear models whose covariance falls into small blocks: generalised least squares and restricted
likelihood.

y = X beta + e, Cov(e) = M, block diagonal (one block a study), M = V + sum_m theta_m G_m with V and every G_m
known. Several random effects, unstructured outcome covariances and the random part of a network are all of
this form. Blocks of equal size are stacked and handled in one sweep, so the cost grows in step with the
number of blocks; no k x k matrix is formed.

Sources: Harville 1977 (likelihoods); Jennrich & Sampson 1976 (Fisher scoring for variance components, bounds
at 0).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evidence.errors import NumberProblem
from evidence.statistics.heterogeneity import Array

Rows = NDArray[np.intp]
Feasible = Callable[[Array], bool]


@dataclass(frozen=True, slots=True)
class Batch:
    """g blocks of equal size n: `rows` (g, n) in the input, `v` (g, n, n), `parts` (m, g, n, n), `x` (g, n,
    p), `y` (g, n).
    """

    rows: Rows
    v: Array
    parts: Array
    x: Array
    y: Array


@dataclass(frozen=True, slots=True)
class BlockFit:
    """The generalised least squares fit at one theta: `beta` (p), `covariance` (p, p), Q = r'M^-1 r, both
    likelihoods.
    """

    theta: Array
    beta: Array
    covariance: Array
    q: float
    log_likelihood: float
    restricted_log_likelihood: float


@dataclass(frozen=True, slots=True)
class Maximum:
    """The best theta found, its fit, and whether the search met its tolerance."""

    fit: BlockFit
    log_likelihood: float
    converged: bool


@dataclass(frozen=True, slots=True)
class BlockModel:
    """All batches, the number of results k, coefficients p and variance parameters m."""

    batches: tuple[Batch, ...]
    k: int
    p: int
    m: int
    log_det_xx: float


def build_model(
    y: Array, x: Array, rows: Sequence[Rows], v: Sequence[Array], parts: Sequence[Sequence[Array]]
) -> BlockModel:
    """Stack blocks of equal size. `rows`, `v` and each of the m `parts` hold one entry per block.

    Raises:
        NumberProblem: the columns of x cannot be told apart.
    """
    by_size: dict[int, list[int]] = {}
    for b, members in enumerate(rows):
        by_size.setdefault(members.size, []).append(b)
    batches = []
    for size, chosen in by_size.items():
        index = np.stack([rows[b] for b in chosen])
        stacked = [np.stack([part[b] for b in chosen]) for part in parts]
        batches.append(
            Batch(
                index,
                np.stack([v[b] for b in chosen]),
                np.stack(stacked) if stacked else np.zeros((0, len(chosen), size, size)),
                x[index],
                y[index],
            )
        )
    length = np.linalg.norm(x, axis=0)
    scaled = x / np.where(length > 0.0, length, 1.0)
    if np.linalg.eigvalsh(scaled.T @ scaled)[0] < 1e-11:
        raise NumberProblem("The coefficients cannot be told apart in these results.")
    log_det = float(np.linalg.slogdet(x.T @ x)[1])
    return BlockModel(tuple(batches), y.size, x.shape[1], len(parts), log_det)


def fit_blocks(model: BlockModel, theta: Array) -> BlockFit:
    """Fit by generalised least squares at the given theta.

    Raises:
        NumberProblem: the covariance is not positive definite.
    """
    information = np.zeros((model.p, model.p))
    moment = np.zeros(model.p)
    square = log_det = 0.0
    for batch in model.batches:
        root = _factor(_assemble(batch, theta))
        wx = np.linalg.solve(root, batch.x)
        wy = np.linalg.solve(root, batch.y[:, :, None])[:, :, 0]
        information += np.einsum("gnp,gnq->pq", wx, wx)
        moment += np.einsum("gnp,gn->p", wx, wy)
        square += float((wy * wy).sum())
        log_det += 2.0 * float(np.log(np.diagonal(root, axis1=1, axis2=2)).sum())
    covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
    beta = covariance @ moment
    q = square - float(beta @ moment)
    constant = float(np.log(2.0 * np.pi))
    plain = -0.5 * (model.k * constant + log_det + q)
    restricted = -0.5 * (
        (model.k - model.p) * constant
        + log_det
        + q
        + float(np.linalg.slogdet(information)[1])
        - model.log_det_xx
    )
    return BlockFit(theta, beta, covariance, q, plain, restricted)


def maximise(
    model: BlockModel,
    start: Array,
    *,
    restricted: bool = True,
    fixed: NDArray[np.bool_] | None = None,
    feasible: Feasible | None = None,
    bounded: bool = True,
) -> Maximum:
    """Maximise the (restricted) likelihood over theta by Fisher scoring with step-halving.

    With `bounded` every theta stays at 0 or above and one that is held at 0 is let go when the likelihood
    rises from there. `feasible` refuses other values of theta. Entries marked in `fixed` do not move.
    """
    held = np.zeros(model.m, dtype=bool) if fixed is None else fixed

    def height(fit: BlockFit) -> float:
        return fit.restricted_log_likelihood if restricted else fit.log_likelihood

    fit = fit_blocks(model, start)
    for _ in range(200):
        theta = fit.theta
        score, information = _derive(model, fit, restricted)
        free = ~held
        if bounded:
            free &= ~((theta <= 0.0) & (score <= 0.0))
        if not free.any():
            return Maximum(fit, height(fit), True)
        step = np.zeros(model.m)
        step[free] = np.linalg.lstsq(information[np.ix_(free, free)], score[free], rcond=None)[0]
        if float(step @ score) < 1e-13:
            return Maximum(fit, height(fit), True)
        better = _climb(model, fit, step, height, feasible, bounded)
        if better is None:
            return Maximum(fit, height(fit), float(step @ score) < 1e-8)
        fit = better
    return Maximum(fit, height(fit), False)


def expected_slopes(model: BlockModel, theta: Array) -> Array:
    """tr(P G_a) for every part: by how much E(Q) rises per unit of theta_a. Moment estimators divide by it."""
    fit = fit_blocks(model, theta)
    total = np.zeros(model.m)
    for batch in model.batches:
        inverse = np.linalg.inv(_assemble(batch, theta))
        wx = inverse @ batch.x
        first = (wx.swapaxes(1, 2) @ (batch.parts @ wx)).sum(axis=1)
        total += np.trace(inverse @ batch.parts, axis1=2, axis2=3).sum(axis=1)
        total -= np.einsum("pq,aqp->a", fit.covariance, first)
    return total


def trace_of_projection(model: BlockModel, theta: Array) -> float:
    """tr(P) with P = M^-1 - M^-1 X (X'M^-1X)^-1 X'M^-1, for the typical variance (k - p)/tr(P)."""
    covariance = fit_blocks(model, theta).covariance
    total, squares = 0.0, np.zeros((model.p, model.p))
    for batch in model.batches:
        inverse = np.linalg.inv(_assemble(batch, theta))
        wx = inverse @ batch.x
        total += float(np.trace(inverse, axis1=1, axis2=2).sum())
        squares += np.einsum("gnp,gnq->pq", wx, wx)
    return total - float(np.trace(covariance @ squares))


def _climb(
    model: BlockModel,
    fit: BlockFit,
    step: Array,
    height: Callable[[BlockFit], float],
    feasible: Feasible | None,
    bounded: bool,
) -> BlockFit | None:
    """The first of the full step, half of it, ... that does not lower the likelihood; None when there is
    none.
    """
    for halvings in range(40):
        theta = fit.theta + step * 0.5**halvings
        if bounded:
            theta = np.maximum(theta, 0.0)
        if feasible is not None and not feasible(theta):
            continue
        trial = fit_blocks(model, theta)
        if height(trial) > height(fit):
            return trial
    return None


def _derive(model: BlockModel, fit: BlockFit, restricted: bool) -> tuple[Array, Array]:
    """Score (m) and expected information (m, m) of theta."""
    m, p = model.m, model.p
    score = np.zeros(m)
    information = np.zeros((m, m))
    first = np.zeros((m, p, p))  # X'M^-1 G_a M^-1 X
    second = np.zeros((m, m, p, p))  # X'M^-1 G_a M^-1 G_b M^-1 X
    for batch in model.batches:
        inverse = np.linalg.inv(_assemble(batch, fit.theta))
        weighted = inverse @ (batch.y - batch.x @ fit.beta)[:, :, None]
        products = inverse @ batch.parts  # (m, g, n, n): M^-1 G_a
        score += ((batch.parts @ weighted) * weighted).sum(axis=(1, 2, 3))
        score -= np.trace(products, axis1=2, axis2=3).sum(axis=1)
        information += products.reshape(m, -1) @ products.swapaxes(2, 3).reshape(m, -1).T
        if restricted:
            wx = inverse @ batch.x
            gx = batch.parts @ wx  # G_a M^-1 X
            first += (wx.swapaxes(1, 2) @ gx).sum(axis=1)
            left = gx.transpose(0, 3, 1, 2).reshape(m * p, -1)
            right = (inverse @ gx).transpose(0, 3, 1, 2).reshape(m * p, -1)
            second += (left @ right.T).reshape(m, p, m, p).swapaxes(1, 2)
    if restricted:
        c = fit.covariance
        score += np.einsum("pq,aqp->a", c, first)
        information -= 2.0 * np.einsum("pq,abqp->ab", c, second)
        turned = c @ first
        information += np.einsum("apq,bqp->ab", turned, turned)
    return 0.5 * score, 0.5 * information


def _assemble(batch: Batch, theta: Array) -> Array:
    return np.asarray(batch.v + np.einsum("m,mgij->gij", theta, batch.parts), dtype=np.float64)


def _factor(matrices: Array) -> Array:
    try:
        return np.asarray(np.linalg.cholesky(matrices), dtype=np.float64)
    except np.linalg.LinAlgError as error:
        raise NumberProblem(
            "The covariance of the results of a study is not positive definite.",
            hint="A covariance cannot be larger than its two variances allow: check the correlation.",
        ) from error
