"""Answers dependent.json with the product's own functions; nothing is computed here but units and names."""

import csv
import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from evidence.statistics.dependence import (
    Clusters,
    aggregate,
    correlate,
    correlate_comparisons,
    covary_endpoints,
    covary_shared_control,
    group_rows,
    scale_correlation,
)
from evidence.statistics.heterogeneity import Array
from evidence.statistics.multilevel import Multilevel, drop_component, fit_multilevel, profile_component
from evidence.statistics.multivariate import fit_multivariate
from evidence.statistics.pooling import pool, predict_interval
from evidence.statistics.quantiles import (
    chi2_tail,
    normal_quantile,
    normal_two_sided,
    t_quantile,
    t_two_sided,
)
from evidence.statistics.regression import code_groups
from evidence.statistics.robust import CORRECTIONS, compare_with_zero, estimate_robust
from evidence.statistics.robust_weights import fit_robust_weights

Answer = dict[str, Any]
Rows = list[dict[str, str]]
CHECK_FILE = Path(__file__).parents[1] / "dependent.json"


def compute(case: Mapping[str, Any]) -> Answer:
    """Answer one case."""
    with open(case["inputs"]["dataset"], encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return FAMILIES[case["family"]](case, rows)


def _column(rows: Rows, name: str) -> Array:
    return np.array([float(row[name]) for row in rows])


def _three_level(case: Mapping[str, Any], rows: Rows) -> Answer:
    fitted, _ = _fit(case["inputs"], rows, restricted="_ML" not in case["variant"])
    names = ["intrcpt", *_spell(case["inputs"].get("formula"), rows)]
    answer = _describe_fit(fitted) | {"k_used": fitted.k, "coef_names": names}
    if "ICC" not in case["expected"]:
        return answer
    total = sum(fitted.components)
    mean, se = float(fitted.beta[0]), float(np.sqrt(fitted.covariance[0, 0]))
    plain = pool(_column(rows, "yi"), _column(rows, "vi"), interval="wald")
    answer |= {
        "ICC": fitted.components[0] / total,
        "typical_within_variance": fitted.typical_variance,
        "I2_total_percent": sum(fitted.i2),
        "I2_by_level_percent": fitted.i2,
        "pi_z": predict_interval(mean, se, total, None),
        "t_test_residual_df": _t_test(mean, se, fitted.k - 1),
        "t_test_containment_df": _t_test(mean, se, len(fitted.clusters.rows) - 1)
        | {"df": [len(fitted.clusters.rows) - 1]},
        "two_level_ignoring_clusters": {"beta": plain.estimate, "se": plain.se, "tau2": plain.tau2},
    }
    for which, name in enumerate(("between", "within")):
        test = drop_component(fitted, which)
        answer[f"LRT_drop_{name}_cluster"] = {"LR": test.statistic, "p_chi2_1": test.p}
    if "sigma2_profile_CI" in case["expected"]:
        limits = {name: profile_component(fitted, n) for n, name in enumerate(("between", "within"))}
        answer["sigma2_profile_CI"] = limits
    return answer


def _t_test(mean: float, se: float, df: int) -> Answer:
    width = t_quantile(0.975, df) * se
    return {"df": df, "p": t_two_sided(mean / se, df), "ci_lb": mean - width, "ci_ub": mean + width}


def _fit(
    inputs: Mapping[str, Any], rows: Rows, *, restricted: bool = True, v: list[Array] | None = None
) -> tuple[Multilevel, Array]:
    y, ids = _column(rows, "yi"), [row[inputs["cluster"]] for row in rows]
    if v is None:
        v = correlate(_column(rows, "vi"), group_rows(ids), inputs.get("rho", 0.0))
    columns = [np.ones(y.size)]
    if "formula" in inputs:
        columns += _moderator(inputs["formula"], rows)
    x = np.column_stack(columns)
    return fit_multilevel(y, v, (ids, range(y.size)), x=x, restricted=restricted), x


def _moderator(formula: str, rows: Rows) -> list[Array]:
    shifted = re.fullmatch(r"I\((\w+)-(\d+)\)", formula)
    if shifted:
        return [_column(rows, shifted[1]) - float(shifted[2])]
    try:
        return [_column(rows, formula)]
    except ValueError:
        return list(code_groups("", [row[formula] for row in rows]).values())


def _spell(formula: str | None, rows: Rows) -> list[str]:
    """The names of the coefficients as the file's library spells them."""
    if formula is None:
        return []
    if formula.startswith("I("):
        return [formula.replace("-", " - ")]
    try:
        _column(rows, formula)
    except ValueError:
        return list(code_groups(formula, [row[formula] for row in rows]))
    return [formula]


def _describe_fit(fitted: Multilevel) -> Answer:
    return _coefficients(fitted.beta, fitted.covariance, 1) | {
        "QE": fitted.q,
        "QE_df": fitted.q_df,
        "QE_p": fitted.q_p,
        "log_lik": fitted.log_likelihood,
        "AIC": fitted.aic,
        "BIC": fitted.bic,
        "sigma2_between_cluster": fitted.components[0],
        "sigma2_within_cluster": fitted.components[1],
    }


def _coefficients(beta: Array, covariance: Array, skip: int) -> Answer:
    """`skip` leaves the intercept out of QM unless it is alone."""
    se = np.sqrt(np.diag(covariance))
    chosen = slice(skip if beta.size > skip else 0, None)
    qm = float(beta[chosen] @ np.linalg.solve(covariance[chosen, chosen], beta[chosen]))
    width = normal_quantile(0.975) * se
    return {
        "beta": beta,
        "se": se,
        "z_or_t": beta / se,
        "p": [normal_two_sided(float(z)) for z in beta / se],
        "ci_lb": beta - width,
        "ci_ub": beta + width,
        "vcov": covariance,
        "QM": qm,
        "QM_p": chi2_tail(qm, beta[chosen].size),
    }


def _cluster_robust(case: Mapping[str, Any], rows: Rows) -> Answer:
    fitted, x = _fit(case["inputs"], rows)
    return _robust(fitted, x, _column(rows, "yi"))


def _robust(fitted: Multilevel, x: Array, y: Array) -> Answer:
    answer: Answer = {}
    m, p = len(fitted.clusters.rows), x.shape[1]
    for name in CORRECTIONS:
        got = estimate_robust(
            x,
            y,
            fitted.beta,
            fitted.covariance,
            fitted.clusters.rows,
            fitted.working_covariance(),
            correction=name,
        )
        t = [float(one) for one in fitted.beta / got.se]
        answer[name] = {
            "se": got.se,
            "t": t,
            "df_satterthwaite": got.df,
            "p_satterthwaite": [t_two_sided(one, float(df)) for one, df in zip(t, got.df, strict=True)],
            "p_z": [normal_two_sided(one) for one in t],
            "p_t_m_minus_1": [t_two_sided(one, m - 1) for one in t],
            "p_t_m_minus_p": [t_two_sided(one, m - p) for one in t],
        }
    width = t_quantile(0.975, m - p) * answer["CR1p"]["se"]
    answer["metafor_robust_adjust_TRUE"] = {
        "se": answer["CR1p"]["se"],
        "t": answer["CR1p"]["t"],
        "df": [m - p],
        "p": answer["CR1p"]["p_t_m_minus_p"],
        "ci_lb": fitted.beta - width,
        "ci_ub": fitted.beta + width,
        "n_clusters": m,
    }
    answer["metafor_robust_adjust_FALSE"] = {"se": answer["CR0"]["se"], "p": answer["CR0"]["p_t_m_minus_p"]}
    if p > 1:
        test = compare_with_zero(got, range(1, p))
        answer["Wald_HTZ_all_moderators"] = {
            "F": test.f,
            "df_num": test.df1,
            "df_denom": test.df2,
            "p": test.p,
        }
    return answer


def _multivariate(case: Mapping[str, Any], rows: Rows) -> Answer:
    y, variant = _column(rows, "yi"), case["variant"]
    study = next(name for name in ("trial", "study", "school") if name in rows[0])
    ids = [row[study] for row in rows]
    clusters = group_rows(ids)
    if study == "trial":
        v = [
            np.array([[float(rows[i][c]) for c in ("v1i", "v2i")] for i in block]) for block in clusters.rows
        ]
    else:
        v = [_gleser(study, rows, block, y) for block in clusters.rows]
    kinds = [row["trt" if study == "study" else "outcome"] for row in rows]
    prefix = "factor(trt)" if study == "study" else "outcome"
    names = [f"{prefix}{kind}" for kind in sorted(set(kinds))]
    x = None
    if "moderator" in variant:
        names += [f"{name}:I(year - 1983)" for name in names]
        code = np.array([[float(kind == name) for name in sorted(set(kinds))] for kind in kinds])
        x = np.hstack([code, code * (_column(rows, "year") - 1983.0)[:, None]])
    # The likelihood listed for the common effect of the two outcomes is the plain one, for the others the
    # restricted.
    plain = variant.endswith("_ML") or variant.startswith("two_outcomes_common")
    got = fit_multivariate(y, v, ids, kinds, x=x, random="common" not in variant, restricted=not plain)
    answer = _coefficients(got.beta, got.covariance, 0) | {
        "QE": got.q,
        "QE_df": got.q_df,
        "QE_p": got.q_p,
        "log_lik": got.log_likelihood,
        "AIC": got.aic,
        "BIC": got.bic,
        "coef_names": names,
        "outcomes": got.outcomes,
        "tau2": got.tau2,
        "rho": got.rho[0] if got.rho else None,
    }
    if "V" in case["expected"]:
        answer["V"] = _full(v, clusters, y.size)
    return answer


def _gleser(study: str, rows: Rows, block: Any, y: Array) -> Array:
    """Covariances by the product, variances as the dataset prints them."""
    first = rows[block[0]]
    if study == "study":
        matrix = covary_shared_control(y[block], float(first["n2i"]), float(first["Ni"]))
    else:
        matrix = covary_endpoints(y[block], float(first["ri"]), float(first["n1i"]), float(first["n2i"]))
    np.fill_diagonal(matrix, [float(rows[i]["vi"]) for i in block])
    return matrix


def _full(blocks: Sequence[Array], clusters: Clusters, k: int) -> Array:
    matrix = np.zeros((k, k))
    for rows, block in zip(clusters.rows, blocks, strict=True):
        matrix[np.ix_(rows, rows)] = block
    return matrix


def _covariances(inputs: Mapping[str, Any], rows: Rows) -> tuple[Clusters, list[Array]]:
    clusters = group_rows([row[inputs["cluster"]] for row in rows])
    v = _column(rows, "vi")
    if "grp1" not in inputs:
        return clusters, correlate(v, clusters, inputs["rho"])
    blocks = []
    for members in clusters.rows:
        own = [rows[i] for i in members]
        correlation = correlate_comparisons(
            [row[inputs["grp1"]] for row in own],
            [row[inputs["grp2"]] for row in own],
            _column(own, inputs["w1"]),
            _column(own, inputs["w2"]),
        )
        if "rho_matrix" in inputs:
            place = [inputs["rho_names"].index(row[inputs["obs"]]) for row in own]
            correlation = correlation * np.array(inputs["rho_matrix"])[np.ix_(place, place)]
        blocks.append(scale_correlation(correlation, v[members]))
    return clusters, blocks


def _v_matrix(case: Mapping[str, Any], rows: Rows) -> Answer:
    clusters, blocks = _covariances(case["inputs"], rows)
    return {
        "V_sum": sum(float(block.sum()) for block in blocks),
        "V_trace": sum(float(np.trace(block)) for block in blocks),
        "V_min_eigenvalue": min(float(np.linalg.eigvalsh(block)[0]) for block in blocks),
        "blocks": {f"cluster_{n}": b for n, b in zip(clusters.names, blocks, strict=True)},
    }


def _correlated(case: Mapping[str, Any], rows: Rows) -> Answer:
    inputs = case["inputs"]
    v = None
    if "V_case" in inputs:
        cases = json.loads(CHECK_FILE.read_text(encoding="utf-8"))["cases"]
        _, v = _covariances(next(one for one in cases if one["id"] == inputs["V_case"])["inputs"], rows)
    fitted, x = _fit(inputs, rows, v=v)
    robust = _robust(fitted, x, _column(rows, "yi"))
    return _describe_fit(fitted) | {"coef_names": ["intrcpt"], "robust": robust}


def _aggregate(case: Mapping[str, Any], rows: Rows) -> Answer:
    weighting = "mean" if case["variant"].endswith("mean") else "inverse"
    ids = [row[case["inputs"]["cluster"]] for row in rows]
    got = aggregate(
        _column(rows, "yi"), _column(rows, "vi"), ids, rho=case["inputs"]["rho"], weighting=weighting
    )
    return {
        "cluster_ids": [int(name) for name in got.names],
        "yi": got.estimates,
        "vi": got.variances,
        "pooled_REML_beta": pool(got.estimates, got.variances).estimate,
    }


def _rve(case: Mapping[str, Any], rows: Rows) -> Answer:
    inputs = case["inputs"]
    right = inputs["formula"].split("~")[1].replace(" ", "")
    names = [] if right == "1" else right.split("+")
    y = _column(rows, "effectsize")
    got = fit_robust_weights(
        y,
        _column(rows, inputs["vi"]),
        [row[inputs["study"]] for row in rows],
        x=np.column_stack([np.ones(y.size)] + [_column(rows, name) for name in names]),
        weights="correlated" if "CORR" in case["variant"] else "hierarchical",
        rho=inputs["rho"],
        small_sample=case["variant"].endswith("small_sample"),
    )
    return {
        "beta": got.beta,
        "se": got.se,
        "t": got.beta / got.se,
        "df": got.df,
        "p": got.p,
        "ci_lb": got.low,
        "ci_ub": got.high,
        "tau2": got.tau2,
        "omega2": got.omega2,
        "I2": got.i2,
        "coef_names": ["X.Intercept.", *names],
    }


FAMILIES = {
    "three_level": _three_level,
    "cluster_robust": _cluster_robust,
    "multivariate": _multivariate,
    "V_matrix": _v_matrix,
    "correlated_hierarchical": _correlated,
    "aggregate": _aggregate,
    "RVE": _rve,
}
