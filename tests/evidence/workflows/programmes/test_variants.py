"""A claim about a parent or another variant of a pick says so; a claim of its own comes first."""

from types import SimpleNamespace

import pytest

from evidence.appraisal.verdict import VerdictKind
from evidence.publishing.programmes import RELATED, Pick, PickClaim, Prescription, find_standing
from evidence.vocabulary import load_vocabulary
from evidence.vocabulary.terms import Direction
from evidence.workflows.programmes.swapping import favours_any
from evidence.workflows.programmes.variants import Done, family, find_studied, stands_first

V = load_vocabulary()


def claim(exercise: str | None, comparator: str | None):
    return SimpleNamespace(exercise=exercise, comparator=comparator)


def weighing(exercise: str, comparator: str, *done: tuple[str, str]):
    """A claim with studies, each of an exercise on either side."""
    return SimpleNamespace(
        claim=claim(exercise, comparator),
        done=[Done((a,), (b,), 1) for a, b in done],
        verdict=VerdictKind.SUPPORTED,
        direction=Direction.MORE,
    )


def studied(exercise: str, w):
    return find_studied(w.claim, w.done, family(exercise, V), V)


def test_a_variant_is_told_that_only_its_parent_was_studied():
    found = studied("single_leg_rdl", weighing("rdl", "nordic_curl", ("rdl", "nordic_curl")))
    assert found.indirect and not found.own
    assert found.told == (
        "What was studied is the Romanian deadlift, not the single-leg Romanian deadlift: indirect for this pick"
    )


def test_the_exercise_that_was_studied_has_nothing_to_be_told():
    found = studied("rdl", weighing("rdl", "nordic_curl", ("rdl", "nordic_curl")))
    assert (found.told, found.indirect, found.own) == ("", False, True)


def test_a_claim_that_names_the_pick_but_was_studied_in_a_variant_is_indirect_too():
    found = studied("split_squat", weighing("split_squat", "hip_thrust", ("rfess", "hip_thrust")))
    assert (
        found.own
        and found.indirect
        and "is the rear-foot-elevated split squat, not the split squat" in found.told
    )


def test_where_some_studies_did_the_exercise_how_many_is_told_and_it_is_direct():
    w = weighing("rdl", "nordic_curl", ("single_leg_rdl", "nordic_curl"), ("rdl", "nordic_curl"))
    found = studied("single_leg_rdl", w)
    assert not found.indirect
    assert (
        found.told == "Of 2 studies 1 did the single-leg Romanian deadlift, the others the Romanian deadlift"
    )


def test_a_claim_of_a_parent_without_any_study_says_whom_it_is_about():
    found = studied("single_leg_rdl", weighing("rdl", "nordic_curl"))
    assert found.told == "It is about the Romanian deadlift, not the single-leg Romanian deadlift"


@pytest.mark.parametrize(
    ("exercise", "speaks_for_it"), [("split_squat", True), ("rfess", False), ("hip_thrust", None)]
)
def test_of_a_claim_between_two_of_a_family_each_has_its_own_side(exercise, speaks_for_it):
    w = weighing("split_squat", "rfess", ("split_squat", "rfess"))
    assert stands_first(w.claim, family(exercise, V)) is speaks_for_it
    if speaks_for_it is not None:
        assert favours_any(w, family(exercise, V)) is speaks_for_it


def shown(**changes) -> PickClaim:
    from evidence.appraisal.levels import Level

    level = Level.MODERATE
    base = ("k", "W.", VerdictKind.SUPPORTED, "supported", "F.", level, level, level, "A 2020", True)
    return PickClaim(*base, **changes)


def test_a_claim_on_a_related_exercise_lends_a_pick_no_confidence():
    alone = Pick("x", Prescription(), claims=(shown(indirect=True, own=False),))
    assert find_standing(alone) == RELATED
    both = Pick("x", Prescription(), claims=(shown(indirect=True, own=False), shown()))
    assert find_standing(both) == "moderate"


def test_two_ways_of_doing_one_exercise_speak_neither_for_it_nor_against_it():
    assert (
        favours_any(weighing("back_squat", "back_squat", ("back_squat", "back_squat")), ("back_squat",))
        is None
    )
