"""Many claims at once: what people decided of them, and the studies that may bear on them."""

from collections.abc import Collection, Iterable
from typing import TypeVar

from sqlmodel import Session, SQLModel, col, select

from evidence.catalogue.queries.finding import in_order
from evidence.catalogue.queries.studies import StudyRows, study_rows_of
from evidence.catalogue.recording import chunks
from evidence.catalogue.tables import Appraisal, Claim, Condition, Exclusion, Outcome, Override, Result, Study

Row = TypeVar("Row", bound=SQLModel)


def claims_with_keys(session: Session, keys: Iterable[str] | None) -> list[Claim]:
    """The claims with these keys, or all; keys that the catalogue does not hold are passed over."""
    if keys is None:
        return list(session.exec(select(Claim).order_by(in_order(session, Claim.key))))
    found: list[Claim] = []
    for part in chunks(sorted(set(keys))):
        found += session.exec(
            select(Claim).where(col(Claim.key).in_(part)).order_by(in_order(session, Claim.key))
        )
    return found


def claims_never_weighed(session: Session) -> list[str]:
    """Keys of the claims of which nothing was found yet."""
    weighed = select(Appraisal.id).where(Appraisal.claim_id == Claim.id).exists()
    return list(session.exec(select(Claim.key).where(~weighed).order_by(in_order(session, Claim.key))))


def exclusions_by_claim(session: Session) -> dict[int, list[Exclusion]]:
    """What people left out, by the claim's row number, oldest first."""
    return _by_claim(session, Exclusion)


def overrides_by_claim(session: Session) -> dict[int, list[Override]]:
    """What people chose over proposed ratings, by the claim's row number, oldest first."""
    return _by_claim(session, Override)


def studies_doing(
    session: Session, constructs: Collection[str], exercises: Collection[str] | None
) -> list[StudyRows]:
    """Studies that measured one of the constructs and, given `exercises`, in which one of them was done."""
    measured = select(Outcome.study_id).where(col(Outcome.construct_id).in_(sorted(constructs)))
    statement = select(Study).where(col(Study.id).in_(measured))
    if exercises is not None:
        done = select(Condition.study_id).where(col(Condition.exercise).in_(sorted(exercises)))
        statement = statement.where(col(Study.id).in_(done))
    return study_rows_of(session, session.exec(statement.order_by(in_order(session, Study.key))).all())


def studies_comparing(
    session: Session,
    constructs: Collection[str],
    sides: Iterable[Collection[str]],
    regions: Collection[str] | None,
) -> list[StudyRows]:
    """Studies that measured one of the constructs on one of the regions, with an exercise of each side; None: any."""
    measured = (
        select(Result.study_id)
        .join(Outcome, col(Result.outcome_id) == Outcome.id)
        .where(col(Outcome.construct_id).in_(sorted(constructs)))
    )
    if regions is not None:
        measured = measured.where(col(Result.region).in_(sorted(regions)))
    statement = select(Study).where(col(Study.id).in_(measured))
    for side in sides:
        done = select(Condition.study_id).where(col(Condition.exercise).in_(sorted(side)))
        statement = statement.where(col(Study.id).in_(done))
    return study_rows_of(session, session.exec(statement.order_by(in_order(session, Study.key))).all())


def _by_claim(session: Session, model: type[Row]) -> dict[int, list[Row]]:
    table = model.__table__.c  # type: ignore[attr-defined]
    found: dict[int, list[Row]] = {}
    for row in session.exec(select(model).order_by(table.at, table.id)):
        found.setdefault(row.claim_id, []).append(row)  # type: ignore[attr-defined]
    return found


def claims_numbered(session: Session, numbers: Iterable[int]) -> list[Claim]:
    """Claims by their row numbers."""
    found: list[Claim] = []
    for part in chunks(sorted(set(numbers))):
        found += session.exec(select(Claim).where(col(Claim.id).in_(part)))
    return found
