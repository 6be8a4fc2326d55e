"""How far an answer moved. Half or more of its size: Shojania et al. 2007 (Ann Intern Med 147:224)."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.appraisal.levels import ORDER
from evidence.appraisal.metrics import find_thresholds
from evidence.appraisal.moves import (
    MoveKind,
    Standing,
    find_moves,
    find_signal,
    months_between_reviews,
    relative_change,
)
from evidence.appraisal.rulebook import load_rules, load_sources

BEFORE = Standing(
    datetime(2026, 1, 1, tzinfo=UTC), "supported", "supported", "", "low", "low", "low", "smd", 0.4, 0.1, 0.7, 3,
    "Growth may be greater.", "",
)  # fmt: skip


def kinds(now: Standing) -> list[str]:
    return [str(move.kind) for move in find_moves(BEFORE, now, "hypertrophy")]


def test_the_same_answer_did_not_move() -> None:
    assert (
        find_moves(BEFORE, replace(BEFORE, at=datetime(2027, 1, 1, tzinfo=UTC), studies=4), "hypertrophy")
        == ()
    )


@pytest.mark.parametrize(
    ("estimate", "moved"), [(0.59, False), (0.6, True), (0.21, False), (0.2, True), (-0.2, True)]
)
def test_half_of_its_size_is_a_move_and_less_is_none(estimate: float, moved: bool) -> None:
    assert (MoveKind.SIZE in kinds(replace(BEFORE, estimate=estimate))) is moved


def test_a_change_among_differences_too_small_to_matter_is_none() -> None:
    small = find_thresholds("smd", "hypertrophy").small
    assert small is not None
    tiny = replace(BEFORE, estimate=small / 10, low=-0.3, high=0.3)
    assert relative_change(tiny, replace(tiny, estimate=small / 2), "hypertrophy") is None


def test_a_ratio_is_compared_as_it_is_shown() -> None:
    # 20 % to 30 % is half as much again, although its logarithm grows by 44 % only.
    one = replace(BEFORE, metric="log_ratio_of_means", estimate=0.18232155679395462, low=0.1, high=0.3)
    other = replace(one, estimate=0.26236426446749106)
    change = relative_change(one, other, "activation")
    assert change == pytest.approx(0.5)


def test_an_interval_that_comes_to_hold_no_difference_is_signal_u4() -> None:
    now = replace(BEFORE, verdict="no clear difference", verdict_text="no clear difference", low=-0.05)
    (move,) = [m for m in find_moves(BEFORE, now, "hypertrophy") if m.kind is MoveKind.VERDICT]
    assert move.signal == "U4"


def test_an_interval_that_newly_holds_the_smallest_difference_that_matters_is_told() -> None:
    clear = replace(BEFORE, estimate=0.9, low=0.7, high=1.1)
    wider = replace(clear, low=0.3, high=1.5)
    assert MoveKind.THRESHOLD in [m.kind for m in find_moves(clear, wider, "hypertrophy")]
    assert MoveKind.THRESHOLD not in [m.kind for m in find_moves(wider, clear, "hypertrophy")]


def test_another_level_or_range_is_a_move_and_so_is_a_wording() -> None:
    assert kinds(replace(BEFORE, level="moderate", level_low="moderate", level_high="moderate")) == ["level"]
    assert kinds(replace(BEFORE, level_high="moderate")) == ["level"]
    assert kinds(replace(BEFORE, short="Growth is probably greater.")) == ["wording"]


def test_sizes_on_different_scales_are_not_compared() -> None:
    assert kinds(replace(BEFORE, metric="mean_difference", estimate=12.0, low=1.0, high=23.0)) == ["scale"]


def test_an_answer_that_is_gone_moved() -> None:
    now = replace(
        BEFORE, verdict="nothing found", verdict_text="nothing found", estimate=None, low=None, high=None
    )
    assert "verdict" in kinds(now)


@given(st.floats(-2, 2), st.floats(0.01, 1), st.floats(-2, 2), st.floats(0.01, 1))
def test_no_move_is_seen_where_only_the_time_differs(e: float, w: float, f: float, v: float) -> None:
    one = replace(BEFORE, estimate=e, low=e - w, high=e + w)
    other = replace(BEFORE, estimate=f, low=f - v, high=f + v)
    assert find_moves(one, one, "hypertrophy") == ()
    assert all(move.text for move in find_moves(one, other, "hypertrophy"))


def test_the_rules_name_a_time_for_every_level_and_a_known_source() -> None:
    rules = load_rules("update_signals")
    assert [months_between_reviews(str(level)) for level in ORDER] == [12, 12, 24, 36]
    assert all(find_signal(row["signal"]) for row in rules["notices"].values())
    assert all(s.get("src", "project") in {*load_sources(), "project"} for s in rules["signals"])
