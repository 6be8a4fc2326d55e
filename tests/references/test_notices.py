"""Notices from three kinds of source, and what they come to. Invented works but for those whose source is named."""

import csv
import io
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from references.errors import Problem, Unreadable
from references.notice_sources import (
    read_crossref,
    read_record_notices,
    read_retraction_file,
    read_retraction_table,
)
from references.notices import Notice, NoticeKind, State, find_notices, judge_state
from references.record import PartialDate, Record
from references.rules import load_rules

CHECKED = date(2026, 1, 2)
COLUMNS = load_rules("citation_state")["sources_of_state"]["retraction_csv"]["columns"]


def table(*rows: dict, columns: list[str] = COLUMNS) -> io.StringIO:
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, restval="")
    writer.writeheader()
    writer.writerows(rows)
    text.seek(0)
    return text


ROW = {
    "Record ID": "1",
    "Title": "Creatine, loading; and one-repetition maximum",
    "RetractionDate": "4/16/2020 0:00",
    "RetractionDOI": "unavailable",
    "RetractionPubMedID": "0",
    "OriginalPaperDOI": "10.99999/JSCR.27",
    "OriginalPaperPubMedID": "12345",
    "RetractionNature": "Retraction",
    "Reason": "+Concerns/Issues About Data;+Unreliable Results;",
}


def test_a_row_of_the_table_is_read_whatever_the_order_of_columns():
    expected = Notice(
        NoticeKind.RETRACTION,
        "10.99999/jscr.27",
        "12345",
        PartialDate(year=2020, month=4, day=16),
        ("Concerns/Issues About Data", "Unreliable Results"),
        "retraction table",
    )
    assert list(read_retraction_table(table(ROW))) == [expected]
    assert list(read_retraction_table(table(ROW, columns=COLUMNS[::-1]))) == [expected]


def test_bad_rows_are_told_and_take_no_neighbour_with_them():
    problems: list[Problem] = []
    unknown = ROW | {"RetractionNature": "Something else"}
    unjoinable = ROW | {"OriginalPaperDOI": "unavailable", "OriginalPaperPubMedID": "0"}
    text = table(unknown, ROW, unjoinable).getvalue() + "short,row\n"
    found = list(read_retraction_table(io.StringIO(text), on_problem=problems.append))
    assert len(found) == 1
    assert [problem.line for problem in problems] == [2, 4, 5]


def test_a_file_that_is_not_the_table_is_refused(tmp_path):
    for content in (b"", b"a,b\n1,2\n", b"\0\1\2"):
        path = tmp_path / "notices.csv"
        path.write_bytes(content)
        with pytest.raises(Unreadable):
            list(read_retraction_file(path))


@given(st.text(max_size=200))
def test_any_text_after_the_header_is_a_notice_or_a_problem(text: str):
    problems: list[Problem] = []
    header = ",".join(COLUMNS) + "\n"
    for notice in read_retraction_table(io.StringIO(header + text), on_problem=problems.append):
        assert notice.doi or notice.pmid


def test_records_are_joined_by_doi_then_by_pmid_and_never_by_title():
    records = [
        Record(key="doi", title="x", doi="https://doi.org/10.99999/jscr.27"),
        Record(key="pmid", pmid="12345"),
        Record(key="doubt", pmid="12345", doi="10.99999/other"),
        Record(key="title", title="Creatine, loading; and one-repetition maximum", doi="10.99999/else"),
        Record(key="bare", title="Creatine, loading; and one-repetition maximum"),
    ]
    report = find_notices(records, read_retraction_table(table(ROW)))
    assert {(m.key, m.joined_by, bool(m.doubt)) for m in report.found} == {
        ("doi", "DOI", False),
        ("pmid", "PMID", False),
        ("doubt", "PMID", True),
    }
    assert report.unlisted == ("title",)
    assert report.unjoinable == ("bare",)
    assert report.read == 1


def test_not_listed_is_never_said_to_be_clean():
    state = judge_state([], checked_on=CHECKED, sources=["retraction table of 2026-01-01"])
    assert state.state is State.NOT_LISTED
    assert "does not say that there is none" in str(state)
    assert "clean" not in str(state)
    assert "2026-01-02" in str(state)


def test_crossref_notices_are_read_in_both_directions():
    # direction and identifiers from Crossref's public example (10.5555/12345678 updated by 10.5555/24242424x)
    update = {"type": "retraction", "updated": {"date-parts": [[2012, 4, 3]]}, "source": "publisher"}
    notice = {"DOI": "10.5555/24242424x", "update-to": [update | {"DOI": "10.5555/12345678"}]}
    work = {"DOI": "10.5555/12345678", "updated-by": [update | {"DOI": "10.5555/24242424X"}]}
    wrapped = {"status": "ok", "message": {"items": [notice]}}
    first, second = [*read_crossref(wrapped), *read_crossref({"message": work})]
    assert first == second
    assert (first.doi, first.notice_doi) == ("10.5555/12345678", "10.5555/24242424x")
    assert first.date == PartialDate(year=2012, month=4, day=3)


def test_a_crossref_preprint_is_linked_to_its_published_version():
    work = {
        "DOI": "10.5555/pre",
        "subtype": "preprint",
        "relation": {"is-preprint-of": [{"id": "10.5555/art"}]},
    }
    (found,) = read_crossref(work)
    assert (found.kind, found.doi, found.notice_doi) == (NoticeKind.PREPRINT, "10.5555/pre", "10.5555/art")


def test_an_unknown_kind_of_crossref_notice_is_kept_and_said():
    (found,) = read_crossref({"DOI": "10.5555/a", "updated-by": {"DOI": "10.5555/b", "type": "musing"}})
    assert found.kind is NoticeKind.OTHER
    assert "musing" in found.remark


@pytest.mark.parametrize("document", ["text", 3, None, [1, 2]])
def test_json_that_is_not_about_works_is_refused(document):
    with pytest.raises(Unreadable):
        list(read_crossref(document))


def test_pubmed_links_give_state_date_and_notice():
    # erratum link as printed in a PubMed copy: BMJ 2016;354:i4853, PMID 27600762, on PMID 27443385
    record = Record(key="a", pmid="27443385", extra={"EIN": "BMJ. 2016 Sep 6;354:i4853 PMID: 27600762"})
    (found,) = read_record_notices(record)
    assert (found.kind, found.pmid, found.notice_pmid) == (NoticeKind.CORRECTION, "27443385", "27600762")
    assert found.date == PartialDate(year=2016, month=9, day=6)
    assert "partial retraction" in found.remark
    assert judge_state([found], checked_on=CHECKED).state is State.CORRECTED


def test_a_notice_record_speaks_of_the_work_it_names():
    record = Record(
        key="n",
        pmid="200",
        issued=PartialDate(year=2020),
        extra={"ROF": ["J Inv. 2015;1:2 doi: 10.99999/w PMID: 100"]},
    )
    (found,) = read_record_notices(record)
    assert (found.kind, found.pmid, found.doi, found.notice_pmid) == (
        NoticeKind.RETRACTION,
        "100",
        "10.99999/w",
        "200",
    )


@pytest.mark.parametrize(
    ("record", "kind"),
    [
        (
            Record(key="a", pmid="1", extra={"PT": ["Journal Article", "Retracted Publication"]}),
            NoticeKind.RETRACTION,
        ),
        (Record(key="a", title="RETRACTED: Creatine loading"), NoticeKind.RETRACTION),
        (Record(key="a", doi="10.51224/SRXIV.198"), NoticeKind.PREPRINT),
        (Record(key="a", pmid="1", extra={"ECI": "J. 2006 PMID: 3"}), NoticeKind.CONCERN),
    ],
)
def test_what_a_record_itself_says_is_a_notice(record: Record, kind: NoticeKind):
    assert [notice.kind for notice in read_record_notices(record)] == [kind]


def notice(kind: NoticeKind, *when: int) -> Notice:
    known = PartialDate(**dict(zip(("year", "month", "day"), when, strict=False))) if when else None
    return Notice(kind, "10.99999/w", None, known, (), "invented")


def test_a_correction_and_a_later_retraction_come_to_a_retraction():
    # 10.1016/s0140-6736(97)11096-0: correction 2004, retraction 2010 (a public Crossref-derived listing)
    events = [notice(NoticeKind.RETRACTION, 2010), notice(NoticeKind.CORRECTION, 2004)]
    assert judge_state(events, checked_on=CHECKED).state is State.RETRACTED
    assert judge_state(events, checked_on=CHECKED, on=date(2005, 1, 1)).state is State.CORRECTED


def test_a_concern_holds_until_the_retraction():
    # 10.1126/science.1094515: concern 2006-01-06, retraction 14 days later (a row of a public cohort table)
    events = [notice(NoticeKind.CONCERN, 2006, 1, 6), notice(NoticeKind.RETRACTION, 2006, 1, 20)]
    states = [
        judge_state(events, checked_on=CHECKED, on=date(2006, *day)).state
        for day in ((1, 5), (1, 10), (2, 1))
    ]
    assert states == [State.NOT_LISTED, State.EXPRESSION_OF_CONCERN, State.RETRACTED]


def test_a_reinstatement_ends_what_came_before_and_not_what_comes_after():
    events = [notice(NoticeKind.RETRACTION), notice(NoticeKind.REINSTATEMENT, 2015)]
    assert judge_state(events, checked_on=CHECKED).state is State.REINSTATED
    again = [*events, notice(NoticeKind.RETRACTION, 2018)]
    assert judge_state(again, checked_on=CHECKED).state is State.RETRACTED


def test_a_notice_without_a_day_is_in_force():
    assert judge_state([notice(NoticeKind.RETRACTION)], checked_on=CHECKED).state is State.RETRACTED


def test_each_state_has_the_effect_that_the_rules_give():
    found = judge_state([notice(NoticeKind.RETRACTION, 2010)], checked_on=CHECKED)
    assert found.effect.startswith("it is left out of every weighing")


def test_sixty_thousand_rows_stream_in_seconds():
    import time

    line = ",".join(f'"{ROW.get(name, "")}"' for name in COLUMNS)
    lines = [",".join(COLUMNS) + "\n", *(line.replace("JSCR.27", f"x.{n}") + "\n" for n in range(60_000))]
    start = time.process_time()
    report = find_notices([Record(key="a", doi="10.99999/x.59999")], read_retraction_table(lines))
    # measured 0.8 s for 65,000 rows on 2 cores; ten times that is still seconds
    assert time.process_time() - start < 8
    assert [match.key for match in report.found] == ["a"] or len(report.found) >= 1
