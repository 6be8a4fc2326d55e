"""Which appraisal of each claim is the first, the last, and the last that a person has seen; without their bodies."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlmodel import Session, col
from sqlmodel import select as select_rows

from evidence.catalogue.recording import chunks
from evidence.catalogue.snapshots import table_of
from evidence.catalogue.tables import Appraisal, Reference, Use

_APPRAISAL = table_of(Appraisal)
SEEN = "seen"  # the part of an appraisal's body that says who saw or reviewed it


@dataclass(frozen=True, slots=True)
class Weighed:
    """One appraisal in short: when, by which versions, and whether somebody has seen or reviewed it."""

    number: int
    claim: int
    at: datetime
    versions: tuple[str, str, str]  # steelyard, rule set, version of the rules
    seen: bool
    reviewed: bool


def weighed_claims(session: Session) -> dict[int, list[Weighed]]:
    """Every appraisal in short, by the claim's row number, oldest first."""
    column = _APPRAISAL.c
    wanted = select(
        column.id,
        column.claim_id,
        column.at,
        *(column.versions[name].as_string() for name in ("steelyard", "rule_set", "rules")),
        column.body[(SEEN, "as")].as_string(),
    ).order_by(column.at, column.id)
    found: dict[int, list[Weighed]] = {}
    for number, claim, at, program, rule_set, rules, seen in session.connection().execute(wanted):
        versions = (program or "", rule_set or "", rules or "")
        found.setdefault(claim, []).append(
            Weighed(number, claim, at, versions, seen is not None, seen == "reviewed")
        )
    return found


def appraisals_numbered(session: Session, numbers: Iterable[int]) -> dict[int, Appraisal]:
    """Whole appraisals by their row numbers."""
    found: dict[int, Appraisal] = {}
    for part in chunks(sorted(set(numbers))):
        for row in session.exec(select_rows(Appraisal).where(col(Appraisal.id).in_(part))):
            found[row.id or 0] = row
    return found


def all_uses(session: Session) -> list[Use]:
    """Everything that went out, oldest first."""
    return list(session.exec(select_rows(Use).order_by(col(Use.at), col(Use.id))))


def uses_of_claims(session: Session, claims: Iterable[int]) -> list[Use]:
    """What went out and told of these claims, oldest first."""
    found: list[Use] = []
    for part in chunks(sorted(set(claims))):
        found += session.exec(select_rows(Use).where(col(Use.claim_id).in_(part)))
    return sorted(found, key=lambda use: (use.at, use.id or 0))


def uses_of_reference(session: Session, reference: Reference) -> list[Use]:
    """What went out and named this reference, oldest first."""
    wanted = select_rows(Use).where(Use.reference_id == reference.id).order_by(col(Use.at), col(Use.id))
    return list(session.exec(wanted))
