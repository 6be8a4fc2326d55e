"""Confidence in one comparison of a network: direct, loop, incoherence, imprecision last. Every figure is invented.

Steps after Brignardello-Petersen 2018 (J Clin Epidemiol 93:36-44).
"""

from types import SimpleNamespace

import pytest

from evidence.appraisal.body import Contribution
from evidence.appraisal.levels import Level
from evidence.catalogue import Catalogue
from evidence.catalogue.tables import Claim
from evidence.statistics.network import from_arms
from evidence.statistics.network_comparison import compare_network
from evidence.workflows.weigh import network_confidence
from evidence.workflows.weigh.network_confidence import PairQuestion, main_hub, rate_pair
from evidence.workflows.weigh.weighing import weigh

ASKED = PairQuestion("a", "b", "hypertrophy", "smd")


def study(name, arms, means, n=400, bias="low"):
    block = from_arms(name, arms, means, [2 / n] * len(arms))
    evidence = SimpleNamespace(bias=bias)
    return SimpleNamespace(label=name, networks=(block,), people=n, evidence=evidence)


@pytest.fixture(autouse=True)
def plain_contributions(monkeypatch):
    """Studies of these tests are figures alone, without a catalogue behind them."""

    def contribute(evidence, scale, construct, label):
        return Contribution(
            study=label, label=label, year=None, design="randomised_parallel", randomised=True, n=0, estimate=None,
            construct=construct, bias=evidence.bias,
        )  # fmt: skip

    monkeypatch.setattr(network_confidence, "contribute", contribute)


def rated(*members, people=3000):
    [part] = compare_network([m.networks[0] for m in members], draws=10).parts
    e = part.effect("a", "b")
    estimate = SimpleNamespace(
        k=len(members), estimate=e.estimate, low=e.low, high=e.high, tau2=part.tau2, i2=part.i2,
        prediction_low=None, prediction_high=None,
    )  # fmt: skip
    return rate_pair(part, members, ASKED, estimate, people)


def test_head_to_head_evidence_that_is_high_leads_and_the_indirect_is_not_rated():
    found = rated(
        study("s1", ["a", "b"], [0.6, 0.0]), study("s2", ["a", "b"], [0.6, 0.0]),
        study("s3", ["a", "c"], [0.9, 0.0], n=100, bias="high"),
        study("s4", ["b", "c"], [0.3, 0.0], n=100, bias="high"),
    )  # fmt: skip
    assert found.level is Level.HIGH
    assert "indirect evidence not rated" in found.notes[0]


def test_a_pair_that_nobody_compared_takes_the_lower_side_of_its_loop_and_says_so():
    found = rated(
        study("s1", ["a", "c"], [0.9, 0.0]), study("s2", ["b", "c"], [0.3, 0.0], bias="high"),
    )  # fmt: skip
    assert found.level is Level.MODERATE  # the side with the study at high risk: one level
    assert found.domain("risk_of_bias").proposed == -1
    assert found.low is Level.LOW
    assert "indirect only" in found.domain("indirectness").flags
    assert "no head-to-head study" in found.notes[0]


def loop_of(direct):
    """Eight studies on each side of a triangle; the two other sides say 0.6 of the pair."""
    sides = {("a", "b"): direct, ("a", "c"): 0.9, ("b", "c"): 0.3}
    return [
        study(f"{x}{y}{n}", [x, y], [effect + 0.01 * n, 0.0], n=200)
        for (x, y), effect in sides.items()
        for n in range(8)
    ]


def test_direct_and_indirect_evidence_that_disagree_cost_one_level_once():
    alike, apart = rated(*loop_of(0.6)), rated(*loop_of(1.6))
    assert "incoherent" not in alike.domain("inconsistency").flags
    assert "incoherent" in apart.domain("inconsistency").flags
    assert apart.domain("inconsistency").counted == alike.domain("inconsistency").counted - 1
    assert (alike.level, apart.level) == (Level.HIGH, Level.MODERATE)
    assert "disagree for this pair" in apart.notes[0]


def test_imprecision_is_that_of_the_network_and_comes_last():
    found = rated(study("s1", ["a", "b"], [0.1, 0.0], n=20), people=40)
    assert found.domain("imprecision").counted < 0
    assert "imprecision of the network estimate" in found.notes[0]


def test_the_hub_is_the_one_compared_most_exactly_with_both():
    members = [
        study("s1", ["a", "c"], [0.9, 0.0], n=30), study("s2", ["b", "c"], [0.3, 0.0], n=30),
        study("s3", ["a", "d"], [0.9, 0.0]), study("s4", ["b", "d"], [0.3, 0.0]),
    ]  # fmt: skip
    [part] = compare_network([m.networks[0] for m in members], draws=10).parts
    assert main_hub(part, "a", "b") == "d"
    assert main_hub(part, "a", "d") is None


def test_the_same_network_gives_the_same_rating():
    members = [study("s1", ["a", "c"], [0.9, 0.0]), study("s2", ["b", "c"], [0.3, 0.0])]
    assert rated(*members) == rated(*members)


def test_a_claim_of_the_best_is_rated_step_by_step(stocked: Catalogue, monkeypatch):
    monkeypatch.undo()
    with stocked.changing("Sam", "test") as session:
        session.add(
            Claim(
                key="best",
                kind="superlative",
                statement="Seated leg curl is best for the hamstrings",
                exercise="seated_leg_curl",
                region="hamstrings",
                construct_id="activation",
                direction="more",
                added_at=stocked.now(),
                added_by="Sam",
            )
        )
    confidence = weigh(stocked, "best").confidence
    assert any(note.startswith("Network, step by step") for note in confidence.notes)
