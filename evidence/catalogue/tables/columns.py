"""Column kinds shared by the tables: naming of constraints, lists of allowed words, documents, UTC times."""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, DateTime, TypeDecorator
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


def one_of(column: str, words: Iterable[str]) -> CheckConstraint:
    """A CHECK that `column` holds one of `words` (or NULL, where the column allows it)."""
    listed = ", ".join("'" + str(word) + "'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=column)


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
