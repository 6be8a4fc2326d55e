"""Whatever is typed, a check finds something, finds nothing, or says in words why it cannot look."""

import math
from collections.abc import Callable
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.errors import BadInput, NumberProblem, SteelyardError
from evidence.statistics import (
    integrity,
    integrity_granularity,
    integrity_intervals,
    integrity_reports,
    integrity_significance,
    integrity_t,
    paired,
)
from evidence.statistics.effect import Summary
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
NUMBER = st.floats() | st.sampled_from([0.0, 1.0, -1.0, 0.05, 1e29, 1e-29]) | st.floats(-100, 100)
SHARE = st.just(0.05) | NUMBER
MANY = PEOPLE | st.sampled_from([10**6, 10**12, 10**18, 2.5, math.inf, math.nan])
COUNTS = st.lists(MANY, max_size=3)
SUMMARY = st.tuples(NUMBER, NUMBER, MANY)
TEST = st.sampled_from(["t", "F", "r", "chi2", "Q", "z", "U", ""])

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
    "p": (
        lambda test, value, p, df1, df2, alpha: integrity.check_p_value(
            test, value, p, df1=df1, df2=df2, alpha=alpha
        ),
        (TEST, FIGURE, FIGURE, st.none() | NUMBER, st.none() | NUMBER, SHARE),
    ),
    "df of groups": (lambda df, groups: integrity.check_df(df, tuple(groups)), (NUMBER, COUNTS)),
    "df of pairs": (lambda df, groups: integrity.check_df(df, tuple(groups), paired=True), (NUMBER, COUNTS)),
    "SD in a range": (
        lambda mean, low, high, sd, n: integrity.check_range(mean, low, high, sd=sd, n=n),
        (FIGURE, FIGURE, FIGURE, FIGURE, MANY),
    ),
    "SMD": (
        lambda a, b, printed: integrity_reports.check_smd(Summary(*a), Summary(*b), printed),
        (SUMMARY, SUMMARY, FIGURE),
    ),
    "spread": (
        lambda mean, sd, n, others: integrity_reports.check_spread(mean, sd, n, other_sds=others),
        (NUMBER, NUMBER, MANY, st.lists(NUMBER, max_size=3)),
    ),
    "mark": (
        lambda a, b, n, marked, alpha: integrity_reports.check_marked_pair(
            a, b, n, marked=marked, alpha=alpha
        ),
        (st.tuples(NUMBER, NUMBER), st.tuples(NUMBER, NUMBER), MANY, st.booleans(), SHARE),
    ),
    "large effect": (integrity_reports.check_large_effect, (NUMBER,)),
    "difference of significance": (
        lambda one, two, alpha: integrity_significance.check_difference_of_significance(
            one, two, alpha=alpha
        ),
        (st.tuples(NUMBER, NUMBER), st.tuples(NUMBER, NUMBER), SHARE),
    ),
    "p within groups": (
        lambda a, b, between: integrity_significance.check_within_group_p(a, b, between_p=between),
        (NUMBER, NUMBER, st.none() | NUMBER),
    ),
    "number of tests": (
        lambda tests, alpha: integrity_significance.check_multiplicity(tests, alpha=alpha),
        (MANY, SHARE),
    ),
    "people": (integrity_reports.check_people, (MANY, MANY)),
    "sum": (integrity_reports.check_sum, (FIGURE, st.lists(FIGURE, max_size=3))),
    "people counted once": (integrity_reports.check_counted_once, (COUNTS, MANY)),
    "one figure in two places": (
        lambda one, two: integrity_reports.check_same_figure({"text": [one], "table": [two]}),
        (FIGURE, FIGURE),
    ),
    "direction": (integrity_intervals.check_direction, (FIGURE, FIGURE, FIGURE, st.booleans())),
    "mean of whole numbers": (integrity_granularity.check_mean_granularity, (FIGURE, MANY, MANY)),
    "spread of whole numbers": (integrity_granularity.check_spread_granularity, (FIGURE, FIGURE, MANY, MANY)),
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
        assert found is None or all(math.isfinite(step.value) for step in found.arithmetic)


def adjusted(figures: list[float]) -> tuple[float, ...]:
    holm, hochberg = integrity_significance.adjust_p(figures)
    return (*holm, *hochberg)


def spreads_of_whole_numbers(mean: str, sd: str, n: int, items: int) -> tuple[float, ...]:
    return integrity_granularity.weigh_spread(mean, sd, n, items).sds


@pytest.mark.parametrize(
    ("ask", "asked"),
    [
        (adjusted, (st.lists(NUMBER, max_size=4),)),
        (integrity_significance.expect_false_positives, (MANY, SHARE)),
        (spreads_of_whole_numbers, (FIGURE, FIGURE, MANY, MANY)),
        (lambda *a: integrity_granularity.weigh_mean(*a).nearest, (FIGURE, MANY, MANY)),
        (lambda *a: integrity_granularity.weigh_yes_no(*a).sds, (FIGURE, FIGURE, MANY)),
        (lambda r, n: (paired.correct_correlation(r, n),), (NUMBER, MANY)),
    ],
)
@given(data=st.data())
@settings(deadline=None)
def test_what_is_computed_is_a_number_or_refused_in_words(
    ask: Callable[..., tuple[float, ...]], asked: tuple[st.SearchStrategy[object], ...], data: st.DataObject
) -> None:
    figures = [data.draw(figure) for figure in asked]
    with suppress(SteelyardError):
        assert all(math.isfinite(value) for value in ask(*figures))


def test_a_mean_of_very_many_whole_numbers_rules_nothing_out_and_is_quick() -> None:
    assert integrity_granularity.weigh_mean("3.1", 10**9).possible
    assert integrity_granularity.check_mean_granularity("3.1", 10**9) is None
    assert integrity_granularity.check_spread_granularity("8000", "2500", 4000) is None
    assert integrity_granularity.check_spread_granularity("8000", "1234567890123.45", 4) is None
    with pytest.raises(NumberProblem, match="they rule nothing out"):
        integrity_granularity.weigh_spread("8000", "2500", 4000)


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
