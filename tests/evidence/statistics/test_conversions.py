"""From printed figures to effects: inversions, refusals, and what is said about assumptions."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import NumberProblem
from evidence.statistics import (
    association,
    conversions,
    counts,
    independent,
    one_sample,
    paired,
    t_tests,
)
from evidence.statistics import conversions_medians as medians
from evidence.statistics import conversions_metrics as metrics
from evidence.statistics import conversions_tests as tests
from evidence.statistics.conversions_medians import FiveNumbers
from evidence.statistics.correlations import Correlation
from evidence.statistics.counts import Events, Rate
from evidence.statistics.effect import Metric, Summary

ASSUMED = Correlation(0.5, 0.2, 0.8, False, "Two exercises done by the same people", "assumed for this test")


people = st.integers(3, 80)


def printed(low: float, high: float) -> st.SearchStrategy[float]:
    """Figures as papers print them: none finer than a millionth."""
    return st.floats(low, high).map(lambda figure: round(figure, 6))


@given(st.floats(-50, 50), st.floats(0.1, 30), people, st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_the_interval_of_a_mean_gives_its_sd_back(mean, sd, n, level):
    test = t_tests.weigh_difference(mean, sd / math.sqrt(n), n - 1, level)
    assert conversions.sd_from_interval(test.low, test.high, n, level).value == pytest.approx(sd, rel=1e-9)
    assert conversions.sd_from_se(test.se, n).value == pytest.approx(sd)


def test_which_distribution_an_interval_was_built_with_is_an_assumption():
    got = conversions.sd_from_interval(46.1, 58.5, 12)
    (said,) = got.assumptions
    assert (
        said.low == said.value == got.value < said.high
    )  # t is wider than normal, so the SD behind it is smaller


@given(st.floats(0.1, 30), st.floats(0.1, 30), st.floats(-0.99, 0.99))
def test_the_sd_of_differences_gives_the_correlation_back(a, b, r):
    sd = paired.difference_sd(Summary(0, a, 10), Summary(0, b, 10), r)
    assert conversions.correlation_from_sds(a, b, sd).value == pytest.approx(r, abs=1e-6)


def test_an_impossible_sd_of_differences_is_refused():
    with pytest.raises(NumberProblem, match="standard error"):
        conversions.correlation_from_sds(10, 11, 30)


@given(st.lists(st.tuples(printed(-9, 9), printed(0, 5), st.integers(2, 20)), min_size=2, max_size=5))
def test_groups_can_be_combined_in_any_order_and_in_steps(figures):
    groups = [Summary(*figure) for figure in figures]
    at_once = conversions.combine_groups(*groups).summary
    backwards = conversions.combine_groups(*reversed(groups)).summary
    stepwise = conversions.combine_groups(
        conversions.combine_groups(*groups[:2]).summary, *groups[2:]
    ).summary
    for other in (backwards, stepwise):
        assert other.n == at_once.n
        assert other.mean == pytest.approx(at_once.mean, abs=1e-9)
        assert other.sd == pytest.approx(at_once.sd, abs=1e-7)


@given(
    printed(-40, 40),
    st.floats(1, 20),
    st.integers(3, 40),
    printed(-40, 40),
    st.floats(1, 20),
    st.integers(3, 40),
)
def test_a_t_of_two_groups_gives_their_standardised_difference(m1, s1, n1, m2, s2, n2):
    a, b = Summary(m1, s1, n1), Summary(m2, s2, n2)
    t = t_tests.compare_equal_spreads(a, b).t
    direct, by_t = independent.standardised_mean_difference(a, b), tests.smd_from_t(t, n1, n2)
    assert by_t.estimate == pytest.approx(direct.estimate, abs=1e-9)
    assert by_t.variance == pytest.approx(direct.variance)
    by_f = tests.smd_from_f(t**2, n1, n2, a_higher=t >= 0)
    assert by_f.estimate == pytest.approx(direct.estimate, abs=1e-7)


@given(st.floats(0.3, 6), st.integers(4, 40))
def test_p_and_t_of_pairs_agree(t, n):
    p = t_tests.two_sided_p(t, n - 1)
    assert tests.smd_from_paired_p(p, n, a_higher=True).estimate == pytest.approx(
        tests.smd_from_paired_t(t, n).estimate, rel=1e-6
    )


def test_a_paired_t_is_not_a_t_of_groups():
    paired_d = tests.smd_from_paired_t(3.0, 12, 0.5).estimate
    wrong = tests.smd_from_t(3.0, 12, 12).estimate
    assert abs(paired_d) < abs(wrong)


def test_an_assumed_correlation_and_equal_sds_are_said():
    effect = tests.smd_from_paired_t(3.0, 12, ASSUMED)
    assert {said.code for said in effect.assumptions} == {"correlation", "equal_sds"}


def test_a_threshold_is_a_bound_and_not_an_effect():
    bound = tests.bound_from_threshold(0.05, 12, 12)
    assert bound.at_least
    # |t| at least 2.0739 with 22 df (printed table): d at least 2.0739·√(2/12)
    assert bound.magnitude == pytest.approx(2.0739 * math.sqrt(2 / 12), abs=1e-4)
    assert "at least" in bound.text
    assert not hasattr(bound, "estimate")
    above = tests.bound_from_threshold(0.05, 12, below=False)
    assert "at most" in above.text
    assert above.metric is Metric.SMD_CHANGE


def test_a_ratio_with_its_interval_is_taken_on_the_log_scale():
    effect = tests.effect_from_interval(Metric.LOG_RISK_RATIO, 0.61, 0.39, 0.95)
    assert effect.estimate == pytest.approx(math.log(0.61))
    assert effect.interval()[0] == pytest.approx(math.log(0.39), abs=0.01)
    assert effect.assumptions == ()


def test_a_lopsided_interval_is_used_and_said():
    # Plotkin 2023: -1.6, SE 2.1, bootstrap interval -6.1 to 2.0
    effect = tests.effect_from_interval(Metric.MEAN_DIFFERENCE, -1.6, -6.1, 2.0)
    assert [said.code for said in effect.assumptions] == ["asymmetric_interval"]


@given(st.floats(0.05, 3), st.floats(0.0001, 0.9))
def test_an_exact_p_gives_the_uncertainty_back(estimate, p):
    effect = tests.effect_from_p(Metric.SMD, estimate, p)
    assert t_tests.two_sided_p(effect.estimate / effect.se) == pytest.approx(p, rel=1e-6)


def test_a_skewed_median_is_converted_and_said():
    even = medians.summarise_median(FiveNumbers(18, 40, q1=15, q3=21))
    skewed = medians.summarise_median(FiveNumbers(16, 40, q1=15, q3=30))
    assert [said.code for said in even.assumptions] == ["median_converted"]
    assert [said.code for said in skewed.assumptions] == ["skewed_median"]
    assert even.summary.mean == pytest.approx(18)


def test_log_normal_quartiles_give_a_mean_above_the_median():
    numbers = FiveNumbers(10, 200, q1=5, q3=20)
    got = medians.summarise_lognormal(numbers).summary
    # σ of the logs = ln 2/0.6745, mean = 10·exp(σ²/2): closed form for large n
    sigma2 = (math.log(2) / 0.67449) ** 2
    assert got.mean == pytest.approx(10 * math.exp(sigma2 / 2), rel=0.03)


@given(st.floats(-2.5, 2.5))
def test_metrics_convert_there_and_back(d):
    assert metrics.d_from_correlation(metrics.correlation_from_d(d)) == pytest.approx(d, abs=1e-9)
    assert metrics.d_from_odds_ratio(math.exp(metrics.log_odds_ratio_from_d(d))) == pytest.approx(d, abs=1e-9)
    assert metrics.share_above_mean(d) + metrics.share_above_mean(-d) == pytest.approx(1)


@given(st.floats(-0.99, 0.99), st.integers(5, 90))
def test_a_correlation_and_its_t_agree(r, n):
    test = association.assess_correlation(r, n)
    assert association.correlation_from_t(test.t, n - 2) == pytest.approx(r, abs=1e-9)
    assert test.low <= r <= test.high


@given(st.integers(0, 20), st.integers(0, 20))
def test_swapping_counts_turns_the_sign_and_keeps_the_variance(x, y):
    a, b = Events(x, 20), Events(y, 22)
    if x + y in (0, 42):
        return
    for compute in (
        counts.log_risk_ratio,
        counts.log_odds_ratio,
        counts.arcsine_difference,
        counts.peto_log_odds_ratio,
    ):
        forward, back = compute(a, b), compute(b, a)
        assert back.estimate == pytest.approx(-forward.estimate, abs=1e-12)
        assert back.variance == pytest.approx(forward.variance)


def test_half_an_event_is_added_only_where_needed_and_said():
    some = counts.log_odds_ratio(Events(2, 30), Events(5, 30))
    none = counts.log_odds_ratio(Events(0, 30), Events(5, 30))
    assert some.assumptions == ()
    assert [said.code for said in none.assumptions] == ["zero_cells"]
    difference = counts.risk_difference(Events(0, 30), Events(5, 30))
    assert difference.estimate == pytest.approx(-5 / 30)
    assert difference.assumptions == ()


def test_rates_per_hours():
    effect = counts.log_rate_ratio(Rate(18, 4210), Rate(29, 4055))
    assert effect.variance == pytest.approx(1 / 18 + 1 / 29)
    assert counts.rate_difference(Rate(0, 100), Rate(5, 100)).estimate == pytest.approx(-0.05)


@pytest.mark.parametrize(
    "call",
    [
        lambda: counts.log_risk_ratio(Events(0, 30), Events(0, 30)),
        lambda: counts.log_odds_ratio(Events(30, 30), Events(28, 28)),
        lambda: counts.risk_difference(Events(0, 30), Events(0, 30)),
        lambda: counts.log_rate_ratio(Rate(0, 10), Rate(0, 10)),
        lambda: Events(5, 3),
        lambda: Events(-1, 3),
        lambda: Rate(3, 0),
        lambda: conversions.sd_from_se(-1, 10),
        lambda: conversions.sd_from_se(1, 1),
        lambda: conversions.sd_from_interval(3, 2, 10),
        lambda: conversions.combine_groups(),
        lambda: conversions.difference_sd_from_t(0, 2, 10),
        lambda: FiveNumbers(10, 20),
        lambda: FiveNumbers(10, 20, minimum=3),
        lambda: FiveNumbers(10, 20, q1=11, q3=15),
        lambda: medians.summarise_lognormal(FiveNumbers(10, 20, minimum=3, maximum=20)),
        lambda: medians.summarise_lognormal(FiveNumbers(10, 20, q1=-3, q3=20)),
        lambda: tests.smd_from_t(math.nan, 10, 10),
        lambda: tests.smd_from_t(2, 1, 10),
        lambda: tests.smd_from_f(-2, 10, 10, a_higher=True),
        lambda: tests.smd_from_p(0, 10, 10, a_higher=True),
        lambda: tests.smd_from_paired_t(2, 10, 1.0),
        lambda: tests.effect_from_p(Metric.SMD, 0, 0.5),
        lambda: tests.effect_from_p(Metric.LOG_RISK_RATIO, -2, 0.5),
        lambda: tests.effect_from_interval(Metric.SMD, 1, 2, 0),
        lambda: tests.mean_difference_from_t(0, 0, 10, 10),
        lambda: metrics.d_from_odds_ratio(0),
        lambda: metrics.d_from_correlation(1),
        lambda: metrics.risk_ratio_from_odds_ratio(2, 1.2),
        lambda: association.fisher_z(1, 20),
        lambda: association.fisher_z(0.4, 3),
        lambda: one_sample.log_sd(Summary(3, 0, 10)),
        lambda: one_sample.log_mean(Summary(-3, 1, 10)),
        lambda: t_tests.compare_unequal_spreads(Summary(1, 0, 5), Summary(2, 0, 5)),
    ],
)
def test_figures_that_cannot_be_converted_are_refused_in_words(call):
    with pytest.raises(NumberProblem) as caught:
        call()
    assert len(str(caught.value).split()) > 5
