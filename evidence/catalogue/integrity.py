"""Whether a catalogue is whole: the file, its links, its rules, its words, its history, and what was left undone."""

import sqlite3
from collections.abc import Collection, Iterator
from contextlib import closing
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from typing import Any, Literal

from sqlalchemy import CheckConstraint, Connection, Table, func, inspect, select, text
from sqlmodel import SQLModel

from evidence.catalogue.documents import WHOLES
from evidence.catalogue.engine import Catalogue, connect_sqlite
from evidence.catalogue.faults import told
from evidence.catalogue.files import UNFINISHED
from evidence.catalogue.guard import require_storable
from evidence.catalogue.recording import chunks, last_stamp, stored_rows
from evidence.catalogue.snapshots import BY_NAME, TABLES, label, table_of
from evidence.catalogue.tables import Change
from evidence.errors import BadInput, CatalogueDamaged

Severity = Literal["error", "warning", "note"]
_CHANGE = table_of(Change)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is not as it should be."""

    kind: str  # a short word that stays the same: "damaged", "unknown-word", ...
    severity: Severity
    message: str
    table: str | None = None
    key: str | None = None

    def __str__(self) -> str:
        place = " ".join(part for part in (self.table, self.key) if part)
        return f"{self.severity}: {place + ': ' if place else ''}{self.message}"


@dataclass(frozen=True, slots=True)
class VocabularyIds:
    """The ids that the vocabulary knows, without the catalogue's own; None: not checked."""

    exercises: Collection[str] | None = None
    regions: Collection[str] | None = None
    constructs: Collection[str] | None = None
    designs: Collection[str] | None = None
    training_statuses: Collection[str] | None = None


# Which columns hold ids of which list of the vocabulary.
_WORDS = {
    "exercises": (("condition", "exercise"), ("claim", "exercise"), ("claim", "comparator")),
    "regions": (("result", "region"), ("claim", "region")),
    "constructs": (("outcome", "construct_id"), ("claim", "construct_id"), ("claim", "surrogate")),
    "designs": (("study", "design"),),
    "training_statuses": (("people", "training_status"), ("claim", "training_status")),
}


def check(catalogue: Catalogue, vocabulary: VocabularyIds | None = None) -> tuple[Finding, ...]:
    """Look a catalogue through. Gives findings, the grave ones first; none: it is whole. Changes nothing.

    Raises `CatalogueProblem` only where the catalogue cannot be read at all.
    """
    findings = [*_check_file(catalogue), *_check_leftovers(catalogue)]
    if not any(finding.kind == "damaged" for finding in findings):
        with told(catalogue.location), catalogue.readers.connect() as connection:
            findings += _check_schema(connection)
            if not findings or all(finding.kind != "schema" for finding in findings):
                findings += _check_contents(connection, vocabulary or VocabularyIds())
                findings += _check_clock(connection, catalogue.clock())
    order = {"error": 0, "warning": 1, "note": 2}
    return tuple(sorted(findings, key=lambda finding: order[finding.severity]))


def _check_file(catalogue: Catalogue) -> Iterator[Finding]:
    path = catalogue.location.path
    if path is None:
        return
    try:
        with closing(connect_sqlite(path, catalogue.busy_seconds)) as connection:
            for row in connection.execute("PRAGMA integrity_check(20)"):
                if row[0] != "ok" and not _concerns_values(row[0]):
                    yield Finding("damaged", "error", f"the file is damaged: {row[0]}")
            for table, row_id, parent, _ in connection.execute("PRAGMA foreign_key_check").fetchmany(20):
                yield Finding("lost-link", "error", f"row {row_id} names a {parent} that is not there", table)
    except sqlite3.DatabaseError as fault:
        yield Finding("damaged", "error", f"the file is damaged: {fault}")


def _concerns_values(message: str) -> bool:
    """Whether a message of the engine is about a value, which is told with its row further on."""
    return message.startswith(("CHECK ", "NULL value", "TEXT value", "NUMERIC value"))


def _check_leftovers(catalogue: Catalogue) -> Iterator[Finding]:
    path = catalogue.location.path
    if path is not None:
        for left in sorted(path.parent.glob(f".*{UNFINISHED}")):
            message = f"something was interrupted and left {left.name}; when nothing runs, it may be deleted"
            yield Finding("unfinished", "note", message)


def _check_schema(connection: Connection) -> Iterator[Finding]:
    inspector = inspect(connection)
    present = set(inspector.get_table_names())
    for table in SQLModel.metadata.sorted_tables:
        if table.name not in present:
            yield Finding("schema", "error", "the table is missing", table.name)
            continue
        columns = {column["name"] for column in inspector.get_columns(table.name)}
        for name in [column.name for column in table.columns if column.name not in columns]:
            yield Finding("schema", "error", f"the column {name} is missing", table.name)


def _check_contents(connection: Connection, vocabulary: VocabularyIds) -> Iterator[Finding]:
    unreadable = list(_check_values(connection))
    yield from unreadable
    yield from _check_rules(connection)
    yield from _check_strays(connection)
    yield from _check_words(connection, vocabulary)
    yield from _check_places(connection)
    if not unreadable:
        yield from _check_history(connection)
    unread = BY_NAME["unread_entry"]
    waiting = select(unread.c.source, func.count()).group_by(unread.c.source).order_by(unread.c.source)
    for source, count in connection.execute(waiting):
        waits = "1 entry" if count == 1 else f"{count} entries"
        message = (
            f"{waits} of {source} could not be read and {'waits' if count == 1 else 'wait'} to be mended"
        )
        yield Finding("unread", "note", message, "unread_entry")


def _check_clock(connection: Connection, present: datetime) -> Iterator[Finding]:
    """A last change that lies ahead of the clock by more than time zones and a slow clock explain."""
    last = last_stamp(connection)
    if last is not None and last - present > timedelta(days=1):
        message = (
            f"the last change is dated {last.date()}, and the clock of this machine says {present.date()}; "
            "see which of the two is wrong. Changes keep their order either way"
        )
        yield Finding("clock", "warning", message, "change_set")


def _check_values(connection: Connection) -> Iterator[Finding]:
    """Values that the engine keeps but that could not be given back as what their column holds."""
    for table in TABLES:
        for part in chunks(connection.execute(select(table.c.id).order_by(table.c.id)).scalars().all()):
            try:
                rows = connection.execute(select(table).where(table.c.id.in_(part))).mappings().all()
            except (ValueError, TypeError, CatalogueDamaged):
                yield from _unreadable(connection, table, part)
                continue
            for row in rows:
                try:
                    require_storable(table, dict(row))
                except BadInput as fault:
                    yield Finding("value", "error", f"{fault.where}: {fault.message}", table.name, _name(row))


def _unreadable(connection: Connection, table: Table, ids: Any) -> Iterator[Finding]:
    for row_id in ids:
        try:
            connection.execute(select(table).where(table.c.id == row_id)).all()
        except (ValueError, TypeError, CatalogueDamaged) as fault:
            yield Finding("value", "error", f"row {row_id} cannot be read: {fault}", table.name)


def _name(row: Any) -> str:
    found = row.get("key") or row.get("id")
    return str(found)


def _check_rules(connection: Connection) -> Iterator[Finding]:
    for table in TABLES:
        for rule in table.constraints:
            if isinstance(rule, CheckConstraint):
                broken = select(table.c.id).where(text(f"NOT ({rule.sqltext})")).limit(20)
                for row_id in connection.execute(broken).scalars():
                    yield Finding("rule", "error", f"row {row_id} breaks the rule {rule.name}", table.name)


def _check_strays(connection: Connection) -> Iterator[Finding]:
    """Rows that name a row of another study or claim."""
    for whole in WHOLES:
        titles = {part.table.name for part in whole.parts}
        for part in whole.parts:
            for link in part.table.foreign_keys:
                if link.column.table.name not in titles:
                    continue
                target = link.column.table.alias()
                stray = (
                    select(part.table.c.id, whole.table.c.key)
                    .join(target, link.parent == target.c.id)
                    .join(whole.table, part.table.c[whole.owner] == whole.table.c.id)
                    .where(target.c[whole.owner] != part.table.c[whole.owner])
                )
                for row_id, key in connection.execute(stray):
                    what = f"row {row_id} names a {link.column.table.name} of another {whole.table.name}"
                    yield Finding("stray", "error", what, part.table.name, key)


def _check_words(connection: Connection, vocabulary: VocabularyIds) -> Iterator[Finding]:
    own, alias = BY_NAME["own_exercise"], BY_NAME["own_alias"]
    for field in fields(vocabulary):
        given = getattr(vocabulary, field.name)
        if given is None:
            continue
        known = set(given)
        if field.name == "exercises":
            known |= set(connection.execute(select(own.c.key)).scalars())
        if field.name == "training_statuses":
            known |= {"not stated"}
        used: list[tuple[str, Any, Any]] = [
            (name, BY_NAME[name].c[column], None) for name, column in _WORDS[field.name]
        ]
        if field.name in ("exercises", "regions"):
            used.append(("own_alias", alias.c.target, alias.c.kind == field.name.removesuffix("s")))
        for name, column, condition in used:
            statement = select(column).where(column.is_not(None)).distinct().order_by(column)
            for word in connection.execute(
                statement if condition is None else statement.where(condition)
            ).scalars():
                if word and word not in known:
                    message = (
                        f"{word!r} ({column.name}) is not in the vocabulary of {field.name.replace('_', ' ')}"
                    )
                    yield Finding("unknown-word", "warning", message, name)


def _check_places(connection: Connection) -> Iterator[Finding]:
    """Results that cannot be traced back to a place in the paper."""
    result, study = BY_NAME["result"], BY_NAME["study"]
    blank = (func.trim(result.c.locator) == "") | (func.trim(result.c.printed) == "")
    statement = select(study.c.key, result.c.key, result.c.locator).join(study).where(blank)
    for key, name, locator in connection.execute(statement.order_by(study.c.id, result.c.id)):
        what = "as printed" if locator.strip() else "with its place in the paper"
        yield Finding("untraceable", "warning", f"the result {name} is not recorded {what}", "result", key)


def _check_history(connection: Connection) -> Iterator[Finding]:
    """Rows that are not as their last recorded change left them: something wrote past the history."""
    for table in TABLES:
        last = (
            select(func.max(_CHANGE.c.id))
            .where(_CHANGE.c.table_name == table.name)
            .group_by(_CHANGE.c.row_id)
        )
        recorded: set[int] = set()
        for part in chunks(connection.execute(last).scalars().all()):
            ends = select(_CHANGE.c.row_id, _CHANGE.c.after).where(_CHANGE.c.id.in_(part))
            afters = {row[0]: row[1] for row in connection.execute(ends)}
            present = stored_rows(connection, table, afters)
            recorded |= set(afters)
            for row_id, after in sorted(afters.items()):
                if not _as_recorded(present.get(row_id), after):
                    named = label(table.name, present.get(row_id) or after or {})
                    message = f"row {row_id} is not as its last recorded change left it"
                    yield Finding("history", "warning", message, table.name, named)
        for row_id in connection.execute(select(table.c.id)).scalars():
            if row_id not in recorded:
                yield Finding("history", "warning", f"row {row_id} was added without a record", table.name)


def _as_recorded(present: dict[str, Any] | None, after: dict[str, Any] | None) -> bool:
    if present is None or after is None:
        return present is after
    return all(present.get(column) == value for column, value in after.items())
