"""A study written out and loaded again is the same study, here and in another catalogue; invented data."""

from pathlib import Path

import pytest

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import references_called, study_by_key, study_rows
from evidence.errors import BadInput
from evidence.reading.study_writing import write_study_file
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.extract.study_drafts import as_draft

STUDY = """
steelyard: study/1
key: yew-2024
title: "[Invented] Hip thrust or back squat: activity of the gluteus maximus"
invented: true
year: 2024
references: [{doi: 10.5555/round.1}]
design: randomised_crossover
people: [{key: all, recruited: 22, analysed: 20, sex: female, training_status: trained, health: healthy}]
conditions:
  - {key: thrust, exercise: hip thrust, printed: Hip thrust}
  - {key: squat, exercise: back squat, printed: Back squat}
outcomes: [{key: emg, construct: activation, unit: "%MVIC", normalisation: MVC, amplitude: mean}]
tables:
  - {outcome: emg, timepoint: acute, locator: Table 3, read_from: full text, spread: SD, columns: [thrust, squat],
     rows: [{region: gluteus maximus, cells: ["71.2 (18.0)", "45.0 (14.9)"]}]}
"""


def written_out(catalogue: Catalogue, path: Path) -> Path:
    with catalogue.reading() as session:
        path.write_text(write_study_file(as_draft(study_rows(session, study_by_key(session, "yew-2024")))))
    return path


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "yew.yaml"
    path.write_text(STUDY)
    return path


def test_a_study_written_out_is_here_already_and_nothing_is_changed(
    catalogue: Catalogue, file: Path, tmp_path: Path
) -> None:
    load_study(catalogue, file, "Ada")
    again = load_study(catalogue, written_out(catalogue, tmp_path / "out.yaml"), "Sam")
    assert "already here" in again.what and again.warnings == ()
    file.write_text(f"{STUDY}# a remark\n")
    assert "already here" in load_study(catalogue, file, "Sam").what


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("71.2 (18.0)", "72.1 (18.0)"),
        ("analysed: 20", "analysed: 21"),
        ("10.5555/round.1", "10.5555/round.2"),
        ("year: 2024", "year: 2023"),
    ],
)
def test_a_file_that_says_otherwise_differs(catalogue: Catalogue, file: Path, was: str, now: str) -> None:
    load_study(catalogue, file, "Ada")
    file.write_text(STUDY.replace(was, now))
    with pytest.raises(BadInput, match="this file differs from it"):
        load_study(catalogue, file, "Ada")


def test_a_written_file_names_the_doi_so_that_it_can_be_loaded_elsewhere(
    catalogue: Catalogue, file: Path, tmp_path: Path
) -> None:
    load_study(catalogue, file, "Ada")
    out = written_out(catalogue, tmp_path / "out.yaml")
    with catalogue.changing("Ada", "study removed") as session:
        session.delete(study_by_key(session, "yew-2024"))
        session.flush()
        for row in references_called(session, None, "10.5555/round.1"):
            session.delete(row)
    assert load_study(catalogue, out, "Ada").what.startswith("stored: 2 conditions")
    with catalogue.reading() as session:
        assert [row.key for row in references_called(session, None, "10.5555/round.1")] == ["yew-2024"]


def test_another_work_of_the_same_key_is_not_taken_for_the_one_with_the_doi(
    catalogue: Catalogue, file: Path
) -> None:
    file.write_text(STUDY.replace("{doi: 10.5555/round.1}", "{key: yew, doi: 10.5555/round.1}"))
    load_study(catalogue, file, "Ada")
    other = STUDY.replace("yew-2024", "oak-2024").replace(
        "{doi: 10.5555/round.1}", "{key: yew, doi: 10.5555/round.9}"
    )
    file.write_text(other)
    load_study(catalogue, file, "Ada")
    with catalogue.reading() as session:
        (report,) = study_rows(session, study_by_key(session, "oak-2024")).references
    assert (report.doi, report.key != "yew") == ("10.5555/round.9", True)


def test_that_n_is_not_said_is_told_once_and_not_where_one_group_did_everything(
    catalogue: Catalogue, file: Path
) -> None:
    assert not any("n is not said" in w for w in load_study(catalogue, file, "Ada").warnings)
    parallel = STUDY.replace("randomised_crossover", "randomised_parallel").replace("yew-2024", "elm-2024")
    file.write_text(parallel)
    told = [w for w in load_study(catalogue, file, "Ada").warnings if "n is not said" in w]
    assert len(told) == 1 and "for 2 results" in told[0]
