"""The shared parts of every effect."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import NumberProblem
from evidence.statistics.effect import (
    Effect,
    Metric,
    Summary,
    as_percent,
    critical_value,
    hedges_factor,
    hedges_factor_approximate,
)


@given(st.floats(-5, 5), st.floats(1e-6, 9))
def test_swapping_flips_the_sign_and_keeps_the_variance(estimate, variance):
    effect = Effect(Metric.SMD, estimate, variance, n=20)
    swapped = effect.swapped()
    assert swapped.estimate == -estimate
    assert swapped.variance == variance
    low, high = effect.interval()
    assert swapped.interval() == pytest.approx((-high, -low))
    assert swapped.swapped().estimate == estimate


def test_one_sample_has_no_sides_to_swap():
    with pytest.raises(NumberProblem, match="one sample"):
        Effect(Metric.MEAN, 3, 1).swapped()


def test_interval_uses_t_only_when_df_is_given():
    # 1.959963985 and t(10) 2.228138852: printed statistical tables
    assert Effect(Metric.SMD, 0, 1).interval()[1] == pytest.approx(1.959963985, abs=1e-8)
    assert Effect(Metric.SMD, 0, 1, df=10).interval()[1] == pytest.approx(2.228138852, abs=1e-8)


@pytest.mark.parametrize(
    ("mean", "sd", "n"), [(1, 1, 1), (1, 1, 0), (1, -1, 5), (math.nan, 1, 5), (1, math.inf, 5), (1, 1, 4.5)]
)
def test_an_impossible_summary_is_refused_in_words(mean, sd, n):
    with pytest.raises(NumberProblem) as caught:
        Summary(mean, sd, n)
    assert len(caught.value.message.split()) > 4


@pytest.mark.parametrize("variance", [0, -1, math.nan])
def test_an_effect_without_a_positive_variance_is_refused(variance):
    with pytest.raises(NumberProblem):
        Effect(Metric.SMD, 0.3, variance)


def test_percent_of_a_log_ratio():
    assert as_percent(math.log(1.25)) == pytest.approx(25)
    assert as_percent(Effect(Metric.LOG_RATIO_OF_MEANS, math.log(0.8), 1)) == pytest.approx(-20)
    with pytest.raises(NumberProblem, match="not a ratio"):
        as_percent(Effect(Metric.SMD, 0.2, 1))


def test_exact_correction_for_two_degrees_of_freedom_is_one_over_root_pi():
    # Γ(1) / (√1 Γ(1/2)) = 1/√π, in closed form
    assert hedges_factor(2) == pytest.approx(1 / math.sqrt(math.pi), rel=1e-14)


def test_exact_and_approximate_corrections_meet_for_large_df():
    assert hedges_factor(500) == pytest.approx(hedges_factor_approximate(500), rel=1e-6)
    with pytest.raises(NumberProblem, match="mean difference"):
        hedges_factor(1)


@pytest.mark.parametrize("level", [0, 1, 95])
def test_a_level_that_is_no_probability_is_refused(level):
    with pytest.raises(NumberProblem):
        critical_value(level)
