"""Answers for stat_checks.json: recomputed p, intervals against p, granularity of means and SDs."""

from evidence.statistics.integrity import recompute_p
from evidence.statistics.integrity_granularity import weigh_mean, weigh_spread, weigh_yes_no
from evidence.statistics.integrity_intervals import weigh_interval

# The check file lists no more than this many sums, and SDs (these rounded to 12 decimals)
SUMS_SHOWN, SDS_SHOWN = 6, 8


def compute(case):
    """Dispatch on the family of the case."""
    return FAMILIES[case["family"]](case["inputs"])


def recompute(x):
    got = recompute_p(
        x["test"],
        x["statistic"],
        x["p_reported"],
        df1=x["df1"],
        df2=x["df2"],
        operator=x["p_operator"],
        alpha=x["alpha"],
    )
    return {
        "p_two_sided_or_upper": got.p,
        "p_one_sided": got.one_sided,
        "p_interval_from_rounding": [got.low, got.high],
        "consistent_two_sided": got.consistent,
        "consistent_if_one_sided": got.consistent_if_one_sided,
        "decision_error_two_sided": got.decision_error,
    }


def compare_interval(x):
    got = weigh_interval(x["estimate"], x["ci_lb"], x["ci_ub"], ratio=x["scale"] == "ratio", level=x["level"])
    significant = float(x["p_reported"]) <= 1 - x["level"] + 1e-12
    return {
        "se_implied": got.se,
        "z_implied": got.z,
        "p_implied": got.p,
        "centre_of_ci": got.centre,
        "estimate_off_centre": got.off_centre,
        "ci_excludes_null": got.excludes_null,
        "p_significant": significant,
        "ci_and_p_agree": significant == got.excludes_null,
    }


def test_mean(x):
    got = weigh_mean(x["mean"], x["n"], x["items"], percent=x["percent"])
    return {
        "consistent": got.possible,
        "possible_sums": got.sums[:SUMS_SHOWN],
        "nearest_possible_values": got.nearest,
        "informative": got.informative,
    }


def test_spread(x):
    got = weigh_spread(
        x["mean"], x["sd"], x["n"], x["items"], scale_min=x["scale_min"], scale_max=x["scale_max"]
    )
    return {
        "grim_consistent": got.mean_possible,
        "grimmer_consistent": got.possible,
        "n_solutions": len(got.sds),
        "solution_sds": [round(sd, 12) for sd in got.sds[:SDS_SHOWN]],
    }


def test_yes_no(x):
    got = weigh_yes_no(x["mean"], x["sd"], x["n"])
    return {"mean_possible": got.mean_possible, "sd_if_mean_true": got.sds, "consistent": got.possible}


FAMILIES = {
    "p_value": recompute,
    "ci_consistency": compare_interval,
    "GRIM": test_mean,
    "GRIMMER": test_spread,
    "binary_mean_sd": test_yes_no,
}
