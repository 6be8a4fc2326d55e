"""Finding a row by its key, and the nearest keys when there is none."""

from collections.abc import Sequence
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, collate
from sqlmodel import Session, SQLModel, select

from evidence.errors import NotFound

Row = TypeVar("Row", bound=SQLModel)


def in_order(session: Session, column: Any) -> ColumnElement[Any]:
    """Order by code point on either engine: a server's own collation would sort otherwise than SQLite."""
    ordered: ColumnElement[Any] = collate(
        column, "C" if session.get_bind().dialect.name == "postgresql" else "BINARY"
    )
    return ordered


def by_key(session: Session, model: type[Row], key: str, noun: str) -> Row:
    """The row with this key. Raises `NotFound` with the nearest keys."""
    column = model.key  # type: ignore[attr-defined]
    row = session.exec(select(model).where(column == key)).first() if "\x00" not in key else None
    if row is not None:
        return row
    near = nearest_keys(key, session.exec(select(column)).all())
    hint = f"Nearest: {', '.join(near)}." if near else None
    raise NotFound(f"the catalogue holds no {noun} {key!r}", hint=hint)


def nearest_keys(key: str, keys: Sequence[str], limit: int = 3) -> list[str]:
    """Up to `limit` keys that a slip of the fingers could have turned into `key`, nearest first."""
    from rapidfuzz import fuzz, process, utils

    found = process.extract(
        key, sorted(keys), scorer=fuzz.ratio, processor=utils.default_process, limit=limit, score_cutoff=60
    )
    return [name for name, score, place in found]
