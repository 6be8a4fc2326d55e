"""What changed of all that claims rest on: which studies, references, claims and exercises, when, by whom."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import Select, func, select
from sqlmodel import Session

from evidence.catalogue.queries.claims import EVIDENCE
from evidence.catalogue.recording import chunks
from evidence.catalogue.snapshots import table_of
from evidence.catalogue.tables import (
    Change,
    ChangeSet,
    Claim,
    Condition,
    Outcome,
    Reference,
    Result,
    Study,
    StudyReference,
)

_CHANGE, _SET = table_of(Change), table_of(ChangeSet)
_CLAIM, _STUDY, _REFERENCE, _LINK = (
    table_of(Claim),
    table_of(Study),
    table_of(Reference),
    table_of(StudyReference),
)


@dataclass(frozen=True, slots=True)
class Step:
    """One change set, as it is named when something is told to come from it."""

    number: int
    at: datetime
    who: str
    action: str


@dataclass(slots=True)
class StudyTouched:
    """A study of which something changed, with every exercise, outcome and region it has or had.

    `results`: by the number of a change that touched nothing but figures, the outcomes and regions of these.
    """

    key: str
    steps: list[Step] = field(default_factory=list)
    added: bool = False
    removed: bool = False
    exercises: set[str] = field(default_factory=set)
    constructs: set[str] = field(default_factory=set)
    regions: set[str | None] = field(default_factory=set)
    results: dict[int, set[tuple[str, str | None]]] = field(default_factory=dict)

    @property
    def last(self) -> datetime:
        """When it was last touched."""
        return max(step.at for step in self.steps)


@dataclass(frozen=True, slots=True)
class NoticeChange:
    """A notice that was put on a reference, or taken off."""

    reference: str
    before: str | None
    now: str | None
    step: Step


@dataclass(slots=True)
class EvidenceChanges:
    """All that changed since a time. Claims by their row number; exercises: the user's own, by key.

    `beside`: claims with the numbers of changes that left alone what they ask (a note, the day of a review).
    """

    studies: dict[int, StudyTouched] = field(default_factory=dict)
    claims: dict[int, list[Step]] = field(default_factory=dict)
    exercises: dict[str, list[Step]] = field(default_factory=dict)
    notices: list[NoticeChange] = field(default_factory=list)
    beside: set[tuple[int, int]] = field(default_factory=set)


def evidence_changes(session: Session, since: datetime) -> EvidenceChanges:
    """What changed after `since`. The work grows with the changes, not with the catalogue."""
    found = EvidenceChanges()
    later = {
        row["id"]: Step(row["id"], row["at"], row["who"], row["action"])
        for row in session.connection().execute(select(_SET).where(_SET.c.at > since)).mappings()
    }
    references: dict[int, list[Step]] = {}
    for part in chunks(sorted(later)):
        for row in session.connection().execute(_changed_rows(part)).mappings():
            _note(found, references, row, later[row["change_set_id"]])
    _follow_references(session, found, references)
    _complete(session, found)
    return found


def _changed_rows(sets: Collection[int]) -> Select[Any]:
    """The changed rows with the few of their columns that say what they concern."""

    def either(column: str, number: bool = False) -> Any:
        kept = [_CHANGE.c.after[column], _CHANGE.c.before[column]]
        return func.coalesce(*(k.as_integer() if number else k.as_string() for k in kept)).label(column)

    return (
        select(
            _CHANGE.c.change_set_id,
            _CHANGE.c.table_name,
            _CHANGE.c.row_id,
            _CHANGE.c.row_key,
            _CHANGE.c.operation,
            either("study_id", True),
            either("claim_id", True),
            either("reference_id", True),
            either("exercise"),
            either("construct_id"),
            either("region"),
            _CHANGE.c.before["notice"].as_string().label("notice_before"),
            _CHANGE.c.after["notice"].as_string().label("notice_after"),
        )
        .where(_CHANGE.c.change_set_id.in_(sets), _CHANGE.c.table_name.in_((*EVIDENCE, "claim")))
        .order_by(_CHANGE.c.id)
    )


def _note(
    found: EvidenceChanges, references: dict[int, list[Step]], row: Mapping[Any, Any], step: Step
) -> None:
    get = row.__getitem__
    table = get("table_name")
    if table == "claim":
        found.claims.setdefault(get("row_id"), []).append(step)
    elif get("claim_id") is not None:
        found.claims.setdefault(get("claim_id"), []).append(step)
    elif table == "own_exercise":
        found.exercises.setdefault(get("row_key"), []).append(step)
    elif table == "reference" and get("notice_before") != get("notice_after"):
        # All else of a reference (its title, when notices were last looked for) changes no answer.
        references.setdefault(get("row_id"), []).append(step)
        found.notices.append(NoticeChange(get("row_key"), get("notice_before"), get("notice_after"), step))
    number = get("row_id") if table == "study" else get("study_id")
    if number is None or table in ("exclusion", "claim_link"):
        return
    study = found.studies.setdefault(number, StudyTouched(""))
    _add_step(study, step)
    if table == "study":
        study.key = get("row_key")
        study.added |= get("operation") == "add"
        study.removed = get("operation") == "remove"
    elif table == "condition" and get("exercise"):
        study.exercises.add(get("exercise"))
    elif table == "outcome":
        study.constructs.add(get("construct_id"))
    elif table == "result":
        study.regions.add(get("region"))


def _add_step(study: StudyTouched, step: Step) -> None:
    if not study.steps or study.steps[-1].number != step.number:
        study.steps.append(step)


def _follow_references(session: Session, found: EvidenceChanges, references: dict[int, list[Step]]) -> None:
    """A notice touches the studies that the reference reports."""
    for part in chunks(sorted(references)):
        linked = select(_LINK.c.reference_id, _LINK.c.study_id).where(_LINK.c.reference_id.in_(part))
        for reference, study in session.connection().execute(linked):
            touched = found.studies.setdefault(study, StudyTouched(""))
            for step in references[reference]:
                _add_step(touched, step)


# Columns that no answer depends on: of a claim, and of a printed figure.
BESIDE = {
    "claim": frozenset({"note", "review_due", "falsifier", "added_at", "added_by"}),
    "result": frozenset({"verified_by", "verified_at", "note"}),
}


def tell_apart(session: Session, found: EvidenceChanges, since: datetime) -> None:
    """Add which changes after `since` are of figures alone, and of which; and which of claims ask nothing new."""
    later = sorted(session.connection().execute(select(_SET.c.id).where(_SET.c.at > since)).scalars())
    numbers: dict[int, dict[int, set[tuple[int, str | None]]]] = {}
    general: set[tuple[int, int]] = set()
    asked: set[tuple[int, int]] = set()
    for part in chunks(later):
        rows = select(_CHANGE).where(
            _CHANGE.c.change_set_id.in_(part), _CHANGE.c.table_name.in_((*EVIDENCE, "claim"))
        )
        for row in session.connection().execute(rows).mappings():
            before, after = row["before"] or {}, row["after"] or {}
            held, number = {**before, **after}, row["change_set_id"]
            if row["table_name"] == "claim":
                (found.beside if _is_beside(row["table_name"], before, after) else asked).add(
                    (row["row_id"], number)
                )
            elif held.get("claim_id") is not None:
                asked.add((held["claim_id"], number))
            elif row["table_name"] == "result":
                places = numbers.setdefault(held["study_id"], {}).setdefault(number, set())
                if not _is_beside("result", before, after):
                    places |= {(r["outcome_id"], r["region"]) for r in (before, after) if r}
            elif row["table_name"] == "study" or held.get("study_id") is not None:
                general.add((row["row_id"] if row["table_name"] == "study" else held["study_id"], number))
    found.beside -= asked
    outcome = table_of(Outcome).c
    constructs: dict[int, str] = {}
    for part in chunks(
        sorted({o for sets in numbers.values() for places in sets.values() for o, _ in places})
    ):
        named = select(outcome.id, outcome.construct_id).where(outcome.id.in_(part))
        constructs |= {row[0]: row[1] for row in session.connection().execute(named)}
    for study, sets in numbers.items():
        for number, places in sets.items():
            known = all(o in constructs for o, _ in places)  # an outcome may be gone since
            if study in found.studies and known and (study, number) not in general:
                found.studies[study].results[number] = {(constructs[o], region) for o, region in places}


def _is_beside(table: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> bool:
    """Whether a row was changed in nothing that an answer depends on."""
    if not before or not after:
        return False
    return all(before.get(name) == after.get(name) for name in {*before, *after} - BESIDE[table])


def _complete(session: Session, found: EvidenceChanges) -> None:
    """Give each touched study that is still there its key and all that it compares now."""
    connection = session.connection()
    exercise, construct, region = table_of(Condition).c, table_of(Outcome).c, table_of(Result).c
    for part in chunks(sorted(found.studies)):
        for number, key in connection.execute(select(_STUDY.c.id, _STUDY.c.key).where(_STUDY.c.id.in_(part))):
            found.studies[number].key = key
        kinds = (
            (exercise.study_id, exercise.exercise, "exercises"),
            (construct.study_id, construct.construct_id, "constructs"),
            (region.study_id, region.region, "regions"),
        )
        for owner, column, name in kinds:
            for number, value in connection.execute(select(owner, column).where(owner.in_(part)).distinct()):
                if value is not None or name == "regions":
                    getattr(found.studies[number], name).add(value)


def claims_comparing(
    session: Session,
    constructs: Collection[str],
    exercises: Collection[str],
    regions: Collection[str | None],
    paired: Collection[str],
) -> list[int]:
    """Row numbers of claims that results on these outcomes, of these exercises, in these regions, can bear on.

    The caller adds related exercises and regions. `paired`: kinds of claim that hold one exercise against another;
    those of other kinds are found by outcome alone.
    """
    claim = _CLAIM.c
    named = sorted(r for r in regions if r is not None)
    of_outcome = claim.construct_id.in_(sorted(constructs)) | claim.surrogate.in_(sorted(constructs))
    done = sorted(exercises)
    one = claim.exercise.is_(None) | claim.exercise.in_(done)
    other = claim.comparator.is_(None) | claim.comparator.in_(done)
    there = claim.region.is_(None) | claim.region.in_(named)
    wanted = of_outcome & ((claim.kind.not_in(sorted(paired))) | (one & other & there))
    return list(session.connection().execute(select(claim.id).where(wanted)).scalars())


@dataclass(frozen=True, slots=True)
class Compared:
    """What a claim compares, by which studies that can bear on it are found; `number`: its row."""

    number: int
    kind: str
    construct_id: str
    surrogate: str | None
    exercise: str | None
    comparator: str | None
    region: str | None


def compared_by_claims(session: Session) -> list[Compared]:
    """What every claim compares."""
    claim = _CLAIM.c
    columns = (
        claim.id, claim.kind, claim.construct_id, claim.surrogate, claim.exercise, claim.comparator, claim.region,
    )  # fmt: skip
    return [Compared(*row) for row in session.connection().execute(select(*columns))]


def claims_naming(session: Session, exercises: Iterable[str]) -> list[int]:
    """Row numbers of claims with one of these exercises on either side."""
    claim, named = _CLAIM.c, sorted(exercises)
    wanted = claim.exercise.in_(named) | claim.comparator.in_(named)
    return list(session.connection().execute(select(claim.id).where(wanted)).scalars())
