"""A spread that halves or doubles in the same people is told, where neither the mean nor chance explains it."""

from pathlib import Path

import pytest

from evidence.catalogue import Catalogue
from evidence.workflows.effects.checking import check_catalogue
from evidence.workflows.extract.extracting import load_study

STUDY = """steelyard: study/1
key: ash-2012
title: "[Invented] Spreads before and after"
invented: true
references: [{{doi: 10.5555/steelyard.test.ash12}}]
design: randomised_parallel
read_from: full text
locator: Table 1
people: [{{key: all, analysed: 40, sex: both, training_status: trained, health: healthy}}]
conditions:
  - {{key: a, exercise: back squat, n: {n}}}
  - {{key: b, exercise: leg press, n: {n}}}
outcomes:
  - {{key: rm, construct: strength, instrument: squat 1RM, unit: kg}}
tables:
  - {{outcome: rm, timepoint: pre, spread: SD, columns: [a, b], rows: [{{cells: ["260 (21.5)", "255 (20.2)"]}}]}}
  - {{outcome: rm, timepoint: post, spread: SD, columns: [a, b], rows: [{{cells: ["{after}", "262 (21.0)"]}}]}}
"""


# ln(21.5/10.8) = 0.688, a halving within rounding; 21.5/14 is far from one
@pytest.mark.parametrize(
    ("after", "n", "told"),
    [
        ("280 (10.8)", 12, True),
        ("280 (44.0)", 12, True),
        ("280 (14.0)", 12, False),
        ("280 (10.8)", 9, False),  # few people: any spread may come
        ("130 (10.8)", 12, False),  # the spread follows the mean
    ],
)
def test_a_spread_over_time_is_told_where_nothing_else_explains_it(
    catalogue: Catalogue, tmp_path: Path, after: str, n: int, told: bool
) -> None:
    (tmp_path / "ash.yaml").write_text(STUDY.format(after=after, n=n), "utf-8")
    load_study(catalogue, tmp_path / "ash.yaml", "Sam")
    texts = [found.text for found in check_catalogue(catalogue, figures=True)]
    assert any("spread goes from 21.5 to" in text for text in texts) is told
