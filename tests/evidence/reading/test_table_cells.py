"""One cell of a printed table: each way of printing has one reading, and nothing is read in part."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.reading.cells import Shape, read_cell, read_run

NUMBERS = st.decimals(min_value=0, max_value=9999, places=2, allow_nan=False, allow_infinity=False)


@pytest.mark.parametrize(
    ("text", "decimal", "value", "second", "marks"),
    [
        ("26.23 [10.1]", ".", 26.23, 10.1, ()),
        ("63.2 ± 21.4", ".", 63.2, 21.4, ()),
        ("63,2 (21,4)", ",", 63.2, 21.4, ()),
        ("37.08 ± 14.04*", ".", 37.08, 14.04, ("*",)),
        ("28 ± 1†‡", ".", 28, 1, ("†", "‡")),
        ("14.0±0.4*,#", ".", 14.0, 0.4, ("*", "#")),
        ("89 (34)***", ".", 89, 34, ("***",)),
        ("856.1 (386.2) #", ".", 856.1, 386.2, ("#",)),
        ("1,363.13 (318.71)", ".", 1363.13, 318.71, ()),
        ("1.363,13 ± 2,0", ",", 1363.13, 2.0, ()),
        ("21\u2009450\u202f±\u202f2\u2009310", ".", 21450, 2310, ()),
        ("25.0 ± 3.0^{a,b}", ".", 25.0, 3.0, ("a", "b")),
        ("12.4 (SD 3.1)", ".", 12.4, 3.1, ()),
    ],
)
def test_a_figure_and_its_spread_are_read(text, decimal, value, second, marks):
    token = read_cell(text, decimal)
    assert token is not None
    assert token.shape is Shape.PAIR
    assert token.value is not None
    assert token.second is not None
    assert (token.value.value, token.second.value, token.marks) == (value, second, marks)


@pytest.mark.parametrize(
    ("text", "value", "low", "high"),
    [
        ("43.32 (13.05-73.59)a", 43.32, 13.05, 73.59),
        ("62 (48–77)", 62, 48, 77),
        ("−0.5 (−1.2 to 0.2)", -0.5, -1.2, 0.2),
        ("0.57 [−0.07, 1.21]", 0.57, -0.07, 1.21),
        ("34 [22; 51]", 34, 22, 51),
        ("12.4 (95% CI 3.1 to 4.5)", 12.4, 3.1, 4.5),
    ],
)
def test_an_estimate_and_its_interval_are_read(text, value, low, high):
    token = read_cell(text)
    assert token is not None
    assert token.value is not None
    assert token.low is not None
    assert token.high is not None
    assert (token.value.value, token.low.value, token.high.value) == (value, low, high)


@pytest.mark.parametrize(
    ("text", "shape"),
    [
        ("<0.001", Shape.P),
        ("ns", Shape.P),
        ("p = 0.03", Shape.P),
        ("0.68 (trivial)", Shape.WORDED),
        ("13.05–73.59", Shape.RANGE),
        ("58.03 to 225.47", Shape.RANGE),
        ("NR", Shape.MISSING),
        ("—", Shape.MISSING),
        ("-", Shape.MISSING),
        ("12/15 (80%)", Shape.FRACTION),
        ("−0.5", Shape.NUMBER),
        (".004", Shape.NUMBER),
    ],
)
def test_other_ways_of_printing_are_told_apart(text, shape):
    token = read_cell(text)
    assert token is not None
    assert token.shape is shape


@pytest.mark.parametrize(
    "text", ["", "squat", "12.3 ± 4.5 then", "1,36", "12.3 (−4.5)", "3 x 10", "12..3", "T20 (s)"]
)
def test_a_text_that_is_not_wholly_a_cell_is_not_read(text):
    assert read_cell(text) is None


@given(
    NUMBERS, NUMBERS, st.sampled_from([".", ","]), st.sampled_from(["{} ± {}", "{}±{}", "{} ({})", "{} [{}]"])
)
def test_whatever_is_printed_comes_back(mean, spread, decimal, form):
    printed = form.format(mean, spread).replace(".", decimal)
    token = read_cell(printed, decimal)
    assert token is not None
    assert token.text == printed
    assert token.value is not None
    assert token.second is not None
    assert (token.value.value, token.second.value) == (float(mean), float(spread))
    assert token.value.decimals == 2


@given(st.integers(-9999, 9999), st.sampled_from("-−–‒"))
def test_every_minus_is_a_minus(number, minus):
    token = read_cell(f"{number}.25".replace("-", minus))
    assert token is not None
    assert token.value is not None
    assert token.value.value == float(f"{number}.25")


@given(st.text(max_size=60))
def test_any_text_is_split_without_loss_of_place(line):
    run = read_run(line)
    for token in run.tokens:
        assert line[token.start : token.end] == token.text


@pytest.mark.parametrize(
    ("line", "label", "count"),
    [
        ("Leg press 1RM (kg) CONV 159 ± 38 195 ± 45 23*", "Leg press 1RM (kg) CONV", 3),
        ("5x sit-to-stand (s) 12.1 (2.0) 11.0 (1.9)", "5x sit-to-stand (s)", 2),
        ("RPE (0–10) 8 (7–9)", "RPE (0–10)", 1),
        ("STS (n) 14.0 (2.5) 15.2 (3.5)*", "STS (n)", 2),
        ("Ankle extension — 251 (70) 266 (76)**", "Ankle extension", 3),
        ("Overall (n = 48) 22 ± 1 28 ± 1†", "Overall (n = 48)", 2),
    ],
)
def test_digits_in_labels_stay_in_labels(line, label, count):
    run = read_run(line)
    assert run.label == label
    assert len(run.tokens) == count
