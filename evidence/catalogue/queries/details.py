"""Which details conditions carry, and how many conditions carry each."""

from collections import Counter

from sqlmodel import Session, select

from evidence.catalogue.tables import Condition


def detail_names(session: Session) -> dict[str, int]:
    """Names of the details and of the dose of all conditions, with the number of conditions."""
    found: Counter[str] = Counter()
    for details, dose in session.exec(select(Condition.details, Condition.dose)):
        found.update({*(details or {}), *(dose or {})})
    return dict(found)
