"""What people decided about a study, carried over when a changed study file takes its place: nothing typed is lost."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from evidence.catalogue.queries.judgement import exclusions_of_study, ratings_of_study
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Exclusion, Rating, Result, Study

FIGURES = (
    "value", "spread", "spread_kind", "low", "high", "level", "n", "events", "person_time", "test", "p", "printed",
    "statistic", "timepoint", "region",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Decided:
    """Rows that hang on a study and are no part of a study file, without their numbers; and its verified figures."""

    ratings: tuple[dict[str, Any], ...]
    exclusions: tuple[dict[str, Any], ...]
    verified: dict[str, tuple[str, tuple[Any, ...]]]  # result -> (who, figures as they were)


def what_was_decided(session: ChangingSession, study: Study, results: Sequence[Result]) -> Decided:
    """What people decided about a study, before it goes."""
    return Decided(
        tuple(without_numbers(row) for row in ratings_of_study(session, study)),
        tuple(without_numbers(row) for row in exclusions_of_study(session, study)),
        {r.key: (r.verified_by, figures_of(r)) for r in results if r.verified_by},
    )


def without_numbers(row: Rating | Exclusion) -> dict[str, Any]:
    """A row's columns but its own number and that of its study."""
    return row.model_dump(exclude={"id", "study_id"})


def figures_of(result: Result) -> tuple[Any, ...]:
    """The printed figures of a result and what they are of."""
    return tuple(getattr(result, name) for name in FIGURES)


def carry_over(
    session: ChangingSession, study: Study, results: Sequence[Result], decided: Decided
) -> tuple[str, ...]:
    """Put it back onto the study that took the place; gives what has to be said of it."""
    assert study.id is not None
    for row in decided.ratings:
        session.add(Rating(study_id=study.id, **row))
    for row in decided.exclusions:
        session.add(Exclusion(study_id=study.id, **row))
    changed = []
    for result in results:
        who, figures = decided.verified.get(result.key, ("", ()))
        if who and result.verified_by == who and figures_of(result) != figures:
            result.verified_by = None
            changed.append(result.key)
    session.flush()
    if not changed:
        return ()
    return (
        f"figures that were verified have changed and are no longer: {', '.join(changed)}; a second reader can verify "
        f"them again: steelyard results verify {study.key}",
    )
