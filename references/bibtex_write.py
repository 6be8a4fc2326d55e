"""Records as BibTeX entries (UTF-8) that classic BibTeX and biblatex both take, and that read back to the same."""

import re
from collections.abc import Iterable, Iterator

from references.bibtex import read_bibtex
from references.bibtex_names import write_names
from references.bibtex_record import NOTED, TABLES
from references.dates import PartialDate, write_iso
from references.latex import encode
from references.noted import find_rest
from references.record import Record

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_THESES = {"PhD thesis": "phdthesis", "Master's thesis": "mastersthesis"}
_IN_BOOKS = ("chapter", "paper-conference", "entry", "entry-dictionary", "entry-encyclopedia")
_BAD_IN_KEY = re.compile(r"[\s,{}=\"#%~\\()@']+")
_OWN_NAME = re.compile(r"[a-z][a-z0-9_-]*$")
_NAMES = {attribute: field for field, attribute in TABLES["names"].items()}
_DATES = {attribute: field for field, attribute in TABLES["dates"].items()}
_PREFERRED = {
    **{attribute: field for field, attribute in reversed(TABLES["text"].items())},
    "publisher_place": "address",
    "keyword": "keywords",
    "number_of_pages": "pagetotal",
    "doi": "doi",
    "pmid": "pmid",
    "pmcid": "pmcid",
    "isbn": "isbn",
    "issn": "issn",
    "title": "title",
}
_RESERVED = frozenset(TABLES["reserved"]["fields"]).union(
    TABLES["text"], TABLES["names"], TABLES["dates"], _PREFERRED.values(), [NOTED]
)


def write_bibtex(records: Iterable[Record]) -> str:
    """The records as a BibTeX file. Variables that BibTeX has no field for stand in a field `csl-json`."""
    return "\n".join(write_entry(record) for record in records)


def write_entry(record: Record) -> str:
    """One record as an entry."""
    fields = [(name, value) for name, value in _write_fields(record) if value]
    entry = _lay_out(record, fields)
    back = next(
        (item for item in read_bibtex(entry.splitlines(keepends=True)) if isinstance(item, Record)), None
    )
    rest = find_rest(record, back)
    return _lay_out(record, [*fields, (NOTED, f"{{{rest}}}")]) if rest else entry


def _lay_out(record: Record, fields: list[tuple[str, str]]) -> str:
    key = _BAD_IN_KEY.sub("_", record.key) or "untitled"
    lines = [f"  {name} = {value}," for name, value in fields]
    return "\n".join([f"@{_choose_type(record)}{{{key},", *lines, "}", ""])


def _choose_type(record: Record) -> str:
    if record.type == "thesis" and record.genre in _THESES:
        return _THESES[record.genre]
    return str(TABLES["types_written"].get(record.type, "misc"))


def _write_fields(record: Record) -> Iterator[tuple[str, str]]:
    entry_type = _choose_type(record)
    for attribute, field in _NAMES.items():
        yield field, _braced(write_names(getattr(record, attribute)))
    yield "title", _text(record.title)
    container = "booktitle" if record.type in _IN_BOOKS else "journal"
    yield container, _text(record.container_title)
    yield from _write_issued(record.issued)
    for attribute, field in _DATES.items():
        date = getattr(record, attribute)
        yield field, _text(write_iso(date)) if date is not None else ""
    number = TABLES["number"].get(entry_type, "issue")
    yield "number", _text(getattr(record, number))
    yield "issue", _text(record.issue) if number != "issue" else ""
    yield "eid", _text(record.number) if number != "number" else ""
    yield "pages", _text(record.page).replace("-", "--") if record.page else ""
    for attribute, field in _PREFERRED.items():
        if attribute not in ("title", "container_title", "number", "publisher"):
            yield field, _text(getattr(record, attribute))
    house = {"phdthesis": "school", "mastersthesis": "school", "techreport": "institution"}.get(
        entry_type, "publisher"
    )
    yield house, _text(record.publisher)
    yield "type", _text(record.genre) if record.genre not in _THESES else ""
    yield "url", _braced(record.url.replace("{", "%7B").replace("}", "%7D")) if record.url else ""
    yield "eprint", _text(record.archive_location)
    yield "eprinttype", _text(record.archive) if record.archive_location else ""
    for name, value in record.extra.items():
        if isinstance(value, str) and _OWN_NAME.match(name) and name not in _RESERVED:
            yield name, _text(value)


def _write_issued(date: PartialDate | None) -> Iterator[tuple[str, str]]:
    """Year, month and day apart where that says all, else one date in ISO form."""
    if date is None:
        return
    if date.year is None or date.year < 1000 or date.season or date.circa or date.end is not None:
        yield "date", _text(write_iso(date))
        return
    yield "year", _braced(str(date.year))
    if date.month is not None:
        yield "month", _MONTHS[date.month - 1]
        yield "day", _braced(str(date.day)) if date.day is not None else ""


def _text(value: str | None) -> str:
    return _braced(encode(value)) if value else ""


def _braced(value: str) -> str:
    return f"{{{value}}}" if value else ""
