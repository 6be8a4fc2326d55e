"""Numbers as people write and say them: decimals and hundreds in words, units in words, the second of a pair."""

import pytest

from evidence.workflows.drafts.numbers import find_numbers


@pytest.mark.parametrize(
    ("text", "value", "kind", "decimals"),
    [
        ("two point four percent", 2.4, "percent", 1),  # by reading, as all of these
        ("eleven point two five per cent", 11.25, "percent", 2),
        ("zero point twenty five per cent", 0.25, "percent", 2),
        ("two point thirty-one per cent", 2.31, "percent", 2),
        ("one point zero five per cent", 1.05, "percent", 2),
        ("a hundred and twenty people", 120, "people", 0),
        ("two hundred and six lifters", 206, "people", 0),
        ("22 kilos", 22, "unit", 0),
        ("3.1 centimetres", 3.1, "unit", 1),
        ("33 percentage points", 33, "unit", 0),
        ("12 hamstring injuries", 12, "events", 0),
    ],
)
def test_a_number_is_read_as_it_is_said(text: str, value: float, kind: str, decimals: int) -> None:
    (number,) = find_numbers(f"They saw {text}.")
    assert (number.value, number.kind, number.decimals) == (value, kind, decimals)


def test_a_decimal_in_words_is_no_number_of_points() -> None:
    assert [n.unit for n in find_numbers("Eleven percent standing, two point four seated.")] == ["%"]


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("The heavy group put 22 kg on the squat and the light group 12.", [22, 12]),
        ("It rose by 3.1 cm against 0.4 in the others.", [3.1, 0.4]),
        ("It rose by 3.1 cm and after 12 weeks it stayed.", [3.1]),
        ("It rose by 3.1 cm, which Ek saw in 2019.", [3.1]),
    ],
)
def test_the_second_of_a_pair_has_the_unit_of_the_first(text: str, values: list[float]) -> None:
    assert [n.value for n in find_numbers(text) if n.kind == "unit"] == values


def test_the_other_groups_injuries_are_counted_too() -> None:
    numbers = find_numbers("They counted 12 injuries among 320 players and 26 among 315 others.")
    assert [n.value for n in numbers if n.kind == "events"] == [12, 26]


@pytest.mark.parametrize("text", ["under-14 girls", "over 60 women", "aged 17 players"])
def test_an_age_is_no_number_of_people(text: str) -> None:
    assert [n for n in find_numbers(f"This is for {text}.") if n.kind == "people"] == []


def test_the_lower_part_of_a_muscle_is_no_percent_less() -> None:
    (number,) = find_numbers("Ek measured 60.2% MVIC in the lower gluteus maximus.")
    assert number.side == ""


def test_a_percent_that_is_lifted_is_no_figure() -> None:
    assert find_numbers("Sixty percent raises the max more than eighty does.") == ()


@pytest.mark.parametrize(
    "text",
    [
        "Training at 80 % and above lifts the max further than 50 to 60 % does.",
        "On loads of 80 percent it climbs more than on 50 to 60 percent.",
    ],
)
def test_loads_beside_a_load_are_no_figures(text: str) -> None:
    assert find_numbers(text) == ()


def test_the_end_of_an_interval_is_no_reading() -> None:
    numbers = find_numbers("Activation was 18.9 % higher, interval 8.8 to 30.1.")
    assert [n.value for n in numbers if n.kind == "reading"] == []


def test_standard_deviations_are_an_effect() -> None:
    (number,) = find_numbers("It was ahead by 0.32 standard deviations.")
    assert (number.value, number.kind) == (0.32, "effect")
