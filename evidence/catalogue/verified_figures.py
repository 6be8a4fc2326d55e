"""A verified figure that is edited is no longer verified: whoever verified it saw another one."""

from typing import Any

from sqlalchemy import event, inspect
from sqlalchemy.orm import UOWTransaction
from sqlmodel import Session

from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Result

FIGURES = (
    "value", "spread", "spread_kind", "low", "high", "level", "n", "events", "person_time", "test", "p", "printed",
    "statistic", "timepoint", "region", "condition_id", "comparator_id", "outcome_id",
)  # fmt: skip


def figures_changed(result: Result) -> bool:
    """Whether an edit in a running session changes a printed figure, or what it is of."""
    attributes = inspect(result).attrs
    return any(attributes[name].history.has_changes() for name in FIGURES)


@event.listens_for(ChangingSession, "before_flush")
def _clear(session: Session, context: UOWTransaction, instances: Any) -> None:
    for row in session.dirty:
        if isinstance(row, Result) and row.verified_by and figures_changed(row) and not said_anew(row):
            row.verified_by = None


def said_anew(result: Result) -> bool:
    """Whether the same edit also says who verified it."""
    return bool(inspect(result).attrs["verified_by"].history.has_changes())
