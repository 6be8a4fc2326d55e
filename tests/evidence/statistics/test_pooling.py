"""Pooling of independent results: published answers, what is said for k = 1, 2, and what is refused."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import NumberProblem
from evidence.statistics.heterogeneity import ESTIMATORS
from evidence.statistics.pooling import common_effect, pool

HERE = Path(__file__).parent


def read_liu_latham() -> tuple[list[float], list[float]]:
    """33 SMDs: Liu & Latham 2009, Cochrane Review CD002759 (from the project's design material:
    data/README.md).
    """
    with (HERE / "liu_latham_2009_physical_function_33.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return [float(row["y"]) for row in rows], [float(row["v"]) for row in rows]


def test_liu_latham_2009_common_effect_is_the_published_one() -> None:
    # Published: 0.14 [0.05, 0.22]; recomputed in data/README.md to four decimals, hence 5e-5.
    got = common_effect(*read_liu_latham())
    assert (got.estimate, got.low, got.high) == pytest.approx((0.1352, 0.0504, 0.2200), abs=5e-5)
    assert got.q == pytest.approx(35.93, abs=5e-3)
    assert got.i2 == pytest.approx(10.9, abs=0.05)
    assert got.model == "common"
    assert got.prediction_low is None


def test_liu_latham_2009_dersimonian_laird_agrees() -> None:
    got = pool(*read_liu_latham(), tau2_method="DL", interval="wald")
    assert (got.estimate, got.low, got.high) == pytest.approx((0.134, 0.041, 0.228), abs=5e-4)


def test_the_guard_bites_where_results_agree_too_well_and_says_so() -> None:
    # Input and answers from the project's design material: oracles/pitfalls.json, pit-negative-tau2-I2.
    y, v = [0.5, 0.51, 0.49, 0.505], [0.1, 0.2, 0.15, 0.12]
    got = pool(y, v, tau2_method="DL")
    assert got.guard_applied
    assert any("raised" in note for note in got.notes)
    assert (got.low, got.high) == pytest.approx((-0.0801992098176201, 1.08186587648429), rel=1e-9)
    assert got.tau2 == 0.0
    assert got.i2 == 0.0
    bare = pool(y, v, tau2_method="DL", interval="knapp_hartung_plain")
    assert (bare.low, bare.high) == pytest.approx((0.488488765518503, 0.513177901148163), rel=1e-9)
    assert not bare.guard_applied


def test_one_result_passes_through() -> None:
    got = pool([0.5], [0.1])
    assert (got.estimate, got.se) == pytest.approx((0.5, np.sqrt(0.1)))
    assert got.tau2 == 0.0
    assert (got.i2, got.tau2_low, got.prediction_low) == (None, None, None)
    assert (got.q, got.q_df, got.q_p) == (0.0, 0, 1.0)
    assert got.weights == (1.0,)
    assert "cannot be judged" in got.notes[0]


def test_two_results_never_pretend() -> None:
    # oracles/pitfalls.json, pit-k-equals-2-hk
    got = pool([0.2, 0.8], [0.04, 0.09])
    assert (got.estimate, got.se, got.tau2) == pytest.approx(
        (0.458333333333333, 0.297092391166265, 0.115), rel=1e-8
    )
    assert got.interval_method == "wald"
    assert got.df is None
    assert got.prediction_low is None
    assert any("heterogeneity cannot be judged" in note for note in got.notes)
    assert any("Knapp-Hartung" in note for note in got.notes)


def test_undamped_scoring_would_swing_here_and_ours_does_not() -> None:
    # oracles/pitfalls.json, pit-reml-nonconvergence
    y = [1.3, 1.94, 0.7, 0.36, 1.31, 0.46, 1.24, 0.71, 0.35, 0.77]
    v = [0.64, 0.421, 0.992, 0.058, 0.756, 0.634, 0.79, 0.596, 0.457, 0.935]
    got = pool(y, v, interval="wald")
    assert got.converged
    assert got.tau2 == pytest.approx(0.0819731144234166, rel=1e-6)


def test_results_of_one_study_pooled_as_independent_are_warned_about() -> None:
    got = pool([0.1, 0.2, 0.3], [0.1, 0.1, 0.1], labels=["Lee 2001", "Lee 2001", "Ortiz 2014"])
    assert "Lee 2001" in got.notes[0]
    assert "too narrow" in got.notes[0]


@pytest.mark.parametrize(
    ("y", "v", "says"),
    [
        ([], [], "no result"),
        ([0.1], [0.1, 0.2], "1 effects but 2 variances"),
        ([0.1, 0.2], [0.1, 0.0], "must be a number above 0"),
        ([0.1, 0.2], [0.1, -0.1], "must be a number above 0"),
        ([0.1, 0.2], [0.1, float("nan")], "must be a number above 0"),
        ([0.1, float("nan")], [0.1, 0.1], "not a number"),
        ([0.1, float("inf")], [0.1, 0.1], "not a number"),
        ([0.1, 0.2], [0.1, "x"], "not all numbers"),
        ([[0.1], [0.2]], [0.1, 0.2], "plain list"),
    ],
)
def test_unusable_figures_are_refused_with_a_sentence(y: list, v: list, says: str) -> None:
    for weigh in (pool, common_effect):
        with pytest.raises(NumberProblem, match=says):
            weigh(y, v)


def test_the_refusal_names_the_result() -> None:
    with pytest.raises(NumberProblem, match="Ortiz 2014"):
        pool([0.1, 0.2], [0.1, 0.0], labels=["Lee 2001", "Ortiz 2014"])


@pytest.mark.parametrize(
    "wrong", [{"tau2_method": "XX"}, {"interval": "XX"}, {"prediction": "XX"}, {"level": 95}]
)
def test_unknown_options_are_refused(wrong: dict) -> None:
    with pytest.raises(NumberProblem):
        pool([0.1, 0.2], [0.1, 0.1], **wrong)


def test_equal_effects_give_zero_spread_not_an_error() -> None:
    for method in ESTIMATORS:
        got = pool([0.3] * 5, [0.1, 0.2, 0.1, 0.3, 0.1], tau2_method=method)
        assert got.tau2 == 0.0
        assert got.guard_applied


def test_variances_of_hopelessly_different_size_are_refused_not_guessed() -> None:
    with pytest.raises(NumberProblem, match="too far apart"):
        pool([0.1, 0.2, 0.3], [1e-320, 0.1, 0.2])


results = st.lists(st.tuples(st.floats(-3.0, 3.0), st.floats(1e-3, 2.0)), min_size=1, max_size=15)


@given(results, st.sampled_from(ESTIMATORS))
def test_turning_the_sign_of_every_effect_turns_only_the_sign(pairs: list, method: str) -> None:
    y, v = np.array(pairs).T
    one, other = pool(y, v, tau2_method=method), pool(-y, v, tau2_method=method)
    # Iterations end at a relative 1e-13 of tau^2; 1e-7 leaves room for rounding where the likelihood is flat.
    assert other.estimate == pytest.approx(-one.estimate, rel=1e-7, abs=1e-9)
    assert other.high == pytest.approx(-one.low, rel=1e-7, abs=1e-9)
    assert other.tau2 == pytest.approx(one.tau2, rel=1e-6, abs=1e-9)


@given(results)
def test_weights_are_shares_and_the_estimate_lies_among_the_effects(pairs: list) -> None:
    y, v = np.array(pairs).T
    got = pool(y, v)
    assert sum(got.weights) == pytest.approx(1.0)
    assert min(y) - 1e-9 <= got.estimate <= max(y) + 1e-9
    assert got.low < got.estimate < got.high
    if got.k >= 3:
        wald = pool(y, v, interval="wald")
        assert got.high - got.low >= wald.high - wald.low
        assert got.prediction_low <= got.low
