"""RIS files read with every tag kept.

Forgiven: no ER line, a byte order mark, leading spaces, one space before the hyphen, running numbers and database
text between records, values that go on in the next line. Source: RIS format specification (2012).
"""

import re
import tomllib
from collections.abc import Iterable, Iterator
from importlib.resources import files
from typing import Any

from references.dates import read_date, read_status, write_iso
from references.errors import Problem, Severity
from references.identifiers import find_doi, normalise_doi, normalise_pmcid, normalise_pmid
from references.keys import KeyChooser, invent_key
from references.names import Name, read_inverted
from references.noted import take_noted
from references.record import Record
from references.serials import normalise_numbers
from references.tagged import TaggedEntry, carry
from references.text import squeeze, unescape

TABLES: dict[str, Any] = tomllib.loads(
    files("references").joinpath("data/ris.toml").read_text(encoding="utf-8")
)
_LINE = re.compile(r"\s{0,3}([A-Z][A-Z0-9]) {0,3}-(?: {0,3}|$)(.*)$")
_SMALL_LINE = re.compile(r"\s{0,3}([a-z][a-z0-9]) {0,3}-(?: {0,3}|$)(.*)$")
_END = re.compile(r"\s{0,3}ER {0,3}-?\s*$")


def read_ris(lines: Iterable[str]) -> Iterator[Record | Problem]:
    """Records and problems of a RIS file, one by one."""
    keys = KeyChooser()
    entry: TaggedEntry | None = None
    outside: list[str] = []
    outside_line = number = 0
    for number, line in enumerate(lines, 1):
        tag, value = _read_line(
            line.lstrip("\ufeff"), in_small_letters=entry is not None and entry.in_small_letters
        )
        if tag == "TY":
            if entry is not None:
                yield Problem(f"no ER before line {number}", line=entry.line, severity=Severity.WARNING)
                yield from _make(entry, keys)
            entry = TaggedEntry(number, in_small_letters="TY" not in line)
        if entry is None:
            if line.strip() or outside:
                outside_line = outside_line or number
                outside.append(line.rstrip("\n"))
            continue
        if outside:
            yield Problem(
                _OUTSIDE, line=outside_line, text="\n".join(outside).rstrip(), severity=Severity.NOTE
            )
            outside, outside_line = [], 0
        entry.source.append(line)
        if _END.match(line.upper() if entry.in_small_letters else line):
            yield from _make(entry, keys)
            entry = None
        elif tag:
            entry.add(tag, value, number)
        elif line.strip():
            entry.extend_last(line.strip())
    if entry is not None:
        yield Problem("no ER at end of file", line=number, severity=Severity.WARNING)
        yield from _make(entry, keys)
    if outside:
        yield Problem(_OUTSIDE, line=outside_line, text="\n".join(outside).rstrip(), severity=Severity.NOTE)


_OUTSIDE = "text outside records ignored"


def _read_line(line: str, *, in_small_letters: bool) -> tuple[str | None, str]:
    """The tag of a line and its value. Small letters are tags only in a record that began so (`ty  - JOUR`)."""
    match = _LINE.match(line)
    if match is None and (in_small_letters or line.lstrip().startswith("ty")):
        match = _SMALL_LINE.match(line)
    return (match.group(1).upper(), match.group(2).strip()) if match else (None, "")


def _make(entry: TaggedEntry, keys: KeyChooser) -> Iterator[Record | Problem]:
    maker = _Maker(entry)
    for tag, value, line in entry.pairs:
        if value:
            maker.take(tag, squeeze(unescape(value)), line)
    record, problems = maker.finish(keys)
    yield from problems
    yield record


class _Maker:
    """One RIS record on its way: variables known, tags carried, problems."""

    def __init__(self, entry: TaggedEntry) -> None:
        self.entry = entry
        self.type = "document"
        self.known: dict[str, Any] = {}
        self.extra: dict[str, Any] = {}
        self.problems: list[Problem] = []

    def take(self, tag: str, value: str, line: int) -> None:
        if tag == "TY":
            self._take_type(value)
        elif tag in TABLES["names"]:
            self._add_name(TABLES["names"][tag], read_inverted(value))
        elif tag in TABLES["dates"]:
            self._take_date(TABLES["dates"][tag], tag, value)
        elif tag in ("DO", "SN", "AN", "UR", "ID", "KW", "SP", "EP", "C2", "M1"):
            self._take_special(tag, value, line)
        else:
            self._take_text(tag, TABLES["text"].get(tag), value)

    def _take_type(self, value: str) -> None:
        known = TABLES["types"].get(value.upper())
        self.type = known or "document"
        if known is None:
            self.extra["TY"] = value
        if value.upper() == "INPR":
            self.known["status"] = "in press"

    def _add_name(self, attribute: str, name: Name) -> None:
        self.known[attribute] = (*self.known.get(attribute, ()), name)

    def _take_date(self, attribute: str, tag: str, value: str) -> None:
        date = read_date(value)
        before = self.known.get(attribute)
        if date is None:
            return
        if read_status(value) and attribute == "issued":
            self.known.setdefault("status", read_status(value))
        elif before is None or (tag == "DA" and before.year == date.year and before.month is None):
            self.known[attribute] = date
        elif tag != "DA" and date.year is not None and len(date.parts) >= len(before.parts):
            carry(self.extra, "DA", write_iso(before))
            self.known[attribute] = date
        elif date.year != before.year:
            carry(self.extra, tag, value)

    def _take_text(self, tag: str, attribute: str | None, value: str) -> None:
        if attribute is None:
            carry(self.extra, tag, value)
        elif attribute not in self.known:
            self.known[attribute] = value
        elif attribute == "note":
            self.known["note"] += f"\n{value}"
        elif attribute == "abstract":
            if value != self.known["abstract"]:
                self.known["abstract"] += f" {value}"
        elif attribute == "container_title" and self.known[attribute] != value:
            shorter, longer = sorted((self.known[attribute], value), key=len)
            self.known["container_title"] = longer
            if "container_title_short" not in self.known:
                self.known["container_title_short"] = shorter
            else:
                carry(self.extra, tag, shorter)
        elif self.known[attribute] != value:
            carry(self.extra, tag, value)

    def _take_special(self, tag: str, value: str, line: int) -> None:
        if tag == "DO":
            self._take_identifier("doi", normalise_doi(value), tag, value, line)
        elif tag == "C2" and (pmcid := normalise_pmcid(value) if value.upper().startswith("PMC") else None):
            self.known.setdefault("pmcid", pmcid)
        elif tag == "SN":
            self._take_serial(value, line)
        elif tag == "AN" and "pmid" not in self.known and re.fullmatch(r"(?:PMID:? ?)?\d{5,8}", value):
            self.known["pmid"] = normalise_pmid(value)
        elif tag == "UR" and "url" not in self.known:
            self.known["url"] = value
        elif tag == "ID":
            self.known.setdefault("citation_key", value)
        elif tag == "KW":
            self.known["keyword"] = f"{self.known['keyword']}; {value}" if "keyword" in self.known else value
        elif tag == "SP" and "page" not in self.known:
            self.known["page"] = value.replace("–", "-")
        elif tag == "EP" and "page" in self.known and "-" not in self.known["page"]:
            if value != self.known["page"]:
                self.known["page"] += f"-{value}"
        elif (
            tag == "M1"
            and self.type in ("report", "patent", "standard", "document")
            and "number" not in self.known
        ):
            self.known["number"] = value
        else:
            carry(self.extra, tag, value)

    def _take_identifier(self, attribute: str, found: str | None, tag: str, value: str, line: int) -> None:
        if found is None:
            carry(self.extra, tag, value)
            reason = f"not a {attribute.upper()}: {value[:80]}"
            self.problems.append(Problem(reason, line=line, text=value))
        elif self.known.setdefault(attribute, found) != found:
            carry(self.extra, tag, value)

    def _take_serial(self, value: str, line: int) -> None:
        for kind in ("issn", "isbn"):
            found, complaint = normalise_numbers(kind, value)
            if complaint is None:
                before = self.known.get(kind)
                if before is None or found not in before:
                    self.known[kind] = f"{before}, {found}" if before else found
                return
        kind = "isbn" if self.type in ("book", "chapter", "report", "thesis") else "issn"
        self.known.setdefault(kind, value)
        self.problems.append(
            Problem(f"neither ISSN nor ISBN with a right check digit: {value[:60]}", line=line, text=value)
        )

    def finish(self, keys: KeyChooser) -> tuple[Record, list[Problem]]:
        given = self.known.pop("citation_key", None)
        wanted = given or invent_key(self.known.get("author", ()), self.known.get("issued"))
        if "doi" not in self.known and (doi := find_doi(self.known.get("url", ""))):
            self.known["doi"] = doi
        self.type, wanted = take_noted(self.known, self.extra, self.type, wanted)
        key, complaint = keys.choose(wanted)
        if given and complaint:
            self.problems.append(Problem(complaint, line=self.entry.line, entry=key))
        record = Record(
            key=key,
            type=self.type,
            extra=self.extra,
            raw=self.entry.text,
            source_line=self.entry.line,
            **self.known,
        )
        return record, self.problems
