"""Drafts as stored, and the references that people have set against claims."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func
from sqlmodel import Session, col, select

from evidence.catalogue.queries.finding import by_key, in_order
from evidence.catalogue.tables import ChangeSet, ClaimLink, Draft, Reference, Result, Study, StudyReference


def draft_by_key(session: Session, key: str) -> Draft:
    """The draft with this key. Raises `NotFound`."""
    return by_key(session, Draft, key, "draft")


def find_draft(session: Session, key: str) -> Draft | None:
    """The draft with this key, where it was stored."""
    return session.exec(select(Draft).where(Draft.key == key)).first() if "\x00" not in key else None


def list_drafts(session: Session) -> list[Draft]:
    """Every draft."""
    return list(session.exec(select(Draft).order_by(in_order(session, Draft.key))))


def last_state(session: Session) -> tuple[int, datetime | None]:
    """Number and time of the last change: they differ in any two states, also where a backup was brought back."""
    last = select(ChangeSet.id, ChangeSet.at).order_by(col(ChangeSet.id).desc()).limit(1)
    number, at = session.exec(last).first() or (None, None)
    return number or 0, at


def references_against(session: Session) -> dict[int, tuple[str, ...]]:
    """Keys of the references that a person has set against each claim, by the claim's row number."""
    statement = select(ClaimLink.claim_id, Reference.key).join(
        Reference, col(ClaimLink.reference_id) == Reference.id
    )
    found: dict[int, list[str]] = {}
    ordered = statement.where(ClaimLink.stance == "against").order_by(col(ClaimLink.id))
    for claim_id, key in session.exec(ordered):
        found.setdefault(claim_id, []).append(key)
    return {claim_id: tuple(keys) for claim_id, keys in found.items()}


@dataclass(frozen=True, slots=True)
class StudyOutline:
    """A study in short: who it shares its people with, and its references with their roles, by key.

    `read_in_full`: some result was read from more than an abstract. `first_read`: when its first result was read.
    """

    id: int
    key: str
    sample: str
    references: tuple[tuple[str, str], ...]
    read_in_full: bool
    first_read: datetime | None


def outline_studies(session: Session, in_full: Collection[str]) -> list[StudyOutline]:
    """Every study in short, in four queries. `in_full`: what counts as having been read in full."""
    roles: dict[int, list[tuple[str, str]]] = {}
    linked = select(StudyReference.study_id, Reference.key, StudyReference.role).join(
        Reference, col(StudyReference.reference_id) == Reference.id
    )
    for study_id, key, role in session.exec(linked.order_by(in_order(session, Reference.key))):
        roles.setdefault(study_id, []).append((key, role))
    read = select(Result.study_id).where(col(Result.read_from).in_(sorted(in_full))).distinct()
    full = set(session.exec(read))
    first = dict(
        session.exec(select(Result.study_id, func.min(Result.read_at)).group_by(col(Result.study_id))).all()
    )
    studies = select(Study.id, Study.key, Study.sample).order_by(in_order(session, Study.key))
    return [
        StudyOutline(
            number, key, sample or "", tuple(roles.get(number, ())), number in full, first.get(number)
        )
        for number, key, sample in session.exec(studies)
        if number is not None
    ]


@dataclass(frozen=True, slots=True)
class ReferenceOutline:
    """A reference in short: what a text may tell of it, and its state."""

    key: str
    year: int | None
    container: str
    title: str
    csl: Mapping[str, Any]
    notice: str | None
    notice_checked_on: datetime | None
    reading_state: str


def outline_references(session: Session) -> list[ReferenceOutline]:
    """Every reference in short, in one query: its columns only, as whole rows take three times as long."""
    columns: Any = (
        Reference.key,
        Reference.year,
        Reference.container,
        Reference.title,
        Reference.csl,
        Reference.notice,
        Reference.notice_checked_on,
        Reference.reading_state,
    )
    found = session.exec(select(*columns).order_by(in_order(session, Reference.key)))
    return [ReferenceOutline(*row) for row in found]
