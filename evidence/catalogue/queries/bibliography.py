"""References and entries that could not be read."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from sqlalchemy import func, or_
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from evidence.catalogue.queries.finding import by_key, in_order
from evidence.catalogue.tables import Reference, Study, StudyReference, UnreadEntry
from evidence.errors import BadInput

Found = TypeVar("Found")


@dataclass(frozen=True, slots=True)
class ReferenceFilter:
    """Which references: every given part holds; of `text` each word, in title, author, venue or key."""

    text: str = ""
    year_from: int | None = None
    year_to: int | None = None
    type: str | None = None
    reading_state: str | None = None
    noticed: bool | None = None  # True: with a notice (retraction, ...); False: none known
    cited_by_study: bool | None = None


def reference_by_key(session: Session, key: str) -> Reference:
    """The reference with this key. Raises `NotFound`."""
    return by_key(session, Reference, key, "reference")


def reference_by_identifier(session: Session, kind: str, value: str) -> Reference | None:
    """The first reference with this identifier, "doi" or "pmid", in the form in which it is stored."""
    columns = {"doi": Reference.doi, "pmid": Reference.pmid}
    if kind not in columns:
        raise BadInput(f"references are found by doi or pmid, not by {kind!r}")
    wanted = select(Reference).where(columns[kind] == value).order_by(in_order(session, Reference.key))
    return session.exec(wanted.limit(1)).first()


def all_references(session: Session) -> list[Reference]:
    """Every reference."""
    return list(session.exec(select(Reference).order_by(in_order(session, Reference.key))))


def list_references(
    session: Session, wanted: ReferenceFilter | None = None, *, limit: int | None = None, offset: int = 0
) -> list[Reference]:
    """References that pass the filter, a page of them where `limit` is given."""
    statement = _filtered(select(Reference), wanted or ReferenceFilter())
    statement = statement.order_by(in_order(session, Reference.key)).offset(offset)
    return list(session.exec(statement.limit(limit) if limit is not None else statement))


def count_references(session: Session, wanted: ReferenceFilter | None = None) -> int:
    """How many references pass the filter."""
    return session.exec(_filtered(select(func.count(col(Reference.id))), wanted or ReferenceFilter())).one()


def _filtered(statement: SelectOfScalar[Found], wanted: ReferenceFilter) -> SelectOfScalar[Found]:
    for word in wanted.text.replace("\x00", " ").lower().split():
        searched = (Reference.title, Reference.first_author, Reference.container, Reference.key)
        statement = statement.where(
            or_(*(func.lower(column).contains(word, autoescape=True) for column in searched))
        )
    if wanted.year_from is not None:
        statement = statement.where(col(Reference.year) >= wanted.year_from)
    if wanted.year_to is not None:
        statement = statement.where(col(Reference.year) <= wanted.year_to)
    if wanted.type is not None:
        statement = statement.where(Reference.type == wanted.type)
    if wanted.reading_state is not None:
        statement = statement.where(Reference.reading_state == wanted.reading_state)
    if wanted.noticed is not None:
        noticed = col(Reference.notice).is_not(None)
        statement = statement.where(noticed if wanted.noticed else ~noticed)
    if wanted.cited_by_study is not None:
        linked = select(StudyReference.id).where(StudyReference.reference_id == Reference.id).exists()
        statement = statement.where(linked if wanted.cited_by_study else ~linked)
    return statement


def studies_of_reference(session: Session, reference: Reference) -> list[Study]:
    """The studies that a reference reports."""
    statement = select(Study).join(StudyReference, col(StudyReference.study_id) == Study.id)
    statement = statement.where(StudyReference.reference_id == reference.id)
    return list(session.exec(statement.order_by(in_order(session, Study.key))))


def list_unread(session: Session) -> Sequence[UnreadEntry]:
    """Entries of imported files that could not be read, by file and line."""
    return session.exec(
        select(UnreadEntry).order_by(
            in_order(session, UnreadEntry.source), col(UnreadEntry.line).nulls_first(), col(UnreadEntry.id)
        )
    ).all()
