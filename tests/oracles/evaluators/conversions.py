"""Answers for conversions.json: from printed figures to SDs, effects and other scales."""

import math

from evidence.statistics import association, conversions, independent, paired, prepost, t_tests
from evidence.statistics import conversions_medians as medians
from evidence.statistics import conversions_metrics as metrics
from evidence.statistics import conversions_tests as tests
from evidence.statistics.effect import Metric, Summary, as_percent, critical_value, hedges_factor


def compute(case):
    """Dispatch on the variant of the case."""
    return VARIANTS[case["variant"]](case["inputs"])


def convert_spread(x):
    level, n = x["level"], x["n"]
    by_t = conversions.sd_from_interval(*x["ci_t"], n, level)
    wrong = conversions.sd_from_interval(*x["ci_t"], n, level, normal=True)
    return {
        "sd_from_se": conversions.sd_from_se(x["se"], n).value,
        "sd_from_ci_t": by_t.value,
        "sd_from_ci_z": conversions.sd_from_interval(*x["ci_z"], n, level, normal=True).value,
        "sd_wrong_if_z_used_on_t_ci": wrong.value,
        "t_quantile": critical_value(level, n - 1),
        "z_quantile": critical_value(level),
    }


def convert_difference(x):
    n1, n2, md = x["n1"], x["n2"], x["md"]
    df = n1 + n2 - 2
    by_t = tests.mean_difference_from_t(md, x["t"], n1, n2)
    by_p = tests.effect_from_p(Metric.MEAN_DIFFERENCE, md, x["p_two_sided"], df=df)
    by_interval = tests.effect_from_interval(Metric.MEAN_DIFFERENCE, md, *x["ci95_t"], df=df)
    pooled = tests.pooled_sd_from_se(by_t.se, n1, n2)
    return {
        "df": df,
        "se_from_t": by_t.se,
        "se_from_p": by_p.se,
        "se_from_ci": by_interval.se,
        "sd_pooled": pooled,
        "sd_pooled_direct": tests.pooled_sd_from_se(by_interval.se, n1, n2),
    }


def convert_test(x):
    n1, n2, up = x["n1"], x["n2"], x["sign"] > 0
    plain = tests.smd_from_t(x["t"], n1, n2, corrected=False)
    g = tests.smd_from_t(x["t"], n1, n2)
    by_f, by_p = (
        tests.smd_from_f(x["F"], n1, n2, a_higher=up),
        tests.smd_from_p(x["p_two_sided"], n1, n2, a_higher=up),
    )
    # Any two groups with this t have this d: unit SDs, the means d apart
    summary = independent.standardised_mean_difference(Summary(plain.estimate, 1, n1), Summary(0, 1, n2))
    r = metrics.point_biserial(plain, n1, n2)
    logistic = metrics.log_odds_ratio_from_smd(plain)
    normal = metrics.log_odds_ratio_from_smd(plain, factor=metrics.COX)
    return {
        "d": plain.estimate,
        "d_metafor": by_f.estimate / hedges_factor(n1 + n2 - 2),
        "v_d_LS": plain.variance,
        "g": g.estimate,
        "v_g_LS": g.variance,
        "g_from_p": by_p.estimate,
        "v_g_from_p": by_p.variance,
        "g_from_summary": summary.estimate,
        "v_from_summary": summary.variance,
        "d_equal_n_shortcut_2t_over_sqrt_df": 2 * x["t"] / math.sqrt(x["df2"]),
        "r_from_t": association.correlation_from_t(x["t"], x["df2"]),
        "eta2_partial": metrics.eta_squared(x["F"], x["df1"], x["df2"]),
        "epsilon2_partial": metrics.epsilon_squared(x["F"], x["df1"], x["df2"]),
        "omega2_partial": metrics.omega_squared(x["F"], x["df1"], x["df2"]),
        "r_pb_LS": r.estimate,
        "v_r_pb": r.variance,
        "log_or_logistic": logistic.estimate,
        "v_log_or_logistic": logistic.variance,
        "log_or_normal_1.65": normal.estimate,
        "v_log_or_normal": normal.variance,
    }


def convert_paired_test(x):
    n, up = x["n"], x["sign"] > 0
    plain = tests.smd_from_paired_t(x["t"], n, corrected=False)
    g = tests.smd_from_paired_t(x["t"], n)
    raw = tests.smd_from_paired_t(x["t"], n, x["r"], corrected=False)
    return {
        "dz": plain.estimate,
        "dz_metafor": tests.smd_from_paired_f(x["F"], n, a_higher=up).estimate / hedges_factor(n - 1),
        "v_dz_LS": plain.variance,
        "gz": g.estimate,
        "v_gz_LS": g.variance,
        "gz_from_p": tests.smd_from_paired_p(x["p_two_sided"], n, a_higher=up).estimate,
        "dz_effectsize_t_over_sqrt_df": x["t"] / math.sqrt(n - 1),
        "d_rm": raw.estimate,
        "v_d_rm_LS": raw.variance,
    }


def convert_five_numbers(x):
    median, n = x["median"], x["n"]
    low, q1, q3, high = x["min"], x["q1"], x["q3"], x["max"]
    by_range = medians.FiveNumbers(median, n, minimum=low, maximum=high)
    by_quartiles = medians.FiveNumbers(median, n, q1=q1, q3=q3)
    by_all = medians.FiveNumbers(median, n, low, high, q1, q3)
    answer = {}
    for name, numbers in (("range", by_range), ("iqr", by_quartiles), ("all", by_all)):
        mean = medians.estimate_mean(numbers).value
        answer[name] = {"mean_luo": mean, "mean_luo_meta": mean}
    older = medians.older_estimates(by_all)
    answer["range"] |= {
        "sd_wan_blom": medians.estimate_sd(by_range).value,
        "sd_wan_table1": medians.estimate_sd(by_range, tabled=True).value,
        "mean_wan_simple": older.mean_range,
        "mean_wan_with_n_term_eq2": older.mean_range_wan,
        "mean_hozo": older.mean_hozo,
        "sd_hozo": older.sd_hozo,
    }

    lognormal = medians.summarise_lognormal(by_quartiles).summary
    answer["iqr"] |= {
        "lognormal_mean_shi2023": lognormal.mean,
        "lognormal_sd_shi2023": lognormal.sd,
        "sd_wan_blom": medians.estimate_sd(by_quartiles).value,
        "sd_wan_table2": medians.estimate_sd(by_quartiles, tabled=True).value,
        "mean_wan": older.mean_quartiles,
    }
    both = medians.estimate_sd(by_all).value
    halves = medians.estimate_sd(by_range).value, medians.estimate_sd(by_quartiles).value
    answer["all"] |= {
        "sd_shi2020": both,
        "sd_shi2020_meta_rounded_form": both,
        "sd_wan_blom": sum(halves) / 2,
        "sd_wan_tables": medians.estimate_sd(by_all, tabled=True).value,
        "mean_wan": older.mean_all,
        "mean_bland": older.mean_all,
        "sd_bland": older.sd_bland,
    }
    answer["skew_test"] = {}
    for name, numbers in (("range", by_range), ("iqr", by_quartiles), ("all", by_all)):
        test = medians.assess_skew(numbers)
        answer["skew_test"] |= {
            f"{name}_T": test.statistic,
            f"{name}_crit": test.critical,
            f"{name}_skewed": test.skewed,
        }
    return answer


def combine(x):
    groups = [Summary(m, sd, n) for m, sd, n in zip(x["mean"], x["sd"], x["n"], strict=True)]
    whole = conversions.combine_groups(*groups).summary
    return {"n": whole.n, "mean": whole.mean, "sd": whole.sd}


def convert_change(x):
    arm = take_arm(x)
    sd = arm.change.sd
    raw = paired.mean_difference(arm.after, arm.before, arm.r)
    test = t_tests.weigh_difference(raw.estimate, raw.se, arm.n - 1)
    by_t = conversions.difference_sd_from_t(raw.estimate, test.t, arm.n).value
    by_p = conversions.difference_sd_from_p(raw.estimate, test.p, arm.n).value
    return {
        "sd_change": sd,
        "r_recovered": conversions.correlation_from_sds(arm.before.sd, arm.after.sd, sd).value,
        "se_change": raw.se,
        "t_paired": test.t,
        "p_paired": test.p,
        "sd_change_from_t": by_t,
        "sd_change_from_p": by_p,
        "r_from_t": conversions.correlation_from_sds(arm.before.sd, arm.after.sd, by_t).value,
    }


def convert_percent(x):
    arm = take_arm(x)
    percent = prepost.percent_change(arm)
    ratio = paired.log_ratio_of_means(arm.after, arm.before, arm.r)
    low, high = ratio.interval()
    return {
        "percent_change": percent.estimate,
        "se_percent_delta": percent.se,
        "log_ratio": ratio.estimate,
        "v_log_ratio": ratio.variance,
        "pct_ci_lb_from_log": as_percent(low),
        "pct_ci_ub_from_log": as_percent(high),
    }


def take_arm(x):
    return prepost.Arm(
        Summary(x["mean_pre"], x["sd_pre"], x["n"]), Summary(x["mean_post"], x["sd_post"], x["n"]), x["r"]
    )


def convert_ratio(x):
    effect = tests.effect_from_interval(Metric.LOG_RISK_RATIO, x["ratio"], *x["ci95"])
    p = t_tests.two_sided_p(effect.estimate / effect.se)
    return {"yi": effect.estimate, "vi": effect.variance, "sei": effect.se, "p_implied": p}


def convert_p(x):
    effect = tests.effect_from_p(Metric.MEAN_DIFFERENCE, x["estimate"], x["p_two_sided"])
    return {"vi": effect.variance, "sei": effect.se, "z": abs(effect.estimate) / effect.se}


def convert_d(x):
    d = x["d"]
    log_odds = metrics.log_odds_ratio_from_d(d)
    answer = {
        "r_equal_n": metrics.correlation_from_d(d),
        "or_logistic": math.exp(log_odds),
        "log_or_logistic": log_odds,
        "cles_metafor": metrics.probability_of_superiority(d),
    }
    for name, compute_share in (
        ("p_superiority", metrics.probability_of_superiority),
        ("u3", metrics.share_above_mean),
        ("overlap", metrics.overlap),
    ):
        answer |= dict.fromkeys((name, f"{name}_check"), compute_share(d))
    return answer


def convert_r(x):
    z = association.fisher_z(x["r"], 10).estimate
    return {"d_equal_n": metrics.d_from_correlation(x["r"]), "z": z, "r_back": math.tanh(z)}


def convert_odds_ratio(x):
    odds_ratio, p0 = x["or"], x["p0"]
    d = metrics.d_from_odds_ratio(odds_ratio)
    return {
        "d": d,
        "r": metrics.correlation_from_d(d),
        "rr": metrics.risk_ratio_from_odds_ratio(odds_ratio, p0),
        "nnt": metrics.number_needed(odds_ratio, p0),
    }


def convert_t_to_r(x):
    r = association.correlation_from_t(x["t"], x["n"] - 2)
    z = association.fisher_z(r, x["n"])
    return {"r": r, "z": z.estimate, "v_z": z.variance}


VARIANTS = {
    "SE_CI_to_SD": convert_spread,
    "MD_t_p_CI_to_SE_and_pooled_SD": convert_difference,
    "t_F_p_to_SMD_independent": convert_test,
    "t_F_p_to_SMCC_paired": convert_paired_test,
    "median_range_IQR_to_mean_SD": convert_five_numbers,
    "combine_independent_groups": combine,
    "change_SD_and_r": convert_change,
    "percent_change_of_means": convert_percent,
    "ratio_CI_to_log_SE": convert_ratio,
    "estimate_p_to_SE": convert_p,
    "d_conversions": convert_d,
    "r_conversions": convert_r,
    "or_conversions": convert_odds_ratio,
    "t_to_r": convert_t_to_r,
}
