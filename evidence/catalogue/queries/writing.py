"""Drafts as stored, and the references that people have set against claims."""

from sqlmodel import Session, col, select

from evidence.catalogue.queries.finding import by_key, in_order
from evidence.catalogue.tables import ClaimLink, Draft, Reference


def draft_by_key(session: Session, key: str) -> Draft:
    """The draft with this key. Raises `NotFound`."""
    return by_key(session, Draft, key, "draft")


def find_draft(session: Session, key: str) -> Draft | None:
    """The draft with this key, where it was stored."""
    return session.exec(select(Draft).where(Draft.key == key)).first() if "\x00" not in key else None


def list_drafts(session: Session) -> list[Draft]:
    """Every draft."""
    return list(session.exec(select(Draft).order_by(in_order(session, Draft.key))))


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
