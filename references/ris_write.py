"""Records as RIS, one tag a line, that read back to the same."""

import re
from collections.abc import Iterable, Iterator

from references.dates import PartialDate
from references.names import write_inverted
from references.noted import LABEL, find_rest
from references.record import Record
from references.ris import TABLES, read_ris

_TEXT = {attribute: tag for tag, attribute in reversed(TABLES["text"].items())} | {
    "title": "TI",
    "container_title": "T2",
    "container_title_short": "J2",
    "publisher_place": "CY",
    "doi": "DO",
    "url": "UR",
}
_NAMES = {attribute: tag for tag, attribute in reversed(TABLES["names"].items())} | {"author": "AU"}
_MAPPED = frozenset(
    (*TABLES["text"], *TABLES["names"], *TABLES["dates"], "TY", "ER", "ID", "KW", "SP", "EP", "SN")
)
_MAPPED |= frozenset(("DO", "UR", "AN", "C2", "M1", "PY", "DA", "Y2"))


def write_ris(records: Iterable[Record]) -> str:
    """The records as a RIS file. Variables that RIS has no tag for stand in a note that begins `csl-json:`."""
    return "\n".join(_write(record) for record in records)


def _write(record: Record) -> str:
    lines = [f"{tag}  - {_line(value)}\n" for tag, value in _write_tags(record) if value]
    end = "ER  - \n"
    back = next((item for item in read_ris([*lines, end]) if isinstance(item, Record)), None)
    rest = find_rest(record, back)
    noted = [f"N1  - {LABEL}{rest}\n"] if rest else []
    return "".join([*lines, *noted, end])


def _line(value: str) -> str:
    return " ".join(value.split())


def _write_tags(record: Record) -> Iterator[tuple[str, str]]:
    yield "TY", TABLES["types_written"].get(record.type, "GEN")
    yield "ID", record.key
    for attribute, tag in _NAMES.items():
        for name in getattr(record, attribute):
            yield tag, write_inverted(name)
    for attribute, tag in _TEXT.items():
        value = getattr(record, attribute) or ""
        for line in value.split("\n") if attribute == "note" else [value]:
            yield tag, line
    yield from _write_dates(record)
    yield from _write_pages(record.page)
    for word in (record.keyword or "").split("; "):
        yield "KW", word
    for number in [*(record.issn or "").split(", "), *(record.isbn or "").split(", ")]:
        yield "SN", number
    yield "AN", record.pmid or ""
    yield "C2", record.pmcid or ""
    for tag, value in record.extra.items():
        if re.fullmatch(r"[A-Z][A-Z0-9]", tag) and tag not in _MAPPED:
            for item in value if isinstance(value, list) else [value]:
                yield tag, str(item)


def _write_dates(record: Record) -> Iterator[tuple[str, str]]:
    if record.issued is not None and record.issued.year is not None:
        yield "PY", f"{record.issued.year:04d}"
        if record.issued.month is not None:
            yield "DA", _slashed(record.issued)
    if record.accessed is not None and record.accessed.year is not None:
        yield "Y2", _slashed(record.accessed)


def _slashed(date: PartialDate) -> str:
    parts = [f"{date.year:04d}", *(f"{part:02d}" for part in date.parts[1:])]
    return "/".join([*parts, "", "", ""][:4])


def _write_pages(page: str | None) -> Iterator[tuple[str, str]]:
    match = re.fullmatch(r"([^\s,-]+)-([^\s,-]+)", page or "")
    if match and match.group(1) != match.group(2):
        yield from (("SP", match.group(1)), ("EP", match.group(2)))
    else:
        yield "SP", page or ""
