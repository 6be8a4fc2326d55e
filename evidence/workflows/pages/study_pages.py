"""Studies as pages show them: a page of the list, and one study with its results and what it bears on."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import StudyRows, study_by_key, study_rows, summarise_studies
from evidence.catalogue.queries.evidence_changes import claims_comparing
from evidence.catalogue.queries.many_claims import claims_numbered
from evidence.catalogue.queries.paging import page_of_studies
from evidence.catalogue.tables import Claim, Condition, Result
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Timepoint
from evidence.workflows.effects.effects_found import people_of
from evidence.workflows.effects.figure_checks import check_study, told
from evidence.workflows.effects.printed import tell_printed
from evidence.workflows.extract.study_forms import write_details
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.pages.browsing import StudyLine, study_line
from evidence.workflows.pages.claim_lists import ClaimLine, claim_lines
from evidence.workflows.pages.claims_offered import offer_claims
from evidence.workflows.pages.designs_told import DID
from evidence.workflows.pages.people_told import tell_group
from evidence.workflows.relevance.contributions import name_study
from evidence.workflows.relevance.kinship import PAIRED, related_exercises, related_regions
from evidence.workflows.relevance.verifying import is_verified

if TYPE_CHECKING:
    from evidence.catalogue import Session

PER_PAGE = 50


@dataclass(frozen=True, slots=True)
class StudyList:
    """One page of the studies that fit; pages count from 1."""

    lines: tuple[StudyLine, ...]
    page: int
    pages: int
    total: int


@dataclass(frozen=True, slots=True)
class ResultLine:
    """One result as printed, with where it stands and who read it."""

    key: str
    region: str
    who: str
    timepoint: str
    printed: str
    unit: str
    spread: str
    n: int | None
    n_printed: bool  # with the figure; else it is that of its condition or group
    locator: str
    read_from: str
    read_by: str
    verified_by: str | None


@dataclass(frozen=True, slots=True)
class OutcomeResults:
    """The results of one outcome."""

    name: str
    details: str
    results: tuple[ResultLine, ...]


@dataclass(frozen=True, slots=True)
class StudyPage:
    """A study as a page shows it."""

    key: str
    label: str
    title: str
    facts: tuple[tuple[str, str], ...]
    people: tuple[str, ...]
    conditions: tuple[tuple[str, str, str], ...]  # key, as printed, details
    outcomes: tuple[OutcomeResults, ...]
    references: tuple[tuple[str, str, str], ...]  # key, title, notice
    raw_tables: tuple[tuple[str, str], ...]  # name, text
    findings: tuple[tuple[str, str], ...]  # where, what
    claims: tuple[ClaimLine, ...]  # that its results can bear on
    offered: tuple[str, ...]  # claims that its results let one state, in words
    open_results: int  # not held against the paper by a second person
    bias: str
    bias_reasons: tuple[tuple[str, str, str], ...]
    invented: bool


def list_study_page(
    catalogue: Catalogue,
    words: str = "",
    *,
    construct: str | None = None,
    region: str | None = None,
    page: int = 1,
) -> StudyList:
    """A page of the studies that hold all words and measured what is asked."""
    page = max(1, min(page, 10**6))
    with catalogue.reading() as session:
        found = page_of_studies(
            session,
            words,
            construct_id=construct,
            region=region,
            limit=PER_PAGE,
            offset=(page - 1) * PER_PAGE,
        )
        rows = summarise_studies(session, [study.id for study in found.rows if study.id is not None])
    vocabulary = vocabulary_of(catalogue)
    lines = tuple(study_line(row, vocabulary) for row in rows)
    return StudyList(lines, page, max(1, -(-found.total // PER_PAGE)), found.total)


def show_study_page(catalogue: Catalogue, key: str) -> StudyPage:
    """A study with everything that is kept of it. Raises NotFound."""
    vocabulary = vocabulary_of(catalogue)
    with catalogue.reading() as session:
        rows = study_rows(session, study_by_key(session, key))
        stated = claims_on(session, rows, vocabulary)
        claims = claim_lines(session, stated)
    study, bias = rows.study, rows.study.bias or {}
    design = vocabulary.designs[study.design].name if study.design in vocabulary.designs else study.design
    facts = [
        ("Design", design),
        ("Who did what", DID.get(study.pairing, "nothing is compared")),
        ("Randomised", study.randomised),
        ("Weeks", f"{study.weeks:g}" if study.weeks else "single session" if study.weeks == 0 else ""),
        ("Sample", study.sample or ""),
        ("Funding", study.funding or ""),
        ("Note", study.note or ""),
    ]
    return StudyPage(
        study.key,
        name_study(rows),
        study.title,
        tuple((name, value) for name, value in facts if value),
        tuple(tell_group(p, vocabulary, named=len(rows.people) > 1) for p in rows.people),
        tuple(
            (c.key, told_condition(c, vocabulary), write_details({**c.details, **c.dose}))
            for c in rows.conditions
        ),
        tuple(
            OutcomeResults(
                f"{vocabulary.constructs[o.construct_id].name} ({o.key})",
                ", ".join(
                    part
                    for part in (
                        in_words(o.instrument, vocabulary.instruments),
                        o.unit,
                        in_words(o.normalisation, vocabulary.normalisations),
                        o.amplitude,
                        o.phase,
                    )
                    if part and part != "not stated"
                ),
                tuple(result_line(r, rows, o.unit, vocabulary) for r in rows.results if r.outcome_id == o.id),
            )
            for o in rows.outcomes
        ),
        tuple((r.key, r.title, r.notice or "") for r in rows.references),
        tuple((t.name, t.text) for t in rows.raw_tables),
        tuple((where, told(finding)) for where, finding in check_study(rows)),
        claims,
        offer_claims(rows, vocabulary, stated),
        sum(not is_verified(r) for r in rows.results),
        str(bias.get("overall") or "not assessed"),
        tuple((d["domain"], d["judgement"], d.get("reason", "")) for d in bias.get("domains", ())),
        study.invented,
    )


def claims_on(session: "Session", rows: StudyRows, vocabulary: Vocabulary) -> list[Claim]:
    """Claims that a study's results can bear on, by exercise, outcome and region: what weighing them would look at."""
    exercises = {e for c in rows.conditions if c.exercise for e in related_exercises(c.exercise, vocabulary)}
    regions = {r for result in rows.results for r in related_regions(result.region, vocabulary)}
    constructs = {o.construct_id for o in rows.outcomes}
    numbers = claims_comparing(session, constructs, exercises, regions, PAIRED)
    return sorted(claims_numbered(session, numbers), key=lambda claim: claim.key)


def told_condition(condition: Condition, vocabulary: Vocabulary) -> str:
    """A condition as the paper names it, with the exercise that it is, and how many did it."""
    known = vocabulary.exercises.get(condition.exercise or "")
    exercise = known.name if known else condition.exercise or "no exercise"
    printed = condition.printed or exercise
    told = printed if printed.casefold() == exercise.casefold() else f"{printed}: {exercise}"
    return told if condition.n is None else f"{told}, n = {condition.n}"


def in_words(word: str, known: Mapping[str, Any]) -> str:
    """The name of an entry of the vocabulary; a text that is in none stays as it is."""
    return str(known[word].name) if word in known else word


def result_line(result: Result, rows: StudyRows, unit: str, vocabulary: Vocabulary) -> ResultLine:
    """A result as a row of a table."""
    known = vocabulary.regions.get(result.region or "")
    conditions = {c.id: c for c in rows.conditions}
    done = conditions[result.condition_id]
    who = done.printed or done.key
    if result.comparator_id is not None:
        against = conditions[result.comparator_id]
        who += f" against {against.printed or against.key}"
    spread = "" if result.spread_kind == "none" else result.spread_kind
    return ResultLine(
        result.key,
        known.name if known else result.region or "",
        who,
        result.timepoint_label or Timepoint(result.timepoint).told,
        tell_printed(result),
        result.printed_unit or unit,
        spread,
        people_of(result, done, rows),
        result.n is not None,
        result.locator,
        result.read_from,
        result.read_by,
        result.verified_by,
    )
