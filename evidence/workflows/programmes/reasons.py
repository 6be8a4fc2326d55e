"""Citations in what an author wrote to a programme: set as people read them, their sources found and listed."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.tables import Reference
from evidence.publishing.articles import CitationText
from evidence.reading.drafts import Citation, read_draft_text
from evidence.reading.programme_model import Programme
from evidence.workflows.documents.articles import (
    citations_of,
    find_sources,
    place_in_text,
    set_citations,
    tell_missing,
)
from evidence.workflows.programmes.bearing_claims import BearingClaim

TIED = re.compile(r"\[([^\[\]]*(?:\[[^\[\]]*\][^\[\]]*)*)\]\{[^{}]*\bclaim=[^{}]*\}")


@dataclass(frozen=True, slots=True)
class Reasons:
    """Texts as typed with their citations set, the sources that they cite, and keys that no source has."""

    said: Mapping[str, str]
    cited: tuple[Reference, ...] = ()
    notes: tuple[str, ...] = ()

    def tell(self, text: str) -> str:
        """A text as it is read: without what ties words to a claim (`[words]{claim=key}`), with its citations set."""
        return self.said.get(text) or without_ties(text)


def set_reasons(catalogue: Catalogue, programme: Programme, weighed: Collection[BearingClaim]) -> Reasons:
    """The reasons and notes of a programme with `[@key]`, `@key` and DOIs set as citations.

    The sources of `weighed` are listed anyway: two of one author and year are told apart everywhere. A bare `@name`
    that is no source's key stays as it is: it may be a person's.
    """
    places = {pick.reason: pick.where for pick in programme.picks if pick.reason}
    places |= {pick.note: pick.where for pick in programme.picks if pick.note}
    if programme.note:
        places[programme.note] = "note"
    found = {
        typed: (text, citations_of(read_draft_text(text, "text")))
        for typed in places
        if "@" in (text := without_ties(typed)) or "10." in text
    }
    keys = {k.key for _, citations in found.values() for c in citations for k in c.keys}
    rows = find_sources(catalogue, keys)
    known = {row.key: row for w in weighed for s in w.studies for row in s.references} | rows
    every = [c for _, citations in found.values() for c in citations]
    shown = iter(set_citations(every, known, "plain").citations)
    said: dict[str, str] = {}
    notes: list[str] = []
    for typed, (text, citations) in found.items():
        said[typed] = _fill(text, citations, [next(shown) for _ in citations])
        for citation in citations:
            notes += [f"{places[typed]}: {tell_missing(k.key)}" for k in citation.keys if k.key not in rows]
    return Reasons(said, tuple({row.id: row for row in rows.values()}.values()), tuple(dict.fromkeys(notes)))


def without_ties(text: str) -> str:
    """Words as they are read: the mark that ties them to a claim is not printed."""
    return TIED.sub(r"\1", text)


def _fill(text: str, citations: Sequence[Citation], shown: Sequence[CitationText]) -> str:
    for citation, told in sorted(zip(citations, shown, strict=True), key=lambda pair: -pair[0].start):
        place = place_in_text(citation, told)
        if place is not None and (told.known or not citation.running):
            text = text[: place[0]] + told.text + text[place[1] :]
    return text
