"""What became of a published work: corrections, concerns, retractions, preprint and published version.

Rules, with their sources: data/citation_state.yaml. That nothing is listed about a work means only that:
the state
then says where was looked and when, and never that the work is sound.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import cache

from references.profiles import clean_doi
from references.record import PartialDate, Record
from references.rules import load_rules


class NoticeKind(StrEnum):
    """What a notice does to the work it is about."""

    CORRECTION = "correction"
    CONCERN = "expression of concern"
    PARTIAL_RETRACTION = "partial retraction"
    RETRACTION = "retraction"
    WITHDRAWAL = "withdrawal or removal"
    REINSTATEMENT = "reinstatement"
    PREPRINT = "preprint"  # the work is one; `notice_doi` is its published version where that is known
    NEW_VERSION = "new version"
    OTHER = "other notice"


@dataclass(frozen=True, slots=True)
class Notice:
    """One thing said of a work. `doi` and `pmid` are those of the work; `notice_doi`, `notice_pmid` of the
    notice.

    `date`: when the notice appeared, as far as known. `reasons`: as the source gives them. `source`:
    where it was
    read. `remark`: what to keep in mind about this kind of source.
    """

    kind: NoticeKind
    doi: str | None
    pmid: str | None
    date: PartialDate | None
    reasons: tuple[str, ...]
    source: str
    notice_doi: str | None = None
    notice_pmid: str | None = None
    remark: str = ""

    @property
    def reason(self) -> str:
        """The reasons as one text."""
        return "; ".join(self.reasons)


@dataclass(frozen=True, slots=True)
class MatchedNotice:
    """A notice about one of the records. `joined_by`: DOI or PMID; `doubt`: why a person should look
    first.
    """

    key: str
    notice: Notice
    joined_by: str
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class NoticeReport:
    """Notices about the records. `unlisted`: keys of records that the source says nothing of, which is all
    that is known.

    `unjoinable`: keys of records without DOI and PMID, which no notice can be about. `read`: notices gone
    through.
    """

    found: tuple[MatchedNotice, ...]
    unlisted: tuple[str, ...]
    unjoinable: tuple[str, ...]
    read: int


def find_notices(records: Iterable[Record], notices: Iterable[Notice]) -> NoticeReport:
    """Join notices to records by DOI, then by PMID, never by title. `notices` may be a stream of any
    length.
    """
    by_doi: dict[str, list[str]] = {}
    by_pmid: dict[str, list[str]] = {}
    dois: dict[str, str] = {}
    keys: list[str] = []
    for record in records:
        keys.append(record.key)
        doi = clean_doi(record.doi)
        if doi:
            by_doi.setdefault(doi, []).append(record.key)
            dois[record.key] = doi
        if record.pmid:
            by_pmid.setdefault(record.pmid, []).append(record.key)
    found: list[MatchedNotice] = []
    read = 0
    for notice in notices:
        read += 1
        for key in by_doi.get(notice.doi or "", ()):
            found.append(MatchedNotice(key, notice, "DOI"))
        for key in by_pmid.get(notice.pmid or "", ()):
            if notice.doi and dois.get(key) == notice.doi:
                continue
            doubt = f"one PMID, but the record's DOI is {dois[key]}" if notice.doi and key in dois else ""
            found.append(MatchedNotice(key, notice, "PMID", doubt))
    listed = {match.key for match in found}
    joinable = {key for group in (by_doi, by_pmid) for members in group.values() for key in members}
    return NoticeReport(
        found=tuple(found),
        unlisted=tuple(key for key in keys if key in joinable and key not in listed),
        unjoinable=tuple(key for key in keys if key not in joinable),
        read=read,
    )


class State(StrEnum):
    """What a work's notices come to on a day. Names as in data/citation_state.yaml, but for the first."""

    NOT_LISTED = "not_listed"
    PREPRINT = "preprint"
    CORRECTED = "corrected"
    EXPRESSION_OF_CONCERN = "expression_of_concern"
    PARTIALLY_RETRACTED = "partially_retracted"
    RETRACTED = "retracted"
    WITHDRAWN_OR_REMOVED = "withdrawn_or_removed"
    REINSTATED = "reinstated"


_STATE_OF = {
    NoticeKind.PREPRINT: State.PREPRINT,
    NoticeKind.CORRECTION: State.CORRECTED,
    NoticeKind.CONCERN: State.EXPRESSION_OF_CONCERN,
    NoticeKind.PARTIAL_RETRACTION: State.PARTIALLY_RETRACTED,
    NoticeKind.RETRACTION: State.RETRACTED,
    NoticeKind.WITHDRAWAL: State.WITHDRAWN_OR_REMOVED,
}
_UNDONE_BY_REINSTATEMENT = frozenset(
    (NoticeKind.CONCERN, NoticeKind.PARTIAL_RETRACTION, NoticeKind.RETRACTION, NoticeKind.WITHDRAWAL)
)


@dataclass(frozen=True, slots=True)
class CitationState:
    """A work's state on a day, what follows from it, the notices behind it, and when they were looked for."""

    state: State
    effect: str
    notices: tuple[Notice, ...]
    checked_on: date
    sources: tuple[str, ...]

    def __str__(self) -> str:
        where = ", ".join(self.sources) or "no source"
        if self.state is State.NOT_LISTED:
            return f"no notice listed in {where}, checked {self.checked_on}; this does not say that there is none"
        return f"{self.state.value.replace('_', ' ')} (checked {self.checked_on} in {where})"


def judge_state(
    notices: Iterable[Notice], *, checked_on: date, sources: Sequence[str] = (), on: date | None = None
) -> CitationState:
    """What the notices about one work come to on the day `on` (default: the day they were looked for).

    The gravest notice in force counts; a reinstatement ends the retractions and concerns before it. A
    notice whose
    day is not known is taken to be in force. `sources`: what was searched, also where nothing was found.
    """
    day = on or checked_on
    in_force = sorted((n for n in notices if _first_day(n) <= day), key=_first_day)
    counted: list[Notice] = []
    reinstated = False
    for notice in in_force:
        if notice.kind is NoticeKind.REINSTATEMENT:
            reinstated = any(one.kind in _UNDONE_BY_REINSTATEMENT for one in counted) or reinstated
            counted = [one for one in counted if one.kind not in _UNDONE_BY_REINSTATEMENT]
        elif notice.kind in _STATE_OF:
            reinstated = reinstated and notice.kind not in _UNDONE_BY_REINSTATEMENT
            counted.append(notice)
    states = [State.REINSTATED] if reinstated else []
    states += [_STATE_OF[notice.kind] for notice in counted]
    state = max(states, key=_gravity, default=State.NOT_LISTED)
    if reinstated and _gravity(state) < _gravity(State.EXPRESSION_OF_CONCERN):
        state = State.REINSTATED
    searched = tuple(dict.fromkeys([*sources, *(notice.source for notice in in_force)]))
    return CitationState(state, _effects().get(state.value, "none"), tuple(in_force), checked_on, searched)


_ORDER = (
    *(State.NOT_LISTED, State.REINSTATED, State.PREPRINT, State.CORRECTED, State.EXPRESSION_OF_CONCERN),
    *(State.PARTIALLY_RETRACTED, State.WITHDRAWN_OR_REMOVED, State.RETRACTED),
)


def _gravity(state: State) -> int:
    return _ORDER.index(state)


def _first_day(notice: Notice) -> date:
    known = notice.date
    if known is None or known.year is None or not 1 <= known.year <= 9999:
        return date.min
    try:
        return date(known.year, known.month or 1, known.day or 1)
    except ValueError:  # a day that the month does not have
        return date(known.year, known.month or 1, 1)


@cache
def _effects() -> dict[str, str]:
    return {entry["state"]: entry["effect"] for entry in load_rules("citation_state")["states"]}
