"""Recording of every row that a session adds, edits or removes, before and after, in one transaction."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Table, delete, event, insert, select, update
from sqlalchemy.orm import ORMExecuteState, UOWTransaction
from sqlmodel import Session, SQLModel

from evidence.catalogue.guard import require_storable
from evidence.catalogue.snapshots import (
    BY_NAME,
    MODEL_OF,
    TABLES,
    Snapshot,
    enliven,
    label,
    snapshot,
    table_of,
    values_of,
)
from evidence.catalogue.tables import Change, ChangeSet
from evidence.errors import CatalogueProblem

CHUNK = 500  # values in one IN list: SQLite allows 32,766, plans stay small well below
RowName = tuple[str, int]  # table, row number
_CHANGE, _CHANGE_SET = table_of(Change), table_of(ChangeSet)


class ReadingSession(Session):
    """A session that refuses to write."""


class ChangingSession(Session):
    """A session whose every change of a row is recorded."""


@dataclass(slots=True)
class Recorder:
    """The change set of one session: made when the first row changes, so that no empty one is kept."""

    who: str
    action: str
    at: datetime
    undoes_id: int | None = None
    change_set_id: int | None = None
    pending: list[tuple[SQLModel, str, Snapshot]] = field(default_factory=list)

    def record(self, connection: Connection, changes: Iterable[Mapping[str, Any]]) -> None:
        """Store changes (table_name, row_id, row_key, operation, before, after) under this change set."""
        rows = list(changes)
        if not rows:
            return
        if self.change_set_id is None:
            self.at = later_than_last(connection, self.at)
            made = connection.execute(
                insert(_CHANGE_SET)
                .values(at=self.at, who=self.who, action=self.action, undoes_id=self.undoes_id)
                .returning(_CHANGE_SET.c.id)
            )
            self.change_set_id = int(made.scalar_one())
        for row in rows:
            require_storable(_CHANGE, {**row, "change_set_id": self.change_set_id})
        connection.execute(insert(_CHANGE), [{**row, "change_set_id": self.change_set_id} for row in rows])


def last_stamp(connection: Connection) -> datetime | None:
    """When the last change was made, as it was stamped; None before the first."""
    last = select(_CHANGE_SET.c.at).order_by(_CHANGE_SET.c.id.desc()).limit(1)
    return connection.execute(last).scalar_one_or_none()


def later_than_last(connection: Connection, at: datetime) -> datetime:
    """A time, or where a clock was set back the first moment after the last change.

    What changed after a claim was weighed is found by these times: they must never run backwards.
    """
    last = last_stamp(connection)
    return at if last is None else max(at, last + timedelta(microseconds=1))


def recorder_of(session: Session) -> Recorder:
    """The recorder of a changing session. Raises `CatalogueProblem` for a session that only reads."""
    recorder = session.info.get("recorder")
    if not isinstance(recorder, Recorder):
        raise CatalogueProblem("this session only reads the catalogue")
    return recorder


def change_set_of(session: Session) -> int | None:
    """The number of the change set that this session has stored so far; None while nothing has changed."""
    session.flush()
    return recorder_of(session).change_set_id


def add_rows(
    session: Session, model: type[SQLModel], rows: Sequence[Mapping[str, Any]], *, numbered: bool = False
) -> list[int]:
    """Add many rows in few statements: checked and recorded as single ones are. Gives their row numbers.

    `rows` give column values; missing ones take the model's defaults. With `numbered` they bring their `id`.
    """
    session.flush()
    table = table_of(model)
    complete = [with_defaults(model, row) for row in rows]
    for values in complete:
        require_storable(table, values)
        if not numbered:
            values.pop("id", None)
    if not complete:
        return []
    connection = session.connection()
    statement = insert(table).returning(table.c.id, sort_by_parameter_order=True)
    ids = [int(number) for number in connection.execute(statement, complete).scalars()]
    recorder_of(session).record(
        connection,
        (
            change_of(table, row_id, "add", None, snapshot(table, values))
            for row_id, values in zip(ids, complete, strict=True)
        ),
    )
    return ids


def with_defaults(model: type[SQLModel], row: Mapping[str, Any]) -> dict[str, Any]:
    """A row with every column of its table, defaults filled in. Raises CatalogueProblem for a column there is not."""
    unknown = set(row) - set(table_of(model).columns.keys())
    if unknown:
        raise CatalogueProblem(f"{table_of(model).name} has no column {', '.join(sorted(unknown))}")
    values: dict[str, Any] = {}
    for name, info in model.model_fields.items():
        if name in row:
            values[name] = row[name]
        else:
            values[name] = None if info.is_required() else info.get_default(call_default_factory=True)
    return values


def change_of(
    table: Table, row_id: int, operation: str, before: Snapshot | None, after: Snapshot | None
) -> dict[str, Any]:
    """One change as a row of the history."""
    return {
        "table_name": table.name,
        "row_id": row_id,
        "row_key": label(table.name, after or before or {}),
        "operation": operation,
        "before": before,
        "after": after,
    }


def stored_rows(connection: Connection, table: Table, ids: Iterable[int]) -> dict[int, Snapshot]:
    """Rows as the database holds them now, by row number."""
    found: dict[int, Snapshot] = {}
    for part in chunks(sorted(set(ids))):
        for row in connection.execute(select(table).where(table.c.id.in_(part))).mappings():
            found[row["id"]] = snapshot(table, row)
    return found


def chunks(items: Sequence[Any], size: int = CHUNK) -> Iterator[Sequence[Any]]:
    """Cut a sequence into parts of at most `size`."""
    for start in range(0, len(items), size):
        yield items[start : start + size]


@dataclass(frozen=True, slots=True)
class Dependents:
    """Rows that hang on others which are to be removed."""

    gone: dict[RowName, Snapshot]  # the database removes them too; parents before children
    loosened: dict[RowName, tuple[Snapshot, Snapshot]]  # they lose a link: before, after
    holding: tuple[RowName, ...]  # the database refuses because of them

    @property
    def names(self) -> list[RowName]:
        return [*self.gone, *self.loosened, *self.holding]


def find_dependents(connection: Connection, removed: Iterable[RowName]) -> Dependents:
    """What the database will do by itself when rows are removed."""
    gone: dict[RowName, Snapshot] = {}
    loosened: dict[RowName, tuple[Snapshot, Snapshot]] = {}
    holding: list[RowName] = []
    known = set(removed)
    wave = set(known)
    while wave:
        following: set[RowName] = set()
        for table in TABLES:
            for link in table.foreign_keys:
                parents = sorted(row_id for name, row_id in wave if name == link.column.table.name)
                for part in chunks(parents):
                    rows = connection.execute(select(table).where(link.parent.in_(part))).mappings().all()
                    for row in rows:
                        name = (table.name, row["id"])
                        if name in known or name in gone:
                            continue
                        if link.ondelete == "SET NULL":
                            before, after = loosened.get(name, (snapshot(table, row), snapshot(table, row)))
                            loosened[name] = (before, {**after, link.parent.name: None})
                        elif link.ondelete == "CASCADE":
                            gone[name] = snapshot(table, row)
                            following.add(name)
                        else:
                            holding.append(name)
        wave = following
    kept = {name: pair for name, pair in loosened.items() if name not in gone}
    return Dependents(gone, kept, tuple(name for name in holding if name not in gone))


@event.listens_for(ReadingSession, "before_flush")
def _refuse_writing(session: Session, context: UOWTransaction, instances: Any) -> None:
    if session.new or session.deleted or any(session.is_modified(row) for row in session.dirty):
        raise CatalogueProblem("this session only reads the catalogue; nothing was stored")


@event.listens_for(ChangingSession, "do_orm_execute")
def _refuse_unrecorded(state: ORMExecuteState) -> None:
    if state.is_insert or state.is_update or state.is_delete:
        raise CatalogueProblem("rows are changed one by one, or with add_rows, so that history records them")


@event.listens_for(ChangingSession, "before_flush")
def _check_and_look_before(session: Session, context: UOWTransaction, instances: Any) -> None:
    edited = [row for row in session.dirty if session.is_modified(row) and row not in session.deleted]
    for row in [*session.new, *edited]:
        if table_of(type(row)).name not in BY_NAME:
            raise CatalogueProblem("history is written by the catalogue alone")
        require_storable(table_of(type(row)), values_of(row))
    recorder = recorder_of(session)
    connection = session.connection()
    recorder.pending = [(row, "add", {}) for row in session.new]
    for table, rows in _by_table(edited):
        before = stored_rows(connection, table, (row.id for row in rows))
        recorder.pending += [(row, "edit", before.get(row.id, {})) for row in rows]
    recorder.record(connection, _removals(connection, list(session.deleted)))


@event.listens_for(ChangingSession, "after_flush")
def _record_after(session: Session, context: UOWTransaction) -> None:
    recorder = recorder_of(session)
    pending, recorder.pending = recorder.pending, []
    changes = []
    # New rows are in the session in the order in which they were added to it, which their numbers follow.
    for row, operation, before in sorted(pending, key=lambda item: item[0].id):  # type: ignore[attr-defined]
        table = table_of(type(row))
        after = snapshot(table, values_of(row))
        if operation == "add" or before != after:
            changes.append(change_of(table, row.id, operation, before or None, after))  # type: ignore[attr-defined]
    changes.sort(key=lambda change: _ORDER[change["table_name"]])
    recorder.record(session.connection(), changes)


_ORDER = {table.name: place for place, table in enumerate(TABLES)}


def _by_table(rows: Iterable[Any]) -> list[tuple[Table, list[Any]]]:
    grouped: dict[str, list[Any]] = {}
    for row in rows:
        grouped.setdefault(table_of(type(row)).name, []).append(row)
    return [(table, grouped[table.name]) for table in TABLES if table.name in grouped]


def _removals(connection: Connection, deleted: list[Any]) -> list[dict[str, Any]]:
    """Changes for removed rows and all that the database removes or loosens with them, children first."""
    changes: list[dict[str, Any]] = []
    named = [(table, rows) for table, rows in _by_table(deleted)]
    names = [(table.name, row.id) for table, rows in named for row in rows]
    found = find_dependents(connection, names)
    for (name, row_id), (before, after) in found.loosened.items():
        if (name, row_id) not in names:
            changes.append(change_of(BY_NAME[name], row_id, "edit", before, after))
    removed = dict(found.gone)
    for table, rows in named:
        for row_id, before in stored_rows(connection, table, (row.id for row in rows)).items():
            removed[table.name, row_id] = before
    for name, row_id in sorted(removed, key=lambda item: (-_ORDER[item[0]], item[1])):
        changes.append(change_of(BY_NAME[name], row_id, "remove", removed[name, row_id], None))
    return changes


def apply_changes(
    connection: Connection, table: Table, operation: str, changes: Sequence[Mapping[str, Any]]
) -> None:
    """Carry out changes below the session: undo brings rows back under their old numbers."""
    for part in chunks(changes):
        if operation == "add":
            # Columns that came in after the row had gone take their defaults.
            rows = [
                {
                    **with_defaults(MODEL_OF[table.name], enliven(table, change["after"])),
                    "id": change["row_id"],
                }
                for change in part
            ]
            connection.execute(insert(table), rows)
        elif operation == "remove":
            connection.execute(delete(table).where(table.c.id.in_([change["row_id"] for change in part])))
        else:
            for change in part:
                values = enliven(table, change["after"])
                connection.execute(update(table).where(table.c.id == change["row_id"]).values(**values))
