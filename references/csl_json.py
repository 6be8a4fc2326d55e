"""CSL-JSON: read item by item, so that one bad item or a cut file costs nothing else; and written."""

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from references.errors import Problem, Severity
from references.identifiers import normalise_doi, normalise_pmcid, normalise_pmid
from references.keys import KeyChooser, invent_key
from references.record import Record
from references.text import squeeze, unescape

_SPACE_OR_COMMA = re.compile(r"[\s,]*")
_LISTS = ("items", "references", "records")
MAX_DEPTH = 100


def read_csl_json(lines: Iterable[str]) -> Iterator[Record | Problem]:
    """Records and problems of a CSL-JSON file: a list of items, one item, or an object that holds a list."""
    text = "".join(lines).lstrip("\ufeff")
    keys = KeyChooser()
    for item, start, source in _split_items(text):
        line = text.count("\n", 0, start) + 1
        if isinstance(item, Problem):
            yield replace(item, line=line)
        elif not isinstance(item, dict) or not _looks_like_item(item):
            reason = "this is no CSL-JSON item"
            yield Problem(reason, line=line, text=source[:2000], severity=Severity.ERROR)
        else:
            yield from _make(item, source, line, keys)


def _split_items(text: str) -> Iterator[tuple[Any, int, str]]:
    """Each item with its place and source; what cannot be parsed as a problem, and on with the next item."""
    decoder = json.JSONDecoder()
    position = _skip(text, 0)
    if text.startswith("{", position):
        try:
            whole, _ = decoder.raw_decode(text, position)
        except (ValueError, RecursionError) as error:
            yield _broken(error, text[position:]), position, text
            return
        held = next((whole[name] for name in _LISTS if isinstance(whole.get(name), list)), None)
        for item in held if held is not None else [whole]:
            yield item, position, json.dumps(item, ensure_ascii=False)
        return
    position = _skip(text, position + 1)
    broken_at_end = False
    while position < len(text) and text[position] != "]":
        try:
            item, end = decoder.raw_decode(text, position)
        except (ValueError, RecursionError) as error:
            following = re.compile(r"\n\s*\{|\}\s*,\s*\{").search(text, position + 1)
            end = text.index("{", following.start() + 1) if following else len(text)
            broken_at_end = end == len(text)
            yield _broken(error, text[position:end]), position, ""
        else:
            yield item, position, text[position:end]
        position = _skip(text, end)
    if position >= len(text) and not broken_at_end:  # else the broken item has told it
        reason = "the list of items is not closed: the file seems to be cut off"
        yield Problem(reason, severity=Severity.ERROR), len(text), ""


def _broken(error: Exception, text: str) -> Problem:
    reason = "nested too deeply" if isinstance(error, RecursionError) else str(error)
    return Problem(f"an item is no valid JSON: {reason}", text=text.strip(), severity=Severity.ERROR)


def _skip(text: str, position: int) -> int:
    match = _SPACE_OR_COMMA.match(text, position)
    return match.end() if match else position


def _looks_like_item(item: dict[str, Any]) -> bool:
    return bool(item.keys() & {"id", "type", "title", "DOI", "author"})


def _make(item: dict[str, Any], source: str, line: int, keys: KeyChooser) -> Iterator[Record | Problem]:
    try:
        record = _clean(Record.from_csl(item))
    except (ValueError, TypeError, AttributeError, RecursionError, OverflowError) as error:
        yield Problem(f"the item cannot be read: {error}", line=line, text=source, severity=Severity.ERROR)
        return
    wanted = record.key or invent_key(record.author, record.issued)
    key, complaint = keys.choose(wanted)
    if complaint:
        yield Problem(complaint, line=line, entry=key)
    if item.get("type") is None:
        yield Problem("item without a type: read as document", line=line, entry=key, severity=Severity.NOTE)
    for name, find in (("DOI", normalise_doi), ("PMID", normalise_pmid), ("PMCID", normalise_pmcid)):
        if item.get(name) and find(str(item[name])) is None:
            yield Problem(f"not a {name}: {str(item[name])[:80]}", line=line, entry=key)
    yield replace(record, key=key, raw=source, source_line=line)


def _clean(record: Record) -> Record:
    """Identifiers in their normal form and texts with entities and foreign tags resolved."""
    texts: dict[str, Any] = {}
    for name in ("title", "container_title", "container_title_short", "title_short", "abstract"):
        value = getattr(record, name)
        if value:
            texts[name] = squeeze(unescape(value))
    return replace(
        record,
        doi=(normalise_doi(record.doi) or record.doi) if record.doi else None,
        pmid=(normalise_pmid(record.pmid) or record.pmid) if record.pmid else None,
        pmcid=(normalise_pmcid(record.pmcid) or record.pmcid) if record.pmcid else None,
        **texts,
    )


def write_csl_json(records: Iterable[Record]) -> str:
    """The records as a CSL-JSON list, one variable a line, letters as they are."""
    return json.dumps([record.to_csl() for record in records], ensure_ascii=False, indent=2) + "\n"
