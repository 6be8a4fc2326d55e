"""Answers to the questions about a pasted table, as a person types them."""

import pytest

from evidence.errors import BadInput
from evidence.reading.pasted import read_table
from evidence.reading.table import Answers
from evidence.vocabulary.terms import Spread, Statistic
from evidence.workflows.extract.table_answers import read_table_answers, unused_choices

TABLE = (
    "Table 2. Changes in girth (SD) [Invented]\n\tSquat\tPress\nThigh (cm)\t1.4 (0.6)\t1.1 (0.7)\nMean (SD)"
)


def test_each_name_that_the_preview_shows_is_taken() -> None:
    answers = read_table_answers(
        [
            "statistic=medians",
            "decimal=decimal comma",
            "n A=12",
            "n=20",
            "character 6=±",
            "L3C12=mean",
            "spread=SE",
        ]
    )
    assert (answers.statistic, answers.decimal, answers.spread) == (Statistic.MEDIAN, ",", Spread.SE)
    assert (answers.n, answers.characters, answers.cells) == (
        {"A": 12, "": 20},
        {"6": "±"},
        {"L3C12": "mean"},
    )


@pytest.mark.parametrize("text", ["statistic=modes", "weather=fine", "n=many", "spread", "=SD"])
def test_an_answer_that_answers_nothing_is_refused(text: str) -> None:
    with pytest.raises(BadInput):
        read_table_answers([text])


def test_a_choice_that_settles_nothing_is_said() -> None:
    reading = read_table(TABLE)
    cell = reading.cells[0].id
    told = unused_choices(Answers(cells={cell: "median", "L9C9": "mean"}), reading)
    assert "choose one of: change; mean" in told[0]
    assert "no such cell" in told[1]
    assert unused_choices(Answers(cells={cell: "change"}), reading) == []
