"""What each study is about, and what is said against each reference, read in a few columns."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from evidence.catalogue.queries.finding import in_order
from evidence.catalogue.tables import Condition, People, Reference, Result, Study, StudyReference


@dataclass(frozen=True, slots=True)
class StudyContents:
    """Keys of the references of a study, the numbers of its people, and ids of its exercises and regions, each once."""

    references: tuple[str, ...]
    sizes: tuple[int, ...]
    exercises: tuple[str, ...]
    regions: tuple[str, ...]


def outline_contents(session: Session) -> list[StudyContents]:
    """What every study is about, in four queries, in the order of keys."""
    people = select(People.study_id, People.recruited, People.analysed).order_by(col(People.id))
    sizes = _gather((owner, n) for owner, *both in session.exec(people) for n in both if n)
    done = select(Condition.study_id, Condition.exercise).order_by(col(Condition.id))
    exercises = _gather((owner, e) for owner, e in session.exec(done) if e)
    shown: tuple[Any, ...] = (Result.study_id, Result.region)
    measured = select(*shown).where(col(Result.region).is_not(None)).distinct()
    regions = _gather(session.exec(measured.order_by(*shown)))
    linked = (
        select(StudyReference.study_id, Reference.key)
        .join(Reference, col(StudyReference.reference_id) == Reference.id)
        .join(Study, col(StudyReference.study_id) == Study.id)
        .order_by(in_order(session, Study.key), in_order(session, Reference.key))
    )
    return [
        StudyContents(
            tuple(keys),
            tuple(sizes.get(owner, ())),
            tuple(exercises.get(owner, ())),
            tuple(regions.get(owner, ())),
        )
        for owner, keys in _gather(session.exec(linked)).items()
    ]


def _gather(pairs: Iterable[tuple[int, Any]]) -> dict[int, list[Any]]:
    found: dict[int, dict[Any, None]] = {}
    for owner, value in pairs:
        found.setdefault(owner, {})[value] = None
    return {owner: list(values) for owner, values in found.items()}


def notices_by_key(session: Session) -> dict[str, str]:
    """The notice on each reference that has one."""
    noticed = select(Reference.key, Reference.notice).where(col(Reference.notice).is_not(None))
    return {key: notice for key, notice in session.exec(noticed) if notice}
