"""Claims, what people decided about them, what was found, and where it was told."""

from collections.abc import Collection
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, func
from sqlmodel import Session, col, select

from evidence.catalogue.queries.finding import by_key, in_order
from evidence.catalogue.recording import CHUNK
from evidence.catalogue.tables import Appraisal, Change, ChangeSet, Claim, Exclusion, Override, Use


def claim_by_key(session: Session, key: str) -> Claim:
    """The claim with this key. Raises `NotFound`."""
    return by_key(session, Claim, key, "claim")


def list_claims(
    session: Session,
    *,
    exercises: Collection[str] | None = None,
    regions: Collection[str] | None = None,
    constructs: Collection[str] | None = None,
) -> list[Claim]:
    """Claims; `exercises` on either side of the comparison. None: no restriction."""
    statement = select(Claim).order_by(in_order(session, Claim.key))
    if exercises is not None:
        named = sorted(exercises)
        statement = statement.where(col(Claim.exercise).in_(named) | col(Claim.comparator).in_(named))
    if regions is not None:
        statement = statement.where(col(Claim.region).in_(sorted(regions)))
    if constructs is not None:
        statement = statement.where(col(Claim.construct_id).in_(sorted(constructs)))
    return list(session.exec(statement))


def exclusions_of(session: Session, claim: Claim) -> list[Exclusion]:
    """What a person left out of a claim, oldest first."""
    statement = select(Exclusion).where(Exclusion.claim_id == claim.id)
    return list(session.exec(statement.order_by(col(Exclusion.at), col(Exclusion.id))))


def overrides_of(session: Session, claim: Claim) -> list[Override]:
    """Ratings that a person chose over proposed ones, oldest first: the last one of a domain holds."""
    statement = select(Override).where(Override.claim_id == claim.id)
    return list(session.exec(statement.order_by(col(Override.at), col(Override.id))))


def appraisals_of(session: Session, claim: Claim) -> list[Appraisal]:
    """What was found of a claim over time, oldest first."""
    statement = select(Appraisal).where(Appraisal.claim_id == claim.id)
    return list(session.exec(statement.order_by(col(Appraisal.at), col(Appraisal.id))))


def latest_appraisal(session: Session, claim: Claim) -> Appraisal | None:
    """What was found of a claim most recently; None before it was ever weighed."""
    statement = select(Appraisal).where(Appraisal.claim_id == claim.id)
    return session.exec(
        statement.order_by(col(Appraisal.at).desc(), col(Appraisal.id).desc()).limit(1)
    ).first()


def latest_appraisals(session: Session, claims: Collection[int] | None = None) -> dict[int, Appraisal]:
    """The most recent appraisal of every claim that has one, or of these, by the claim's row number, in one query."""
    place = func.row_number().over(
        partition_by=col(Appraisal.claim_id), order_by=(col(Appraisal.at).desc(), col(Appraisal.id).desc())
    )
    numbered: Any = select(col(Appraisal.id).label("id"), place.label("place"))
    if claims is not None and len(claims) <= CHUNK:  # of more, passing over some costs more than reading all
        numbered = numbered.where(col(Appraisal.claim_id).in_(sorted(claims)))
    ranked = numbered.subquery()
    statement = select(Appraisal).join(ranked, ranked.c.id == Appraisal.id).where(ranked.c.place == 1)
    return {appraisal.claim_id: appraisal for appraisal in session.exec(statement)}


def uses_of(session: Session, claim: Claim) -> list[Use]:
    """What went out and said something of a claim, oldest first."""
    return list(session.exec(select(Use).where(Use.claim_id == claim.id).order_by(col(Use.at), col(Use.id))))


def uses_named(session: Session, kind: str, name: str) -> list[Use]:
    """All that one thing which went out (a programme, a brief) said, oldest first."""
    statement = select(Use).where(Use.kind == kind, Use.name == name)
    return list(session.exec(statement.order_by(col(Use.at), col(Use.id))))


def uses_of_kind(session: Session, kind: str) -> list[Use]:
    """All that went out of one kind (rankings, briefs), oldest first."""
    return list(session.exec(select(Use).where(Use.kind == kind).order_by(col(Use.at), col(Use.id))))


EVIDENCE = (
    "reference", "study_reference", "study", "people", "condition", "outcome", "result", "correlation", "exclusion",
    "override", "claim_link", "rating", "own_exercise", "own_alias",
)  # fmt: skip


def last_content_change(session: Session) -> datetime | None:
    """When anything that a catalogue's state covers last changed: not looking, not telling; None: never."""
    return _last_with(session, col(Change.table_name).not_in(("appraisal", "use", "draft", "programme")))


def last_evidence_change(session: Session) -> datetime | None:
    """When anything that a weighing rests on was last added, edited or removed; None: never."""
    return _last_with(session, col(Change.table_name).in_(EVIDENCE))


def _last_with(session: Session, changed: ColumnElement[bool]) -> datetime | None:
    """When the last change set with such a row was; of each set rows are looked at until one is found."""
    found = select(Change.id).where(Change.change_set_id == ChangeSet.id, changed).exists()
    return session.exec(select(func.max(ChangeSet.at)).where(found)).one()
