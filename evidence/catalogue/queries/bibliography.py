"""References and entries that could not be read."""

import json
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from sqlalchemy import String, cast, func, or_
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from evidence.catalogue.queries.finding import by_key, in_order
from evidence.catalogue.recording import chunks
from evidence.catalogue.tables import Claim, ClaimLink, Reference, Study, StudyReference, UnreadEntry, Use
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


def stored_records(session: Session, keys: Sequence[str] | None = None) -> Iterator[Reference]:
    """References one by one, all or those with these keys, in no order: for catalogues too large to hold."""
    if keys is None:
        yield from session.exec(select(Reference).execution_options(yield_per=500))
        return
    for start in range(0, len(keys), 500):
        yield from session.exec(select(Reference).where(col(Reference.key).in_(keys[start : start + 500])))


def references_called(session: Session, key: str | None, doi: str | None = None) -> list[Reference]:
    """References with this key or this DOI; where there is none, those into which one of this key was joined."""
    order = in_order(session, Reference.key)
    if (key and "\x00" in key) or (doi and "\x00" in doi):
        return []
    named = or_(col(Reference.key) == key, col(Reference.doi) == doi) if doi else col(Reference.key) == key
    found = list(session.exec(select(Reference).where(named).order_by(order)))
    if found or not key:
        return found
    # Records that were joined are few; that the key stands in their text is not yet that it is one of theirs.
    text = cast(Reference.csl, String)
    joined = text.contains('"other_keys"', autoescape=True) & text.contains(json.dumps(key), autoescape=True)
    rows = session.exec(select(Reference).where(joined).order_by(order))
    return [row for row in rows if key in (row.csl.get("custom") or {}).get("other_keys", [])]


def keys_by_doi(session: Session, dois: Collection[str]) -> dict[str, str]:
    """The key of the first reference with each of these DOIs, in the form in which they are stored."""
    found: dict[str, str] = {}
    for part in chunks(sorted(doi for doi in set(dois) if "\x00" not in doi)):
        wanted = select(Reference.doi, Reference.key).where(col(Reference.doi).in_(part))
        for doi, key in session.exec(wanted.order_by(in_order(session, Reference.key))):
            found.setdefault(doi or "", key)
    return found


def keys_of_references(session: Session) -> list[str]:
    """The key of every reference."""
    return list(session.exec(select(Reference.key).order_by(in_order(session, Reference.key))))


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


@dataclass(frozen=True, slots=True)
class Checked:
    """How many references without a notice were looked up and not listed, and never looked up; the oldest look-up."""

    not_listed: int
    never: int
    oldest: datetime | None


def count_checked(session: Session) -> Checked:
    """How far the references were looked up for notices."""
    on = col(Reference.notice_checked_on)
    clear = select(func.count(col(Reference.id)), func.count(on)).where(col(Reference.notice).is_(None))
    without, looked_up = session.exec(clear).one()
    return Checked(looked_up, without - looked_up, session.exec(select(func.min(on))).one())


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


def reference_identifiers(session: Session) -> Iterator[tuple[str, str | None, str | None]]:
    """Key, DOI and PMID of every reference."""
    columns = select(Reference.key, Reference.doi, Reference.pmid).order_by(in_order(session, Reference.key))
    yield from session.exec(columns)


def linked_claims(session: Session, references: Sequence[int]) -> set[int]:
    """Numbers of the claims to which references (by their row numbers) are linked as sources."""
    wanted = select(ClaimLink.claim_id).where(col(ClaimLink.reference_id).in_(references))
    return set(session.exec(wanted))


def citations_of(session: Session, reference: Reference) -> tuple[list[ClaimLink], list[Use]]:
    """Links of a reference to claims, and the uses that tell of it."""
    links = select(ClaimLink).where(ClaimLink.reference_id == reference.id).order_by(col(ClaimLink.id))
    uses = select(Use).where(Use.reference_id == reference.id).order_by(col(Use.id))
    return list(session.exec(links)), list(session.exec(uses))


def uses_touching(
    session: Session, claims: Collection[int], references: Collection[int]
) -> tuple[list[str], list[Use]]:
    """Keys of claims (by their row numbers), and every use that tells of one of them or of one of the references."""
    keys = list(session.exec(select(Claim.key).where(col(Claim.id).in_(claims))))
    told = or_(col(Use.claim_id).in_(claims), col(Use.reference_id).in_(references))
    return keys, list(session.exec(select(Use).where(told).order_by(Use.kind, Use.name)))
