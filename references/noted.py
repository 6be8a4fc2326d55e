"""Variables that a format has no field for, written in its notes as `csl-NAME: VALUE` and read back from there."""

import json
import re
from collections.abc import Iterator
from typing import Any

from references.dates import PartialDate, read_date, write_iso
from references.names import Name
from references.record import CSL_NAMES, DATE_VARIABLES, NAME_VARIABLES, Record

_NOTED = re.compile(r"csl-([\w-]+): (.*)$", re.DOTALL)
_BY_CSL_NAME = {name.lower(): attribute for attribute, name in CSL_NAMES.items()}


def write_noted(record: Record, unwritten: frozenset[str] | set[str]) -> Iterator[str]:
    """Notes for the variables in `unwritten`, for `type`, `key` and `extra` where those names are among them."""
    if "type" in unwritten:
        yield f"csl-type: {record.type}"
    if "key" in unwritten:
        yield f"csl-id: {record.key}"
    for attribute, csl_name in CSL_NAMES.items():
        value = getattr(record, attribute)
        if not value or attribute not in unwritten:
            continue
        name = csl_name.lower()
        if attribute in NAME_VARIABLES:
            for person in value:
                yield f"csl-{name}: {_dump(person.to_csl())}"
        elif attribute in DATE_VARIABLES:
            iso = write_iso(value)
            yield f"csl-{name}: {iso if read_date(iso) == value else _dump(value.to_csl())}"
        elif isinstance(value, tuple):
            for item in value:
                yield f"csl-{name}: {item}"
        else:
            for line in str(value).split("\n"):
                yield f"csl-{name}: {line}"
    if "extra" in unwritten and record.extra:
        yield f"csl-custom: {_dump(dict(record.extra))}"


def _dump(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, default=str)


def read_noted(known: dict[str, Any], extra: dict[str, Any], record_type: str, key: str) -> tuple[str, str]:
    """Take the variables out of `known["note"]`; type and key as they stand there, or as given."""
    note = known.get("note")
    if not note or "csl-" not in note:
        return record_type, key
    kept: list[str] = []
    names: dict[str, tuple[Name, ...]] = {}
    seen: set[str] = set()
    for line in note.split("\n"):
        match = _NOTED.match(line)
        name, value = (match.group(1), match.group(2)) if match else ("", line)
        attribute = _BY_CSL_NAME.get(name)
        if name == "type":
            record_type = value
        elif name == "id":
            key = value
        elif name == "custom":
            extra.update(_load(value))
        elif attribute in NAME_VARIABLES:
            names[attribute] = (*names.get(attribute, ()), Name.from_csl(_load(value)))
        elif attribute in DATE_VARIABLES:
            known[attribute] = (
                PartialDate.from_csl(_load(value)) if value.startswith("{") else read_date(value)
            )
        elif attribute == "categories":
            known[attribute] = (*known.get(attribute, ()), value)
        elif attribute == "note":
            kept.append(value)
        elif attribute:
            known[attribute] = f"{known[attribute]}\n{value}" if attribute in seen else value
            seen.add(attribute)
        else:
            kept.append(line)
    known.update(names)
    known["note"] = "\n".join(kept) or None
    return record_type, key


def _load(text: str) -> dict[str, Any]:
    """An object that we wrote; one that somebody changed by hand is kept as text."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return {"literal": text}
    return found if isinstance(found, dict) else {"literal": text}
