"""Figures told in words: what they come to, and that they are held against the catalogue."""

from collections.abc import Callable

import pytest

from evidence.workflows.drafts.checking import Checked
from evidence.workflows.drafts.numbers import find_numbers


@pytest.mark.parametrize(
    ("text", "value", "side"),
    [
        ("twice as much as", 100, "more"),  # by arithmetic, as all of these
        ("three times as strong", 200, "more"),
        ("half as much as", 50, "less"),
        ("a third as much", 66.7, "less"),
        ("half as much again", 50, "more"),
        ("a third more activation", 33.3, "more"),
        ("a quarter less growth", 25, "less"),
        ("two thirds fewer", 66.7, "less"),
        ("doubles the growth", 100, "more"),
        ("halved the rate", 50, "less"),
    ],
)
def test_words_of_multiples_come_to_a_percent(text: str, value: float, side: str) -> None:
    (number,) = find_numbers(text)
    assert (round(number.value, 1), number.side, number.kind) == (value, side, "percent")


@pytest.mark.parametrize(
    "text", ["twice a week", "twice as often", "half as long", "a third set", "half a squat"]
)
def test_what_tells_of_a_prescription_is_no_figure(text: str) -> None:
    assert [n for n in find_numbers(text) if n.kind == "percent"] == []


@pytest.mark.parametrize("said", ["67 % less", "twice as much", "half as much", "two thirds more"])
def test_a_figure_the_catalogue_does_not_hold_is_told(said: str, check: Callable[..., Checked]) -> None:
    text = f"[Nordic curls activate the biceps femoris {said} than lying curls [@thistledown2019].]"
    checked = check(text + "{claim=nordic-curl-activation}")
    assert "figure-differs" in {f.kind for f in checked.findings}


def test_one_that_it_holds_is_not(check: Callable[..., Checked]) -> None:  # 78 against 61: 27.9 %
    text = (
        "[Nordic curls may activate the biceps femoris a quarter more than lying curls [@thistledown2019].]"
    )
    assert "figure-differs" not in {f.kind for f in check(text + "{claim=nordic-curl-activation}").findings}
