"""Studies with all that belongs to them, in a fixed number of queries however many they are."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from sqlalchemy import func
from sqlmodel import Session, SQLModel, col, select

from evidence.catalogue.queries.finding import by_key, in_order
from evidence.catalogue.recording import chunks
from evidence.catalogue.tables import (
    Condition,
    Correlation,
    Outcome,
    People,
    RawTable,
    Reference,
    Result,
    Study,
    StudyReference,
)

Row = TypeVar("Row", bound=SQLModel)


@dataclass(frozen=True, slots=True)
class StudyRows:
    """A study and every row that belongs to it, in the order of recording; references by key."""

    study: Study
    people: tuple[People, ...]
    conditions: tuple[Condition, ...]
    outcomes: tuple[Outcome, ...]
    results: tuple[Result, ...]
    correlations: tuple[Correlation, ...]
    raw_tables: tuple[RawTable, ...]
    references: tuple[Reference, ...]
    links: tuple[StudyReference, ...] = ()  # the role of each reference, in the same order
    # What was worked out of this reading of the study, by what it is: claims that lean on the same study share it.
    worked_out: dict[Any, Any] = field(default_factory=dict, compare=False, repr=False)


def study_by_key(session: Session, key: str) -> Study:
    """The study with this key. Raises `NotFound`."""
    return by_key(session, Study, key, "study")


def study_by_digest(session: Session, digest: str) -> Study | None:
    """The study that was loaded from a file with this digest."""
    return session.exec(select(Study).where(Study.digest == digest)).first()


def list_studies(session: Session, keys: Collection[str] | None = None) -> list[Study]:
    """Every study, or those with the given keys."""
    statement = select(Study).order_by(in_order(session, Study.key))
    if keys is None:
        return list(session.exec(statement))
    if len(keys) > 500:
        return [study for study in session.exec(statement) if study.key in keys]
    return list(session.exec(statement.where(col(Study.key).in_(sorted(keys)))))


@dataclass(frozen=True, slots=True)
class StudySummary:
    """A study in one line: its people and results counted, its outcomes, and of its references role and CSL."""

    key: str
    design: str
    pairing: str
    invented: bool
    people: int
    results: int
    constructs: tuple[str, ...]
    references: tuple[tuple[str, dict[str, Any]], ...]  # role, CSL; by key


def summarise_studies(session: Session, numbers: Sequence[int] | None = None) -> list[StudySummary]:
    """Studies in one line, all or those of these row numbers, in five queries that read what is shown and no more."""

    def of(statement: Any, owner: Any) -> Any:
        return session.exec(statement if numbers is None else statement.where(col(owner).in_(numbers)))

    people = func.sum(func.coalesce(func.nullif(People.analysed, 0), People.recruited, 0))
    sizes = dict(of(select(People.study_id, people).group_by(col(People.study_id)), People.study_id).all())
    counted = select(Result.study_id, func.count(col(Result.id))).group_by(col(Result.study_id))
    results = dict(of(counted, Result.study_id).all())
    measured = select(Outcome.study_id, Outcome.construct_id).order_by(col(Outcome.id))
    constructs: dict[int, list[str]] = {}
    for owner, construct in of(measured, Outcome.study_id):
        constructs.setdefault(owner, []).append(construct)
    linked = (
        select(StudyReference.study_id, StudyReference.role, Reference.csl)
        .join(Reference, col(StudyReference.reference_id) == Reference.id)
        .order_by(in_order(session, Reference.key))
    )
    references: dict[int, list[tuple[str, dict[str, Any]]]] = {}
    for owner, role, csl in of(linked, StudyReference.study_id):
        references.setdefault(owner, []).append((role, csl))
    shown: tuple[Any, ...] = (Study.id, Study.key, Study.design, Study.pairing, Study.invented)
    return [
        StudySummary(
            key,
            design,
            pairing,
            invented,
            int(sizes.get(number) or 0),
            results.get(number, 0),
            tuple(dict.fromkeys(constructs.get(number, ()))),
            tuple(references.get(number, ())),
        )
        for number, key, design, pairing, invented in of(
            select(*shown).order_by(in_order(session, Study.key)), Study.id
        )
    ]


def study_rows(session: Session, study: Study) -> StudyRows:
    """One study with all that belongs to it."""
    return study_rows_of(session, [study])[0]


def studies_measuring(
    session: Session, construct_ids: Iterable[str], regions: Iterable[str] | None = None
) -> list[StudyRows]:
    """Studies with an outcome of one of the constructs and, given `regions`, a result in one of them.

    Regions are compared by id: the caller adds the portions and groups that count as well. All rows of each
    study come, not only the matching ones.
    """
    constructs = sorted(set(construct_ids))
    statement = select(Study).where(
        col(Study.id).in_(select(Outcome.study_id).where(col(Outcome.construct_id).in_(constructs)))
    )
    if regions is not None:
        measured = (
            select(Result.study_id)
            .join(Outcome, col(Result.outcome_id) == Outcome.id)
            .where(col(Result.region).in_(sorted(set(regions))), col(Outcome.construct_id).in_(constructs))
        )
        statement = statement.where(col(Study.id).in_(measured))
    return study_rows_of(session, session.exec(statement.order_by(in_order(session, Study.key))).all())


def study_rows_of(session: Session, studies: Sequence[Study]) -> list[StudyRows]:
    """Studies with all that belongs to them, in the order given."""
    ids = [study.id for study in studies if study.id is not None]
    people = _grouped(session, People, ids)
    conditions = _grouped(session, Condition, ids)
    outcomes = _grouped(session, Outcome, ids)
    results = _grouped(session, Result, ids)
    correlations = _grouped(session, Correlation, ids)
    raw_tables = _grouped(session, RawTable, ids)
    links = _references(session, ids)
    return [
        StudyRows(
            study=study,
            people=people.get(study.id, ()),
            conditions=conditions.get(study.id, ()),
            outcomes=outcomes.get(study.id, ()),
            results=results.get(study.id, ()),
            correlations=correlations.get(study.id, ()),
            raw_tables=raw_tables.get(study.id, ()),
            references=tuple(reference for link, reference in links.get(study.id, ())),
            links=tuple(link for link, reference in links.get(study.id, ())),
        )
        for study in studies
    ]


def _grouped(session: Session, model: type[Row], study_ids: Sequence[int]) -> dict[Any, tuple[Row, ...]]:
    grouped: dict[Any, list[Row]] = {}
    table: Any = model
    for part in chunks(study_ids):
        for row in session.exec(select(model).where(table.study_id.in_(part)).order_by(table.id)):
            grouped.setdefault(row.study_id, []).append(row)  # type: ignore[attr-defined]
    return {study_id: tuple(rows) for study_id, rows in grouped.items()}


def _references(
    session: Session, study_ids: Sequence[int]
) -> dict[Any, list[tuple[StudyReference, Reference]]]:
    grouped: dict[Any, list[tuple[StudyReference, Reference]]] = {}
    for part in chunks(study_ids):
        statement = (
            select(StudyReference, Reference)
            .join(Reference, col(StudyReference.reference_id) == Reference.id)
            .where(col(StudyReference.study_id).in_(part))
            .order_by(in_order(session, Reference.key))
        )
        for link, reference in session.exec(statement):
            grouped.setdefault(link.study_id, []).append((link, reference))
    return grouped
