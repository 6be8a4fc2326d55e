"""What was changed, by whom and when, and the way back from any change that nothing later builds on."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, Table, exists, func, select
from sqlmodel import Session

from evidence.catalogue.engine import Catalogue
from evidence.catalogue.recording import (
    Recorder,
    RowName,
    apply_changes,
    change_of,
    chunks,
    find_dependents,
    recorder_of,
    stored_rows,
)
from evidence.catalogue.snapshots import BY_NAME, Snapshot, table_of
from evidence.catalogue.tables import Change, ChangeSet
from evidence.errors import BadInput, CatalogueProblem, NotFound

_CHANGE, _CHANGE_SET = table_of(Change), table_of(ChangeSet)


@dataclass(frozen=True, slots=True)
class RowChange:
    """One row before and after; None where it was not there."""

    table: str
    row_id: int
    key: str
    operation: str  # add, edit, remove
    before: Snapshot | None
    after: Snapshot | None

    @property
    def columns(self) -> tuple[str, ...]:
        """The columns that differ."""
        before, after = self.before or {}, self.after or {}
        return tuple(name for name in {**before, **after} if before.get(name) != after.get(name))


@dataclass(frozen=True, slots=True)
class RowCount:
    """How many rows of a table a change set added, edited or removed."""

    table: str
    operation: str
    rows: int


@dataclass(frozen=True, slots=True)
class HistoryEntry:
    """One change set: an action of a person and the rows it changed, in order."""

    number: int
    at: datetime
    who: str
    action: str
    undoes: int | None
    undone_by: int | None
    counts: tuple[RowCount, ...]
    changes: tuple[RowChange, ...]  # empty where the rows were not asked for

    def __str__(self) -> str:
        return f"{self.number} ({self.action}, {self.who}, {self.at:%Y-%m-%d %H:%M} UTC)"


# Looking is no change that a person means to take back: weighing and telling only leave snapshots behind.
TRACES = frozenset({"appraisal", "use"})


def is_meant(entry: HistoryEntry) -> bool:
    """Whether a person meant a change, rather than leaving traces by looking."""
    return bool({count.table for count in entry.counts} - TRACES)


def list_changes(
    session: Session,
    limit: int | None = 50,
    *,
    table: str | None = None,
    key: str | None = None,
    with_rows: bool = True,
    before: int | None = None,
) -> tuple[HistoryEntry, ...]:
    """Change sets, newest first; with `table` or `key`, those that touched such a row; `before`: only earlier ones.

    Without `with_rows` only the counts of rows come: an import may have changed very many.
    """
    wanted = select(_CHANGE_SET).order_by(_CHANGE_SET.c.id.desc())
    if table is not None or key is not None:
        touched = _CHANGE.c.change_set_id == _CHANGE_SET.c.id
        if table is not None:
            if table not in BY_NAME:
                raise NotFound(f"there is no table {table!r}; there are {', '.join(BY_NAME)}")
            touched &= _CHANGE.c.table_name == table
        if key is not None:
            touched &= _CHANGE.c.row_key == key
        wanted = wanted.where(exists().where(touched))
    if before is not None:
        wanted = wanted.where(_CHANGE_SET.c.id < before)
    if limit is not None:
        wanted = wanted.limit(limit)
    return _entries(session, session.connection().execute(wanted).mappings().all(), with_rows)


def get_change(session: Session, number: int, *, with_rows: bool = True) -> HistoryEntry:
    """One change set. Raises `NotFound`."""
    wanted = select(_CHANGE_SET).where(_CHANGE_SET.c.id == number)
    rows = session.connection().execute(wanted).mappings().all() if abs(number) < 2**31 else []
    if not rows:
        raise NotFound(f"there is no change {number}", hint="`steelyard history` lists them.")
    return _entries(session, rows, with_rows)[0]


def _entries(session: Session, sets: Sequence[Any], with_rows: bool = True) -> tuple[HistoryEntry, ...]:
    connection = session.connection()
    rows: dict[int, list[RowChange]] = {row["id"]: [] for row in sets}
    counts: dict[int, list[RowCount]] = {row["id"]: [] for row in sets}
    undone: dict[int, int] = {}
    for part in chunks(list(rows)):
        kinds = (_CHANGE.c.change_set_id, _CHANGE.c.table_name, _CHANGE.c.operation)
        counting = select(*kinds, func.count()).where(_CHANGE.c.change_set_id.in_(part)).group_by(*kinds)
        for number, name, operation, count in connection.execute(counting.order_by(func.min(_CHANGE.c.id))):
            counts[number].append(RowCount(name, operation, count))
        found = select(_CHANGE).where(_CHANGE.c.change_set_id.in_(part)).order_by(_CHANGE.c.id)
        for row in connection.execute(found).mappings() if with_rows else ():
            rows[row["change_set_id"]].append(
                RowChange(
                    table=row["table_name"],
                    row_id=row["row_id"],
                    key=row["row_key"],
                    operation=row["operation"],
                    before=row["before"],
                    after=row["after"],
                )
            )
        undoing = select(_CHANGE_SET.c.id, _CHANGE_SET.c.undoes_id).where(_CHANGE_SET.c.undoes_id.in_(part))
        for number, undoes in connection.execute(undoing.order_by(_CHANGE_SET.c.id)):
            undone[undoes] = number
    return tuple(
        HistoryEntry(
            number=row["id"],
            at=row["at"],
            who=row["who"],
            action=row["action"],
            undoes=row["undoes_id"],
            undone_by=undone.get(row["id"]),
            counts=tuple(counts[row["id"]]),
            changes=tuple(rows[row["id"]]),
        )
        for row in sets
    )


def undo(catalogue: Catalogue, number: int, who: str) -> HistoryEntry:
    """Reverse a change set, as a new change set that can itself be undone.

    Raises `NotFound`, or `BadInput` naming the later changes that build on it.
    """
    with catalogue.changing(who, f"undo {number}") as session:
        entry = get_change(session, number)
        connection = session.connection()
        recorder = recorder_of(session)
        recorder.undoes_id = number
        recorder.action = f"undo {number}: {entry.action}"
        firsts, lasts = _ends(entry)
        _require_free(connection, entry, firsts, lasts)
        _reverse(connection, recorder, entry, firsts, lasts)
        return get_change(session, recorder.change_set_id or 0)


def _ends(entry: HistoryEntry) -> tuple[dict[RowName, Snapshot | None], dict[RowName, Snapshot | None]]:
    """Each row as it was before the change set, and as that left it."""
    firsts: dict[RowName, Snapshot | None] = {}
    lasts: dict[RowName, Snapshot | None] = {}
    for change in entry.changes:
        if change.table not in BY_NAME:
            raise CatalogueProblem(
                f"change {entry} concerns {change.table}, which this version does not know"
            )
        name = (change.table, change.row_id)
        firsts.setdefault(name, change.before)
        lasts[name] = change.after
    return firsts, lasts


def _require_free(
    connection: Connection,
    entry: HistoryEntry,
    firsts: dict[RowName, Snapshot | None],
    lasts: dict[RowName, Snapshot | None],
) -> None:
    """Refuse unless the rows are as the change set left them, and no row added later hangs on them."""
    later = _later_sets(connection, entry, set(lasts))
    if later:
        raise _refusal(entry, later)
    present = [name for name, after in lasts.items() if after is not None]
    found = find_dependents(connection, [name for name in present if firsts[name] is None])
    hanging = [name for name in found.names if name not in lasts]
    if hanging:
        raise _refusal(entry, _later_sets(connection, entry, set(hanging)), hanging)
    for table, ids in _ids_by_table(present).items():
        stored = stored_rows(connection, BY_NAME[table], ids)
        for row_id in ids:
            if not _agree(stored.get(row_id), lasts[table, row_id]):
                raise BadInput(
                    f"change {entry} cannot be undone: {table} {row_id} is not as the change left it",
                    hint="Run `steelyard check`.",
                )


def _ids_by_table(names: Iterable[RowName]) -> dict[str, list[int]]:
    grouped: dict[str, list[int]] = {}
    for table, row_id in names:
        grouped.setdefault(table, []).append(row_id)
    return grouped


def _agree(present: Snapshot | None, recorded: Snapshot | None) -> bool:
    """Equal in the columns that the history knew; later versions may have added some."""
    if present is None or recorded is None:
        return False
    return all(present.get(name) == value for name, value in recorded.items())


def _later_sets(connection: Connection, entry: HistoryEntry, rows: set[RowName]) -> list[tuple[int, str]]:
    """Later change sets that touched the rows, without those that were undone later, and their undoing."""
    touching: set[int] = set()
    for table, ids in _ids_by_table(rows).items():
        for part in chunks(sorted(ids)):
            found = select(_CHANGE.c.change_set_id).where(
                _CHANGE.c.change_set_id > entry.number,
                _CHANGE.c.table_name == table,
                _CHANGE.c.row_id.in_(part),
            )
            touching.update(connection.execute(found).scalars())
    sets = {
        row["id"]: row
        for row in connection.execute(select(_CHANGE_SET).where(_CHANGE_SET.c.id > entry.number)).mappings()
    }
    cancelled: set[int] = set()
    for number in sorted(
        sets, reverse=True
    ):  # the latest word first: an undoing that was itself undone is void
        undoes = sets[number]["undoes_id"]
        if number not in cancelled and undoes in sets:
            cancelled |= {number, undoes}
    return [(number, sets[number]["action"]) for number in sorted(touching - cancelled)]


def _refusal(entry: HistoryEntry, later: list[tuple[int, str]], hanging: Sequence[RowName] = ()) -> BadInput:
    if entry.undone_by is not None and [number for number, _ in later] == [entry.undone_by]:
        return BadInput(
            f"change {entry} was undone already, by change {entry.undone_by}",
            hint=f"`steelyard undo {entry.undone_by}` brings it back.",
        )
    named = ", ".join(f"{number} ({action})" for number, action in later[-5:])
    if not named:
        named = ", ".join(f"{table} {row_id}" for table, row_id in hanging[:5])
    return BadInput(
        f"change {entry} cannot be undone, because later ones build on it: {named}",
        hint="Undo those first, the latest first.",
    )


def _reverse(
    connection: Connection,
    recorder: Recorder,
    entry: HistoryEntry,
    firsts: dict[RowName, Snapshot | None],
    lasts: dict[RowName, Snapshot | None],
) -> None:
    """Bring every row back to what it was: removed rows first, parents before children; added ones last."""
    changes = _net_changes(entry, firsts, lasts)
    if not changes:
        raise BadInput(f"change {entry} has nothing to undo")
    recorded = []
    for (name, operation), group in groupby(
        changes, key=lambda change: (change.table, _back(change, firsts, lasts))
    ):
        table, rows = BY_NAME[name], []
        for change in group:
            before, after = lasts[name, change.row_id], firsts[name, change.row_id]
            rows.append(change_of(table, change.row_id, operation, before, after))
        _require_parents(connection, entry, table, rows)
        apply_changes(connection, table, operation, rows)
        recorded += rows
    recorder.record(connection, recorded)


def _back(
    change: RowChange, firsts: dict[RowName, Snapshot | None], lasts: dict[RowName, Snapshot | None]
) -> str:
    """What brings a row back."""
    name = (change.table, change.row_id)
    if firsts[name] is None:
        return "remove"
    return "add" if lasts[name] is None else "edit"


def _net_changes(
    entry: HistoryEntry, firsts: dict[RowName, Snapshot | None], lasts: dict[RowName, Snapshot | None]
) -> list[RowChange]:
    """One change per row, in the order in which undoing is safe."""
    last = {(change.table, change.row_id): change for change in entry.changes}
    changes = [change for name, change in last.items() if firsts[name] != lasts[name]]
    order = {name: place for place, name in enumerate(BY_NAME)}
    back = [c for c in changes if lasts[c.table, c.row_id] is None]
    edited = [
        c for c in changes if lasts[c.table, c.row_id] is not None and firsts[c.table, c.row_id] is not None
    ]
    away = [c for c in changes if firsts[c.table, c.row_id] is None]
    back.sort(key=lambda change: (order[change.table], change.row_id))
    away.sort(key=lambda change: (-order[change.table], change.row_id))
    # Rows put in the place of others (a study file loaded over an earlier one) hold the same keys: they leave first.
    # An edited row may point to what came or went, and then what comes back has to be there before.
    return [*back, *edited, *away] if edited else [*away, *back]


def _require_parents(
    connection: Connection, entry: HistoryEntry, table: Table, rows: Sequence[Mapping[str, Any]]
) -> None:
    """Refuse to bring back rows whose parents are no longer there, naming what removed those."""
    for link in table.foreign_keys:
        parents = {row["after"][link.parent.name] for row in rows if row["after"]} - {None}
        missing = parents - set(stored_rows(connection, link.column.table, parents))
        if missing:
            names = [(link.column.table.name, number) for number in sorted(missing)]
            raise _refusal(entry, _later_sets(connection, entry, set(names)), names)
