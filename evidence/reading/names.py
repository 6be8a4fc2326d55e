"""Names of exercises and muscles that the vocabulary knows, for telling one header from the next."""

from __future__ import annotations

from functools import lru_cache

from evidence.errors import SteelyardError


@lru_cache(maxsize=1)
def load_names() -> frozenset[str]:
    """Known names and aliases in small letters; empty when the vocabulary cannot be loaded."""
    from evidence.vocabulary import load_vocabulary

    try:
        vocabulary = load_vocabulary()
    except (SteelyardError, OSError):
        return frozenset()
    names = [e.name for e in vocabulary.exercises.values()] + [r.name for r in vocabulary.regions.values()]
    names += [a for e in (*vocabulary.exercises.values(), *vocabulary.regions.values()) for a in e.names]
    names += [r.latin for r in vocabulary.regions.values() if r.latin]
    return frozenset(_plural_too(name.casefold()) for name in names) | frozenset(n.casefold() for n in names)


def _plural_too(name: str) -> str:
    return name if name.endswith("s") else f"{name}s"
