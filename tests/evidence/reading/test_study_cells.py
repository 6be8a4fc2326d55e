"""Cells of study files: the usual forms are read, everything unusual is refused in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.reading.study_cells import Cell, is_empty_cell, read_cell


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("26.23 [10.1]", Cell(26.23, 10.1)),
        ("63.2 ± 21.4", Cell(63.2, 21.4)),
        ("63,2 (21,4)", Cell(63.2, 21.4)),
        ("37.08 ± 14.04*", Cell(37.08, 14.04, marks="*")),
        ("5.2(3.8)†‡", Cell(5.2, 3.8, marks="†‡")),
        ("−1.6 (−6.1 to 2.0)", Cell(-1.6, low=-6.1, high=2.0)),
        ("-1.6 [-6.1, 2.0]", Cell(-1.6, low=-6.1, high=2.0)),
        ("9 (8–10)", Cell(9.0, low=8.0, high=10.0)),
        ("69.5", Cell(69.5)),
        ("12.4%", Cell(12.4)),
    ],
)
def test_usual_cells_are_read(text: str, cell: Cell) -> None:
    assert read_cell(text) == cell


@pytest.mark.parametrize(
    "text",
    ["22 6 1", "1.2.3", "1,363 (20)", "26.23 [10,1]", "6.1 (2.0", "<0.05", "9 (45%)", "high", "1" * 5000],
)
def test_unusual_cells_are_refused_in_words(text: str) -> None:
    assert isinstance(read_cell(text), str)


@pytest.mark.parametrize("text", ["", "-", "—", "NR", "n/a"])
def test_nothing_printed_is_known_as_nothing(text: str) -> None:
    assert is_empty_cell(text)


@given(
    st.decimals(-9999, 9999, places=2),
    st.decimals(0, 9999, places=2),
    st.sampled_from(["{} ({})", "{} [{}]", "{}±{}"]),
)
def test_what_is_written_is_read_back(mean: object, sd: object, form: str) -> None:
    cell = read_cell(form.format(mean, sd))
    assert isinstance(cell, Cell)
    assert (cell.value, cell.spread) == (float(str(mean)), float(str(sd)))


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    assert isinstance(read_cell(text), (Cell, str))
