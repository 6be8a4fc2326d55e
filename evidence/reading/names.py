"""Names of exercises and muscles that the vocabulary knows, for telling one header from the next."""

from __future__ import annotations

from functools import lru_cache

from evidence.errors import SteelyardError


def is_name(text: str) -> bool:
    """Whether the words are, whole, a known name of an exercise or a muscle; number and hyphens do not
    matter.
    """
    from evidence.vocabulary.names import words_of

    return words_of(text) in load_names()


def is_region(text: str) -> bool:
    """Whether the words are, whole, a known name of a muscle or region ("VL", "quadriceps")."""
    from evidence.vocabulary.names import words_of

    return words_of(text) in _load_regions()


@lru_cache(maxsize=1)
def _load_regions() -> frozenset[tuple[str, ...]]:
    from evidence.vocabulary import load_vocabulary
    from evidence.vocabulary.names import words_of

    try:
        regions = load_vocabulary().regions.values()
    except (SteelyardError, OSError):
        return frozenset()
    return frozenset(words_of(name) for r in regions for name in (r.name, r.latin, *r.names))


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
