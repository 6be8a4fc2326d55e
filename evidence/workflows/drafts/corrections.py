"""Whether figures were taken after a work was corrected, by the dates that are known."""

import calendar
from collections.abc import Iterable
from datetime import date, datetime

from references.dates import PartialDate
from references.notices import Notice, NoticeKind


def corrected_by(notices: Iterable[Notice], checked_on: datetime | None) -> date | None:
    """The day by which a work stood corrected; None where nothing dates it.

    The last correction's own date counts, at its latest where only a year or a month is known. Where one has no date,
    it came no later than the day on which notices were last looked for.
    """
    dates = [n.date for n in notices if n.kind is NoticeKind.CORRECTION]
    days = [latest_day(d) if d is not None else None for d in dates]
    known = [d for d in days if d is not None]
    if known and len(known) == len(days):
        return max(known)
    return checked_on.date() if checked_on is not None else None


def latest_day(said: PartialDate) -> date | None:
    """The last day that a date as far as it is known may mean."""
    if said.year is None or said.literal:
        return None
    month = said.month or 12
    try:
        return date(said.year, month, said.day or calendar.monthrange(said.year, month)[1])
    except (ValueError, calendar.IllegalMonthError):
        return None


def taken_after(first_read: Iterable[datetime | None], corrected: date | None) -> bool:
    """Whether every study's first figure was read on a later day than the correction."""
    read = list(first_read)
    return (
        bool(read) and corrected is not None and all(at is not None and at.date() > corrected for at in read)
    )
