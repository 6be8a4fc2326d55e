"""Whatever is typed, a check finds something, finds nothing, or says in words why it cannot look."""

from collections.abc import Callable
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.errors import BadInput, NumberProblem, SteelyardError
from evidence.statistics import integrity, integrity_intervals, integrity_reports, integrity_t
from evidence.statistics.integrity import Finding

ODD = [
    "0",
    "-0",
    "1",
    "-1",
    "1e400",
    "-1e400",
    "1e-400",
    "1e99",
    "inf",
    "-inf",
    "nan",
    "",
    "x",
    "0.00",
    "12.3",
    "-4.5",
]
FIGURE = st.sampled_from(ODD) | st.floats() | st.decimals(-100, 100, places=2).map(str)
PEOPLE = st.integers(-2, 40)
SIDE = st.tuples(FIGURE, FIGURE, PEOPLE)

CHECKS: dict[str, tuple[Callable[..., Finding | None], tuple[st.SearchStrategy[object], ...]]] = {
    "t of groups": (integrity_t.check_summary_t, (SIDE, SIDE, FIGURE)),
    "t of pairs": (integrity_t.check_paired_t, (SIDE, SIDE, FIGURE)),
    "p of groups": (integrity.check_summary_p, (SIDE, SIDE, FIGURE)),
    "range": (integrity.check_range, (FIGURE, FIGURE, FIGURE)),
    "centre": (integrity_intervals.check_interval_centre, (FIGURE, FIGURE, FIGURE)),
    "interval and p": (integrity_intervals.check_interval_against_p, (FIGURE, FIGURE, FIGURE, FIGURE)),
    "width of an SMD": (integrity_intervals.check_smd_width, (FIGURE, FIGURE, FIGURE, PEOPLE)),
    "change": (integrity_reports.check_change, (FIGURE, FIGURE, FIGURE)),
    "percent": (integrity_reports.check_percent, (FIGURE, FIGURE, FIGURE)),
    "ratio": (integrity_reports.check_ratio_of_means, (FIGURE, FIGURE, FIGURE)),
    "two spreads": (integrity_reports.check_two_spreads, (FIGURE, FIGURE, PEOPLE)),
    "spread over time": (integrity_reports.check_spread_change, (FIGURE, FIGURE)),
}


@pytest.mark.parametrize("name", CHECKS)
@given(data=st.data())
@settings(deadline=None)
def test_a_check_ends_in_a_finding_nothing_or_a_problem_in_words(name: str, data: st.DataObject) -> None:
    check, asked = CHECKS[name]
    figures = [data.draw(figure) for figure in asked]
    with suppress(SteelyardError):
        found = check(*figures)
        assert found is None or found.text.startswith("Check this figure: ")


@pytest.mark.parametrize("check", [integrity_t.check_summary_t, integrity_t.check_paired_t])
def test_a_figure_beyond_all_measures_and_a_spread_below_zero_are_refused(
    check: Callable[..., Finding | None],
) -> None:
    with pytest.raises(BadInput, match="too large or too fine"):
        check(("1e400", "1", 10), ("2", "1", 10), "2.1")
    with pytest.raises(NumberProblem, match="A spread of -1 cannot be"):
        check(("4", "-1", 10), ("2", "1", 10), "2.1")


def test_a_p_of_groups_is_one_of_groups_of_two_and_more() -> None:
    with pytest.raises(NumberProblem):
        integrity.check_summary_p(("4", "1", 1), ("2", "1", 10), "0.04")
    with pytest.raises(NumberProblem, match="between 0 and 1"):
        integrity.check_summary_p(("4", "1", 10), ("2", "1", 10), "4")
