"""One search over all that is kept: what a person types into the box at the head of a page."""

from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.queries.counting import claims_with_words
from evidence.workflows.gather.searching import find_references
from evidence.workflows.naming import look_up
from evidence.workflows.pages.study_pages import list_study_page

MOST = 8


@dataclass(frozen=True, slots=True)
class Found:
    """Something found: what kind of thing, its key, and how it is called."""

    kind: str  # claims, studies, references, exercises, regions: as addresses have them
    key: str
    name: str


@dataclass(frozen=True, slots=True)
class FoundKind:
    """What was found of one kind; `total` may be more than is shown."""

    kind: str
    title: str
    found: tuple[Found, ...]
    total: int


def find_anything(catalogue: Catalogue, words: str) -> tuple[FoundKind, ...]:
    """What holds the words, kind by kind; kinds with nothing are left out."""
    if not words.strip():
        return ()
    names = look_up(catalogue, words)
    named = (
        [Found(f"{c.kind}s", c.id, c.name) for c in names.candidates[:MOST]]
        if names.outcome != "none"
        else []
    )
    with catalogue.reading() as session:
        claims, total = claims_with_words(session, words, MOST)
    studies = list_study_page(catalogue, words)
    references = find_references(catalogue, words, most=MOST)
    kinds = (
        FoundKind("names", "Exercises and regions", tuple(named), len(named)),
        FoundKind("claims", "Claims", tuple(Found("claims", c.key, c.statement) for c in claims), total),
        FoundKind(
            "studies",
            "Studies",
            tuple(Found("studies", s.key, s.label) for s in studies.lines[:MOST]),
            studies.total,
        ),
        FoundKind(
            "references",
            "References",
            tuple(Found("references", r.key, r.title or r.short) for r in references.found),
            references.total,
        ),
    )
    return tuple(kind for kind in kinds if kind.found)
