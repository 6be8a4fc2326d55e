"""Lower is better for a time and higher for a height: both stand on one side of a claim about performance."""

from pathlib import Path

import pytest

from evidence.catalogue import Catalogue
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.weigh.weighing import weigh

STUDY = """steelyard: study/1
key: {key}
title: "[Invented] {key}"
invented: true
references: [{{doi: 10.5555/steelyard.test.{key}}}]
design: randomised_parallel
weeks: 8
read_from: full text
people: [{{key: all, analysed: 40, sex: both, training_status: trained, health: healthy}}]
conditions:
  - {{key: squat, exercise: back squat, n: 20}}
  - {{key: press, exercise: leg press, n: 20}}
outcomes:
  - {{key: test, construct: performance, instrument: {instrument}, unit: {unit}, better: {better}}}
tables:
  - {{outcome: test, timepoint: pre, locator: Table 1, spread: SD, columns: [squat, press], rows: [{{cells: {pre}}}]}}
  - {{outcome: test, timepoint: post, locator: Table 1, spread: SD, columns: [squat, press], rows: [{{cells: {post}}}]}}
"""


@pytest.fixture
def sprint_and_jump(catalogue: Catalogue, tmp_path: Path) -> Catalogue:
    for key, instrument, unit, better, pre, post in (
        (
            "sprint",
            "20 m sprint",
            "s",
            "lower",
            '["3.20 (0.20)", "3.20 (0.20)"]',
            '["3.00 (0.20)", "3.20 (0.20)"]',
        ),
        (
            "jump",
            "jump height",
            "cm",
            "higher",
            '["40.0 (5.0)", "40.0 (5.0)"]',
            '["45.0 (5.0)", "40.0 (5.0)"]',
        ),
    ):
        path = tmp_path / f"{key}.yaml"
        path.write_text(
            STUDY.format(key=key, instrument=instrument, unit=unit, better=better, pre=pre, post=post),
            "utf-8",
        )
        load_study(catalogue, path, "Sam")
    return catalogue


def test_a_faster_sprint_and_a_higher_jump_speak_for_the_same_exercise(sprint_and_jump: Catalogue) -> None:
    statement = Statement(exercise="back squat", comparator="leg press", outcome="performance")
    weighing = weigh(sprint_and_jump, state_claim(sprint_and_jump, statement, "Sam").key)
    estimates = {c.study: c.estimate for c in weighing.contributions}
    # Both changes are one SD before, in the better direction.
    assert estimates["sprint"] == pytest.approx(estimates["jump"])
    assert estimates["sprint"] is not None and estimates["sprint"] > 0
    assert any("lower is better" in note for note in weighing.notes)
