"""Column kinds shared by the tables: naming of constraints, lists of allowed words, documents, UTC times."""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, DateTime, Float, MetaData, TypeDecorator
from sqlalchemy.engine import Dialect
from sqlmodel import SQLModel

# Named from the first migration on: an unnamed constraint cannot be changed later on SQLite.
SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


LARGEST_FLOAT = "1.7976931348623157e308"


def one_of(column: str, words: Iterable[str]) -> CheckConstraint:
    """A CHECK that `column` holds one of `words` (or NULL, where the column allows it)."""
    allowed = tuple(str(word) for word in words)
    listed = ", ".join("'" + word + "'" for word in allowed)
    # `info` lets the guard name the column and the words before the database refuses them.
    return CheckConstraint(f"{column} IN ({listed})", name=column, info={"column": column, "words": allowed})


def harden(metadata: MetaData) -> None:
    """Stand behind the guard in every table: row numbers never used twice, finite floats, keys not empty.

    Row numbers are never reused so that the history of a removed row is never taken for that of a new one.
    """
    for table in metadata.tables.values():
        table.dialect_options["sqlite"]["autoincrement"] = True
        for column in table.columns:
            if isinstance(column.type, Float):
                # False for NaN on PostgreSQL, where NaN is the largest number, and for both infinities.
                finite = f"{column.name} BETWEEN -{LARGEST_FLOAT} AND {LARGEST_FLOAT}"
                table.append_constraint(CheckConstraint(finite, name=f"{column.name}_finite"))
            elif column.name == "key":
                table.append_constraint(CheckConstraint("key <> ''", name="key_not_empty"))


class UtcTime(TypeDecorator[datetime]):
    """A time with zone, always given back in UTC: SQLite drops the zone that PostgreSQL keeps."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("times are stored with their zone; this one has none")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


# Documents are replaced whole, never edited in place: a changed dict inside a row is not seen by the session.
Document = JSON
JsonObject = dict[str, Any]
