"""A printed t against means, SDs and n.

The hours of sleep are Student's (1908, The probable error of a mean; two drugs, 10 people): t = 1.86 as two groups and
4.06 as pairs, as the manual of R prints them for its data set `sleep`.
"""

import math
import statistics

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evidence.errors import BadInput, NumberProblem
from evidence.statistics.integrity_t import check_paired_t, check_summary_t, read_root

FIRST = ("0.75", "1.79", 10)
SECOND = ("2.33", "2.00", 10)
ROOT = math.sqrt(10)


def test_the_t_of_two_groups_fits_their_means() -> None:
    assert check_summary_t(FIRST, SECOND, "-1.86") is None
    assert check_summary_t(SECOND, FIRST, "1.86") is None
    assert check_summary_t(FIRST, SECOND, read_root("3.46")) is None  # F(1, 18) = t²


def test_the_t_of_pairs_taken_for_one_of_groups_is_told() -> None:
    found = check_summary_t(FIRST, SECOND, "-4.06")
    assert found is not None and "A paired or adjusted analysis would explain it" in found.text
    assert check_paired_t(FIRST, SECOND, "-4.06") is None


def test_standard_errors_in_the_place_of_sds_are_named() -> None:
    first, second = (("0.75", f"{1.789 / ROOT:.2f}", 10), ("2.33", f"{2.002 / ROOT:.2f}", 10))
    found = check_summary_t(first, second, "-1.86")
    assert found is not None and "if the spreads were standard errors, not SDs" in found.text
    assert check_summary_t(first, second, "-1.86", se=True) is None
    found = check_summary_t(FIRST, SECOND, "-1.86", se=True)
    assert found is not None and "if the spreads were SDs, not standard errors" in found.text


def test_a_paired_t_that_no_correlation_gives_is_told() -> None:
    """Least t at r = −1: 1.58·√10/(1.79 + 2.00) = 1.32; greatest at r = 1: 1.58·√10/(2.00 − 1.79) = 23.8."""
    assert check_paired_t(FIRST, SECOND, "1.35") is None
    assert check_paired_t(FIRST, SECOND, "1.10") is not None
    assert check_paired_t(FIRST, SECOND, "22") is None
    assert check_paired_t(FIRST, SECOND, "29") is not None


def test_what_cannot_be_compared_is_refused_in_words() -> None:
    with pytest.raises(BadInput):
        check_summary_t(FIRST, SECOND, "n.s.")
    with pytest.raises(NumberProblem):
        check_paired_t(FIRST, ("2.33", "2.00", 1), "4.06")


people = st.lists(st.floats(1, 100), min_size=3, max_size=12)


@given(people, people, st.integers(0, 3))
def test_a_t_computed_from_the_people_is_never_flagged_whatever_its_rounding(
    one: list[float], other: list[float], decimals: int
) -> None:
    """Figures of scipy's tests, printed with as many decimals as the means."""
    from scipy import stats

    assume(min(statistics.stdev(one), statistics.stdev(other)) > 0.01)
    a, b = (printed(values, decimals) for values in (one, other))
    for equal in (True, False):
        t = float(stats.ttest_ind(one, other, equal_var=equal).statistic)
        assert check_summary_t(a, b, f"{t:.{decimals}f}") is None


@given(st.lists(st.tuples(st.floats(1, 100), st.floats(1, 100)), min_size=3, max_size=12), st.integers(0, 3))
def test_a_paired_t_computed_from_the_people_is_never_flagged(
    pairs: list[tuple[float, float]], decimals: int
) -> None:
    from scipy import stats

    one, other = zip(*pairs, strict=True)
    assume(statistics.stdev([a - b for a, b in pairs]) > 0.01)
    t = float(stats.ttest_rel(one, other).statistic)
    assert check_paired_t(printed(one, decimals), printed(other, decimals), f"{t:.{decimals}f}") is None


def printed(values: "list[float] | tuple[float, ...]", decimals: int) -> tuple[str, str, int]:
    return f"{statistics.fmean(values):.{decimals}f}", f"{statistics.stdev(values):.{decimals}f}", len(values)
