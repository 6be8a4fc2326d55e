"""Short hashes: of what a catalogue holds, and of what a figure was computed from."""

import dataclasses
import hashlib
import json
import math
from collections.abc import Mapping, Set
from contextlib import suppress
from datetime import UTC, date, datetime
from enum import Enum
from typing import Any

from sqlmodel import Session, SQLModel

from evidence.catalogue.digests import count_behind, digest, digests_of, keep_digests
from evidence.catalogue.engine import Catalogue
from evidence.catalogue.faults import told
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.snapshots import plain, table_of
from evidence.errors import BadInput, CatalogueProblem

LENGTH = 16  # hexadecimal digits: 64 bits, enough to tell the states of one catalogue apart


def catalogue_state(session: Session) -> str:
    """A hash of all that a catalogue holds but its history, its appraisals and what went out.

    It depends neither on row numbers nor on the order in which things were recorded.
    """
    session.flush()
    if isinstance(session, ChangingSession):
        keep_digests(session.connection())
    digests = digests_of(session.connection())
    return hashlib.sha256(b"".join(sorted(digests.values()))).hexdigest()[:LENGTH]


def keep_state(catalogue: Catalogue) -> None:
    """Keep what the state is worked out of, so that it is quickly told; nothing where nothing can be written now."""
    with told(catalogue.location), catalogue.readers.connect() as connection:
        if catalogue.read_only or not count_behind(connection):
            return
    with (
        suppress(CatalogueProblem),
        told(catalogue.location),
        catalogue.writers.begin() as connection,
    ):
        keep_digests(connection)


def hash_inputs(inputs: Any) -> str:
    """A hash of plain values, dataclasses and rows, however nested: the same for equal content.

    Mappings and sets have no order; 1 and 1.0 differ; row numbers of table rows do not count. Raises
    `BadInput` for a number that is not finite, or a kind of thing that has no fixed content.
    """
    return digest(_canonical(inputs)).hex()[:LENGTH]


def _canonical(value: Any) -> Any:
    if value is None or (isinstance(value, bool | int) and not isinstance(value, Enum)):
        return value
    if isinstance(value, Enum):
        return _canonical(value.value)
    if isinstance(value, str):
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise BadInput("a number among the inputs is not finite (NaN or infinite)")
        return {"float": float.__repr__(value)}  # a NumPy number calls itself otherwise
    if isinstance(value, datetime):
        return {"time": value.astimezone(UTC).isoformat() if value.tzinfo else value.isoformat()}
    if isinstance(value, date):
        return {"date": value.isoformat()}
    if isinstance(value, bytes):
        return {"bytes": value.hex()}
    if isinstance(value, SQLModel):
        return _canonical_row(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = dataclasses.fields(value)
        return {"kind": type(value).__name__} | {f.name: _canonical(getattr(value, f.name)) for f in fields}
    if isinstance(value, Mapping):
        pairs = [[_canonical(key), _canonical(item)] for key, item in value.items()]
        return {"mapping": sorted(pairs, key=lambda pair: json.dumps(pair[0], sort_keys=True))}
    if isinstance(value, Set):
        return {
            "set": sorted((_canonical(item) for item in value), key=lambda i: json.dumps(i, sort_keys=True))
        }
    if isinstance(value, list | tuple):
        return [_canonical(item) for item in value]
    if type(value).__module__ == "numpy" and hasattr(value, "tolist"):
        return _canonical(value.tolist())
    raise BadInput(f"a {type(value).__name__} has no fixed content that could be hashed")


def _canonical_row(row: SQLModel) -> Any:
    columns = [column for column in table_of(type(row)).columns if not _is_number(column)]
    return {"row": type(row).__name__} | {
        column.name: _canonical(plain(column, getattr(row, column.name))) for column in columns
    }


def _is_number(column: Any) -> bool:
    return column.primary_key or bool(column.foreign_keys)
