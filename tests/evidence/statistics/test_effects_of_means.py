"""Effects from means: closed forms, symmetry, refusals. Check files are run in tests/oracles."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import NumberProblem
from evidence.statistics import independent, paired, prepost
from evidence.statistics.correlations import Correlation, sweep_correlations
from evidence.statistics.correlations import given as printed
from evidence.statistics.effect import Metric, Summary

ASSUMED = Correlation(0.5, 0.2, 0.8, False, "Two exercises done by the same people", "assumed for this test")


means = st.floats(1, 200)
sds = st.floats(0.5, 60)
people = st.integers(4, 60)
correlations = st.floats(-0.95, 0.95)

SYMMETRIC_INDEPENDENT = [
    independent.mean_difference,
    independent.standardised_mean_difference,
    independent.standardise_by_average_sd,
    independent.log_ratio_of_means,
    independent.log_variability_ratio,
    independent.log_cv_ratio,
]
SYMMETRIC_PAIRED = [
    paired.mean_difference,
    paired.standardised_mean_difference,
    paired.standardise_by_difference_sd,
    paired.log_ratio_of_means,
    paired.log_variability_ratio,
    paired.log_cv_ratio,
]


@pytest.mark.parametrize("compute", SYMMETRIC_INDEPENDENT)
@given(means, sds, people, means, sds, people)
def test_swapping_groups_turns_the_sign_and_keeps_the_variance(compute, m1, s1, n1, m2, s2, n2):
    a, b = Summary(m1, s1, n1), Summary(m2, s2, n2)
    forward, back = compute(a, b), compute(b, a)
    assert back.estimate == pytest.approx(-forward.estimate, rel=1e-9, abs=1e-12)
    assert back.variance == pytest.approx(forward.variance, rel=1e-9)
    assert forward.n == n1 + n2


@pytest.mark.parametrize("compute", SYMMETRIC_PAIRED)
@given(means, sds, means, sds, people, correlations)
def test_swapping_conditions_turns_the_sign_and_keeps_the_variance(compute, m1, s1, m2, s2, n, r):
    a, b = Summary(m1, s1, n), Summary(m2, s2, n)
    forward, back = compute(a, b, r), compute(b, a, r)
    assert back.estimate == pytest.approx(-forward.estimate, rel=1e-9, abs=1e-12)
    assert back.variance == pytest.approx(forward.variance, rel=1e-9)
    assert forward.n == n


@given(means, sds, means, sds, people)
def test_without_correlation_the_paired_variance_is_the_independent_one(m1, s1, m2, s2, n):
    a, b = Summary(m1, s1, n), Summary(m2, s2, n)
    assert paired.mean_difference(a, b, 0).variance == pytest.approx(
        independent.mean_difference(a, b).variance
    )
    assert paired.log_ratio_of_means(a, b, 0).variance == pytest.approx(
        independent.log_ratio_of_means(a, b).variance
    )


@given(means, sds, means, sds, people, st.floats(-0.9, 0.8))
def test_more_correlation_means_less_variance(m1, s1, m2, s2, n, r):
    a, b = Summary(m1, s1, n), Summary(m2, s2, n)
    assert paired.mean_difference(a, b, r + 0.1).variance < paired.mean_difference(a, b, r).variance
    assert paired.log_ratio_of_means(a, b, r + 0.1).variance < paired.log_ratio_of_means(a, b, r).variance


@given(means, sds, people, means, sds, people, st.floats(0.1, 50))
def test_ratios_and_standardised_differences_do_not_depend_on_the_unit(m1, s1, n1, m2, s2, n2, unit):
    a, b = Summary(m1, s1, n1), Summary(m2, s2, n2)
    scaled = Summary(m1 * unit, s1 * unit, n1), Summary(m2 * unit, s2 * unit, n2)
    for compute in (independent.log_ratio_of_means, independent.standardised_mean_difference):
        assert compute(*scaled).estimate == pytest.approx(compute(a, b).estimate, rel=1e-8, abs=1e-9)
        assert compute(*scaled).variance == pytest.approx(compute(a, b).variance, rel=1e-8)


@pytest.mark.parametrize("mean", [0, -3])
@pytest.mark.parametrize("side", ["a", "b"])
def test_a_ratio_refuses_means_that_are_not_positive_and_says_what_to_use(mean, side):
    good, bad = Summary(20, 5, 10), Summary(mean, 5, 10)
    a, b = (bad, good) if side == "a" else (good, bad)
    for compute in (independent.log_ratio_of_means, lambda x, y: paired.log_ratio_of_means(x, y, 0.5)):
        with pytest.raises(NumberProblem, match=r"MD.*SMD"):
            compute(a, b)


def test_different_numbers_of_people_are_no_pair():
    with pytest.raises(NumberProblem, match="same people"):
        paired.mean_difference(Summary(3, 1, 10), Summary(2, 1, 9), 0.5)
    with pytest.raises(NumberProblem, match="same people"):
        prepost.Arm(Summary(3, 1, 10), Summary(2, 1, 9), 0.5)


def test_no_spread_at_all_is_refused_for_standardising_and_for_weighing():
    flat = Summary(3, 0, 10)
    for compute in (independent.standardised_mean_difference, independent.mean_difference):
        with pytest.raises(NumberProblem):
            compute(flat, Summary(2, 0, 10))
    with pytest.raises(NumberProblem):
        paired.mean_difference(Summary(3, 1, 10), Summary(2, 1, 10), 1)


@pytest.mark.parametrize("r", [1.2, -1.01, math.nan])
def test_an_impossible_correlation_is_refused(r):
    with pytest.raises(NumberProblem):
        paired.mean_difference(Summary(3, 1, 10), Summary(2, 1, 10), r)


def test_an_assumed_correlation_travels_with_the_effect():
    r = ASSUMED
    effect = paired.log_ratio_of_means(Summary(37.08, 14.04, 12), Summary(26.23, 10.1, 12), r)
    (said,) = effect.assumptions
    assert said.code == "correlation"
    assert (said.low, said.value, said.high) == r.grid
    assert said.source == "assumed for this test"
    assert paired.log_ratio_of_means(Summary(3, 1, 9), Summary(2, 1, 9), printed(0.5)).assumptions == ()


def test_lehman_2004_row_over_pulldown_depends_little_on_the_assumed_correlation():
    # Lehman et al. 2004, Dynamic Medicine 3:4, Table 1: latissimus dorsi, 12 men
    row, pulldown = Summary(37.08, 14.04, 12), Summary(26.23, 10.1, 12)
    sweep = sweep_correlations(lambda r: paired.log_ratio_of_means(row, pulldown, r), ASSUMED)
    assert {round(100 * math.expm1(effect.estimate), 1) for effect in sweep.effects} == {41.4}
    assert not sweep.changes_conclusion()


def test_a_conclusion_that_rests_on_the_correlation_is_told():
    # Same table: the row without retraction against the pulldown
    slack, pulldown = Summary(30.10, 14.9, 12), Summary(26.23, 10.1, 12)
    wide = Correlation(0.5, 0.0, 0.99, False, "wide", "test")
    sweep = sweep_correlations(lambda r: paired.mean_difference(slack, pulldown, r), wide)
    assert sweep.changes_conclusion()


def test_steps_carry_formula_source_and_inputs():
    effect = independent.standardised_mean_difference(Summary(10, 3, 12), Summary(8, 2, 10))
    assert all(step.formula and step.source for step in effect.steps)
    assert effect.steps[-1].value == effect.variance
    assert effect.steps[-2].value == effect.estimate


def test_morris_change_difference_is_zero_for_equal_changes_and_grows_with_the_gain():
    arm = prepost.Arm(Summary(50, 10, 12), Summary(55, 11, 12), 0.7)
    more = prepost.Arm(Summary(50, 10, 12), Summary(60, 11, 12), 0.7)
    assert prepost.standardised_change_difference(arm, arm).estimate == 0
    forward = prepost.standardised_change_difference(more, arm)
    back = prepost.standardised_change_difference(arm, more)
    assert forward.estimate > 0
    assert back.estimate == -forward.estimate
    assert back.variance == pytest.approx(forward.variance)
    assert forward.metric is Metric.SMD_CHANGE


def test_limbs_of_the_same_people_count_once_and_gain_from_their_correlation():
    a = prepost.Arm(Summary(50, 10, 12), Summary(56, 11, 12), 0.9)
    b = prepost.Arm(Summary(50, 10, 12), Summary(53, 11, 12), 0.9)
    linked = prepost.within_person_change_difference(a, b, 0.6)
    apart = prepost.mean_change_difference(a, b)
    assert linked.n == 12
    assert apart.n == 24
    assert linked.variance == pytest.approx(0.4 * apart.variance)  # equal spreads: v(1 − r)
    small = prepost.within_person_standardised_change_difference(a, b, 0.6)
    assert small.estimate == pytest.approx(
        linked.estimate / 10 * 0.9303, rel=1e-3
    )  # J(11), Hedges 1981 table
    percent = prepost.percent_change_difference(a, b, 0.6)
    assert percent.estimate == pytest.approx(6)
    assert percent.n == 12


def test_printed_changes_give_the_same_effect_as_the_four_summaries():
    a = prepost.Arm(Summary(50, 10, 30), Summary(56, 10, 30), 0.8)
    b = prepost.Arm(Summary(49, 10, 32), Summary(51, 10, 32), 0.8)
    four = prepost.standardised_change_difference(a, b)
    changes = prepost.standardise_printed_changes(a.change, b.change, 10, 10)
    assert changes.estimate == pytest.approx(four.estimate)
    assert changes.variance == pytest.approx(four.variance, rel=0.05)  # two large-sample forms
