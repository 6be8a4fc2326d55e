"""Which appraisal of each claim is the first, the last, and the last that a person has seen; without their bodies."""

import json
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import String, cast, null, or_, select
from sqlmodel import Session, col
from sqlmodel import select as select_rows

from evidence.catalogue.recording import chunks
from evidence.catalogue.snapshots import table_of
from evidence.catalogue.tables import Appraisal, Claim, Reference, Study, StudyReference, Use

_APPRAISAL = table_of(Appraisal)
_MOST_NAMED = 100  # studies that are looked for by name; of more, all appraisals are given
SEEN = "seen"  # the part of an appraisal's body that says who saw or reviewed it


@dataclass(frozen=True, slots=True)
class Weighed:
    """One appraisal in short: when, by which versions, and whether somebody has seen or reviewed it."""

    number: int
    claim: int
    at: datetime
    versions: tuple[str, str, str]  # steelyard, rule set, version of the rules
    confidence: str
    seen: bool
    reviewed: bool


def weighed_claims(
    session: Session, claims: Iterable[int] | None = None, *, marks: bool = True
) -> dict[int, list[Weighed]]:
    """Every appraisal in short, of these claims or of all, by the claim's row number, oldest first.

    Without `marks` it is not looked up who saw or reviewed it, for which the long text of each has to be read.
    """
    column = _APPRAISAL.c
    wanted = select(
        column.id,
        column.claim_id,
        column.at,
        column.versions["steelyard"].as_string(),
        column.versions["rule_set"].as_string(),
        column.versions["rules"].as_string(),
        column.confidence,
        column.body[(SEEN, "as")].as_string() if marks else null(),
    ).order_by(column.at, column.id)
    found: dict[int, list[Weighed]] = {}
    parts = (
        [wanted]
        if claims is None
        else [wanted.where(column.claim_id.in_(part)) for part in chunks(sorted(set(claims)))]
    )
    for part in parts:
        for number, claim, at, program, rule_set, rules, level, seen in session.connection().execute(part):
            versions = (program or "", rule_set or "", rules or "")
            found.setdefault(claim, []).append(
                Weighed(number, claim, at, versions, level, seen is not None, seen == "reviewed")
            )
    return found


@dataclass(frozen=True, slots=True)
class LastWeighed:
    """The last appraisal of a claim in short: its row number, when, and the hash of what went in."""

    number: int
    at: datetime
    inputs_hash: str


def last_weighed(session: Session, claims: Iterable[int]) -> dict[int, LastWeighed]:
    """The last appraisal in short of each of these claims that has one."""
    column = _APPRAISAL.c
    found: dict[int, LastWeighed] = {}
    for part in chunks(sorted(set(claims))):
        wanted = select(column.claim_id, column.id, column.at, column.inputs_hash).where(
            column.claim_id.in_(part)
        )
        for claim, *rest in session.connection().execute(wanted.order_by(column.at, column.id)):
            found[claim] = LastWeighed(*rest)
    return found


def last_appraisals_naming(session: Session, studies: Collection[str]) -> list[Appraisal]:
    """The last appraisal of each claim in whose text one of these studies is named; of many studies, of each claim."""
    if not studies:
        return []
    column, later = _APPRAISAL.c, _APPRAISAL.alias().c
    text = cast(column.body, String)
    named = or_(*(text.contains(json.dumps(key), autoescape=True) for key in sorted(studies)[:_MOST_NAMED]))
    came_later = (later.at > column.at) | ((later.at == column.at) & (later.id > column.id))
    follows = select(later.id).where(later.claim_id == column.claim_id, came_later).exists()
    wanted = select_rows(Appraisal).where(~follows)
    return list(session.exec(wanted if len(studies) > _MOST_NAMED else wanted.where(named)))


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


def uses_numbered(session: Session, numbers: Iterable[int]) -> list[Use]:
    """Uses by their row numbers."""
    found: list[Use] = []
    for part in chunks(sorted(set(numbers))):
        found += session.exec(select_rows(Use).where(col(Use.id).in_(part)))
    return found


def uses_of_reference(session: Session, reference: Reference) -> list[Use]:
    """What went out and named this reference, oldest first."""
    wanted = select_rows(Use).where(Use.reference_id == reference.id).order_by(col(Use.at), col(Use.id))
    return list(session.exec(wanted))


def reference_names(session: Session, numbers: Iterable[int]) -> dict[int, tuple[str, str | None]]:
    """Key and notice of references, by row number."""
    column = table_of(Reference).c
    found: dict[int, tuple[str, str | None]] = {}
    for part in chunks(sorted(set(numbers))):
        wanted = select(column.id, column.key, column.notice).where(column.id.in_(part))
        found |= {row[0]: (row[1], row[2]) for row in session.connection().execute(wanted)}
    return found


def catalogue_keys(session: Session) -> list[str]:
    """The keys of all claims and references."""
    connection = session.connection()
    return [
        key
        for table in (Claim, Reference)
        for key in connection.execute(select(table_of(table).c.key)).scalars()
    ]


def references_of_studies(session: Session, keys: Iterable[str]) -> dict[str, frozenset[str]]:
    """By the key of a reference, the keys of the studies that it reports."""
    reference, study, link = table_of(Reference).c, table_of(Study).c, table_of(StudyReference).c
    found: dict[str, set[str]] = {}
    for part in chunks(sorted(set(keys))):
        wanted = select(reference.key, study.key).where(
            link.reference_id == reference.id, link.study_id == study.id, reference.key.in_(part)
        )
        for one, other in session.connection().execute(wanted):
            found.setdefault(one, set()).add(other)
    return {key: frozenset(studies) for key, studies in found.items()}


def any_invented(session: Session, keys: Iterable[str]) -> bool:
    """Whether any of these studies is demonstration data."""
    study = table_of(Study).c
    for part in chunks(sorted(set(keys))):
        wanted = select(study.id).where(study.key.in_(part), study.invented.is_(True)).limit(1)
        if session.connection().execute(wanted).first() is not None:
            return True
    return False
