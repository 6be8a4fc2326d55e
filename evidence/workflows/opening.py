"""Opening the catalogue that a command names, with the vocabulary as its user has extended it."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from evidence.catalogue import Catalogue, create_catalogue, locate_catalogue, open_catalogue
from evidence.catalogue.queries import own_aliases, own_exercises
from evidence.vocabulary import OwnName, Vocabulary, load_vocabulary, read_exercise

if TYPE_CHECKING:
    from evidence.catalogue import Session

__all__ = ["Catalogue", "create_named", "make_own", "open_named", "vocabulary_in", "vocabulary_of"]


def open_named(option: str | None, environment: Mapping[str, str]) -> Catalogue:
    """The catalogue that --catalogue, or STEELYARD_CATALOGUE, or the platform's own place names."""
    return open_catalogue(locate_catalogue(option, environment))


def create_named(option: str | None, environment: Mapping[str, str]) -> str:
    """Make an empty catalogue at that place; returns where it is."""
    location = locate_catalogue(option, environment)
    with create_catalogue(location):
        return str(location)


def make_own(option: str | None, environment: Mapping[str, str]) -> str | None:
    """Make your own catalogue where no other is named and there is none yet; where it was made, else None.

    A place that was named is never made here: it may be misspelt, and a new catalogue there would look like lost data.
    """
    location = locate_catalogue(option, environment)
    if location.origin != "default" or location.path is None or location.path.exists():
        return None
    return create_named(option, environment)


def vocabulary_of(catalogue: Catalogue) -> Vocabulary:
    """The shipped vocabulary with the user's own exercises and names."""
    with catalogue.reading() as session:
        return vocabulary_in(session)


def vocabulary_in(session: "Session") -> Vocabulary:
    """The same, in a session that is open."""
    exercises = own_exercises(session)
    aliases = own_aliases(session)
    shipped = load_vocabulary()
    if not exercises and not aliases:
        return shipped
    own = [read_exercise({**row.body, "id": row.key, "name": row.name}) for row in exercises]
    names = [
        OwnName("exercise" if row.kind == "exercise" else "region", row.alias, row.target) for row in aliases
    ]
    return shipped.with_own(own, names)
