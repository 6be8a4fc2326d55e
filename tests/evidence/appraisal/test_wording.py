"""Wordings at the right strength, and the check of a wording against its record."""

import math
from itertools import product
from pathlib import Path
from types import SimpleNamespace

import pytest
import yaml

from evidence.appraisal.body import Body
from evidence.appraisal.confidence import rate
from evidence.appraisal.levels import ORDER, Level, read_level
from evidence.appraisal.metrics import Size
from evidence.appraisal.overrides import Override, apply_override
from evidence.appraisal.verdict import VerdictKind, judge
from evidence.appraisal.wording import Names, Points, word_cue, wordings
from evidence.appraisal.wording_check import WordingRecord, check_wording, read_strength
from evidence.vocabulary.terms import Direction

LINES = yaml.safe_load(Path(__file__).with_name("wording_lines.yaml").read_text("utf-8"))
SIZES = {
    "trivial_or_none": Size.TRIVIAL,
    "small_important": Size.SMALL,
    "moderate": Size.MODERATE,
    "large": Size.LARGE,
}
NAMES = Names("the hip thrust", "the back squat", "gluteus maximus", "activation", "resistance-trained women")


def rated(body, level):
    proposed = rate(body)
    return apply_override(
        proposed, [Override("overall", str(level), "for the test", "T", "2026", proposed.inputs_hash)]
    )


def ratio_body(low, estimate, high, **changes):
    pooled = SimpleNamespace(
        k=3, estimate=math.log(estimate), low=math.log(low), high=math.log(high), tau2=0.0, i2=0.0,
        prediction_low=None, prediction_high=None,
    )  # fmt: skip
    return Body(construct="activation", metric="log_ratio_of_means", pooled=pooled, n_total=56, **changes)


@pytest.mark.parametrize("line", LINES, ids=lambda line: line["text"][:45])
def test_the_twelve_lines_get_their_flags(line):
    record = WordingRecord(
        read_level(line["certainty"]),
        SIZES[line["size"]],
        ci_includes_mid=line.get("ci_includes_mid", False),
        support=line.get("support", ""),
    )
    assert [flag.id for flag in check_wording(line["text"], record)] == line["expect"]


@pytest.mark.parametrize(
    ("text", "record", "expected"),
    [
        ("A was significantly better than B", WordingRecord(Level.HIGH, has_figures=False), "W4"),
        ("A is as effective as B", WordingRecord(Level.HIGH), "W10"),
        ("A suggests that B may possibly help", WordingRecord(Level.LOW), "W11"),
        ("A is higher than B for everyone", WordingRecord(Level.HIGH, people=("women",)), "W9"),
        ("A is higher than B in men", WordingRecord(Level.HIGH, people=("trained women",)), "W9"),
        ("A is higher than B", WordingRecord(Level.HIGH, Size.LARGE), "W7"),
        ("A increases growth more than B", WordingRecord(Level.HIGH, support="nonrandomised"), "W5"),
    ],
)
def test_each_of_the_other_rules_can_fire(text, record, expected):
    assert expected in [flag.id for flag in check_wording(text, record)]


@pytest.mark.parametrize(
    ("text", "record", "silent"),
    [
        ("A is as effective as B", WordingRecord(Level.HIGH, margin_met=True), "W10"),
        ("A is higher than B in women", WordingRecord(Level.HIGH, people=("trained women",)), "W9"),
        ("A may increase growth more than B", WordingRecord(Level.LOW, support="emg_only"), "W5"),
        ("It is unclear whether A differs from B", WordingRecord(Level.VERY_LOW), "W1"),
        (
            "There was no clear difference between A and B",
            WordingRecord(Level.LOW, ci_includes_mid=True),
            "W3",
        ),
        ("A is better than B", WordingRecord(Level.HIGH), "W8"),
    ],
)
def test_a_right_wording_is_left_alone(text, record, silent):
    assert silent not in [flag.id for flag in check_wording(text, record)]


def test_strength_reads_the_weakest_hedge():
    assert read_strength("A probably increases it") == "probably"
    assert read_strength("A may, and probably does") == "may"
    assert read_strength("A increases it") == "plain"
    assert read_strength("A always increases it") == "boosted"


INTERVALS = {
    "more": (1.15, 1.28, 1.42),
    "slightly more": (1.02, 1.12, 1.24),
    "large": (1.4, 1.8, 2.3),
    "less": (0.6, 0.75, 0.9),
    "open": (0.8, 1.05, 1.3),
    "none": (0.95, 1.0, 1.05),
}


@pytest.mark.parametrize(("level", "interval", "direction"), list(product(ORDER, INTERVALS, Direction)))
def test_no_generated_wording_breaks_its_own_rules(level, interval, direction):
    body = ratio_body(*INTERVALS[interval], direction=direction)
    verdict = judge(body)
    same = verdict.direction is Direction.SAME
    record = WordingRecord(
        level,
        Size.TRIVIAL if same else verdict.size,
        ci_includes_mid=verdict.kind is VerdictKind.NO_CLEAR_DIFFERENCE,
        support="emg_only",
        margin_met=same,
        people=("resistance-trained women",),
    )
    said = wordings(verdict, rated(body, level), NAMES)
    for text in (said.short, said.plain):
        assert not check_wording(text, record), text


def test_each_level_has_its_own_words():
    body = ratio_body(1.15, 1.28, 1.42)
    verdict = judge(body)
    shorts = [wordings(verdict, rated(body, level), NAMES).short for level in ORDER]
    assert shorts == [
        "Activation of the gluteus maximus may be higher with the hip thrust than with the back squat, "
        "but the evidence is very uncertain.",
        "Activation of the gluteus maximus may be higher with the hip thrust than with the back squat.",
        "Activation of the gluteus maximus is probably higher with the hip thrust than with the back squat.",
        "Activation of the gluteus maximus is higher with the hip thrust than with the back squat.",
    ]


def test_people_comparator_region_and_figures_are_in_the_plain_wording():
    body = ratio_body(1.15, 1.28, 1.42)
    plain = wordings(
        judge(body), rated(body, Level.LOW), NAMES, Points(17.2, "percentage points of MVIC", 61.0)
    ).plain
    for part in (
        "resistance-trained women",
        "back squat",
        "luteus maximus",
        "28 % higher",
        "relative",
        "15 % to 42 %",
    ):
        assert part in plain
    assert "17.2 percentage points of MVIC higher, from 61.0" in plain


def test_a_contradicted_claim_is_worded_in_the_direction_found():
    body = ratio_body(0.6, 0.75, 0.9)
    said = wordings(judge(body), rated(body, Level.MODERATE), NAMES)
    assert "is probably much lower" not in said.short
    assert "is probably lower" in said.short
    assert "25 % lower" in said.plain


def test_an_open_verdict_says_that_nothing_was_shown_alike(body):
    open_body = ratio_body(0.8, 1.05, 1.3)
    said = wordings(judge(open_body), rated(open_body, Level.LOW), NAMES)
    assert said.short.startswith("It is unclear whether")
    assert "does not show that they are alike" in said.plain


def test_nothing_found_says_so():
    empty = Body(construct="hypertrophy", metric="smd")
    said = wordings(judge(empty), rate(empty), Names("the lunge", "the step-up", "", "hypertrophy"))
    assert (
        said.full == "No study that could be weighed compares the lunge with the step-up for muscle growth."
    )


def test_the_full_wording_tells_a_surrogate(body):
    growth = body(each={"construct": "activation"})
    said = wordings(judge(growth), rate(growth), Names("A", "B", "hamstrings", "hypertrophy"))
    assert "not a validated predictor" in said.full


def test_a_cue_is_in_the_imperative_and_as_strong_as_the_confidence():
    body = ratio_body(1.15, 1.28, 1.42)
    cues = [word_cue(judge(body), rated(body, level), NAMES).split(" the ")[0] for level in ORDER]
    assert cues == ["If you like, try", "Consider", "Prefer", "Choose"]
    for level in ORDER:
        cue = word_cue(judge(body), rated(body, level), NAMES)
        assert "W1" not in [flag.id for flag in check_wording(cue, WordingRecord(level))], cue


def test_a_cue_names_the_better_exercise_whatever_the_claim_said():
    lower = ratio_body(0.6, 0.75, 0.9)
    assert word_cue(judge(lower), rated(lower, Level.HIGH), NAMES).startswith(
        "Choose the back squat over the hip thrust."
    )
    pain = Names("the lunge", "the step-up", "knee", "pain")
    assert word_cue(judge(lower), rated(lower, Level.HIGH), pain).startswith(
        "Choose the lunge over the step-up."
    )


def test_a_cue_on_an_open_answer_leaves_the_choice():
    open_body = ratio_body(0.8, 1.05, 1.3)
    assert "by what suits you" in word_cue(judge(open_body), rated(open_body, Level.LOW), NAMES)


@pytest.mark.parametrize(
    ("metric", "estimate", "unit", "told"),
    [
        ("smd", -0.4, "", "0.40 standard deviations lower"),
        ("log_risk_ratio", math.log(0.48), "", "a ratio of 0.48"),
        ("risk_difference", -0.05, "", "5.0 fewer in 100 people"),
        ("mean_difference", 3.2, "kg", "3.20 kg higher"),
        ("mean_difference", 3.2, "", "3.20 higher, in the unit of the outcome"),
        ("percent_change_difference", -2.5, "", "2.5 percentage points of change lower"),
        ("fisher_z", math.atanh(0.3), "", "0.30 (correlation)"),
    ],
)
def test_each_scale_is_told_in_its_own_words(body, pool, metric, estimate, unit, told):
    held = body(pool(estimate, estimate - 0.3, estimate + 0.3), metric=metric)
    names = Names("A", "B", "hamstrings", "strength", unit=unit)
    assert told in wordings(judge(held), rate(held), names).plain
