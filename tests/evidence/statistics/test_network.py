"""Network comparison: small networks by hand, within-person studies, what cannot be compared, what is
refused.
"""

import csv
import json
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.errors import NumberProblem
from evidence.statistics.blocks import fit_blocks
from evidence.statistics.network import (
    NetworkStudy,
    find_look_alikes,
    from_arms,
    from_contrasts,
    measure_distance,
    read_contrasts,
    split_parts,
)
from evidence.statistics.network_comparison import (
    build_network_model,
    compare_network,
    estimate_network_tau2,
    list_nodes,
)
from evidence.statistics.network_consistency import decompose_q, split_all, split_node
from evidence.statistics.pooling import pool

ORACLES = Path(__file__).parents[2] / "oracles"


def pair(name: str, first: str, second: str, effect: float, se: float) -> NetworkStudy:
    return from_contrasts(name, [(first, second)], [effect], [se])


def read_dataset(name: str) -> tuple[NetworkStudy, ...]:
    with (ORACLES / "data" / f"net_{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return read_contrasts(
        [row["studlab"] for row in rows],
        [row["treat1"] for row in rows],
        [row["treat2"] for row in rows],
        [float(row["TE"]) for row in rows],
        [float(row["seTE"]) for row in rows],
    )


def test_an_indirect_comparison_adds_effects_and_variances() -> None:
    # Bucher et al. 1997: A-C by way of B is A-B plus B-C, and so are the variances.
    (part,) = compare_network([pair("1", "A", "B", 0.3, 0.1), pair("2", "B", "C", 0.2, 0.2)]).parts
    got = part.effect("A", "C")
    assert got.estimate == pytest.approx(0.5)
    assert got.se == pytest.approx(np.hypot(0.1, 0.2))
    assert got.k_direct == 0
    assert got.prediction_low is None
    assert any("cannot be judged" in note for note in part.notes)
    assert any("no closed loop" in note for note in part.notes)


def test_two_conditions_are_an_ordinary_pooling() -> None:
    y, v = [0.1, 0.5, 0.9, 0.2], [0.02, 0.03, 0.05, 0.04]
    studies = [pair(str(i), "A", "B", e, s**0.5) for i, (e, s) in enumerate(zip(y, v, strict=True))]
    for method in ("REML", "ML", "DL"):
        (part,) = compare_network(studies, tau2_method=method).parts
        plain = pool(y, v, tau2_method=method, interval="wald")
        assert part.tau2 == pytest.approx(plain.tau2, rel=1e-6)
        assert part.effect("A", "B").estimate == pytest.approx(plain.estimate, rel=1e-6)
        assert part.effect("A", "B").se == pytest.approx(plain.se, rel=1e-6)


def test_a_star_says_that_nothing_can_be_checked() -> None:
    studies = [pair(str(i), name, "hub", 0.1 * i, 0.1) for i, name in enumerate("ABC")]
    (part,) = compare_network(studies).parts
    assert any("go through hub" in note for note in part.notes)
    assert split_node(part, "A", "hub").indirect is None
    assert split_node(part, "A", "B").direct is None


def test_parts_that_no_study_connects_are_ranked_apart_and_the_gap_is_named() -> None:
    studies = [pair("1", "A", "B", 0.1, 0.1), pair("2", "C", "D", 0.2, 0.1), pair("3", "D", "E", 0.2, 0.1)]
    got = compare_network(studies)
    assert [part.nodes for part in got.parts] == [("C", "D", "E"), ("A", "B")]
    assert "(1) C, D, E; (2) A, B" in got.notes[-1]
    with pytest.raises(NumberProblem, match="No study links A with D"):
        got.effect("A", "D")
    with pytest.raises(NumberProblem, match="X is not among"):
        got.effect("A", "X")


def test_a_late_study_joins_parts() -> None:
    studies = [pair("1", "A", "B", 0.1, 0.1), pair("2", "C", "D", 0.2, 0.1), pair("3", "D", "A", 0.2, 0.1)]
    assert split_parts(studies) == ((0, 1, 2),)
    distance = measure_distance(studies, ["A", "B", "C", "D"])
    assert distance[1].tolist() == [1.0, 0.0, 3.0, 2.0]


def test_people_who_did_every_condition_are_weighed_by_their_correlation() -> None:
    # Var(a - b) = va + vb - 2 r se_a se_b, by algebra.
    se = np.array([0.1, 0.12, 0.09])
    r = 0.8
    covariance = np.outer(se, se) * (r + (1.0 - r) * np.eye(3))
    within = from_arms("1", ["A", "B", "C"], [1.0, 1.2, 0.9], covariance)
    effect, variance = within.contrast("A", "B")
    assert effect == pytest.approx(-0.2)
    assert variance == pytest.approx(0.1**2 + 0.12**2 - 2 * r * 0.1 * 0.12)
    assert within.contrast("C", "B")[1] == pytest.approx(0.09**2 + 0.12**2 - 2 * r * 0.09 * 0.12)
    between = from_arms("2", ["A", "B"], [1.0, 1.1], [0.01, 0.0144])
    assert between.contrast("A", "B")[1] == pytest.approx(0.0244)
    both = compare_network([within, between], tau2_method="common").parts[0]
    weights = np.array([1.0 / within.contrast("A", "B")[1], 1.0 / 0.0244])
    assert both.effect("A", "B").se < weights.sum() ** -0.5 * 1.0001


def test_it_does_not_matter_which_arm_comes_first() -> None:
    covariance = np.array([[0.02, 0.005, 0.004], [0.005, 0.03, 0.006], [0.004, 0.006, 0.025]])
    means = np.array([0.1, 0.5, 0.3])
    other = [pair("2", "A", "B", -0.2, 0.15), pair("3", "B", "C", 0.4, 0.2), pair("4", "A", "C", 0.1, 0.2)]
    results = []
    for order in ([0, 1, 2], [2, 0, 1], [1, 2, 0]):
        study = from_arms("1", ["ABC"[i] for i in order], means[order], covariance[np.ix_(order, order)])
        results.append(compare_network([*other, study]).parts[0])
    for part in results[1:]:
        # 1e-6: the search for tau^2 ends at a relative precision of about that.
        np.testing.assert_allclose(part.estimates, results[0].estimates, atol=1e-6)
        assert part.tau2 == pytest.approx(results[0].tau2, abs=1e-7)


def test_with_the_tau2_of_the_reference_its_league_table_comes_out() -> None:
    """The reference's REML leaves covariances out, but given its tau^2 all else agrees
    (oracles/network.json).
    """
    cases = json.loads((ORACLES / "network.json").read_text(encoding="utf-8"))["cases"]
    checked = 0
    for case in cases:
        if case["variant"] != "random_effects_REML":
            continue
        expected = case["expected"]
        name = case["id"].removeprefix("net-").removesuffix("-random-REML")
        (part,) = compare_network(read_dataset(name), tau2=expected["tau2"], draws=10).parts
        places = [part.nodes.index(node) for node in expected["treatments"]]
        grid = np.ix_(places, places)
        np.testing.assert_allclose(part.estimates[grid], expected["TE"], rtol=1e-6, atol=1e-8)
        np.testing.assert_allclose(part.ses[grid], expected["seTE"], rtol=1e-6, atol=1e-8)
        checked += 1
    assert checked == 7


def test_our_reml_of_a_network_has_the_highest_likelihood() -> None:
    for name in ("Senn2013", "smokingcessation", "Linde2015"):
        studies = read_dataset(name)
        model = build_network_model(studies, list_nodes(studies))
        tau2, converged = estimate_network_tau2(model, "REML")
        best = fit_blocks(model, np.array([tau2])).restricted_log_likelihood
        assert converged
        for other in np.linspace(0.0, 3.0 * tau2, 61):
            assert fit_blocks(model, np.array([other])).restricted_log_likelihood <= best + 1e-9


def test_information_shares_add_up_and_ranks_are_the_same_every_time() -> None:
    (one,) = compare_network(read_dataset("Senn2013"), seed=7).parts
    (two,) = compare_network(read_dataset("Senn2013"), seed=7).parts
    np.testing.assert_allclose(one.contributions.sum(axis=0), 1.0)
    assert (one.contributions >= 0.0).all()
    assert one.standings == two.standings
    assert sum(s.mean_rank for s in one.standings) == pytest.approx(10 * 11 / 2)
    assert all(s.rank_low <= s.mean_rank <= s.rank_high for s in one.standings)
    best = max(one.standings, key=lambda s: s.p_score)
    assert best.mean_rank == min(s.mean_rank for s in one.standings)


def test_the_direction_of_best_turns_the_ladder_round() -> None:
    studies = read_dataset("Senn2013")
    up, down = (compare_network(studies, small_is_better=flag).parts[0] for flag in (False, True))
    for one, other in zip(up.standings, down.standings, strict=True):
        assert one.p_score + other.p_score == pytest.approx(1.0)


def test_disagreement_of_direct_and_indirect_evidence_is_found() -> None:
    studies = [pair("1", "A", "B", 1.0, 0.1), pair("2", "B", "C", 1.0, 0.1), pair("3", "A", "C", 0.0, 0.1)]
    (part,) = compare_network(studies, tau2_method="common").parts
    for refit in (False, True):
        got = split_node(part, "A", "C", refit=refit)
        assert (got.direct, got.indirect) == pytest.approx((0.0, 2.0))
        assert got.p is not None
        assert got.p < 1e-6
    parts = decompose_q(part)
    assert parts.between.q == pytest.approx(part.q)
    assert (parts.within.df, parts.between.df) == (0, 1)
    assert len(split_all(part)) == 3


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_back_calculation_and_whole_evidence_fit_together(seed: int) -> None:
    rng = np.random.default_rng(seed)
    names = "ABCD"
    studies = [
        pair(str(n), *rng.choice(list(names), 2, replace=False), rng.normal(), rng.uniform(0.1, 0.5))
        for n in range(8)
    ]
    studies += [pair(f"c{n}", a, b, rng.normal(), 0.3) for n, (a, b) in enumerate(pairwise(names))]
    (part,) = compare_network(studies, tau2_method="common", draws=10).parts
    for got in split_all(part):
        whole = part.effect(got.first, got.second)
        if got.direct is not None and got.indirect is not None:
            precision = got.direct_se**-2 + got.indirect_se**-2
            mean = (got.direct / got.direct_se**2 + got.indirect / got.indirect_se**2) / precision
            assert whole.estimate == pytest.approx(mean, rel=1e-6, abs=1e-6)
            assert whole.se == pytest.approx(precision**-0.5, rel=1e-6)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: from_contrasts("1", [("A", "A")], [0.1], [0.1]), "with itself"),
        (lambda: from_contrasts("1", [("A", "B"), ("B", "A")], [0.1, -0.1], [0.1, 0.1]), "stands twice"),
        (lambda: from_contrasts("1", [("A", "B"), ("B", "C")], [0.1, 0.1], [0.1, 0.1]), "make 3 comparisons"),
        (lambda: from_contrasts("1", [("A", "B")], [0.1], [0.0]), "not above 0"),
        (lambda: from_contrasts("1", [("A", "B")], [float("nan")], [0.1]), "missing"),
        (
            lambda: from_contrasts("1", [("A", "B"), ("B", "C"), ("A", "C")], [1, 1, -2], [0.1, 0.1, 0.1]),
            "do not add up",
        ),
        (
            lambda: from_contrasts("1", [("A", "B"), ("B", "C"), ("A", "C")], [1, 1, 2], [0.1, 0.1, 0.3]),
            "cannot come from separate groups",
        ),
        (lambda: from_arms("1", ["A"], [0.1], [0.1]), "at least two"),
        (lambda: from_arms("1", ["A", "A"], [0.1, 0.1], [0.1, 0.1]), "stands twice"),
        (lambda: from_arms("1", ["A", "B"], [0.1, 0.2], [[0.01, 0.02], [0.02, 0.01]]), "positive definite"),
        (lambda: from_arms("1", ["A", "B"], [0.1, 0.2], [0.1]), "differ in number"),
        (lambda: compare_network([]), "no study"),
        (lambda: read_contrasts([], [], [], [], []), "no comparison"),
        (lambda: compare_network([pair("1", "A", "B", 0, 1)] * 2), "stands twice"),
        (lambda: compare_network([pair("1", "A", "B", 0, 1)], tau2_method="XX"), "No method"),
        (lambda: compare_network([pair("1", "A", "B", 0, 1)], tau2=-1.0), "cannot be -1"),
    ],
)
def test_unusable_studies_are_refused_with_a_sentence(make, says: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(NumberProblem, match=says):
        make()


def test_names_that_look_alike_are_pointed_out_not_merged() -> None:
    assert find_look_alikes(["Lee 2001", "lee2001", "Ortiz"]) == (("Lee 2001", "lee2001"),)
    got = compare_network([pair("Lee 2001", "A", "B", 0.1, 0.1), pair("lee 2001", "A", "B", 0.1, 0.1)])
    assert "nearly the same name" in got.notes[0]
    assert len(got.parts[0].studies) == 2
