"""Answers for worked_examples.json: published examples, from the printed inputs to the printed answers.

The same full-precision values answer both "printed" (to its rounding) and "computed".
"""

import csv
import importlib.util
import json
import math
from pathlib import Path

import numpy as np

from evidence.statistics import conversions_medians, conversions_tests, counts, independent, paired, prepost
from evidence.statistics.asymmetry import regress_on_precision
from evidence.statistics.counts import TableMeasure
from evidence.statistics.effect import Metric, Summary
from evidence.statistics.heterogeneity import estimate_tau2, profile_tau2, typical_variance
from evidence.statistics.multilevel import fit_multilevel
from evidence.statistics.network import read_contrasts
from evidence.statistics.network_comparison import compare_network
from evidence.statistics.network_consistency import decompose_q
from evidence.statistics.pooling import common_effect, pool
from evidence.statistics.regression import code_groups, regress
from evidence.statistics.sensitivity import leave_one_out, shrink
from evidence.statistics.spread_intervals import (
    generalised_q_tau2,
    i2_from_tau2,
    measure_inconsistency,
    profile_likelihood_tau2,
)
from evidence.statistics.t_tests import t_from_p
from evidence.statistics.trim_and_fill import trim_and_fill

HERE = Path(__file__).parent


def compute(case):
    """Answer one published example."""
    inputs = case["inputs"]
    rows = []
    if "dataset" in inputs:
        with open(inputs["dataset"], encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
    answer = EXAMPLES[case["id"]](inputs, rows)
    return {"printed": answer, "computed": answer}


def column(rows, name):
    return np.array([float(row[name]) for row in rows])


def crossover(x, _):
    e, c = Summary(x["mean_E"], x["sd_E"], x["n"]), Summary(x["mean_C"], x["sd_C"], x["n"])
    raw = paired.mean_difference(e, c, x["r"])
    smd = independent.standardised_mean_difference(e, c, variance=independent.Variance.UNCORRECTED).estimate
    # The Handbook multiplies both terms by 2(1 − r), an imprecise form that the product does not offer
    spread = independent.vary_standardised(
        smd, 1.0, x["n"] - 1, 1 / x["n"], x["n"], independent.Variance.LARGE_SAMPLE
    )[0]
    return {
        "MD": raw.estimate,
        "se_MD_sd2": x["sd_diff_assumed"] / math.sqrt(x["n"]),
        "sd_diff_r": paired.difference_sd(e, c, x["r"]),
        "se_MD_r": raw.se,
        "SMD": smd,
        "se_SMD": math.sqrt(spread * 2 * (1 - x["r"])),
    }


def p_to_sd(x, _):
    df = x["n1"] + x["n2"] - 2
    effect = conversions_tests.effect_from_p(Metric.MEAN_DIFFERENCE, x["md"], x["p"], df=df)
    return {
        "t": t_from_p(x["p"], df),
        "se": effect.se,
        "sd": conversions_tests.pooled_sd_from_se(effect.se, x["n1"], x["n2"]),
    }


def range_divisors(x, _):
    return {
        "xi": [conversions_medians.divide_range(n, tabled=True) for n in x["n"]],
        "blom": [conversions_medians.divide_range(n) for n in x["n"]],
    }


def morris(x, _):
    pairs = [
        [
            prepost.Arm(Summary(a["mp"], a["sp"], a["n"]), Summary(a["mo"], a["so"], a["n"]), a["r"])
            for a in arms
        ]
        for arms in zip(x["treatment"], x["control"], strict=True)
    ]
    printed = [prepost.standardised_change_difference(*pair, exact=False) for pair in pairs]
    simple = [prepost.standardised_change_difference(*pair, simple_variance=True) for pair in pairs]
    return {
        "d_ppc1": [prepost.difference_of_own_standardised_changes(*pair).estimate for pair in pairs],
        "d_ppc2": [effect.estimate for effect in printed],
        "d_ppc2_exactJ": [prepost.standardised_change_difference(*pair).estimate for pair in pairs],
        "var_d_ppc2_eq25": [effect.variance for effect in printed],
        "var_simple_LS": [effect.variance for effect in simple],
    }


def six_studies(x, _):
    fixed = common_effect(x["yi"], x["vi"])
    random = pool(x["yi"], x["vi"], tau2_method="DL", interval="wald")
    return {
        "fixed": fixed.estimate,
        "ci_lb": fixed.low,
        "ci_ub": fixed.high,
        "Q": fixed.q,
        "random": random.estimate,
        "tau2": random.tau2,
        "random_se": random.se,
        "random_ci": [random.low, random.high],
        "I2": fixed.i2,
    }


def seven_estimators(x, _):
    y, v = np.array(x["yi"]), np.array(x["vi"])
    found = [estimate_tau2(y, v, name) for name in x["estimators"]]
    return {
        "tau2": [one.value for one in found],
        "I2": [i2_from_tau2(v, one.value) for one in found],
        "H2": [1 + one.value / typical_variance(v) for one in found],
        "se_tau2": [one.se for one in found],
    }


def clasp(x, _):
    y, v = counts.measure_tables(TableMeasure.LOG_ODDS_RATIO, x["a"], x["n1"], x["c"], x["n2"])
    found = [pool(y, v, tau2_method=name, interval="wald") for name in x["estimators"]]
    return {
        "tau": [one.tau for one in found],
        "mu": [one.estimate for one in found],
        "se": [one.se for one in found],
    }


def expectancy(_, rows):
    y, v = column(rows, "yi"), column(rows, "vi")
    fixed, random = common_effect(y, v), pool(y, v, interval="wald")
    adjusted = pool(y, v, interval="knapp_hartung_plain")
    shrunken = [one.estimate for one in shrink(y, v)]
    line = regress(y, v, {"weeks": np.minimum(column(rows, "weeks"), 3)}, interval="wald")
    (b0, b1) = line.coefficients
    return {
        "fixed": fixed.estimate,
        "Q": fixed.q,
        "z_fixed": fixed.statistic,
        "reml": random.estimate,
        "tau2": random.tau2,
        "z": random.statistic,
        "blup_min": min(shrunken),
        "blup_max": max(shrunken),
        "b0": b0.estimate,
        "b1": b1.estimate,
        "QE": line.residual_q,
        "z0": b0.statistic,
        "z1": b1.statistic,
        "se_reml": random.se,
        "hk_se": adjusted.se,
        "hk_t": adjusted.statistic,
    }


def stroke(_, rows):
    groups = [
        [Summary(float(row[f"m{i}i"]), float(row[f"sd{i}i"]), int(row[f"n{i}i"])) for i in (1, 2)]
        for row in rows
    ]
    effects = [independent.mean_difference(a, b, equal_sds=True) for a, b in groups]
    y, v = [e.estimate for e in effects], [e.variance for e in effects]
    fits = {
        "fixed": common_effect(y, v),
        "dl": pool(y, v, tau2_method="DL", interval="wald"),
        "reml": pool(y, v, interval="wald"),
    }
    answer = {"vi": v, "tau2_dl": fits["dl"].tau2, "tau2_reml": fits["reml"].tau2}
    for name, fit in fits.items():
        answer |= {name: fit.estimate, f"{name}_lb": fit.low, f"{name}_ub": fit.high}
    return answer


def schools(_, rows):
    y, v = column(rows, "yi"), column(rows, "vi")
    flat = pool(y, v, interval="wald")
    ids = [row["district"] for row in rows]
    blocks = [np.diag(v[[i for i, one in enumerate(ids) if one == name]]) for name in dict.fromkeys(ids)]
    year = column(rows, "year")
    levels = (ids, range(y.size))
    three = fit_multilevel(y, blocks, levels, restricted=False)
    design = np.column_stack([np.ones(y.size), year - year.mean()])
    moved = fit_multilevel(y, blocks, levels, x=design, restricted=False)
    return {
        "two_level": flat.estimate,
        "two_level_se": flat.se,
        "two_level_tau2": flat.tau2,
        "three_level_ml": three.beta[0],
        "three_level_ml_se": math.sqrt(three.covariance[0, 0]),
        "sigma2": three.components,
        "mod_b": moved.beta,
        "mod_se": np.sqrt(np.diag(moved.covariance)),
        "mod_sigma2": moved.components,
    }


def vaccine(_, rows):
    y, v = column(rows, "yi"), column(rows, "vi")
    main = pool(y, v, interval="wald")
    low, high = profile_tau2(y, v)
    latitude, year = column(rows, "ablat"), column(rows, "year")
    line = regress(y, v, {"ablat": latitude, "year": year}, interval="wald")
    allocation = code_groups("alloc", [row["alloc"] for row in rows])
    groups = regress(y, v, {**allocation, "ablat": latitude}, interval="knapp_hartung_plain")
    egger = regress_on_precision(y, v)
    filled = trim_and_fill(y, v, tau2_method=None, interval="wald")
    left = leave_one_out(y, v, interval="wald")
    typical = typical_variance(v)
    return {
        "mu": main.estimate,
        "se": main.se,
        "z": main.statistic,
        "lb": main.low,
        "ub": main.high,
        "tau2": main.tau2,
        "se_tau2": estimate_tau2(y, v).se,
        "I2": i2_from_tau2(v, main.tau2),
        "H2": 1 + main.tau2 / typical,
        "Q": main.q,
        "tau2_lb": low,
        "tau2_ub": high,
        "I2_lb": i2_from_tau2(v, low),
        "I2_ub": i2_from_tau2(v, high),
        "H2_lb": 1 + low / typical,
        "H2_ub": 1 + high / typical,
        "mr_tau2": line.tau2,
        "QE": line.residual_q,
        "QM": line.test.statistic,
        "mr_b": [one.estimate for one in line.coefficients],
        "mr_se": [one.se for one in line.coefficients],
        "hk_tau2": groups.tau2,
        "hk_F": groups.test.statistic,
        "hk_Fp": groups.test.p,
        "hk_b": [one.estimate for one in groups.coefficients],
        "hk_se": [one.se for one in groups.coefficients],
        "egger_t": egger.statistic,
        "egger_p": egger.p,
        "tf_k0": filled.missing,
        "tf_beta": filled.pooled.estimate,
        "tf_se": filled.pooled.se,
        "tf_Q": filled.pooled.q,
        "loo_exp": [math.exp(one.estimate) for one in left],
        "loo_tau2": [one.tau2 for one in left],
    }


def odds_of_vaccine(_, rows):
    cells = {name: column(rows, name) for name in ("tpos", "tneg", "cpos", "cneg")}
    y, v = counts.measure_tables(
        TableMeasure.LOG_ODDS_RATIO,
        cells["tpos"],
        cells["tpos"] + cells["tneg"],
        cells["cpos"],
        cells["cpos"] + cells["cneg"],
    )
    fit = pool(y, v, tau2_method="ML", interval="wald")
    low, high = profile_likelihood_tau2(y, v, restricted=False)
    line = regress(y, v, {"ablat": column(rows, "ablat")}, tau2_method="ML", interval="wald")
    return {
        "or_fixed": math.exp(common_effect(y, v).estimate),
        "or_ml": math.exp(fit.estimate),
        "or_lb": math.exp(fit.low),
        "or_ub": math.exp(fit.high),
        "tau2": fit.tau2,
        "pl_lb": low,
        "pl_ub": high,
        "b": [one.estimate for one in line.coefficients],
        "se": [one.se for one in line.coefficients],
        "tau2_res": line.tau2,
        "R2": line.r2,
    }


def shared_control(x, _):
    """The inputs name a case of dependent.json; its evaluator answers the model, the SMDs come from the summaries."""
    cases = json.loads((HERE.parent / "dependent.json").read_text(encoding="utf-8"))["cases"]
    case = next(one for one in cases if one["id"] == x["case"])
    dataset = HERE.parent / case["inputs"]["dataset"]
    answer = load_neighbour("dependent").compute(
        case | {"inputs": case["inputs"] | {"dataset": str(dataset)}}
    )
    with dataset.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    smds = (column(rows, "m1i") - column(rows, "m2i")) / column(rows, "sdpi")
    vcov = np.asarray(answer["vcov"]).ravel()
    return {"yi": smds, "beta": answer["beta"], "vcov": vcov, "QE": answer["QE"]}


def spread_in_regression(x, _):
    y, v, group = np.array(x["yi"]), np.array(x["vi"]), np.array(x["x"], dtype=float)
    design = np.column_stack([np.ones(y.size), group])
    return {
        "genq_inverse_variance": generalised_q_tau2(y, v, x=design),
        "pm_q_profile": profile_tau2(y, v, x=design),
    }


def diabetes(_, rows):
    studies = read_contrasts(
        [row["studlab"] for row in rows],
        [row["treat1"] for row in rows],
        [row["treat2"] for row in rows],
        column(rows, "TE"),
        column(rows, "seTE"),
    )
    (common,) = compare_network(studies, tau2_method="common", draws=100).parts
    (moments,) = compare_network(studies, tau2_method="DL", draws=100).parts
    parts = decompose_q(common)
    return {
        "tau": math.sqrt(moments.tau2),
        "Q": common.q,
        "Qw": parts.within.q,
        "Qb": parts.between.q,
        "I2": measure_inconsistency(common.q, common.q_df).i2 / 100,
    }


def load_neighbour(name):
    """Another evaluator, by its path."""
    spec = importlib.util.spec_from_file_location(f"neighbour_{name}", HERE / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


EXAMPLES = {
    "we-cochrane-crossover": crossover,
    "we-cochrane-p-t-se-sd": p_to_sd,
    "we-wan2014-table1": range_divisors,
    "we-morris2008": morris,
    "we-borenstein2009-14.1": six_studies,
    "we-viechtbauer2005-1": seven_estimators,
    "we-dersimonian-kacker2007": clasp,
    "we-raudenbush2009": expectancy,
    "we-normand1999-stroke": stroke,
    "we-konstantopoulos2011": schools,
    "we-bcg-jss2010": vaccine,
    "we-vanhouwelingen2002": odds_of_vaccine,
    "we-gleser-olkin-2009-smd": shared_control,
    "we-jackson2014-tau2ci-regression": spread_in_regression,
    "we-senn2013-netmeta": diabetes,
}
