"""Figures broken over two lines by a narrow column are put together; what is whole stays as it is."""

import pytest

from evidence.reading import broken_cells
from evidence.reading.broken_cells import join_broken

CODED = ["a 2.41 6 0.31 2.60 6 0.33"]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("Biceps femoris 40.1 ± 14.2 28.4 ±", "11.1"),
        ("Biceps femoris 40.1 (14.2) 28.4 (", "11.1)"),
        ("Biceps femoris 40.1 +/- 14.2 28.4 +/-", " 11.1* "),
        ("Biceps femoris 40.1 6 14.2 28.4 6", "11.1"),
    ],
)
def test_a_figure_with_an_open_sign_takes_the_figure_below(first: str, second: str) -> None:
    lines, repairs = join_broken([*CODED, first, second, "Soleus 1.0 ± 0.5"])
    assert lines == [*CODED, f"{first} {second.strip()}", "", "Soleus 1.0 ± 0.5"]
    assert len(repairs) == 1


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("Biceps femoris 40.1 ± 14.2", "11.1"),  # nothing is open
        ("Biceps femoris 28.4 ±", "Soleus 11.1"),  # the next line is a row
        ("Sum of 28.4 6", "11.1"),  # a 6 that stands between figures nowhere else
        ("Biceps femoris 28.4 ±", "see the notes"),
    ],
)
def test_other_lines_stay_as_they_are(first: str, second: str) -> None:
    assert join_broken([first, second]) == ([first, second], ())


def test_no_figure_is_put_into_two_lines() -> None:
    lines, _ = join_broken(["Soleus 28.4 ±", "11.1 ±", "12.0"])
    assert lines == ["Soleus 28.4 ±", "11.1 ± 12.0", ""]


def test_a_sign_is_looked_for_once_however_long_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []
    monkeypatch.setattr(broken_cells, "stands_between", lambda sign, text: asked.append(sign) or 2)
    lines, repairs = join_broken(["Soleus 28.4 6", "11.1"] * 50)
    assert asked == ["6"]
    assert (lines[:2], len(repairs)) == (["Soleus 28.4 6 11.1", ""], 50)
