"""A corrected source: an error where figures may be those before the correction, a note where they were taken after."""

from datetime import UTC, date, datetime

import pytest
from sqlmodel import select

from evidence.catalogue import Catalogue, tables
from evidence.reading.drafts import read_draft_text
from evidence.workflows.drafts.checking import check_draft
from evidence.workflows.drafts.corrections import corrected_by, latest_day, taken_after
from evidence.workflows.drafts.findings import Finding
from evidence.workflows.drafts.knowing import know_catalogue
from evidence.workflows.gather.notice_log import keep_notices
from references.dates import PartialDate
from references.notices import Notice, NoticeKind

TEXT = "Hip thrusts and squats may do as much for your sprint [@langdale2020]."  # its figures were read in April 2026


def correction(said: PartialDate | None) -> Notice:
    return Notice(NoticeKind.CORRECTION, None, None, said, (), "invented")


def notice(catalogue: Catalogue) -> Finding:
    found = check_draft(read_draft_text(TEXT, "markdown"), know_catalogue(catalogue)).findings
    return next(f for f in found if f.kind == "notice")


@pytest.mark.parametrize(
    ("said", "severity", "why"),
    [
        (PartialDate(2021, 3), "note", "the figures were taken after the correction"),
        (PartialDate(2026), "warning", "check that the figures are those of the correction"),
        (None, "warning", "check that the figures are those of the correction"),
    ],
)
def test_the_date_of_the_notice_is_held_against_the_day_the_figures_were_read(
    own_catalogue: Catalogue, said: PartialDate | None, severity: str, why: str
) -> None:
    with own_catalogue.changing("mira", "notice") as session:
        keep_notices(session, "langdale2020", [correction(said)])
    found = notice(own_catalogue)
    assert (found.severity, found.why) == (severity, why)


def test_a_notice_with_no_date_came_before_the_day_it_was_looked_for(own_catalogue: Catalogue) -> None:
    with own_catalogue.changing("mira", "looked for notices") as session:
        row = session.exec(select(tables.Reference).where(tables.Reference.key == "langdale2020")).one()
        row.notice_checked_on = datetime(2025, 1, 1, tzinfo=UTC)
    assert notice(own_catalogue).severity == "note"


def test_the_last_of_several_corrections_counts_and_one_with_no_date_leaves_it_to_the_look() -> None:
    looked = datetime(2024, 6, 1, tzinfo=UTC)
    dated = [correction(PartialDate(2020)), correction(PartialDate(2022, 2))]
    assert corrected_by(dated, looked) == date(2022, 2, 28)
    assert corrected_by([*dated, correction(None)], looked) == date(2024, 6, 1)
    assert corrected_by([correction(None)], None) is None


def test_a_date_that_is_only_words_or_cannot_be_is_no_date() -> None:
    assert latest_day(PartialDate(2024, 2)) == date(2024, 2, 29)
    assert latest_day(PartialDate(literal="spring")) is None
    assert latest_day(PartialDate(2023, 2, 30)) is None
    assert latest_day(PartialDate(2023, 13)) is None


def test_figures_were_taken_after_only_where_each_study_was_read_on_a_later_day() -> None:
    day, later = datetime(2024, 1, 1, tzinfo=UTC), datetime(2024, 1, 2, tzinfo=UTC)
    assert taken_after([later], date(2024, 1, 1))
    assert not taken_after([later, day], date(2024, 1, 1))
    assert not taken_after([later, None], date(2024, 1, 1))
    assert not taken_after([], date(2024, 1, 1))
    assert not taken_after([later], None)
