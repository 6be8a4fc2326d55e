"""Merging and setting apart, on both engines; invented references."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from evidence.catalogue import Catalogue
from evidence.catalogue.history import undo
from evidence.catalogue.queries import all_references, list_studies, settings, study_rows_of
from evidence.catalogue.state import catalogue_state
from evidence.catalogue.tables import StudyReference
from evidence.errors import BadInput, NotFound
from evidence.workflows.gather.gathering import as_record, gather, list_duplicates
from evidence.workflows.gather.merging import merge_references, set_apart
from evidence.workflows.upkeep.keeping import undo_change
from references.merging import VetoedMerge

TWO = """
@article{long, author={Plate, Percy and Rack, Ruth}, title={Calf raises held long: a randomised trial},
  journal={Journal of Invented Strength}, year=2020, volume=4, pages={1--9}}
@article{short, author={Plate, P.}, title={Calf raises held longer: randomized trial},
  journal={J Invented Strength}, year=2021, volume=4, doi={10.5555/inv.1}, abstract={Twelve weeks.}}
"""


@pytest.fixture
def two(catalogue: Catalogue, tmp_path: Path) -> Catalogue:
    path = tmp_path / "two.bib"
    path.write_text(TWO)
    report = gather(catalogue, path, "Ada")
    assert len(report.added) == 2, report
    assert [(m.incoming, m.known) for m in report.likely] == [("short", "long")]
    return catalogue


def link(catalogue: Catalogue, fill: Callable[..., Any], study: str, *keys: str) -> None:
    with catalogue.changing("Ada", "link") as session:
        made = fill(session, study)
        rows = {row.key: row for row in all_references(session)}
        session.add_all([StudyReference(study_id=made.id, reference_id=rows[key].id) for key in keys])


def state_of(catalogue: Catalogue) -> str:
    with catalogue.reading() as session:
        return catalogue_state(session)


def links(catalogue: Catalogue) -> dict[str, list[str]]:
    with catalogue.reading() as session:
        return {
            r.study.key: [ref.key for ref in r.references]
            for r in study_rows_of(session, list_studies(session))
        }


def test_a_merge_says_where_each_field_came_from_and_what_was_set_aside(two: Catalogue) -> None:
    merged = merge_references(two, "long", "short", "Ada")
    origins = dict(merged.origins)
    assert origins["DOI"] == origins["abstract"] == ("short",)
    assert origins["page"] == ("long",)
    assert origins["volume"] == ("long", "short")
    aside = {d.field: (d.set_aside, d.from_key) for d in merged.differences}
    assert aside["container-title"] == ("J Invented Strength", "short")
    with two.reading() as session:
        (row,) = all_references(session)
    kept = as_record(row)
    assert row.doi == "10.5555/inv.1"
    assert kept.extra["other_keys"] == ["short"]
    assert kept.extra["joined"]["origins"]["DOI"] == ["short"]
    assert "@article{long" in (row.raw or "")
    assert "@article{short" in (row.raw or "")


def test_studies_follow_the_merge_and_none_is_linked_twice(two: Catalogue, fill: Callable[..., Any]) -> None:
    link(two, fill, "one", "short")
    link(two, fill, "both", "short", "long")
    merged = merge_references(two, "long", "short", "Ada")
    assert merged.studies == ("both", "one")
    assert links(two) == {"both": ["long", "ref:both"], "one": ["long", "ref:one"]}


def test_undoing_a_merge_brings_everything_back(two: Catalogue, fill: Callable[..., Any]) -> None:
    link(two, fill, "one", "short")
    link(two, fill, "both", "short", "long")
    set_apart(two, "short", "ref:one", "Ada")
    before = state_of(two)
    merge_references(two, "long", "short", "Ada")
    assert state_of(two) != before
    undo_change(two, None, "Ada")
    assert state_of(two) == before


def test_reading_and_the_graver_notice_are_those_of_either(two: Catalogue) -> None:
    with two.changing("Ada", "read") as session:
        rows = {row.key: row for row in all_references(session)}
        rows["long"].reading_state, rows["long"].notice = "abstract", "corrected"
        rows["short"].notice = "retracted"
    merge_references(two, "long", "short", "Ada")
    with two.reading() as session:
        (row,) = all_references(session)
    assert (row.reading_state, row.notice) == ("abstract", "retracted")


def test_a_pair_set_apart_is_proposed_neither_by_duplicates_nor_by_an_import(
    two: Catalogue, tmp_path: Path
) -> None:
    assert len(list_duplicates(two)) == 1
    assert set_apart(two, "short", "long", "Ada", "two  samples")
    assert not set_apart(two, "long", "short", "Ada")
    assert list_duplicates(two) == ()
    with two.reading() as session:
        assert list(settings(session).values()) == ["Ada, 2026-03-01: two samples"]
    changed = tmp_path / "changed.bib"
    changed.write_text(TWO.replace("Twelve weeks.", "Twelve weeks of calf raises."))
    again = gather(two, changed, "Ada")
    assert again.likely == ()
    assert again.added == ()
    undo(two, 2, "Ada")  # the decision itself: the later import changed only the abstract
    assert len(list_duplicates(two)) == 1


def test_what_was_set_apart_from_one_is_set_apart_from_what_it_was_merged_into(
    two: Catalogue, tmp_path: Path
) -> None:
    path = tmp_path / "third.bib"
    path.write_text("@book{third, title={Soleus and others}, year=1999}")
    gather(two, path, "Ada")
    set_apart(two, "short", "third", "Ada")
    set_apart(two, "short", "long", "Ada")
    merge_references(two, "long", "short", "Ada")
    with two.reading() as session:
        assert list(settings(session)) == ['apart ["long", "third"]']


def test_an_entry_set_apart_from_what_it_was_once_joined_to_stays_apart_when_read_again(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    path = tmp_path / "same.bib"
    entry = "@article{%s, author={Plate, P}, title={Calf raises held long}, year=2020, doi={10.5555/inv.1}}\n"
    path.write_text(entry % "a" + entry % "b")
    assert [m.incoming for m in gather(catalogue, path, "Ada").known] == ["b"]
    set_apart(catalogue, "a", "b", "Ada")
    undo(catalogue, 1, "Ada")
    again = gather(catalogue, path, "Ada")
    assert again.added == ("a", "b")
    assert again.likely == ()


def test_different_works_are_merged_only_when_forced(two: Catalogue, tmp_path: Path) -> None:
    path = tmp_path / "third.bib"
    path.write_text(
        "@book{third, author={Else, E}, title={Soleus and others}, year=1999, doi={10.5555/inv.3}}"
    )
    gather(two, path, "Ada")
    with pytest.raises(BadInput, match="different"):
        merge_references(two, "long", "third", "Ada")
    with pytest.raises((BadInput, VetoedMerge)):
        merge_references(two, "short", "third", "Ada")
    merged = merge_references(two, "short", "third", "Ada", force=True)
    assert ("DOI", "10.5555/inv.3", "third") in {
        (d.field, d.set_aside, d.from_key) for d in merged.differences
    }


def test_one_reference_or_an_unknown_one_is_refused_and_nothing_changes(two: Catalogue) -> None:
    before = state_of(two)
    for act in (merge_references, set_apart):
        with pytest.raises(BadInput, match="twice"):
            act(two, "long", "long", "Ada")
        with pytest.raises(NotFound):
            act(two, "long", "nobody", "Ada")
    assert state_of(two) == before
