"""What cannot be computed with, through claims: the right answer, or a sentence on what to do. Figures invented."""

import json
import math
from pathlib import Path

import pytest

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import study_by_key, study_rows
from evidence.errors import BadInput
from evidence.reading.study_file import StudyProblems
from evidence.vocabulary import load_vocabulary
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.effects.contrasts import build_contrast
from evidence.workflows.effects.links import Links
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.weigh.weighing import Weighing, weigh

STUDY = """steelyard: study/1
key: {key}
title: "[Invented] {key}"
invented: true
references: [{{doi: 10.5555/steelyard.test.{key}}}]
design: {design}
{more}read_from: full text
locator: Table 1
people: [{{key: all, analysed: {n}, sex: both, training_status: trained, health: healthy}}]
conditions:
  - {{key: a, exercise: seated leg curl, n: {each}}}
  - {{key: b, exercise: lying leg curl, n: {each}}}
outcomes:
  - {{key: emg, construct: activation, instrument: surface EMG, unit: "%MVIC", normalisation: mvc_standard_isometric}}
tables:
  - {{outcome: emg, timepoint: acute, spread: {spread}, columns: [a, b],
     rows: [{{region: hamstrings, cells: {cells}}}]}}
"""


def add(
    catalogue: Catalogue,
    folder: Path,
    key: str,
    *cells: str,
    n: int = 16,
    within: bool = True,
    spread: str = "SD",
    more: str = "",
) -> None:
    text = STUDY.format(
        key=key, design="randomised_crossover" if within else "randomised_parallel", n=n, more=more,
        each=n if within else n // 2, spread=spread, cells=json.dumps(list(cells)),
    )  # fmt: skip
    (folder / f"{key}.yaml").write_text(text, "utf-8")
    load_study(catalogue, folder / f"{key}.yaml", "Sam")


def weighed(catalogue: Catalogue, **more: object) -> Weighing:
    statement = Statement(
        exercise="seated leg curl", comparator="lying leg curl", outcome="activation", region="hamstrings", **more
    )  # type: ignore[arg-type]  # fmt: skip
    return weigh(catalogue, state_claim(catalogue, statement, "Sam").key)


def test_no_study_gives_no_figure_and_says_so(catalogue: Catalogue) -> None:
    weighing = weighed(catalogue)
    assert weighing.pooled is None and weighing.grid == ()
    assert str(weighing.verdict.kind) == "nothing found"
    assert "No result in the catalogue bears on this" in weighing.verdict.sentence


def test_one_study_stands_as_it_is(catalogue: Catalogue, tmp_path: Path) -> None:
    """Log ratio with 2(1 - r)·cv²/n for equal CVs, r = 0.5 (delta method); its own interval, by t with 15 df."""
    add(catalogue, tmp_path, "ash-2011", "60 (15)", "50 (12.5)")
    weighing = weighed(catalogue)
    se = math.sqrt(0.25**2 / 16)
    middle = math.log(60 / 50)
    assert (weighing.verdict.low, weighing.verdict.high) == pytest.approx(
        (middle - 2.131450 * se, middle + 2.131450 * se), abs=1e-6
    )
    assert any("One study" in note for note in weighing.verdict.notes)


def test_two_studies_never_pretend_to_know_how_studies_differ(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "ash-2011", "60 (15)", "50 (12.5)")
    add(catalogue, tmp_path, "birch-2012", "50 (12.5)", "60 (15)")
    weighing = weighed(catalogue)
    assert weighing.pooled is not None and weighing.pooled.prediction_low is None
    assert any("cannot be judged" in note for note in weighing.verdict.notes)


def test_no_spread_at_all_gives_a_direction_and_no_interval(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "ash-2011", "60", "50", spread="none")
    weighing = weighed(catalogue)
    assert str(weighing.verdict.kind) == "direction only"
    assert "no spread was printed" in weighing.contributions[0].note


def test_an_sd_of_zero_on_both_sides_is_not_weighed_and_the_study_says_why(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "ash-2011", "60 (0)", "50 (0)")
    add(catalogue, tmp_path, "birch-2012", "60 (15)", "50 (12.5)")
    weighing = weighed(catalogue)
    assert weighing.pooled is not None and weighing.pooled.k == 1
    assert "variance came out as 0" in weighing.contributions[0].note


def spoil(catalogue: Catalogue, value: float) -> None:
    with catalogue.changing("Sam", "break a figure") as session:
        stored = study_rows(session, study_by_key(session, "ash-2011"))
        stored.results[0].value = value
        session.add(stored.results[0])


@pytest.mark.parametrize("value", [math.inf, -math.inf, math.nan])
def test_a_value_that_is_no_number_reaches_no_figure(
    catalogue: Catalogue, tmp_path: Path, value: float
) -> None:
    add(catalogue, tmp_path, "ash-2011", "60 (15)", "50 (12.5)")
    with pytest.raises(BadInput, match="not finite"):
        spoil(catalogue, value)
    with catalogue.reading() as session:  # and should one ever be there, nothing is worked out of it
        rows = study_rows(session, study_by_key(session, "ash-2011"))
    rows.results[0].value = value
    links = Links(rows, "activation", load_vocabulary())
    contrast = build_contrast(rows, *rows.conditions, rows.outcomes[0], "hamstrings", links)
    assert contrast is not None
    assert not contrast.effects and not contrast.bare
    assert "cannot be used as a number" in " ".join(contrast.reasons)


def test_a_second_report_of_the_same_people_is_left_out_and_named(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "ash-2011", "60 (15)", "50 (12.5)", more="sample: the club\n")
    add(catalogue, tmp_path, "ash-2012", "61 (15)", "50 (12.5)", more="sample: the club\n")
    weighing = weighed(catalogue)
    assert weighing.verdict.k == 1 and weighing.verdict.people == 16
    assert "counted once" in weighing.left_out[0].reason


def test_without_a_printed_correlation_the_usual_one_is_used_named_and_varied(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "ash-2011", "60 (15)", "50 (12.5)")
    weighing = weighed(catalogue)
    assert [row.correlations for row in weighing.grid] == [(0.3,), (0.5,), (0.8,)]
    widths = [row.high - row.low for row in weighing.grid]
    assert widths == sorted(widths, reverse=True)


def test_groups_of_their_own_need_no_correlation(catalogue: Catalogue, tmp_path: Path) -> None:
    add(catalogue, tmp_path, "ash-2011", "60 (15)", "50 (12.5)", n=32, within=False)
    weighing = weighed(catalogue)
    assert weighing.grid == ()
    assert weighing.contributions[0].n == 32


def test_a_ratio_of_means_at_or_below_zero_falls_to_another_scale_and_says_why(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    add(catalogue, tmp_path, "ash-2011", "-2 (5)", "3 (5)")
    weighing = weighed(catalogue)
    assert weighing.scale != "log_ratio_of_means"
    assert weighing.pooled is not None


def test_one_person_has_no_spread_and_the_file_is_refused_with_its_line(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    with pytest.raises(StudyProblems, match="One person has no spread"):
        add(catalogue, tmp_path, "ash-2011", "60 (15)", "50 (12.5)", n=1)
