"""The parts that migrations build tables from, named as the models name them."""

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from alembic import op

TIME = sa.DateTime(timezone=True)
LARGEST = "1.7976931348623157e308"


def make(table: str, *parts: sa.schema.SchemaItem, indexed: Sequence[str] = ()) -> None:
    """Create a table with its row number, never used twice, and its indexes."""
    number = sa.Column("id", sa.Integer(), nullable=False)
    key = sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}"))
    op.create_table(table, number, *parts, key, sqlite_autoincrement=True)
    for column in indexed:
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column])


def required(kind: sa.types.TypeEngine[Any], *names: str) -> list[sa.Column[Any]]:
    """Columns that must hold something."""
    return [sa.Column(name, kind, nullable=False) for name in names]


def optional(kind: sa.types.TypeEngine[Any], *names: str) -> list[sa.Column[Any]]:
    """Columns that may be empty."""
    return [sa.Column(name, kind) for name in names]


def rule(table: str, name: str, condition: str) -> sa.CheckConstraint:
    """A named CHECK."""
    return sa.CheckConstraint(condition, name=op.f(f"ck_{table}_{name}"))


def words(table: str, column: str, *allowed: str) -> sa.CheckConstraint:
    """A CHECK that a column holds one of some words."""
    listed = ", ".join(f"'{word}'" for word in allowed)
    return rule(table, column, f"{column} IN ({listed})")


def finite(table: str, column: str) -> sa.CheckConstraint:
    """A CHECK that a column holds a finite number."""
    return rule(table, f"{column}_finite", f"{column} BETWEEN -{LARGEST} AND {LARGEST}")


def unique(table: str, *columns: str) -> sa.UniqueConstraint:
    """A named rule that some columns together differ in every row."""
    return sa.UniqueConstraint(*columns, name=op.f(f"uq_{table}_{'_'.join(columns)}"))


def link(table: str, column: str, target: str, ondelete: str | None = None) -> sa.ForeignKeyConstraint:
    """A named link to the row number of another table."""
    name = op.f(f"fk_{table}_{column}_{target}")
    return sa.ForeignKeyConstraint([column], [f"{target}.id"], name=name, ondelete=ondelete)
