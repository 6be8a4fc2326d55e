"""Programmes as stored."""

from sqlmodel import Session, select

from evidence.catalogue.queries.finding import by_key, in_order
from evidence.catalogue.tables import Draft, Programme


def list_programmes(session: Session) -> list[Programme]:
    """Every programme."""
    return list(session.exec(select(Programme).order_by(in_order(session, Programme.key))))


def programme_by_key(session: Session, key: str) -> Programme:
    """The programme with this key. Raises `NotFound`."""
    return by_key(session, Programme, key, "programme")


def draft_by_key(session: Session, key: str) -> Draft:
    """The draft with this key. Raises `NotFound`."""
    return by_key(session, Draft, key, "draft")
