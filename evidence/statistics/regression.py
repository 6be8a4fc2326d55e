"""Does the effect change with a property of the study? Meta-regression and subgroups.

Model: y = X beta + u + e, u ~ N(0, tau^2), e ~ N(0, v). Sources: Viechtbauer 2010, J Stat Softw 36(3),
section 2; Knapp & Hartung 2003 for the t and F tests; Raudenbush 2009 for the share of tau^2 accounted for;
Borenstein & Higgins 2013 for subgroups with separate or with one common tau^2.
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from evidence.errors import NumberProblem
from evidence.statistics.heterogeneity import Array, estimate_tau2, fit_weighted, typical_variance
from evidence.statistics.pooling import (
    Pooled,
    check_results,
    common_effect,
    pool,
    standard_error_factor,
)
from evidence.statistics.quantiles import (
    check_level,
    chi2_tail,
    f_tail,
    normal_quantile,
    normal_two_sided,
    t_quantile,
    t_two_sided,
)


@dataclass(frozen=True, slots=True)
class Coefficient:
    """One coefficient, in units of the effect per unit of the moderator."""

    name: str
    estimate: float
    se: float
    low: float
    high: float
    statistic: float
    p: float


@dataclass(frozen=True, slots=True)
class JointTest:
    """A test that several coefficients are all 0: chi-square when `df2` is None, else F(df1, df2)."""

    statistic: float
    df1: int
    df2: int | None
    p: float


@dataclass(frozen=True, slots=True)
class Regression:
    """A meta-regression. `r2` is the share of tau^2 (percent) that the moderators account for; `test` leaves
    the intercept out; `residual_q` is the heterogeneity left over, with its df and p. None where a figure
    does not exist.
    """

    k: int
    coefficients: tuple[Coefficient, ...]
    covariance: tuple[tuple[float, ...], ...]
    df: float | None
    level: float
    interval_method: str
    tau2_method: str | None
    tau2: float
    tau2_without_moderators: float | None
    r2: float | None
    i2_residual: float | None
    test: JointTest | None
    residual_q: float
    residual_df: int
    residual_p: float
    guard_applied: bool
    converged: bool
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Subgroups:
    """Pooled effect in each group (`names` and `groups` in step) and the test that the groups differ.

    `tau2` is the common between-study variance, or None when each group has its own.
    """

    names: tuple[str, ...]
    groups: tuple[Pooled, ...]
    tau2: float | None
    test: JointTest
    notes: tuple[str, ...]


def regress(
    estimates: ArrayLike,
    variances: ArrayLike,
    moderators: Mapping[str, ArrayLike],
    *,
    intercept: bool = True,
    labels: Sequence[str] | None = None,
    tau2_method: str | None = "REML",
    interval: str = "knapp_hartung",
    level: float = 0.95,
) -> Regression:
    """Regress k effects on moderators (name -> k numbers); `code_groups` turns group names into numbers.

    `tau2_method` None is the common-effect model. Intervals as for `pool`; the guard keeps the Knapp-Hartung
    factor at 1 or above.

    Raises:
        NumberProblem: unusable figures, a missing moderator value, too few results, or moderators that cannot
        be told apart.
    """
    y, v, _ = check_results(estimates, variances, labels)
    check_level(level)
    wanted = len(moderators) + int(intercept)
    df = y.size - wanted
    if df < 1:  # before the design, whose columns so few results cannot tell apart either
        result = "1 result" if y.size == 1 else f"{y.size} results"
        raise NumberProblem(f"{result} cannot support {wanted} coefficients.", hint="Use fewer moderators.")
    names, x = build_design(y.size, moderators, intercept=intercept)
    spread = estimate_tau2(y, v, tau2_method, x) if tau2_method else None
    tau2 = spread.value if spread else 0.0
    fit = fit_weighted(y, 1.0 / (v + tau2), x)
    factor, guard, t_df = 1.0, False, None
    if interval != "wald" and spread:
        factor, guard = standard_error_factor(fit.q, df, guarded=interval != "knapp_hartung_plain")
        t_df = float(df)
    covariance = factor * fit.covariance
    bare = estimate_tau2(y, v, tau2_method).value if tau2_method and intercept else None
    residual_q = fit_weighted(y, 1.0 / v, x).q
    return Regression(
        k=y.size,
        coefficients=tuple(_describe(names, fit.beta, covariance, t_df, level)),
        covariance=tuple(map(tuple, covariance.tolist())),
        df=t_df,
        level=level,
        interval_method=interval if t_df else "wald",
        tau2_method=tau2_method,
        tau2=tau2,
        tau2_without_moderators=bare,
        r2=None if bare is None else max(0.0, 100.0 * (bare - tau2) / bare) if bare > 0.0 else 0.0,
        i2_residual=100.0 * tau2 / (tau2 + typical_variance(v, x)) if spread else None,
        test=_test_jointly(fit.beta, covariance, int(intercept), df if t_df else None),
        residual_q=residual_q,
        residual_df=df,
        residual_p=chi2_tail(residual_q, df),
        guard_applied=guard,
        converged=spread.converged if spread else True,
        notes=_note_limits(y.size, x.shape[1], guard, spread is None or spread.converged),
    )


def compare_subgroups(
    estimates: ArrayLike,
    variances: ArrayLike,
    groups: Sequence[Hashable],
    *,
    labels: Sequence[str] | None = None,
    tau2_method: str | None = "REML",
    common_tau2: bool = False,
    interval: str = "knapp_hartung",
    level: float = 0.95,
) -> Subgroups:
    """Pool each group and test the difference between groups (chi-square on the plain standard errors).

    With `common_tau2` one between-study variance is estimated across groups, which is steadier when groups
    are small.

    Raises:
        NumberProblem: unusable figures, or fewer than two groups.
    """
    y, v, _ = check_results(estimates, variances, labels)
    if len(groups) != y.size:
        raise NumberProblem(f"There are {y.size} effects but {len(groups)} group names.")
    names = sorted({str(group) for group in groups})
    if len(names) < 2:
        raise NumberProblem("There is only one group, so there is nothing to compare.")
    of_group = np.array([str(group) for group in groups])
    members = [np.flatnonzero(of_group == name) for name in names]
    tau2: float | None = None
    if common_tau2 and tau2_method:
        tau2 = regress(
            y, v, {n: of_group == n for n in names}, intercept=False, tau2_method=tau2_method, interval="wald"
        ).tau2
    pooled, plain = [], []
    for rows in members:
        if tau2 is not None or not tau2_method:
            one = common_effect(y[rows], v[rows] + (tau2 or 0.0), level=level)
            pooled.append(one)
            plain.append(one)
        else:
            pooled.append(pool(y[rows], v[rows], tau2_method=tau2_method, interval=interval, level=level))
            plain.append(pool(y[rows], v[rows], tau2_method=tau2_method, interval="wald", level=level))
    between = common_effect([one.estimate for one in plain], [one.se**2 for one in plain])
    thin = [name for name, rows in zip(names, members, strict=True) if rows.size < 3]
    notes = [f"Fewer than three results in group {name}: read it with care." for name in thin]
    notes.append("A difference between subgroups is observational: groups may differ in other ways too.")
    return Subgroups(
        tuple(names),
        tuple(pooled),
        tau2,
        JointTest(between.q, between.q_df, None, between.q_p),
        tuple(notes),
    )


def build_design(
    k: int, moderators: Mapping[str, ArrayLike], *, intercept: bool = True
) -> tuple[tuple[str, ...], Array]:
    """Return column names and the k x p design matrix.

    Raises:
        NumberProblem: a moderator of another length, with a missing value, or that repeats what others say.
    """
    columns = [np.ones(k)] if intercept else []
    names = ["intercept"] if intercept else []
    for name, values in moderators.items():
        column = np.asarray(values, dtype=np.float64)
        if column.shape != (k,):
            raise NumberProblem(f"There are {k} effects but {column.size} values.", where=f"moderator {name}")
        if not np.isfinite(column).all():
            raise NumberProblem(
                "A value is missing or not a number.",
                where=f"moderator {name}, result {int(np.argmin(np.isfinite(column))) + 1}",
                hint="Leave that result out, or enter the value.",
            )
        columns.append(column)
        names.append(name)
    if not columns:
        raise NumberProblem("There is neither an intercept nor a moderator.")
    x = np.column_stack(columns)
    size = np.linalg.norm(x, axis=0)
    if (size == 0.0).any() or np.linalg.matrix_rank(x / size) < x.shape[1]:
        raise NumberProblem(
            f"The moderators cannot be told apart in these results ({', '.join(names)}).",
            hint="One is constant or repeats others: leave it out.",
        )
    return tuple(names), x


def code_groups(name: str, values: Sequence[Hashable]) -> dict[str, Array]:
    """Return 0/1 columns for all groups but the first in sort order, which becomes the reference."""
    texts = [str(value) for value in values]
    return {
        f"{name}{level}": np.array([float(t == level) for t in texts]) for level in sorted(set(texts))[1:]
    }


def _describe(
    names: Sequence[str], beta: Array, covariance: Array, df: float | None, level: float
) -> list[Coefficient]:
    upper = check_level(level)
    quantile = normal_quantile(upper) if df is None else t_quantile(upper, df)
    described = []
    for name, estimate, variance in zip(names, beta.tolist(), np.diag(covariance).tolist(), strict=True):
        se = float(np.sqrt(variance))
        if se == 0.0:
            raise NumberProblem(
                "The effects lie on one line: without its guard the Knapp-Hartung standard error is 0.",
                hint="Use the guarded interval.",
            )
        ratio = estimate / se
        p = normal_two_sided(ratio) if df is None else t_two_sided(ratio, df)
        described.append(
            Coefficient(name, estimate, se, estimate - quantile * se, estimate + quantile * se, ratio, p)
        )
    return described


def _test_jointly(beta: Array, covariance: Array, skip: int, df2: int | None) -> JointTest | None:
    df1 = beta.size - skip
    if df1 < 1:
        return None
    chosen = beta[skip:]
    chi2 = float(chosen @ np.linalg.solve(covariance[skip:, skip:], chosen))
    if df2 is None:
        return JointTest(chi2, df1, None, chi2_tail(chi2, df1))
    return JointTest(chi2 / df1, df1, df2, f_tail(chi2 / df1, df1, df2))


def _note_limits(k: int, p: int, guard: bool, converged: bool) -> tuple[str, ...]:
    notes = []
    if k < 10 * max(p - 1, 1):
        notes.append(
            f"Only {k} results for {p} coefficients: fewer than ten a moderator, so read it as a hint."
        )
    if guard:
        notes.append("The Knapp-Hartung standard errors were raised to the plain ones.")
    if not converged:
        notes.append("The search for the between-study variance did not converge.")
    return tuple(notes)
