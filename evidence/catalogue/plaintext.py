"""YAML as a catalogue is written to and read from: one fixed way of writing, every value exactly as it was.

Writing is our own so that it is fixed for good and quick; what comes out is plain YAML for any program.
Reading accepts no anchors, tags or repeated names, and knows the line of everything.
"""

import json
import math
import re
from collections.abc import Sequence
from functools import cache
from typing import Any

from evidence.errors import BadInput

_PLAIN = re.compile(r"[^\W\d_](?:[\w .,;()/%+'’±–×-]*[\w.,;()/%+’±×])?")
_WORDS = {"null", "true", "false", "yes", "no", "on", "off", "y", "n"}
_INTEGER = re.compile(r"[-+]?[0-9]+")
_FLOAT = re.compile(r"[-+]?(?:[0-9]+\.[0-9]*|\.[0-9]+|[0-9]+)(?:[eE][-+]?[0-9]+)?")
_TAGS = {"str", "seq", "map"}  # of nodes without a mark
_DEEPEST = 60
_LONGEST_KEY = 200  # characters; YAML readers need not know longer ones without the mark "?"


class Entry(dict[str, Any]):
    """A mapping that was read, with the line of itself and of each of its names."""

    line: int
    lines: dict[str, int]


def write_yaml(value: dict[str, Any]) -> str:
    """A mapping as YAML text."""
    if not value:
        return "{}\n"
    lines: list[str] = []
    _write_mapping(lines, value, "", "")
    return "\n".join(lines) + "\n"


def _write_mapping(lines: list[str], value: dict[str, Any], head: str, indent: str) -> None:
    """A mapping with something in it; `head` stands before its first line, `indent` before all others."""
    for name, item in value.items():
        key = _text(name, name_only=True)
        if len(key) > _LONGEST_KEY:
            lines.append(f"{head}? {key}")
            head, key = indent, ""
        below = f"{indent}  "
        if isinstance(item, dict) and item:
            lines.append(f"{head}{key}:")
            _write_mapping(lines, item, below, below)
        elif isinstance(item, list | tuple) and item:
            lines.append(f"{head}{key}:")
            _write_list(lines, item, below, below)
        else:
            _write_scalar(lines, f"{head}{key}:", item, below)
        head = indent


def _write_list(lines: list[str], value: Sequence[Any], head: str, indent: str) -> None:
    """A list with something in it; the first line of each entry stands beside its dash."""
    below = f"{indent}  "
    for entry in value:
        if isinstance(entry, dict) and entry:
            _write_mapping(lines, entry, f"{head}- ", below)
        elif isinstance(entry, list | tuple) and entry:
            _write_list(lines, entry, f"{head}- ", below)
        else:
            _write_scalar(lines, f"{head}-", entry, below)
        head = indent


def _write_scalar(lines: list[str], first: str, item: Any, indent: str) -> None:
    """A value that is no mapping and no list, after `first` ("name:" or "-")."""
    scalar, *rest = _scalar(item).split("\n")
    lines.append(f"{first} {scalar}")
    lines += [f"{indent}{line}" if line else "" for line in rest]


def _scalar(item: Any) -> str:
    if item is None:
        return "null"
    if isinstance(item, bool):
        return "true" if item else "false"
    if isinstance(item, int):
        return str(item)
    if isinstance(item, float):
        if not math.isfinite(item):
            raise BadInput("a number is not finite (NaN or infinite)")
        return repr(item)
    if isinstance(item, str):
        return _text(item)
    return "{}" if isinstance(item, dict) else "[]"


def _text(text: str, *, name_only: bool = False) -> str:
    if _PLAIN.fullmatch(text) and text.lower() not in _WORDS and len(text) < 500:
        return text
    if not name_only and _is_block(text):
        mark = "|" if text.endswith("\n") else "|-"
        return f"{mark}\n{text.removesuffix(chr(10))}"
    quoted = json.dumps(text, ensure_ascii=False)
    if quoted.isprintable():
        return quoted
    return "".join(char if char.isprintable() else _escape(char) for char in quoted)


def _is_block(text: str) -> bool:
    """Whether a text of several lines may stand as it is, below its name."""
    if "\n" not in text or text[0].isspace() or text.endswith("\n\n"):
        return False
    return all(
        line.replace("\t", "").isprintable() and (not line or line.strip()) for line in text.split("\n")
    )


def _escape(char: str) -> str:
    code = ord(char)
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def read_yaml(text: str, where: str) -> Entry:
    """Read a mapping. Raises `BadInput` with `where` and the line for anything that is not plain YAML."""
    import yaml

    try:
        node = yaml.compose(text, Loader=_plain_loader())
    except yaml.YAMLError as fault:
        mark = getattr(fault, "problem_mark", None) or getattr(fault, "context_mark", None)
        place = f"{where}:{mark.line + 1}" if mark is not None else where
        problem = getattr(fault, "problem", None) or "this is not YAML"
        raise BadInput(f"the file cannot be read: {problem}", where=place) from fault
    except RecursionError as fault:
        raise BadInput("the file is nested too deep", where=where) from fault
    except ValueError as fault:
        raise BadInput(f"the file cannot be read: {fault}", where=where) from fault
    if node is None:
        raise BadInput("the file is empty", where=where)
    value = _value(node, where, set(), 0)
    if not isinstance(value, Entry):
        raise BadInput("the file holds no mapping of names to values", where=f"{where}:1")
    return value


@cache
def _plain_loader() -> Any:
    """A YAML loader that takes no unquoted word for a number or date: `_resolve` does that, and says how."""
    import yaml

    base = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    return type("PlainLoader", (base,), {"yaml_implicit_resolvers": {}})


def _value(node: Any, where: str, seen: set[int], depth: int) -> Any:
    line = node.start_mark.line + 1
    place = f"{where}:{line}"
    if id(node) in seen:
        raise BadInput("references within a file (*name) are not read", where=place)
    if depth > _DEEPEST:
        raise BadInput("the file is nested too deep", where=place)
    seen.add(id(node))
    if node.tag.removeprefix("tag:yaml.org,2002:") not in _TAGS:
        raise BadInput(f"a tag ({node.tag}) is not read", where=place)
    kind = type(node).__name__
    if kind == "ScalarNode":
        return node.value if node.style else _resolve(node.value)
    if kind == "SequenceNode":
        return [_value(item, where, seen, depth + 1) for item in node.value]
    entry = Entry()
    entry.line, entry.lines = line, {}
    for key_node, value_node in node.value:
        name = _value(key_node, where, seen, depth + 1)
        name_line = key_node.start_mark.line + 1
        if not isinstance(name, str):
            raise BadInput(f"the name {name!r} is no text", where=f"{where}:{name_line}")
        if name in entry:
            raise BadInput(f"the name {name!r} stands twice", where=f"{where}:{name_line}")
        entry[name] = _value(value_node, where, seen, depth + 1)
        entry.lines[name] = name_line
    return entry


def _resolve(text: str) -> Any:
    """What an unquoted word means, by the core schema of YAML 1.2 (10.3.2), without octal and hexadecimal."""
    if text in ("", "~", "null", "Null", "NULL"):
        return None
    if text.lower() in ("true", "false") and text in ("true", "True", "TRUE", "false", "False", "FALSE"):
        return text.lower() == "true"
    if _INTEGER.fullmatch(text) and len(text) < 400:
        return int(text)
    if _FLOAT.fullmatch(text):
        number = float(text)
        return number if math.isfinite(number) else text
    return text
