"""MEDLINE text (PubMed's nbib export) read with every tag kept: links to comments, corrections and retractions too."""

import re
import tomllib
from collections.abc import Iterable, Iterator
from importlib.resources import files
from typing import Any

from references.dates import read_date, read_status
from references.errors import Problem, Severity
from references.identifiers import normalise_doi, normalise_pmcid, normalise_pmid
from references.keys import KeyChooser, invent_key
from references.names import Name, read_indexed, read_inverted
from references.noted import take_noted
from references.record import Record
from references.serials import normalise_numbers
from references.tagged import TaggedEntry, carry
from references.text import squeeze

TABLES: dict[str, Any] = tomllib.loads(
    files("references").joinpath("data/medline.toml").read_text(encoding="utf-8")
)
_LINE = re.compile(r" {0,3}([A-Z]{2,4}) {0,2}-(?: |$)(.*)$")
_DOI_TAG = re.compile(r"\[doi\]\s*$", re.IGNORECASE)
_OUTSIDE = "text outside records ignored"


def read_medline(lines: Iterable[str]) -> Iterator[Record | Problem]:
    """Records and problems of a MEDLINE file, one by one. A record begins at its PMID line."""
    keys = KeyChooser()
    entry: TaggedEntry | None = None
    outside: list[str] = []
    outside_line = 0
    for number, line in enumerate(lines, 1):
        match = _LINE.match(line.lstrip("\ufeff"))
        tag = match.group(1) if match else None
        if tag == "PMID":
            if entry is not None:
                yield from _make(entry, keys)
            entry = TaggedEntry(number)
            if outside:
                yield Problem(
                    _OUTSIDE, line=outside_line, text="\n".join(outside).rstrip(), severity=Severity.NOTE
                )
                outside, outside_line = [], 0
        if entry is None:
            if line.strip() or outside:
                outside_line = outside_line or number
                outside.append(line.rstrip("\n"))
            continue
        entry.source.append(line)
        if match:
            entry.add(match.group(1), match.group(2).strip(), number)
        elif line.strip():
            entry.extend_last(line.strip())
    if entry is not None:
        yield from _make(entry, keys)
    if outside:
        yield Problem(_OUTSIDE, line=outside_line, text="\n".join(outside).rstrip(), severity=Severity.NOTE)


def strip_final_stop(title: str) -> str:
    """MEDLINE ends every title with a full stop; the title itself has none ("..." is its own)."""
    title = squeeze(title)
    bare = re.sub(r"\.((?:</\w+>)*)$", r"\1", title)
    return title if title.endswith(("...", "…")) else bare


def _make(entry: TaggedEntry, keys: KeyChooser) -> Iterator[Record | Problem]:
    maker = _Maker(entry)
    for tag, value, line in entry.pairs:
        if value:
            maker.take(tag, squeeze(value), line)
    record, problems = maker.finish(keys)
    yield from problems
    yield record


class _Maker:
    """One MEDLINE record on its way: variables known, tags carried, problems."""

    def __init__(self, entry: TaggedEntry) -> None:
        self.entry = entry
        self.known: dict[str, Any] = {}
        self.extra: dict[str, Any] = {}
        self.problems: list[Problem] = []
        self.full_name: Name | None = None  # a FAU line, whose AU line comes next

    def take(self, tag: str, value: str, line: int) -> None:
        if tag in ("FAU", "AU", "CN", "FED", "ED"):
            self._take_name(tag, value)
            return
        if tag == "TI":
            self.known["title"] = strip_final_stop(value)
        elif tag == "TT":
            self.known["original_title"] = strip_final_stop(value)
        elif tag == "DP":
            self._take_date(value)
        elif tag in ("PMID", "PMC", "LID", "AID", "IS", "ISBN"):
            self._take_identifier(tag, value, line)
        elif tag == "LA":
            language = TABLES["languages"].get(value.lower(), value)
            before = self.known.get("language")
            self.known["language"] = f"{before}, {language}" if before else language
        elif tag == "OT":
            word = value.lstrip("*")
            self.known["keyword"] = f"{self.known['keyword']}; {word}" if "keyword" in self.known else word
        elif tag == "PST":
            carry(self.extra, tag, value)
            if value in TABLES["status"]:
                self.known["status"] = TABLES["status"][value]
        elif tag in TABLES["text"] and TABLES["text"][tag] not in self.known:
            self.known[TABLES["text"][tag]] = value
        elif tag == "GN":
            self.known["note"] += f"\n{value}"
        else:
            carry(self.extra, tag, value)

    def _take_name(self, tag: str, value: str) -> None:
        attribute = "editor" if tag.endswith("ED") else "author"
        if tag == "CN":
            self._add(attribute, Name(literal=value))
        elif tag in ("FAU", "FED"):
            self.full_name = read_inverted(value)
            self._add(attribute, self.full_name)
        else:
            indexed = read_indexed(value)
            full = self.full_name
            self.full_name = None
            if full is None:  # only the indexed form is given
                self._add(attribute, indexed)
            elif indexed.suffix and not full.suffix and full.family:
                names = self.known[attribute]
                self.known[attribute] = (
                    *names[:-1],
                    Name(family=full.family, given=full.given, suffix=indexed.suffix),
                )

    def _add(self, attribute: str, name: Name) -> None:
        self.known[attribute] = (*self.known.get(attribute, ()), name)

    def _take_date(self, value: str) -> None:
        if read_status(value):
            self.known.setdefault("status", read_status(value))
        else:
            self.known["issued"] = read_date(value)

    def _take_identifier(self, tag: str, value: str, line: int) -> None:
        if tag == "PMID":
            self.known["pmid"] = normalise_pmid(value)
            if self.known["pmid"] is None:
                self.extra["PMID"] = value
                self.problems.append(Problem(f"not a PMID: {value[:60]}", line=line, text=value))
        elif tag == "PMC" and normalise_pmcid(value):
            self.known["pmcid"] = normalise_pmcid(value)
        elif tag in ("LID", "AID") and _DOI_TAG.search(value) and normalise_doi(value):
            self.known.setdefault("doi", normalise_doi(value))
        elif tag == "LID" and "[pii]" in value and not self.entry.first("PG"):
            self.known["number"] = value.replace("[pii]", "").strip()
        elif tag in ("IS", "ISBN"):
            kind = "isbn" if tag == "ISBN" else "issn"
            found, complaint = normalise_numbers(kind, value)
            before = self.known.get(kind)
            self.known[kind] = f"{before}, {found}" if before and found not in before else before or found
            if complaint:
                self.problems.append(Problem(complaint, line=line, text=value))
        else:
            carry(self.extra, tag, value)

    def finish(self, keys: KeyChooser) -> tuple[Record, list[Problem]]:
        kinds = [kind.lower() for kind in self.entry.values("PT")]
        record_type = "article-journal"
        if "preprint" in kinds:
            record_type = "article"
        elif self.entry.first("BTI"):
            record_type = "chapter" if self.entry.first("TI") else "book"
        pmid = self.known.get("pmid")
        wanted = f"pmid{pmid}" if pmid else invent_key(self.known.get("author", ()), self.known.get("issued"))
        record_type, wanted = take_noted(self.known, self.extra, record_type, wanted)
        key, complaint = keys.choose(wanted)
        if complaint:
            self.problems.append(Problem(complaint, line=self.entry.line, entry=key))
        record = Record(
            key=key,
            type=record_type,
            extra=self.extra,
            raw=self.entry.text,
            source_line=self.entry.line,
            **self.known,
        )
        return record, self.problems
