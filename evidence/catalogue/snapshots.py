"""Rows as plain values: the form in which history, exchange and the state of a catalogue see them."""

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import cache
from typing import Any

from sqlalchemy import JSON, Boolean, Column, Date, Float, Table
from sqlmodel import SQLModel

from evidence.catalogue import tables
from evidence.catalogue.tables.columns import UtcTime

# In an order in which parents come before their children.
MODELS: tuple[type[SQLModel], ...] = (
    tables.Setting,
    tables.OwnExercise,
    tables.OwnAlias,
    tables.UnreadEntry,
    tables.Draft,
    tables.Programme,
    tables.Reference,
    tables.Study,
    tables.StudyReference,
    tables.People,
    tables.Condition,
    tables.Outcome,
    tables.RawTable,
    tables.Result,
    tables.Correlation,
    tables.Claim,
    tables.Exclusion,
    tables.Override,
    tables.ClaimLink,
    tables.Rating,
    tables.Appraisal,
    tables.Use,
)


def table_of(model: type[SQLModel]) -> Table:
    """The SQL table behind a model."""
    table = model.__table__  # type: ignore[attr-defined]
    assert isinstance(table, Table)
    return table


TABLES: tuple[Table, ...] = tuple(table_of(model) for model in MODELS)
BY_NAME: dict[str, Table] = {table.name: table for table in TABLES}
MODEL_OF: dict[str, type[SQLModel]] = {table_of(model).name: model for model in MODELS}

Snapshot = dict[str, Any]


def plain(column: Column[Any], value: Any) -> Any:
    """One stored value as JSON can hold it, the same for either engine and however it was given."""
    return None if value is None else _way_of(column)(value)


@cache
def _way_of(column: Column[Any]) -> Callable[[Any], Any]:
    """How the values of a column become plain: found out once for each column, as every row is asked."""
    kind = column.type
    if isinstance(kind, UtcTime):
        return lambda value: value.astimezone(UTC).isoformat()
    if isinstance(kind, Date):
        return lambda value: value.isoformat()
    if isinstance(kind, Float):
        return float
    if isinstance(kind, Boolean):
        return bool
    return _plain_document if isinstance(kind, JSON) else _plain_text


def _plain_document(value: Any) -> Any:
    return json.loads(json.dumps(value, allow_nan=False)) if value else type(value)()


def _plain_text(value: Any) -> Any:
    if isinstance(value, str):
        return str(value.value) if hasattr(value, "value") else str(value)
    return value


def lively(column: Column[Any], value: Any) -> Any:
    """The value that `plain` was made from. Raises `ValueError` where it cannot be one."""
    if value is None:
        return None
    kind = column.type
    if isinstance(kind, UtcTime):
        return datetime.fromisoformat(value)
    if isinstance(kind, Date):
        return date.fromisoformat(value)
    if isinstance(kind, Float):
        return float(value)
    return value


def snapshot(table: Table, values: Any) -> Snapshot:
    """A row (a mapping of column names) as plain values, without its row number."""
    return {name: None if (value := values[name]) is None else way(value) for name, way in _ways_of(table)}


@cache
def _ways_of(table: Table) -> tuple[tuple[str, Callable[[Any], Any]], ...]:
    return tuple((column.name, _way_of(column)) for column in table.columns if column.name != "id")


def enliven(table: Table, plain_row: Snapshot) -> Snapshot:
    """A snapshot as values that can be stored; columns that a later version added take their defaults."""
    return {
        column.name: lively(column, plain_row[column.name])
        for column in table.columns
        if column.name in plain_row
    }


def values_of(row: SQLModel) -> Snapshot:
    """The columns of a row in memory."""
    return {column.name: getattr(row, column.name) for column in table_of(type(row)).columns}


def label(table_name: str, row: Snapshot) -> str:
    """What a person would call this row, from its own columns."""
    if row.get("key"):
        return str(row["key"])
    for column in ("alias", "name", "domain", "digest", "result_key", "role", "stance"):
        if row.get(column):
            return str(row[column])
    return table_name
