"""Between a study as a file describes it and the rows of a catalogue."""

from datetime import UTC, datetime, time
from typing import Any

from evidence.catalogue.queries import StudyRows
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Condition, Correlation, Outcome, People, Result, Study
from evidence.reading.study_draft import (
    BiasDomain,
    BiasDraft,
    ConditionDraft,
    CorrelationDraft,
    OutcomeDraft,
    PeopleDraft,
    ReferenceLink,
    ResultDraft,
    StudyDraft,
)
from evidence.vocabulary.terms import Pairing, ReadFrom, Spread, Statistic, Timepoint

STUDY_COLUMNS = (
    "key",
    "title",
    "year",
    "design",
    "randomised",
    "weeks",
    "invented",
    "sample",
    "funding",
    "note",
)
PEOPLE_COLUMNS = (
    "key", "label", "recruited", "analysed", "sex", "age_mean", "age_sd", "training_status", "health", "note",
)  # fmt: skip
OUTCOME_COLUMNS = ("key", "instrument", "unit", "normalisation", "amplitude", "phase", "better", "note")
RESULT_COLUMNS = (
    "key", "printed", "region", "timepoint_label", "value", "spread", "low", "high", "level", "n", "events",
    "person_time", "test", "p", "marks", "printed_unit", "locator", "verified_by", "note",
)  # fmt: skip


def store_draft(
    session: ChangingSession, draft: StudyDraft, *, digest: str, source: str, who: str, at: datetime
) -> Study:
    """Add a study with all that belongs to it; its references are linked by the caller."""
    study = Study(
        **{name: getattr(draft, name) for name in STUDY_COLUMNS},
        pairing=draft.pairing.value,
        bias=draft.bias.as_document() if draft.bias else {},
        source=draft.source or source,
        digest=digest,
        added_at=at,
    )
    session.add(study)
    session.flush()
    assert study.id is not None
    people = [
        People(study_id=study.id, **{name: getattr(p, name) for name in PEOPLE_COLUMNS}) for p in draft.people
    ]
    session.add_all(people)
    session.flush()
    groups = {p.key: p.id for p in people}
    conditions = [
        Condition(
            study_id=study.id, key=c.key, exercise=c.exercise, printed=c.printed, details=dict(c.details),
            dose=dict(c.dose), people_id=groups.get(c.people) if c.people else None, n=c.n,
        )
        for c in draft.conditions
    ]  # fmt: skip
    outcomes = [
        Outcome(
            study_id=study.id,
            construct_id=o.construct,
            **{name: getattr(o, name) for name in OUTCOME_COLUMNS},
        )
        for o in draft.outcomes
    ]
    session.add_all([*conditions, *outcomes])
    session.flush()
    ids = {
        "condition": {c.key: c.id for c in conditions},
        "outcome": {o.key: o.id for o in outcomes},
        "people": groups,
    }
    results = [result_row(r, study.id, ids, who, at) for r in draft.results]
    session.add_all(results)
    session.flush()
    by_key = {r.key: r.id for r in results if r.id is not None}
    session.add_all(
        Correlation(
            study_id=study.id, result_a_id=by_key[c.result_a], result_b_id=by_key[c.result_b], r=c.r,
            origin=c.origin, locator=c.locator,
        )
        for c in draft.correlations
    )  # fmt: skip
    return study


def result_row(
    draft: ResultDraft, study_id: int, ids: dict[str, dict[str, Any]], who: str, at: datetime
) -> Result:
    """A result row from its draft; keys become row numbers."""
    read_at = datetime.combine(draft.read_on, time(), UTC) if draft.read_on else at
    return Result(
        study_id=study_id,
        outcome_id=ids["outcome"][draft.outcome],
        condition_id=ids["condition"][draft.condition],
        comparator_id=ids["condition"][draft.comparator] if draft.comparator else None,
        people_id=ids["people"][draft.people] if draft.people else None,
        timepoint=draft.timepoint.value,
        statistic=draft.statistic.value,
        spread_kind=draft.spread_kind.value,
        read_from=draft.read_from.value,
        read_by=draft.read_by or who,
        read_at=read_at,
        **{name: getattr(draft, name) for name in RESULT_COLUMNS},
    )


def as_draft(rows: StudyRows) -> StudyDraft:
    """A stored study as a draft, ready to be written as a study file."""
    conditions = {c.id: c.key for c in rows.conditions}
    outcomes = {o.id: o.key for o in rows.outcomes}
    groups = {p.id: p.key for p in rows.people}
    results = {r.id: r.key for r in rows.results}
    study = rows.study
    return StudyDraft(
        **{name: getattr(study, name) for name in STUDY_COLUMNS},
        pairing=Pairing(study.pairing),
        source=study.source,
        references=tuple(
            ReferenceLink(key=reference.key, doi=reference.doi, role=link.role)
            for link, reference in zip(rows.links, rows.references, strict=True)
        ),
        people=tuple(PeopleDraft(**{name: getattr(p, name) for name in PEOPLE_COLUMNS}) for p in rows.people),
        conditions=tuple(
            ConditionDraft(
                c.key,
                c.exercise,
                c.printed,
                c.details,
                c.dose,
                groups.get(c.people_id) if c.people_id else None,
                c.n,
            )
            for c in rows.conditions
        ),
        outcomes=tuple(
            OutcomeDraft(construct=o.construct_id, **{name: getattr(o, name) for name in OUTCOME_COLUMNS})
            for o in rows.outcomes
        ),
        results=tuple(
            ResultDraft(
                outcome=outcomes[r.outcome_id],
                condition=conditions[r.condition_id],
                comparator=conditions[r.comparator_id] if r.comparator_id else None,
                people=groups[r.people_id] if r.people_id else None,
                timepoint=Timepoint(r.timepoint),
                statistic=Statistic(r.statistic),
                spread_kind=Spread(r.spread_kind),
                read_from=ReadFrom(r.read_from),
                read_by=r.read_by,
                read_on=r.read_at.date(),
                **{name: getattr(r, name) for name in RESULT_COLUMNS},
            )
            for r in rows.results
        ),
        correlations=tuple(
            CorrelationDraft(results[c.result_a_id], results[c.result_b_id], c.r, c.origin, c.locator)
            for c in rows.correlations
        ),
        bias=read_bias(study.bias),
    )


def read_bias(document: dict[str, Any]) -> BiasDraft | None:
    """Risk of bias as kept with a study."""
    if not document:
        return None
    domains = tuple(
        BiasDomain(d["domain"], d["judgement"], d.get("reason", "")) for d in document.get("domains", ())
    )
    return BiasDraft(
        document.get("tool") or "", document.get("overall") or "not assessed", document.get("score"), domains,
        document.get("note"),
    )  # fmt: skip
