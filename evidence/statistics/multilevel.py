"""Results nested in studies (and in arms of studies): random effects at every level, and correlated sampling
errors.

Model: y_ij = x_ij beta + u_i + w_ij + e_ij, u and w with their own variances, e with covariance V inside a
study. Sources: Konstantopoulos 2011; Van den Noortgate et al. 2013; Cheung 2014 (I^2 by level); Pustejovsky &
Tipton 2022 (correlated and hierarchical effects).
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from evidence.errors import NumberProblem
from evidence.statistics.blocks import (
    BlockModel,
    Maximum,
    build_model,
    fit_blocks,
    maximise,
    trace_of_projection,
)
from evidence.statistics.dependence import Clusters, group_rows
from evidence.statistics.heterogeneity import Array
from evidence.statistics.quantiles import chi2_quantile, chi2_tail


@dataclass(frozen=True, slots=True)
class Multilevel:
    """A fitted model. `components` are the variances of the levels, outermost first; `i2` their shares in
    percent.

    `q` is the heterogeneity statistic of the model without random effects, with `q_df` and `q_p`.
    """

    k: int
    beta: Array
    covariance: Array
    components: tuple[float, ...]
    i2: tuple[float, ...]
    typical_variance: float
    q: float
    q_df: int
    q_p: float
    log_likelihood: float
    restricted: bool
    converged: bool
    model: BlockModel
    clusters: Clusters
    v: tuple[Array, ...]
    levels: tuple[tuple[Array, ...], ...]

    @property
    def aic(self) -> float:
        return 2.0 * (self.beta.size + len(self.components)) - 2.0 * self.log_likelihood

    @property
    def bic(self) -> float:
        size = self.k - self.beta.size if self.restricted else self.k
        count = self.beta.size + len(self.components)
        return count * float(np.log(size)) - 2.0 * self.log_likelihood

    def working_covariance(self) -> list[Array]:
        """The fitted covariance of every study: V + sum of the components."""
        return [
            block + sum(s * part[b] for s, part in zip(self.components, self.levels, strict=True))
            for b, block in enumerate(self.v)
        ]


@dataclass(frozen=True, slots=True)
class RatioTest:
    """Likelihood ratio test against the model without one component (chi-square, 1 df: conservative at the
    bound).
    """

    statistic: float
    p: float


def fit_multilevel(
    y: Array,
    v: Sequence[Array],
    levels: Sequence[Sequence[Hashable]],
    *,
    x: Array | None = None,
    restricted: bool = True,
) -> Multilevel:
    """Fit a model with a random effect at each level.

    Args:
        y: k effects.
        v: sampling covariance blocks, one per value of the outermost level, in order of first appearance.
        levels: ids of each result at each level, outermost first, e.g. (study ids, result ids).
        x: design (k, p); a constant without it.

    Raises:
        NumberProblem: inner ids shared by two outer groups where they would be correlated across studies,
            unusable covariance, or a component that the data cannot tell from another.
    """
    clusters = group_rows(levels[0])
    parts = [_membership(ids, clusters) for ids in levels]
    _refuse_twins(parts, len(levels))
    design = np.ones((y.size, 1)) if x is None else x
    df = y.size - design.shape[1]
    if df < 1:
        raise NumberProblem(f"{y.size} results cannot support {design.shape[1]} coefficients.")
    model = build_model(y, design, clusters.rows, v, parts)
    best = _search(model, restricted, None)
    flat = fit_blocks(model, np.zeros(model.m))
    typical = df / trace_of_projection(model, np.zeros(model.m))
    components = tuple(best.fit.theta.tolist())
    return Multilevel(
        k=y.size,
        beta=best.fit.beta,
        covariance=best.fit.covariance,
        components=components,
        i2=tuple(100.0 * one / (sum(components) + typical) for one in components),
        typical_variance=typical,
        q=flat.q,
        q_df=df,
        q_p=chi2_tail(flat.q, df),
        log_likelihood=best.log_likelihood,
        restricted=restricted,
        converged=best.converged,
        model=model,
        clusters=clusters,
        v=tuple(v),
        levels=tuple(tuple(part) for part in parts),
    )


def drop_component(fitted: Multilevel, which: int) -> RatioTest:
    """Compare with the model that has no random effect at this level."""
    without = _search(fitted.model, fitted.restricted, (which, 0.0))
    ratio = max(0.0, 2.0 * (fitted.log_likelihood - without.log_likelihood))
    return RatioTest(ratio, chi2_tail(ratio, 1))


def profile_component(fitted: Multilevel, which: int, level: float = 0.95) -> tuple[float, float]:
    """Profile likelihood interval of one component: the others are re-estimated at every value tried."""
    bar = fitted.log_likelihood - chi2_quantile(level, 1) / 2.0

    def above(value: float) -> bool:
        return _search(fitted.model, fitted.restricted, (which, value)).log_likelihood >= bar

    peak = fitted.components[which]
    low = 0.0 if above(0.0) else _bisect(above, peak, 0.0)
    outside = 2.0 * peak + fitted.typical_variance
    while above(outside):
        outside *= 2.0
    return low, _bisect(above, peak, outside)


def _bisect(above: Callable[[float], bool], inside: float, outside: float) -> float:
    for _ in range(60):
        middle = (inside + outside) / 2.0
        if abs(outside - inside) <= 1e-7 * middle:
            break
        inside, outside = (middle, outside) if above(middle) else (inside, middle)
    return (inside + outside) / 2.0


def _membership(ids: Sequence[Hashable], clusters: Clusters) -> list[Array]:
    """For each study, 1 where two of its results share the id, otherwise 0."""
    parts = []
    for rows in clusters.rows:
        own = [ids[int(row)] for row in rows]
        code = np.array([own.index(one) for one in own])
        parts.append((code[:, None] == code[None, :]).astype(np.float64))
    return parts


def _refuse_twins(parts: Sequence[Sequence[Array]], count: int) -> None:
    for a in range(count):
        for b in range(a):
            if all(np.array_equal(one, other) for one, other in zip(parts[a], parts[b], strict=True)):
                raise NumberProblem(
                    "Two levels group the results in the same way, so their variances cannot be told apart.",
                    hint="Leave one level out.",
                )


def _search(model: BlockModel, restricted: bool, pinned: tuple[int, float] | None) -> Maximum:
    """Search from several starts: likelihoods of nested components can have more than one peak."""
    free = [m for m in range(model.m) if pinned is None or m != pinned[0]]
    fixed = np.array([m not in free for m in range(model.m)])
    size = _spread(model)
    starts = [np.full(model.m, size / max(len(free), 1))]
    starts += [np.where(np.arange(model.m) == m, size, 0.05 * size) for m in free] if len(free) > 1 else []
    if pinned is not None:
        for start in starts:
            start[pinned[0]] = pinned[1]
    promising = sorted(starts, key=lambda start: fit_blocks(model, start).restricted_log_likelihood)[-2:]
    found = [maximise(model, start, restricted=restricted, fixed=fixed) for start in promising]
    return max(found, key=lambda one: one.log_likelihood)


def _spread(model: BlockModel) -> float:
    """A first guess of the total between-result variance: what the variance of y exceeds the mean of v by."""
    y = np.concatenate([batch.y.ravel() for batch in model.batches])
    v = np.concatenate([np.diagonal(batch.v, axis1=1, axis2=2).ravel() for batch in model.batches])
    return max(float(y.var() - v.mean()), 0.1 * float(v.mean()))
