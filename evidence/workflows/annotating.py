"""A programme annotated: each pick with the claims that bear on it, sets counted, audiences compared, cautions."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.appraisal.verdict import VerdictKind
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import list_claims
from evidence.publishing.programmes import AnnotatedProgramme, PickClaim, Prescription
from evidence.publishing.programmes import Pick as ShownPick
from evidence.publishing.programmes import Session as ShownSession
from evidence.reading.programme_model import Pick, Programme
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction
from evidence.workflows.bearing import status_distance
from evidence.workflows.claims_in_words import name_people
from evidence.workflows.documents import ending_of, list_sources, made_from, register_use, write_text
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.prescriptions import tell_prescription
from evidence.workflows.set_counting import Done, count_weekly
from evidence.workflows.weighing import Weighing, weigh_and_keep

INVENTED = "[Invented]"


@dataclass(frozen=True, slots=True)
class Annotated:
    """What came of annotating: the text, the file written, and what must be asked."""

    text: str
    path: Path | None
    questions: tuple[str, ...]


def annotate_programme(catalogue: Catalogue, file: Path, output: Path | None, who: str) -> Annotated:
    """Read a programme, put the evidence beside each pick, and write it: HTML or Markdown by the file's ending."""
    from evidence.publishing.programme_pages import programme_html, programme_markdown
    from evidence.reading.programme import read_programme

    kind = ending_of(output)
    vocabulary = vocabulary_of(catalogue)
    programme = read_programme(file, vocabulary)
    weighed = weigh_bearing_claims(catalogue, programme, vocabulary, who)
    annotated = annotate(catalogue, programme, weighed, vocabulary)
    text = programme_html(annotated) if kind == "html" else programme_markdown(annotated)
    if output is not None:
        write_text(output, text)
        register_use(catalogue, "programme", str(output), list(weighed.values()), who)
    return Annotated(text, output, tuple(str(q) for q in programme.questions))


def weigh_bearing_claims(
    catalogue: Catalogue, programme: Programme, vocabulary: Vocabulary, who: str
) -> dict[str, Weighing]:
    """Every claim with one of the programme's exercises on either side, weighed on the catalogue as it stands."""
    done = {e for p in programme.picks if p.exercise for e in family(p.exercise, vocabulary)}
    with catalogue.reading() as session:
        claims = list_claims(session, exercises=done)
    return {claim.key: weigh_and_keep(catalogue, claim.key, who, vocabulary) for claim in claims}


def family(exercise: str, vocabulary: Vocabulary) -> tuple[str, ...]:
    """An exercise and those it is a variant of: a claim about squats bears on the high-bar squat."""
    return (exercise, *vocabulary.exercise_ancestors(exercise))


def annotate(
    catalogue: Catalogue, programme: Programme, weighed: dict[str, Weighing], vocabulary: Vocabulary
) -> AnnotatedProgramme:
    """The programme as it is shown."""
    sessions = tuple(
        ShownSession(
            session.name,
            tuple(show_pick(pick, weighed.values(), programme, vocabulary) for pick in session.picks),
        )
        for session in programme.sessions
    )
    done = [
        Done(session.name, pick.exercise, pick.sets or 0, session.times_per_week)
        for session in programme.sessions
        for pick in session.picks
        if pick.exercise and not pick.warm_up
    ]
    used = [s for w in weighed.values() for s in w.studies]
    return AnnotatedProgramme(
        title=programme.title or "Programme",
        made=made_from(catalogue),
        sessions=sessions,
        audience=tell_audience(programme, vocabulary),
        goal=tell_goal(programme, vocabulary),
        weeks=f"{programme.weeks} weeks" if programme.weeks else "",
        equipment=", ".join(programme.equipment),
        weekly_sets=count_weekly(done, programme.priorities, vocabulary),
        audience_gaps=tuple(compare_audience(programme, weighed.values(), vocabulary)),
        open_questions=tuple(list_open_questions(programme, weighed, vocabulary)),
        assumed=(*(str(a) for a in programme.assumptions), *note_counting(programme)),
        cautions=tuple(cautions_for(programme, weighed.values(), vocabulary)),
        references=tuple(list_sources(used)),
        invented=INVENTED in programme.title or any(w.invented for w in weighed.values()),
    )


def note_counting(programme: Programme) -> list[str]:
    """Picks that the weekly sets do not hold, or hold only in part."""
    notes = []
    for pick in programme.picks:
        high = pick.prescription.sets_high
        if pick.warm_up:
            continue
        if pick.exercise is None or pick.sets is None:
            why = "its exercise is not known" if pick.exercise is None else "how many sets is not said"
            notes.append(f"{pick.where}: {pick.as_written} is NOT in the weekly sets: {why}.")
        elif high is not None and high > pick.sets:
            notes.append(
                f"{pick.where}: {pick.as_written}: {pick.sets} to {high} sets, counted as {pick.sets}."
            )
    return notes


def show_pick(
    pick: Pick, weighed: Collection[Weighing], programme: Programme, vocabulary: Vocabulary
) -> ShownPick:
    """One pick with its prescription, regions and claims."""
    problems = []
    if pick.exercise is None:
        candidates = ", ".join(vocabulary.exercises[c].name for c in pick.candidates[:6])
        problems.append(
            f"which exercise is meant? {candidates}" if candidates else "exercise not in the vocabulary"
        )
    exercise = vocabulary.exercises.get(pick.exercise or "")
    regions = [vocabulary.regions[r].name for r in exercise.primary] if exercise else []
    claims: list[PickClaim] = []
    if pick.exercise:
        names = family(pick.exercise, vocabulary)
        for w in weighed:
            if w.claim.exercise in names or w.claim.comparator in names:
                claims.append(show_claim(w, names, programme))
    claims.sort(key=lambda c: (-c.level.rank, c.key))
    detail = ", ".join(part for part in (pick.implement, *pick.details) if part)
    return ShownPick(
        exercise=f"{pick.as_written} ({detail})"
        if detail and detail not in pick.as_written
        else pick.as_written,
        prescription=Prescription(**tell_prescription(pick)),
        note="warm-up" if pick.warm_up else pick.note or "",
        reason=pick.reason or "",
        regions=tuple(regions),
        claims=tuple(claims),
        problems=tuple(problems),
        group=f"{pick.group or ''}{pick.order or ''}",
    )


def show_claim(weighing: Weighing, pick: Sequence[str], programme: Programme) -> PickClaim:
    """A claim as it bears on a pick: for it, against it, or open."""
    claim, verdict, confidence = weighing.claim, weighing.verdict, weighing.confidence
    on_left = claim.exercise in pick
    found = verdict.direction
    favours: bool | None = None
    if verdict.kind in (VerdictKind.SUPPORTED, VerdictKind.CONTRADICTED) and found in (
        Direction.MORE,
        Direction.LESS,
    ):
        favours = (found is Direction.MORE) == on_left
    flags = []
    if weighing.construct != claim.construct_id:
        flags.append(f"rests on {weighing.construct}, which stands in for {claim.construct_id} and is not it")
    elif programme.goal and programme.goal != claim.construct_id:
        flags.append(f"is about {claim.construct_id}, not about the programme's goal")
    if not weighing.grid_agrees:
        flags.append("depends on a correlation that is assumed")
    if weighing.left_out:
        flags.append(
            f"{len(weighing.left_out)} study left out: " + "; ".join(x.reason for x in weighing.left_out)
        )
    return PickClaim(
        key=claim.key,
        wording=weighing.wordings.short,
        verdict=verdict.kind,
        verdict_text=verdict.text,
        figures=verdict.sentence,
        level=confidence.level,
        low=confidence.low,
        high=confidence.high,
        citation="; ".join(c.label for c in weighing.contributions),
        favours_pick=favours,
        flags=tuple(flags),
        about_goal=not programme.goal or programme.goal == weighing.construct,
    )


def tell_goal(programme: Programme, vocabulary: Vocabulary) -> str:
    """What the programme is meant to do."""
    construct = vocabulary.constructs.get(programme.goal or "")
    return construct.name if construct else programme.goal or ""


def tell_audience(programme: Programme, vocabulary: Vocabulary) -> str:
    """Who the programme is for."""
    audience = programme.audience
    status = vocabulary.training_statuses.get(audience.training_status or "")
    parts = [status.name if status else audience.training_status, audience.sex, audience.age, audience.health]
    told = ", ".join(part for part in parts if part)
    return told or audience.text or ""


def compare_audience(
    programme: Programme, weighed: Collection[Weighing], vocabulary: Vocabulary
) -> list[str]:
    """Where those the programme is for differ from those who were studied."""
    audience = programme.audience
    gaps = []
    for w in weighed:
        groups = [p for s in w.studies for p in s.rows.people]
        if not groups:
            continue
        reasons = []
        statuses = {p.training_status for p in groups} - {"not stated"}
        if audience.training_status and statuses and audience.training_status not in statuses:
            apart = [status_distance(audience.training_status, s, vocabulary) for s in statuses]
            if all(a is None or a > 0 for a in apart):
                reasons.append("another training status")
        sexes = {p.sex for p in groups} - {"not stated"}
        if sexes and "both" not in sexes and len(sexes) == 1 and audience.sex not in sexes:
            reasons.append(f"only {'women' if sexes == {'female'} else 'men'} were studied")
        health = {p.health for p in groups} - {"not stated", "healthy"}
        if health and audience.health not in health:
            reasons.append(f"people with {', '.join(sorted(health))}")
        if reasons:
            gaps.append(
                f"{w.statement}: studied in {name_people(w.studies, vocabulary)} ({'; '.join(reasons)})."
            )
    return gaps


def list_open_questions(
    programme: Programme, weighed: dict[str, Weighing], vocabulary: Vocabulary
) -> list[str]:
    """What is worth reading up on: used often, and resting on little. A heuristic."""
    counts: dict[str, int] = {}
    for pick in programme.picks:
        if pick.exercise:
            counts[pick.exercise] = counts.get(pick.exercise, 0) + 1
    questions = []
    for exercise, times in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        names = family(exercise, vocabulary)
        bearing = [w for w in weighed.values() if w.claim.exercise in names or w.claim.comparator in names]
        name = vocabulary.exercises[exercise].name
        if not any(w.verdict.kind is not VerdictKind.NOTHING_FOUND for w in bearing):
            often = "" if times == 1 else f", picked {times} times"
            questions.append(f"{name}{often}: no claim in the catalogue rests on a study of it.")
        elif all(w.confidence.level.rank <= 1 for w in bearing):
            questions.append(f"{name}: every claim that bears on it has very low confidence.")
    return questions


def cautions_for(programme: Programme, weighed: Collection[Weighing], vocabulary: Vocabulary) -> list[str]:
    """The caution of every programme, and those that its audience, notes and claims call up."""
    words = [
        programme.title,
        programme.note or "",
        programme.audience.text or "",
        programme.audience.health or "",
    ]
    words += [p.note or "" for p in programme.picks] + [w.statement for w in weighed]
    called = vocabulary.cautions_for(" ".join(words))
    always = [vocabulary.cautions["programme"]] if "programme" in vocabulary.cautions else []
    screening = [vocabulary.cautions["screening"]] if "screening" in vocabulary.cautions else []
    return [c.text for c in dict.fromkeys((*always, *screening, *called))]
