"""A programme annotated: each pick with the claims that bear on it, swaps, sets counted, people compared, cautions."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.tables import Claim, Reference
from evidence.publishing.formats import Wanted
from evidence.publishing.programmes import AnnotatedProgramme, PickClaim, Prescription, Swap
from evidence.publishing.programmes import Pick as ShownPick
from evidence.publishing.programmes import Session as ShownSession
from evidence.reading.programme_model import Pick, Programme
from evidence.vocabulary import Vocabulary
from evidence.workflows.documents.outputs import Output, hand_out
from evidence.workflows.gather.sources import format_sources
from evidence.workflows.making import made_from, require_apart
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.programmes.audiences import compare_audience, tell_audience
from evidence.workflows.programmes.bearing_claims import BearingClaim, find_bearing_claims
from evidence.workflows.programmes.equipment import missing_for
from evidence.workflows.programmes.prescriptions import tell_prescription
from evidence.workflows.programmes.programme_notes import (
    cautions_for,
    find_overlaps,
    list_open_questions,
    note_counting,
    note_priorities,
)
from evidence.workflows.programmes.reasons import Reasons, set_reasons
from evidence.workflows.programmes.set_counting import Done, count_weekly
from evidence.workflows.programmes.swapping import favours_any, find_swaps, kin_of, regions_of
from evidence.workflows.programmes.variants import family, find_studied, stands_first
from evidence.workflows.weigh.inventing import INVENTED, Inventions, find_inventions_in


@dataclass(frozen=True, slots=True)
class Reading:
    """A programme read and annotated: how it is shown, what a person has to look at, and what it rests on."""

    annotated: AnnotatedProgramme
    notes: tuple[str, ...]
    bearing: tuple[BearingClaim, ...]
    cited: tuple[Reference, ...]


def annotate_programme(
    catalogue: Catalogue,
    file: Path,
    output: Path | None,
    who: str,
    wanted: Wanted | None = None,
    *,
    sheet: bool = False,
    title: str = "",
) -> Output:
    """Read a programme, put the evidence beside each pick, and write it; `sheet`: the plan alone, on one page.

    `title`: its heading, where it names none; else the name of the file in words. The notes of the result are what must
    be asked and what could not be read.
    """
    from evidence.publishing.formats import choose_format

    require_apart(output, file)
    wanted = wanted or choose_format(None, output)
    return hand_out_programme(
        catalogue, read_annotated(catalogue, file, who, title), output, who, wanted, sheet=sheet
    )


def read_annotated(catalogue: Catalogue, file: Path, who: str, title: str = "") -> Reading:
    """A programme from a file with the evidence beside each pick. `title`: its heading, where it names none."""
    from evidence.reading.programme import read_programme

    vocabulary = vocabulary_of(catalogue)
    programme = read_programme(file, vocabulary, title=title)
    bearing = find_bearing_claims(catalogue, programme, vocabulary, keep_as=who)
    reasons = set_reasons(catalogue, programme, bearing)
    notes = [f"Question: {q}" for q in programme.questions] + [f"Not read: {p}" for p in programme.problems]
    return Reading(
        annotate(catalogue, programme, bearing, vocabulary, reasons),
        (*notes, *reasons.notes),
        tuple(bearing),
        reasons.cited,
    )


def hand_out_programme(
    catalogue: Catalogue, read: Reading, output: Path | None, who: str, wanted: Wanted, *, sheet: bool = False
) -> Output:
    """An annotated programme as a document, or as text for the screen; `sheet`: the plan alone, on one page."""
    from evidence.publishing.programme_pages import programme_document, programme_sheet

    document = programme_sheet(read.annotated) if sheet else programme_document(read.annotated)
    return hand_out(
        catalogue,
        document,
        output,
        wanted,
        "programme",
        read.bearing,
        who,
        read.notes,
        references=read.cited,
    )


def annotate(
    catalogue: Catalogue,
    programme: Programme,
    bearing: Sequence[BearingClaim],
    vocabulary: Vocabulary,
    reasons: Reasons | None = None,
) -> AnnotatedProgramme:
    """The programme as it is shown. `reasons`: where they are set already."""
    reasons = reasons or set_reasons(catalogue, programme, bearing)
    used = {rows.study.key: rows for claim in bearing for rows in claim.studies}.values()
    inventions = find_inventions_in(used, reasons.cited, whole=INVENTED in programme.title)
    sessions = tuple(
        ShownSession(
            session.name,
            tuple(
                mark_inventions(show_pick(pick, bearing, programme, vocabulary, reasons), inventions)
                for pick in session.picks
            ),
        )
        for session in programme.sessions
    )
    done = [
        Done(session.name, pick.exercise, pick.sets or 0, times_of(pick, session.times_per_week))
        for session in programme.sessions
        for pick in session.picks
        if pick.exercise and not pick.warm_up
    ]
    weekly = count_weekly(done, programme.priorities, vocabulary)
    weeks = programme.weeks
    return AnnotatedProgramme(
        title=programme.title or "Programme",
        made=made_from(catalogue),
        sessions=sessions,
        audience=tell_audience(programme, vocabulary),
        goal=tell_goal(programme, vocabulary),
        weeks=f"{weeks} {'week' if weeks == 1 else 'weeks'}" if weeks else "",
        equipment=", ".join(programme.equipment),
        note=reasons.tell(programme.note or ""),
        weekly_sets=weekly,
        overlaps=find_overlaps(programme, vocabulary),
        priority_notes=tuple(note_priorities(weekly, programme.priorities, vocabulary)),
        audience_gaps=tuple(compare_audience(programme, bearing, vocabulary)),
        open_questions=tuple(list_open_questions(programme, bearing, vocabulary)),
        assumed=(*(str(a) for a in programme.assumptions), *note_counting(programme)),
        problems=programme.problems,
        cautions=tuple(cautions_for(programme, bearing, vocabulary)),
        references=inventions.mark_sources(
            format_sources([*(r for rows in used for r in rows.references), *reasons.cited])
        ),
        invented=inventions.any,
        made_up=inventions.names,
    )


def times_of(pick: Pick, session: float) -> float:
    """How often a week a pick is done: as is said of it (the lower figure of a range), else as its session."""
    often = pick.prescription.often
    return often[0] if often else session


def show_pick(
    pick: Pick,
    bearing: Collection[BearingClaim],
    programme: Programme,
    vocabulary: Vocabulary,
    reasons: Reasons,
) -> ShownPick:
    """One pick with its prescription, regions, claims and swaps."""
    problems = []
    if pick.exercise is None:
        candidates = ", ".join(vocabulary.exercises[c].name for c in pick.candidates[:6])
        problems.append(
            f"which exercise is meant? {candidates}" if candidates else "exercise not in the vocabulary"
        )
    regions = regions_of(pick, vocabulary)
    claims: list[PickClaim] = []
    swaps: tuple[Swap, ...] = ()
    needs = ""
    if pick.exercise:
        names = family(pick.exercise, vocabulary)
        kin = kin_of(regions, vocabulary)
        for w in bearing:
            if stands_first(w.claim, names) is not None:
                claims.append(note_details(show_claim(w, names, programme, kin, vocabulary), pick, w.claim))
        needs = missing_for(vocabulary.exercises[pick.exercise], programme.equipment)
        swaps = () if pick.warm_up else find_swaps(pick, names, bearing, programme, vocabulary)
    claims.sort(key=lambda c: (not (c.own and c.bears_evidence), not c.counts, -c.level.rank, c.key))
    parts = [part for part in (pick.implement, *pick.details) if part]
    detail = ", ".join(parts)
    shown = any(part.casefold() not in pick.as_written.casefold() for part in parts)
    return ShownPick(
        exercise=f"{pick.as_written} ({detail})" if shown else pick.as_written,
        prescription=Prescription(**tell_prescription(pick)),
        note="; ".join(filter(None, ("warm-up" if pick.warm_up else "", reasons.tell(pick.note or "")))),
        reason=reasons.tell(pick.reason or ""),
        regions=tuple(vocabulary.regions[r].name for r in regions),
        claims=tuple(claims),
        swaps=swaps,
        needs=needs,
        problems=tuple(problems),
        group=f"{pick.group or ''}{pick.order or ''}",
    )


def mark_inventions(pick: ShownPick, inventions: Inventions) -> ShownPick:
    """The pick with invented studies marked where they are cited and others are not invented."""
    return replace(
        pick,
        claims=tuple(replace(c, citation=inventions.mark_all(c.citation)) for c in pick.claims),
        swaps=tuple(replace(s, citation=inventions.mark_all(s.citation)) for s in pick.swaps),
    )


def show_claim(
    weighing: BearingClaim,
    pick: Sequence[str],
    programme: Programme,
    regions: Collection[str],
    vocabulary: Vocabulary,
) -> PickClaim:
    """A claim as it bears on a pick chosen for `regions`: for it, against it, or open; and what was studied of it."""
    claim = weighing.claim
    studied = find_studied(claim, weighing.done, pick, vocabulary)
    return PickClaim(
        key=claim.key,
        wording=weighing.wordings.short,
        verdict=weighing.verdict,
        verdict_text=weighing.verdict_text,
        figures=weighing.figures,
        level=weighing.level,
        low=weighing.low,
        high=weighing.high,
        citation=weighing.citation,
        favours_pick=favours_any(weighing, pick),
        flags=tuple(list_flags(weighing, programme)),
        about_goal=not programme.goal or programme.goal == weighing.construct,
        about_region=claim.region is None or not regions or claim.region in regions,
        studied=studied.told,
        indirect=studied.indirect,
        own=studied.own,
    )


def note_details(shown: PickClaim, pick: Pick, claim: Claim) -> PickClaim:
    """That a claim does not tell apart the way a pick is done, or that it compares two ways of doing the exercise."""
    if claim.exercise and claim.exercise == claim.comparator and shown.bears_evidence:
        return replace(
            shown, flags=(*shown.flags, "compares two ways of doing it: look at how the pick is done")
        )
    said = " ".join(part for part in (pick.implement, *pick.details) if part)
    if not said or claim.exercise_details or claim.comparator_details or not shown.bears_evidence:
        return shown
    return replace(shown, flags=(*shown.flags, f'is about the exercise as such: "{said}" is not told apart'))


def list_flags(weighing: BearingClaim, programme: Programme) -> list[str]:
    """What a reader of a claim has to know besides."""
    claim, flags = weighing.claim, []
    if weighing.construct != claim.construct_id:
        flags.append(f"rests on {weighing.construct}, which stands in for {claim.construct_id} and is not it")
    elif programme.goal and programme.goal != claim.construct_id:
        flags.append(f"is about {claim.construct_id}, not about the programme's goal")
    if left := len(weighing.left_out):
        reasons = "; ".join(weighing.left_out)
        flags.append(f"{left} {'study' if left == 1 else 'studies'} left out: {reasons}")
    return flags


def tell_goal(programme: Programme, vocabulary: Vocabulary) -> str:
    """What the programme is meant to do."""
    construct = vocabulary.constructs.get(programme.goal or "")
    return construct.name if construct else programme.goal or ""
