"""Rating what cannot be pooled (Murad 2017, Table 1), with linked sources; every figure is invented."""

import pytest

from evidence.appraisal.body import Body
from evidence.appraisal.levels import Level
from evidence.appraisal.narrative import Linked, rate_narrative
from evidence.vocabulary.terms import Direction


def empty(**changes):
    return Body(construct="hypertrophy", metric="smd", **changes)


def source(number=1, stance="supports", kind="study", n=120, design="randomised_parallel", randomised=True):
    return Linked(f"s{number}", f"Bramble {2010 + number}", stance, kind, n, design, randomised)


def test_a_linked_source_is_evidence_by_its_stance():
    rating = rate_narrative(empty(), [source(1), source(2)])
    assert rating.start is Level.HIGH
    assert dict(rating.domain("inconsistency").facts)["directions"] == "2 for the claim"
    assert rating.domain("imprecision").proposed == -1  # 240 people: Murad 2017 Table 1, 400 or fewer
    assert rating.domain("risk_of_bias").proposed == -1  # nobody has assessed them
    assert rating.level is Level.LOW


def test_sources_that_speak_against_each_other_are_inconsistent():
    rating = rate_narrative(empty(), [source(1), source(2, "against")])
    assert rating.domain("inconsistency").proposed == -1
    assert "1 for the claim, 1 against it" in rating.domain("inconsistency").reason


def test_a_mixed_source_is_inconsistent_by_itself_beside_another():
    assert rate_narrative(empty(), [source(1), source(2, "mixed")]).domain("inconsistency").proposed == -1


def test_an_estimate_without_an_interval_counts_by_its_sign(body, contribution):
    bare = contribution(1, variance=None, low=None, high=None, estimate=-0.3)
    told = rate_narrative(body(contributions=(bare,), pooled=None), [source(2)])
    assert "1 for the claim, 1 against it" in told.domain("inconsistency").reason
    less = rate_narrative(body(contributions=(bare,), pooled=None, direction=Direction.LESS), [source(2)])
    assert less.domain("inconsistency").proposed == 0


@pytest.mark.parametrize(
    ("kind", "stance"), [("guideline", "supports"), ("expert", "against"), ("study", "background")]
)
def test_backing_is_no_evidence_of_an_effect(kind, stance):
    rating = rate_narrative(empty(), [source(kind=kind, stance=stance)])
    assert rating.start is Level.VERY_LOW
    assert dict(rating.domain("inconsistency").facts)["k"] == 0


def test_a_design_that_is_not_given_starts_low_and_is_told():
    rating = rate_narrative(empty(), [source(design="", randomised=None)])
    assert rating.start is Level.LOW
    assert any("No design is given for Bramble 2011" in note for note in rating.notes)


def test_people_who_are_not_counted_are_said_to_be_unknown():
    assert "not known" in rate_narrative(empty(), [source(n=None)]).domain("imprecision").reason


def test_the_same_sources_give_the_same_rating():
    assert rate_narrative(empty(), [source(1), source(2)]) == rate_narrative(empty(), [source(1), source(2)])
