"""Individual data are summed up as a paper would print them, with the correlations that papers leave out."""

import statistics
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import BadInput
from evidence.reading.data_table import ORIGIN, Roles, read_data_table, summarise_data
from evidence.vocabulary.terms import ReadFrom, Spread, Statistic, Timepoint

DATA = Path(__file__).parent / "data" / "hammarstrom2020_leg_lean_mass.csv"
LEGS = Roles("subject", "cond", "post", "pre", {"multiple": "three_sets", "single": "one_set"})
SIMPLE = Roles("who", "what", "after", "before")
TABLE = "who,what,before,after\nA,x,10,12\nB,x,11,12\nC,x,13,16\nA,y,10,11\nB,y,12,12\nC,y,13,15\n"


def test_hammarstrom_2020_gives_the_figures_of_its_open_data() -> None:
    summary = read_data_table(DATA, LEGS, outcome="lean", region="lower_limb")
    results = {r.key: r for r in summary.results}
    three = results["lean.lower_limb.three_sets.over.percent_change"]
    one = results["lean.lower_limb.one_set.over.percent_change"]
    # Hammarström et al. 2020, open DXA data, recomputed in the project's design material
    # (cases/papers/hammarstrom_2020_sets.yaml):
    # leg lean mass +3.37 (SD 4.59) % and +2.05 (3.62) %, n = 34; printed to two decimals, hence the tolerance.
    assert (three.value, three.spread, three.n) == (
        pytest.approx(3.37, abs=0.005),
        pytest.approx(4.59, abs=0.005),
        34,
    )
    assert (one.value, one.spread, one.n) == (
        pytest.approx(2.05, abs=0.006),
        pytest.approx(3.62, abs=0.006),
        34,
    )
    r = {(c.result_a, c.result_b): c.r for c in summary.correlations}
    # The same source: between-leg correlation of change 0.61, pre-post r 0.979 and 0.989.
    legs = next(v for (a, b), v in r.items() if "percent_change" in a and "percent_change" in b)
    assert legs == pytest.approx(0.61, abs=0.005)
    before_after = sorted(v for (a, b), v in r.items() if a.endswith(".pre") and b.endswith(".post"))
    assert before_after == [pytest.approx(0.979, abs=0.0006), pytest.approx(0.989, abs=0.0006)]
    assert not summary.warnings


def test_every_correlation_names_results_that_are_there() -> None:
    summary = read_data_table(DATA, LEGS, outcome="lean")
    keys = {r.key for r in summary.results}
    assert all({c.result_a, c.result_b} <= keys and c.origin == ORIGIN for c in summary.correlations)
    assert all(r.read_from is ReadFrom.DATA and r.spread_kind is Spread.SD for r in summary.results)


def test_one_measurement_per_condition_correlates_the_conditions() -> None:
    text = "who;what;value\nA;x;1,0\nB;x;2,0\nC;x;4,0\nA;y;2,0\nB;y;4,0\nC;y;8,0\n"
    summary = summarise_data(text, Roles("who", "what", "value"), outcome="emg", locator="data")
    assert [r.timepoint for r in summary.results] == [Timepoint.ACUTE, Timepoint.ACUTE]
    assert summary.correlations[0].r == pytest.approx(1.0, abs=1e-12)  # y is twice x


def test_a_missing_figure_leaves_the_row_out_and_says_so() -> None:
    summary = summarise_data(TABLE.replace("B,x,11,12", "B,x,NA,12"), SIMPLE, outcome="o", locator="d")
    assert {r.n for r in summary.results if r.condition == "x"} == {2}
    assert "line 3" in summary.warnings[0].where


def test_rows_can_be_kept_by_a_column() -> None:
    text = "who,what,before,after,incl\nA,x,1,2,yes\nB,x,1,3,no\nC,x,2,3,yes\n"
    roles = Roles("who", "what", "after", "before", keep="incl", kept=("yes",))
    assert {r.n for r in summarise_data(text, roles, outcome="o", locator="d").results} == {2}


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("who,what,before\nA,x,1\n", "no column"),
        (TABLE + "A,x,9,9\n", "twice"),
        (TABLE.replace("11", "eleven"), "no figure"),
        (TABLE.replace("11", "inf"), "no figure"),
        ("who,what,before,after\n", "no row"),
    ],
)
def test_a_table_that_cannot_be_summed_up_is_refused(text: str, word: str) -> None:
    with pytest.raises(BadInput, match=word) as caught:
        summarise_data(text, SIMPLE, outcome="o", locator="d", name="d.csv")
    assert caught.value.where is not None


def test_a_start_of_zero_gives_no_percent() -> None:
    summary = summarise_data(TABLE.replace("A,x,10", "A,x,0"), SIMPLE, outcome="o", locator="d")
    kinds = {r.statistic for r in summary.results if r.condition == "x"}
    assert Statistic.PERCENT_CHANGE not in kinds
    assert Statistic.CHANGE in kinds


figures = st.lists(
    st.tuples(st.integers(100, 999), st.integers(100, 999), st.integers(100, 999), st.integers(100, 999)),
    min_size=3,
    max_size=12,
)


@given(figures)
def test_sums_agree_with_the_standard_library(rows: list[tuple[int, int, int, int]]) -> None:
    lines = [f"{i},{c},{r[2 * k]},{r[2 * k + 1]}" for i, r in enumerate(rows) for k, c in enumerate("xy")]
    summary = summarise_data("who,what,before,after\n" + "\n".join(lines), SIMPLE, outcome="o", locator="d")
    change = next(r for r in summary.results if r.key == "o.x.over.change")
    expected = [b - a for a, b, _, _ in rows]
    # Python's statistics module works in exact fractions; 1e-9 covers rounding of the last step.
    assert change.value == pytest.approx(statistics.mean(expected), abs=1e-9)
    assert change.spread == pytest.approx(statistics.stdev(expected), abs=1e-9)
    other = [d - c for _, _, c, d in rows]
    if len(set(expected)) > 1 and len(set(other)) > 1:
        r = next(c.r for c in summary.correlations if c.result_a == change.key)
        assert r == pytest.approx(statistics.correlation(expected, other), abs=1e-9)
