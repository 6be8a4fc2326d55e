"""Whatever figures come in, an effect is a number with a variance above 0, or a problem told in words."""

import math
from collections.abc import Callable
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.errors import NumberProblem, SteelyardError
from evidence.statistics import counts, independent, paired, prepost
from evidence.statistics.counts import Events, Rate
from evidence.statistics.effect import LARGEST, Effect, Summary
from evidence.statistics.prepost import Arm

NUMBER = (
    st.floats()
    | st.sampled_from([0.0, 1.0, LARGEST, 1 / LARGEST, -LARGEST, 9e29, 2e-30])
    | st.floats(-100, 100)
)
PEOPLE = st.sampled_from([2, 3, 4, 10, 40, 1, 0, -1, 10**6, 10**18])
R = st.floats() | st.sampled_from([0.0, 1.0, -1.0, 0.5, 0.999999]) | st.floats(-1, 1)
COUNT = st.sampled_from([0, 1, 2, 5, 40, 10**15, -1])
ONE = (NUMBER, NUMBER, PEOPLE)
TWO = (NUMBER, NUMBER, NUMBER, NUMBER, PEOPLE)


def of_groups(effect: Callable[..., Effect], **how: bool) -> Callable[..., Effect]:
    return lambda m1, s1, n1, m2, s2, n2: effect(Summary(m1, s1, n1), Summary(m2, s2, n2), **how)


def of_pairs(effect: Callable[..., Effect]) -> Callable[..., Effect]:
    return lambda m1, s1, m2, s2, n, r: effect(Summary(m1, s1, n), Summary(m2, s2, n), r)


def make_arm(m1: float, s1: float, m2: float, s2: float, n: int, r: float) -> Arm:
    return Arm(Summary(m1, s1, n), Summary(m2, s2, n), r)


def of_arms(effect: Callable[..., Effect], *more: float) -> Callable[..., Effect]:
    return lambda *f: effect(make_arm(*f[:6]), make_arm(*f[6:10], f[4], f[10]), *more)


GROUPS, PAIRS, ARMS = (*ONE, *ONE), (*TWO, R), (*TWO, R, NUMBER, NUMBER, NUMBER, NUMBER, R)
Case = tuple[Callable[..., Effect], tuple[st.SearchStrategy[object], ...]]
CASES: dict[str, Case] = {
    **{
        f"groups: {f.__name__}": (of_groups(f), GROUPS)
        for f in (
            independent.mean_difference, independent.standardised_mean_difference,
            independent.standardise_by_average_sd, independent.standardise_by_b, independent.log_ratio_of_means,
            independent.log_variability_ratio, independent.log_cv_ratio,
        )
    },
    "groups: equal SDs": (of_groups(independent.mean_difference, equal_sds=True), GROUPS),
    "groups: SD of B, unequal": (of_groups(independent.standardise_by_b, equal_sds=False), GROUPS),
    "groups: variability, second order": (of_groups(independent.log_variability_ratio, second_order=True), GROUPS),
    "groups: CV, second order": (of_groups(independent.log_cv_ratio, second_order=True), GROUPS),
    **{
        f"pairs: {f.__name__}": (of_pairs(f), PAIRS)
        for f in (
            paired.mean_difference, paired.log_ratio_of_means, paired.standardised_mean_difference,
            paired.standardise_by_b, paired.standardise_by_b_unequal, paired.standardise_by_difference_sd,
            paired.log_variability_ratio, paired.log_cv_ratio,
        )
    },
    **{
        f"arms: {f.__name__}": (of_arms(f), ARMS)
        for f in (
            prepost.mean_change_difference, prepost.standardised_change_difference,
            prepost.difference_of_own_standardised_changes, prepost.difference_of_changes_in_change_sds,
            prepost.smd_of_changes, prepost.log_ratio_of_ratios,
        )
    },
    **{
        f"arms within people: {f.__name__}": (of_arms(f, 0.5), ARMS)
        for f in (
            prepost.percent_change_difference, prepost.within_person_change_difference,
            prepost.within_person_standardised_change_difference,
        )
    },
    "arm: percent change": (lambda *f: prepost.percent_change(make_arm(*f)), PAIRS),
    **{
        f"events: {f.__name__}": (
            lambda a, n, b, m, f=f: f(Events(a, n), Events(b, m)), (COUNT, COUNT, COUNT, COUNT),
        )
        for f in (
            counts.log_risk_ratio, counts.log_odds_ratio, counts.risk_difference, counts.arcsine_difference,
            counts.peto_log_odds_ratio,
        )
    },
    **{
        f"rates: {f.__name__}": (
            lambda a, t, b, u, f=f: f(Rate(a, t), Rate(b, u)), (COUNT, NUMBER, COUNT, NUMBER),
        )
        for f in (counts.log_rate_ratio, counts.rate_difference, counts.root_rate_difference)
    },
}  # fmt: skip


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("name", CASES)
@given(data=st.data())
@settings(deadline=None, max_examples=60)
def test_an_effect_is_a_number_or_refused_in_words(name: str, data: st.DataObject) -> None:
    ask, asked = CASES[name]
    figures = [data.draw(figure) for figure in asked]
    with suppress(SteelyardError):
        effect = ask(*figures)
        assert math.isfinite(effect.estimate) and 0 < effect.variance < math.inf
        assert all(math.isfinite(step.value) for step in effect.steps)


@pytest.mark.parametrize("figure", [1e31, -1e31, 1e-31, 1e308, 5e-324])
def test_a_figure_beyond_all_measures_is_refused_by_name(figure: float) -> None:
    with pytest.raises(NumberProblem, match=r"mean is .*too large or too fine for any measure"):
        Summary(figure, 1.0, 10)
    with pytest.raises(NumberProblem, match=r"sd is .*too large or too fine"):
        Summary(1.0, abs(figure), 10)
    assert Summary(0.0, 0.0, 10).n == 10


def test_more_people_than_live_are_no_number_of_people() -> None:
    with pytest.raises(NumberProblem, match="more than there are people"):
        Summary(1.0, 1.0, 10**11)
