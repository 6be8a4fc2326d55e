"""What the catalogue knows, gathered in a fixed number of queries; figures and fresh weighings only where asked."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

from evidence.appraisal.levels import Level
from evidence.appraisal.verdict import VerdictKind
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import (
    ReferenceOutline,
    StudyOutline,
    StudyRows,
    latest_appraisals,
    list_claims,
    list_studies,
    outline_references,
    outline_studies,
    references_against,
    settings,
    study_rows_of,
)
from evidence.catalogue.tables import Appraisal, Claim, Condition, Outcome, People
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction, ReadFrom, Statistic
from evidence.workflows.drafts.corrections import corrected_by, taken_after
from evidence.workflows.drafts.figures import figures_of_claim, figures_of_study
from evidence.workflows.drafts.knowledge import (
    Group,
    Knowledge,
    KnownClaim,
    KnownContrast,
    KnownReference,
    KnownStudy,
    Studies,
)
from evidence.workflows.drafts.rankings import ranker
from evidence.workflows.drafts.sizes import sizes_of_study
from evidence.workflows.gather.notice_log import notices_kept
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.relevance.contributions import name_study
from evidence.workflows.upkeep.touching import stale_claims

READ_IN_FULL = {ReadFrom.FULL_TEXT.value, ReadFrom.FIGURE.value, ReadFrom.DATA.value}
ALONE = {Statistic.PERCENT_CHANGE.value, Statistic.CHANGE.value, Statistic.TEST.value}


def know_catalogue(catalogue: Catalogue, today: date | None = None) -> Knowledge:
    """Everything that the checks of a draft ask of a catalogue."""
    vocabulary = vocabulary_of(catalogue)
    with catalogue.reading() as session:
        outlines = outline_studies(session, READ_IN_FULL)
        references = outline_references(session)
        claims = list_claims(session)
        appraisals = latest_appraisals(session)
        stale = stale_claims(session)
        against = references_against(session)
        kept = settings(session)
    by_key = {claim.key: claim for claim in claims}
    reports = {o.key: tuple(key for key, _ in o.references) for o in outlines}

    def load(keys: Sequence[str]) -> Iterable[KnownStudy]:
        with catalogue.reading() as session:
            rows = study_rows_of(session, list_studies(session, set(keys)))
        return [as_known_study(r, vocabulary) for r in rows]

    def make(claim: Claim, appraisal: Appraisal | None, fresh: bool) -> KnownClaim:
        return as_known_claim(claim, appraisal, fresh, against.get(claim.id or 0, ()), reports, vocabulary)

    def weigh_again(keys: Iterable[str]) -> Mapping[str, KnownClaim]:
        from evidence.workflows.weigh.weighing import as_appraisal, weigh

        return {
            key: make(by_key[key], as_appraisal(weigh(catalogue, key, vocabulary), catalogue), True)
            for key in keys
        }

    def list_one(claim: Claim) -> KnownClaim:
        appraisal = appraisals.get(claim.id or 0)
        return make(claim, appraisal, appraisal is not None and claim.id not in stale)

    return Knowledge(
        vocabulary,
        know_references(references, outlines, kept),
        Studies(reports, load),
        {claim.key: list_one(claim) for claim in claims},
        today or catalogue.today(),
        weigh=weigh_again,
        rank=ranker(catalogue, vocabulary),
    )


def know_references(
    references: Sequence[ReferenceOutline], outlines: Iterable[StudyOutline], kept: Mapping[str, str]
) -> dict[str, KnownReference]:
    """References with the studies they report. A preprint whose study has a report knows the later version.

    `kept`: the settings of the catalogue, which hold the notices.
    """
    studies: dict[str, list[str]] = {}
    read: set[str] = set()
    later: dict[str, str] = {}
    samples: dict[str, list[str]] = {}
    first_read: dict[str, list[datetime | None]] = {}
    for outline in outlines:
        reports = [key for key, role in outline.references if role == "report"]
        for key, role in outline.references:
            studies.setdefault(key, []).append(outline.key)
            first_read.setdefault(key, []).append(outline.first_read)
            if outline.read_in_full:
                read.add(key)
            if role == "preprint" and reports:
                later[key] = reports[0]
            if outline.sample:
                samples.setdefault(outline.sample, []).append(key)
    preprints = {row.key for row in references if str(row.csl.get("genre") or "").lower() == "preprint"}
    for held in samples.values():
        articles = [key for key in held if key not in preprints]
        later.update({key: articles[0] for key in held if key in preprints and articles})
    return {
        row.key: KnownReference(
            row.key,
            row.csl,
            row.year,
            row.container,
            row.title,
            row.notice,
            tuple(studies.get(row.key, ())),
            row.reading_state == "full text" or row.key in read,
            later.get(row.key),
            row.notice == "corrected"
            and taken_after(
                first_read.get(row.key, ()),
                corrected_by(notices_kept(kept, row.key), row.notice_checked_on),
            ),
        )
        for row in references
    }


def as_known_study(rows: StudyRows, vocabulary: Vocabulary) -> KnownStudy:
    """A study as the checks see it."""
    study = rows.study
    names = []
    for condition in rows.conditions:
        known = vocabulary.exercises.get(condition.exercise or "")
        names += [condition.printed, *(known.names if known else ()), known.name if known else ""]
    people = sum((p.analysed or p.recruited or 0) for p in rows.people) or None
    return KnownStudy(
        study.key,
        name_study(rows),
        tuple(r.key for r in rows.references),
        study.sample or "",
        people,
        sizes_of_study(rows),
        tuple(as_group(p) for p in rows.people),
        {"yes": True, "no": False}.get(study.randomised),
        study.weeks,
        tuple(list_contrasts(rows)),
        tuple(dict.fromkeys(n for n in names if n)),
        study.added_at,
        lambda: figures_of_study(rows),
    )


def as_group(people: People) -> Group:
    """A group of participants; ages from its own words ("18-35"), else two SDs about the mean."""
    from evidence.workflows.drafts.people import ages_in

    words = " ".join(filter(None, [people.label, people.note]))
    low, high = ages_in(words)
    if low is None and high is None and people.age_mean is not None:
        spread = 2 * (people.age_sd or 5.0)
        low, high = people.age_mean - spread, people.age_mean + spread
    return Group(people.sex, people.training_status, people.health, low, high, words)


def list_contrasts(rows: StudyRows) -> Iterable[KnownContrast]:
    """Every pair of conditions with results on the same outcome and region."""
    conditions: dict[int | None, Condition] = {c.id: c for c in rows.conditions}
    outcomes: dict[int | None, Outcome] = {o.id: o for o in rows.outcomes}
    grouped: dict[tuple[int, str | None], list] = {}  # type: ignore[type-arg]
    for result in rows.results:
        grouped.setdefault((result.outcome_id, result.region), []).append(result)
    for (outcome_id, region), results in grouped.items():
        outcome = outcomes[outcome_id]
        spread = any(r.spread is not None or r.low is not None or r.events is not None for r in results)
        spread = spread or any(r.statistic not in ALONE for r in results)
        held = list(dict.fromkeys(r.condition_id for r in results))
        held += [r.comparator_id for r in results if r.comparator_id and r.comparator_id not in held]
        for i, one in enumerate(held):
            for other in held[i + 1 :]:
                a, b = conditions[one], conditions[other]
                load = str({**a.dose, **a.details}.get("load", ""))
                scale = " | ".join(filter(None, [outcome.unit, outcome.normalisation, load]))
                yield KnownContrast(a.exercise, b.exercise, region, outcome.construct_id, spread, scale)
        if len(held) == 1:
            a = conditions[held[0]]
            yield KnownContrast(a.exercise, None, region, outcome.construct_id, spread, outcome.unit)


def as_known_claim(
    claim: Claim,
    appraisal: Appraisal | None,
    fresh: bool,
    linked: tuple[str, ...],
    reports: Mapping[str, tuple[str, ...]],
    vocabulary: Vocabulary,
) -> KnownClaim:
    """A claim with what was last found of it."""
    body = appraisal.body if appraisal else {}
    weighed = [s for s in body.get("studies", ()) if s.get("study") in reports]
    keys = tuple(str(s["study"]) for s in weighed)
    stated = Direction(claim.direction)
    found = find_direction(appraisal, stated)
    said = body.get("wordings") or {}
    against = [r for s in weighed if speaks_against(s, appraisal) for r in reports[str(s["study"])]]
    return KnownClaim(
        claim.key,
        claim.kind,
        claim.statement,
        claim.exercise,
        claim.comparator,
        side_names(claim.exercise, claim.exercise_details, vocabulary),
        side_names(claim.comparator, claim.comparator_details, vocabulary),
        claim.region,
        claim.construct_id,
        stated,
        appraisal.verdict if appraisal else VerdictKind.NOTHING_FOUND.value,
        found,
        Level(appraisal.confidence) if appraisal else Level.VERY_LOW,
        keys,
        tuple(dict.fromkeys([*linked, *against])),
        figures_of_claim(appraisal),
        tuple(str(said[k]) for k in ("short", "plain", "full") if said.get(k)),
        {str(s["study"]): int(s.get("n") or 0) for s in weighed},
        bool(claim.surrogate),
        claim.review_due,
        fresh,
        f"{claim.statement} {claim.note or ''}",
        str(body.get("verdict") or (appraisal.verdict if appraisal else VerdictKind.NOTHING_FOUND)),
    )


def side_names(
    exercise: str | None, details: Mapping[str, object], vocabulary: Vocabulary
) -> tuple[str, ...]:
    """What one side of a claim is called: the exercise's names, and its details in words."""
    known = vocabulary.exercises.get(exercise or "")
    names = [known.name, *known.names, *known.unsure_names] if known else []
    own = [n.name for n in (*vocabulary.own_names, *vocabulary.extra_names) if n.target == exercise]
    told = [f"{value}" for value in details.values()] if details else []
    return tuple(dict.fromkeys([*names, *own, *told]))


def find_direction(appraisal: Appraisal | None, stated: Direction) -> Direction | None:
    """What was found of the exercise against its comparator; None: open."""
    if appraisal is None:
        return None
    if appraisal.verdict == VerdictKind.LITTLE_OR_NONE:
        return Direction.SAME
    if appraisal.verdict == VerdictKind.SUPPORTED and stated is not Direction.DIFFERS:
        return stated
    if appraisal.verdict in (VerdictKind.SUPPORTED, VerdictKind.CONTRADICTED):
        return None if appraisal.estimate is None else sign_of(appraisal.estimate)
    return None


def sign_of(estimate: float) -> Direction:
    """More or less, by the sign of an estimate."""
    return Direction.MORE if estimate > 0 else Direction.LESS


def speaks_against(study: Mapping[str, object], appraisal: Appraisal | None) -> bool:
    """Whether one study's interval holds zero or the other side, and leaves out what all together say.

    Common practice, no source: a study whose whole interval lies short of the pooled figure, and that does not
    itself show the direction, is what a reader would be told of.
    """
    estimate, variance = study.get("estimate"), study.get("variance")
    pooled = appraisal.estimate if appraisal else None
    if not isinstance(estimate, (int, float)) or pooled in (None, 0):
        return False
    assert pooled is not None
    way = 1 if pooled > 0 else -1
    if not isinstance(variance, (int, float)):
        return estimate * way < 0
    half = 1.96 * float(variance) ** 0.5
    low, high = sorted(((estimate - half) * way, (estimate + half) * way))
    return bool(low <= 0 and (high < abs(pooled) or high < 0))


def with_today(knowledge: Knowledge, today: date) -> Knowledge:
    """The same knowledge, asked on another day."""
    return replace(knowledge, today=today)
