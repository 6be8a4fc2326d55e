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
_NEXT_ITEM = re.compile(r"\n\s*\{|\}\s*,\s*\{")
_DECODER = json.JSONDecoder()
_PIECE = 1 << 16  # characters that are read at a time
_LONGEST_ITEM = 1 << 22  # characters; a longer one is taken for broken


def read_csl_json(lines: Iterable[str]) -> Iterator[Record | Problem]:
    """Records and problems of a CSL-JSON file: a list of items, one item, or an object that holds a list.

    A list is read item by item; an object that holds one is read whole.
    """
    keys = KeyChooser()
    for item, line, source in _split_items(_Text(iter(lines))):
        if isinstance(item, Problem):
            yield replace(item, line=line)
        elif not isinstance(item, dict) or not _looks_like_item(item):
            reason = "this is no CSL-JSON item"
            yield Problem(reason, line=line, text=source[:2000], severity=Severity.ERROR)
        else:
            yield from _make(item, source, line, keys)


class _Text:
    """The part of a text that is held: lines are added at its end, and what was read is let go now and then.

    `at`: how far it was read; `line`: the line of the file there.
    """

    def __init__(self, lines: Iterator[str]) -> None:
        self._lines = lines
        self.text = ""
        self.at = 0
        self.line = 1

    @property
    def left(self) -> int:
        """How many characters are held that were not read."""
        return len(self.text) - self.at

    def more(self, least: int = _PIECE) -> bool:
        """Add at least so many characters; False where the text ends."""
        added: list[str] = []
        size = 0
        while size < least and (line := next(self._lines, None)) is not None:
            added.append(line)
            size += len(line)
        if added:
            self.text = self.text[self.at :] + "".join(added)
            self.at = 0
        return bool(added)

    def move(self, end: int) -> None:
        """Go on to `end`."""
        self.line += self.text.count("\n", self.at, end)
        self.at = end

    def skip(self) -> bool:
        """Go to the next sign that is no space or comma; False where there is none."""
        while True:
            match = _SPACE_OR_COMMA.match(self.text, self.at)
            self.move(match.end() if match else self.at)
            if self.left:
                return True
            if not self.more():
                return False


def _split_items(held: _Text) -> Iterator[tuple[Any, int, str]]:
    """Each item with its line and source; what cannot be parsed as a problem, and on with the next item."""
    held.more()
    held.text = held.text.lstrip("\ufeff")
    if not held.skip():
        return
    if held.text.startswith("{", held.at):
        yield from _split_object(held)
        return
    held.move(held.at + 1)
    broken_at_end = False
    while held.skip() and not held.text.startswith("]", held.at):
        line = held.line
        item, end = _decode_next(held)
        source = held.text[held.at : end]
        held.move(end)
        if isinstance(item, Problem):
            broken_at_end = not held.left and not held.more()
            yield item, line, ""
        else:
            yield item, line, source
    if not held.left and not broken_at_end:  # else the broken item has told it
        reason = "the list of items is not closed: the file seems to be cut off"
        yield Problem(reason, severity=Severity.ERROR), held.line, ""


def _split_object(held: _Text) -> Iterator[tuple[Any, int, str]]:
    while held.more(1 << 24):
        pass
    try:
        whole, _ = _DECODER.raw_decode(held.text, held.at)
    except (ValueError, RecursionError) as error:
        yield _broken(error, held.text), held.line, held.text
        return
    items = next((whole[name] for name in _LISTS if isinstance(whole.get(name), list)), None)
    for item in items if items is not None else [whole]:
        yield item, held.line, json.dumps(item, ensure_ascii=False)


def _decode_next(held: _Text) -> tuple[Any, int]:
    """The item at this place and where it ends; a problem where it is broken, and where the next begins."""
    while True:
        failure: Exception
        try:
            item, end = _DECODER.raw_decode(held.text, held.at)
            if end < len(held.text) or not held.more():  # a number may go on
                return item, end
            continue
        except RecursionError as error:
            failure = error
        except ValueError as error:
            if held.left < _LONGEST_ITEM and held.more(held.left):  # twice as much, so that time stays linear
                continue
            failure = error
        following = _NEXT_ITEM.search(held.text, held.at + 1)
        end = held.text.index("{", following.start() + 1) if following else len(held.text)
        return _broken(failure, held.text[held.at : end]), end


def _broken(error: Exception, text: str) -> Problem:
    reason = "nested too deeply" if isinstance(error, RecursionError) else str(error)
    return Problem(f"an item is no valid JSON: {reason}", text=text.strip(), severity=Severity.ERROR)


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
