"""Printed tests against the means they compare, through the catalogue. Studies and figures invented."""

import json
from pathlib import Path

import pytest

from evidence.catalogue import Catalogue
from evidence.workflows.effects.checking import check_catalogue
from evidence.workflows.extract.extracting import load_study

STUDY = """steelyard: study/1
key: ash-2011
title: "[Invented] Two curls"
invented: true
references: [{{doi: 10.5555/steelyard.test.ash}}]
design: {design}
read_from: full text
locator: Table 1
people: [{{key: all, analysed: 40, sex: both, training_status: trained, health: healthy}}]
conditions:
  - {{key: a, exercise: seated leg curl, n: {each}}}
  - {{key: b, exercise: lying leg curl, n: {each}}}
{more}
outcomes:
  - {{key: emg, construct: activation, instrument: surface EMG, unit: "%MVIC", normalisation: mvc_standard_isometric}}
tables:
{before}  - {{outcome: emg, timepoint: {time}, spread: SD, columns: [a, b],
     rows: [{{region: hamstrings, cells: ["68.2 (18.4)", "61.5 (17.2)"]}}]}}
results:
  - {{outcome: emg, region: hamstrings, condition: a, comparator: b, timepoint: {time}, statistic: test,
     test: {test}, printed: {test}, locator: p. 5}}
"""


def findings(
    catalogue: Catalogue,
    folder: Path,
    test: str,
    *,
    same: bool = False,
    more: str = "",
    time: str = "acute",
    before: str = "",
) -> str:
    """What a check of the figures says of a study with this printed test."""
    design = "randomised_crossover" if same else "randomised_parallel"
    text = STUDY.format(
        design=design, each=40 if same else 20, test=json.dumps(test), more=more, time=time, before=before
    )
    (folder / "ash.yaml").write_text(text, "utf-8")
    load_study(catalogue, folder / "ash.yaml", "Sam")
    return "\n".join(
        found.text for found in check_catalogue(catalogue, figures=True) if "p. 5" in found.where
    )


# By hand: s = √((18.4² + 17.2²)/2) = 17.81; t = 6.7/(17.81·√(2/20)) = 1.19; F = 1.19² = 1.42
@pytest.mark.parametrize(
    "test",
    ["t(38) = 1.19", "t(38) = -1.19", "t(37.8) = 1.19", "F(1, 38) = 1.42", "ANCOVA t(37) = 2.50",
     "time x group F(1, 38) = 9.10", "F(2, 38) = 9.10", "t(37) = 1.19", "nothing printed"],
)  # fmt: skip
def test_a_test_that_fits_its_means_or_may_be_another_is_left_alone(
    catalogue: Catalogue, tmp_path: Path, test: str
) -> None:
    assert findings(catalogue, tmp_path, test) == ""


@pytest.mark.parametrize("test", ["t(38) = 2.50", "F(1, 38) = 6.25", "t(37.8) = 5.31"])
def test_a_test_that_its_means_cannot_give_is_told(catalogue: Catalogue, tmp_path: Path, test: str) -> None:
    assert "give t between 1.1" in findings(catalogue, tmp_path, test)


def test_a_t_of_standard_errors_taken_for_sds_is_named(catalogue: Catalogue, tmp_path: Path) -> None:
    """1.19/√20 = 0.27."""
    assert "standard errors, not SDs" in findings(catalogue, tmp_path, "t(38) = 0.27")


def test_more_df_than_people_are_told_where_no_other_condition_lends_them(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    assert "more than 40 people allow (38)" in findings(catalogue, tmp_path, "t(78) = 2.50")


def test_df_may_come_from_a_third_condition(catalogue: Catalogue, tmp_path: Path) -> None:
    third = "  - {key: c, exercise: nordic hamstring, n: 20}"
    assert findings(catalogue, tmp_path, "t(57) = 2.50", more=third) == ""


def test_a_paired_t_is_told_only_where_no_correlation_gives_it(catalogue: Catalogue, tmp_path: Path) -> None:
    """Least t at r = −1: 6.7·√40/(18.4 + 17.2) = 1.19."""
    assert findings(catalogue, tmp_path, "t(39) = 2.31", same=True) == ""


def test_a_paired_t_below_every_correlation_is_told(catalogue: Catalogue, tmp_path: Path) -> None:
    assert "any correlation within people" in findings(catalogue, tmp_path, "t(39) = 0.80", same=True)


def test_a_test_after_training_may_be_one_of_the_changes(catalogue: Catalogue, tmp_path: Path) -> None:
    before = (
        "  - {outcome: emg, timepoint: pre, spread: SD, columns: [a, b], "
        'rows: [{region: hamstrings, cells: ["60.1 (18.0)", "60.4 (17.0)"]}]}\n'
    )
    assert findings(catalogue, tmp_path, "t(38) = 2.50", time="post", before=before) == ""


def test_a_test_after_training_is_held_against_the_means_where_nothing_was_printed_before(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    assert "give t between 1.1" in findings(catalogue, tmp_path, "t(38) = 2.50", time="post")
