"""Answers for effect_sizes.json: independent, paired, pre/post, 2×2, person-time, one sample, correlation."""

import math

from evidence.statistics import (
    association,
    counts,
    exact_tests,
    independent,
    one_sample,
    paired,
    prepost,
    t_tests,
)
from evidence.statistics.counts import Events, RateMeasure, TableMeasure
from evidence.statistics.effect import (
    Summary,
    critical_value,
    hedges_factor,
    hedges_factor_approximate,
)
from evidence.statistics.independent import Variance

LS, LS2, UB, RAW = Variance.LARGE_SAMPLE, Variance.SHRUNK, Variance.UNBIASED, Variance.UNCORRECTED

INDEPENDENT = {
    "MD_LS": independent.mean_difference,
    "MD_HO": lambda a, b: independent.mean_difference(a, b, equal_sds=True),
    "SMD_g_LS": independent.standardised_mean_difference,
    "SMD_g_LS2": lambda a, b: independent.standardised_mean_difference(a, b, variance=LS2),
    "SMD_g_UB": lambda a, b: independent.standardised_mean_difference(a, b, variance=UB),
    "SMD_d_LS": lambda a, b: independent.standardised_mean_difference(a, b, variance=RAW),
    "SMDH_LS": independent.standardise_by_average_sd,
    "SMDH_LS2": lambda a, b: independent.standardise_by_average_sd(a, b, plain_n=True),
    "SMDH_LS_J2": lambda a, b: independent.standardise_by_average_sd(a, b, shrunk=True),
    "SMD1": independent.standardise_by_b,
    "SMD1H": lambda a, b: independent.standardise_by_b(a, b, equal_sds=False),
    "SMD1H_n": lambda a, b: independent.standardise_by_b(a, b, equal_sds=False, plain_n=True),
    "ROM_LS_raw": independent.log_ratio_of_means,
    "ROM_HO_raw": lambda a, b: independent.log_ratio_of_means(a, b, equal_sds=True),
    "ROM_LS_bc": lambda a, b: independent.log_ratio_of_means(a, b, bias_corrected=True),
    "ROM_LS2_bc": lambda a, b: independent.log_ratio_of_means(a, b, bias_corrected=True, second_order=True),
    "VR": independent.log_variability_ratio,
    "VR_LS2": lambda a, b: independent.log_variability_ratio(a, b, second_order=True),
    "CVR": independent.log_cv_ratio,
    "CVR_LS2": lambda a, b: independent.log_cv_ratio(a, b, second_order=True),
    "CVR_sd_terms_only": lambda a, b: independent.log_cv_ratio(a, b, correct_means=False),
}

PAIRED = {
    "MC": paired.mean_difference,
    "SMCC_LS": paired.standardise_by_difference_sd,
    "SMCC_LS2": lambda a, b, r: paired.standardise_by_difference_sd(a, b, r, variance=LS2),
    "SMCC_UB": lambda a, b, r: paired.standardise_by_difference_sd(a, b, r, variance=UB),
    "SMCC_d_uncorrected": lambda a, b, r: paired.standardise_by_difference_sd(a, b, r, variance=RAW),
    "SMCR_pre_LS": paired.standardise_by_b,
    "SMCR_pre_LS2": lambda a, b, r: paired.standardise_by_b(a, b, r, variance=LS2),
    "SMCR_pre_UB": lambda a, b, r: paired.standardise_by_b(a, b, r, variance=UB),
    "SMCR_post_LS": lambda a, b, r: paired.standardise_by_b(b, a, r).swapped(),
    "SMCRH_pre": paired.standardise_by_b_unequal,
    "SMCRH_pre_LS2": lambda a, b, r: paired.standardise_by_b_unequal(a, b, r, plain_n=True),
    "SMCRH_pre_J2": lambda a, b, r: paired.standardise_by_b_unequal(a, b, r, shrunk=True),
    "SMCRP": paired.standardised_mean_difference,
    "SMCRPH": lambda a, b, r: paired.standardised_mean_difference(a, b, r, equal_sds=False),
    "ROMC_raw": paired.log_ratio_of_means,
    "ROMC_bc_LS": lambda a, b, r: paired.log_ratio_of_means(a, b, r, bias_corrected=True),
    "ROMC_bc_LS2": lambda a, b, r: paired.log_ratio_of_means(a, b, r, bias_corrected=True, second_order=True),
    "VRC": paired.log_variability_ratio,
    "CVRC_raw": paired.log_cv_ratio,
}

TABLES = {
    "RR": TableMeasure.LOG_RISK_RATIO,
    "OR": TableMeasure.LOG_ODDS_RATIO,
    "RD": TableMeasure.RISK_DIFFERENCE,
    "AS": TableMeasure.ARCSINE_DIFFERENCE,
    "PETO": TableMeasure.PETO_LOG_ODDS_RATIO,
    "PHI": TableMeasure.PHI,
    "YUQ": TableMeasure.YULE_Q,
}
RATES = {
    "IRR": RateMeasure.LOG_RATE_RATIO,
    "IRD": RateMeasure.RATE_DIFFERENCE,
    "IRSD": RateMeasure.ROOT_RATE_DIFFERENCE,
}
PROPORTIONS = {
    "PR": one_sample.proportion,
    "PLN": one_sample.log_proportion,
    "PLO": one_sample.logit_proportion,
    "PAS": one_sample.arcsine_proportion,
    "PFT": one_sample.double_arcsine_proportion,
}
MEANS = {
    "MN": one_sample.mean,
    "MNLN": one_sample.log_mean,
    "SDLN": one_sample.log_sd,
    "CVLN": one_sample.log_cv,
}


def compute(case):
    """Dispatch on the family of the case."""
    return FAMILIES[case["family"]](case["variant"], case["inputs"])


def show(estimate, variance):
    """The common shape of an answer; NaN and infinity stand for "not defined"."""
    if not (math.isfinite(estimate) and math.isfinite(variance)):
        defined = {"yi": estimate if math.isfinite(estimate) else None}
        return defined | dict.fromkeys(("vi", "sei", "ci_lb_z", "ci_ub_z"))
    se = math.sqrt(variance)
    margin = critical_value(0.95) * se
    return {
        "yi": estimate,
        "vi": variance,
        "sei": se,
        "ci_lb_z": estimate - margin,
        "ci_ub_z": estimate + margin,
    }


def show_effect(effect):
    """The same from an Effect, through its own standard error and interval."""
    low, high = effect.interval()
    return {
        "yi": effect.estimate,
        "vi": effect.variance,
        "sei": effect.se,
        "ci_lb_z": low,
        "ci_ub_z": high,
    }


def compute_independent(variant, x):
    a, b = Summary(x["m1"], x["sd1"], x["n1"]), Summary(x["m2"], x["sd2"], x["n2"])
    if variant in INDEPENDENT:
        return show_effect(INDEPENDENT[variant](a, b))
    df = a.n + b.n - 2
    pooled = independent.pool_sd(a, b)
    plain = independent.standardised_mean_difference(a, b, variance=RAW)
    exact = independent.standardised_mean_difference(a, b)
    d, rough = plain.estimate, hedges_factor_approximate(df)
    if variant == "SMD_g_approx":
        g = rough * d
        base = 1 / a.n + 1 / b.n
        return {
            "df": df,
            "sd_pooled": pooled,
            "d": d,
            "J_approx": rough,
            "J_exact": hedges_factor(df),
            "g_approx": g,
            "g_exact": exact.estimate,
            "v_d_LS": plain.variance,
            "v_g_approx_LS": independent.vary_standardised(d, rough, df, base, a.n + b.n, LS)[0],
            "v_g_approx_J2vd": independent.vary_standardised(d, rough, df, base, a.n + b.n, LS2)[0],
            "v_g_approx_3.94": independent.vary_standardised(d, rough, df, base, a.n + b.n - 3.94, LS)[0],
        }
    student, welch = t_tests.compare_equal_spreads(a, b), t_tests.compare_unequal_spreads(a, b)
    scale = math.sqrt(1 / a.n + 1 / b.n)
    low, high = (limit * scale for limit in t_tests.limit_noncentrality(student.t, df))
    return {
        "cohens_d": d,
        "d_ci_lb": low,
        "d_ci_ub": high,
        "hedges_g": exact.estimate,
        "g_ci_lb": hedges_factor(df) * low,
        "g_ci_ub": hedges_factor(df) * high,
        "d_average_sd": independent.standardise_by_average_sd(a, b).estimate / hedges_factor(df),
        "glass_delta_sd2": independent.standardise_by_b(a, b).estimate / hedges_factor(b.n - 1),
        "t_student": student.t,
        "df_student": student.df,
        "p_student": student.p,
        "md_ci_lb_student": student.low,
        "md_ci_ub_student": student.high,
        "t_welch": welch.t,
        "df_welch": welch.df,
        "p_welch": welch.p,
        "md_ci_lb_welch": welch.low,
        "md_ci_ub_welch": welch.high,
    }


def compute_paired(variant, x):
    after, before = Summary(x["mean_post"], x["sd_post"], x["n"]), Summary(x["mean_pre"], x["sd_pre"], x["n"])
    r = x["r"]
    if variant in PAIRED:
        return show_effect(PAIRED[variant](after, before, r))
    raw = paired.mean_difference(after, before, r)
    test = t_tests.weigh_difference(raw.estimate, raw.se, after.n - 1)
    dz = paired.standardise_by_difference_sd(after, before, r, variance=RAW).estimate
    low, high = t_tests.limit_noncentrality(test.t, test.df)
    average = paired.standardised_mean_difference(after, before, r)
    return {
        "mean_change": raw.estimate,
        "sd_change": paired.difference_sd(after, before, r),
        "se_change": raw.se,
        "t": test.t,
        "df": test.df,
        "p": test.p,
        "ci_lb_t": test.low,
        "ci_ub_t": test.high,
        "dz": dz,
        "dz_ci_lb_nct": low / math.sqrt(after.n),
        "dz_ci_ub_nct": high / math.sqrt(after.n),
        "gz_exactJ": paired.standardise_by_difference_sd(after, before, r).estimate,
        "d_rm": dz * math.sqrt(2 * (1 - r)),
        "d_av_arith_mean_sd": raw.estimate / ((after.sd + before.sd) / 2),
        "d_av_rms_sd": average.estimate / hedges_factor(2 * (after.n - 1) / (1 + r**2)),
    }


def compute_prepost(variant, x):
    a, b = (
        prepost.Arm(
            Summary(x[f"mpre_{arm}"], x[f"sdpre_{arm}"], x[f"n_{arm}"]),
            Summary(x[f"mpost_{arm}"], x[f"sdpost_{arm}"], x[f"n_{arm}"]),
            x["r"],
        )
        for arm in "TC"
    )
    pairs = {
        "difference_of_mean_changes": (prepost.mean_change_difference, paired.mean_difference),
        "difference_of_SMCR_own_pre_SD_LS": (
            prepost.difference_of_own_standardised_changes,
            paired.standardise_by_b,
        ),
        "difference_of_SMCC_LS": (
            prepost.difference_of_changes_in_change_sds,
            paired.standardise_by_difference_sd,
        ),
        "difference_of_log_ratio_of_means_raw": (prepost.log_ratio_of_ratios, paired.log_ratio_of_means),
    }
    if variant in pairs:
        compare, within = pairs[variant]
        arms = {}
        for name, arm in (("T", a), ("C", b)):
            effect = within(arm.after, arm.before, arm.r)
            arms |= {f"yi_{name}": effect.estimate, f"vi_{name}": effect.variance}
        return arms | show_effect(compare(a, b))
    if variant == "SMD_of_change_scores_LS":
        return show_effect(prepost.smd_of_changes(a, b)) | {
            "sd_change_T": a.change.sd,
            "sd_change_C": b.change.sd,
        }
    if variant == "SMD_of_post_scores_LS":
        return show_effect(independent.standardised_mean_difference(a.after, b.after))
    printed = prepost.standardised_change_difference(a, b, exact=False)
    df = a.n + b.n - 2
    return {
        "net_change": a.change.mean - b.change.mean,
        "sd_pre_pooled": independent.pool_sd(a.before, b.before),
        "c_P_approx": hedges_factor_approximate(df),
        "c_P_exact": hedges_factor(df),
        "d_ppc2": printed.estimate,
        "var_d_ppc2": printed.variance,
        "se_d_ppc2": printed.se,
        "d_ppc2_exactJ": prepost.standardised_change_difference(a, b).estimate,
        "v_simple_LS": prepost.standardised_change_difference(
            a, b, exact=False, simple_variance=True
        ).variance,
    }


def compute_table(variant, x):
    if variant == "fisher_exact":
        test = exact_tests.compare_exactly(Events(x["a"], x["n1"]), Events(x["c"], x["n2"]))
        return {
            "p": test.p,
            "or_cond_mle": test.odds_ratio if math.isfinite(test.odds_ratio) else None,
            "ci_lb": test.low,
            "ci_ub": test.high if math.isfinite(test.high) else None,
        }
    name, _, add = variant.partition("_add")
    # The reference leaves alone the measures for which a single zero is no obstacle.
    extra = 0.5 if add.startswith("0.5") and name not in ("AS", "PHI") else 0.0
    estimate, variance = counts.measure_tables(TABLES[name], x["a"], x["n1"], x["c"], x["n2"], add=extra)
    return show(float(estimate), float(variance))


def compute_rate(variant, x):
    name, _, add = variant.partition("_add")
    extra = 0.5 if add.startswith("0.5") and name != "IRSD" else 0.0
    estimate, variance = counts.measure_rates(RATES[name], x["x1"], x["t1"], x["x2"], x["t2"], add=extra)
    return show(float(estimate), float(variance))


def compute_proportion(variant, x):
    return show_effect(PROPORTIONS[variant.partition("_")[0]](Events(x["x"], x["n"])))


def compute_mean(variant, x):
    return show_effect(MEANS[variant](Summary(x["m"], x["sd"], x["n"])))


def compute_correlation(variant, x):
    r, n = x["r"], x["n"]
    if variant == "fisher_z_CI_and_t":
        test = association.assess_correlation(r, n)
        return {
            "z": test.z,
            "se_z": test.se_z,
            "r_ci_lb": test.low,
            "r_ci_ub": test.high,
            "t": test.t,
            "df": test.df,
            "p_two_sided": test.p,
        }
    if variant == "ZCOR_LS":
        return show_effect(association.fisher_z(r, n))
    return show_effect(association.raw_correlation(r, n, unbiased=variant == "UCOR_LS"))


FAMILIES = {
    "independent_groups": compute_independent,
    "paired_crossover": compute_paired,
    "pretest_posttest_control": compute_prepost,
    "two_by_two": compute_table,
    "person_time": compute_rate,
    "single_proportion": compute_proportion,
    "single_mean": compute_mean,
    "correlation": compute_correlation,
}
