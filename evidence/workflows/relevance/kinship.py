"""Which exercises and regions a study may be about and still bear on a claim: those of one family."""

from evidence.vocabulary import Vocabulary

PAIRED = ("comparison", "sameness", "rate")  # kinds of claim that hold one exercise against another


def related_exercises(exercise: str, vocabulary: Vocabulary) -> frozenset[str]:
    """The exercises by which a study can bear on a claim about one: itself, its variants, what it is a variant of."""
    if exercise not in vocabulary.exercises:
        return frozenset((exercise,))
    return frozenset(
        (exercise, *vocabulary.exercise_ancestors(exercise), *vocabulary.exercise_descendants(exercise))
    )


def related_regions(region: str | None, vocabulary: Vocabulary) -> frozenset[str | None]:
    """The regions of claims that a result in one region can bear on: itself, what holds it, its portions."""
    if region is None or region not in vocabulary.regions:
        return frozenset((region,))
    return frozenset((region, *vocabulary.ancestors(region), *vocabulary.descendants(region)))
