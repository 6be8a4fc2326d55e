"""Small-study tests, trim-and-fill and further intervals: by hand, by symmetry, by other routes to the same
law.
"""

from itertools import permutations

import numpy as np
import pytest
from scipy.special import gammainc

from evidence.errors import NumberProblem
from evidence.statistics.asymmetry import (
    correlate_with_precision,
    fail_safe,
    regress_on_precision,
    robust_to_missing,
)
from evidence.statistics.heterogeneity import fit_weighted
from evidence.statistics.spread_intervals import (
    generalised_q_tau2,
    measure_inconsistency,
    profile_likelihood_tau2,
    q_distribution,
)
from evidence.statistics.trim_and_fill import trim_and_fill

Y = [0.9, 0.7, 0.75, 0.5, 0.42, 0.35, 0.3, 0.28, 0.25, 0.2, 0.22, 0.19]
V = [0.2, 0.15, 0.12, 0.08, 0.06, 0.05, 0.03, 0.025, 0.02, 0.015, 0.012, 0.01]


def test_egger_is_the_line_of_standardised_effect_on_precision() -> None:
    # Egger et al. 1997: the slope on the standard error is the intercept of y/se on 1/se, by ordinary least
    # squares.
    se = np.sqrt(V)
    design = np.column_stack([np.ones(len(Y)), 1.0 / se])
    beta, rss, *_ = np.linalg.lstsq(design, np.array(Y) / se, rcond=None)
    error = np.sqrt(rss[0] / (len(Y) - 2) * np.linalg.inv(design.T @ design)[0, 0])
    got = regress_on_precision(Y, V)
    assert got.slope == pytest.approx(beta[0])
    assert got.limit == pytest.approx(beta[1])
    assert got.slope_se == pytest.approx(error)
    assert got.notes == ()


def test_few_or_equally_precise_results_are_said_to_tell_nothing() -> None:
    assert "little power" in regress_on_precision(Y[:6], V[:6]).notes[0]
    assert "little power" in correlate_with_precision(Y[:6], V[:6]).notes[0]
    assert regress_on_precision(Y[:2], V[:2]).p is None
    assert "equally precise" in regress_on_precision([0.1, 0.3, 0.2], [0.1, 0.1, 0.1]).notes[0]
    assert correlate_with_precision([0.1, 0.3, 0.2], [0.1, 0.1, 0.1]).tau is None
    assert correlate_with_precision(Y[:2], V[:2]).p is None
    line = regress_on_precision([1.0, 2.0, 3.0], [1.0, 4.0, 9.0])
    assert line.slope is None
    assert "exactly on a line" in line.notes[0]


def test_the_exact_rank_test_counts_permutations() -> None:
    y, v = [0.4, 0.1, 0.5, 0.2, 0.9], [0.05, 0.02, 0.04, 0.03, 0.08]
    got = correlate_with_precision(y, v)
    w = 1.0 / np.array(v)
    z = (np.array(y) - w @ y / w.sum()) / np.sqrt(np.array(v) - 1.0 / w.sum())

    def score(order: tuple[int, ...]) -> float:
        a = z[list(order)]
        return sum(
            np.sign(a[j] - a[i]) * np.sign(v[j] - v[i]) for i in range(len(a)) for j in range(i + 1, len(a))
        )

    scores = [score(order) for order in permutations(range(5))]
    observed = score((0, 1, 2, 3, 4))
    assert got.tau == pytest.approx(observed / 10)
    tail = min(np.mean(np.array(scores) >= observed), np.mean(np.array(scores) <= observed))
    assert got.p == pytest.approx(min(1.0, 2 * tail))
    assert got.exact


def test_a_symmetric_funnel_misses_nothing_and_a_cut_one_is_filled() -> None:
    y = [0.3, 0.5, 0.1, 0.6, 0.0, 0.7, -0.1]
    v = [0.01, 0.03, 0.03, 0.05, 0.05, 0.08, 0.08]
    assert trim_and_fill(y, v, side="left", tau2_method=None).missing == 0
    for estimator in ("L0", "R0"):
        got = trim_and_fill(Y, V, estimator=estimator, tau2_method=None)
        assert got.side == "left"
        assert got.missing > 0
        assert got.pooled.k == len(Y) + got.missing
        assert len(got.estimates) == got.missing
        assert "not evidence" in got.notes[0]
        mirrored = trim_and_fill([-one for one in Y], V, estimator=estimator, tau2_method=None)
        assert mirrored.side == "right"
        assert mirrored.pooled.estimate == pytest.approx(-got.pooled.estimate)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"estimator": "XX"}, "No estimator"),
        ({"side": "up"}, "No side"),
        ({"estimates": [0.1, 0.2], "variances": [0.1, 0.1]}, "at least three"),
        ({"estimates": [0.1, 0.2, 0.3], "variances": [0.1, 0.1, 0.1]}, "no side can be found"),
    ],
)
def test_what_cannot_be_filled_is_refused(wrong: dict, says: str) -> None:
    with pytest.raises(NumberProblem, match=says):
        trim_and_fill(**({"estimates": Y, "variances": V} | wrong))


def test_other_refusals_and_the_fail_safe_number() -> None:
    with pytest.raises(NumberProblem, match="No predictor"):
        regress_on_precision(Y, V, predictor="n")
    with pytest.raises(NumberProblem, match="at least two"):
        robust_to_missing([0.1], [0.1])
    # Rosenthal 1979: (sum z / 1.645)^2 - k.
    z = float(np.sum(np.array(Y) / np.sqrt(V)))
    assert fail_safe(Y, V).rosenthal == int(np.ceil((z / 1.6448536269514722) ** 2 - len(Y)))
    assert fail_safe([0.01, -0.01], [1.0, 1.0]).rosenthal == 0


def test_the_robust_interval_has_the_weights_of_one_model_and_the_width_of_the_other() -> None:
    y = np.array(Y) + np.tile([0.4, -0.4], 6)
    got = robust_to_missing(y, V)
    common = fit_weighted(y, 1.0 / np.array(V))
    assert got.tau2 > 0.0
    assert got.estimate == pytest.approx(common.beta[0])
    assert got.high - got.low > 2 * 1.96 * np.sqrt(common.covariance[0, 0])
    assert got.low < got.estimate < got.high


def test_q_follows_chi_square_without_and_a_gamma_with_equal_variances() -> None:
    v = np.array([0.1, 0.2, 0.05, 0.4, 0.3])
    for q in (0.5, 3.0, 9.0):
        assert q_distribution(q, v, 0.0) == pytest.approx(gammainc(2.0, q / 2.0), abs=1e-7)
        # Equal v: Q v/(v + tau^2) is chi-square.
        assert q_distribution(q, np.full(5, 0.1), 0.2) == pytest.approx(gammainc(2.0, q / 6.0), abs=1e-7)


def test_q_distribution_agrees_with_simulation() -> None:
    rng = np.random.default_rng(11)
    v, tau2 = np.array([0.02, 0.3, 0.05, 0.1, 0.6, 0.04]), 0.15
    y = rng.standard_normal((40_000, 6)) * np.sqrt(v + tau2)
    w = 1.0 / v
    centred = y - (y @ w / w.sum())[:, None]
    q = (centred**2 * w).sum(axis=1)
    for limit in (4.0, 12.0, 30.0):
        # Four standard errors of a proportion from 40,000 draws.
        assert q_distribution(limit, v, tau2) == pytest.approx(np.mean(q <= limit), abs=0.01)


def test_further_limits_of_tau2_solve_their_equations() -> None:
    y, v = np.array([0.1, 0.9, -0.4, 0.6, 0.5, 1.4]), np.array([0.05, 0.1, 0.04, 0.2, 0.08, 0.1])
    low, high = generalised_q_tau2(y, v)
    q = fit_weighted(y, 1.0 / v).q
    assert q_distribution(q, v, low) == pytest.approx(0.975, abs=1e-7)
    assert q_distribution(q, v, high) == pytest.approx(0.025, abs=1e-7)
    low, high = profile_likelihood_tau2(y, v)
    assert 0.0 <= low < high
    assert generalised_q_tau2(np.full(4, 0.2), np.full(4, 0.1))[0] == 0.0


def test_inconsistency_has_no_limits_for_two_results_that_agree() -> None:
    got = measure_inconsistency(0.5, 1)
    assert (got.i2, got.i2_low, got.i2_high) == (0.0, None, None)
    with pytest.raises(NumberProblem, match="at least two"):
        measure_inconsistency(0.0, 0)
