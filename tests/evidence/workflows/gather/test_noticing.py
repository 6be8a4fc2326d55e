"""Notices on stored references: several sources add up, and what rests on a work is told; all records invented."""

import json
from itertools import pairwise
from pathlib import Path

import pytest
from sqlalchemy import event

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import reference_by_key, settings
from evidence.catalogue.tables import Claim, ClaimLink, Use
from evidence.errors import BadInput
from evidence.workflows.gather.gathering import Progress, gather
from evidence.workflows.gather.merging import list_apart, merge_references, put_together, set_apart
from evidence.workflows.gather.notice_log import notices_kept
from evidence.workflows.gather.noticing import apply_notices
from evidence.workflows.gather.reference_lists import list_notices
from evidence.workflows.upkeep.keeping import undo_change
from references.errors import Unreadable

COLUMNS = "OriginalPaperDOI,OriginalPaperPubMedID,RetractionNature,RetractionDate,RetractionDOI,Reason\n"


@pytest.fixture
def two(catalogue: Catalogue, tmp_path: Path) -> Catalogue:
    (tmp_path / "two.bib").write_text(
        "@article{ek, author={Ek, U}, title={Calf raises held long}, year=2019, doi={10.5555/ek}}\n"
        "@article{bo, author={Bo, A}, title={Sleep in nurses}, year=2018, doi={10.5555/bo}, pmid={77}}\n"
    )
    gather(catalogue, tmp_path / "two.bib", "Ada")
    return catalogue


def table(path: Path, *rows: str) -> Path:
    path.write_text(COLUMNS + "".join(f"{row}\n" for row in rows))
    return path


def back(catalogue: Catalogue, key: str) -> None:
    """A claim that a reference backs, and an article that was written of it."""
    with catalogue.changing("Ada", "x") as session:
        reference = reference_by_key(session, key)
        claim = Claim(
            key="c1",
            kind="practice",
            statement="s",
            construct_id="",
            added_at=catalogue.now(),
            added_by="Ada",
        )
        session.add(claim)
        session.flush()
        assert claim.id is not None
        assert reference.id is not None
        values = {"stance": "supports", "kind": "study", "locator": "p. 1", "said": "so", "person": "Ada"}
        session.add(ClaimLink(claim_id=claim.id, reference_id=reference.id, at=catalogue.now(), **values))
        session.add(
            Use(
                kind="article",
                name="calves",
                reference_id=reference.id,
                catalogue_hash="h",
                at=catalogue.now(),
                place="a.md",
            )
        )


def notice_of(catalogue: Catalogue, key: str) -> str | None:
    with catalogue.reading() as session:
        return reference_by_key(session, key).notice


def test_a_retraction_tells_the_claims_and_the_texts_that_rest_on_the_work(
    two: Catalogue, tmp_path: Path
) -> None:
    back(two, "ek")
    applied = apply_notices(
        two, table(tmp_path / "r.csv", "10.5555/EK,0,Retraction,3/1/2021 0:00,10.5555/r,+Data;"), "Ada"
    )
    (change,) = applied.changes
    assert (change.key, change.before, change.now) == ("ek", "", "retracted")
    assert "left out of every weighing" in change.effect
    assert applied.touched.claims == ("c1",)
    assert applied.touched.uses == ("article calves (a.md)",)
    assert applied.unlisted == 1
    with two.reading() as session:
        (notice,) = notices_kept(settings(session), "ek")
    assert (notice.reasons, notice.source, str(notice.date)) == (("Data",), "r.csv", "2021-03-01")


def test_a_milder_notice_from_another_source_takes_no_graver_one_away(two: Catalogue, tmp_path: Path) -> None:
    apply_notices(two, table(tmp_path / "a.csv", "10.5555/ek,0,Retraction,3/1/2021 0:00,,"), "Ada")
    crossref = {
        "DOI": "10.5555/n",
        "update-to": [{"DOI": "10.5555/ek", "type": "correction", "updated": {"date-parts": [[2020, 1, 1]]}}],
    }
    (tmp_path / "c.json").write_text(json.dumps(crossref))
    assert apply_notices(two, tmp_path / "c.json", "Ada").changes == ()
    assert notice_of(two, "ek") == "retracted"
    ended = apply_notices(two, table(tmp_path / "b.csv", "10.5555/ek,0,Reinstatement,3/1/2022 0:00,,"), "Ada")
    assert [change.now for change in ended.changes] == ["reinstated"]
    assert notice_of(two, "ek") is None
    undo_change(two, None, "Ada")
    assert notice_of(two, "ek") == "retracted"


NBIB = """PMID- 77
TI  - Sleep in nurses.
DP  - 2018
LID - 10.5555/bo [doi]
AU  - Bo A
PT  - Retracted Publication
RIN - Inv J. 2020 Mar;3:4. doi: 10.5555/r2. PMID: 99
"""


def test_pubmed_records_bring_their_notices_by_command_and_on_being_added(
    two: Catalogue, tmp_path: Path
) -> None:
    (tmp_path / "p.nbib").write_text(NBIB)
    applied = apply_notices(two, tmp_path / "p.nbib", "Ada")
    assert [(change.key, change.now) for change in applied.changes] == [("bo", "retracted")]
    undo_change(two, None, "Ada")
    assert notice_of(two, "bo") is None
    report = gather(two, tmp_path / "p.nbib", "Ada")
    assert [match.known for match in report.known] == ["bo"]
    assert report.notices == ("bo is now retracted",)
    assert notice_of(two, "bo") == "retracted"


def test_a_work_that_is_not_listed_is_never_called_clean_and_keeps_the_day(
    two: Catalogue, tmp_path: Path
) -> None:
    before = list_notices(two)
    assert (before.never_checked, before.not_listed) == (2, 0)
    apply_notices(two, table(tmp_path / "r.csv", "10.5555/other,0,Retraction,3/1/2021 0:00,,"), "Ada")
    after = list_notices(two)
    assert (after.never_checked, after.not_listed, after.noticed) == (0, 2, ())
    assert after.oldest_check is not None
    assert notice_of(two, "ek") is None


def test_notices_links_and_uses_follow_a_merge_and_come_back(two: Catalogue, tmp_path: Path) -> None:
    back(two, "bo")
    apply_notices(two, table(tmp_path / "r.csv", "10.5555/bo,0,Correction,3/1/2021 0:00,,"), "Ada")
    merge_references(two, "ek", "bo", "Ada", force=True)
    later = apply_notices(two, table(tmp_path / "s.csv", "10.5555/ek,0,Retraction,3/1/2022 0:00,,"), "Ada")
    assert later.touched.claims == ("c1",)
    assert later.touched.uses == ("article calves (a.md)",)
    with two.reading() as session:
        assert [str(n.kind) for n in notices_kept(settings(session), "ek")] == ["correction", "retraction"]
        assert notices_kept(settings(session), "bo") == ()


def test_a_pair_set_apart_is_listed_and_can_be_taken_back(two: Catalogue) -> None:
    set_apart(two, "ek", "bo", "Ada", "two samples")
    (pair,) = list_apart(two)
    assert (pair.a, pair.b) == ("bo", "ek")
    assert pair.said.endswith("two samples")
    put_together(two, "ek", "bo", "Ada")
    assert list_apart(two) == ()
    undo_change(two, None, "Ada")
    assert len(list_apart(two)) == 1


@pytest.mark.parametrize("text", ["{", "[1]", "[[", "not json"])
def test_what_holds_no_notices_is_told(two: Catalogue, tmp_path: Path, text: str) -> None:
    (tmp_path / "x.json").write_text(text)
    with pytest.raises((BadInput, Unreadable)):
        apply_notices(two, tmp_path / "x.json", "Ada")


@pytest.mark.parametrize(("name", "text"), [("x.json", "[]"), ("x.csv", COLUMNS)])
def test_a_list_without_notices_marks_nothing_as_looked_up(
    two: Catalogue, tmp_path: Path, name: str, text: str
) -> None:
    (tmp_path / name).write_text(text)
    with pytest.raises(BadInput, match="holds no notice"):
        apply_notices(two, tmp_path / name, "Ada")
    assert list_notices(two).never_checked == 2


def test_a_table_that_is_another_is_told_with_its_file(two: Catalogue, tmp_path: Path) -> None:
    (tmp_path / "x.csv").write_text("a,b\n1,2\n")
    with pytest.raises(BadInput) as told:
        apply_notices(two, tmp_path / "x.csv", "Ada")
    assert str(told.value).startswith(f"{tmp_path / 'x.csv'}, line 1: this is not the open retraction table")
    assert "RetractionDate. Give the CSV file" in str(told.value)


def test_how_far_a_list_of_notices_is_only_grows_and_ends_at_all(two: Catalogue, tmp_path: Path) -> None:
    head = "Record ID,RetractionDate,RetractionDOI,RetractionPubMedID,OriginalPaperDate,OriginalPaperDOI,"
    head += "OriginalPaperPubMedID,RetractionNature,Reason,Title,Notes\n"
    rows = (
        f"{n},1/2/2024 0:00,10.5555/n{n},0,1/1/2020 0:00,10.5555/w{n},0,Retraction,,T,\n" for n in range(1700)
    )
    path = tmp_path / "list.csv"
    path.write_text(head + "".join(rows))
    told: list[Progress] = []
    assert apply_notices(two, path, "Ada", told.append).read == 1700
    assert [progress.records for progress in told] == [500, 1000, 1500, 1700]
    assert all(one.position < other.position for one, other in pairwise(told))
    assert 0 < told[0].position < told[-1].position == told[-1].size == path.stat().st_size


def test_a_list_of_many_notices_reads_what_was_known_once(two: Catalogue, tmp_path: Path) -> None:
    asked: list[str] = []
    event.listen(
        two.writers, "before_cursor_execute", lambda *given: asked.append(" ".join(given[2].split()))
    )
    rows = (
        "10.5555/ek,0,Retraction,3/1/2021 0:00,10.5555/r,+Data;",
        "10.5555/bo,0,Correction,3/1/2021 0:00,,+Data;",
    )
    for number in (1, 2):
        assert apply_notices(two, table(tmp_path / f"{number}.csv", *rows[:number]), "Ada").changes
        assert sum("FROM setting ORDER BY" in text for text in asked) == 1
        asked.clear()
