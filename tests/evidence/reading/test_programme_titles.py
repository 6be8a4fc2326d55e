"""What stands over the first session of a programme in plain lines is its title."""

from evidence.reading.programme_text import read_lines
from evidence.vocabulary import load_vocabulary


def test_what_stands_over_the_first_session_is_the_title() -> None:
    title, read = read_lines(
        "Leg day\n\nMonday\nLeg press 3x10\nThursday\nBack squat 3x5\n", load_vocabulary()
    )
    assert (title, list(read.sessions), read.problems) == ("Leg day", ["Monday", "Thursday"], [])


def test_a_line_alone_or_an_exercise_is_no_title() -> None:
    assert read_lines("Monday\nLeg press 3x10\n", load_vocabulary())[0] is None
    title, read = read_lines("Back squat\n3x8\nLeg press\n3x10\n", load_vocabulary())
    assert title is None and len(read.sessions["Session 1"]) == 2
    title, read = read_lines("Leg day\n", load_vocabulary())
    assert title is None and read.problems == ['line 1: "Leg day" was not read as an exercise']
