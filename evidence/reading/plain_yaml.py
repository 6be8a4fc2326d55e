"""YAML as people write it, read without surprises.

Only plain documents are read: no tags, no anchors, no merging, one document, bounded depth and size. Words
stay words: "no", "on", "12:30", "2019-03-04", "8-12", "0x1F" are text; only true, false, null, whole and
decimal numbers are more. A number keeps the text it was written as, so that "0.040" can still be stored as
printed. Duplicate keys are refused. (The rules for plain words follow the core schema of YAML 1.2.2,
section 10.3.2, less its octal and hexadecimal forms.)
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from evidence.errors import BadInput

LIMIT_CHARACTERS = 5_000_000
LIMIT_DEPTH = 40
LIMIT_NODES = 500_000

Path = tuple[str | int, ...]

_INT = re.compile(r"[-+]?(0|[1-9][0-9]{0,17})")
_FLOAT = re.compile(r"[-+]?([0-9]{1,30}\.[0-9]{0,30}|\.[0-9]{1,30}|[0-9]{1,30})([eE][-+]?[0-9]{1,3})?")
_WORDS = {"": None, "~": None, "null": None, "Null": None, "NULL": None}
_TRUTHS = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}


class WrittenInt(int):
    """A whole number that remembers how it was written."""

    text: str


class WrittenFloat(float):
    """A number that remembers how it was written."""

    text: str


@dataclass(frozen=True, slots=True)
class Document:
    """What a YAML text holds, and on which line each part of it stands."""

    name: str
    data: Any
    lines: dict[Path, int] = field(default_factory=dict)

    def line(self, path: Path) -> int | None:
        """The line of the entry at `path` (keys and list indexes), or of the nearest entry around it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)

    def where(self, path: Path) -> str:
        """The place of `path` in words: "file.yaml, line 12"."""
        line = self.line(path)
        return f"{self.name}, line {line}" if line else self.name


def written(value: object) -> str:
    """The text of a scalar as it was written ("0.040", not 0.04)."""
    if isinstance(value, bool):
        return "true" if value else "false"
    text = getattr(value, "text", None)
    return text if isinstance(text, str) else str(value)


def load_yaml(text: str, name: str) -> Document:
    """Read one YAML document. `name` is what messages call the file.

    BadInput, with the line, for broken YAML, tags, anchors, duplicate or nested keys, several documents,
    and for more than LIMIT_CHARACTERS, LIMIT_DEPTH or LIMIT_NODES.
    """
    if len(text) > LIMIT_CHARACTERS:
        raise BadInput(f"more than {LIMIT_CHARACTERS:,} characters.", where=name, hint="Split the file.")
    import yaml

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    builder = _Builder(name)
    try:
        return builder.build(yaml.parse(text, Loader=loader))
    except yaml.MarkedYAMLError as problem:
        mark = problem.problem_mark or problem.context_mark
        where = f"{name}, line {min(mark.line, text.rstrip().count(chr(10))) + 1}" if mark else name
        hint = "Check the indentation, the colon after each key, and that brackets and quotes are closed."
        if mark and any("\t" in line for line in text.split("\n")[mark.line : mark.line + 1]):
            hint = "There is a tab in this line: indent with spaces."
        raise BadInput(f"the YAML cannot be read ({problem.problem}).", where=where, hint=hint) from None
    except yaml.YAMLError as problem:
        raise BadInput(f"the YAML cannot be read ({problem}).", where=name) from None


class _Builder:
    """Turns parser events into plain values; refuses what the module's rules refuse."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._lines: dict[Path, int] = {}
        self._nodes = 0

    def build(self, events: Iterator[Any]) -> Document:
        import yaml

        data: Any = None
        documents = 0
        for event in events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise self._refuse(
                        event, "a second document begins", "Keep one study or programme per file."
                    )
            elif isinstance(event, yaml.NodeEvent):
                data = self._read(event, events, ())
        return Document(self._name, data, self._lines)

    def _read(self, event: Any, events: Iterator[Any], path: Path) -> Any:
        import yaml

        self._nodes += 1
        if self._nodes > LIMIT_NODES:
            raise self._refuse(event, f"more than {LIMIT_NODES:,} entries", "Split the file.")
        if len(path) > LIMIT_DEPTH:
            raise self._refuse(event, f"nested deeper than {LIMIT_DEPTH} levels", "Check the brackets.")
        if isinstance(event, yaml.AliasEvent) or event.anchor is not None:
            raise self._refuse(
                event, "an anchor or alias (& or *) is used", "Write the value out, or quote it."
            )
        if event.tag is not None:
            raise self._refuse(event, f"a tag ({event.tag}) is used", "Leave it out, or quote the value.")
        self._lines.setdefault(path, _line_of(event))
        if isinstance(event, yaml.ScalarEvent):
            return resolve_word(event.value) if event.implicit[0] else event.value
        if isinstance(event, yaml.SequenceStartEvent):
            return self._read_list(events, path)
        return self._read_mapping(events, path)

    def _read_list(self, events: Iterator[Any], path: Path) -> list[Any]:
        import yaml

        items: list[Any] = []
        for event in events:
            if isinstance(event, yaml.SequenceEndEvent):
                break
            items.append(self._read(event, events, (*path, len(items))))
        return items

    def _read_mapping(self, events: Iterator[Any], path: Path) -> dict[str, Any]:
        import yaml

        entries: dict[str, Any] = {}
        for event in events:
            if isinstance(event, yaml.MappingEndEvent):
                break
            if not isinstance(event, yaml.ScalarEvent) or event.anchor is not None or event.tag is not None:
                raise self._refuse(
                    event, "a key must be a plain word", "Quote a value that begins with { or [."
                )
            key = event.value
            if key in entries:
                first = self._lines[(*path, key)]
                raise self._refuse(
                    event, f'"{key}" is given twice (first in line {first})', "Keep one of the two."
                )
            self._lines[(*path, key)] = _line_of(event)
            entries[key] = self._read(next(events), events, (*path, key))
        return entries

    def _refuse(self, event: Any, message: str, hint: str) -> BadInput:
        return BadInput(f"{message}.", where=f"{self._name}, line {_line_of(event)}", hint=hint)


def _line_of(event: Any) -> int:
    line: int = event.start_mark.line
    return line + 1


def resolve_word(text: str) -> Any:
    """The value of an unquoted word."""
    if text in _WORDS:
        return None
    if text in _TRUTHS:
        return _TRUTHS[text]
    if _INT.fullmatch(text):
        whole = WrittenInt(text)
        whole.text = text
        return whole
    if _FLOAT.fullmatch(text) and not _has_leading_zero(text):
        number = WrittenFloat(text)
        number.text = text
        return number if isfinite(number) else text
    return text


def _has_leading_zero(text: str) -> bool:
    """Whether the text is a code such as "007" rather than a number."""
    return re.match(r"[-+]?0[0-9]", text) is not None
