"""Open individual data into a study: what a paper would have printed, and the correlations that papers leave out."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import study_by_key, study_rows
from evidence.catalogue.tables import Correlation
from evidence.errors import BadInput
from evidence.reading.data_table import Roles, read_data_table
from evidence.workflows.extract.study_drafts import result_row
from evidence.workflows.naming import require_match
from evidence.workflows.opening import vocabulary_of


@dataclass(frozen=True, slots=True)
class IndividualsReport:
    """What was computed from individual data and stored."""

    results: int
    correlations: tuple[str, ...]
    warnings: tuple[str, ...]


def load_individuals(
    catalogue: Catalogue,
    study: str,
    file: Path,
    who: str,
    *,
    outcome: str,
    region: str | None,
    columns: Mapping[str, str | None],
    conditions: Mapping[str, str],
    locator: str | None = None,
) -> IndividualsReport:
    """Store what one row per person and condition comes to. `columns`: person, condition, pre (may be None), post."""
    vocabulary = vocabulary_of(catalogue)
    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, study))
    if outcome not in {o.key for o in rows.outcomes}:
        known = ", ".join(o.key for o in rows.outcomes)
        raise BadInput(f'the study has no outcome "{outcome}".', where=study, hint=f"It has: {known}.")
    where = require_match(vocabulary.find_region(region), "region") if region else None
    unknown = set(conditions.values()) - {c.key for c in rows.conditions}
    if unknown:
        raise BadInput(f"the study has no condition {', '.join(sorted(unknown))}.", where=study)
    roles = Roles(
        subject=columns["person"] or "",
        condition=columns["condition"] or "",
        post=columns["post"] or "",
        pre=columns.get("pre"),
        conditions=dict(conditions),
    )
    summary = read_data_table(file, roles, outcome=outcome, region=where, locator=locator)
    known_conditions = {c.key for c in rows.conditions}
    strangers = {r.condition for r in summary.results} - known_conditions
    if strangers:
        raise BadInput(
            f"the data speak of {', '.join(sorted(strangers))}, which is no condition of the study.",
            where=str(file),
            hint='Say what they are: --says "WORD=CONDITION".',
        )
    with catalogue.changing(who, f"results individuals {study} ({file.name})") as session:
        rows = study_rows(session, study_by_key(session, study))
        assert rows.study.id is not None
        taken = {r.key for r in rows.results} & {r.key for r in summary.results}
        if taken:
            raise BadInput(f"these results are stored already: {', '.join(sorted(taken)[:3])}.", where=study)
        ids = {
            "condition": {c.key: c.id for c in rows.conditions},
            "outcome": {o.key: o.id for o in rows.outcomes},
            "people": {p.key: p.id for p in rows.people},
        }
        stored = [result_row(r, rows.study.id, ids, who, catalogue.now()) for r in summary.results]
        session.add_all(stored)
        session.flush()
        by_key = {r.key: r.id for r in stored if r.id is not None}
        session.add_all(
            Correlation(
                study_id=rows.study.id,
                result_a_id=by_key[c.result_a],
                result_b_id=by_key[c.result_b],
                r=c.r,
                origin=c.origin,
                locator=c.locator,
            )
            for c in summary.correlations
        )
    told = tuple(f"{c.result_a} with {c.result_b}: r = {c.r:.3f}" for c in summary.correlations)
    return IndividualsReport(len(summary.results), told, tuple(str(w) for w in summary.warnings))
