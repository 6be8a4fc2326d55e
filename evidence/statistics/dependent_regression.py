"""Meta-regression where several results come from one study: a three-level model with robust standard errors.

Sources: Van den Noortgate et al. 2013 (model); Pustejovsky & Tipton 2018, 2022 (CR2, Satterthwaite df, joint test).
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

from numpy.typing import ArrayLike

from evidence.errors import NumberProblem
from evidence.statistics.dependence import correlate, group_rows
from evidence.statistics.dependent_pooling import ASSUMED_RHO
from evidence.statistics.multilevel import fit_multilevel
from evidence.statistics.pooling import check_results
from evidence.statistics.quantiles import check_level
from evidence.statistics.regression import Coefficient, build_design
from evidence.statistics.robust import HotellingTest, compare_with_zero, estimate_robust, robust_interval


@dataclass(frozen=True, slots=True)
class DependentRegression:
    """Coefficients with robust (CR2) standard errors; `df` are their Satterthwaite degrees of freedom, in step.

    `test` is that all moderators together are 0, None where there are too few studies for it. `components` are the
    variances between studies and between the results of a study that the moderators leave.
    """

    k: int
    k_studies: int
    coefficients: tuple[Coefficient, ...]
    df: tuple[float, ...]
    components: tuple[float, ...]
    test: HotellingTest | None
    rho: float
    converged: bool
    notes: tuple[str, ...]


def regress_dependent(
    estimates: ArrayLike,
    variances: ArrayLike,
    study_ids: Sequence[Hashable],
    moderators: Mapping[str, ArrayLike],
    *,
    intercept: bool = True,
    rho: float | None = None,
    level: float = 0.95,
) -> DependentRegression:
    """Regress k effects from fewer studies on moderators (name -> k numbers).

    Args:
        rho: correlation between sampling errors of one study; 0.5 is assumed, and said, when it is None.

    Raises:
        NumberProblem: unusable figures, moderators that cannot be told apart, or too few studies.
    """
    check_level(level)
    y, v, _ = check_results(estimates, variances, [str(one) for one in study_ids])
    clusters = group_rows(study_ids)
    names, x = build_design(y.size, moderators, intercept=intercept)
    if len(clusters.rows) <= x.shape[1] or clusters.largest == 1:
        raise NumberProblem(
            f"{len(clusters.rows)} studies with at most {clusters.largest} results each are too few for "
            f"{x.shape[1]} coefficients of a three-level model.",
            hint="Use fewer moderators, or one result a study.",
        )
    assumed = ASSUMED_RHO if rho is None else rho
    fitted = fit_multilevel(y, correlate(v, clusters, assumed), (study_ids, range(y.size)), x=x)
    phi = fitted.working_covariance()
    robust = estimate_robust(x, y, fitted.beta, fitted.covariance, clusters.rows, phi)
    described = []
    for c, name in enumerate(names):
        low, high, p = robust_interval(robust, c, level)
        estimate, se = float(robust.beta[c]), float(robust.se[c])
        described.append(Coefficient(name, estimate, se, low, high, estimate / se, p))
    tested = list(range(int(intercept), len(names)))
    notes = [f"Results of one study were taken to correlate {assumed:g} with each other (assumed)."]
    test = None
    try:
        test = compare_with_zero(robust, tested) if tested else None
    except NumberProblem as problem:
        notes.append(str(problem))
    if float(robust.df.min()) < 4.0:
        notes.append("Fewer than four degrees of freedom: interval and p of that coefficient are rough.")
    if not fitted.converged:
        notes.append("The search for the variances did not converge.")
    return DependentRegression(
        y.size,
        len(clusters.rows),
        tuple(described),
        tuple(robust.df.tolist()),
        fitted.components,
        test,
        assumed,
        fitted.converged,
        tuple(notes),
    )
