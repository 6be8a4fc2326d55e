"""Figures verified by a second person; those that one person read are labelled; the studies are invented."""

import pytest

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import study_by_key, study_rows
from evidence.errors import BadInput, NotFound
from evidence.workflows.relevance.verifying import (
    ONE_READER,
    READ_TWICE,
    is_verified,
    label_figures,
    verify_results,
    withdraw_verification,
)

STUDY = "rack-2016"
FIRST = "thickness.gastrocnemius_medial.standing.pre"


def results_of(catalogue: Catalogue) -> list:
    with catalogue.reading() as session:
        return list(study_rows(session, study_by_key(session, STUDY)).results)


def test_a_second_person_verifies_some_or_all(stocked: Catalogue) -> None:
    assert label_figures(results_of(stocked)) == ONE_READER
    some = verify_results(stocked, STUDY, "Kim", [FIRST])
    assert (some.now, len(some.still_open)) == ((FIRST,), 7)
    assert label_figures(results_of(stocked)) == f"7 of 8 {ONE_READER}"
    rest = verify_results(stocked, STUDY, "Kim", every=True)
    assert (len(rest.now), rest.before, rest.still_open) == (7, (FIRST,), ())
    assert label_figures(results_of(stocked)) == ""


@pytest.mark.parametrize("who", ["Sam", "sam", " SAM "])
def test_who_read_them_is_refused_or_labelled(stocked: Catalogue, who: str) -> None:
    with pytest.raises(BadInput, match="second person"):
        verify_results(stocked, STUDY, who, every=True)
    assert label_figures(results_of(stocked)) == ONE_READER
    done = verify_results(stocked, STUDY, who, every=True, same_person=True)
    assert done.by_the_reader
    assert len(done.still_open) == 8
    assert label_figures(results_of(stocked)) == READ_TWICE
    assert not any(map(is_verified, results_of(stocked)))
    assert len(verify_results(stocked, STUDY, "Kim", every=True).now) == 8


def test_the_mark_comes_off_again(stocked: Catalogue) -> None:
    verify_results(stocked, STUDY, "Kim", every=True)
    withdraw_verification(stocked, STUDY, "Kim", [FIRST])
    assert [r.key for r in results_of(stocked) if not is_verified(r)] == [FIRST]


def test_what_is_not_there_or_not_named_is_refused(stocked: Catalogue) -> None:
    with pytest.raises(NotFound, match="Nearest"):
        verify_results(stocked, STUDY, "Kim", [FIRST + "x"])
    with pytest.raises(BadInput):
        verify_results(stocked, STUDY, "Kim")
    with pytest.raises(NotFound):
        verify_results(stocked, "rack-2061", "Kim", every=True)


def test_an_edited_figure_is_no_longer_verified_and_a_note_on_it_changes_nothing(stocked: Catalogue) -> None:
    verify_results(stocked, STUDY, "Kim", every=True)
    with stocked.changing("Sam", "edit") as session:
        rows = study_rows(session, study_by_key(session, STUDY)).results
        rows[0].value = 19.9
        rows[1].note = "see also p. 7"
    edited, noted, *_ = results_of(stocked)
    assert edited.verified_by is None
    assert noted.verified_by == "Kim"


def test_a_study_file_with_another_figure_clears_the_mark_of_that_figure_only(
    stocked: Catalogue, tmp_path
) -> None:
    from evidence.workflows.extract.extracting import load_study
    from evidence.workflows.pages.browsing import study_as_file

    verify_results(stocked, STUDY, "Kim", every=True)
    file = tmp_path / "rack.yaml"
    file.write_text(study_as_file(stocked, STUDY).replace("19.8 (2.6)", "19.7 (2.6)"), "utf-8")
    report = load_study(stocked, file, "Sam", replace=True)
    assert [r.key for r in results_of(stocked) if not r.verified_by] == [FIRST]
    assert any("no longer" in warning and FIRST in warning for warning in report.warnings)
