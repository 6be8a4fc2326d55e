"""One reference as a page shows it: its fields, the notices on it as they came, and what may be the same work."""

import re
from collections.abc import Container
from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import reference_by_key, references_called, settings
from evidence.workflows.gather.apart import pairs_apart
from evidence.workflows.gather.gathering import PairFound, as_record
from evidence.workflows.gather.notice_log import notices_kept
from evidence.workflows.gather.searching import find_references
from evidence.workflows.pages.browsing import ReferenceShown, show_reference
from references.duplicates import compare_pair
from references.relations import Answer

CANDIDATES = 25
TITLE_WORDS = 4


@dataclass(frozen=True, slots=True)
class NoticeLine:
    """A notice on a reference: what it is, of which day (empty: not told), where it was read, and why it was given."""

    kind: str
    day: str
    source: str
    reason: str
    remark: str


@dataclass(frozen=True, slots=True)
class ReferencePage:
    """A reference with its notices, and stored references that look like the same or a related work."""

    shown: ReferenceShown
    notices: tuple[NoticeLine, ...]
    pairs: tuple[PairFound, ...]


def head_of_reference(catalogue: Catalogue, key: str) -> dict[str, str]:
    """What a new study takes from the reference that reports it, by field of its form; nothing of one unknown."""
    with catalogue.reading() as session:
        found = references_called(session, key, None)
        return {"title": found[0].title, "year": str(found[0].year or "")} if found else {}


def show_reference_page(catalogue: Catalogue, key: str) -> ReferencePage:
    """One reference, whole. Raises NotFound."""
    shown = show_reference(catalogue, key)
    with catalogue.reading() as session:
        kept = settings(session)
    notices = tuple(
        NoticeLine(str(n.kind), str(n.date or ""), n.source, n.reason, n.remark)
        for n in notices_kept(kept, key)
    )
    return ReferencePage(shown, notices, find_pairs(catalogue, key, pairs_apart(kept)))


def find_pairs(catalogue: Catalogue, key: str, apart: Container[frozenset[str]]) -> tuple[PairFound, ...]:
    """References with the first words of its title that look like the same work, or a related one.

    The list of all duplicates compares more widely; this is what can be told at once of one.
    """
    with catalogue.reading() as session:
        row = reference_by_key(session, key)
        words = re.findall(r"[^\W\d_]{4,}", row.title)[:TITLE_WORDS]
    if not words:
        return ()
    found = find_references(catalogue, " ".join(words).lower(), most=CANDIDATES).found
    record = as_record(row)
    pairs = []
    with catalogue.reading() as session:
        for other in found:
            if other.key == key or frozenset((key, other.key)) in apart:
                continue
            pair = compare_pair(record, as_record(reference_by_key(session, other.key)))
            if pair.answer is not Answer.DIFFERENT:
                related = f" ({pair.relation})" if pair.relation else ""
                pairs.append(PairFound(key, other.key, f"{pair.answer}{related}", pair.reason))
    return tuple(pairs)
