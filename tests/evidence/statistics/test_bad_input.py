"""The table of bad input: every row gives the right answer or a sentence that says what to do, never a silent number.

A row is (what comes in, what is asked of it, how it ends). Rows that end in words are refused or noted with them.
"""

from collections.abc import Callable

import numpy as np
import pytest

from evidence.errors import NumberProblem
from evidence.statistics import counts, independent, paired
from evidence.statistics.counts import Events
from evidence.statistics.dependence import group_rows as group
from evidence.statistics.dependence import split_covariance
from evidence.statistics.dependent_pooling import pool_dependent
from evidence.statistics.effect import Summary
from evidence.statistics.heterogeneity import ESTIMATORS, estimate_tau2, log_likelihood
from evidence.statistics.network import from_arms, from_contrasts, read_contrasts
from evidence.statistics.network_comparison import compare_network
from evidence.statistics.network_counts import compare_counts, make_count_study
from evidence.statistics.pooling import pool
from evidence.statistics.regression import compare_subgroups, regress
from evidence.statistics.sensitivity import leave_one_out
from evidence.statistics.trend import fit_curve

Ask = Callable[[], object]
NAN, INF = float("nan"), float("inf")


def star() -> object:
    return compare_network(
        read_contrasts(["1", "2"], ["A", "A"], ["B", "C"], [0.3, 0.5], [0.1, 0.1]), draws=50
    )


REFUSED: list[tuple[str, Ask, str]] = [
    ("k = 0", lambda: pool([], []), "Give at least one effect"),
    ("k = 0, dependent", lambda: pool_dependent([], [], []), "Give at least one effect"),
    ("k = 0, network", lambda: compare_network([]), "Give at least one"),
    ("k = 0, contrasts", lambda: read_contrasts([], [], [], [], []), "Give at least one study"),
    ("k = 1, leave one out", lambda: leave_one_out([0.2], [0.1]), "nothing left"),
    ("k = 1, regression", lambda: regress([0.2], [0.1], {"x": [1.0]}), "cannot support 2 coefficients"),
    ("one group only", lambda: compare_subgroups([0.2, 0.3], [0.1, 0.1], ["a", "a"]), "only one group"),
    (
        "variance 0",
        lambda: pool([0.1, 0.2], [0.0, 0.1], labels=["A", "B"]),
        "A: The variance of the effect is 0",
    ),
    (
        "variance below 0",
        lambda: pool([0.1, 0.2], [-0.1, 0.1]),
        "result 1: The variance of the effect is -0.1",
    ),
    ("variance NaN", lambda: pool([0.1, 0.2], [0.1, NAN]), "result 2: The variance of the effect is nan"),
    ("variance infinite", lambda: pool([0.1, 0.2], [0.1, INF]), "result 2: The variance"),
    ("effect NaN", lambda: pool([NAN, 0.2], [0.1, 0.1], labels=["A", "B"]), "A: The effect is not a number"),
    ("effect infinite", lambda: pool([0.1, INF], [0.1, 0.1]), "result 2: The effect is not a number"),
    ("text for a number", lambda: pool(["high"], [0.1]), "not all numbers"),
    ("lengths differ", lambda: pool([0.1, 0.2], [0.1]), "2 effects but 1 variances"),
    (
        "SDs of 0",
        lambda: independent.mean_difference(Summary(3, 0, 9), Summary(2, 0, 9)),
        "cannot be weighed",
    ),
    ("SD below 0", lambda: Summary(3, -1, 9), "cannot be negative"),
    ("one person", lambda: Summary(3, 1, 1), "at least 2 people"),
    ("mean NaN", lambda: Summary(NAN, 1, 9), "cannot be used as a number"),
    (
        "ratio of a mean of 0",
        lambda: independent.log_ratio_of_means(Summary(0, 1, 9), Summary(2, 1, 9)),
        "above 0",
    ),
    (
        "r above 1",
        lambda: paired.mean_difference(Summary(3, 1, 9), Summary(2, 1, 9), 1.2),
        "between −1 and 1",
    ),
    (
        "different people called the same",
        lambda: paired.mean_difference(Summary(3, 1, 9), Summary(2, 1, 8), 0.5),
        "people",
    ),
    (
        "V not positive definite",
        lambda: pool_dependent([0.1, 0.2, 0.3], [[0.1, 0.2, 0], [0.2, 0.1, 0], [0, 0, 0.1]], ["A", "A", "B"]),
        "check the correlation|not positive definite",
    ),
    (
        "V links two studies",
        lambda: split_covariance(np.array([[0.1, 0.05], [0.05, 0.1]]), group(["A", "B"]), 2),
        "the same study id",
    ),
    (
        "correlation of 1",
        lambda: pool_dependent([0.1, 0.2, 0.3], [0.1] * 3, ["A", "A", "B"], rho=1.0),
        "from 0 to below 1",
    ),
    (
        "trend, V not positive definite",
        lambda: fit_curve([0, 1], [1, 2], [[1, 1], [1, 1]]),
        "check the correlation|positive definite",
    ),
    ("trend of one level", lambda: fit_curve([1, 1], [1, 2], np.eye(2)), "at least 2 different levels"),
    ("moderator constant", lambda: regress([0.1, 0.2, 0.4], [0.1] * 3, {"x": [1, 1, 1]}), "leave it out"),
    (
        "moderator missing",
        lambda: regress([0.1, 0.2, 0.4], [0.1] * 3, {"x": [1, NAN, 2]}),
        "moderator x, result 2",
    ),
    (
        "study twice in a network",
        lambda: compare_network([from_arms("1", ["A", "B"], [0, 1], [0.1, 0.1])] * 2),
        "study 1: The study stands twice",
    ),
    ("condition twice", lambda: from_arms("1", ["A", "A"], [0, 1], [0.1, 0.1]), "Combine the two arms first"),
    (
        "multi-arm: a comparison missing",
        lambda: from_contrasts("1", [("A", "B"), ("A", "C")], [0.1, 0.3], [0.1, 0.1]),
        "make 3 comparisons, but 2 are given",
    ),
    (
        "multi-arm: effects do not add up",
        lambda: from_contrasts("1", [("A", "B"), ("A", "C"), ("B", "C")], [0.1, 0.3, -0.9], [0.1] * 3),
        "do not add up",
    ),
    (
        "multi-arm: standard errors impossible",
        lambda: from_contrasts("1", [("A", "B"), ("A", "C"), ("B", "C")], [0.1, 0.3, 0.2], [0.1, 0.1, 0.5]),
        "cannot come from separate groups",
    ),
    (
        "parts that nothing connects",
        lambda: compare_network(
            read_contrasts(["1", "2"], ["A", "C"], ["B", "D"], [0.3, 0.5], [0.1, 0.1])
        ).effect("A", "C"),
        "cannot be compared until a study connects",
    ),
    ("unknown condition", lambda: star().effect("A", "Z"), "Z is not among"),  # type: ignore[attr-defined]
    (
        "no events, odds ratio",
        lambda: counts.log_odds_ratio(Events(0, 20), Events(0, 22)),
        "Nobody in either group",
    ),
    (
        "no events, risk ratio",
        lambda: counts.log_risk_ratio(Events(0, 20), Events(0, 22)),
        "Nobody in either group",
    ),
    (
        "no events, network",
        lambda: compare_counts([make_count_study("1", ["A", "B"], [0, 0], [9, 9])]),
        "No study has people with",
    ),
    ("more events than people", lambda: Events(5, 4), "5"),
    ("unknown estimator", lambda: pool([0.1, 0.2], [0.1, 0.1], tau2_method="XX"), "Choose one of REML"),
]


@pytest.mark.parametrize(("comes_in", "ask", "says"), REFUSED, ids=[row[0] for row in REFUSED])
def test_it_is_refused_with_a_sentence(comes_in: str, ask: Ask, says: str) -> None:
    with pytest.raises(NumberProblem, match=says):
        ask()


def heterogeneous() -> tuple[list[float], list[float]]:
    """Ten results on which undamped scoring swings for ever (oracles/pitfalls.json names the kind)."""
    y = [0.1, 1.3, -0.7, 2.2, 0.4, -1.1, 3.0, 0.0, 0.9, -2.0]
    return y, [0.001, 0.5, 0.002, 0.9, 0.004, 0.7, 0.003, 1.2, 0.006, 0.8]


ANSWERED: list[tuple[str, Ask, Callable[[object], bool], str]] = [
    ("k = 1", lambda: pool([0.3], [0.04]), lambda p: (p.estimate, p.se) == (0.3, 0.2), "Only one result"),  # type: ignore[attr-defined]
    ("k = 2", lambda: pool([0.3, 0.5], [0.04, 0.04]), lambda p: p.prediction_low is None, "cannot be judged"),  # type: ignore[attr-defined]
    (
        "k = 2, different",
        lambda: pool([0.0, 2.0], [0.01, 0.01]),
        lambda p: p.interval_method == "wald",
        "Only two results",
    ),  # type: ignore[attr-defined]
    (
        "duplicated study ids",
        lambda: pool([0.3, 0.5, 0.4], [0.04] * 3, labels=["A", "A", "B"]),
        lambda p: p.k == 3,
        "Several results come from one study (A)",
    ),  # type: ignore[attr-defined]
    (
        "duplicated ids, dependent",
        lambda: pool_dependent([0.3, 0.5, 0.4], [0.04] * 3, ["A", "A", "B"]),
        lambda p: p.k_studies == 2,
        "combined into one result",
    ),  # type: ignore[attr-defined]
    (
        "tau^2 on the boundary",
        lambda: pool([0.30, 0.31, 0.29, 0.30], [0.04] * 4),
        lambda p: p.tau2 == 0.0 and p.converged,
        "raised to the plain one",
    ),  # type: ignore[attr-defined]
    (
        "all effects equal",
        lambda: pool([0.3] * 4, [0.04] * 4),
        lambda p: p.tau2 == 0.0 and p.q == pytest.approx(0.0),
        "raised to the plain one",
    ),  # type: ignore[attr-defined]
    ("star network", star, lambda n: len(n.parts) == 1, "no closed loop"),  # type: ignore[attr-defined]
    (
        "one study only, network",
        lambda: compare_network([from_arms("1", ["A", "B"], [0, 1], [0.1, 0.1])], draws=50),
        lambda n: n.parts[0].tau2 == 0.0,
        "cannot be judged",
    ),  # type: ignore[attr-defined]
    (
        "parts ranked apart",
        lambda: compare_network(
            read_contrasts(["1", "2"], ["A", "C"], ["B", "D"], [0.3, 0.5], [0.1, 0.1]), draws=50
        ),
        lambda n: len(n.parts) == 2,
        "cannot be compared with each other",
    ),  # type: ignore[attr-defined]
    (
        "ids alike but for case",
        lambda: compare_network(
            read_contrasts(["Lee", "lee"], ["A", "A"], ["B", "B"], [0.3, 0.5], [0.1, 0.1]), draws=50
        ),
        lambda n: n.parts[0].counts.max() == 2,
        "are they one?",
    ),  # type: ignore[attr-defined]
    (
        "no event in one arm",
        lambda: counts.log_odds_ratio(Events(0, 20), Events(3, 20)),
        lambda e: e.variance > 0,
        "1/2 was added",
    ),  # type: ignore[attr-defined]
    (
        "a study without events, network",
        lambda: compare_counts(
            [
                make_count_study("1", ["A", "B"], [0, 0], [9, 9]),
                make_count_study("2", ["A", "B"], [1, 4], [9, 9]),
            ]
        ),
        lambda n: n.k == 1,
        "Study 1 is left out: nobody",
    ),  # type: ignore[attr-defined]
]


def words(answer: object) -> str:
    """Everything an answer says beside its figures."""
    said = list(getattr(answer, "notes", ())) + [a.text for a in getattr(answer, "assumptions", ())]
    for part in getattr(answer, "parts", ()):
        said += part.notes
    return " ".join(said)


@pytest.mark.parametrize(("comes_in", "ask", "holds", "says"), ANSWERED, ids=[row[0] for row in ANSWERED])
def test_it_is_answered_rightly_and_says_what_to_mind(
    comes_in: str, ask: Ask, holds: Callable[[object], bool], says: str
) -> None:
    answer = ask()
    assert holds(answer)
    assert says in words(answer)


@pytest.mark.parametrize("method", ESTIMATORS)
def test_every_estimator_stays_at_zero_or_above_and_converges_on_awkward_data(method: str) -> None:
    y, v = (np.array(x) for x in heterogeneous())
    for effects in (y, np.full(10, 0.3)):
        got = estimate_tau2(effects, v, method)
        assert got.converged
        assert got.value >= 0.0


@pytest.mark.parametrize("restricted", [True, False])
def test_the_search_ends_at_the_highest_likelihood_whatever_the_data(restricted: bool) -> None:
    y, v = (np.array(x) for x in heterogeneous())
    got = estimate_tau2(y, v, "REML" if restricted else "ML").value
    grid = np.concatenate(([0.0], np.geomspace(1e-6, 100, 2000)))
    best = max(log_likelihood(y, v, float(t), restricted=restricted) for t in grid)
    assert log_likelihood(y, v, got, restricted=restricted) >= best - 1e-9


def test_a_search_that_does_not_end_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    from evidence.statistics import heterogeneity

    stuck = heterogeneity.BetweenVariance("REML", 0.2, 0.2, None, False)
    monkeypatch.setitem(heterogeneity._FORMULAS, "REML", lambda y, v, x, df: stuck)
    assert any("did not converge" in note for note in pool([0.1, 0.4, 0.9], [0.02] * 3).notes)
