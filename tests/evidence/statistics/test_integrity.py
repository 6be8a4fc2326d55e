"""Checks on entered figures. What must not be flagged counts as much as what must."""

import csv
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import BadInput, NumberProblem
from evidence.statistics import (
    integrity,
    integrity_granularity,
    integrity_intervals,
    integrity_reports,
    integrity_significance,
)
from evidence.statistics.effect import Summary
from evidence.statistics.integrity import Severity

CASES = Path(__file__).parent / "cases"
EXAMPLES = {
    case["id"]: case for case in yaml.safe_load((CASES / "stat_examples.yaml").read_text(encoding="utf-8"))
}
with (CASES / "reporting_traps.csv").open(encoding="utf-8", newline="") as file:
    TRAPS = {row["id"]: row for row in csv.DictReader(file)}

# --- examples with published or recomputed answers (cases/stat_examples.yaml) ---------------------


def test_a_p_that_fits_only_one_sided_says_so():
    x = EXAMPLES["ST1"]["inp"]
    found = integrity.check_p_value("z", x["value"], x["p"])
    assert found.severity is Severity.WARNING
    assert "one-sided" in found.text
    got = integrity.recompute_p("z", x["value"], x["p"])
    assert got.p == pytest.approx(EXAMPLES["ST1"]["computed"]["p_two"], abs=5e-4)
    assert got.one_sided == pytest.approx(EXAMPLES["ST1"]["computed"]["p_one"], abs=5e-4)


def test_a_p_that_fits_its_z_is_left_alone():
    x = EXAMPLES["ST2"]["inp"]
    assert integrity.check_p_value("z", x["value"], x["p"]) is None


def test_means_whose_rounding_allows_the_printed_p_are_left_alone():
    x = EXAMPLES["ST3"]["inp"]
    a, b = (x["m1"], x["sd1"], x["n1"]), (x["m2"], x["sd2"], x["n2"])
    assert integrity.check_summary_p(a, b, x["p"]) is None
    outside = integrity.check_summary_p(a, b, "0.0001")
    spread = dict(outside.arithmetic[0].inputs)
    computed = EXAMPLES["ST3"]["computed"]
    assert outside.arithmetic[0].value == pytest.approx(computed["p_as_printed"], abs=5e-4)
    # The source prints 0.006; Student's t does not give the 0.0069 of the examples file
    assert spread["low"] == pytest.approx(0.006, abs=5e-4)


@pytest.mark.parametrize("name", ["ST4", "ST5", "ST6"])
def test_means_of_whole_numbers(name):
    x, wanted = EXAMPLES[name]["inp"], EXAMPLES[name]["expect"]
    found = integrity_granularity.check_mean_granularity(x["mean"], x["n"], x["items"])
    assert (found is not None) == (wanted == "impossible")


def test_an_sd_too_small_for_whole_numbers_with_this_mean():
    x = EXAMPLES["ST7"]["inp"]
    found = integrity_granularity.check_spread_granularity(x["mean"], x["sd"], x["n"])
    assert found.arithmetic[0].value == pytest.approx(EXAMPLES["ST7"]["computed"]["smallest_sd"], abs=5e-4)


@pytest.mark.parametrize("name", ["ST8", "ST9", "ST10"])
def test_estimates_off_the_centre_of_their_interval(name):
    x, wanted = EXAMPLES[name]["inp"], EXAMPLES[name]["expect"]
    found = integrity_intervals.check_interval_centre(x["est"], x["lo"], x["hi"])
    if wanted == "ok":
        assert found is None
    else:
        assert found.severity is Severity.WARNING
        assert found.arithmetic[0].value == pytest.approx(EXAMPLES[name]["computed"]["midpoint"])
    if "-0.13" in wanted:
        assert "upper -0.13" in found.text


@pytest.mark.parametrize("name", ["ST11", "ST12"])
def test_intervals_too_narrow_for_the_people(name):
    x, wanted = EXAMPLES[name]["inp"], EXAMPLES[name]["expect"]
    found = integrity_intervals.check_smd_width(x["est"], x["lo"], x["hi"], x["n"])
    assert (found is not None) == (wanted == "flag")


def test_significant_and_not_significant_is_no_difference():
    x = EXAMPLES["ST13"]["inp"]
    sides = [(x[f"e{i}"], (x[f"ci{i}"][1] - x[f"ci{i}"][0]) / 3.919928) for i in (1, 2)]
    found = integrity_significance.check_difference_of_significance(*sides)
    computed = EXAMPLES["ST13"]["computed"]
    assert found.arithmetic[0].value == pytest.approx(computed["z"], abs=5e-3)
    x, computed = EXAMPLES["ST14"]["inp"], EXAMPLES["ST14"]["computed"]
    found = integrity_significance.check_difference_of_significance((x["e1"], x["se1"]), (x["e2"], x["se2"]))
    assert found.arithmetic[0].value == pytest.approx(computed["z"], abs=5e-3)


def test_two_clear_results_or_a_direct_test_are_left_alone():
    assert integrity_significance.check_difference_of_significance((25, 5), (20, 5)) is None
    assert (
        integrity_significance.check_difference_of_significance((25, 10), (10, 10), direct_test=True) is None
    )
    assert integrity_significance.check_difference_of_significance((50, 5), (1, 5)) is None


def test_percent_and_points_are_told_apart():
    x, wanted = EXAMPLES["ST15"]["inp"], EXAMPLES["ST15"]["expect"]
    assert integrity_reports.check_percent(x["a"], x["b"], wanted["relative"]) is None
    found = integrity_reports.check_percent(x["a"], x["b"], str(wanted["points"]), both_percent=True)
    assert "percentage points" in found.text


def test_a_huge_standardised_difference_is_told_and_a_usual_one_is_not():
    assert integrity_reports.check_large_effect(EXAMPLES["ST16"]["inp"]["smd"]).severity is Severity.ERROR
    assert integrity_reports.check_large_effect(3.4).severity is Severity.WARNING
    assert integrity_reports.check_large_effect(-2.9) is None


def test_many_tests_give_false_positives():
    x, wanted = EXAMPLES["ST17"]["inp"], EXAMPLES["ST17"]["expect"]
    expected, anyone = integrity_significance.expect_false_positives(x["m"], x["alpha"])
    assert expected == pytest.approx(wanted["expected_false"])
    assert anyone == pytest.approx(wanted["any"], abs=5e-4)
    assert integrity_significance.check_multiplicity(x["m"]).severity is Severity.INFO
    assert integrity_significance.check_multiplicity(2) is None


def test_parts_that_add_up_are_left_alone():
    x = EXAMPLES["ST18"]["inp"]
    assert integrity_reports.check_sum(x["total"], x["parts"]) is None
    assert integrity_reports.check_sum(x["total"] + 1, x["parts"]) is not None
    assert integrity_reports.check_sum(100, ["33.3", "33.3", "33.3"], percent=True) is None
    assert integrity_reports.check_sum(100, ["50", "40", "30"], percent=True) is not None


def test_every_example_is_used():
    assert set(EXAMPLES) == {f"ST{i}" for i in range(1, 19)}


# --- what real papers print (cases/reporting_traps.csv: id, source and right answer) ---------------


def test_t01_an_sd_printed_as_a_standard_error():
    found = integrity_reports.check_two_spreads("2.01", "4.5", 5)
    assert "4.5 is an SD" in found.text
    assert integrity_reports.check_two_spreads("4.5", "4.53", 5) is None


def test_t03_t04_changes_against_before_and_after():
    assert integrity_reports.check_change("1363.13", "1444.59", "43.32") is not None
    assert integrity_reports.check_change("71.29", "84.80", "13.50") is None


def test_t06_a_change_with_the_wrong_sign():
    assert "sign differs" in integrity_reports.check_change("15.1", "15.4", "-0.1").text


def test_t08_an_f_that_fits_its_p():
    assert integrity.check_p_value("F", "7.6", "0.009", df1=1, df2=37) is None


def test_t09_a_percent_taken_the_other_way_round():
    found = integrity_reports.check_percent("185.9", "310.5", "40")
    assert "+67.0 %" in found.text
    assert "other way round" in found.text
    assert integrity_reports.check_percent("185.9", "310.5", "67") is None


def test_t11_the_same_figures_in_two_rows():
    rows = {
        "BFl distal": ("41.6", "2.4", "48.8", "6.8"),
        "SM distal": ("41.6", "2.4", "48.8", "6.8"),
        "SM middle": ("40.2", "2.5", "43.3", "4.4"),
    }
    (found,) = integrity_reports.check_copies(rows)
    assert "SM distal" in found.text
    assert "BFl distal" in found.text
    assert integrity_reports.check_copies({"A": ("5", "1"), "B": ("5", "1")}) == ()


def test_t13_means_that_fit_their_p():
    assert integrity.check_summary_p(("74623", "8296", 12), ("78463", "5396", 13), "0.180") is None


def test_t14_t17_one_group_significant_and_the_other_not():
    assert integrity_significance.check_within_group_p(0.019, 0.2, between_p=0.17).check == "C11"
    assert integrity_significance.check_within_group_p(0.019, 0.2) is not None
    assert integrity_significance.check_within_group_p(0.019, 0.2, between_p=0.01) is None
    assert integrity_significance.check_within_group_p(0.019, 0.02) is None
    assert integrity_significance.check_within_group_only(compared_between=False, arms=2) is not None
    assert integrity_significance.check_within_group_only(compared_between=True, arms=2) is None


@pytest.mark.parametrize(
    "places",
    [
        {"Results": ["0.071", "0.019"], "Discussion": ["0.019", "0.071"]},  # T18
        {"text": ["21.97", "19.43", "24.57"], "figure": ["22.14", "19.72", "24.61"]},  # T20
        {"data.csv": ["50"], "Table 3": ["48"]},  # T32
    ],
)
def test_t18_t20_t32_one_result_printed_in_two_ways(places):
    assert integrity_reports.check_same_figure(places) is not None


def test_the_same_result_with_fewer_digits_is_left_alone():
    assert integrity_reports.check_same_figure({"Results": ["0.0712"], "abstract": ["0.071"]}) is None


def test_t21_a_test_for_different_people_on_the_same_people():
    assert integrity_reports.check_test_against_design("Kruskal-Wallis", same_people=True) is not None
    assert integrity_reports.check_test_against_design("Friedman", same_people=True) is None
    assert integrity_reports.check_test_against_design("Mann-Whitney U", same_people=False) is None
    assert integrity_reports.check_test_against_design("paired t test", same_people=False) is not None


def test_t23_significance_marks_on_the_wrong_pair():
    pulldown, slack, retract = (26.23, 10.1), (30.10, 14.9), (37.08, 14.04)
    marked = integrity_reports.check_marked_pair(pulldown, slack, 12, marked=True)
    assert marked.arithmetic[0].value > 0.93
    assert integrity_reports.check_marked_pair(pulldown, retract, 12, marked=False) is not None
    assert integrity_reports.check_marked_pair(pulldown, retract, 12, marked=True) is None
    assert integrity_reports.check_marked_pair(pulldown, slack, 12, marked=False) is None


def test_t24_a_mean_of_ratios_is_a_note_and_no_error():
    found = integrity_reports.check_ratio_of_means("26.23", "15.20", "175.22")
    assert found.severity is Severity.INFO
    assert "172.6" in found.text
    assert integrity_reports.check_ratio_of_means("26.23", "15.20", "172.6") is None


def test_t29_lost_minus_signs_are_impossible_limits():
    found = integrity_intervals.check_interval_centre("1.77", "29.17", "20.62")
    assert found.severity is Severity.ERROR
    assert "impossible" in found.text


def test_t33_a_lopsided_bootstrap_interval_is_a_note():
    plain = integrity_intervals.check_interval_centre("-1.6", "-6.1", "2.0")
    assert plain.severity is Severity.WARNING
    found = integrity_intervals.check_interval_centre("-1.6", "-6.1", "2.0", bootstrap=True)
    assert found.severity is Severity.INFO


def test_t35_values_over_100_percent_of_maximum_are_left_alone():
    # Contreras 2015: 244 %MVIC peak is legitimate
    assert integrity_reports.check_spread(244, 121, 13, unit="%MVIC") is None


# --- further rules -----------------------------------------------------------------------------------


def test_an_sd_like_other_studies_is_left_alone_and_one_like_a_standard_error_is_not():
    others = [9.5, 11.0, 10.2]
    assert integrity_reports.check_spread(60, 9, 12, other_sds=others) is None
    assert "standard error" in integrity_reports.check_spread(60, 3, 12, other_sds=others).text
    # Leenders 2013: age 71 ± 1 years is a standard error
    assert integrity_reports.check_spread(71, 1, 24) is not None
    assert integrity_reports.check_spread(178, 6, 24, unit="cm") is None
    # 260 ± 2 after 21.5 before: same paper
    assert integrity_reports.check_spread_change("21.5", "2") is not None
    assert integrity_reports.check_spread_change("21.5", "24.0") is None


def test_a_printed_smd_is_recomputed():
    # Pereira 2016: printed -1.46 cannot come from the table; see the traps of that paper
    a, b = Summary(10, 2, 6), Summary(11.5, 2, 6)
    assert integrity_reports.check_smd(a, b, "-1.46") is not None
    assert integrity_reports.check_smd(a, b, "-0.75") is None
    assert integrity_reports.check_smd(a, b, "-0.69") is None


@pytest.mark.parametrize(
    ("df", "groups", "paired", "severity"),
    [
        (22, (12, 12), False, None),
        (21, (12, 12), False, None),
        (18.7, (12, 12), False, None),
        (15, (12, 12), False, Severity.WARNING),
        (24, (12, 12), False, Severity.ERROR),
        (11, (12,), True, None),
        (22, (12,), True, Severity.ERROR),
    ],
)
def test_degrees_of_freedom_against_people(df, groups, paired, severity):
    found = integrity.check_df(df, groups, paired=paired)
    assert (found.severity if found else None) is severity


def test_a_p_of_zero_is_told():
    assert "p < 0.001" in integrity.check_p_value("t", "9.1", "0.000", df2=20).text


def test_intervals_that_are_rightly_lopsided_are_left_alone():
    check = integrity_intervals.check_interval_centre
    assert check("0.62", "0.22", "0.84", correlation=True) is None  # Fisher's z, n = 18
    assert check("0.62", "0.22", "0.84") is not None
    assert check("1.20", "-0.07", "2.42", standardised=True) is None  # noncentral t, 6 per group
    assert check("0.20", "0.0", "0.9", ratio=True) is None  # rounded to 0
    assert check("1.52", "1.02", "2.27", ratio=True) is None
    assert check("1.25", "1.00", "1.50", ratio=True).severity is Severity.INFO  # even on the plain scale
    assert check("1.25", "-0.40", "1.50", ratio=True).severity is Severity.ERROR


@given(st.floats(-20, 20), st.floats(0.2, 10), st.integers(1, 3))
def test_a_symmetric_interval_is_never_flagged_whatever_its_rounding(estimate, half, decimals):
    figures = (f"{value:.{decimals}f}" for value in (estimate, estimate - half, estimate + half))
    assert integrity_intervals.check_interval_centre(*figures) is None


@given(st.floats(0.2, 5), st.floats(1.05, 3), st.integers(2, 3))
def test_a_ratio_interval_is_never_flagged_whatever_its_rounding(ratio, factor, decimals):
    figures = (f"{value:.{decimals}f}" for value in (ratio, ratio / factor, ratio * factor))
    found = integrity_intervals.check_interval_centre(*figures, ratio=True)
    assert found is None


def test_an_interval_and_a_p_that_disagree():
    check = integrity_intervals.check_interval_against_p
    assert check("0.61", "0.39", "1.05", ".03", ratio=True) is not None
    assert check("0.61", "0.39", "0.95", ".03", ratio=True) is None
    assert check("1.0", "0.0", "2.0", ".05") is None  # touches: rounding alone decides
    assert check("1.0", "-0.5", "2.5", ".10", operator="<") is None


def test_words_against_the_interval():
    check = integrity_intervals.check_direction
    assert check("-0.4", "-0.7", "-0.1", True) is not None
    assert check("-0.4", "-0.7", "-0.1", False) is None
    assert check("-0.4", "-0.9", "0.1", True) is None


def test_people_counted_twice_and_more_analysed_than_recruited():
    assert integrity_reports.check_counted_once([24, 24], 36) is not None
    assert integrity_reports.check_counted_once([24, 12], 36) is None
    assert integrity_reports.check_people(25, 24).severity is Severity.ERROR
    assert integrity_reports.check_people(20, 24) is None


def test_a_mean_outside_its_range_and_an_sd_too_large_for_it():
    # Nogueira 2009: ages 69 to 76 with a mean of 66
    assert integrity.check_range("66", "69", "76").severity is Severity.ERROR
    assert integrity.check_range("71", "69", "76", sd="2.5", n=12) is None
    assert integrity.check_range("71", "69", "76", sd="25", n=12) is not None
    assert integrity.check_range("71", "76", "69") is not None


@given(st.lists(st.integers(0, 50), min_size=2, max_size=20), st.integers(0, 2))
def test_real_values_fit_their_own_range(values, decimals):
    n = len(values)
    mean = sum(values) / n
    sd = (sum((value - mean) ** 2 for value in values) / (n - 1)) ** 0.5
    shown = f"{mean:.{decimals}f}", str(min(values)), str(max(values))
    assert integrity.check_range(*shown, sd=f"{sd:.{decimals}f}", n=n) is None


def test_adjusted_p_values():
    # Benjamini & Hochberg 1995, section 3.1 style; recomputed by hand
    holm, hochberg = integrity_significance.adjust_p([0.01, 0.04, 0.03, 0.005])
    assert holm == pytest.approx((0.03, 0.06, 0.06, 0.02))
    assert hochberg == pytest.approx((0.02, 0.04, 0.04, 0.02))


@pytest.mark.parametrize("text", ["", "about 5", "nan", "1.2.3", "inf"])
def test_a_figure_that_is_no_number_is_refused(text):
    with pytest.raises(BadInput):
        integrity.read_printed(text)


@pytest.mark.parametrize(
    "call",
    [
        lambda: integrity.check_p_value("t", "2.1", "0.04"),
        lambda: integrity.check_p_value("Wald", "2.1", "0.04", df2=3),
        lambda: integrity.check_p_value("t", "2.1", "1.4", df2=3),
        lambda: integrity.check_p_value("t", "2.1", "0.4", df2=3, operator="~"),
        lambda: integrity_granularity.weigh_mean("3.5", 0),
        lambda: integrity_granularity.weigh_spread("3.5", "-1", 10),
        lambda: integrity_intervals.weigh_interval("1", "2", "1"),
        lambda: integrity_intervals.weigh_interval("1", "-0.2", "3", ratio=True),
    ],
)
def test_impossible_questions_are_refused_in_words(call):
    with pytest.raises(NumberProblem):
        call()


@given(st.lists(st.integers(1, 7), min_size=2, max_size=24), st.integers(1, 3))
def test_real_whole_numbers_are_never_flagged(values, decimals):
    n = len(values)
    mean = sum(values) / n
    sd = (sum((value - mean) ** 2 for value in values) / (n - 1)) ** 0.5
    shown = f"{mean:.{decimals}f}", f"{sd:.{decimals}f}"
    assert integrity_granularity.check_mean_granularity(shown[0], n) is None
    assert integrity_granularity.check_spread_granularity(*shown, n) is None
    bounded = integrity_granularity.weigh_spread(*shown, n, scale_min=1, scale_max=7)
    assert bounded.possible
    assert set(bounded.sds) <= set(integrity_granularity.weigh_spread(*shown, n).sds)


@given(
    st.floats(-8, 8), st.integers(2, 60), st.integers(1, 3), st.sampled_from(["t", "z"]), st.integers(2, 4)
)
def test_a_p_computed_from_its_statistic_is_never_flagged(value, df, decimals, test, places):
    shown = f"{value:.{decimals}f}"
    p = integrity.recompute_p(test, shown, "0.5", df2=df).p
    assert (
        integrity.check_p_value(test, shown, f"{p:.{places}f}", df2=df) is None
        or f"{p:.{places}f}".strip("0.") == ""
    )
    assert TRAPS["T35"]["right_answer"] == "accept"


def test_findings_ask_to_check_and_never_accuse():
    found = integrity_reports.check_change("1", "2", "5")
    assert found.text.startswith("Check this figure: ")
    assert not {"fraud", "wrong", "false", "fabricat"} & set(found.text.lower().split())
