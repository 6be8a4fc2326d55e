"""Answers pooling.json with the product's own functions; nothing is computed here but units and names."""

import csv
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import numpy as np

from evidence.statistics.asymmetry import (
    correlate_with_precision,
    fail_safe,
    regress_on_precision,
    robust_to_missing,
)
from evidence.statistics.heterogeneity import (
    Array,
    estimate_tau2,
    log_likelihood,
    profile_tau2,
    typical_variance,
)
from evidence.statistics.pooling import Pooled, common_effect, pool, predict_interval
from evidence.statistics.regression import Regression, Subgroups, code_groups, compare_subgroups, regress
from evidence.statistics.sensitivity import cumulate, leave_one_out, measure_influence, shrink
from evidence.statistics.spread_intervals import (
    between_proportion,
    generalised_q_tau2,
    i2_from_tau2,
    measure_inconsistency,
    profile_likelihood_tau2,
)
from evidence.statistics.trim_and_fill import trim_and_fill

Answer = dict[str, Any]
Rows = list[dict[str, str]]


def compute(case: Mapping[str, Any]) -> Answer:
    """Answer one case."""
    y, v, rows = _read(case["inputs"])
    family, variant = case["family"], case["variant"]
    method = _method(variant)
    if family == "meta_regression":
        return _meta_regression(case["inputs"]["moderators"], method, y, v, rows)
    if family == "subgroup":
        group = case["inputs"]["group"]
        kept = [i for i, row in enumerate(rows) if row[group] not in ("", "NA")]
        return _subgroups(y[kept], v[kept], [rows[i][group] for i in kept], method)
    if family == "sensitivity":
        return _sensitivity(variant, method, y, v, _order(case["inputs"], rows))
    if family == "small_study":
        return _small_study(variant, method, y, v)
    return _pool(variant, method, y, v)


def _method(variant: str) -> str | None:
    last = variant.rsplit("_", 1)[-1]
    return None if last in ("EE", "effect") else last


def _read(inputs: Mapping[str, Any]) -> tuple[Array, Array, Rows]:
    with open(inputs["dataset"], encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row[inputs["yi"]] not in ("", "NA")]
    y = np.array([float(row[inputs["yi"]]) for row in rows])
    v = np.array([float(row[inputs["vi"]]) for row in rows])
    if "yi_values" in inputs:
        y, v = np.array(inputs["yi_values"]), np.array(inputs["vi_values"])
    return y, v, rows


def _order(inputs: Mapping[str, Any], rows: Rows) -> list[str] | None:
    """Years, some with a letter, all with four digits: they sort as text."""
    by = inputs.get("order", "file order")
    return None if by == "file order" else [row[by] for row in rows]


def _pool(variant: str, method: str | None, y: Array, v: Array) -> Answer:
    k = y.size
    if variant == "tau2_Q_profile_95":
        return _spread_limits(y, v)
    if variant == "I2_H_test_based_CI":
        got = common_effect(y, v)
        spread = measure_inconsistency(got.q, got.q_df)
        tau2 = estimate_tau2(y, v, "DL").value
        return {
            "H": spread.h,
            "H_ci_lb": spread.h_low,
            "H_ci_ub": spread.h_high,
            "I2": spread.i2,
            "I2_ci_lb": spread.i2_low,
            "I2_ci_ub": spread.i2_high,
            "Rb": between_proportion(v, tau2),
        }
    if variant == "prediction_interval_conventions_REML":
        got = pool(y, v, interval="wald")
        return {
            "HTS_df_kminus2": predict_interval(got.estimate, got.se, got.tau2, k - 2) or [None, None],
            "V_df_kminus1": predict_interval(got.estimate, got.se, got.tau2, k - 1),
            "S_normal": predict_interval(got.estimate, got.se, got.tau2, None),
            "tau2_REML": got.tau2,
        }
    got = pool(y, v, tau2_method=method, interval="wald")
    answer = _describe(got)
    if method is None:
        answer |= {"I2_Q": got.i2, "H2_Q": got.h2} | _fit_criteria(y, v, 0.0, restricted=False, parameters=1)
        return answer
    estimate = estimate_tau2(y, v, method)
    plain, guarded = (
        pool(y, v, tau2_method=method, interval=f"knapp_hartung_{kind}") for kind in ("plain", "guarded")
    )
    answer |= {
        "se_tau2": estimate.se,
        "I2_typical_variance": i2_from_tau2(v, got.tau2),
        "H2_typical_variance": 1.0 + got.tau2 / typical_variance(v),
        "hk": _describe(plain) | {"t": plain.statistic},
        "hk_adhoc": _describe(guarded) | {"t": guarded.statistic},
        "pi": {
            "z_normal": predict_interval(got.estimate, got.se, got.tau2, None),
            "hk_t_kminus1": predict_interval(got.estimate, plain.se, got.tau2, k - 1),
            "se_pred_classic": float(np.hypot(got.se, got.tau)),
            "se_pred_hk": float(np.hypot(plain.se, got.tau)),
            "t_kminus2_classic_se": predict_interval(got.estimate, got.se, got.tau2, k - 2),
            "t_kminus1_classic_se": predict_interval(got.estimate, got.se, got.tau2, k - 1),
        },
    }
    if method in ("REML", "ML"):
        answer |= _fit_criteria(y, v, got.tau2, restricted=method == "REML", parameters=2)
    return answer


def _describe(got: Pooled) -> Answer:
    return {
        "tau2": got.tau2,
        "tau": got.tau,
        "beta": got.estimate,
        "se": got.se,
        "z": got.statistic,
        "df": got.df,
        "p": got.p,
        "ci_lb": got.low,
        "ci_ub": got.high,
        "Q": got.q,
        "Q_df": got.q_df,
        "Q_p": got.q_p,
        # The file leaves the weights of more than 30 results out (null).
        "weights_percent": [100.0 * share for share in got.weights] if got.k <= 30 else None,
    }


def _fit_criteria(y: Array, v: Array, tau2: float, *, restricted: bool, parameters: int) -> Answer:
    value = log_likelihood(y, v, tau2, restricted=restricted)
    size = y.size - 1 if restricted else y.size
    return {
        "log_lik": value,
        "AIC": 2.0 * parameters - 2.0 * value,
        "BIC": parameters * float(np.log(size)) - 2.0 * value,
    }


def _spread_limits(y: Array, v: Array) -> Answer:
    low, high = profile_tau2(y, v)
    typical = typical_variance(v)
    answer: Answer = {}
    for end, tau2 in (("lb", low), ("ub", high)):
        answer |= {
            f"tau2_ci_{end}": tau2,
            f"I2_ci_{end}": i2_from_tau2(v, tau2),
            f"H2_ci_{end}": 1.0 + tau2 / typical,
        }
    for name, limits in (
        ("profile_likelihood_REML", profile_likelihood_tau2),
        ("generalised_Q_jackson_weights_1_over_vi", generalised_q_tau2),
    ):
        if y.size > 2 or limits is profile_likelihood_tau2:
            answer[name] = dict(zip(("tau2_ci_lb", "tau2_ci_ub"), limits(y, v), strict=True))
    return answer


def _columns(items: Any, names: Mapping[str, str]) -> Answer:
    return {key: [getattr(item, field) for item in items] for key, field in names.items()}


POOLED = {
    "beta": "estimate",
    "se": "se",
    "p": "p",
    "ci_lb": "low",
    "ci_ub": "high",
    "Q": "q",
    "Q_p": "q_p",
    "tau2": "tau2",
}


def _sensitivity(variant: str, method: str | None, y: Array, v: Array, order: list[str] | None) -> Answer:
    if variant.startswith("leave_one_out"):
        rest = leave_one_out(y, v, tau2_method=method, interval="wald")
        i2 = [i2_from_tau2(np.delete(v, i), one.tau2) for i, one in enumerate(rest)]
        return _columns(rest, POOLED) | {"I2": i2}
    if variant.startswith("cumulative"):
        places, steps = cumulate(y, v, order=order, tau2_method=method, interval="wald")
        return _columns(steps, POOLED) | {"order_rows_1based": [row + 1 for row in places]}
    if variant.startswith("blup"):
        names = {"pred": "estimate", "se": "se", "pi_lb": "low", "pi_ub": "high"}
        return _columns(shrink(y, v, tau2_method=method or "REML"), names)
    got = measure_influence(y, v, tau2_method=method)
    names = {
        "rstudent": "studentised",
        "cook_d": "cook",
        "cov_r": "covariance_ratio",
        "tau2_del": "tau2_without",
        "Q_del": "q_without",
        "rstandard_z": "standardised",
        "rstandard_resid": "residual",
        "deleted_resid": "deleted_residual",
    }
    same = {name: name for name in ("dffits", "hat", "dfbetas", "flagged", "deleted_se")}
    return _columns(got, names | same) | {"weight_percent": [100.0 * one.hat for one in got]}


def _small_study(variant: str, method: str | None, y: Array, v: Array) -> Answer:
    if variant == "fail_safe_N":
        got = fail_safe(y, v)
        return {"rosenthal_N": got.rosenthal, "rosenthal_p": got.rosenthal_p, "rosenberg_N": got.rosenberg}
    if variant == "henmi_copas":
        wide = robust_to_missing(y, v)
        return {
            "beta": wide.estimate,
            "ci_lb": wide.low,
            "ci_ub": wide.high,
            "tau2_DL": wide.tau2,
            "se": wide.se,
        }
    if variant == "rank_correlation_begg_mazumdar":
        rank = correlate_with_precision(y, v)
        return {
            "tau": rank.tau,
            "p": rank.p,
            "exact_used": rank.exact
            and rank.k < 50,  # the file's flag says False from k = 50, its p is exact
            "p_normal_no_continuity": rank.p_normal,
            "p_normal_continuity": rank.p_normal_continuity,
        }
    if variant.startswith("trim_and_fill"):
        filled = trim_and_fill(y, v, estimator=variant.split("_")[3], tau2_method=method, interval="wald")
        return _describe(filled.pooled) | {
            "k0": filled.missing,
            "se_k0": filled.missing_se,
            "p_k0": filled.p_none_missing,
            "side": filled.side,
            "k_filled": filled.pooled.k,
        }
    if variant.startswith("egger_mixed"):
        by_se, by_v = (
            regress_on_precision(y, v, predictor=name, tau2_method=method) for name in ("se", "variance")
        )
        return {
            "sei": {
                "z": by_se.statistic,
                "p": by_se.p,
                "slope": by_se.slope,
                "slope_se": by_se.slope_se,
                "limit": by_se.limit,
                "limit_ci_lb": by_se.limit_low,
                "limit_ci_ub": by_se.limit_high,
                "tau2": by_se.tau2,
            },
            "vi": {"z": by_v.statistic, "p": by_v.p, "slope": by_v.slope, "limit": by_v.limit},
        }
    egger = regress_on_precision(y, v)
    peese = regress_on_precision(y, v, predictor="variance")
    limit, limit_se = egger.limit or 0.0, egger.limit_se or 1.0
    return {
        "intercept_of_snd_on_precision": egger.slope,
        "se": egger.slope_se,
        "t": egger.statistic,
        "df": egger.df,
        "p": egger.p,
        "limit_estimate_se0": egger.limit,
        "limit_se": egger.limit_se,
        "limit_p": egger.limit_p,
        "regtest_t": egger.statistic,
        "regtest_p": egger.p,
        "pet_intercept": egger.limit,
        "pet_se": egger.limit_se,
        "pet_t": limit / limit_se,
        "pet_p_two_sided": egger.limit_p,
        "peese_intercept": peese.limit,
        "peese_se": peese.limit_se,
        "peese_t": (peese.limit or 0.0) / (peese.limit_se or 1.0),
        "peese_p": peese.limit_p,
    }


def _meta_regression(names: list[str], method: str | None, y: Array, v: Array, rows: Rows) -> Answer:
    kept = [i for i, row in enumerate(rows) if all(row[name] not in ("", "NA") for name in names)]
    moderators: dict[str, Array] = {}
    for name in names:
        values = [rows[i][name] for i in kept]
        try:
            moderators[name] = np.array([float(value) for value in values])
        except ValueError:
            moderators |= code_groups(name, values)
    plain, knapp = (
        regress(y[kept], v[kept], moderators, tau2_method=method, interval=interval)
        for interval in ("wald", "knapp_hartung_plain")
    )
    answer = _coefficients(plain) | {
        "k_used": plain.k,
        "coef_names": ["intrcpt" if c.name == "intercept" else c.name for c in plain.coefficients],
        "QE": plain.residual_q,
        "QE_df": plain.residual_df,
        "QE_p": plain.residual_p,
        "vcov": plain.covariance,
        "tau2": plain.tau2,
        "tau2_without_moderators": plain.tau2_without_moderators,
        "R2_percent": plain.r2,
        "I2_residual_percent": plain.i2_residual,
        "hk": _coefficients(knapp) | {"df": plain.residual_df},
    }
    if plain.test and knapp.test:
        answer |= {"QM": plain.test.statistic, "QM_df": plain.test.df1, "QM_p": plain.test.p}
        answer["hk"] |= {
            "F": knapp.test.statistic,
            "F_df1": knapp.test.df1,
            "F_df2": knapp.test.df2,
            "F_p": knapp.test.p,
        }
    return answer


def _coefficients(got: Regression) -> Answer:
    names = {"beta": "estimate", "se": "se", "z": "statistic", "t": "statistic", "p": "p"}
    return _columns(got.coefficients, names | {"ci_lb": "low", "ci_ub": "high"})


def _subgroups(y: Array, v: Array, groups: list[str], method: str | None) -> Answer:
    own, shared, common = (
        compare_subgroups(y, v, groups, tau2_method=tau2_method, common_tau2=one, interval="wald")
        for tau2_method, one in ((method, False), (method, True), (None, False))
    )
    within = regress(y, v, code_groups("g", groups), tau2_method=method, interval="wald")
    return {
        "separate_tau2": {
            "groups": {
                name: _describe(group) | {"k": group.k} | ({} if group.k > 1 else {"tau2": None})
                for name, group in zip(own.names, own.groups, strict=True)
            },
            "Q_between_meta": own.test.statistic,
            **_test(own),
        },
        "common_tau2": _columns(shared.groups, POOLED)
        | {"tau2": shared.tau2, "QE_within": within.residual_q}
        | _test(shared),
        "common_effect": _columns(common.groups, POOLED) | _test(common),
    }


def _test(got: Subgroups) -> Answer:
    test = asdict(got.test)
    return {"Q_between": test["statistic"], "df": test["df1"], "p": test["p"]}
