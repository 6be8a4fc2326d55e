"""How often a week something is done, as people write it: read into the dose, never into the name or the sets."""

from pathlib import Path

import pytest

from evidence.reading.programme import Programme, read_programme, read_programme_text, title_of
from evidence.reading.programme_often import read_often, read_often_cell
from evidence.vocabulary import load_vocabulary

V = load_vocabulary()


def text(written: str, form: str = "text") -> Programme:
    return read_programme_text(written, form, V)


@pytest.mark.parametrize(
    ("said", "often"),
    [
        ("twice a week", (2, 2)),
        ("once per week", (1, 1)),
        ("three times a week", (3, 3)),
        ("2x a week", (2, 2)),
        ("2x/week", (2, 2)),
        ("2 x per week", (2, 2)),
        ("2/week", (2, 2)),
        ("2-3 times per week", (2, 3)),
        ("once or twice a week", (1, 2)),
        ("twice weekly", (2, 2)),
        ("2 days a week", (2, 2)),
        ("daily", (7, 7)),
        ("every other day", (3.5, 3.5)),
        ("every other week", (0.5, 0.5)),
        ("2x pro Woche", (2, 2)),
        ("2 veces por semana", (2, 2)),
        ("3x10/week", None),
        ("12 sets per week", None),
        ("30 times a week", None),
        ("a daily max", None),
        ("per week", None),
    ],
)
def test_words_for_how_often_are_read_and_nothing_else(said: str, often: tuple[float, float] | None) -> None:
    assert read_often(said) == often


@pytest.mark.parametrize(
    "line",
    [
        "Back squat 3x10 twice a week",
        "Back squat twice a week 3x10",
        "Back squat 3x10, 2x a week",
        "Back squat 2x/week 3x10",
        "Back squat 3 sets of 10 (2 times per week)",
    ],
)
def test_a_line_says_how_often_wherever_it_stands_in_it(line: str) -> None:
    (pick,) = text(line).picks
    assert (pick.as_written, pick.sets, pick.prescription.reps) == ("Back squat", 3, (10, 10))
    assert (pick.prescription.often, pick.note) == ((2, 2), None)


def test_how_often_is_said_of_the_whole_line() -> None:
    assert [p.prescription.often for p in text("Back squat 3x3, 1x3+ twice a week").picks] == [(2, 2), (2, 2)]
    circuit = text("3 rounds: 10 goblet squats, 10 step-ups, twice a week").picks
    assert [(p.as_written, p.prescription.often) for p in circuit] == [
        ("goblet squats", (2, 2)),
        ("step-ups", (2, 2)),
    ]


def test_what_cannot_be_stays_as_a_note_and_is_asked() -> None:
    programme = text("Leg press 3x10, 30 times a week")
    assert programme.picks[0].note == "30 times a week"
    assert any("how often a week?" in str(q) for q in programme.questions)


def test_a_column_an_entry_and_the_name_of_a_session_say_it_too() -> None:
    table = text("Exercise,Sets,Reps,Frequency\nLeg press,3,10,2x\nLeg curl,3,10,3\n", "csv")
    assert [p.prescription.often for p in table.picks] == [(2, 2), (3, 3)]
    entry = "sessions:\n  - picks:\n      - {exercise: leg press, sets: 3, times_per_week: 2-3}\n"
    assert text(entry, "yaml").picks[0].prescription.often == (2, 3)
    assert (
        text("# Plan\n## Lower A (twice a week)\n- Leg press 3x10\n", "markdown").sessions[0].times_per_week
        == 2
    )


@pytest.mark.parametrize("cell", ["", "often", "0", "99"])
def test_a_cell_that_says_no_number_of_times_is_none(cell: str) -> None:
    assert read_often_cell(cell) is None


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("leg-day-a", "Leg day A"),
        ("lower_body_week_1", "Lower body week 1"),
        ("5-3-1-squats", "5-3-1 squats"),
        ("Leg day", "Leg day"),
        ("plan 2026-03-31", "Plan 2026-03-31"),
        ("-", ""),
    ],
)
def test_the_name_of_a_file_becomes_a_heading(name: str, title: str) -> None:
    assert title_of(name) == title


@pytest.mark.parametrize(
    ("ending", "written", "title"),
    [
        (".md", "- Leg press 3x10\n", "Leg day A"),
        (".csv", "Exercise,Sets\nLeg press,3\n", "Leg day A"),
        (".yaml", "sessions: [{picks: [Leg press 3x10]}]\n", "Leg day A"),
        (".md", "# My plan\n\n## Day 1\n- Leg press 3x10\n", "My plan"),
    ],
)
def test_a_file_without_a_title_is_headed_by_its_name_in_words(
    tmp_path: Path, ending: str, written: str, title: str
) -> None:
    path = tmp_path / f"leg-day-a{ending}"
    path.write_text(written, "utf-8")
    assert read_programme(path, V).title == title
