"""People needed, against values computed in the design material (confidence.md 1.5, grade_rules.yaml)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.appraisal.information import paired_people, parallel_people, people_from_variance
from evidence.errors import NumberProblem


@pytest.mark.parametrize(
    ("difference", "people"), [(0.2, 786), (0.3, 350), (0.4, 198), (0.5, 126), (0.8, 50)]
)
def test_parallel_groups_need_the_computed_number(difference, people):
    assert parallel_people(difference) == people


@pytest.mark.parametrize(
    ("difference", "r", "people"),
    [(0.2, 0.5, 197), (0.3, 0.5, 88), (0.5, 0.5, 32), (0.2, 0.8, 79), (0.5, 0.8, 13)],
)
def test_the_same_people_in_both_conditions_need_fewer(difference, r, people):
    assert paired_people(difference, r) == people


def test_a_variance_from_the_studies_agrees_with_the_formula_for_parallel_groups():
    # one person of two equal groups contributes 4 units of variance to a standardised difference near 0
    assert people_from_variance(0.5, 4.0) == pytest.approx(parallel_people(0.5), abs=2)  # rounding per group


@given(st.floats(0.05, 2), st.floats(-0.9, 0.9))
def test_a_smaller_difference_never_needs_fewer_people(difference, r):
    assert parallel_people(difference / 2) >= parallel_people(difference)
    assert paired_people(difference / 2, r) >= paired_people(difference, r)


@pytest.mark.parametrize("difference", [0.0, -0.2, float("nan")])
def test_a_difference_of_nothing_is_refused(difference):
    with pytest.raises(NumberProblem):
        parallel_people(difference)


def test_a_correlation_of_one_is_refused():
    with pytest.raises(NumberProblem):
        paired_people(0.5, 1.0)
