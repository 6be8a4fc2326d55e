"""Lists too long for one page: the rows of one page, and how many there are."""

from dataclasses import dataclass
from typing import Generic, TypeVar

from sqlalchemy import String, cast, func, or_
from sqlmodel import Session, SQLModel, col, select

from evidence.catalogue.queries.finding import in_order
from evidence.catalogue.tables import Outcome, Result, Study

Row = TypeVar("Row", bound=SQLModel)


@dataclass(frozen=True, slots=True)
class Page(Generic[Row]):
    """Some rows of a list; `total` are all that fit."""

    rows: tuple[Row, ...]
    total: int


def page_of_studies(
    session: Session,
    words: str = "",
    *,
    construct_id: str | None = None,
    region: str | None = None,
    limit: int = 50,
    offset: int = 0,
) -> Page[Study]:
    """Studies with every word in key, title or year that measured an outcome or a region, in the order of keys."""
    conditions = [
        or_(
            func.lower(col(Study.key)).contains(word, autoescape=True),
            func.lower(col(Study.title)).contains(word, autoescape=True),
            cast(col(Study.year), String) == word,
        )
        for word in words.replace("\x00", " ").lower().split()
    ]
    if construct_id is not None:
        measured = select(Outcome.study_id).where(Outcome.construct_id == construct_id)
        conditions.append(col(Study.id).in_(measured))
    if region is not None:
        conditions.append(col(Study.id).in_(select(Result.study_id).where(Result.region == region)))
    total = session.exec(select(func.count(col(Study.id))).where(*conditions)).one()
    ordered = select(Study).where(*conditions).order_by(in_order(session, Study.key))
    return Page(tuple(session.exec(ordered.limit(limit).offset(offset))), total)
