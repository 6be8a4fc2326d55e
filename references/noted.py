"""What a format cannot carry, written beside it as a piece of CSL-JSON (`csl-json: {...}`) and read back from there.

A writer writes what its format has fields for, reads that back, and notes only what came back otherwise. So no
variable is lost in any format, and a file that needs no note has none.
"""

import json
import re
from collections.abc import Mapping
from typing import Any

from references.record import CSL_NAMES, Record
from references.text import squeeze

LABEL = "csl-json: "
_STRING = re.compile(r'"(?:\\.|[^"\\])*"')
_RISKY = re.compile(r"[{}&<>]|(?<=\s)\s")


def find_rest(record: Record, back: Record | None) -> str | None:
    """The variables in which `back` (the record as written and read again) differs, as JSON on one line."""
    whole = record.to_csl()
    if back is None:
        return _protect(whole)
    rest: dict[str, Any] = {}
    for attribute, name in CSL_NAMES.items():
        if getattr(back, attribute) != getattr(record, attribute) or _lost_parts(record, back, attribute):
            rest[name] = whole.get(name)
    if back.type != record.type:
        rest["type"] = record.type
    if back.key != record.key:
        rest["id"] = record.key
    if back.extra != record.extra:
        changed = {name: value for name, value in record.extra.items() if back.extra.get(name) != value}
        rest["custom"] = changed | {name: None for name in back.extra if name not in record.extra}
    return _protect(rest) if rest else None


def _lost_parts(record: Record, back: Record, attribute: str) -> bool:
    """Parts that do not count when records are compared, but are not to be lost: a date's own wording."""
    ours, theirs = getattr(record, attribute), getattr(back, attribute)
    return getattr(ours, "raw", None) != getattr(theirs, "raw", None)


def _protect(value: Mapping[str, Any]) -> str:
    """JSON that no reader's clean-up changes: no brace, entity, tag or double space inside its strings."""

    def escape(match: re.Match[str]) -> str:
        return _RISKY.sub(lambda sign: f"\\u{ord(sign.group()):04x}", match.group())

    text = _STRING.sub(escape, json.dumps(value, ensure_ascii=False, default=str))
    if squeeze(text) != text:
        text = _STRING.sub(escape, json.dumps(value, ensure_ascii=True, default=str))
    return text


def load_rest(text: str) -> dict[str, Any]:
    """The noted item; empty where somebody changed the note so that it is no JSON object any more."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def apply_rest(item: Mapping[str, Any], known: dict[str, Any], extra: dict[str, Any], kind: str) -> str:
    """Put noted variables into `known` and `extra`; a null takes a variable away. Returns the record's type."""
    noted = Record.from_csl(item)
    names = {name: attribute for attribute, name in CSL_NAMES.items()}
    for name in item:
        attribute = names.get(name)
        if attribute is not None:
            known.pop(attribute, None)
            if item[name] is not None:
                known[attribute] = getattr(noted, attribute)
    for name, value in noted.extra.items():
        extra[name] = value
        if value is None:
            del extra[name]
    return str(item.get("type") or kind)


def take_noted(known: dict[str, Any], extra: dict[str, Any], kind: str, key: str) -> tuple[str, str]:
    """The same for formats that hold it in a note: it is taken out of `known["note"]`. Returns type and key."""
    lines = (known.get("note") or "").split("\n")
    noted = [line for line in lines if line.startswith(LABEL)]
    if not noted:
        return kind, key
    known["note"] = "\n".join(line for line in lines if not line.startswith(LABEL)) or None
    for line in noted:
        item = load_rest(line.removeprefix(LABEL))
        kind = apply_rest(item, known, extra, kind)
        key = str(item.get("id") or key)
    return kind, key
