"""A reference typed by hand, or read out of a citation in plain words and mended by a person."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.errors import BadInput
from evidence.workflows.gather.gathering import GatherReport
from evidence.workflows.gather.looking_up import store
from references.dates import PartialDate
from references.errors import ReferencesError, Unreadable
from references.formats import detect_format
from references.identifiers import find_doi, normalise_pmid
from references.names import write_inverted
from references.plain_citations import read_authors, read_plain_citation
from references.record import Record

__all__ = [
    "KINDS",
    "ReferencesError",  # what reading references raises, for those who may not import from there
    "TypedReference",
    "from_fields",
    "is_plain_citation",
    "read_typed",
    "store_typed",
]

# CSL 1.0.2, appendix III: the types that a coach meets.
KINDS = {
    "article-journal": "journal article",
    "book": "book",
    "chapter": "chapter of a book",
    "thesis": "thesis",
    "article": "preprint",
    "paper-conference": "conference paper",
    "webpage": "web page",
    "document": "other",
}
MOST_WORDS = 120  # more is a text, not one citation
_IDENTIFIER = re.compile(
    r"(?:https?://\S+|doi\s*[:=]?\s*\S+|10\.\d{4,9}/\S+|PMC?I?D?\s*[:=]?\s*\d+)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class TypedReference:
    """The fields of a reference as typed; `authors` one a line, family name first."""

    kind: str = "article-journal"
    authors: str = ""
    year: str = ""
    title: str = ""
    container: str = ""
    volume: str = ""
    issue: str = ""
    page: str = ""
    doi: str = ""
    pmid: str = ""


def is_plain_citation(text: str) -> bool:
    """Whether a paste is one citation in words: no format of references, and more than an identifier."""
    words = _IDENTIFIER.sub(" ", text).split()
    if not words or not any(c.isalpha() for c in text) or len(words) > MOST_WORDS:
        return False
    try:
        found = detect_format(text.splitlines(), "text")
    except Unreadable:
        return True
    one = len(_IDENTIFIER.findall(text)) == 1
    return found.name == "identifiers" and one and sum(any(map(str.isalpha, w)) for w in words) >= 4


def read_typed(text: str) -> TypedReference:
    """What could be read of a citation in words, as the fields of the form; what was not found stays empty."""
    found = read_plain_citation(text)
    return TypedReference(
        "article-journal" if found.container or found.volume else "document",
        "\n".join(write_inverted(name) for name in found.authors),
        str(found.year or ""),
        found.title,
        found.container,
        found.volume,
        found.issue,
        found.page,
        found.doi,
        found.pmid,
    )


def from_fields(fields: Mapping[str, str]) -> TypedReference:
    """The fields as a form sent them, without characters that no eye sees."""
    return TypedReference(
        **{
            name: "".join(c for c in fields.get(name, "") if c.isprintable() or c == "\n").strip()
            for name in TypedReference.__dataclass_fields__
        }
    )


def store_typed(catalogue: Catalogue, typed: TypedReference, who: str) -> GatherReport:
    """Store a reference as typed, unless it is here already. Raises BadInput for what cannot stand in a field."""
    return store(catalogue, [as_typed_record(typed)], who, "typed by hand", "refs typed")


def as_typed_record(typed: TypedReference) -> Record:
    """The record that was typed. Raises BadInput."""
    if not typed.title:
        raise BadInput("A reference needs a title.", where="Title", hint="Type it as the work prints it.")
    if typed.kind not in KINDS:
        raise BadInput(
            f'"{typed.kind}" is no kind of work.', where="Kind", hint=f"One of: {', '.join(KINDS)}."
        )
    if typed.year and not (typed.year.isascii() and typed.year.isdecimal() and len(typed.year) == 4):
        raise BadInput(
            f'"{typed.year}" is no year.', where="Year", hint="Four digits, such as 2017, or nothing."
        )
    doi, pmid = find_doi(typed.doi), normalise_pmid(typed.pmid)
    if typed.doi and doi is None:
        raise BadInput(f'"{typed.doi}" is no DOI.', where="DOI", hint="It begins with 10. and holds a slash.")
    if typed.pmid and pmid is None:
        raise BadInput(f'"{typed.pmid}" is no PMID.', where="PMID", hint="One to eight digits, or nothing.")
    return Record(
        key="",
        type=typed.kind,
        author=read_authors(f"{typed.authors}\n") if typed.authors else (),
        issued=PartialDate(year=int(typed.year)) if typed.year else None,
        title=typed.title,
        container_title=typed.container or None,
        volume=typed.volume or None,
        issue=typed.issue or None,
        page=typed.page or None,
        doi=doi,
        pmid=pmid,
    )
