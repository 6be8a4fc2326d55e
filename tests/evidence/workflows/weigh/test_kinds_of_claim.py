"""Every kind of claim: what it finds in studies made for the test, and what it says when there is nothing.

The invented figures are made so that the right answer can be seen in them.
"""

import math
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from sqlmodel import select

from evidence.appraisal.kinds import find_band, load_kinds
from evidence.appraisal.levels import Level
from evidence.appraisal.verdict import VerdictKind
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import claim_by_key, list_claims
from evidence.catalogue.tables import ClaimLink, Correlation, Reference, Result, Study
from evidence.errors import BadInput
from evidence.publishing.brief_pages import brief_markdown
from evidence.workflows.claims.claiming import Statement, leave_study_out, state_claim
from evidence.workflows.claims.terms import ALLOWED, Terms
from evidence.workflows.documents.briefing import make_brief
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.weigh.evaluating import EVALUATORS
from evidence.workflows.weigh.reweighing import weigh_many
from evidence.workflows.weigh.telling import weighing_as_text
from evidence.workflows.weigh.weighing import weigh, weigh_and_keep

HEAD = """steelyard: study/1
key: {key}
title: "[Invented] {key}"
invented: true
references: [{{doi: 10.5555/steelyard.test.{key}}}]
design: {design}
pairing: within
randomised: "{randomised}"
read_from: full text
people: [{{key: all, analysed: 20, sex: both, training_status: trained, health: healthy}}]
"""
LEVELS = """conditions:
  - {{key: a, exercise: leg extension, n: 20, details: {{hip_angle_deg: 10}}}}
  - {{key: b, exercise: leg extension, n: 20, details: {{hip_angle_deg: 40}}}}
  - {{key: c, exercise: leg extension, n: 20, details: {{hip_angle_deg: 70}}}}
outcomes: [{{key: emg, construct: activation, unit: "%MVIC", normalisation: mvc_standard_isometric}}]
tables:
  - outcome: emg
    timepoint: acute
    locator: Table 1
    spread: SD
    columns: [a, b, c]
    rows: [{{region: rectus femoris, cells: {cells}}}]
"""
FOUR = """conditions:
  - {{key: a, exercise: hip thrust, n: 20}}
  - {{key: b, exercise: back squat, n: 20}}
  - {{key: c, exercise: leg press, n: 20}}
outcomes: [{{key: emg, construct: activation, unit: "%MVIC", normalisation: mvc_standard_isometric}}]
tables:
  - outcome: emg
    timepoint: acute
    locator: Table 1
    spread: SD
    columns: [a, b, c]
    rows: [{{region: gluteus maximus, cells: {cells}}}]
"""
TWO_MEASURES = """conditions: [{{key: squat, exercise: back squat, n: {n}}}]
outcomes:
  - {{key: rm, construct: strength, unit: kg}}
  - {{key: jump, construct: performance, unit: cm}}
tables:
  - {{outcome: rm, timepoint: pre, locator: Table 1, spread: SD, columns: [squat], rows: [{{cells: ["100 (20)"]}}]}}
  - {{outcome: jump, timepoint: pre, locator: Table 1, spread: SD, columns: [squat], rows: [{{cells: ["40 (6)"]}}]}}
"""


def add(
    catalogue: Catalogue, folder: Path, key: str, body: str, *, randomised: str = "yes", **slots: object
) -> None:
    design = "randomised_crossover" if randomised == "yes" else "within_subject_order_not_randomised"
    text = HEAD.format(key=key, design=design, randomised=randomised) + body.format(**slots)
    path = folder / f"{key}.yaml"
    path.write_text(text, "utf-8")
    load_study(catalogue, path, "Sam")


def state(catalogue: Catalogue, kind: str, **parts: object) -> str:
    return state_claim(catalogue, Statement(kind=kind, **parts), "Sam").key  # type: ignore[arg-type]


def test_every_kind_has_an_evaluator_and_its_terms() -> None:
    assert set(EVALUATORS) == set(load_kinds()) == set(ALLOWED)


def test_every_verdict_that_a_kind_names_is_one_of_the_closed_list() -> None:
    known = {str(kind) for kind in VerdictKind}
    assert all(set(kind.verdicts) <= known for kind in load_kinds().values())


# -- trend -----------------------------------------------------------------------------------------


def test_a_trend_that_is_in_the_figures_is_found_over_the_step(catalogue: Catalogue, tmp_path: Path) -> None:
    add(
        catalogue, tmp_path, "one", LEVELS, cells='["80 (8)", "60 (6)", "45 (4.5)"]'
    )  # a quarter less at each level
    key = state(
        catalogue, "trend", exercise="leg extension", region="rectus femoris", outcome="activation",
        direction="less", terms=Terms(detail="hip_angle_deg", step=30.0),
    )  # fmt: skip
    found = weigh(catalogue, key)
    assert found.verdict.kind is VerdictKind.SUPPORTED
    # Equal spreads and a line on the logarithms: the slope over 30 degrees is exactly ln 0.75.
    assert found.verdict.estimate == pytest.approx(math.log(0.75), abs=1e-9)
    assert "falls with hip angle (degrees)" in found.verdict.text
    assert "over 30 degrees of hip angle" in found.wordings.plain


def test_what_is_drawn_of_a_trend_is_the_line_of_the_answer_and_the_levels_behind_it(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "one", LEVELS, cells='["80 (8)", "60 (6)", "45 (4.5)"]')
    key = state(
        catalogue, "trend", exercise="leg extension", region="rectus femoris", outcome="activation",
        direction="less", terms=Terms(detail="hip_angle_deg", step=30.0),
    )  # fmt: skip
    found = weigh(catalogue, key)
    (panel,) = found.panels
    assert panel.trend is not None
    (study,) = panel.trend.studies
    # A quarter less in 30 degrees, on the logarithms; the figures are those that the verdict tells over its step.
    assert panel.trend.slope == pytest.approx(math.log(0.75) / 30)
    assert panel.trend.slope_low == pytest.approx(found.verdict.low / 30)
    assert (panel.trend.low, panel.trend.high, study.levels) == (10, 70, (10, 40, 70))
    assert study.n == found.verdict.people
    # The levels lie on a line, so the line goes through each of them.
    assert study.height == pytest.approx(study.values[0])
    assert [v - study.values[0] for v in study.values] == pytest.approx([0, math.log(0.75), math.log(0.5625)])


def test_levels_of_several_regions_are_drawn_as_their_mean(catalogue: Catalogue, tmp_path: Path) -> None:
    second = ', {{region: vastus lateralis, cells: ["70 (7)", "70 (7)", "70 (7)"]}}]'
    body = LEVELS.replace("cells: {cells}}}]", "cells: {cells}}}" + second)
    add(catalogue, tmp_path, "one", body, cells='["80 (8)", "60 (6)", "45 (4.5)"]')
    key = state(
        catalogue, "trend", exercise="leg extension", region="quadriceps", outcome="activation",
        direction="less", terms=Terms(detail="hip_angle_deg", step=30.0),
    )  # fmt: skip
    found = weigh(catalogue, key)
    trend = found.panels[0].trend
    assert trend is not None
    values = trend.studies[0].values
    # A quarter less at each level in one muscle, the same at all in the other: half of it on the logarithms.
    assert [v - values[0] for v in values] == pytest.approx([0, math.log(0.75) / 2, math.log(0.5625) / 2])
    assert trend.slope == pytest.approx(math.log(0.75) / 60)
    assert found.panels[0].rows[1][2] == "−13 %"  # the square root of 0.75


def test_the_verdict_of_a_trend_does_not_depend_on_the_step_it_is_told_over(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    # 10 to 70 degrees, a tenth less at each level: within the margin of 10 % over 10 degrees, beyond it over 60.
    add(catalogue, tmp_path, "one", LEVELS, cells='["80 (8)", "72 (7.2)", "64.8 (6.48)"]')
    found = []
    for step in (1.0, 10.0, 30.0, 60.0, 600.0):
        key = state(
            catalogue, "trend", exercise="leg extension", region="rectus femoris", outcome="activation",
            direction="less", key=f"step-{step:g}", terms=Terms(detail="hip_angle_deg", step=step),
        )  # fmt: skip
        found.append(weigh(catalogue, key))
    assert {w.verdict.kind for w in found} == {VerdictKind.SUPPORTED}
    assert len({(w.confidence.level, w.confidence.low, w.confidence.high) for w in found}) == 1
    assert len({w.verdict.size for w in found}) == 1
    # The figure told is the slope times the step: ln 0.9 in 30 degrees.
    assert [w.verdict.estimate for w in found] == pytest.approx(
        [math.log(0.9) * s / 30 for s in (1, 10, 30, 60, 600)]
    )
    assert any("judged over the whole range studied, over 60 degrees" in note for note in found[1].notes)
    assert not any("whole range" in note for note in found[3].notes)


def test_a_trend_too_small_to_matter_over_all_that_was_studied_is_none_at_any_step(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "one", LEVELS, cells='["80 (2)", "79.5 (2)", "79 (2)"]')
    kinds = set()
    for step in (10.0, 6000.0):
        key = state(
            catalogue, "trend", exercise="leg extension", region="rectus femoris", outcome="activation",
            direction="less", key=f"step-{step:g}", terms=Terms(detail="hip_angle_deg", step=step),
        )  # fmt: skip
        kinds.add(weigh(catalogue, key).verdict.kind)
    assert kinds == {VerdictKind.LITTLE_OR_NONE}


def test_a_trend_against_the_claim_contradicts_it(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "one", LEVELS, cells='["80 (8)", "60 (6)", "45 (4.5)"]')
    key = state(
        catalogue, "trend", exercise="leg extension", region="rectus femoris", outcome="activation",
        terms=Terms(detail="hip_angle_deg"),
    )  # fmt: skip
    assert weigh(catalogue, key).verdict.kind is VerdictKind.CONTRADICTED


def test_a_study_without_two_levels_is_told_and_not_weighed(catalogue: Catalogue, tmp_path: Path) -> None:
    body = LEVELS.replace("hip_angle_deg: 40", "hip_angle_deg: 10").replace(
        "hip_angle_deg: 70", "hip_angle_deg: 10"
    )
    add(catalogue, tmp_path, "one", body, cells='["80 (8)", "60 (6)", "45 (4.5)"]')
    key = state(
        catalogue, "trend", exercise="leg extension", region="rectus femoris", outcome="activation",
        terms=Terms(detail="hip_angle_deg"),
    )  # fmt: skip
    found = weigh(catalogue, key)
    assert found.verdict.kind is VerdictKind.NOTHING_FOUND
    assert any("no two levels" in note for note in found.notes)


# -- level -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "says", "kind"),
    [
        (60.0, "more", VerdictKind.SUPPORTED),
        (60.0, "less", VerdictKind.CONTRADICTED),
        (90.0, "more", VerdictKind.CONTRADICTED),
        (81.0, "more", VerdictKind.NO_CLEAR_DIFFERENCE),
    ],
)
def test_a_level_is_held_against_its_line(
    catalogue: Catalogue, tmp_path: Path, line: float, says: str, kind: VerdictKind
) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["80 (10)", "60 (10)", "50 (10)"]')
    key = state(
        catalogue, "level", exercise="hip thrust", region="gluteus maximus", outcome="activation",
        direction=says, terms=Terms(level=line),
    )  # fmt: skip
    found = weigh(catalogue, key)
    assert found.verdict.kind is kind
    # mean 80, SE 10/sqrt 20, t with 19 degrees of freedom: 2.093 (any table of t)
    half = 2.093 * 10 / math.sqrt(20)
    assert found.verdict.sentence.startswith(
        f"Mean 80 % of the maximum (95 % interval {80 - half:.0f} to {80 + half:.0f})"
    )


def test_a_band_with_two_ends_holds_only_what_lies_inside(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["50 (5)", "60 (10)", "20 (10)"]')
    key = state(
        catalogue, "level", exercise="hip thrust", region="gluteus maximus", outcome="activation",
        terms=Terms(band="high"),
    )  # fmt: skip
    found = weigh(catalogue, key)
    # the bands as they are printed: 41 to 60 is "high", 61 and more "very high"
    assert found.verdict.text.startswith("supported: inside 41 to 60 % of the maximum (“high”)")
    assert "The mean falls in the band “high” (41 to 60 %)." in found.panels[0].notes
    assert any("common practice" in note for note in found.panels[0].notes)
    assert any("no standard" in note for note in found.notes)


@pytest.mark.parametrize(("mean", "band"), [("60.4", "high"), ("60.6", "very high"), ("20.6", "moderate")])
def test_a_mean_falls_in_the_band_of_its_whole_percent(
    catalogue: Catalogue, tmp_path: Path, mean: str, band: str
) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells=f'["{mean} (0.1)", "60 (10)", "20 (10)"]')
    key = state(
        catalogue, "level", exercise="hip thrust", region="gluteus maximus", outcome="activation",
        terms=Terms(band=band),
    )  # fmt: skip
    found = weigh(catalogue, key)
    assert found.verdict.kind is VerdictKind.SUPPORTED
    assert f"The mean falls in the band “{band}”" in found.panels[0].notes[0]


def test_a_level_starts_very_low_however_its_study_was_randomised(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["80 (10)", "60 (10)", "50 (10)"]')
    key = state(
        catalogue, "level", exercise="hip thrust", region="gluteus maximus", outcome="activation",
        terms=Terms(level=60.0),
    )  # fmt: skip
    assert weigh(catalogue, key).confidence.start is Level.VERY_LOW


# -- superlative -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cells", "kind", "told"),
    [
        ('["90 (5)", "60 (5)", "50 (5)"]', VerdictKind.SUPPORTED, "the best of 3 exercises compared"),
        ('["60 (15)", "60 (15)", "30 (5)"]', VerdictKind.AMONG_THE_BEST, "barbell back squat"),
        ('["50 (5)", "90 (5)", "40 (5)"]', VerdictKind.CONTRADICTED, "barbell back squat"),
    ],
)
def test_the_best_is_clearly_above_all_others(
    catalogue: Catalogue, tmp_path: Path, cells: str, kind: VerdictKind, told: str
) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells=cells)
    key = state(
        catalogue, "superlative", exercise="hip thrust", region="gluteus maximus", outcome="activation"
    )
    found = weigh(catalogue, key)
    assert found.verdict.kind is kind
    assert told in found.verdict.text
    assert any(note.startswith("The field:") for note in found.notes)


def test_the_confidence_of_the_best_is_the_lowest_of_all_comparisons_that_decide_it(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["90 (5)", "60 (5)", "50 (5)"]')
    key = state(
        catalogue, "superlative", exercise="hip thrust", region="gluteus maximus", outcome="activation"
    )
    found = weigh(catalogue, key).confidence
    (told,) = [n for n in found.notes if "the lowest of the 2 comparisons that decide it" in n]
    assert "barbell back squat" in told
    assert "leg press" in told
    levels = [Level(word) for word in re.findall(r"(very low|low|moderate|high)(?=[;)])", told)]
    assert len(levels) == 2
    assert found.level.rank == min(level.rank for level in levels)


def test_a_field_that_is_named_leaves_the_others_out(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["50 (5)", "90 (5)", "40 (5)"]')
    key = state(
        catalogue, "superlative", exercise="hip thrust", region="gluteus maximus", outcome="activation",
        terms=Terms(field=("leg press",)),
    )  # fmt: skip
    assert weigh(catalogue, key).verdict.kind is VerdictKind.SUPPORTED


def test_an_exercise_that_nobody_compared_is_not_called_anything(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["50 (5)", "90 (5)", "40 (5)"]')
    key = state(catalogue, "superlative", exercise="step-up", region="gluteus maximus", outcome="activation")
    found = weigh(catalogue, key)
    assert found.verdict.kind is VerdictKind.NOTHING_FOUND
    brief = make_brief(catalogue, found)
    assert brief.empty
    assert "Starts very low" in brief_markdown(brief)
    assert "Rules applied" not in brief_markdown(brief), "of nothing no domain can be rated"
    assert "Rules applied" in brief_markdown(replace(brief, empty=False))


# -- association -----------------------------------------------------------------------------------


def add_pair(catalogue: Catalogue, folder: Path, key: str, r: float, n: int) -> None:
    text = HEAD.format(key=key, design="randomised_crossover", randomised="yes")
    bare = text + TWO_MEASURES.format(n=n)
    path = folder / f"{key}.yaml"
    path.write_text(bare, "utf-8")
    load_study(catalogue, path, "Sam")
    with catalogue.changing("Sam", "a printed correlation") as session:
        study = session.exec(select(Study).where(Study.key == key)).one()
        a, b = session.exec(select(Result).where(Result.study_id == study.id)).all()
        session.add(
            Correlation(study_id=study.id, result_a_id=a.id, result_b_id=b.id, r=r, locator="Table 2")
        )


def test_a_printed_correlation_is_an_association_and_no_cause(catalogue: Catalogue, tmp_path: Path) -> None:
    add_pair(catalogue, tmp_path, "one", 0.6, 40)
    key = state(
        catalogue, "association", exercise="back squat", outcome="strength", direction="more",
        terms=Terms(other="jump height"),
    )  # fmt: skip
    found = weigh(catalogue, key)
    assert found.verdict.kind is VerdictKind.SUPPORTED
    # r = 0.6, n = 40: 0.35 to 0.77 by Fisher's z (atanh 0.6 = 0.6931, SE 1/sqrt 37)
    low, high = (math.tanh(0.693147 + s * 1.959964 / math.sqrt(37)) for s in (-1, 1))
    assert f"r = 0.60 (95 % interval {low:.2f} to {high:.2f})" in found.verdict.sentence
    assert found.confidence.level.rank <= Level.LOW.rank
    assert "does not say that one brings the other about" in found.wordings.plain
    assert not any(word in found.wordings.full for word in ("causes", "leads to", "improves"))


def test_a_study_that_prints_no_correlation_is_told(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "one", TWO_MEASURES, n=40)
    key = state(
        catalogue, "association", outcome="strength", direction="differs", terms=Terms(other="performance")
    )
    found = weigh(catalogue, key)
    assert found.verdict.kind is VerdictKind.NOTHING_FOUND
    assert any("printed no correlation" in note for note in found.notes)


# -- backing and practice --------------------------------------------------------------------------


def link(catalogue: Catalogue, key: str, stance: str, name: str) -> None:
    with catalogue.changing("Sam", "link") as session:
        reference = Reference(
            key=name,
            title=f"[Invented] {name}",
            csl={"title": name, "type": "book"},
            added_at=catalogue.now(),
        )
        session.add(reference)
        session.flush()
        claim = claim_by_key(session, key)
        session.add(
            ClaimLink(
                claim_id=claim.id,
                reference_id=reference.id,
                stance=stance,
                kind="review",
                locator="p. 3",
                said="what it says",
                person="Sam",
                at=catalogue.now(),
            )
        )


@pytest.mark.parametrize(
    ("stances", "kind"),
    [
        ((), VerdictKind.NOTHING_FOUND),
        (("supports", "supports"), VerdictKind.BACKED),
        (("against",), VerdictKind.DISPUTED),
        (("supports", "against"), VerdictKind.MIXED_BACKING),
        (("mixed",), VerdictKind.MIXED_BACKING),
        (("background",), VerdictKind.NOTHING_FOUND),
    ],
)
def test_a_reason_is_backing_and_stays_very_low(
    catalogue: Catalogue, stances: tuple[str, ...], kind: VerdictKind
) -> None:
    key = state(catalogue, "mechanism", terms=Terms(text="It works because the muscle is long"))
    for number, stance in enumerate(stances):
        link(catalogue, key, stance, f"ref{number}")
    found = weigh(catalogue, key)
    assert found.verdict.kind is kind
    assert found.confidence.level is Level.VERY_LOW
    assert [w.verdict.kind for w in weigh_many(catalogue)] == [kind]


def test_an_opinion_is_called_one_and_never_graded(catalogue: Catalogue) -> None:
    key = state(catalogue, "practice", terms=Terms(text="Push the floor away"))
    found = weigh_and_keep(catalogue, key, "Sam")
    assert found.verdict.kind is VerdictKind.OPINION
    assert not found.graded
    text = weighing_as_text(found)
    assert "not graded" in text
    assert "Why this confidence" not in text


# -- what all kinds share --------------------------------------------------------------------------


def test_each_study_is_told_with_the_rule_that_brought_it_and_a_reason_where_left_out(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["80 (10)", "60 (10)", "50 (10)"]')
    key = state(
        catalogue, "comparison", exercise="hip thrust", comparator="back squat", region="gluteus maximus",
        outcome="activation",
    )  # fmt: skip
    assert "(the exercise itself)" in weigh(catalogue, key).brought[0].rule
    leave_study_out(catalogue, key, "one", "another apparatus", "Ada")
    found = weigh(catalogue, key)
    assert found.brought[0].reason == "another apparatus (Ada)"
    assert "Left out: another apparatus" in weighing_as_text(found)


@pytest.mark.parametrize(("weeks", "level"), [("8-12", None), ("7", "minor"), ("20-30", "serious")])
def test_training_of_another_length_is_indirect(stocked: Catalogue, weeks: str, level: str | None) -> None:
    key = state(
        stocked, "comparison", exercise="standing calf raise", comparator="seated calf raise",
        region="gastrocnemius", outcome="growth", terms=Terms(weeks=weeks),
    )  # fmt: skip
    found = {
        i.level
        for c in weigh(stocked, key).contributions
        for i in c.indirectness
        if i.dimension == "timeframe"
    }
    assert (level in found) if level else not found


def test_mixed_designs_are_rated_by_themselves_and_the_start_names_both(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["80 (10)", "60 (10)", "50 (10)"]')
    add(catalogue, tmp_path, "two", FOUR, randomised="no", cells='["78 (10)", "61 (10)", "50 (10)"]')
    key = state(
        catalogue, "comparison", exercise="hip thrust", comparator="back squat", region="gluteus maximus",
        outcome="activation",
    )  # fmt: skip
    found = weigh(catalogue, key)
    assert [part.confidence.start for part in found.by_design] == [Level.HIGH, Level.LOW]
    assert "designs are mixed" in found.confidence.start_reason
    assert "by themselves" in weighing_as_text(found)


def test_percent_claims_give_both_figures(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["80 (10)", "60 (10)", "50 (10)"]')
    key = state(
        catalogue, "comparison", exercise="hip thrust", comparator="back squat", region="gluteus maximus",
        outcome="activation", terms=Terms(size=33.0, percent="relative"),
    )  # fmt: skip
    found = weigh(catalogue, key)
    assert "relative to the comparator's value" in found.wordings.plain
    assert "20.0 percentage points of MVIC higher, from 60.0" in found.wordings.plain
    assert any("lies in the interval" in note for note in found.verdict.notes)


def test_a_size_that_the_interval_leaves_out_does_not_hold(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["80 (10)", "60 (10)", "50 (10)"]')
    key = state(
        catalogue, "comparison", exercise="hip thrust", comparator="back squat", region="gluteus maximus",
        outcome="activation", terms=Terms(size=200.0, percent="relative"),
    )  # fmt: skip
    assert weigh(catalogue, key).verdict.text == "supported, but not by the size claimed"


def test_sameness_that_is_not_shown_is_told_so_in_every_row(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["62 (20)", "60 (20)", "50 (10)"]')
    key = state(
        catalogue, "sameness", exercise="hip thrust", comparator="back squat", region="gluteus maximus",
        outcome="activation", direction="same",
    )  # fmt: skip
    found = weigh(catalogue, key)
    assert found.verdict.text.startswith("sameness not shown")
    assert "no clear difference" not in {row.verdict for row in found.grid}


@pytest.mark.parametrize("kind", sorted(load_kinds()))
def test_a_claim_of_any_kind_can_be_weighed_on_an_empty_catalogue(catalogue: Catalogue, kind: str) -> None:
    key = state_any(catalogue, kind)
    found = weigh_and_keep(catalogue, key, "Sam")
    assert found.wordings.short.endswith(".")
    assert weighing_as_text(found)
    assert weigh(catalogue, key).inputs_hash == found.inputs_hash


def state_any(catalogue: Catalogue, kind: str) -> str:
    two: dict[str, object] = {"exercise": "hip thrust", "comparator": "back squat"}
    parts: dict[str, dict[str, object]] = {
        "comparison": {**two, "outcome": "growth"},
        "sameness": {**two, "outcome": "growth", "direction": "same"},
        "rate": {**two, "outcome": "pain", "direction": "less"},
        "superlative": {"exercise": "hip thrust", "region": "gluteus maximus", "outcome": "growth"},
        "trend": {"outcome": "growth", "terms": Terms(detail="sets")},
        "level": {"exercise": "hip thrust", "outcome": "activation", "terms": Terms(band="high")},
        "association": {"outcome": "strength", "direction": "more", "terms": Terms(other="performance")},
        "mechanism": {"terms": Terms(text="Because")},
        "principle": {"terms": Terms(text="Muscles adapt")},
        "practice": {"terms": Terms(text="Think of the floor")},
    }
    return state(catalogue, kind, **parts[kind])


@pytest.mark.parametrize(
    ("kind", "parts", "said"),
    [
        ("trend", {"outcome": "growth"}, "needs detail"),
        ("level", {"outcome": "activation", "exercise": "hip thrust"}, "needs level"),
        ("level", {"outcome": "growth", "exercise": "hip thrust", "terms": Terms(level=60)}, "is one of activation"),
        ("level", {"outcome": "activation", "exercise": "hip thrust", "terms": Terms(band="huge")}, "No band"),
        ("level", {"outcome": "activation", "exercise": "hip thrust", "terms": Terms(level=60, to=50)}, "at or below"),
        ("association", {"outcome": "growth", "direction": "more"}, "needs other"),
        ("association", {"outcome": "growth", "terms": Terms(other="growth")}, "are the same"),
        ("superlative", {"outcome": "growth", "region": "hamstrings"}, "needs --exercise"),
        ("superlative", {"outcome": "growth", "exercise": "hip thrust"}, "which muscle"),
        ("rate", {"outcome": "growth", "exercise": "hip thrust", "comparator": "leg press"}, "pain or injury"),
        ("practice", {}, "needs text"),
        ("practice", {"terms": Terms(text="x", weeks="8")}, "has no --weeks"),
        ("comparison", {"outcome": "growth", "exercise": "hip thrust"}, "needs --over"),
        ("comparison", {"exercise": "hip thrust", "comparator": "leg press"}, "needs an outcome"),
        ("sameness", {"outcome": "growth", "exercise": "hip thrust", "comparator": "leg press"}, "cannot say"),
        ("nonsense", {"outcome": "growth"}, "No kind of claim"),
        ("comparison", {"outcome": "growth", "exercise": "hip thrust", "comparator": "leg press",
                        "terms": Terms(size=20)}, "Which kind of percent"),
        ("comparison", {"outcome": "growth", "exercise": "hip thrust", "comparator": "leg press",
                        "terms": Terms(weeks="12-8")}, "no stretch of weeks"),
        ("trend", {"outcome": "growth", "terms": Terms(detail="sets", step=-1)}, "A step is above 0"),
    ],
)  # fmt: skip
def test_what_a_kind_lacks_or_cannot_have_is_named(
    catalogue: Catalogue, kind: str, parts: dict[str, object], said: str
) -> None:
    with pytest.raises(BadInput, match=said):
        state(catalogue, kind, **parts)
    with catalogue.reading() as session:
        assert not list_claims(session)


def test_bands_meet_without_a_gap() -> None:
    names = ["low", "moderate", "high", "very high"]
    bands = [find_band("activation", name) for name in names]
    assert all(a.end == b.start and b.low == a.high + 1 for a, b in pairwise(bands))
    assert bands[-1].high is None


@pytest.mark.parametrize("kind", sorted(load_kinds()))
def test_a_brief_can_be_made_of_any_kind(catalogue: Catalogue, tmp_path: Path, kind: str) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["80 (10)", "60 (10)", "50 (10)"]')
    key = state_any(catalogue, kind)
    text = brief_markdown(make_brief(catalogue, weigh(catalogue, key)))
    assert "What speaks against it" in text
    assert "more with training" not in text
    if kind == "practice":
        assert "not evidence" in text


def test_a_brief_of_the_best_names_who_is_level_with_it(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "one", FOUR, cells='["60 (15)", "60 (15)", "30 (5)"]')
    key = state(
        catalogue, "superlative", exercise="hip thrust", region="gluteus maximus", outcome="activation"
    )
    brief = make_brief(catalogue, weigh(catalogue, key))
    assert "not told apart from the barbell back squat" in brief.against
    assert brief.panels[0].heading == "Ranking"
