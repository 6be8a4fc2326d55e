"""Networks of raw event counts: against published check values, closed forms and independent likelihoods."""

import csv
import json
from collections.abc import Sequence
from itertools import product
from math import comb
from pathlib import Path

import numpy as np
import pytest

from evidence.errors import NumberProblem
from evidence.statistics.heterogeneity import Array
from evidence.statistics.hypergeometric import hypergeometric_moments, log_chance
from evidence.statistics.network_counts import CountStudy, compare_counts, make_count_study

ORACLES = Path(__file__).parents[2] / "oracles"


def read_dong() -> list[CountStudy]:
    """Dong et al. 2013, Thorax 68:48-56: deaths in 41 trials of six treatments."""
    with (ORACLES / "data" / "netraw_Dong2013.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return [
        make_count_study(
            name,
            [row["treatment"] for row in rows if row["id"] == name],
            [int(row["death"]) for row in rows if row["id"] == name],
            [int(row["randomized"]) for row in rows if row["id"] == name],
        )
        for name in dict.fromkeys(row["id"] for row in rows)
    ]


def expected(case: str) -> dict[str, list[list[float]]]:
    cases = json.loads((ORACLES / "network.json").read_text(encoding="utf-8"))["cases"]
    return next(one["expected"] for one in cases if one["id"] == case)  # type: ignore[no-any-return]


def test_one_two_by_two_table_gives_the_mantel_haenszel_and_the_conditional_odds_ratio() -> None:
    """4 of 30 against 9 of 28: R 4.2.2 fisher.test in effect_sizes.json (bin-01-fisher) for the conditional one."""
    table = [make_count_study("1", ["A", "B"], [4, 9], [30, 28])]
    assert compare_counts(table).effect("A", "B").estimate == pytest.approx(
        np.log(4 * 19 / (9 * 26)), rel=1e-12
    )
    conditional = compare_counts(table, method="NCH").effect("A", "B").estimate
    assert conditional == pytest.approx(np.log(0.331219405337838), rel=1e-6)


def test_the_distribution_of_three_arms_is_that_of_a_full_count() -> None:
    totals, theta, whole = (4, 6, 5), np.array([0.3, -0.5, 1.1]), 6
    ways = {
        e: comb(4, e[0]) * comb(6, e[1]) * comb(5, e[2]) * float(np.exp(np.dot(theta, e)))
        for e in product(range(5), range(7), range(6))
        if sum(e) == whole
    }
    chance = np.array(list(ways.values())) / sum(ways.values())
    counts = np.array(list(ways))
    mean, covariance = hypergeometric_moments(np.array(totals), whole, theta)
    assert mean == pytest.approx(chance @ counts, rel=1e-12)
    spread = (counts - chance @ counts).T @ (chance[:, None] * (counts - chance @ counts))
    assert covariance == pytest.approx(spread, rel=1e-10)
    seen = (2, 1, 3)
    got = log_chance(np.array(seen), np.array(totals), theta)
    assert got == pytest.approx(np.dot(theta, seen) - np.log(sum(ways.values())), rel=1e-12)


def test_the_order_of_arms_and_studies_changes_nothing() -> None:
    studies = read_dong()
    turned = [CountStudy(s.name, s.arms[::-1], s.events[::-1], s.totals[::-1]) for s in studies[::-1]]
    for method in ("MH", "NCH"):
        one, two = (compare_counts(each, method=method) for each in (studies, turned))
        assert one.estimates == pytest.approx(two.estimates, abs=1e-9)
        assert one.ses == pytest.approx(two.ses, abs=1e-9)


def test_events_and_their_absence_are_mirror_images_for_mantel_haenszel() -> None:
    studies = read_dong()
    absent = [
        CountStudy(s.name, s.arms, tuple(n - e for e, n in zip(s.events, s.totals, strict=True)), s.totals)
        for s in studies
    ]
    one, two = compare_counts(studies), compare_counts(absent)
    assert one.estimates == pytest.approx(-two.estimates, abs=1e-12)
    assert one.ses == pytest.approx(two.ses, abs=1e-12)


def multinomial_fit(studies: Sequence[CountStudy], nodes: Sequence[str]) -> tuple[Array, Array, float]:
    """The Breslow approximation: events of a study shared out as n exp(theta); Newton's method."""
    beta = np.zeros(len(nodes) - 1)

    def climb(beta: Array) -> tuple[float, Array, Array]:
        height, score, information = 0.0, np.zeros(beta.size), np.zeros((beta.size, beta.size))
        for study in studies:
            x = np.eye(len(nodes))[[list(nodes).index(arm) for arm in study.arms]][:, 1:]
            weight = np.array(study.totals) * np.exp(x @ beta)
            share, events = weight / weight.sum(), np.array(study.events)
            height += float(events @ (x @ beta) - events.sum() * np.log(weight.sum()))
            score += x.T @ (events - events.sum() * share)
            information += events.sum() * x.T @ (np.diag(share) - np.outer(share, share)) @ x
        return height, score, information

    for _ in range(30):
        _, score, information = climb(beta)
        beta = beta + np.linalg.solve(information, score)
    return beta, np.sqrt(np.diag(np.linalg.inv(climb(beta)[2]))), climb(beta)[0]


def test_the_reference_for_hypergeometric_networks_is_the_multinomial_approximation() -> None:
    """Known divergence net-Dong2013-NCH: without the one two-arm study that has a zero, and with shares n exp(theta)
    in place of the exact distribution, its standard errors come out to 3e-6 and its odds ratios to 4e-5; its own
    point has the lower likelihood (a search that stopped early).
    """
    want = expected("net-Dong2013-NCH")
    nodes = [str(name) for name in want["treatments"]]
    studies = [
        s
        for s in read_dong()
        if sum(s.events) and not (len(s.arms) == 2 and 0 in s.events and s.name == "34")
    ]
    beta, ses, height = multinomial_fit(studies, nodes)
    reference = -np.array(want["TE"][0][1:])
    assert ses == pytest.approx(np.array(want["seTE"][0][1:]), rel=5e-6)
    assert beta == pytest.approx(reference, abs=4e-5)
    exact = compare_counts(studies, method="NCH")
    order = [exact.nodes.index(node) for node in nodes]
    assert (
        exact.ses[order[0], order[1]] > 1.05 * want["seTE"][0][1]
    )  # the approximation is too sure of itself
    assert exact.estimates[order[0], order[1]] == pytest.approx(0.10466579, abs=1e-7)
    assert height > -20011.18612976


def test_studies_without_information_are_left_out_by_name() -> None:
    studies = [
        make_count_study("none", ["A", "B"], [0, 0], [20, 20]),
        make_count_study("all", ["A", "B"], [15, 12], [15, 12]),
        make_count_study("good", ["A", "B"], [2, 5], [20, 20]),
    ]
    for method in ("MH", "NCH"):
        got = compare_counts(studies, method=method)
        assert got.k == 1
        assert "Study none is left out: nobody had the event." in got.notes
        assert "Study all is left out: everybody had the event." in got.notes


@pytest.mark.parametrize("method", ["MH", "NCH"])
def test_no_event_anywhere_is_told(method: str) -> None:
    with pytest.raises(NumberProblem, match="No study has people with and people without the event"):
        compare_counts([make_count_study("1", ["A", "B"], [0, 0], [10, 10])], method=method)


def test_a_condition_without_an_event_has_no_finite_odds_ratio() -> None:
    studies = [make_count_study("1", ["A", "B"], [0, 4], [20, 20])]
    with pytest.raises(NumberProblem, match="Nobody had the event under A"):
        compare_counts(studies, method="NCH")
    with pytest.raises(NumberProblem, match="nothing can be compared"):
        compare_counts(studies)


def test_conditions_that_nothing_connects_are_refused_with_their_parts() -> None:
    studies = [
        make_count_study("1", ["A", "B"], [2, 4], [20, 20]),
        make_count_study("2", ["C", "D"], [3, 1], [20, 20]),
    ]
    for method in ("MH", "NCH"):
        with pytest.raises(NumberProblem, match=r"2 parts that nothing connects: \(1\) A, B; \(2\) C, D"):
            compare_counts(studies, method=method)


@pytest.mark.parametrize(
    ("arms", "events", "totals", "says"),
    [
        (["A"], [1], [9], "at least two"),
        (["A", "A"], [1, 1], [9, 9], "stands twice"),
        (["A", "B"], [10, 1], [9, 9], "10 events among 9 people"),
        (["A", "B"], [-1, 1], [9, 9], "-1 events"),
        (["A", "B"], [1.5, 1], [9, 9], "1.5 events"),
        (["A", "B"], [1], [9, 9], "differ in number"),
        (["A", "B"], [0, 1], [0, 9], "0 events among 0"),
    ],
)
def test_impossible_counts_are_refused(
    arms: list[str], events: list[int], totals: list[int], says: str
) -> None:
    with pytest.raises(NumberProblem, match=says):
        make_count_study("1", arms, events, totals)
