"""tau^2: likelihoods searched on a fine grid, moment equations put back, small cases by algebra."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.errors import NumberProblem
from evidence.statistics.heterogeneity import (
    ESTIMATORS,
    estimate_tau2,
    fit_weighted,
    i2_from_q,
    log_likelihood,
    profile_tau2,
    solve_q,
    typical_variance,
)
from evidence.statistics.quantiles import chi2_quantile

pairs = st.lists(st.tuples(st.floats(-3.0, 3.0), st.floats(1e-3, 2.0)), min_size=2, max_size=12)


@settings(max_examples=60, deadline=None)
@given(pairs, st.sampled_from(["REML", "ML"]))
def test_no_point_of_a_fine_grid_has_a_higher_likelihood(values: list, method: str) -> None:
    y, v = np.array(values).T
    got = estimate_tau2(y, v, method)
    assert got.converged
    best = log_likelihood(y, v, got.value, restricted=method == "REML")
    for tau2 in np.concatenate(([0.0], np.geomspace(1e-5, 50.0, 120))):
        # 1e-9: rounding of a sum of logarithms.
        assert log_likelihood(y, v, float(tau2), restricted=method == "REML") <= best + 1e-9


def test_scoring_that_swings_from_side_to_side_still_converges() -> None:
    """Found by the property above: steps that shrink by a tenth each time would need hundreds."""
    y, v = np.array([(1, 1), (1, 1), (1, 1), (2, 1.25), (2.5, 0.25), (0.75, 1)]).T
    assert estimate_tau2(y, v, "REML").converged


@given(pairs)
def test_the_paule_mandel_value_solves_its_equation(values: list) -> None:
    y, v = np.array(values).T
    got = estimate_tau2(y, v, "PM")
    q = fit_weighted(y, 1.0 / (v + got.value)).q
    if got.value > 0.0:
        assert q == pytest.approx(y.size - 1, rel=1e-9)
    else:
        assert q <= y.size - 1


@given(pairs)
def test_the_profile_interval_solves_its_two_equations(values: list) -> None:
    y, v = np.array(values).T
    low, high = profile_tau2(y, v)
    assert 0.0 <= low <= high
    for end, probability in ((low, 0.975), (high, 0.025)):
        target = chi2_quantile(probability, y.size - 1)
        q = fit_weighted(y, 1.0 / (v + end)).q
        assert q == pytest.approx(target, rel=1e-9) if end > 0.0 else q <= target


@given(pairs)
def test_a_constant_column_is_the_same_model_as_no_design(values: list) -> None:
    y, v = np.array(values).T
    ones = np.ones((y.size, 1))
    for method in ESTIMATORS:
        plain, design = estimate_tau2(y, v, method), estimate_tau2(y, v, method, ones)
        assert design.value == pytest.approx(plain.value, rel=1e-6, abs=1e-8)
        if plain.value > 1e-6:
            assert design.se == pytest.approx(plain.se, rel=1e-5)


def test_equal_variances_have_the_closed_form() -> None:
    # With equal v, REML, DL, HE and PM are all max(0, s^2 - v), and ML is max(0, (k-1)/k s^2 - v): by
    # algebra.
    y, v = np.array([0.1, 0.9, -0.4, 0.6]), np.full(4, 0.05)
    s2 = float(np.var(y, ddof=1))
    for method in ("REML", "DL", "HE", "PM", "EB"):
        assert estimate_tau2(y, v, method).value == pytest.approx(s2 - 0.05, rel=1e-9)
    assert estimate_tau2(y, v, "ML").value == pytest.approx(0.75 * s2 - 0.05, rel=1e-9)
    assert typical_variance(v) == pytest.approx(0.05)


def test_one_result_has_no_estimate_and_an_unknown_name_is_refused() -> None:
    one = np.array([0.4]), np.array([0.1])
    assert estimate_tau2(*one).value == 0.0
    assert estimate_tau2(*one).se is None
    assert profile_tau2(*one) == (0.0, float("inf"))
    with pytest.raises(NumberProblem, match="No estimator"):
        estimate_tau2(*one, method="magic")


def test_a_target_above_q_is_met_at_zero() -> None:
    assert solve_q(np.array([0.1, 0.1]), np.array([1.0, 1.0]), 1.0) == (0.0, True)
    assert i2_from_q(0.5, 3) == 0.0
    assert i2_from_q(10.0, 5) == pytest.approx(50.0)
