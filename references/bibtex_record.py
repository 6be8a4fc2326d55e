"""One BibTeX entry, its values resolved, as a record: types, titles, names, dates, numbers, identifiers."""

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from importlib.resources import files
from typing import Any

from references.bibtex_names import read_names
from references.bibtex_split import RawEntry
from references.bibtex_values import Value
from references.dates import PartialDate, read_date, read_month, read_status
from references.errors import Problem
from references.identifiers import find_doi, normalise_doi, normalise_pmcid, normalise_pmid
from references.latex import decode
from references.noted import apply_rest, load_rest
from references.record import DATE_VARIABLES, NAME_VARIABLES, Record
from references.serials import normalise_numbers
from references.text import plain, unescape

TABLES: dict[str, Any] = tomllib.loads(
    files("references").joinpath("data/bibtex.toml").read_text(encoding="utf-8")
)
_ATTRIBUTES = TABLES["names"] | TABLES["dates"] | TABLES["text"]
NOTED = "csl-json"  # the field in which we write what BibTeX has no field for
_VERBATIM = frozenset(("url", "file", "eprint", "pdf", "local-url"))
_DASHES = re.compile(r"\s*(?:--+|[–—−])\s*")
_IDENTIFIERS = {"doi": normalise_doi, "pmid": normalise_pmid, "pmcid": normalise_pmcid}
_ISSUED = ("year", "month", "day", "date")
_ADDED_TO = {  # second parts of a title, and the field they belong to
    "subtitle": "title",
    "titleaddon": "title",
    "booksubtitle": "booktitle",
    "booktitleaddon": "booktitle",
    "journalsubtitle": "journaltitle",
    "mainsubtitle": "maintitle",
}
_PUBLISHED = ("article-journal", "book", "chapter", "paper-conference")


def make_record(entry: RawEntry, key: str, values: Mapping[str, Value]) -> Iterator[Record | Problem]:
    """The problems of one entry, then its record. `values` are its fields by name, inherited too."""
    maker = _Maker(entry, key, values)
    record = maker.make()
    yield from maker.problems
    yield record


class _Maker:
    """One entry on its way to a record: what is known so far, what is carried, what is to be told."""

    def __init__(self, entry: RawEntry, key: str, values: Mapping[str, Value]) -> None:
        self.entry, self.key, self.values = entry, key, values
        self.known: dict[str, Any] = {}
        self.extra: dict[str, Any] = {}
        self.problems: list[Problem] = []

    def make(self) -> Record:
        for name, value in self.values.items():
            part_of = _ADDED_TO.get(name)
            if name not in ("crossref", "xdata", NOTED, *_ISSUED) and part_of not in self.values:
                self._take(name, value)
        self._take_issued()
        record_type = self._choose_type()
        if "doi" not in self.known:
            self._find_doi()
        if NOTED in self.values:
            item = load_rest(self.values[NOTED].text)
            record_type = apply_rest(item, self.known, self.extra, record_type)
        return Record(
            key=self.key,
            type=record_type,
            extra=self.extra,
            raw=self.entry.text,
            source_line=self.entry.line,
            **self.known,
        )

    def _complain(self, reason: str, value: Value) -> None:
        self.problems.append(Problem(reason, line=value.line, entry=self.key, text=value.text))

    def _take(self, name: str, value: Value) -> None:
        """Put one field where it belongs; a field that has no place is carried under its own name."""
        attribute = _ATTRIBUTES.get(name)
        if not value.text.strip():
            return
        if attribute in NAME_VARIABLES:
            self._take_names(attribute, value)
        elif attribute in DATE_VARIABLES:
            self.known[attribute] = read_date(decode(value.text))
        elif name in _IDENTIFIERS or name == "pmc":
            self._take_identifier(name, value)
        elif name in ("isbn", "issn"):
            self.known[name], complaint = normalise_numbers(name, _read_verbatim(value.text))
            if complaint:
                self._complain(complaint, value)
        elif name == "url":
            self.known["url"] = _read_verbatim(value.text)
        elif name == "pages":
            self.known["page"] = _DASHES.sub("-", decode(value.text)).strip("- ")
        elif name in ("number", "issue"):
            self._take_number(name, value)
        elif name == "eprint":
            self._take_eprint(value)
        else:
            self._take_text(name, "title" if name == "title" else attribute, value)

    def _take_names(self, attribute: str, value: Value) -> None:
        names, complaint = read_names(unescape(value.text))
        self.known[attribute] = names
        if complaint:
            self._complain(complaint, value)

    def _take_text(self, name: str, attribute: str | None, value: Value) -> None:
        text = _read_verbatim(value.text) if name in _VERBATIM else decode(unescape(value.text))
        for part, whole in _ADDED_TO.items():
            if whole == name and part in self.values:
                added = decode(unescape(self.values[part].text))
                text = f"{text}. {added}" if part.endswith("addon") else _join_title(text, added)
        if attribute and attribute not in self.known:
            self.known[attribute] = text
        elif self.known.get(attribute or "") != text:
            self.extra[name] = text
        if attribute == "note" and read_status(text):
            self.known.setdefault("status", read_status(text))

    def _take_number(self, name: str, value: Value) -> None:
        text = decode(value.text)
        attribute = TABLES["number"].get(self.entry.type, "issue") if name == "number" else "issue"
        if attribute in self.known:
            self.extra[name] = text
        else:
            self.known[attribute] = text

    def _take_identifier(self, name: str, value: Value) -> None:
        text = _read_verbatim(value.text)
        attribute = "pmcid" if name == "pmc" else name
        identifier = _IDENTIFIERS[attribute](text)
        if identifier:
            self.known[attribute] = identifier
        else:
            self.extra[name] = text
            self._complain(f"not a {attribute.upper()}: {text[:80]}", value)

    def _take_eprint(self, value: Value) -> None:
        text = _read_verbatim(value.text)
        kind = self.values.get("eprinttype") or self.values.get("archiveprefix")
        label = decode(kind.text) if kind else ""
        if label.lower() in ("pubmed", "pmid") and normalise_pmid(text):
            self.known.setdefault("pmid", normalise_pmid(text))
        elif label.lower() in ("pmcid", "pmc") and normalise_pmcid(text):
            self.known.setdefault("pmcid", normalise_pmcid(text))
        else:
            self.known["archive_location"] = text
            if label:
                self.known["archive"] = label

    def _take_issued(self) -> None:
        year, date = self.values.get("year"), self.values.get("date")
        issued: PartialDate | None = None
        source = date or year
        if source is not None:
            text = plain(decode(source.text))
            status = read_status(text)
            if status:
                self.known.setdefault("status", status)
            else:
                issued = read_date(text)
        month, day = self.values.get("month"), self.values.get("day")
        if issued is not None and issued.month is None and issued.year is not None and month is not None:
            issued = self._add_month(issued, month, day)
        if date is not None and year is not None and issued is not None and issued.year is None:
            issued = read_date(decode(year.text)) or issued
        if issued is not None:
            self.known["issued"] = issued

    def _add_month(self, issued: PartialDate, month: Value, day: Value | None) -> PartialDate:
        text = plain(decode(month.text))
        number = read_month(text)
        if number is None:
            whole = read_date(f"{issued.year} {text}") if not re.search(r"\d{4}", text) else read_date(text)
            if whole is None or whole.year is None or (whole.month is None and whole.season is None):
                self.extra["month"] = text
                return issued
            return replace(whole, circa=issued.circa)
        day_text = decode(day.text) if day else ""
        day_number = int(day_text) if day_text.isdecimal() and 1 <= int(day_text) <= 31 else None
        return replace(issued, month=number, day=day_number)

    def _choose_type(self) -> str:
        """The CSL type, and with it what `type` and the entry type say of the genre."""
        entry_type = self.entry.type
        csl_type: str | None = TABLES["types"].get(entry_type)
        if csl_type is None:
            csl_type = "document"
            self.extra["entry-type"] = entry_type
        kind = self.extra.get("type")
        if kind and csl_type not in _PUBLISHED:
            del self.extra["type"]
            self.known.setdefault("genre", TABLES["type_words"].get(kind.lower(), kind))
        elif entry_type in TABLES["genres"]:
            self.known.setdefault("genre", TABLES["genres"][entry_type])
        if entry_type == "misc" and "url" in self.known and not self.known.keys() & {"doi", "publisher"}:
            return "webpage"
        return csl_type

    def _find_doi(self) -> None:
        for place in ("url", "note"):
            text = self.known.get(place) or ""
            if "doi" in text.lower() and find_doi(text):
                self.known["doi"] = find_doi(text)
                return


def _join_title(title: str, subtitle: str) -> str:
    if not subtitle:
        return title
    return f"{title} {subtitle}" if title.endswith(("?", "!", ":")) else f"{title}: {subtitle}"


def _read_verbatim(text: str) -> str:
    """An address or identifier: only the escapes that LaTeX forces are undone."""
    text = re.sub(r"\{?\\([_%&#$~^{}])(?:\{\})?\}?", r"\1", text.strip())
    text = re.sub(r"\\textasciitilde\s*(?:\{\})?", "~", text)
    match = re.fullmatch(r"\\url\s*\{(.*)\}|\{([^{}]*)\}", text, re.DOTALL)
    text = (match.group(1) or match.group(2) or "") if match else text
    return unescape(" ".join(text.split()))
