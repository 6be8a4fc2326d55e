"""A claim in words on the page: what is asked can be chosen."""

import re

import pytest


def choices(text, name):
    """What may be chosen for a part of the claim."""
    part = text.split(f'id="p-{name}"')[1].split("</select>")[0]
    return re.findall(r'<option value="([^"]+)"', part)


def test_the_outcomes_measured_in_the_region_are_offered_first(visitor):
    sentence = "Seated leg curl is better than lying leg curl for the hamstrings"
    answer = visitor.post("/claims/new", data={"sentence": sentence, "do": "read"})
    offered = choices(answer.text, "outcome")
    assert offered[0] in ("activation", "hypertrophy") and {"strength", "pain"} <= set(offered)
    assert "Measured in the catalogue" in answer.text


def test_a_misspelt_exercise_is_answered_by_a_choice(visitor):
    sentence = "Legpres grows the quadriceps femoris more than back squat"
    answer = visitor.post("/claims/new", data={"sentence": sentence, "do": "read"})
    assert choices(answer.text, "exercise")[0] == "leg_press"


@pytest.mark.parametrize("place", ["/claims/seated-curl-activation", "/", "/history"])
def test_a_page_shows_no_command_of_the_terminal(visitor, place):
    shown = re.sub(r"<[^>]+>", " ", visitor.get(place).text)
    assert not re.search(r"steelyard [a-z]+ |study form|refs add|\s--[a-z]", shown)
