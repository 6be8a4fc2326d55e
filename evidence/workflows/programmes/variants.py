"""A pick and what was studied: the exercise itself, or only what it is a variant of, or another variant of that.

A claim about the squat bears on the high-bar squat. It says so of another exercise, and a reader is told of which.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from evidence.catalogue.tables import Claim
from evidence.publishing.programmes import join_words
from evidence.vocabulary import Vocabulary
from evidence.workflows.relevance.bearing import Bearing
from evidence.workflows.weigh.weighing import Weighing


@dataclass(frozen=True, slots=True)
class Studied:
    """What was studied of one side of a claim, held against an exercise that it is to speak for.

    `told`: in words; empty where all studies did this very exercise. `indirect`: none of them did. `own`: the claim
    names the exercise itself.
    """

    told: str
    indirect: bool
    own: bool


def family(exercise: str, vocabulary: Vocabulary) -> tuple[str, ...]:
    """An exercise and those it is a variant of, nearest first."""
    return (exercise, *vocabulary.exercise_ancestors(exercise))


def stands_first(claim: Claim, names: Sequence[str]) -> bool | None:
    """Whether a family stands on the first side of a claim; on both: by its nearest name. None: on neither."""
    first, second = (
        names.index(e) if e is not None and e in names else None for e in (claim.exercise, claim.comparator)
    )
    if first is None and second is None:
        return None
    return second is None or (first is not None and first <= second)


def find_studied(weighing: Weighing, names: Sequence[str], vocabulary: Vocabulary) -> Studied:
    """What a claim's studies did on the side of a family, `names` being an exercise and what it is a variant of."""
    claim, exercise = weighing.claim, names[0]
    first = stands_first(claim, names)
    named = claim.exercise if first else claim.comparator
    own = named == exercise
    done = [_done(s.bearing, bool(first), names, vocabulary) for s in weighing.studies]
    done = [ids for ids in done if ids]
    itself = vocabulary.exercises[exercise].name
    if not done:
        told = (
            ""
            if own or named is None
            else f"It is about the {vocabulary.exercises[named].name}, not the {itself}"
        )
        return Studied(told, not own, own)
    direct = sum(exercise in ids for ids in done)
    others = dict.fromkeys(e for ids in done if exercise not in ids for e in ids)
    if not others:
        return Studied("", False, own)
    listed = join_words([f"the {vocabulary.exercises[e].name}" for e in others])
    if not direct:
        return Studied(f"What was studied is {listed}, not the {itself}: indirect for this pick", True, own)
    return Studied(f"Of {len(done)} studies {direct} did the {itself}, the others {listed}", False, own)


def _done(bearing: Bearing, first: bool, names: Sequence[str], vocabulary: Vocabulary) -> tuple[str, ...]:
    """The exercises of a family that one study did on a side: the exercise, what it is a variant of, other variants."""
    sides = bearing.exercise_sides if first else bearing.comparator_sides
    done = dict.fromkeys(side.condition.exercise for side in sides)
    kin = vocabulary.exercise_family(names[0])
    return tuple(exercise for exercise in done if exercise in kin)
