"""The formats that can be read: how each is known from its content, and its reader (imported when needed)."""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from references.errors import Problem, Unreadable
from references.identifiers import normalise_doi, normalise_pmcid, normalise_pmid
from references.record import Record

Items = Iterator[Record | Problem]

_XML = re.compile(r"<(?:Pubmed(?:Book)?Article|MedlineCitation)\b")
_RIS = re.compile(r"\s{0,3}TY {0,3}- {0,3}\S", re.IGNORECASE)
_MEDLINE = re.compile(r" {0,3}PMID {0,2}-(?:\s|\d|$)")
_TAGGED = re.compile(r"(?:FN |VR 1\.0|PT [JBSPC]\s*$)")
_BIBTEX_OTHER = re.compile(r"\s*@\s*(?:string|preamble|comment)\s*[{(]", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Format:
    """A file format. `starts`: does a line begin a record? Text formats read lines, XML reads bytes.

    A text format is known by a line that begins a record; XML, JSON and lists are told apart in `detect_format`.
    """

    name: str
    label: str
    starts: Callable[[str], bool]
    read: Callable[[Iterable[str]], Items]
    read_chunks: Callable[[Iterable[bytes]], Items] | None = None


def _starts_bibtex(line: str) -> bool:
    from references.bibtex_split import starts_entry

    return "@" in line and starts_entry(line)


def _read_bibtex(lines: Iterable[str]) -> Items:
    from references.bibtex import read_bibtex

    return read_bibtex(lines)


def _read_ris(lines: Iterable[str]) -> Items:
    from references.ris import read_ris

    return read_ris(lines)


def _read_medline(lines: Iterable[str]) -> Items:
    from references.medline import read_medline

    return read_medline(lines)


def _read_pubmed_xml(chunks: Iterable[bytes]) -> Items:
    from references.pubmed_xml import read_pubmed_xml

    return read_pubmed_xml(chunks)


def _read_csl_json(lines: Iterable[str]) -> Items:
    from references.csl_json import read_csl_json

    return read_csl_json(lines)


def _read_list(lines: Iterable[str]) -> Items:
    from references.identifier_lists import read_list

    return read_list(lines)


def _is_identifier(line: str) -> bool:
    return any(find(line.strip()) for find in (normalise_doi, normalise_pmid, normalise_pmcid))


def _read_nothing(lines: Iterable[str]) -> Items:
    yield from ()


def _never(line: str) -> bool:
    return False


FORMATS: dict[str, Format] = {
    item.name: item
    for item in (
        Format("bibtex", "BibTeX", _starts_bibtex, _read_bibtex),
        Format("ris", "RIS", lambda line: _RIS.match(line) is not None, _read_ris),
        Format("medline", "MEDLINE", lambda line: _MEDLINE.match(line) is not None, _read_medline),
        Format("pubmed_xml", "PubMed XML", _never, _read_nothing, _read_pubmed_xml),
        Format("csl_json", "CSL-JSON", _never, _read_csl_json),
        Format("identifiers", "list of identifiers", _is_identifier, _read_list),
    )
}


def detect_format(lines: Sequence[str], name: str) -> Format:
    """The format of a file from its first lines. Raises Unreadable where none fits."""
    text = next((line for line in lines if line.strip()), "").lstrip("\ufeff \t")
    if text.startswith("<"):
        return _detect_xml(lines, name)
    if text.startswith(("{", "[")) and _looks_like_json(lines):
        return FORMATS["csl_json"]
    for line in lines:
        line = line.lstrip("\ufeff")
        for kind in FORMATS.values():
            if kind.name != "identifiers" and kind.starts(line):
                return kind
        if _BIBTEX_OTHER.match(line):
            return FORMATS["bibtex"]
        if _TAGGED.match(line):
            reason = "this is a citation index's field-tag file (PT ... ER), not RIS."
            raise Unreadable(reason, where=name, hint="Export it again as BibTeX or RIS.")
    filled = [line for line in lines if line.strip() and not line.startswith("#")]
    if filled and sum(_is_identifier(line) for line in filled) * 2 >= len(filled):
        return FORMATS["identifiers"]
    *labels, last = (kind.label for kind in FORMATS.values())
    raise Unreadable(
        f"no {', '.join(labels)} or {last} was recognised.",
        where=name,
        hint="Open it in a text editor: a BibTeX entry begins with @, a RIS record with TY.",
    )


def _detect_xml(lines: Sequence[str], name: str) -> Format:
    if any(_XML.search(line) for line in lines) or any("<PubmedArticleSet" in line for line in lines):
        return FORMATS["pubmed_xml"]
    kind = (
        "a web page" if any(re.search(r"<(?:!doctype )?html", line, re.I) for line in lines[:50]) else "XML"
    )
    raise Unreadable(f"this is {kind}, not PubMed XML.", where=name, hint="Export the references themselves.")


def _looks_like_json(lines: Sequence[str]) -> bool:
    head = "".join(lines[:200])[:5000]
    return re.match(r"\s*(?:\[\s*(?:\{|\])|\{\s*(?:\"|\}))", head.lstrip("\ufeff")) is not None
