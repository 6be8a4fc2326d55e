"""The history of an exported catalogue, and the row numbers by which it speaks of the rows."""

import json
from collections.abc import Iterator
from datetime import datetime
from io import StringIO
from typing import Any

from sqlalchemy import Connection, insert

from evidence.catalogue.exchange.layout import CHANGES, ROWS
from evidence.catalogue.guard import require_storable
from evidence.catalogue.recording import CHUNK
from evidence.catalogue.snapshots import BY_NAME, table_of
from evidence.catalogue.tables import Change, ChangeSet
from evidence.errors import BadInput

_CHANGE, _CHANGE_SET = table_of(Change), table_of(ChangeSet)
Path = tuple[str | int, ...]


def read_rows(content: str, file: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """The objects of a JSON-lines file with their lines. Raises `BadInput`."""
    if content and not content.endswith("\n"):
        raise BadInput("the file was cut short", where=f"{file}:{content.count(chr(10)) + 1}")
    for line, row in enumerate(StringIO(content, newline="\n"), start=1):
        try:
            value = json.loads(row)
        except (ValueError, RecursionError) as fault:
            raise BadInput("the line is not JSON", where=f"{file}:{line}") from fault
        if not isinstance(value, dict):
            raise BadInput("the line is no object", where=f"{file}:{line}")
        yield line, value


class Numbers:
    """The number of each row: as the history knows it, or the next free one where there is no history."""

    def __init__(self, content: str, *, strict: bool) -> None:
        self.known: dict[tuple[str, Path], tuple[int, int]] = {}
        self.strict = strict
        self.next = dict.fromkeys(BY_NAME, 1)
        taken: set[tuple[str, int]] = set()
        for line, row in read_rows(content, ROWS):
            table, number, path = row.get("table"), row.get("row"), row.get("of")
            if table not in BY_NAME or type(number) is not int or number < 1 or not isinstance(path, list):
                raise BadInput("the line does not number a row", where=f"{ROWS}:{line}")
            if any(type(name) not in (str, int) for name in path):
                raise BadInput("the line does not name a row", where=f"{ROWS}:{line}")
            if (table, number) in taken or (table, tuple(path)) in self.known:
                raise BadInput("the row was numbered before", where=f"{ROWS}:{line}")
            taken.add((table, number))
            self.known[table, tuple(path)] = (number, line)

    def take(self, table: str, path: Path, where: str) -> int:
        """The number of the row with this path. Raises `BadInput` where the history does not know it."""
        if not self.strict:
            self.next[table] += 1
            return self.next[table] - 1
        if (table, path) not in self.known:
            raise BadInput(f"the history does not number this {table}", where=where)
        return self.known.pop((table, path))[0]

    def require_all_used(self) -> None:
        """Raise `BadInput` for a row that the history numbers and that was in no file."""
        for (table, path), (_, line) in self.known.items():
            raise BadInput(f"no file holds this row of {table}: {path}", where=f"{ROWS}:{line}")


def read_history(connection: Connection, content: str) -> int:
    """Store the change sets as they were. Gives their number. Raises `BadInput` with the line."""
    sets: list[dict[str, Any]] = []
    changes: list[dict[str, Any]] = []
    known: set[int] = set()
    number = 0
    for line, row in read_rows(content, CHANGES):
        where = f"{CHANGES}:{line}"
        if "set" in row:
            change_set = _change_set(row, known, where)
            number = change_set["id"]
            known.add(number)
            sets.append(change_set)
        elif not known:
            raise BadInput("the line belongs to no change", where=where)
        else:
            changes.append(_change(row, number, where))
        if len(sets) + len(changes) >= CHUNK:
            _store(connection, sets, changes)
    _store(connection, sets, changes)
    return len(known)


def _store(connection: Connection, sets: list[dict[str, Any]], changes: list[dict[str, Any]]) -> None:
    """Store what has been read so far, and empty both lists: a long history is never held whole."""
    for table, rows in ((_CHANGE_SET, sets), (_CHANGE, changes)):
        if rows:
            connection.execute(insert(table), rows)
            rows.clear()


def _change_set(row: dict[str, Any], known: set[int], where: str) -> dict[str, Any]:
    try:
        number, undoes = row["set"], row["undoes"]
        values = {"at": datetime.fromisoformat(row["at"]), "who": row["who"], "action": row["action"]}
    except (KeyError, TypeError, ValueError) as fault:
        raise BadInput("the line does not describe a change", where=where) from fault
    if type(number) is not int or number in known or (undoes is not None and undoes not in known):
        raise BadInput("the changes are not in their order", where=where)
    return _checked(_CHANGE_SET, {**values, "undoes_id": undoes, "id": number}, where)


def _change(row: dict[str, Any], change_set: int, where: str) -> dict[str, Any]:
    if set(row) != {"table", "row", "key", "operation", "before", "after"} or row["table"] not in BY_NAME:
        raise BadInput("the line does not describe the change of a row", where=where)
    values = {
        "change_set_id": change_set,
        "table_name": row["table"],
        "row_id": row["row"],
        "row_key": row["key"],
        "operation": row["operation"],
        "before": row["before"],
        "after": row["after"],
    }
    return _checked(_CHANGE, values, where)


def _checked(table: Any, values: dict[str, Any], where: str) -> dict[str, Any]:
    try:
        require_storable(table, values)
    except BadInput as fault:
        raise BadInput(f"{fault.message} ({fault.where})", where=where) from fault
    return values
