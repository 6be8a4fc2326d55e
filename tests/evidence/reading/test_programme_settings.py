"""What a programme in Markdown says of itself between two lines of dashes, and rounds in plain lines."""

import pytest

from evidence.reading.programme import Programme, read_programme_text
from evidence.vocabulary import load_vocabulary

SETTINGS = """---
title: Sled days
audience: {training_status: recreational, sex: male, age: 20-30}
equipment: [sled, barbell]
priorities: [gluteus maximus]
goal: growth
weeks: 6
note: Two days apart.
cautions:
  - Warm up, then load.
  - Stop if the knee locks.
---
# Another title
## Monday
Back squat 3x8
"""


def read(text: str) -> Programme:
    return read_programme_text(text, "markdown", load_vocabulary(), name="plan.md")


def test_the_settings_of_a_markdown_programme_are_those_of_a_yaml_one() -> None:
    done = read(SETTINGS)
    assert (done.title, done.weeks, done.goal, done.note) == (
        "Sled days",
        6,
        "hypertrophy",
        "Two days apart.",
    )
    assert (done.audience.training_status, done.audience.sex, done.audience.age) == (
        "recreational",
        "male",
        "20-30",
    )
    assert done.equipment == ("sled", "barbell") and done.priorities == ("gluteus_maximus",)
    assert done.cautions == ("Warm up, then load.", "Stop if the knee locks.")
    assert [s.name for s in done.sessions] == ["Monday"] and not done.problems


def test_places_count_the_lines_of_the_file_with_its_settings() -> None:
    (question,) = read("---\ntitle: A\n---\n\nUnheard-of thing 3x8\n").questions
    assert question.where == "line 5"


def test_settings_that_are_odd_are_told_and_the_rest_is_read() -> None:
    done = read("---\ntitle: A\nweeks: soon\ncolour: red\n---\nBack squat 3x8\n")
    assert len(done.picks) == 1 and done.title == "A"
    assert any("weeks: soon" in p and "line 3" in p for p in done.problems)
    assert any('"colour" is not known here' in p for p in done.problems)


def test_settings_that_cannot_be_read_are_told_and_the_rest_is_read() -> None:
    done = read("---\ntitle: [A\n---\nBack squat 3x8\n")
    assert len(done.picks) == 1
    assert any("cannot be read" in p for p in done.problems)


@pytest.mark.parametrize("text", ["---\nBack squat 3x8\n---\n", "Back squat 3x8\n---\nLeg press 3x8\n"])
def test_lines_of_dashes_alone_are_no_settings(text: str) -> None:
    assert read(text).picks[0].exercise == "back_squat"


# Common practice, no source: a round of one exercise is a set of it.
@pytest.mark.parametrize(
    "line", ["Sled push 4 rounds 20 m", "Sled push: 4 rounds of 20 m", "Sled push 4 x 20 m"]
)
def test_rounds_are_sets_and_the_distance_is_kept(line: str) -> None:
    (pick,) = read(f"# Plan\n{line}\n").picks
    assert (pick.prescription.sets, pick.prescription.distance_m) == (4, 20)


def test_an_unknown_exercise_over_a_distance_is_asked_about_and_names_no_session() -> None:
    done = read("# Plan\nBack squat 3x8\nBlorp haul 4 rounds 20 m\nLeg press 3x8\n")
    assert [s.name for s in done.sessions] == ["Session 1"]
    assert len(done.picks) == 3 and done.picks[1].prescription.distance_m == 20
    assert any("Blorp haul" in q.text and q.where == "line 3" for q in done.questions)


def test_a_line_with_figures_that_were_not_understood_names_no_session() -> None:
    done = read("# Plan\nBlorp haul about 20 m or so\nLeg press 3x8\n")
    assert [s.name for s in done.sessions] == ["Session 1"]
    assert any("Blorp haul" in p and "line 2" in p for p in done.problems)
