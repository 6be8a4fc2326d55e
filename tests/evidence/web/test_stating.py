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


LIST = """\
- {key: listed, exercise: back squat, over: leg press, region: soleus, outcome: growth}
- {exercise: back squat, over: leg press, region: soleus, outcome: growth}
- {kind: superlative, exercise: hip thrust, outcome: activation}
"""


def test_a_file_of_claims_is_shown_first_and_stored_when_that_is_asked(visitor):
    sent = {"file": ("many.yaml", LIST.encode())}
    looked = visitor.post("/claims/add", data={"do": "look"}, files=sent).text
    assert "1 claim can be stated, 1 already here, 1 cannot be. Nothing is stored yet." in looked
    assert (
        "many.yaml, line 3 (claim 3)" in looked and "--" not in looked.split("<form")[1].split("<textarea")[0]
    )
    assert visitor.get("/claims/listed").status_code == 404
    stored = visitor.post("/claims/add", data={"do": "store", "text": LIST}).text
    assert "1 claim stated, 1 already here, 1 not stated." in stored
    assert "Verdict" in visitor.get("/claims/listed").text


def test_a_text_that_is_no_list_of_claims_is_told_and_kept(visitor):
    answer = visitor.post("/claims/add", data={"do": "store", "text": "just words"})
    assert answer.status_code == 422
    assert "holds no list of claims" in answer.text and "just words" in answer.text
