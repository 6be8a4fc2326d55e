"""Agreement of two people: the published worked figures, and what has to hold for any."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import NumberProblem
from evidence.statistics.agreement import measure_agreement


def spread_out(table: list[list[int]]) -> list[tuple[str, str]]:
    return [
        (str(i), str(j)) for i, row in enumerate(table) for j, count in enumerate(row) for _ in range(count)
    ]


def test_kappa_and_its_interval_are_those_of_a_published_printout() -> None:
    # Printout of SAS PROC FREQ (simple kappa 0.4842, ASE 0.1380, 95 % limits 0.2137 and 0.7547) as kept in the open
    # tests of statsmodels 0.15.0, stats/tests/test_inter_rater.py, TestUnweightedCohens; four decimals are printed.
    found = measure_agreement(spread_out([[0, 4, 1], [0, 8, 0], [0, 1, 5]]))
    assert found.n == 19
    assert found.agreed == 13
    assert found.kappa == pytest.approx(0.4842, abs=5e-5)
    assert found.se == pytest.approx(0.1380, abs=5e-5)
    assert (found.low, found.high) == pytest.approx((0.2137, 0.7547), abs=5e-5)


def test_the_usual_example_of_fifty_proposals_gives_two_fifths() -> None:
    # Two readers, 50 proposals: both yes 20, both no 15, yes/no 5 and 10 (textbook example, from memory):
    # po 0.7, pe 0.5, kappa 0.4, which is also plain arithmetic.
    found = measure_agreement(spread_out([[20, 5], [10, 15]]))
    assert (found.observed, found.expected, found.kappa) == pytest.approx((0.7, 0.5, 0.4))


def test_one_word_throughout_agrees_fully_and_has_no_kappa() -> None:
    found = measure_agreement([("low", "low")] * 6)
    assert found.observed == 1
    assert found.kappa is None


def test_nothing_judged_by_both_has_no_agreement() -> None:
    with pytest.raises(NumberProblem):
        measure_agreement([])


@given(st.lists(st.tuples(st.sampled_from("abc"), st.sampled_from("abc")), min_size=1, max_size=60))
def test_agreement_does_not_ask_who_came_first_and_stays_in_its_bounds(pairs: list[tuple[str, str]]) -> None:
    one, other = measure_agreement(pairs), measure_agreement([(b, a) for a, b in pairs])
    assert one.observed == other.observed
    if one.kappa is not None:
        assert one.kappa == pytest.approx(other.kappa)
        assert -1 <= one.kappa <= 1
        if one.se is not None:
            assert one.se == pytest.approx(other.se, abs=1e-9)
            assert one.low is not None and one.high is not None
            assert one.low <= one.kappa + 1e-12 and one.kappa - 1e-12 <= one.high
    if all(a == b for a, b in pairs) and one.kappa is not None:
        assert one.kappa == pytest.approx(1)
