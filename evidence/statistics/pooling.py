"""One pooled effect from independent results, by a common-effect or a random-effects model, and its notes.

Sources: inverse variance weighting, Cochrane Handbook 10.3; Knapp & Hartung 2003; the rule that the interval
is never narrower than the plain one (the variance factor q becomes max(1, q)), Knapp & Hartung 2003 section 3
and Roever et al. 2015; prediction intervals, Higgins, Thompson & Spiegelhalter 2009 (k - 2 df) and Partlett &
Riley 2017 (k - 1 df).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from evidence.errors import NumberProblem
from evidence.statistics.heterogeneity import (
    Array,
    BetweenVariance,
    WeightedFit,
    estimate_tau2,
    fit_weighted,
    i2_from_q,
    profile_tau2,
)
from evidence.statistics.quantiles import (
    check_level,
    chi2_tail,
    normal_quantile,
    normal_two_sided,
    t_quantile,
    t_two_sided,
)

INTERVALS = ("knapp_hartung", "knapp_hartung_guarded", "knapp_hartung_plain", "wald")
PREDICTIONS = ("t_k_minus_1", "t_k_minus_1_classic", "t_k_minus_2", "normal", "none")


@dataclass(frozen=True, slots=True)
class Pooled:
    """A pooled effect on the scale of the estimates that went in.

    `se`, `low`, `high` belong to `interval_method`; `df` is None for a normal (Wald) interval. tau^2 is in
    squared units of the effect, `i2` in percent (from Q). `weights` are shares that sum to 1, in input order.
    A field is None when the figure does not exist for these data; `notes` says why, in plain sentences.
    """

    k: int
    estimate: float
    se: float
    low: float
    high: float
    df: float | None
    statistic: float
    p: float
    level: float
    model: Literal["common", "random"]
    interval_method: str
    tau2_method: str | None
    tau2: float
    tau2_low: float | None
    tau2_high: float | None
    tau: float
    i2: float | None
    h2: float | None
    q: float
    q_df: int
    q_p: float
    prediction_low: float | None
    prediction_high: float | None
    prediction_method: str
    weights: tuple[float, ...]
    guard_applied: bool
    converged: bool
    notes: tuple[str, ...]


def pool(
    estimates: ArrayLike,
    variances: ArrayLike,
    *,
    labels: Sequence[str] | None = None,
    tau2_method: str | None = "REML",
    interval: str = "knapp_hartung",
    prediction: str = "t_k_minus_1",
    level: float = 0.95,
) -> Pooled:
    """Pool independent results, by default with a random-effects model.

    Args:
        estimates: k effects, all on one scale (log scale for ratios).
        variances: their k sampling variances, all above 0.
        labels: k names, used in messages; a name that appears twice is noted, because pooling assumes
            independence.
        tau2_method: REML, DL, PM, ML, EB, SJ, HE, HS or HSk; None for the common-effect model.
        interval: "knapp_hartung" (t with k - 1 df, never narrower than the plain interval; for k = 2 the
            plain interval, with a note), "knapp_hartung_guarded" (the same at k = 2 too),
            "knapp_hartung_plain" (no guard) or "wald".
        prediction: "t_k_minus_1" (t with k - 1 df and the SE in use), "t_k_minus_1_classic" and "t_k_minus_2"
            (plain SE), "normal", or "none". None exists below k = 3.
        level: 0.95 for 95 % intervals.

    Raises:
        NumberProblem: no results, lengths that differ, a value that is not finite, a variance that is not
        above 0.
    """
    _check_choice("interval", interval, INTERVALS)
    _check_choice("prediction interval", prediction, PREDICTIONS)
    y, v, names = check_results(estimates, variances, labels)
    check_level(level)
    with np.errstate(all="ignore"):
        spread = estimate_tau2(y, v, tau2_method) if tau2_method is not None else None
        return _finish(y, v, names, spread, interval, prediction if spread else "none", level)


def common_effect(
    estimates: ArrayLike, variances: ArrayLike, *, labels: Sequence[str] | None = None, level: float = 0.95
) -> Pooled:
    """Pool independent results as estimates of one and the same effect (inverse variance; normal interval).

    Raises:
        NumberProblem: as for `pool`.
    """
    return pool(estimates, variances, labels=labels, tau2_method=None, interval="wald", level=level)


def check_results(
    estimates: ArrayLike, variances: ArrayLike, labels: Sequence[str] | None = None
) -> tuple[Array, Array, tuple[str, ...]]:
    """Return effects, variances and names as equally long, finite, usable arrays, or say what is wrong and
    where.

    Raises:
        NumberProblem: see `pool`.
    """
    y, v = _as_numbers("effects", estimates), _as_numbers("variances", variances)
    if y.size == 0:
        raise NumberProblem("There is no result to pool.", hint="Give at least one effect with its variance.")
    if y.size != v.size:
        raise NumberProblem(f"There are {y.size} effects but {v.size} variances.", hint="Give one for each.")
    if labels is not None and len(labels) != y.size:
        raise NumberProblem(
            f"There are {y.size} effects but {len(labels)} labels.", hint="Give one for each."
        )
    names = tuple(str(name) for name in labels) if labels is not None else ()
    usable = np.isfinite(y) & np.isfinite(v) & (v > 0.0)
    if not usable.all():
        i = int(np.argmin(usable))
        where = names[i] if names else f"result {i + 1}"
        if not np.isfinite(y[i]):
            raise NumberProblem("The effect is not a number.", where=where, hint="Enter it or leave it out.")
        raise NumberProblem(
            f"The variance of the effect is {v[i]:g}; it must be a number above 0.",
            where=where,
            hint="A spread of 0, or a missing one, cannot be weighed: check the figure or leave it out.",
        )
    return y, v, names


def standard_error_factor(q: float, df: int, *, guarded: bool) -> tuple[float, bool]:
    """Return the Knapp-Hartung variance factor q/df, kept at 1 or above when guarded, and whether the guard
    was needed.
    """
    factor = q / df
    return (1.0, True) if guarded and factor < 1.0 else (factor, False)


def _finish(
    y: Array,
    v: Array,
    names: tuple[str, ...],
    spread: BetweenVariance | None,
    interval: str,
    prediction: str,
    level: float,
) -> Pooled:
    k = y.size
    tau2 = spread.value if spread else 0.0
    common = fit_weighted(y, 1.0 / v)
    fit = fit_weighted(y, 1.0 / (v + tau2)) if tau2 > 0.0 else common
    estimate, plain_se = float(fit.beta[0]), float(np.sqrt(fit.covariance[0, 0]))
    if not np.isfinite([estimate, plain_se, tau2]).all() or plain_se == 0.0:
        raise NumberProblem(
            "These variances are too far apart in size to be weighed together.",
            hint="Check the smallest and the largest one.",
        )
    notes = _note_repeats(names)
    if k == 1:
        notes.append("Only one result: it is shown as it is, and heterogeneity cannot be judged.")
    elif k == 2 and spread:
        notes.append("Only two results: heterogeneity cannot be judged from them.")
    if spread and not spread.converged:
        notes.append(f"The {spread.method} search for the between-study variance did not converge.")
    se, df, method, guard = _choose_interval(fit, k, plain_se, interval, notes, random=spread is not None)
    width = (t_quantile(0.5 + level / 2.0, df) if df else normal_quantile(0.5 + level / 2.0)) * se
    low, high = _predict(estimate, plain_se, se, tau2, k, prediction, level)
    if spread and low is None and prediction != "none":
        notes.append("Fewer than three results: there is no prediction interval.")
    profile = profile_tau2(y, v, level) if spread and k > 1 else (None, None)
    q = common.q
    return Pooled(
        k=k,
        estimate=estimate,
        se=se,
        low=estimate - width,
        high=estimate + width,
        df=df,
        statistic=estimate / se,
        p=t_two_sided(estimate / se, df) if df else normal_two_sided(estimate / se),
        level=level,
        model="random" if spread else "common",
        interval_method=method,
        tau2_method=spread.method if spread else None,
        tau2=tau2,
        tau2_low=profile[0],
        tau2_high=profile[1],
        tau=float(np.sqrt(tau2)),
        i2=i2_from_q(q, k - 1) if k > 1 else None,
        h2=q / (k - 1) if k > 1 else None,
        q=q,
        q_df=k - 1,
        q_p=chi2_tail(q, k - 1),
        prediction_low=low,
        prediction_high=high,
        prediction_method=prediction,
        weights=tuple((fit.weights / fit.weights.sum()).tolist()),
        guard_applied=guard,
        converged=spread.converged if spread else True,
        notes=tuple(notes),
    )


def _choose_interval(
    fit: WeightedFit, k: int, plain_se: float, interval: str, notes: list[str], *, random: bool
) -> tuple[float, float | None, str, bool]:
    """Return standard error, degrees of freedom (None: normal), the method in fact used, and whether the
    guard bit.
    """
    if interval == "wald" or k == 1 or not random:
        return plain_se, None, "wald", False
    if interval == "knapp_hartung" and k == 2:
        notes.append(
            "With two results the Knapp-Hartung interval (one degree of freedom) is too wide to say "
            "anything; the plain interval is shown, and it is too narrow if the studies differ."
        )
        return plain_se, None, "wald", False
    factor, guard = standard_error_factor(fit.q, k - 1, guarded=interval != "knapp_hartung_plain")
    if guard:
        notes.append(
            "The Knapp-Hartung standard error would be smaller and was raised to the plain one, so that a chance "
            "agreement of few results does not narrow the interval."
        )
    elif factor < 1.0:
        notes.append(
            "The Knapp-Hartung standard error is smaller than the plain one, and was left so as asked."
        )
    if factor == 0.0:
        raise NumberProblem(
            "All effects are equal, so the Knapp-Hartung standard error without its guard is 0.",
            hint="Use the guarded interval.",
        )
    return float(np.sqrt(factor)) * plain_se, float(k - 1), interval, guard


def predict_interval(
    estimate: float, se: float, tau2: float, df: float | None, level: float = 0.95
) -> tuple[float, float] | None:
    """Interval for the true effect of a new study like these: estimate ± t_df sqrt(se^2 + tau^2).

    `df` None stands for the normal distribution; with df below 1 no interval exists and None is returned.
    """
    upper = check_level(level)
    if df is not None and df < 1:
        return None
    width = (normal_quantile(upper) if df is None else t_quantile(upper, df)) * math.sqrt(se**2 + tau2)
    return estimate - width, estimate + width


def _predict(
    estimate: float, plain_se: float, se: float, tau2: float, k: int, method: str, level: float
) -> tuple[float | None, float | None]:
    """The prediction interval by name; (None, None) below three results, which cannot tell how results
    differ.
    """
    if method == "none" or k < 3:
        return None, None
    df = None if method == "normal" else float(k - 2 if method == "t_k_minus_2" else k - 1)
    used = se if method == "t_k_minus_1" else plain_se
    return predict_interval(estimate, used, tau2, df, level) or (None, None)


def _note_repeats(names: tuple[str, ...]) -> list[str]:
    repeated = (
        sorted({name for name in names if names.count(name) > 1}) if len(set(names)) < len(names) else []
    )
    if not repeated:
        return []
    shown = ", ".join(repeated[:5]) + (" and others" if len(repeated) > 5 else "")
    return [
        f"Several results come from one study ({shown}) and are treated here as if they were independent; "
        "that makes the interval too narrow. Pool them as dependent results instead."
    ]


def _as_numbers(what: str, values: ArrayLike) -> Array:
    try:
        numbers = np.array(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise NumberProblem(f"The {what} are not all numbers.", hint="Check the figures.") from error
    if numbers.ndim != 1:
        raise NumberProblem(f"The {what} must be a plain list of numbers.")
    return numbers


def _check_choice(what: str, value: str, choices: tuple[str, ...]) -> None:
    if value not in choices:
        raise NumberProblem(f"No {what} is called {value!r}.", hint=f"Choose one of {', '.join(choices)}.")
