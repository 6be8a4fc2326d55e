"""Trends over levels: closed forms, ranges, and what may be said."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import NumberProblem
from evidence.statistics.conditions import join_same_people
from evidence.statistics.effect import Metric, Summary
from evidence.statistics.pooling import pool
from evidence.statistics.trend import Direction, Shape, fit_conditions, fit_curve, pool_curves

LEVELS = np.array([0.0, 30.0, 60.0, 90.0])


@given(st.floats(-0.1, 0.1), st.floats(-5, 5), st.floats(0.1, 3), st.floats(0, 0.9))
def test_equal_spreads_give_the_ordinary_line_with_the_within_person_variance(slope, start, sd, r):
    # Compound symmetry: GLS is least squares, and the slope has variance σ²(1 − r)/Sxx (closed form)
    y = start + slope * LEVELS
    v = sd**2 * (r + (1 - r) * np.eye(4)) / 12
    fit = fit_curve(LEVELS, y, v)
    sxx = ((LEVELS - LEVELS.mean()) ** 2).sum()
    assert fit.coefficients[0] == pytest.approx(slope, abs=1e-9)
    assert fit.covariance[0, 0] == pytest.approx(sd**2 * (1 - r) / 12 / sxx, rel=1e-8)


def test_two_levels_give_the_paired_comparison():
    a, b = Summary(40, 9, 12), Summary(30, 8, 12)
    joined = join_same_people([b, a], 0.5)
    fit = fit_conditions([10, 20], joined)
    effect = joined.compare(1, 0)
    estimate, low, high = fit.change(10, 20)
    assert estimate == pytest.approx(effect.estimate)
    assert (low, high) == pytest.approx(effect.interval())
    assert fit.people == 12


def test_a_slope_that_might_be_flat_supports_no_statement():
    v = 0.5 * (0.4 + 0.6 * np.eye(4))
    assert fit_curve(LEVELS, [0, 0.1, 0.0, 0.2], v).direction() is Direction.UNCLEAR
    assert fit_curve(LEVELS, [0, 3, 6, 9], v).direction() is Direction.RISES
    assert fit_curve(LEVELS, [9, 6, 3, 0], v).direction() is Direction.FALLS


def test_a_peak_in_the_middle_is_no_rise():
    v = 0.01 * np.eye(4)
    curve = fit_curve(LEVELS, [0, 2, 2.5, 1.0], v, shape=Shape.QUADRATIC)
    assert curve.direction() is Direction.UNCLEAR
    statistic, df, p = curve.nonlinearity()
    assert df == 1
    assert p < 0.001
    assert statistic > 10


@pytest.mark.parametrize("shape", [Shape.QUADRATIC, Shape.SPLINE])
def test_a_curve_through_a_straight_line_is_straight(shape):
    levels = np.array([0.0, 20, 40, 60, 80])
    curve = fit_curve(levels, 1 + 0.05 * levels, 0.01 * np.eye(5), shape=shape)
    assert curve.coefficients[1] == pytest.approx(0, abs=1e-9)
    assert curve.change(0, 80)[0] == pytest.approx(4)
    assert curve.direction() is Direction.RISES


def test_a_quadratic_is_recovered():
    y = 1 + 0.2 * LEVELS - 0.001 * LEVELS**2
    curve = fit_curve(LEVELS, y, 0.1 * np.eye(4), shape=Shape.QUADRATIC)
    assert curve.coefficients == pytest.approx([0.2, -0.001])
    assert curve.q == pytest.approx(0, abs=1e-12)


def test_nothing_is_said_beyond_the_levels_studied():
    fit = fit_curve(LEVELS, LEVELS, np.eye(4))
    with pytest.raises(NumberProblem, match="outside the levels studied"):
        fit.change(0, 120)


def test_pooled_lines_are_the_pooled_slopes_over_the_common_range():
    first = fit_curve(LEVELS, 0.02 * LEVELS, 0.05 * np.eye(4), people=12)
    second = fit_curve([20, 50, 80], [0.5, 1.0, 1.7], 0.05 * np.eye(3), people=15)
    third = fit_curve([10, 100], [0.2, 2.0], 0.05 * np.eye(2), people=9)
    pooled = pool_curves([first, second, third])
    assert pooled.studies == 3
    assert pooled.people == 36
    assert (pooled.lowest, pooled.highest) == (20, 80)
    assert pooled.coefficients[0] == pytest.approx(0.02, abs=0.003)
    assert pool_curves([first]) is first
    direct = pool(
        [c.coefficients[0] for c in (first, second, third)],
        [c.covariance[0, 0] for c in (first, second, third)],
    )
    assert pooled.change(20, 21) == pytest.approx((direct.estimate, direct.low, direct.high))


def test_pooled_curves_say_what_they_leave_out():
    curves = [
        fit_curve(LEVELS, 0.02 * LEVELS + shift, 0.05 * np.eye(4), shape=Shape.QUADRATIC) for shift in (0, 1)
    ]
    pooled = pool_curves(curves)
    assert pooled.covariance == pytest.approx(curves[0].covariance / 2)
    assert "spread between studies" in pooled.notes[0]


def test_studies_without_a_common_range_are_told():
    low = fit_curve([0, 10], [0, 1], 0.1 * np.eye(2))
    high = fit_curve([50, 60], [0, 1], 0.1 * np.eye(2))
    assert "different ranges" in pool_curves([low, high]).notes[-1]


@pytest.mark.parametrize(
    "call",
    [
        lambda: fit_curve([10, 10], [1, 2], np.eye(2)),
        lambda: fit_curve([10, 20, 30], [1, 2, 3], np.eye(3), shape=Shape.QUADRATIC),
        lambda: fit_curve([10, 20], [1, 2], np.ones((2, 2))),
        lambda: fit_curve([10, 20], [1, 2, 3], np.eye(2)),
        lambda: fit_curve([10, math.nan], [1, 2], np.eye(2)),
        lambda: pool_curves([]),
        lambda: pool_curves(
            [
                fit_curve(LEVELS, LEVELS, np.eye(4)),
                fit_curve(LEVELS, LEVELS, np.eye(4), shape=Shape.QUADRATIC),
            ]
        ),
    ],
)
def test_impossible_trends_are_refused_in_words(call):
    with pytest.raises(NumberProblem) as caught:
        call()
    assert len(caught.value.message.split()) > 5


def test_intervals_of_slopes_cover_the_truth_as_often_as_they_say():
    # 600 simulated studies of 60 people at four loads, known slope; Monte Carlo error of coverage about 0.9 %
    rng = np.random.default_rng(11)
    truth, sd, r, n = 0.3, 10.0, 0.6, 60
    covariance = sd**2 * (r + (1 - r) * np.eye(4))
    covered = 0
    for _ in range(600):
        people = rng.multivariate_normal(50 + truth * LEVELS, covariance, size=n)
        summaries = [Summary(m, s, n) for m, s in zip(people.mean(0), people.std(0, ddof=1), strict=True)]
        _, low, high = fit_conditions(
            LEVELS, join_same_people(summaries, r, metric=Metric.MEAN_DIFFERENCE)
        ).change(0, 1)
        covered += low <= truth <= high
    assert covered / 600 == pytest.approx(0.95, abs=0.03)
