"""What is compared of a record: folded title and its marks (erratum, part II, ...), surnames, year, venue,
pages.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache

from references.folding import count_from, fold
from references.identifiers import normalise_doi
from references.record import Name, Record
from references.rules import load_rules

_BRACKETED = re.compile(r"^(?P<outer>.*?)\s*\[(?P<inner>[^\[\]]{4,})\]\s*\.?$", re.DOTALL)
_PART = re.compile(
    r"\b(?:(?:part|pt|teil|parte|partie) (\w+)|(?:study|paper|volume|experiment) ([ivx]+|\d))\b"
)
_LAST_NUMBER = re.compile(r" (ii|iii|iv|v|[1-9])$")
_PAGE = re.compile(r"^([A-Za-z]*)0*(\d+)(?:\s*[-–—]+\s*([A-Za-z]*)0*(\d+))?")
_REGISTRATION = re.compile(
    r"\b(?:NCT\d{8}|ISRCTN\d{8}|ACTRN\d{14}|CRD42\d{9,13}|DRKS\d{8}|ChiCTR[-\w]*\d{8,10})\b"
)
_REGISTRIES = ("NCT", "ISRCTN", "ACTRN", "CRD42", "DRKS", "ChiCTR")
_LOST_LETTER = re.compile(r"(?<=\w)[?\ufffd](?=\w)")  # `N?rv?g`: a letter that an export could not write
_DIGITS = re.compile(r"\d+")


@dataclass(frozen=True, slots=True)
class Profile:
    """A record made ready for comparing. Texts are folded; an empty text or None means not known.

    `titles`: the title without its marks, then other wordings (translated, original). `marker`: the relation
    that the title claims (`erratum-of`, ...). `part`: its number in a series. `initials`: first initials
    beside `surnames` ("" if not known). `form`: article, preprint, abstract, book, chapter, thesis or
    other.
    """

    key: str
    titles: tuple[str, ...]
    marker: str | None
    part: int | None
    surnames: tuple[str, ...]
    initials: tuple[str, ...]
    cut_authors: bool
    year: int | None
    venue: str
    volume: str
    pages: tuple[str, str] | None
    form: str
    doi: str | None
    pmid: str | None
    pmcid: str | None
    isbn: str | None
    registrations: tuple[str, ...]
    ahead_of_print: bool

    @property
    def title(self) -> str:
        """The title's first wording."""
        return self.titles[0] if self.titles else ""


def build_profile(record: Record) -> Profile:
    """Make a record ready for comparing."""
    titles, marker = _read_titles(record)
    names = _names_of(record)
    pairs = [pair for name in names if (pair := split_name(name))[0]]
    return Profile(
        key=record.key,
        titles=titles,
        marker=marker,
        part=_part_of(titles[0]) if titles else None,
        surnames=tuple(surname for surname, _ in pairs if surname not in _OTHERS),
        initials=tuple(initial for surname, initial in pairs if surname not in _OTHERS),
        cut_authors=any(surname in _OTHERS for surname, _ in pairs),
        year=record.year,
        venue=_fold_venue(record.container_title or record.container_title_short or record.event_title or ""),
        volume=_first_number(record.volume),
        pages=_read_pages(record.page or record.page_first),
        form=form_of(record, marker),
        doi=clean_doi(record.doi),
        pmid=record.pmid.strip().lstrip("0") or None if record.pmid else None,
        pmcid=_first_number(record.pmcid) or None,
        isbn=re.sub(r"[^0-9Xx]", "", record.isbn)[:13] or None if record.isbn else None,
        registrations=_registrations_of(record),
        ahead_of_print=(bool(record.status) and "print" in fold(record.status)) or not record.volume,
    )


_OTHERS = frozenset({"others", "et al", "al"})


def clean_doi(doi: str | None) -> str | None:
    """The DOI in its normal form; what is no DOI is kept in lower case, for equality only."""
    if not doi:
        return None
    if doi.startswith("10.") and doi.isascii() and doi == doi.lower() and doi[-1].isalnum():
        return doi  # already normal: most records come from readers that made it so
    return normalise_doi(doi) or doi.strip().lower()


def split_name(name: Name) -> tuple[str, str]:
    """(folded surname with its particle, first initial or ""). A literal is a body and stays whole."""
    if name.family:
        surname = fold(_LOST_LETTER.sub("", name.family))
        particle = name.non_dropping_particle or name.dropping_particle
        given = fold(name.given)
        if len(surname) == 1 and len(given) > 1:  # "L Marchesi" split the wrong way round
            surname, given = given, surname
        return (f"{fold(particle)} {surname}" if particle else surname), given[:1]
    return fold(name.literal or name.given), ""


def _names_of(record: Record) -> tuple[Name, ...]:
    return record.author or record.editor or record.translator


def _read_titles(record: Record) -> tuple[tuple[str, ...], str | None]:
    """The title's wordings with marks taken off, and the relation that a mark claims."""
    raw = _drop_session_notes(record.title or "")
    found = _BRACKETED.match(raw) if raw.endswith(("]", "].")) else None
    wordings: list[str] = []
    marker: str | None = None
    if found:
        outer, inner = fold(found["outer"]), fold(found["inner"])
        marker = _ending_relations().get(inner)
        wordings = [outer] if marker or inner in _retracted_labels() else [outer or inner, inner]
    else:
        wordings = [fold(raw)]
    if record.original_title:
        wordings.append(fold(record.original_title))
    base, starting = take_marker(wordings[0])
    if not starting and not marker:
        base, marker = _take_ending(raw, base)
    others = [wording for wording in wordings[1:] if wording and wording != base]
    return tuple([base, *others] if base else others), starting or marker


_IN_BRACKETS = re.compile(r"\(([^()]{4,24})\)")


def _drop_session_notes(title: str) -> str:
    if "(" not in title:
        return title
    notes = _session_notes()
    return _IN_BRACKETS.sub(lambda found: " " if fold(found[1]) in notes else found.group(), title)


def take_marker(title: str) -> tuple[str, str | None]:
    """A folded title without its opening mark, and the mark's relation; a bare mark stays as the title."""
    for start, relation in _starts_by_first_word().get(title.partition(" ")[0], ()):
        if title.startswith(start + " ") and len(title) > len(start) + 8:
            rest = title[len(start) + 1 :]
            if relation == "reply-to" and start in ("re", "reply", "response to", "rebuttal", "comments on"):
                rest = rest.removeprefix("to ")
            again, _ = take_marker(rest)
            return again, relation or None
    return title, None


@cache
def _starts_by_first_word() -> dict[str, list[tuple[str, str]]]:
    """Opening marks by their first word, longest first; `Retracted article:` names no other work."""
    rules = load_rules("duplicates")
    starts = [(start, marker["relation"]) for marker in rules["markers"] for start in marker["start"]]
    starts += [(label, "") for label in rules["retracted_labels"]]
    table: dict[str, list[tuple[str, str]]] = {}
    for start, relation in sorted(starts, key=lambda pair: -len(pair[0])):
        table.setdefault(start.split()[0], []).append((start, relation))
    return table


@cache
def _ending_relations() -> dict[str, str]:
    endings = load_rules("duplicates")["marker_endings"]
    return {end: ending["relation"] for ending in endings for end in ending["end"]}


@cache
def _session_notes() -> frozenset[str]:
    return frozenset(load_rules("duplicates")["session_notes"])


@cache
def _retracted_labels() -> frozenset[str]:
    return frozenset(load_rules("duplicates")["retracted_labels"])


_ENDING = re.compile(r"[(\[:—–-]\s*([A-Za-z' ]{5,22})[)\]]?\s*\.?\s*$")


def _take_ending(raw: str, folded: str) -> tuple[str, str | None]:
    found = _ENDING.search(raw)
    if not found:
        return folded, None
    ending = fold(found[1])
    relation = _ending_relations().get(ending)
    if relation is None and ending not in _retracted_labels():
        return folded, None
    rest = folded.removesuffix(ending).strip()
    return (rest, relation) if len(rest) > 8 else (folded, None)


def _part_of(title: str) -> int | None:
    found = _PART.search(title)
    if found:
        return count_from(found[1] or found[2])
    found = _LAST_NUMBER.search(title)
    return count_from(found[1]) if found else None


@lru_cache(maxsize=65536)
def _fold_venue(venue: str) -> str:
    return fold(venue)


def _first_number(text: str | None) -> str:
    found = _DIGITS.search(text) if text else None
    return found.group().lstrip("0") if found else ""


def _read_pages(text: str | None) -> tuple[str, str] | None:
    """First and last page, a short range written out: `101-10` is 101 to 110; last is "" if not given."""
    found = _PAGE.match(text.strip()) if text else None
    if not found:
        return None
    letters, first, _, last = found.groups()
    if last and len(last) < len(first):
        last = first[: len(first) - len(last)] + last
    return letters.lower() + first, (letters.lower() + last if last else "")


_FORMS = {
    "article-journal": "article",
    "article-magazine": "article",
    "article-newspaper": "article",
    "paper-conference": "meeting",
    "book": "book",
    "chapter": "chapter",
    "thesis": "thesis",
    "report": "report",
    "article": "article",
}


def form_of(record: Record, marker: str | None = None) -> str:
    """What kind of publication a record is: article, preprint, abstract, book, chapter, thesis, meeting or other."""
    genre = fold(record.genre)
    venue = _fold_venue(record.container_title or record.publisher or "")
    rules = load_rules("duplicates")
    if "preprint" in genre or venue in _preprint_venues() or venue.endswith(rules["preprint_venue_ending"]):
        return "preprint"
    doi = record.doi
    if doi and "10." in doi and _is_preprint_doi(clean_doi(doi) or ""):
        return "preprint"
    if marker == "abstract-of" or "abstract" in genre or _is_supplement_page(record):
        return "abstract"
    return _FORMS.get(record.type, "other")


def _is_supplement_page(record: Record) -> bool:
    """A single page numbered S44 in a supplement is how meeting abstracts are printed."""
    page = (record.page or "").strip()
    return bool(page) and page[0] in "Ss" and page[1:].isdecimal()


@cache
def _preprint_venues() -> frozenset[str]:
    return frozenset(load_rules("duplicates")["preprint_venues"])


@cache
def _preprint_prefixes() -> tuple[str, ...]:
    return tuple(load_rules("duplicates")["preprint_doi_prefixes"])


def _is_preprint_doi(doi: str) -> bool:
    if not doi.startswith(_preprint_prefixes()):
        return False
    # 10.1101 is shared with journals, whose suffixes begin with letters
    return not doi.startswith("10.1101/") or doi[8:9].isdigit()


def _registrations_of(record: Record) -> tuple[str, ...]:
    found: set[str] = set()
    for text in (record.abstract, record.note, record.title):
        if text and any(registry in text for registry in _REGISTRIES):
            found.update(_REGISTRATION.findall(text))
    return tuple(sorted(found))


def build_profiles(records: Iterable[Record]) -> list[Profile]:
    """One profile per record, in order."""
    return [build_profile(record) for record in records]
