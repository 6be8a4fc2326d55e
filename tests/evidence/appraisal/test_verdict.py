"""What the evidence says: verdict from intervals, never from significance alone."""

import math
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.appraisal.body import Body
from evidence.appraisal.metrics import Size, find_metric, format_interval
from evidence.appraisal.verdict import VerdictKind, judge
from evidence.vocabulary.terms import Direction


@pytest.mark.parametrize(
    ("direction", "interval", "kind", "found"),
    [
        (Direction.MORE, (0.1, 0.3, 0.5), VerdictKind.SUPPORTED, Direction.MORE),
        (Direction.MORE, (-0.5, -0.3, -0.1), VerdictKind.CONTRADICTED, Direction.LESS),
        (Direction.LESS, (-0.5, -0.3, -0.1), VerdictKind.SUPPORTED, Direction.LESS),
        (Direction.MORE, (-0.1, 0.3, 0.7), VerdictKind.NO_CLEAR_DIFFERENCE, None),
        (Direction.MORE, (-0.1, 0.0, 0.1), VerdictKind.LITTLE_OR_NONE, Direction.SAME),
        (Direction.MORE, (0.02, 0.1, 0.18), VerdictKind.LITTLE_OR_NONE, Direction.SAME),
        (Direction.DIFFERS, (-0.5, -0.3, -0.1), VerdictKind.SUPPORTED, Direction.LESS),
        (Direction.SAME, (-0.15, 0.0, 0.15), VerdictKind.SUPPORTED, Direction.SAME),
        (Direction.SAME, (-0.3, 0.0, 0.3), VerdictKind.NO_CLEAR_DIFFERENCE, None),
        (Direction.SAME, (0.3, 0.5, 0.7), VerdictKind.CONTRADICTED, Direction.MORE),
        (Direction.SAME, (0.05, 0.15, 0.25), VerdictKind.NO_CLEAR_DIFFERENCE, Direction.MORE),
    ],
)
def test_the_interval_decides_the_verdict(body, pool, direction, interval, kind, found):
    low, estimate, high = interval
    verdict = judge(body(pool(estimate, low, high), direction=direction))
    assert (verdict.kind, verdict.direction) == (kind, found)


def test_an_interval_over_zero_is_never_called_the_same(body, pool):
    verdict = judge(body(pool(0.0, -0.5, 0.5)))
    assert verdict.kind is VerdictKind.NO_CLEAR_DIFFERENCE
    assert "same" not in verdict.text


def test_sameness_needs_the_whole_interval_inside_the_claims_own_margin(body, pool):
    narrow = body(pool(0.0, -0.25, 0.25), direction=Direction.SAME)
    assert judge(narrow).kind is VerdictKind.NO_CLEAR_DIFFERENCE
    wide = body(pool(0.0, -0.25, 0.25), direction=Direction.SAME, margin=0.3)
    assert judge(wide).kind is VerdictKind.SUPPORTED


def test_sameness_without_any_margin_is_not_judged(body, pool):
    verdict = judge(body(pool(0.0, -0.1, 0.1), direction=Direction.SAME, metric="mean_difference"))
    assert verdict.kind is VerdictKind.NO_CLEAR_DIFFERENCE
    assert any("margin" in note for note in verdict.notes)


def test_estimates_without_an_interval_give_a_direction_only(body):
    bare = body(each={"low": None, "high": None, "variance": None}, k=2, pooled=None)
    bare = Body(construct=bare.construct, metric=bare.metric, contributions=bare.contributions)
    verdict = judge(bare)
    assert verdict.kind is VerdictKind.DIRECTION_ONLY
    assert verdict.direction is Direction.MORE
    assert "without an interval" in verdict.sentence


def test_nothing_at_all_is_nothing_found():
    verdict = judge(Body(construct="hypertrophy", metric="smd"))
    assert verdict.kind is VerdictKind.NOTHING_FOUND
    assert verdict.estimate is None


def test_a_log_ratio_is_told_as_relative_percent(body, pool):
    verdict = judge(
        body(
            pool(math.log(1.28), math.log(1.15), math.log(1.42)),
            metric="log_ratio_of_means",
            construct="activation",
            each={"construct": "activation"},
        )
    )
    assert "+28 %" in verdict.sentence
    assert "15 % to 42 %" in verdict.sentence
    assert "relative" in verdict.sentence
    assert verdict.size is Size.MODERATE


def test_a_stand_in_is_sized_by_its_own_measure_and_not_by_the_claims_margin(body, pool):
    figures = pool(math.log(1.08), math.log(1.06), math.log(1.10) - 1e-6)
    growth = body(figures, metric="log_ratio_of_means", margin=0.001, each={"construct": "activation"})
    assert (
        judge(growth).kind is VerdictKind.LITTLE_OR_NONE
    )  # 8 % of activation is small; 8 % of growth is not
    assert judge(body(figures, metric="log_ratio_of_means")).kind is VerdictKind.SUPPORTED


def test_one_study_says_so(body, pool):
    assert any(note.startswith("One study") for note in judge(body(pool(0.4, 0.1, 0.7, k=1), k=1)).notes)


def test_a_prediction_interval_over_zero_is_told_beside_a_clear_average(body, pool):
    clear = pool(0.4, 0.2, 0.6, k=5, prediction_low=-0.2, prediction_high=1.0)
    assert any("prediction interval" in note for note in judge(body(clear, k=5)).notes)


@given(st.floats(-2, 2), st.floats(0.01, 2))
def test_swapping_the_two_sides_swaps_the_finding(estimate, half):
    opposite = {Direction.MORE: Direction.LESS, Direction.LESS: Direction.MORE}
    there = judge(_pooled_body(estimate, half))
    back = judge(_pooled_body(-estimate, half))
    assert back.direction == opposite.get(there.direction, there.direction)
    assert back.size == there.size


def _pooled_body(estimate: float, half: float) -> Body:
    pooled = SimpleNamespace(
        k=3,
        estimate=estimate,
        low=estimate - half,
        high=estimate + half,
        tau2=0.0,
        i2=0.0,
        prediction_low=None,
        prediction_high=None,
    )
    return Body(construct="hypertrophy", metric="smd", pooled=pooled, direction=Direction.DIFFERS)


def test_a_limit_just_beside_zero_shows_on_which_side_it_lies() -> None:
    smd, percent = find_metric("smd"), find_metric("log_ratio")
    assert format_interval(smd, -0.0003194, 0.6908) == "−0.0003 to 0.69"
    assert format_interval(percent, 0.0002, 0.3) == "0.02 % to 35 %"
    assert format_interval(smd, -1e-12, 0.5) == "0.00 to 0.50"
