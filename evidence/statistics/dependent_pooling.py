"""One pooled effect from results of which several come from the same study.

The way is chosen here and printed with the answer: a three-level model with robust standard errors where
there are at least four studies and some study gives several results; one aggregated result a study where
there are fewer studies; plain pooling where no study repeats. Sources: Van den Noortgate et al. 2013;
Pustejovsky & Tipton 2022 (correlated and hierarchical effects with CR2 and Satterthwaite df).
"""

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from evidence.errors import NumberProblem
from evidence.statistics.dependence import (
    Clusters,
    aggregate_blocks,
    correlate,
    group_rows,
    split_covariance,
)
from evidence.statistics.heterogeneity import Array
from evidence.statistics.multilevel import Multilevel, fit_multilevel
from evidence.statistics.pooling import Pooled, check_results, pool, predict_interval
from evidence.statistics.quantiles import check_level
from evidence.statistics.robust import estimate_robust, robust_interval

WAYS = ("auto", "three_level", "aggregate")
ENOUGH_STUDIES = 4
ASSUMED_RHO = 0.5  # common practice, no source: midway, and always printed


@dataclass(frozen=True, slots=True)
class DependentPooled:
    """A pooled effect of dependent results, and how it was reached.

    `way` is "three_level", "aggregate" or "independent". `components` are the variances between the levels,
    outermost (studies) first; `i2` their shares in percent. `rho` is the correlation assumed inside studies,
    None when the covariances were given. `weights` are the shares of the studies named in `studies`.
    """

    way: str
    k: int
    k_studies: int
    estimate: float
    se: float
    low: float
    high: float
    df: float | None
    p: float
    level: float
    components: tuple[float, ...]
    i2: tuple[float, ...]
    q: float
    q_df: int
    q_p: float
    prediction_low: float | None
    prediction_high: float | None
    studies: tuple[str, ...]
    weights: tuple[float, ...]
    rho: float | None
    converged: bool
    notes: tuple[str, ...]


def pool_dependent(
    estimates: ArrayLike,
    variances: ArrayLike,
    study_ids: Sequence[Hashable],
    *,
    arm_ids: Sequence[Hashable] | None = None,
    rho: float | None = None,
    way: str = "auto",
    level: float = 0.95,
) -> DependentPooled:
    """Pool results of which several may come from one study.

    Args:
        estimates: k effects on one scale.
        variances: k sampling variances, or the full k x k covariance matrix (0 between studies).
        study_ids: k study ids.
        arm_ids: k ids of arms (or samples) inside studies, for a further level; unique across studies or not.
        rho: correlation between sampling errors of one study when only variances are given (0.5 if not said).
        way: "auto" (see the module), "three_level" or "aggregate".
        level: 0.95 for 95 % intervals.

    Raises:
        NumberProblem: unusable figures, a covariance that is not positive definite, too few studies for the
        way asked.
    """
    check_level(level)
    if way not in WAYS:
        raise NumberProblem(f"No way of pooling is called {way!r}.", hint=f"Choose one of {', '.join(WAYS)}.")
    given = np.asarray(variances, dtype=np.float64)
    diagonal = np.diag(given) if given.ndim == 2 else given
    y, v, _ = check_results(estimates, diagonal, [str(one) for one in study_ids])
    clusters = group_rows(study_ids)
    notes: list[str] = []
    if given.ndim == 2:
        blocks, rho = split_covariance(given, clusters, y.size), None
    else:
        assumed = ASSUMED_RHO if rho is None else rho
        blocks = correlate(v, clusters, assumed)
        rho = assumed if clusters.largest > 1 else None
        if rho is not None:
            notes.append(f"Results of one study were taken to correlate {rho:g} with each other (assumed).")
    m = len(clusters.rows)
    if clusters.largest == 1 and way == "auto":
        notes.append("No study gives more than one result, so they were pooled as independent.")
        return _from_pooled(pool(y, v, level=level), "independent", y.size, clusters, rho, notes)
    if way == "aggregate" or (way == "auto" and m < ENOUGH_STUDIES):
        if way == "auto":
            notes.append(
                f"Only {m} studies: too few to estimate the spread inside and between them, so each study "
                "was first combined into one result (the mean of its results)."
            )
        composite = aggregate_blocks(y, blocks, clusters, "mean")
        one = pool(composite.estimates, composite.variances, level=level)
        return _from_pooled(one, "aggregate", y.size, clusters, rho, notes)
    if m < 2 or clusters.largest == 1:
        raise NumberProblem(
            "A three-level model needs several studies and a study with several results.",
            hint='Leave the way to "auto".',
        )
    return _pool_levels(y, blocks, study_ids, arm_ids, clusters, rho, notes, level)


def vary_correlation(
    estimates: ArrayLike,
    variances: ArrayLike,
    study_ids: Sequence[Hashable],
    *,
    rhos: Sequence[float] = (0.2, ASSUMED_RHO, 0.8),
    way: str = "auto",
    level: float = 0.95,
) -> tuple[DependentPooled, ...]:
    """Pool under each assumed correlation: if the verdict changes along the grid, it hangs on the assumption.

    Raises:
        NumberProblem: as for `pool_dependent`.
    """
    return tuple(
        pool_dependent(estimates, variances, study_ids, rho=rho, way=way, level=level) for rho in rhos
    )


def _pool_levels(
    y: Array,
    blocks: list[Array],
    study_ids: Sequence[Hashable],
    arm_ids: Sequence[Hashable] | None,
    clusters: Clusters,
    rho: float | None,
    notes: list[str],
    level: float,
) -> DependentPooled:
    each = list(range(y.size))
    levels = [study_ids, arm_ids, each] if arm_ids is not None else [study_ids, each]
    fitted = fit_multilevel(y, blocks, levels)
    phi = fitted.working_covariance()
    robust = estimate_robust(np.ones((y.size, 1)), y, fitted.beta, fitted.covariance, clusters.rows, phi)
    low, high, p = robust_interval(robust, 0, level)
    estimate, se, df = float(fitted.beta[0]), float(robust.se[0]), float(robust.df[0])
    if min(float(np.linalg.solve(block, np.ones(block.shape[0])).min()) for block in phi) < 0.0:
        notes.append(
            "Under the assumed correlation some results count negatively, because a more precise result of "
            "the same study outweighs them; compare with a lower correlation."
        )
    notes.append(
        f"Three-level model ({len(clusters.rows)} studies, {y.size} results) with cluster-robust standard "
        f"errors (CR2, {df:.1f} degrees of freedom)."
    )
    if df < 4.0:
        notes.append("Fewer than four degrees of freedom: the interval and the p-value are rough.")
    if not fitted.converged:
        notes.append("The search for the variances did not converge.")
    m = len(clusters.rows)
    predicted = predict_interval(estimate, se, sum(fitted.components), m - 1, level) if m >= 3 else None
    if predicted:  # with fewer robust df: a new study is never foreseen more surely than the mean is known
        predicted = min(predicted[0], low), max(predicted[1], high)
    return DependentPooled(
        way="three_level",
        k=y.size,
        k_studies=m,
        estimate=estimate,
        se=se,
        low=low,
        high=high,
        df=df,
        p=p,
        level=level,
        components=fitted.components,
        i2=fitted.i2,
        q=fitted.q,
        q_df=fitted.q_df,
        q_p=fitted.q_p,
        prediction_low=predicted[0] if predicted else None,
        prediction_high=predicted[1] if predicted else None,
        studies=clusters.names,
        weights=_study_weights(fitted, phi),
        rho=rho,
        converged=fitted.converged,
        notes=tuple(notes),
    )


def _study_weights(fitted: Multilevel, phi: Sequence[Array]) -> tuple[float, ...]:
    totals = [float(np.linalg.solve(block, np.ones(block.shape[0])).sum()) for block in phi]
    return tuple(one / math.fsum(totals) for one in totals)


def _from_pooled(
    one: Pooled, way: str, k: int, clusters: Clusters, rho: float | None, notes: list[str]
) -> DependentPooled:
    return DependentPooled(
        way=way,
        k=k,
        k_studies=one.k,
        estimate=one.estimate,
        se=one.se,
        low=one.low,
        high=one.high,
        df=one.df,
        p=one.p,
        level=one.level,
        components=(one.tau2,),
        i2=() if one.i2 is None else (one.i2,),
        q=one.q,
        q_df=one.q_df,
        q_p=one.q_p,
        prediction_low=one.prediction_low,
        prediction_high=one.prediction_high,
        studies=clusters.names,
        weights=one.weights,
        rho=rho,
        converged=one.converged,
        notes=(*notes, *one.notes),
    )
