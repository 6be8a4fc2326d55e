"""How much does the pooled effect hang on single results? Leave-one-out, cumulative, influence, shrunken
effects.

Sources: Viechtbauer & Cheung 2010 (outlier and influence diagnostics, tau^2 re-estimated on deletion);
Raudenbush & Bryk 1985 (empirical Bayes estimates of the single true effects).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from evidence.errors import NumberProblem
from evidence.statistics.heterogeneity import Array
from evidence.statistics.pooling import Pooled, check_results, pool
from evidence.statistics.quantiles import chi2_tail, normal_quantile


@dataclass(frozen=True, slots=True)
class Influence:
    """Diagnostics of one result (Viechtbauer & Cheung 2010); `tau2_without` etc. are the fit without it.

    `residual` and `standardised` use the full fit, `deleted_residual` and `studentised` the fit without the
    result. `flagged` when DFFITS, Cook's distance, the hat value or DFBETAS passes its usual bound.
    """

    studentised: float
    deleted_residual: float
    deleted_se: float
    residual: float
    standardised: float
    dffits: float
    cook: float
    covariance_ratio: float
    dfbetas: float
    hat: float
    tau2_without: float
    q_without: float
    flagged: bool


@dataclass(frozen=True, slots=True)
class Shrunken:
    """Best guess of the true effect of one study: its own result drawn towards the pooled effect."""

    estimate: float
    se: float
    low: float
    high: float


def leave_one_out(
    estimates: ArrayLike,
    variances: ArrayLike,
    *,
    labels: Sequence[str] | None = None,
    tau2_method: str | None = "REML",
    interval: str = "knapp_hartung",
    level: float = 0.95,
) -> tuple[Pooled, ...]:
    """Pool all results but one, for each in turn, in input order. `tau2_method` None is the common-effect
    model.

    Raises:
        NumberProblem: unusable figures, or fewer than two results.
    """
    y, v, _ = check_results(estimates, variances, labels)
    if y.size < 2:
        raise NumberProblem("With one result there is nothing left when it is left out.")
    return tuple(
        pool(np.delete(y, i), np.delete(v, i), tau2_method=tau2_method, interval=interval, level=level)
        for i in range(y.size)
    )


def cumulate(
    estimates: ArrayLike,
    variances: ArrayLike,
    *,
    order: Sequence[float] | Sequence[str] | None = None,
    labels: Sequence[str] | None = None,
    tau2_method: str | None = "REML",
    interval: str = "knapp_hartung",
    level: float = 0.95,
) -> tuple[tuple[int, ...], tuple[Pooled, ...]]:
    """Pool the first, the first two, ... results; return the input positions in that order and the pooled
    effects.

    `order` holds one sortable value a result, such as its year; equal values keep input order.

    Raises:
        NumberProblem: unusable figures, or an order of another length.
    """
    y, v, _ = check_results(estimates, variances, labels)
    keys = np.arange(y.size) if order is None else np.asarray(order)
    if keys.shape != y.shape:
        raise NumberProblem(f"There are {y.size} effects but {keys.size} values to order them by.")
    rows = np.argsort(keys, kind="stable")
    steps = (rows[: i + 1] for i in range(y.size))
    return (
        tuple(int(row) for row in rows),
        tuple(
            pool(y[step], v[step], tau2_method=tau2_method, interval=interval, level=level) for step in steps
        ),
    )


def measure_influence(
    estimates: ArrayLike,
    variances: ArrayLike,
    *,
    labels: Sequence[str] | None = None,
    tau2_method: str | None = "REML",
) -> tuple[Influence, ...]:
    """Return the diagnostics of every result, in input order.

    Raises:
        NumberProblem: unusable figures, or fewer than three results.
    """
    y, v, _ = check_results(estimates, variances, labels)
    k = y.size
    if k < 3:
        raise NumberProblem("Influence needs at least three results.")
    full = pool(y, v, tau2_method=tau2_method, interval="wald")
    without = leave_one_out(y, v, tau2_method=tau2_method, interval="wald")
    bounds = (3.0 * math.sqrt(1.0 / (k - 1)), 3.0 / k)
    return tuple(_diagnose(y, v, i, full, rest, bounds) for i, rest in enumerate(without))


def _diagnose(
    y: Array, v: Array, i: int, full: Pooled, rest: Pooled, bounds: tuple[float, float]
) -> Influence:
    shift = full.estimate - rest.estimate
    hat = full.weights[i]
    deleted_residual = float(y[i]) - rest.estimate
    deleted_se = math.sqrt(float(v[i]) + rest.tau2 + rest.se**2)
    residual = float(y[i]) - full.estimate
    # Variance of y - mu under inverse-variance weights: v + tau^2 - 1/sum(w). It cannot be below 0 but for
    # rounding.
    residual_variance = max(float(v[i]) + full.tau2 - full.se**2, 1e-300)
    dffits = shift / math.sqrt(hat * (rest.tau2 + float(v[i])))
    cook = (shift / full.se) ** 2
    dfbetas = shift * math.sqrt(float(np.sum(1.0 / (v + rest.tau2))))
    flagged = abs(dffits) > bounds[0] or chi2_tail(cook, 1) < 0.5 or hat > bounds[1] or abs(dfbetas) > 1.0
    return Influence(
        studentised=deleted_residual / deleted_se,
        deleted_residual=deleted_residual,
        deleted_se=deleted_se,
        residual=residual,
        standardised=residual / math.sqrt(residual_variance),
        dffits=dffits,
        cook=cook,
        covariance_ratio=(rest.se / full.se) ** 2,
        dfbetas=dfbetas,
        hat=hat,
        tau2_without=rest.tau2,
        q_without=rest.q,
        flagged=flagged,
    )


def shrink(
    estimates: ArrayLike,
    variances: ArrayLike,
    *,
    labels: Sequence[str] | None = None,
    tau2_method: str = "REML",
    level: float = 0.95,
) -> tuple[Shrunken, ...]:
    """Return the empirical Bayes estimate of each study's true effect, with normal intervals.

    Raises:
        NumberProblem: unusable figures.
    """
    y, v, _ = check_results(estimates, variances, labels)
    full = pool(y, v, tau2_method=tau2_method, interval="wald", level=level)
    own = full.tau2 / (full.tau2 + v)
    centres = own * y + (1.0 - own) * full.estimate
    ses = np.sqrt(own * v + ((1.0 - own) * full.se) ** 2)
    width = normal_quantile(0.5 + level / 2.0)
    return tuple(
        Shrunken(centre, se, centre - width * se, centre + width * se)
        for centre, se in zip(centres.tolist(), ses.tolist(), strict=True)
    )
