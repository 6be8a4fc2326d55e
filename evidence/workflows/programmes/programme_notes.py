"""What there is to say of a programme as a whole: counting, priorities, overlap, open questions, cautions."""

from collections.abc import Collection, Iterator, Sequence

from evidence.publishing.programmes import Overlap, WeeklySets, format_sets
from evidence.reading.programme_model import Programme
from evidence.vocabulary import Vocabulary
from evidence.workflows.programmes.audiences import words_of_age
from evidence.workflows.programmes.bearing_claims import BearingClaim
from evidence.workflows.programmes.variants import family, find_studied, stands_first


def note_counting(programme: Programme) -> list[str]:
    """Picks that the weekly sets do not hold, or hold only in part."""
    notes = []
    for pick in programme.picks:
        high, often = pick.prescription.sets_high, pick.prescription.often
        if pick.warm_up:
            continue
        if pick.exercise is None or pick.sets is None:
            why = "its exercise is not known" if pick.exercise is None else "how many sets is not said"
            notes.append(f"{pick.where}: {pick.as_written} is NOT in the weekly sets: {why}.")
            continue
        if high is not None and high > pick.sets:
            notes.append(
                f"{pick.where}: {pick.as_written}: {pick.sets} to {high} sets, counted as {pick.sets}."
            )
        if often is not None and often[1] is not None and often[1] > often[0]:
            told = f"{often[0]:g} to {often[1]:g} times a week, counted as {often[0]:g}"
            notes.append(f"{pick.where}: {pick.as_written}: {told}.")
    return notes


def note_priorities(
    weekly: Sequence[WeeklySets], priorities: Sequence[str], vocabulary: Vocabulary
) -> Iterator[str]:
    """Where fractional weekly sets do not follow the programme's own priorities; regions apart from each other only."""
    by_name = {row.region: row for row in weekly}
    ranked = [(region, by_name[vocabulary.regions[region].name]) for region in priorities]
    kin = {r: {r, *vocabulary.ancestors(r), *vocabulary.descendants(r)} for r in priorities}
    for place, (region, row) in enumerate(ranked):
        if not row.total:
            yield f"{row.region} is priority {place + 1}, and no pick works it."
        for later, below in ranked[place + 1 :]:
            if below.fractional > row.fractional and later not in kin[region]:
                yield (
                    f"{row.region} is placed before {below.region}, and has fewer weekly sets (fractional: "
                    f"{format_sets(row.fractional)} and {format_sets(below.fractional)})."
                )
    if not ranked:
        return
    ids = {vocabulary.regions[r].name: r for r in vocabulary.regions}
    low = min((row for _, row in ranked), key=lambda row: row.fractional)
    every_kin = set().union(*kin.values())
    for row in weekly:
        if not row.priority and ids[row.region] not in every_kin and row.direct > low.fractional:
            yield (
                f"{row.region} is no priority, and has more weekly sets (direct: {format_sets(row.direct)}) than "
                f"{low.region}, which is one (fractional: {format_sets(low.fractional)})."
            )


def find_overlaps(programme: Programme, vocabulary: Vocabulary) -> tuple[Overlap, ...]:
    """Regions that more than one pick of a session works as a main one."""
    found = []
    for session in programme.sessions:
        by_region: dict[str, list[tuple[str, int]]] = {}
        for pick in session.picks:
            if pick.exercise and not pick.warm_up:
                for region in vocabulary.exercises[pick.exercise].primary:
                    by_region.setdefault(region, []).append((pick.as_written, pick.sets or 0))
        for region, picks in by_region.items():
            names = tuple(dict.fromkeys(name for name, _ in picks))
            if len(names) > 1:
                sets = float(sum(sets for _, sets in picks))
                found.append(Overlap(session.name, vocabulary.regions[region].name, names, sets))
    return tuple(found)


def list_open_questions(
    programme: Programme, weighed: Collection[BearingClaim], vocabulary: Vocabulary
) -> list[str]:
    """What is worth reading up on: used often, and resting on little. A heuristic."""
    counts: dict[str, int] = {}
    for pick in programme.picks:
        if pick.exercise:
            counts[pick.exercise] = counts.get(pick.exercise, 0) + 1
    bare, uncertain, related = [], [], []
    for exercise, times in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        names = family(exercise, vocabulary)
        bearing = [w for w in weighed if stands_first(w.claim, names) is not None]
        found = [w for w in bearing if w.found]
        name = vocabulary.exercises[exercise].name
        often = name if times == 1 else f"{name} (picked {times} times)"
        if not found:
            bare.append(often)
        elif all(find_studied(w.claim, w.done, names, vocabulary).indirect for w in found):
            related.append(often)
        elif all(w.level.rank <= 1 for w in bearing):
            uncertain.append(often)
    return [
        f"{said}: {', '.join(named)}."
        for said, named in (
            ("Every claim that bears on it has very low confidence", uncertain),
            ("Studied only as what it is a variant of, or as another variant", related),
            ("No claim in the catalogue rests on a study of it", bare),
        )
        if named
    ]


def cautions_for(
    programme: Programme, weighed: Collection[BearingClaim], vocabulary: Vocabulary
) -> list[str]:
    """The writer's own cautions, those of every programme, and those its audience, notes and claims call up."""
    audience = programme.audience
    words = [
        programme.title,
        programme.note or "",
        *programme.cautions,
        audience.text or "",
        audience.health or "",
    ]
    words += [words_of_age(audience.age or audience.text)]
    words += [p.note or "" for p in programme.picks] + [w.statement for w in weighed]
    called = vocabulary.cautions_for(" ".join(words))
    always = [vocabulary.cautions[key] for key in ("programme", "screening") if key in vocabulary.cautions]
    return [*programme.cautions, *(c.text for c in dict.fromkeys((*always, *called)))]
