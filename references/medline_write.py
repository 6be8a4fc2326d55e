"""Records as MEDLINE text that reads back to the same."""

import re
from collections.abc import Iterable, Iterator
from textwrap import wrap

from references.dates import PartialDate
from references.medline import TABLES, read_medline
from references.names import Name, write_inverted
from references.noted import LABEL, find_rest
from references.record import Record

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_SEASONS = ("Spring", "Summer", "Autumn", "Winter")
_TEXT = {attribute: tag for tag, attribute in reversed(TABLES["text"].items())} | {"container_title": "JT"}
_LANGUAGES = {short: long for long, short in TABLES["languages"].items()}
_MAPPED = frozenset(
    (*TABLES["text"], "PMID", "TI", "TT", "FAU", "AU", "CN", "FED", "ED", "DP", "PMC", "LID", "IS")
)
_MAPPED |= frozenset(("ISBN", "LA", "OT", "GN"))


def write_medline(records: Iterable[Record]) -> str:
    """The records as a MEDLINE file. Variables without a tag stand in a general note that begins `csl-json:`."""
    return "\n".join(_write(record) for record in records)


def _write(record: Record) -> str:
    lines = [
        line for tag, value in _write_tags(record) if value or tag == "PMID" for line in _wrap(tag, value)
    ]
    back = next((item for item in read_medline(lines) if isinstance(item, Record)), None)
    rest = find_rest(record, back)
    return "".join([*lines, f"GN  - {LABEL}{rest}\n"] if rest else lines)


def _wrap(tag: str, value: str) -> Iterator[str]:
    """Lines of at most 90 signs, the following ones indented, as PubMed writes them."""
    first, *more = wrap(value, 84, break_long_words=False, break_on_hyphens=False) or [""]
    yield f"{tag:4}- {first}\n"
    for line in more:
        yield f"      {line}\n"


def _write_tags(record: Record) -> Iterator[tuple[str, str]]:
    yield "PMID", record.pmid or ""
    yield "TI", _stop(record.title)
    for attribute, full, short in (("author", "FAU", "AU"), ("editor", "FED", "ED")):
        for name in getattr(record, attribute):
            if name.family:
                yield full, write_inverted(name)
                yield short, _index(name)
            else:
                yield "CN", name.literal or name.given or ""
    yield "DP", _write_date(record.issued)
    for attribute, tag in _TEXT.items():
        value = getattr(record, attribute) or ""
        for line in value.split("\n") if attribute == "note" else [value]:
            yield tag, _stop(line) if tag == "TT" else line
    yield "LID", f"{record.doi} [doi]" if record.doi else ""
    yield "LID", f"{record.number} [pii]" if record.number and not record.page else ""
    yield "PMC", record.pmcid or ""
    for kind, tag in (("issn", "IS"), ("isbn", "ISBN")):
        for number in (getattr(record, kind) or "").split(", "):
            yield tag, number
    for language in (record.language or "").split(", "):
        yield "LA", _LANGUAGES.get(language, language)
    for word in (record.keyword or "").split("; "):
        yield "OT", word
    for tag, value in record.extra.items():
        if re.fullmatch(r"[A-Z]{2,4}", tag) and tag not in _MAPPED:
            for item in value if isinstance(value, list) else [value]:
                yield tag, str(item)


def _stop(title: str | None) -> str:
    return f"{title}." if title and not title.endswith(("...", "…")) else title or ""


def _index(name: Name) -> str:
    initials = "".join(part[0].upper() for part in re.split(r"[\s.-]+", name.given or "") if part)[:4]
    parts = [name.non_dropping_particle, name.family, initials, name.suffix]
    return " ".join(part for part in parts if part)


def _write_date(date: PartialDate | None) -> str:
    if date is None or date.year is None:
        return ""
    if date.raw:
        return date.raw
    words = [str(date.year)]
    if date.month is not None:
        words.append(_MONTHS[date.month - 1])
        words += [str(date.day)] if date.day is not None else []
    elif date.season is not None:
        words.append(_SEASONS[date.season - 1])
    text = " ".join(words)
    return f"{text}-{_write_date(date.end)}" if date.end is not None and date.end.year is not None else text
