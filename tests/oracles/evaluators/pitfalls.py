"""Answers pitfalls.json: known traps. Where a refusal is the right answer, it is provoked and must be a
NumberProblem.

Prose in `expected` (behaviour, what another library said, a rule) is no figure: it is handed back as it
stands, but only after the behaviour has been shown.
"""

import csv
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from evidence.errors import NumberProblem
from evidence.statistics import independent, paired
from evidence.statistics.asymmetry import regress_on_precision
from evidence.statistics.conversions_tests import smd_from_f
from evidence.statistics.counts import Events
from evidence.statistics.dependence import check_covariance
from evidence.statistics.effect import Summary, hedges_factor, hedges_factor_approximate
from evidence.statistics.heterogeneity import estimate_tau2, profile_tau2
from evidence.statistics.integrity_granularity import weigh_mean, weigh_spread
from evidence.statistics.network import (
    NetworkStudy,
    from_contrasts,
    imply_arm_variances,
    read_contrasts,
    split_parts,
)
from evidence.statistics.network_comparison import compare_network
from evidence.statistics.pooling import pool, predict_interval
from evidence.statistics.quantiles import t_quantile
from evidence.statistics.spread_intervals import i2_from_tau2

Answer = dict[str, Any]
PROSE = ("behaviour", "reference_error", "check")


def compute(case: Mapping[str, Any]) -> Answer:
    """Answer one case."""
    prose = {key: case["expected"][key] for key in PROSE if key in case["expected"]}
    return CASES[case["id"]](case["inputs"]) | prose


def _refuse(action: Callable[[], Any], says: str) -> str:
    """Provoke a refusal; the sentence must name the trouble."""
    try:
        action()
    except NumberProblem as problem:
        if says not in str(problem):
            raise AssertionError(f"the refusal does not say {says!r}: {problem}") from problem
        return str(problem)
    raise AssertionError("this should have been refused")


def _pooled(y: Any, v: Any, method: str = "DL", interval: str = "wald") -> Answer:
    got = pool(y, v, tau2_method=method, interval=interval)
    return {
        "beta": got.estimate,
        "se": got.se,
        "ci_lb": got.low,
        "ci_ub": got.high,
        "p": got.p,
        "t": got.statistic,
        "df": got.df,
        "tau2": got.tau2,
        "I2": i2_from_tau2(np.array(v), got.tau2) if got.k > 1 else None,
        "Q": got.q,
        "Q_df": got.q_df,
        "Q_p": got.q_p,
    }


def _usable(y: list[float], v: list[float]) -> tuple[list[float], list[float]]:
    """A zero variance is refused with the place named; the rest is pooled."""
    _refuse(lambda: pool(y, v, labels=[f"row {n}" for n in range(1, len(y) + 1)]), "row")
    kept = [i for i, one in enumerate(v) if one > 0.0]
    return [y[i] for i in kept], [v[i] for i in kept]


def _nonconvergence(inputs: Answer) -> Answer:
    return _pooled(inputs["yi"], inputs["vi"], "REML")


def _negative_moment(inputs: Answer) -> Answer:
    y, v = inputs["yi"], inputs["vi"]
    plain = _pooled(y, v)
    return {
        "tau2": plain["tau2"],
        "tau2_untruncated": estimate_tau2(np.array(y), np.array(v), "DL").untruncated,
        "I2": plain["I2"],
        "Q": plain["Q"],
        "z": plain,
        "hk": _pooled(y, v, interval="knapp_hartung_plain"),
        "hk_adhoc": _pooled(y, v, interval="knapp_hartung"),
    }


def _one(inputs: Answer) -> Answer:
    got = pool(inputs["yi"], inputs["vi"])
    if (got.prediction_low, got.i2, got.df) != (None, None, None):
        raise AssertionError("one result has no prediction interval, no I^2 and no t interval")
    return _pooled(inputs["yi"], inputs["vi"], "REML", "knapp_hartung")


def _two(inputs: Answer) -> Answer:
    y, v = inputs["yi"], inputs["vi"]
    got = pool(y, v)
    if not any("plain interval" in note for note in got.notes) or predict_interval(0.0, 1.0, 0.0, 0):
        raise AssertionError("the plain interval must be announced, and t with 0 df does not exist")
    return {
        "z": _pooled(y, v, "REML"),
        "hk": _pooled(y, v, "REML", "knapp_hartung_plain"),
        "hk_adhoc": _pooled(y, v, "REML", "knapp_hartung_guarded"),
        "t_975_df1": t_quantile(0.975, 1),
    }


def _zero_variance(inputs: Answer) -> Answer:
    return {"after_excluding_the_row": _pooled(*_usable(inputs["yi"], inputs["vi"]))}


def _many_zeros(inputs: Answer) -> Answer:
    y, v = _usable(inputs["yi"], inputs["vi"])
    return {
        "k_valid": len(y),
        "DL": _pooled(y, v),
        "REML": _pooled(y, v, "REML"),
        "tau2_q_profile_ci": profile_tau2(np.array(y), np.array(v)),
    }


def _outlier(inputs: Answer) -> Answer:
    return {m: _pooled(inputs["yi"], inputs["vi"], m) for m in ("DL", "REML", "ML", "HE", "PM", "SJ", "HS")}


def _large_df(inputs: Answer) -> Answer:
    got = [
        independent.standardised_mean_difference(
            Summary(row["m1i"], row["sd1i"], row["n1i"]), Summary(row["m2i"], row["sd2i"], row["n2i"])
        )
        for row in inputs["rows"]
    ]
    return {
        "g": [one.estimate for one in got],
        "v_LS": [one.variance for one in got],
        "J_exact": [hedges_factor(row["n1i"] + row["n2i"] - 2) for row in inputs["rows"]],
    }


def _paired_d(inputs: Answer) -> Answer:
    pre, post = np.array(inputs["pre"]), np.array(inputs["post"])
    n, r = pre.size, float(np.corrcoef(pre, post)[0, 1])
    a, b = (Summary(float(x.mean()), float(x.std(ddof=1)), n) for x in (post, pre))
    raw = paired.standardise_by_difference_sd(a, b, r, variance=independent.Variance.UNCORRECTED).estimate
    gz = paired.standardise_by_difference_sd(a, b, r)
    by_pre = paired.standardise_by_b(a, b, r)
    return {
        "n": n,
        "r": r,
        "mean_change": a.mean - b.mean,
        "sd_change": paired.difference_sd(a, b, r),
        "dz": raw,
        "d_rm_dz_times_sqrt_2_1_minus_r": raw * float(np.sqrt(2.0 * (1.0 - r))),
        "gz_exact_df4": gz.estimate,
        "v_gz_LS": gz.variance,
        "g_pre_sd": by_pre.estimate,
        "v_g_pre_sd_LS": by_pre.variance,
        "J_approx_df4": hedges_factor_approximate(n - 1),
        "J_exact_df4": hedges_factor(n - 1),
        "wrong_J_df8": hedges_factor_approximate(2 * n - 2),
    }


def _study(rows: list[Answer]) -> NetworkStudy:
    return from_contrasts(
        str(rows[0]["studlab"]),
        [(row["treat1"], row["treat2"]) for row in rows],
        [row["TE"] for row in rows],
        [row["seTE"] for row in rows],
    )


def _arm_variances(rows: list[Answer]) -> tuple[list[str], Any, Any]:
    arms = list(dict.fromkeys(row[side] for row in rows for side in ("treat1", "treat2")))
    v = np.zeros((len(arms), len(arms)))
    for row in rows:
        a, b = arms.index(row["treat1"]), arms.index(row["treat2"])
        v[a, b] = v[b, a] = row["seTE"] ** 2
    return arms, *imply_arm_variances(v)


def _inconsistent_arms(inputs: Answer) -> Answer:
    _refuse(lambda: _study(inputs["rows"]), "do not fit together")
    arms, implied, residuals = _arm_variances(inputs["rows"])
    return {"arms": arms, "least_squares_arm_variances": implied, "residual_variances": residuals}


def _negative_arm(inputs: Answer) -> Answer:
    _refuse(lambda: _study(inputs["rows"]), "cannot come from separate groups")
    arms, implied, _ = _arm_variances(inputs["rows"])
    return {"arm_variances": dict(zip(arms, implied.tolist(), strict=True))}


def _events(inputs: Answer) -> Answer:
    def is_valid(row: Answer) -> bool:
        try:
            Events(row["events"], row["n"])
        except NumberProblem:
            return False
        return True

    return {"valid": [is_valid(row) for row in inputs["rows"]]}


def _columns(rows: list[Answer]) -> tuple[list[Any], ...]:
    return tuple([row[key] for row in rows] for key in ("studlab", "treat1", "treat2", "TE", "seTE"))


def _disconnected(inputs: Answer) -> Answer:
    studies = read_contrasts(*_columns(inputs["rows"]))
    _refuse(lambda: compare_network(studies).effect("A", "C"), "No study links A with C")
    return {"n_subnetworks": len(split_parts(studies))}


def _duplicate(inputs: Answer) -> Answer:
    _refuse(lambda: read_contrasts(*_columns(inputs["rows"])), "stands twice")
    return {}


def _not_positive_definite(inputs: Answer) -> Answer:
    v = np.array(inputs["V"])
    _refuse(lambda: check_covariance(v), "1.25")
    return {
        "implied_correlation": float(v[0, 1] / np.sqrt(v[0, 0] * v[1, 1])),
        "min_eigenvalue": float(np.linalg.eigvalsh(v)[0]),
    }


def _equal_precision(inputs: Answer) -> Answer:
    got = regress_on_precision(inputs["yi"], inputs["vi"])
    if got.slope is not None or "equally precise" not in got.notes[0]:
        raise AssertionError("no slope can be told here")
    return {"rank": int(np.linalg.matrix_rank(np.column_stack([np.ones(4), np.sqrt(inputs["vi"])])))}


def _nonpositive_mean(inputs: Answer) -> Answer:
    for means in ((inputs["m1"], inputs["m2"]), (-2.0, -3.0), (0.0, 1.0)):
        a, b = (Summary(mean, 1.0, 10) for mean in means)
        _refuse(lambda a=a, b=b: independent.log_ratio_of_means(a, b), "mean")
    return {"valid": False}


def _ratio_of_means(inputs: Answer) -> Answer:
    a = Summary(inputs["m1"], inputs["sd1"], inputs["n1"])
    b = Summary(inputs["m2"], inputs["sd2"], inputs["n2"])
    plain = independent.log_ratio_of_means(a, b)
    corrected = independent.log_ratio_of_means(a, b, bias_corrected=True)
    return {"plain": plain.estimate, "bias_corrected": corrected.estimate, "v_LS": plain.variance}


def _overshoot(inputs: Answer) -> Answer:
    with open(inputs["dataset"], encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    y, v = (np.array([float(row[name]) for row in rows]) for name in ("yi", "vi"))
    return {"tau2_PM": estimate_tau2(y, v, "PM").value}


def _sign(inputs: Answer) -> Answer:
    higher = inputs["direction_reported"] != "control higher"
    return {
        "d": smd_from_f(inputs["F"], inputs["n1"], inputs["n2"], a_higher=higher).estimate
        / hedges_factor(inputs["df2"])
    }


def _granularity(inputs: Answer) -> Answer:
    mean, n = inputs["mean"], inputs["n"]
    got = weigh_spread(mean, inputs["sd"], n)
    # An SD and a total fit when the sum of squares they imply is whole, and as odd or even as the total.
    fitting = [
        total
        for total in weigh_mean(mean, n).sums
        for squares in [(sd**2 * n * (n - 1) + total**2) / n for sd in got.sds]
        if abs(squares - round(squares)) < 1e-6 and (round(squares) - total) % 2 == 0
    ]
    return {
        "consistent": got.possible,
        "possible_sum": fitting[0],
        "sum_tried_by_single_candidate": int(float(mean) * n),
    }


CASES: dict[str, Callable[[Answer], Answer]] = {
    "pit-reml-nonconvergence": _nonconvergence,
    "pit-negative-tau2-I2": _negative_moment,
    "pit-k-equals-1": _one,
    "pit-k-equals-2-hk": _two,
    "pit-zero-variance": _zero_variance,
    "pit-pymare-40": _many_zeros,
    "pit-pymare-75": _outlier,
    "pit-gamma-overflow": _large_df,
    "pit-paired-d-conventions": _paired_d,
    "pit-multiarm-variance-inconsistent": _inconsistent_arms,
    "pit-multiarm-negative-arm-variance": _negative_arm,
    "pit-events-exceed-n": _events,
    "pit-disconnected-network": _disconnected,
    "pit-duplicate-study-id": _duplicate,
    "pit-non-pd-V": _not_positive_definite,
    "pit-egger-constant-se": _equal_precision,
    "pit-log-ratio-nonpositive-mean": _nonpositive_mean,
    "pit-rom-bias-correction-default": _ratio_of_means,
    "pit-pm-overshoot": _overshoot,
    "pit-sign-from-F-or-p": _sign,
    "pit-grimmer-n-above-granularity": _granularity,
}
