"""Plain lists of DOIs, PMIDs or PMCIDs, one or several a line, as records that hold nothing but the identifier."""

import re
from collections.abc import Iterable, Iterator

from references.errors import Problem, Severity
from references.identifiers import normalise_doi, normalise_pmcid, normalise_pmid
from references.keys import KeyChooser
from references.record import Record

_SEPARATOR = re.compile(r"[\s,;|]+(?=(?:https?://|doi:|10\.\d{4}|PMC\d|PMID|\d{5,8}\b))", re.IGNORECASE)

_BULLET = re.compile(r"(?:[-*+•‣–—·]|\(?\d{1,3}[.)])\s+")
_LABEL = re.compile(
    r"[\s,;|\"']*(?:(?:pmid|pubmed|doi|pmcid)\s*[:=]?\s*)?", re.IGNORECASE
)  # says only what follows


def read_list(lines: Iterable[str]) -> Iterator[Record | Problem]:
    """One record for each identifier; lines that hold none become problems that keep them."""
    keys = KeyChooser()
    for number, line in enumerate(lines, 1):
        text = line.strip().lstrip("\ufeff")
        if not text or text.startswith("#"):
            continue
        parts = [part for part in _SEPARATOR.split(_BULLET.sub("", text)) if not _LABEL.fullmatch(part)]
        for part in parts or [text]:
            record = _read_identifier(part.strip(" \t,;|\"'"), number)
            if record is None:
                yield Problem("no identifier in this line", line=number, text=part, severity=Severity.ERROR)
                continue
            _, complaint = keys.choose(record.key)
            if complaint:
                yield Problem(
                    f"listed twice: {record.key}",
                    line=number,
                    entry=record.key,
                    text=part,
                    severity=Severity.NOTE,
                )
            else:
                yield record


def _read_identifier(text: str, line: int) -> Record | None:
    if doi := normalise_doi(text):
        return Record(key=doi, doi=doi, type="document", raw=text, source_line=line)
    if pmcid := normalise_pmcid(text) if text.upper().startswith("PMC") or "/PMC" in text else None:
        return Record(key=pmcid, pmcid=pmcid, type="document", raw=text, source_line=line)
    if pmid := normalise_pmid(text):
        return Record(key=f"pmid{pmid}", pmid=pmid, type="document", raw=text, source_line=line)
    return None


def write_list(records: Iterable[Record]) -> str:
    """One identifier a line: the DOI, else the PMID, else the PMCID; records without one are left out."""
    lines = []
    for record in records:
        identifier = record.doi or (f"PMID: {record.pmid}" if record.pmid else record.pmcid)
        if identifier:
            lines.append(f"{identifier}\n")
    return "".join(lines)
