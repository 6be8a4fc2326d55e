"""Parts of an annotated programme: equipment, prescriptions in words, ages, priorities, overlap."""

from types import SimpleNamespace

import pytest

from evidence.publishing.programmes import WeeklySets
from evidence.reading.programme import read_programme_text
from evidence.reading.programme_model import Effort, Load
from evidence.vocabulary import load_vocabulary
from evidence.workflows.programmes.annotating import times_of
from evidence.workflows.programmes.audiences import list_differences, read_ages, words_of_age
from evidence.workflows.programmes.equipment import missing_for
from evidence.workflows.programmes.prescriptions import tell_effort, tell_load, tell_often
from evidence.workflows.programmes.programme_notes import (
    cautions_for,
    find_overlaps,
    note_counting,
    note_priorities,
)
from evidence.workflows.programmes.set_counting import Done, count_weekly

V = load_vocabulary()


@pytest.mark.parametrize(
    ("exercise", "equipment", "missing"),
    [
        ("back_squat", ["barbell"], ""),
        ("back_squat", ["Barbells and plates"], ""),
        ("back_squat", ["dumbbells"], "barbell"),
        ("rdl", ["DBs"], ""),  # barbell or dumbbells
        ("hip_thrust", ["barbell"], "bench"),  # needs both
        ("seated_leg_curl", ["leg curl machines"], ""),
        ("seated_leg_curl", ["leg press", "leg extension"], "machine"),
        ("seated_leg_curl", ["machines"], ""),
        ("seated_leg_curl", ["full gym"], ""),
        ("nordic_curl", ["barbell"], ""),  # body weight
        ("trap_bar_deadlift", ["trap bar"], ""),
        ("back_squat", [], ""),  # nothing said: no limit
    ],
)
def test_what_an_exercise_needs_is_held_against_what_is_there(exercise, equipment, missing):
    assert missing_for(V.exercises[exercise], equipment) == missing


def test_every_implement_of_the_vocabulary_is_at_hand_in_a_full_gym():
    assert [e.id for e in V.exercises.values() if missing_for(e, ["full gym"])] == []


@pytest.mark.parametrize(
    ("effort", "said"),
    [
        (Effort("RIR", 1, 1), "1 repetition left"),
        (Effort("RIR", 0, 0), "to failure"),
        (Effort("RIR", 1, 2), "1–2 repetitions left"),
        (Effort("RPE", 8, 9), "RPE 8–9"),
    ],
)
def test_effort_is_told_in_right_grammar(effort, said):
    assert tell_effort(effort) == said


@pytest.mark.parametrize(
    ("load", "said"),
    [
        (Load("percent", 80, 85, of="1RM"), "80–85 % of 1RM"),
        (Load("mass", 40, 40, unit="kg", per="hand"), "40 kg in each hand"),
        (Load("mass", 40, 40), "40 (unit not said)"),
        (Load("bodyweight-multiple", 1.5, 1.5), "1.5 × body weight"),
        (Load("relative", -20, -20, of="set before"), "20 % less than the set before"),
    ],
)
def test_loads_are_told_as_people_say_them(load, said):
    assert tell_load(load) == said


@pytest.mark.parametrize(
    ("text", "ages", "words"),
    [
        ("20-45", (20, 45), ""),
        ("65+", (65, 120), "older"),
        ("14 to 16", (14, 16), "youth"),
        ("60-75", (60, 75), "older"),
        (None, None, ""),
        ("adults", None, ""),
    ],
)
def test_ages_are_read_and_call_up_their_cautions(text, ages, words):
    assert read_ages(text) == ages
    assert words_of_age(text) == words


@pytest.mark.parametrize(
    ("often", "said"),
    [((1, 1), "once"), ((2, 2), "2 times"), ((2, 3), "2–3 times"), ((3.5, 3.5), "every other day")],
)
def test_how_often_a_week_is_told_as_people_say_it(often, said):
    assert tell_often(often) == said


def test_a_pick_done_twice_a_week_counts_twice_and_a_range_by_its_lower_figure():
    plan = programme(
        "Day 1\nLeg press 3x10 twice a week\nNordic curl 2x5, 2-3 times a week\nDay 2\nHip thrust 4x6"
    )
    assert [times_of(pick, s.times_per_week) for s in plan.sessions for pick in s.picks] == [2, 2, 1]
    assert note_counting(plan) == ["line 3: Nordic curl: 2 to 3 times a week, counted as 2."]
    quads = count_weekly([Done("Day 1", "leg_press", 3, 2), Done("Day 1", "leg_extension", 3, 1)], (), V)[0]
    assert (quads.direct, quads.days) == (9, 2)


def programme(text: str):
    return read_programme_text(text, "text", V)


def test_a_programme_always_carries_its_caution_and_the_screening_text():
    told = cautions_for(programme("Leg press 3x10"), [], V)
    assert any("not medical advice" in text for text in told)
    assert any("ask a health-care provider first" in text for text in told)


def test_regions_worked_twice_in_a_session_are_told_with_their_sets():
    found = find_overlaps(programme("Day 1\nRDL 3x8\nNordic curl 2x5\nDay 2\nSeated leg curl 3x10"), V)
    assert [(o.session, o.region, o.picks, o.sets) for o in found] == [
        ("Day 1", "hamstring muscles", ("RDL", "Nordic curl"), 5)
    ]


def sets(region: str, direct: float, priority: str = "") -> WeeklySets:
    return WeeklySets(V.regions[region].name, direct, direct, direct, 1, priority)


def test_sets_that_do_not_follow_the_priorities_are_told():
    weekly = [sets("hamstrings", 3, "1"), sets("gluteus_maximus", 9, "2"), sets("quadriceps_femoris", 6)]
    told = list(note_priorities(weekly, ("hamstrings", "gluteus_maximus"), V))
    assert told == [
        "hamstring muscles is placed before gluteus maximus, and has fewer weekly sets (fractional: 3 and 9).",
        "quadriceps femoris is no priority, and has more weekly sets (direct: 6) than hamstring muscles, "
        "which is one (fractional: 3).",
    ]


def test_a_priority_that_no_pick_works_is_told():
    weekly = count_weekly([Done("a", "leg_press", 3)], ("hamstrings", "soleus"), V)
    assert "soleus is priority 2, and no pick works it." in list(
        note_priorities(weekly, ("hamstrings", "soleus"), V)
    )


def test_a_part_of_a_priority_is_no_rival_of_it():
    weekly = count_weekly([Done("a", "standing_calf_raise", 3)], ("triceps_surae",), V)
    assert list(note_priorities(weekly, ("triceps_surae",), V)) == []


def test_people_far_from_the_ages_it_is_for_are_told():
    people = SimpleNamespace(training_status="not stated", sex="both", health="healthy", age_mean=71.0)
    audience = SimpleNamespace(training_status=None, sex=None, health=None, age="20-45")
    assert list_differences(audience, [people], V) == ["their mean age was 71"]
