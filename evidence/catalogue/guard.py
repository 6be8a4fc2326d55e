"""What may be stored: refuses a value before the database sees it, and names its table and column.

Table models do not check what they are given, and the two engines forgive different things (SQLite keeps
text in a number column, PostgreSQL keeps NaN): this is the one check that holds for both.
"""

import math
from collections.abc import Callable, Mapping
from datetime import date, datetime
from functools import cache
from typing import Any

from sqlalchemy import JSON, Boolean, CheckConstraint, Column, Date, Float, Integer, String, Table
from sqlmodel import AutoString

from evidence.catalogue.tables.columns import UtcTime
from evidence.errors import BadInput

_LARGEST_INTEGER = 2**31 - 1  # PostgreSQL's INTEGER
_DEEPEST = 50


def require_storable(table: Table, row: Mapping[str, Any]) -> None:
    """Raise `BadInput` unless every value of the row can be stored and given back unchanged."""
    words = _allowed_words(table)
    for column, name, check in _checks_of(table):
        value = row.get(name)
        if value is None:
            if not column.nullable and not column.primary_key:
                raise _refused(table, column, "a value is missing")
            continue
        trouble = check(value)
        if trouble is None and name in words and str(value) not in words[name]:
            trouble = f"{str(value)!r} is none of {', '.join(words[name])}"
        if trouble is None and name == "key":
            trouble = _key_trouble(value)
        if trouble is not None:
            raise _refused(table, column, trouble, row)


Check = Callable[[Any], str | None]


@cache
def _checks_of(table: Table) -> tuple[tuple[Column[Any], str, Check], ...]:
    """Every column with its name and the check of its values: found out once, as every row is asked."""
    return tuple((column, column.name, _check_of(column)) for column in table.columns)


@cache
def _allowed_words(table: Table) -> dict[str, tuple[str, ...]]:
    return {
        constraint.info["column"]: constraint.info["words"]
        for constraint in table.constraints
        if isinstance(constraint, CheckConstraint) and "words" in constraint.info
    }


def _refused(
    table: Table, column: Column[Any], trouble: str, row: Mapping[str, Any] | None = None
) -> BadInput:
    key = (row or {}).get("key")
    named = f" {key!r}" if isinstance(key, str) and key and column.name != "key" else ""
    return BadInput(trouble, where=f"{table.name}{named}, {column.name}")


def _check_of(column: Column[Any]) -> Check:
    """What keeps a value from being one of this column."""
    kind = column.type
    if isinstance(kind, UtcTime):
        return _time_trouble
    if isinstance(kind, Date):
        return _date_trouble
    if isinstance(kind, JSON):
        return lambda value: (
            _document_trouble(value) if isinstance(value, dict) else f"{value!r} is no document"
        )
    if isinstance(kind, Boolean):
        return lambda value: None if isinstance(value, bool) else f"{value!r} is neither true nor false"
    if isinstance(kind, Float):
        return _number_trouble
    if isinstance(kind, Integer):
        return _integer_trouble
    if isinstance(kind, String | AutoString):
        return lambda value: text_trouble(value) if isinstance(value, str) else f"{value!r} is no text"
    return lambda value: None


def _time_trouble(value: Any) -> str | None:
    if not isinstance(value, datetime):
        return f"{value!r} is no date with a time"
    return "the time has no zone" if value.utcoffset() is None else None


def _date_trouble(value: Any) -> str | None:
    return None if isinstance(value, date) and not isinstance(value, datetime) else f"{value!r} is no date"


def _number_trouble(value: Any) -> str | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return f"{value!r} is no number"
    try:
        return None if math.isfinite(value) else "the number is not finite (NaN or infinite)"
    except OverflowError:
        return "the number is too large to be kept exactly"


def _integer_trouble(value: Any) -> str | None:
    if isinstance(value, bool) or not isinstance(value, int):
        return f"{value!r} is no whole number"
    return None if abs(value) <= _LARGEST_INTEGER else f"{value} is too large"


def text_trouble(text: str) -> str | None:
    """Why a text cannot be kept on every engine; None where it can."""
    if "\x00" in text:
        return "the text holds a NUL character, which no text can keep: take it out"
    try:
        text.encode()
    except UnicodeEncodeError:
        return "the text holds half a character (a lone surrogate)"
    return None


def _key_trouble(key: str) -> str | None:
    if not key.strip():
        return "a key may not be empty"
    if key != key.strip() or not key.isprintable():
        return f"a key holds no line ends and no blanks at its ends: {key!r}"
    return None


def _document_trouble(value: Any, depth: int = 0) -> str | None:
    """What keeps a document from coming back from JSON as it was."""
    if depth > _DEEPEST:
        return f"the document is nested more than {_DEEPEST} deep"
    if isinstance(value, str):
        return text_trouble(value)
    if value is None or isinstance(value, bool):
        return None
    if isinstance(value, int):
        return None if abs(value) < 2**63 else f"{value} is too large"
    if isinstance(value, float):
        return _number_trouble(value)
    if isinstance(value, list | tuple):
        for item in value:
            if trouble := _document_trouble(item, depth + 1):
                return trouble
        return None
    if isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str):
                return f"the document has the name {key!r}, which is no text"
            trouble = text_trouble(key) or _document_trouble(item, depth + 1)
            if trouble:
                return trouble
        return None
    return f"the document holds a {type(value).__name__}, which JSON does not know"
