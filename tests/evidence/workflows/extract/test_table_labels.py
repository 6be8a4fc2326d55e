"""Labels of a pasted table against a study: condition and time in one head; invented data."""

from pathlib import Path

import pytest

from evidence.catalogue import Catalogue
from evidence.vocabulary.terms import Timepoint
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.extract.pasting import TableAnswers, Understood, understand_table
from evidence.workflows.extract.table_mapping import unit_beside

STUDY = """
steelyard: study/1
key: larch-2025
title: "[Invented] Split squats or leg extensions, eight weeks"
invented: true
references: [{doi: 10.5555/labels.1}]
design: randomised_parallel
weeks: 8
people: [{key: all, analysed: 40, sex: both, training_status: trained, health: healthy}]
conditions:
  - {key: split, exercise: split squat, printed: SPLIT, n: 20}
  - {key: ext, exercise: leg extension, printed: EXT, n: 20}
outcomes: [{key: thick, construct: growth, instrument: ultrasound, unit: cm}]
"""
ROWS = (
    "Vastus lateralis\t2.41 ± 0.31\t2.60 ± 0.33\t2.38 ± 0.29\t2.52 ± 0.30\n"
    "Rectus femoris\t2.11 ± 0.28\t2.17 ± 0.27\t2.09 ± 0.26\t2.35 ± 0.29\n"
)
BOTH = [("split", "pre"), ("split", "post"), ("ext", "pre"), ("ext", "post")]


@pytest.fixture
def study(catalogue: Catalogue, tmp_path: Path) -> Catalogue:
    (tmp_path / "larch.yaml").write_text(STUDY)
    load_study(catalogue, tmp_path / "larch.yaml", "Sam")
    return catalogue


def understood(study: Catalogue, heads: str, *says: str) -> Understood:
    table = f"Table 2. Thickness (cm), mean ± SD [Invented]\n\t{heads}\n{ROWS}"
    return understand_table(
        study, "larch-2025", table.encode(), "t.txt", TableAnswers(read_from="full text", says=says)
    )


def places(found: Understood) -> list[tuple[str | None, str | None]]:
    """Condition and time of the cells of the first row."""
    return [
        (m.place.condition, m.place.timepoint.value if m.place.timepoint else None) for m in found.cells[:4]
    ]


@pytest.mark.parametrize(
    "heads",
    [
        "SPLIT pre\tSPLIT post\tEXT pre\tEXT post",
        "Pre SPLIT\tPost SPLIT\tPre EXT\tPost EXT",
        "SPLIT (baseline)\tSPLIT, week 8\tEXT (baseline)\tEXT, week 8",
        "Split squat before\tSplit squat after training\tLeg extension before\tLeg extension after training",
        "SPLIT-pre\tSPLIT-post\tEXT-pre\tEXT-post",
    ],
)
def test_a_head_that_names_condition_and_time_says_both(study: Catalogue, heads: str) -> None:
    found = understood(study, heads)
    assert places(found) == BOTH
    assert all(m.sure for m in found.cells) and found.questions == ()


def test_a_name_that_is_not_known_is_asked_once_for_all_times(study: Catalogue) -> None:
    found = understood(study, "SPLIT pre\tSPLIT post\tMachine Q pre\tMachine Q post")
    (question,) = found.questions
    assert (
        question
        == 'what is "Machine Q"? The study has: split, ext. Answer with --says "Machine Q=ID" (or =skip).'
    )
    assert (
        places(understood(study, "SPLIT pre\tSPLIT post\tMachine Q pre\tMachine Q post", "Machine Q=ext"))
        == BOTH
    )


def test_an_answer_for_the_whole_head_keeps_the_time_that_stands_in_it(study: Catalogue) -> None:
    found = understood(
        study, "SPLIT pre\tSPLIT post\tQ pre\tQ post", "Q pre=ext", "Q post=ext"
    )  # fmt: skip
    assert places(found) == BOTH


def test_a_name_that_is_skipped_is_skipped_at_all_times(study: Catalogue) -> None:
    found = understood(study, "SPLIT pre\tSPLIT post\tQ pre\tQ post", "Q=skip")
    assert [m.place.condition for m in found.cells] == ["split"] * 4 and found.skipped == 4


def test_a_time_word_in_the_name_of_a_condition_is_no_time(catalogue: Catalogue, tmp_path: Path) -> None:
    path = tmp_path / "order.yaml"
    path.write_text(
        STUDY.replace("printed: SPLIT", "printed: Pre-exhausted split squat").replace("EXT", "Extension")
    )
    load_study(catalogue, path, "Sam")
    table = (
        "Table 2. Thickness (cm), mean ± SD [Invented]\n\tPre-exhausted split\tExtension\n"
        "Vastus lateralis\t2.41 ± 0.31\t2.60 ± 0.33\nRectus femoris\t2.11 ± 0.28\t2.17 ± 0.27\n"
    )
    found = understand_table(
        catalogue,
        "larch-2025",
        table.encode(),
        "t.txt",
        TableAnswers(read_from="full text", timepoint="post"),
    )
    assert [(m.place.condition, m.place.timepoint) for m in found.cells[:2]] == [
        ("split", Timepoint.POST),
        ("ext", Timepoint.POST),
    ]


BROKEN = """Table 3. Thickness (cm) [Invented]
SPLIT EXT
Vastus lateralis 2.41 6 0.31 2.60 6 0.33
Rectus femoris 2.11 6 0.28 2.17 6
0.27
Vastus medialis 2.01 6 0.22 2.15 6 0.21
"""


def test_cells_that_are_asked_the_same_are_asked_once_and_one_answer_settles_them(study: Catalogue) -> None:
    said = TableAnswers(read_from="full text", spread="SD", timepoint="post")
    found = understand_table(study, "larch-2025", BROKEN.encode(), "t.txt", said)
    (question,) = found.questions
    assert question.startswith("6 cells (2.41 6 0.31; 2.60 6 0.33; 2.11 6 0.28; ...): ")
    assert 'Answer all with --answer "character 6=±"' in question
    said = TableAnswers(read_from="full text", spread="SD", timepoint="post", answers=("character 6=±",))
    settled = understand_table(study, "larch-2025", BROKEN.encode(), "t.txt", said)
    assert settled.questions == ()
    assert [(m.cell.value, m.cell.spread) for m in settled.cells][3] == (2.17, 0.27)


@pytest.mark.parametrize(
    "heads",
    ["SPLIT vorher\tSPLIT nachher\tEXT vorher\tEXT nachher", "Trước SPLIT\tSau SPLIT\tTrước EXT\tSau EXT"],
)
def test_before_and_after_are_known_in_other_languages(study: Catalogue, heads: str) -> None:
    assert places(understood(study, heads)) == BOTH


def test_a_side_in_brackets_is_no_unit() -> None:
    assert unit_beside("lat", "%MVIC") is None and unit_beside("proximal", "mm") is None
    assert unit_beside("mm", "cm") == "mm" and unit_beside("cm", "cm") is None


def test_the_heading_of_p_values_is_not_asked_about(study: Catalogue) -> None:
    table = "Table 2. Thickness (cm), mean ± SD\n\tSPLIT\tEXT\tp\nHam. (lat)\t3.1 ± 0.4\t3.3 ± 0.5\t0.04\n"
    seen = understand_table(study, "larch-2025", table.encode(), "t.txt", TableAnswers())
    assert [item.label for item in seen.unclear] == ["Ham. (lat)"]
