"""Meta-regression, subgroups and sensitivity: against each other, and what is refused."""

import numpy as np
import pytest

from evidence.errors import NumberProblem
from evidence.statistics.pooling import common_effect, pool
from evidence.statistics.regression import code_groups, compare_subgroups, regress
from evidence.statistics.sensitivity import cumulate, leave_one_out, measure_influence, shrink

Y = np.array([0.12, 0.35, 0.5, 0.48, 0.7, 0.82, 0.9, 0.31])
V = np.array([0.02, 0.03, 0.05, 0.02, 0.04, 0.06, 0.03, 0.05])
DOSE = np.array([1.0, 2.0, 3.0, 3.0, 4.0, 5.0, 6.0, 2.0])


def test_without_moderators_a_regression_is_the_pooled_effect() -> None:
    for interval in ("wald", "knapp_hartung", "knapp_hartung_plain"):
        one, other = regress(Y, V, {}, interval=interval), pool(Y, V, interval=interval)
        (mean,) = one.coefficients
        assert (mean.estimate, mean.low, mean.high) == pytest.approx((other.estimate, other.low, other.high))
        assert one.test is None


def test_the_unit_of_a_moderator_changes_only_its_coefficient() -> None:
    one = regress(Y, V, {"dose": DOSE})
    other = regress(Y, V, {"dose": 1000.0 * DOSE + 1e6})
    assert other.coefficients[1].estimate * 1000.0 == pytest.approx(one.coefficients[1].estimate, rel=1e-6)
    assert other.coefficients[1].p == pytest.approx(one.coefficients[1].p, rel=1e-6)
    assert other.tau2 == pytest.approx(one.tau2, abs=1e-8)
    assert one.r2 is not None
    assert one.r2 > 50.0
    assert "as a hint" in one.notes[0]


def test_two_groups_by_dummy_are_the_subgroups_with_common_tau2() -> None:
    groups = ["a", "a", "b", "b", "b", "b", "a", "a"]
    by_dummy = regress(Y, V, code_groups("g", groups), interval="wald")
    shared = compare_subgroups(Y, V, groups, common_tau2=True)
    assert shared.names == ("a", "b")
    assert shared.tau2 == pytest.approx(by_dummy.tau2, rel=1e-6)
    assert by_dummy.test is not None
    assert shared.test.statistic == pytest.approx(by_dummy.test.statistic, rel=1e-6)
    gap = shared.groups[1].estimate - shared.groups[0].estimate
    assert by_dummy.coefficients[1].estimate == pytest.approx(gap, rel=1e-6)


def test_separate_groups_are_pooled_as_they_would_be_alone() -> None:
    groups = ["a"] * 5 + ["b"] * 3
    got = compare_subgroups(Y, V, groups)
    assert got.tau2 is None
    assert got.groups[0].estimate == pytest.approx(pool(Y[:5], V[:5]).estimate)
    assert any("observational" in note for note in got.notes)
    common = compare_subgroups(Y, V, groups, tau2_method=None)
    total = common_effect(Y, V).q
    inside = sum(group.q for group in common.groups)
    assert common.test.statistic == pytest.approx(total - inside)


@pytest.mark.parametrize(
    ("moderators", "says"),
    [
        ({"dose": DOSE[:3]}, "8 effects but 3 values"),
        ({"dose": np.where(DOSE == 3.0, np.nan, DOSE)}, "dose, result 3"),
        ({"dose": np.ones(8)}, "cannot be told apart"),
        ({"dose": DOSE, "twice": 2.0 * DOSE}, "cannot be told apart"),
        ({f"m{i}": np.eye(8)[i] for i in range(7)}, "cannot support 8 coefficients"),
    ],
)
def test_unusable_moderators_are_refused(moderators: dict, says: str) -> None:
    with pytest.raises(NumberProblem, match=says):
        regress(Y, V, moderators)


def test_unusable_groups_are_refused() -> None:
    with pytest.raises(NumberProblem, match="only one group"):
        compare_subgroups(Y, V, ["a"] * 8)
    with pytest.raises(NumberProblem, match="8 effects but 1 group"):
        compare_subgroups(Y, V, ["a"])
    with pytest.raises(NumberProblem, match="neither"):
        regress(Y, V, {}, intercept=False)


def test_a_perfect_line_does_not_end_in_a_division_by_zero() -> None:
    got = regress(0.1 * DOSE, V, {"dose": DOSE})
    assert got.coefficients[1].estimate == pytest.approx(0.1)
    assert got.guard_applied
    assert got.tau2 == 0.0


def test_leaving_one_out_is_pooling_the_others() -> None:
    rest = leave_one_out(Y, V)
    assert rest[3].estimate == pytest.approx(pool(np.delete(Y, 3), np.delete(V, 3)).estimate)
    with pytest.raises(NumberProblem, match="nothing left"):
        leave_one_out([0.1], [0.1])


def test_cumulating_by_year_ends_at_the_pooled_effect() -> None:
    years = [2011, 2004, 2019, 2004, 1999, 2020, 2001, 2015]
    order, steps = cumulate(Y, V, order=years)
    assert order == (4, 6, 1, 3, 0, 7, 2, 5)
    assert steps[0].estimate == Y[4]
    assert steps[-1].estimate == pytest.approx(pool(Y, V).estimate)
    with pytest.raises(NumberProblem, match="order them by"):
        cumulate(Y, V, order=[1])


def test_an_outlier_is_flagged_and_its_hat_is_its_weight() -> None:
    y = np.append(Y, 6.0)
    v = np.append(V, 0.02)
    got = measure_influence(y, v)
    assert got[-1].flagged
    assert abs(got[-1].studentised) > 3.0
    assert sum(one.hat for one in got) == pytest.approx(1.0)
    with pytest.raises(NumberProblem, match="at least three"):
        measure_influence([0.1, 0.2], [0.1, 0.1])


def test_shrunken_effects_lie_between_the_result_and_the_mean() -> None:
    mean = pool(Y, V).estimate
    for own, got in zip(Y, shrink(Y, V), strict=True):
        assert min(own, mean) - 1e-12 <= got.estimate <= max(own, mean) + 1e-12
        assert got.low < got.estimate < got.high
