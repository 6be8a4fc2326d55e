"""Swaps for a pick: other exercises for the same muscles that can be done with what is there, and how they compare."""

from collections.abc import Collection, Sequence

from evidence.appraisal.verdict import VerdictKind
from evidence.publishing.programmes import Swap
from evidence.reading.programme_model import Pick, Programme
from evidence.vocabulary import Exercise, Vocabulary
from evidence.vocabulary.terms import Direction
from evidence.workflows.programmes.bearing_claims import BearingClaim
from evidence.workflows.programmes.equipment import missing_for
from evidence.workflows.programmes.variants import find_studied, stands_first

COMPARED, UNCOMPARED = 4, 2  # at most so many of each; project
NO_CLAIM = "No claim in the catalogue compares the two."


def regions_of(pick: Pick, vocabulary: Vocabulary) -> tuple[str, ...]:
    """The regions a pick is chosen for: those its writer names, else the main ones of the exercise."""
    if pick.chosen_for:
        return pick.chosen_for
    exercise = vocabulary.exercises.get(pick.exercise or "")
    return exercise.primary if exercise else ()


def kin_of(regions: Collection[str], vocabulary: Vocabulary) -> set[str]:
    """Regions with their parts and what they are parts of."""
    return {
        kin
        for region in regions
        for kin in (region, *vocabulary.descendants(region), *vocabulary.ancestors(region))
    }


def find_swaps(
    pick: Pick,
    names: Sequence[str],
    weighed: Collection[BearingClaim],
    programme: Programme,
    vocabulary: Vocabulary,
) -> tuple[Swap, ...]:
    """The swaps of one pick, `names` being its exercise and what that is a variant of, nearest first.

    First those that a claim compares with it, the surest first; then a few of the same kind that nothing compares.
    """
    regions = kin_of(regions_of(pick, vocabulary), vocabulary)
    picked = {p.exercise for p in programme.picks}
    compared: dict[tuple[str, str | None], Swap] = {}
    bearing = sorted(weighed, key=lambda w: (-w.level.rank, w.claim.key))
    for weighing in bearing:
        other = _other_side(weighing, names)
        if other is None or (weighing.claim.region and weighing.claim.region not in regions):
            continue
        exercise = vocabulary.exercises[other]
        if not kin_of(exercise.primary, vocabulary) & regions or missing_for(exercise, programme.equipment):
            continue
        swap = _compare(weighing, exercise, names, programme, other in picked, vocabulary)
        place = (other, weighing.claim.region)
        if place not in compared or (swap.about_goal and not compared[place].about_goal):
            compared[place] = swap
    told = sorted(compared.values(), key=lambda s: (not s.about_goal, -(s.level.rank if s.level else 0)))
    return (
        *told[:COMPARED],
        *_uncompared(pick, names, {*(other for other, _ in compared), *picked}, programme, vocabulary),
    )


def _other_side(weighing: BearingClaim, names: Sequence[str]) -> str | None:
    claim = weighing.claim
    if claim.exercise is None or claim.comparator is None or not weighing.found:
        return None
    first = stands_first(claim, names)
    if first is None:
        return None
    own, other = (claim.exercise, claim.comparator) if first else (claim.comparator, claim.exercise)
    # Of two that it is a variant of, neither is a swap for it, nor is another way of doing the exercise itself.
    return None if other == own or (other in names and own != names[0]) else other


def favours_any(weighing: BearingClaim, exercises: Sequence[str]) -> bool | None:
    """Whether a decided claim speaks for one of these exercises, nearest first, or against; None: neither.

    A claim that compares two ways of doing one exercise speaks neither for that exercise nor against it.
    """
    if weighing.claim.exercise == weighing.claim.comparator:
        return None
    if weighing.verdict not in (VerdictKind.SUPPORTED, VerdictKind.CONTRADICTED):
        return None
    if weighing.direction not in (Direction.MORE, Direction.LESS):
        return None
    return (weighing.direction is Direction.MORE) == bool(stands_first(weighing.claim, exercises))


def _compare(
    weighing: BearingClaim,
    exercise: Exercise,
    names: Sequence[str],
    programme: Programme,
    picked: bool,
    vocabulary: Vocabulary,
) -> Swap:
    sides = (names, (exercise.id,))
    studied = [find_studied(weighing.claim, weighing.done, side, vocabulary).told for side in sides]
    favours = favours_any(weighing, names)
    return Swap(
        exercise=f"{exercise.name} (already in this programme)" if picked else exercise.name,
        wording=weighing.wordings.short,
        verdict_text=weighing.verdict_text,
        figures=weighing.figures,
        level=weighing.level,
        low=weighing.low,
        high=weighing.high,
        citation=weighing.citation,
        better=None if favours is None else not favours,
        about_goal=not programme.goal or programme.goal == weighing.construct,
        studied=". ".join(dict.fromkeys(filter(None, studied))),
    )


def _moves(exercise: Exercise) -> set[str]:
    """The joint actions of an exercise: `hip ext`, `knee flex`."""
    return {part.split("(")[0].strip() for part in exercise.joint_action.split("+")}


def _uncompared(
    pick: Pick,
    names: Sequence[str],
    known: Collection[str | None],
    programme: Programme,
    vocabulary: Vocabulary,
) -> list[Swap]:
    own = vocabulary.exercises[names[0]]
    wanted = set(regions_of(pick, vocabulary))
    related = {*vocabulary.exercise_family(names[0])}
    found = [
        e
        for e in vocabulary.exercises.values()
        if wanted <= set(e.primary) and e.id not in known and e.id not in related
        if e.parent is None and _moves(e) & _moves(own) and not missing_for(e, programme.equipment)
    ]
    found.sort(key=lambda e: (e.joint_action != own.joint_action, len(e.primary), e.name))
    return [Swap(e.name, NO_CLAIM) for e in found[:UNCOMPARED]]
