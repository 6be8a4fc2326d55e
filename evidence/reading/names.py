"""Names of exercises and muscles that the vocabulary knows, for telling one header from the next."""

from __future__ import annotations

from functools import lru_cache

from evidence.errors import SteelyardError


def is_name(text: str) -> bool:
    """Whether the words are, whole, a known name of an exercise or a muscle; number and hyphens do not matter."""
    from evidence.vocabulary.names import words_of

    return words_of(text) in load_names()


@lru_cache(maxsize=1)
def load_names() -> frozenset[tuple[str, ...]]:
    """Known names of two words or more, as comparable words; empty when the vocabulary cannot be loaded."""
    from evidence.vocabulary import load_vocabulary
    from evidence.vocabulary.names import words_of

    try:
        vocabulary = load_vocabulary()
    except (SteelyardError, OSError):
        return frozenset()
    names: list[str] = []
    for exercise in vocabulary.exercises.values():
        names += [exercise.name, *exercise.names]
    for region in vocabulary.regions.values():
        names += [region.name, region.latin, *region.names]
    return frozenset(words for name in names if len(words := words_of(name)) > 1)
