"""Several conditions in the same people: one effect, with the right variance."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import NumberProblem
from evidence.statistics import independent, paired
from evidence.statistics.conditions import join_different_people, join_same_people
from evidence.statistics.correlations import Correlation
from evidence.statistics.effect import Metric, Summary

ASSUMED = Correlation(0.5, 0.2, 0.8, False, "Two exercises done by the same people", "assumed for this test")


# Lehman et al. 2004, Dynamic Medicine 3:4, Table 1, latissimus dorsi: two pulldowns, two rows, 12 men
LEHMAN = [
    Summary(26.23, 10.1, 12),
    Summary(22.37, 9.1, 12),
    Summary(30.10, 14.9, 12),
    Summary(37.08, 14.04, 12),
]
ROWS_OVER_PULLDOWNS = [(2, 0), (2, 1), (3, 0), (3, 1)]


@given(st.floats(1, 99), st.floats(1, 40), st.floats(1, 99), st.floats(1, 40), st.floats(-0.9, 0.9))
def test_two_conditions_give_the_paired_effects(m1, s1, m2, s2, r):
    a, b = Summary(m1, s1, 14), Summary(m2, s2, 14)
    for metric, compute in (
        (Metric.LOG_RATIO_OF_MEANS, paired.log_ratio_of_means),
        (Metric.MEAN_DIFFERENCE, paired.mean_difference),
    ):
        joint, direct = join_same_people([a, b], r, metric=metric).compare(0, 1), compute(a, b, r)
        assert joint.estimate == pytest.approx(direct.estimate, abs=1e-12)
        assert joint.variance == pytest.approx(direct.variance, rel=1e-9)
        assert joint.n == 14


def test_two_rows_over_two_pulldowns_in_twelve_people_are_one_effect():
    joined = join_same_people(LEHMAN, 0.5)
    one = joined.combine_contrasts(ROWS_OVER_PULLDOWNS)
    singles = [joined.compare(a, b) for a, b in ROWS_OVER_PULLDOWNS]
    assert one.n == 12
    assert one.estimate == pytest.approx(np.mean([single.estimate for single in singles]))
    # Averaging four dependent contrasts gains something, but far from a factor of four
    mean = np.mean([single.variance for single in singles])
    assert mean / 4 < one.variance < mean


def test_the_averaged_contrast_has_the_variance_that_simulated_people_show():
    # Independent check of w'Vw: log means of simulated log-normal people (known truth, fixed seed)
    rng = np.random.default_rng(20260101)
    means, cvs, r, n = np.array([26.0, 22.0, 30.0, 37.0]), 0.25, 0.6, 40
    sds = means * cvs
    covariance = np.outer(sds, sds) * (r + (1 - r) * np.eye(4))
    people = rng.multivariate_normal(means, covariance, size=(4000, n))
    weights = np.array([-0.5, -0.5, 0.5, 0.5])
    seen = (np.log(people.mean(axis=1)) @ weights).var(ddof=1)
    joined = join_same_people([Summary(m, s, n) for m, s in zip(means, sds, strict=True)], r)
    # 4,000 studies: the standard error of a variance is about 2.2 %; four of them are allowed
    assert joined.combine_contrasts(ROWS_OVER_PULLDOWNS).variance == pytest.approx(seen, rel=0.1)


def test_arms_of_different_people_share_their_control():
    arms = [Summary(30, 8, 15), Summary(28, 7, 12), Summary(24, 6, 20)]
    joined = join_different_people(arms)
    estimates, covariance = joined.contrast_covariance([(0, 2), (1, 2)])
    direct = independent.log_ratio_of_means(arms[0], arms[2])
    assert estimates[0] == pytest.approx(direct.estimate)
    assert covariance[0, 0] == pytest.approx(direct.variance)
    assert covariance[0, 1] == pytest.approx(
        6**2 / (20 * 24**2)
    )  # the control's own part, Gleser & Olkin 2009
    assert joined.combine_contrasts([(0, 2), (1, 2)]).n == 47
    assert joined.compare(0, 2).n == 35


def test_a_matrix_of_equal_correlations_is_the_scalar():
    matrix = 0.4 + 0.6 * np.eye(4)
    scalar, table = join_same_people(LEHMAN, 0.4), join_same_people(LEHMAN, matrix)
    np.testing.assert_allclose(table.covariance, scalar.covariance)


def test_an_assumed_correlation_is_said():
    effect = join_same_people(LEHMAN, ASSUMED).combine_contrasts(ROWS_OVER_PULLDOWNS)
    assert [assumption.code for assumption in effect.assumptions] == ["correlation"]


def test_weights_turn_an_average_into_a_chosen_mix():
    joined = join_same_people(LEHMAN, 0.5)
    only_first = joined.combine_contrasts(ROWS_OVER_PULLDOWNS, [1, 0, 0, 0])
    assert only_first.estimate == joined.compare(2, 0).estimate


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: join_same_people(LEHMAN[:1], 0.5), "at least two"),
        (lambda: join_same_people([*LEHMAN, Summary(3, 1, 11)], 0.5), "same people"),
        (lambda: join_same_people(LEHMAN, -0.9), "cannot all hold"),
        (lambda: join_same_people(LEHMAN, np.eye(3)), "4 by 4"),
        (lambda: join_same_people([*LEHMAN, Summary(0, 1, 12)], 0.5), "above 0"),
        (lambda: join_same_people(LEHMAN, 0.5, metric=Metric.SMD), "log ratio of means"),
        (lambda: join_same_people(LEHMAN, 0.5).contrast([1, 1, 0, 0]), "add up to 0"),
        (lambda: join_same_people(LEHMAN, 0.5).combine_contrasts([]), "no contrast"),
        (lambda: join_same_people(LEHMAN, 0.5).compare(1, 7), "does not name"),
        (lambda: join_same_people(LEHMAN, 0.5).combine_contrasts([(1, 0)], [-1]), "more than 0"),
    ],
)
def test_impossible_requests_are_refused_in_words(call, says):
    with pytest.raises(NumberProblem, match=says):
        call()
