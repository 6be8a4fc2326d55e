"""How much the catalogue holds on each region and exercise, counted in the database."""

from dataclasses import dataclass

from sqlalchemy import func, or_
from sqlmodel import Session, SQLModel, col, select

from evidence.catalogue.tables import Claim, Condition, Draft, Outcome, Programme, Reference, Result, Study


@dataclass(frozen=True, slots=True)
class Holdings:
    """Rows of each kind."""

    references: int
    studies: int
    results: int
    claims: int
    drafts: int
    programmes: int


def count_holdings(session: Session) -> Holdings:
    """How many rows of each kind there are."""
    kinds: tuple[type[SQLModel], ...] = (Reference, Study, Result, Claim, Draft, Programme)
    return Holdings(*(session.exec(select(func.count()).select_from(kind)).one() for kind in kinds))


def count_invented(session: Session) -> tuple[int, int]:
    """How many studies are marked as invented, and how many there are."""
    made_up = select(func.count()).select_from(Study).where(col(Study.invented).is_(True))
    return session.exec(made_up).one(), session.exec(select(func.count()).select_from(Study)).one()


def studies_by_region(session: Session) -> dict[tuple[str, str], frozenset[int]]:
    """The row numbers of studies with a result, by region and construct: one study may have measured several parts."""
    statement = (
        select(Result.region, Outcome.construct_id, Result.study_id)
        .join(Outcome, col(Result.outcome_id) == Outcome.id)
        .where(col(Result.region).is_not(None))
        .distinct()
    )
    found: dict[tuple[str, str], set[int]] = {}
    for region, construct, study in session.exec(statement):
        found.setdefault((str(region), construct), set()).add(study)
    return {place: frozenset(studies) for place, studies in found.items()}


def claims_by_region(session: Session) -> dict[str, int]:
    """Claims by region."""
    statement = (
        select(Claim.region, func.count()).where(col(Claim.region).is_not(None)).group_by(col(Claim.region))
    )
    return {str(region): number for region, number in session.exec(statement)}


def studies_by_exercise(session: Session) -> dict[str, int]:
    """Studies with a condition of each exercise."""
    statement = (
        select(Condition.exercise, func.count(func.distinct(Condition.study_id)))
        .where(col(Condition.exercise).is_not(None))
        .group_by(col(Condition.exercise))
    )
    return {str(exercise): number for exercise, number in session.exec(statement)}


def studies_with_exercise(session: Session, exercises: list[str], most: int) -> list[Study]:
    """Studies with a condition of one of the exercises."""
    done = select(Condition.study_id).where(col(Condition.exercise).in_(exercises))
    return list(
        session.exec(select(Study).where(col(Study.id).in_(done)).order_by(col(Study.key)).limit(most))
    )


def claims_with_words(session: Session, words: str, most: int) -> tuple[list[Claim], int]:
    """Claims whose statement or key holds every word, and how many there are."""
    conditions = [
        or_(
            func.lower(col(Claim.statement)).contains(word, autoescape=True),
            func.lower(col(Claim.key)).contains(word, autoescape=True),
        )
        for word in words.replace("\x00", " ").lower().split()
    ]
    total = session.exec(select(func.count(col(Claim.id))).where(*conditions)).one()
    return list(session.exec(select(Claim).where(*conditions).order_by(col(Claim.key)).limit(most))), total
