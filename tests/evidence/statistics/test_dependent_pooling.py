"""Results of which several come from one study: models against each other, the way that is chosen, what is
refused.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from evidence.errors import NumberProblem
from evidence.statistics.dependence import (
    aggregate,
    check_covariance,
    correlate,
    correlate_comparisons,
    group_rows,
    split_covariance,
)
from evidence.statistics.dependent_pooling import pool_dependent, vary_correlation
from evidence.statistics.multilevel import drop_component, fit_multilevel, profile_component
from evidence.statistics.multivariate import fit_multivariate
from evidence.statistics.pooling import pool
from evidence.statistics.robust import compare_with_zero, estimate_robust
from evidence.statistics.robust_weights import fit_robust_weights

STEELE = Path(__file__).parents[4] / "shared" / "data" / "steele2023_rt_vs_control_effects.csv"


def make(studies: int = 12, each: int = 3, seed: int = 3) -> tuple[np.ndarray, np.ndarray, list[str]]:
    rng = np.random.default_rng(seed)
    ids = [f"S{j}" for j in range(studies) for _ in range(each)]
    v = rng.uniform(0.02, 0.1, len(ids))
    own = np.repeat(rng.normal(0.3, 0.3, studies), each)
    return own + rng.normal(0.0, 0.15, len(ids)) + rng.normal(0.0, 1.0, len(ids)) * np.sqrt(v), v, ids


if STEELE.exists():  # may not be shipped (CC BY-NC-SA): the test is there where the data are

    @pytest.mark.parametrize(
        ("outcome", "answer", "components", "prediction"),
        [
            ("strength", (0.865, 0.768, 0.962), (0.1815, 0.0104, 0.0321), (-0.079, 1.81)),
            ("hypertrophy", (0.333, 0.284, 0.383), (0.0441, 0.0005, 0.0023), (-0.099, 0.766)),
        ],
    )
    def test_steele_2023_gives_the_published_three_level_answers(
        outcome: str, answer: tuple, components: tuple, prediction: tuple
    ) -> None:
        # Steele et al. 2023, open data; answers from the project's design material: data/README.md.
        with STEELE.open(encoding="utf-8", newline="") as file:
            rows = [row for row in csv.DictReader(file) if row["outcome"] == outcome]
        y, v = ([float(row[name]) for row in rows] for name in ("yi", "vi"))
        ids = [row["study"] for row in rows]
        got = pool_dependent(y, v, ids, arm_ids=[row["arm"] for row in rows], rho=0.0)
        # Published limits are normal ones, ours use CR2 with Satterthwaite df: 0.002 apart at 100 studies.
        assert (got.estimate, got.low, got.high) == pytest.approx(answer, abs=2e-3)
        assert got.components == pytest.approx(components, abs=6e-5)
        assert (got.prediction_low, got.prediction_high) == pytest.approx(prediction, abs=6e-4)
        ignoring = pool(y, v, labels=ids)
        assert any("treated here as if they were independent" in note for note in ignoring.notes)


def test_the_way_is_chosen_and_named() -> None:
    y, v, ids = make()
    assert pool_dependent(y, v, ids).way == "three_level"
    few = pool_dependent(y[:9], v[:9], ids[:9])
    assert few.way == "aggregate"
    assert any("Only 3 studies" in note for note in few.notes)
    single = pool_dependent(y[::3], v[::3], ids[::3])
    assert single.way == "independent"
    assert single.estimate == pytest.approx(pool(y[::3], v[::3]).estimate)
    assert single.rho is None


def test_the_assumed_correlation_is_said_and_can_be_varied() -> None:
    y, v, ids = make()
    got = vary_correlation(y, v, ids)
    assert [one.rho for one in got] == [0.2, 0.5, 0.8]
    assert all("correlate" in one.notes[0] for one in got)
    assert sum(got[0].weights) == pytest.approx(1.0)


def test_a_full_covariance_matrix_is_the_same_as_its_correlation() -> None:
    y, v, ids = make()
    clusters = group_rows(ids)
    full = np.zeros((y.size, y.size))
    for rows, block in zip(clusters.rows, correlate(v, clusters, 0.4), strict=True):
        full[np.ix_(rows, rows)] = block
    given, assumed = pool_dependent(y, full, ids), pool_dependent(y, v, ids, rho=0.4)
    assert given.estimate == pytest.approx(assumed.estimate, rel=1e-9)
    assert given.rho is None


def test_order_of_rows_does_not_matter() -> None:
    y, v, ids = make()
    mixed = np.random.default_rng(0).permutation(y.size)
    one = pool_dependent(y, v, ids)
    other = pool_dependent(y[mixed], v[mixed], [ids[i] for i in mixed])
    assert other.estimate == pytest.approx(one.estimate, rel=1e-6)
    assert other.se == pytest.approx(one.se, rel=1e-5)
    assert other.df == pytest.approx(one.df, rel=1e-4)


def test_one_result_a_study_leaves_only_a_total_variance() -> None:
    # With a single result in each study the two levels cannot be told apart, and that is said.
    y, v, ids = make(each=1)
    with pytest.raises(NumberProblem, match="cannot be told apart"):
        fit_multilevel(y, [np.array([[one]]) for one in v], (ids, range(y.size)))
    plain = fit_multilevel(y, [np.array([[one]]) for one in v], (ids,))
    assert plain.components[0] == pytest.approx(pool(y, v).tau2, rel=1e-5)


def test_a_component_at_zero_is_an_answer() -> None:
    rng = np.random.default_rng(5)
    ids = [j for j in range(10) for _ in range(3)]
    v = np.full(30, 0.05)
    y = np.repeat(rng.normal(0.3, 0.5, 10), 3) + np.tile([-0.01, 0.0, 0.01], 10)
    fitted = fit_multilevel(y, correlate(v, group_rows(ids), 0.0), (ids, range(30)))
    assert fitted.converged
    assert fitted.components[1] == 0.0
    assert drop_component(fitted, 1).statistic == pytest.approx(0.0, abs=1e-8)
    low, high = profile_component(fitted, 0)
    assert low < fitted.components[0] < high


def test_aggregation_of_two_equal_results_has_the_textbook_variance() -> None:
    # Borenstein et al. 2009, equation 24.2: v (1 + r)/2 for two results of equal variance.
    for weighting in ("mean", "inverse"):
        got = aggregate([0.2, 0.4], [0.1, 0.1], ["A", "A"], rho=0.5, weighting=weighting)
        assert got.estimates[0] == pytest.approx(0.3)
        assert got.variances[0] == pytest.approx(0.1 * 1.5 / 2)


def test_arms_shared_on_opposite_sides_correlate_negatively() -> None:
    got = correlate_comparisons(["A", "B"], ["B", "C"], [10, 10], [10, 10])
    assert got[0, 1] == pytest.approx(-0.5)
    assert correlate_comparisons(["A", "B"], ["C", "C"], [10, 10], [10, 10])[0, 1] == pytest.approx(0.5)


def test_robust_errors_of_independent_results_are_the_heteroscedasticity_consistent_ones() -> None:
    # With one row a cluster CR0 is White's HC0 and CR2 is HC2 (MacKinnon & White 1985).
    rng = np.random.default_rng(2)
    x = np.column_stack([np.ones(20), rng.normal(size=20)])
    y = x @ [1.0, 2.0] + rng.normal(size=20)
    inverse = np.linalg.inv(x.T @ x)
    beta = inverse @ x.T @ y
    residual = y - x @ beta
    hat = np.einsum("ij,jk,ik->i", x, inverse, x)
    rows = [np.array([i]) for i in range(20)]
    for correction, weight in (("CR0", 1.0), ("CR2", 1.0 / (1.0 - hat))):
        meat = x.T @ ((residual**2 * weight)[:, None] * x)
        got = estimate_robust(x, y, beta, inverse, rows, [np.eye(1)] * 20, correction=correction)
        np.testing.assert_allclose(got.covariance, inverse @ meat @ inverse, rtol=1e-10)
    single = compare_with_zero(got, [1])
    assert single.f == pytest.approx((got.beta[1] / got.se[1]) ** 2, rel=1e-8)
    assert single.df2 == pytest.approx(got.df[1], rel=1e-8)


def test_without_repeats_hierarchical_weights_are_refused() -> None:
    y, v, ids = make(each=1)
    with pytest.raises(NumberProblem, match="cannot be told"):
        fit_robust_weights(y, v, ids, weights="hierarchical")
    with pytest.raises(NumberProblem, match="No weights"):
        fit_robust_weights(y, v, ids, weights="XX")


def test_an_outcome_twice_in_a_study_is_refused() -> None:
    y, v, ids = make(each=2)
    blocks = correlate(v, group_rows(ids), 0.3)
    with pytest.raises(NumberProblem, match="stands twice"):
        fit_multivariate(y, blocks, ids, ["a"] * y.size)
    got = fit_multivariate(y, blocks, ids, ["a", "b"] * 12)
    assert got.outcomes == ("a", "b")
    assert got.rho[0] is None or -1.0 <= got.rho[0] <= 1.0


@pytest.mark.parametrize(
    ("matrix", "says"),
    [
        ([[0.04, 0.05], [0.05, 0.04]], "1.25"),
        ([[0.04, 0.01], [0.02, 0.04]], "not symmetric"),
        ([[0.04, 0.0], [0.0, 0.0]], "not above 0"),
        ([[0.04, float("nan")], [float("nan"), 0.04]], "missing"),
        ([[0.04, 0.04], [0.04, 0.04]], "not positive definite"),
    ],
)
def test_a_matrix_that_is_no_covariance_is_refused(matrix: list, says: str) -> None:
    with pytest.raises(NumberProblem, match=says):
        check_covariance(np.array(matrix))


def test_unusable_requests_are_refused_with_a_sentence() -> None:
    y, v, ids = make()
    for wrong, says in (
        ({"rho": 1.0}, "cannot be 1"),
        ({"rho": -0.9}, "not positive definite"),
        ({"way": "XX"}, "No way"),
        ({"level": 2.0}, "between 0 and 1"),
    ):
        with pytest.raises(NumberProblem, match=says):
            pool_dependent(y, v, ids, **wrong)
    with pytest.raises(NumberProblem, match="must be a number above 0"):
        pool_dependent([0.1, 0.2], [0.1, -0.1], ["A", "A"])
    with pytest.raises(NumberProblem, match="several studies"):
        pool_dependent([0.1, 0.2], [0.1, 0.1], ["A", "A"], way="three_level")
    linked = np.full((2, 2), 0.01) + np.eye(2) * 0.02
    with pytest.raises(NumberProblem, match="different studies"):
        split_covariance(linked, group_rows(["A", "B"]), 2)
    with pytest.raises(NumberProblem, match="must be 2 by 2"):
        split_covariance(np.eye(3), group_rows(["A", "B"]), 2)


def test_a_new_study_is_never_foreseen_more_surely_than_the_mean_is_known() -> None:
    y, ids = [0.42, 0.35, 0.10, 0.61, 0.22, 0.18, 0.33], ["a", "a", "b", "c", "c", "d", "e"]
    got = pool_dependent(y, [0.04, 0.044, 0.0625, 0.09, 0.078, 0.036, 0.048], ids)
    assert got.components == (0.0, 0.0)
    assert got.prediction_low is not None
    assert got.prediction_high is not None
    assert got.prediction_low <= got.low
    assert got.prediction_high >= got.high
