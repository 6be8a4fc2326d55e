"""A pick and what was studied: the exercise itself, or only what it is a variant of, or another variant of that.

A claim about the squat bears on the high-bar squat. It says so of another exercise, and a reader is told of which.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from evidence.catalogue.tables import Claim
from evidence.publishing.programmes import join_words
from evidence.vocabulary import Vocabulary


@dataclass(frozen=True, slots=True)
class Done:
    """The exercises that some of a claim's studies did on each side; `studies`: how many of them."""

    exercise: tuple[str, ...]
    comparator: tuple[str, ...]
    studies: int


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


def find_studied(claim: Claim, done: Sequence[Done], names: Sequence[str], vocabulary: Vocabulary) -> Studied:
    """What a claim's studies did on the side of a family, `names` being an exercise and what it is a variant of."""
    exercise, kin = names[0], vocabulary.exercise_family(names[0])
    first = stands_first(claim, names)
    named = claim.exercise if first else claim.comparator
    own = named == exercise
    of_kin = [
        (tuple(e for e in (group.exercise if first else group.comparator) if e in kin), group.studies)
        for group in done
    ]
    of_kin = [(ids, studies) for ids, studies in of_kin if ids]
    itself = vocabulary.exercises[exercise].name
    if not of_kin:
        told = (
            ""
            if own or named is None
            else f"It is about the {vocabulary.exercises[named].name}, not the {itself}"
        )
        return Studied(told, not own, own)
    direct = sum(studies for ids, studies in of_kin if exercise in ids)
    others = dict.fromkeys(e for ids, _ in of_kin if exercise not in ids for e in ids)
    if not others:
        return Studied("", False, own)
    listed = join_words([f"the {vocabulary.exercises[e].name}" for e in others])
    if not direct:
        return Studied(f"What was studied is {listed}, not the {itself}: indirect for this pick", True, own)
    total = sum(studies for _, studies in of_kin)
    return Studied(f"Of {total} studies {direct} did the {itself}, the others {listed}", False, own)
