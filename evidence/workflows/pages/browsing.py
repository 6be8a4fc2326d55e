"""Looking at what a catalogue holds: references, studies, results, claims, history; as data and as lines of text."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from evidence.catalogue import Catalogue
from evidence.catalogue.history import is_meant, list_changes
from evidence.catalogue.queries import (
    StudyRows,
    StudySummary,
    claim_by_key,
    exclusions_of,
    last_state,
    latest_appraisal,
    overrides_of,
    reference_by_key,
    studies_of_reference,
    study_by_key,
    study_rows,
    summarise_studies,
    uses_of,
)
from evidence.catalogue.queries import (
    list_studies as all_studies,
)
from evidence.catalogue.queries.counting import Holdings, count_holdings, count_invented
from evidence.catalogue.queries.judgement import links_of_claim, ratings_of_study
from evidence.catalogue.tables import Appraisal, Result
from evidence.vocabulary import Vocabulary
from evidence.workflows.gather.gathering import as_record
from evidence.workflows.gather.joining import joined_of
from evidence.workflows.gather.reference_lists import state_of
from evidence.workflows.judge.judgement_told import tell_bias
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.pages.changes_counted import count_rows
from evidence.workflows.pages.designs_told import tell_design
from evidence.workflows.pages.people_told import tell_group
from evidence.workflows.relevance.contributions import name_by_references, name_study
from evidence.workflows.relevance.linked_sources import read_links
from evidence.workflows.relevance.verifying import tell_verified
from evidence.workflows.upkeep.touching import stale_claims
from references.citing import format_bibliography

if TYPE_CHECKING:
    pass


@dataclass(frozen=True, slots=True)
class ReferenceShown:
    """One reference with all that is kept of it."""

    key: str
    full: str
    fields: tuple[tuple[str, str], ...]
    state: str
    studies: tuple[str, ...]
    source: str | None


@dataclass(frozen=True, slots=True)
class StudyLine:
    """One study in a list."""

    key: str
    label: str
    design: str
    people: int
    results: int
    constructs: tuple[str, ...]
    invented: bool


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One change in the history."""

    number: int
    at: datetime
    who: str
    action: str
    summary: str
    undoes: int | None
    undone_by: int | None
    meant: bool = True  # whether a person meant it: weighing and telling only leave traces behind


@dataclass(frozen=True, slots=True)
class Shown:
    """Something shown as lines of text."""

    key: str
    lines: tuple[str, ...]


def show_reference(catalogue: Catalogue, key: str) -> ReferenceShown:
    """One reference, whole."""
    with catalogue.reading() as session:
        row = reference_by_key(session, key)
        studies = studies_of_reference(session, row)
    record = as_record(row)
    fields = tuple(
        (name, str(value)) for name, value in row.csl.items() if isinstance(value, str | int | float)
    )
    origins = joined_of(record)["origins"]
    fields += tuple((f"{name} is from", ", ".join(keys)) for name, keys in origins.items() if keys != [key])
    full = format_bibliography([record], style="plain")[0]
    return ReferenceShown(row.key, full, fields, state_of(row), tuple(s.key for s in studies), row.source)


def list_studies(catalogue: Catalogue) -> tuple[StudyLine, ...]:
    """Every study with its size and outcomes."""
    with catalogue.reading() as session:
        studies = summarise_studies(session)
    vocabulary = vocabulary_of(catalogue)
    return tuple(study_line(study, vocabulary) for study in studies)


def study_line(study: StudySummary, vocabulary: Vocabulary) -> StudyLine:
    """A study as listed."""
    return StudyLine(
        study.key,
        name_by_references(study.key, study.references),
        tell_design(study.design, study.pairing, vocabulary),
        study.people,
        study.results,
        study.constructs,
        study.invented,
    )


def show_study(catalogue: Catalogue, key: str) -> Shown:
    """A study: who, what, and the numbers as printed."""
    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, key))
        ratings = ratings_of_study(session, rows.study)
    study, vocabulary = rows.study, vocabulary_of(catalogue)
    lines = [
        study.title,
        f"  {name_study(rows)}; {tell_design(study.design, study.pairing, vocabulary)}",
    ]
    if study.invented:
        lines.append("  INVENTED demonstration data")
    for p in rows.people:
        lines.append("  " + tell_group(p, vocabulary, named=len(rows.people) > 1))
    for c in rows.conditions:
        details = ", ".join(f"{k} {v}" for k, v in {**c.details, **c.dose}.items())
        also = f" = {c.exercise}" if c.printed and c.exercise else ""
        lines.append(f"  {c.key}: {c.printed or c.exercise}{also}" + (f" ({details})" if details else ""))
    return Shown(key, (*lines, *tell_bias(rows, ratings), *result_lines(catalogue, rows)))


def show_results(catalogue: Catalogue, key: str) -> Shown:
    """A study's results as printed, with where they stand."""
    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, key))
    return Shown(
        key, tuple(result_lines(catalogue, rows)) or ("No result yet: steelyard results paste " + key,)
    )


def result_lines(catalogue: Catalogue, rows: StudyRows) -> list[str]:
    """One line per result."""
    vocabulary = vocabulary_of(catalogue)
    outcomes = {o.id: o for o in rows.outcomes}
    conditions = {c.id: c for c in rows.conditions}

    def line(r: Result) -> str:
        outcome = outcomes[r.outcome_id]
        known = vocabulary.regions.get(r.region or "")
        region = known.name if known else r.region or "-"
        who = conditions[r.condition_id].key
        if r.comparator_id is not None:
            who += f" against {conditions[r.comparator_id].key}"
        spread = "" if r.spread_kind == "none" else f" ({r.spread_kind})"
        n = f", n {r.n}" if r.n is not None else ""
        return (
            f"  {r.key}: {region}, {who}, {r.timepoint}: {r.printed} {r.printed_unit or outcome.unit}{spread}{n}"
            f" [{r.locator}, {r.read_from}, {tell_verified(r)}]"
        )

    return [line(r) for r in rows.results]


def study_as_file(catalogue: Catalogue, key: str) -> str:
    """A study as a study file that can be edited and loaded again."""
    from evidence.reading.study_writing import write_study_file
    from evidence.workflows.extract.study_drafts import as_draft

    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, key))
    return write_study_file(as_draft(rows))


def tell_verdict(appraisal: Appraisal, stale: bool) -> str:
    """The verdict last found; marked where something that bears on the claim has changed since."""
    verdict = str(appraisal.body.get("verdict", appraisal.verdict))
    return f"{verdict} (evidence changed since: weigh again)" if stale else verdict


def show_claim(catalogue: Catalogue, key: str) -> Shown:
    """A claim: how it is read, what was last found, what was left out, where it was told."""
    with catalogue.reading() as session:
        claim = claim_by_key(session, key)
        last = latest_appraisal(session, claim)
        stale = claim.id in stale_claims(session)
        excluded, chosen, told = (
            exclusions_of(session, claim),
            overrides_of(session, claim),
            uses_of(session, claim),
        )
        names = {s.id: s.key for s in all_studies(session)} if excluded else {}
        links = links_of_claim(session, claim)
    lines = [
        claim.statement,
        f"  says: {claim.direction}; stated by {claim.added_by} on {claim.added_at:%Y-%m-%d}",
    ]
    if claim.surrogate:
        lines.append(f"  leans on {claim.surrogate}, which stands in for {claim.construct_id} and is not it")
    if claim.margin is not None:
        lines.append(f"  margin: {claim.margin:g}")
    if last:
        lines.append(
            f"  verdict: {tell_verdict(last, stale)}; confidence: {last.confidence} "
            f"({last.at:%Y-%m-%d}, {last.k} {'study' if last.k == 1 else 'studies'})"
        )
        lines.append(f"  {last.body.get('sentence', '')}")
    else:
        lines.append(f"  not weighed yet: steelyard weigh {key}")
    lines += [f"  left out: {names.get(e.study_id)}: {e.reason} ({e.person})" for e in excluded]
    lines += [
        f"  chosen: {o.domain} {o.chosen} instead of {o.proposed}: {o.reason} ({o.person})" for o in chosen
    ]
    lines += [f"  linked, {source.line()}" for source in read_links(links, (), ())]
    lines += [f"  told in: {u.kind} {u.name} ({u.at:%Y-%m-%d}): {u.told}" for u in told]
    return Shown(key, tuple(lines))


def holdings(catalogue: Catalogue) -> Holdings:
    """How much the catalogue holds of each kind."""
    with catalogue.reading() as session:
        return count_holdings(session)


def recent_changes(catalogue: Catalogue, most: int, before: int | None = None) -> tuple[ChangeLine, ...]:
    """The last changes, newest first; `before`: those earlier than the change of this number."""
    with catalogue.reading() as session:
        entries = list_changes(session, most, with_rows=False, before=before)
    return tuple(
        ChangeLine(e.number, e.at, e.who, e.action, count_rows(e.counts), e.undoes, e.undone_by, is_meant(e))
        for e in entries
    )


def newest_state(catalogue: Catalogue) -> tuple[int, datetime | None]:
    """What tells this state of the catalogue from any other: number and time of the last change, however small."""
    with catalogue.reading() as session:
        return last_state(session)


def tell_invented(catalogue: Catalogue) -> str:
    """What stands over lists and pages where studies are invented, as nobody may take them for real; else nothing."""
    with catalogue.reading() as session:
        made_up, known = count_invented(session)
    if not made_up:
        return ""
    if made_up == known:
        return "INVENTED data: no study of this catalogue exists."
    if made_up == 1:
        return "INVENTED data: 1 study of this catalogue is made up, and what rests on it."
    return (
        f"INVENTED data: {made_up} of {known} studies of this catalogue are made up, and what rests on them."
    )
