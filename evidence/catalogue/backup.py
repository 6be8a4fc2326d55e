"""Copies of a catalogue, and the way back from one. A copy is always a single SQLite file, whatever the engine.

Either is done whole or not at all, and what a restored catalogue replaces is kept beside it.
"""

import os
import sqlite3
import tempfile
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, inspect, text
from sqlmodel import SQLModel

from evidence.catalogue.copying import copy_rows
from evidence.catalogue.engine import BUSY_SECONDS, Catalogue, Clock, connect_sqlite, make_engine, utc_now
from evidence.catalogue.faults import told
from evidence.catalogue.files import (
    ANOTHER_NAME,
    copy_sqlite,
    flush,
    move_into_place,
    name_beside,
    stamp,
    unfinished_beside,
    verify_sqlite,
)
from evidence.catalogue.location import Location
from evidence.catalogue.migrations import VERSION_TABLE, migrate, read_version
from evidence.catalogue.opening import copy_schema, open_catalogue, require_database_file
from evidence.errors import BadInput, CatalogueDamaged, CatalogueLocked

_PAGES = 16  # copied per step: fewer than any catalogue has, so that the first step is never the last


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did: where the catalogue that was there before is kept (None: there was none)."""

    location: Location
    kept: str | None


def backup(catalogue: Catalogue, target: Path, *, replace: bool = False) -> Path:
    """Copy one moment of a catalogue to a single SQLite file, and read the copy through.

    Raises `BadInput` where the target exists and not `replace`, `StorageFull`, `CatalogueDamaged`.
    """
    target = target.absolute()
    with told(Location(path=target), files=True):
        if target.is_dir():
            raise BadInput("this is a folder; name a file in it", where=str(target))
        if catalogue.location.path is not None and target == catalogue.location.path:
            raise BadInput("a catalogue is not copied onto itself", where=str(target))
        if target.exists() and not replace:
            raise BadInput("there is something here already.", where=str(target), hint=ANOTHER_NAME)
        target.parent.mkdir(parents=True, exist_ok=True)
        if catalogue.location.path is not None:
            copy_sqlite(catalogue.location.path, target, replace=replace)
        else:
            _copy_from_server(catalogue, target, replace)
    return target


def _copy_from_server(catalogue: Catalogue, target: Path, replace: bool) -> None:
    unfinished = unfinished_beside(target)
    engine = make_engine(Location(path=unfinished), "migrate")
    try:
        with told(catalogue.location), catalogue.readers.connect() as source, engine.begin() as copy:
            migrate(copy)
            copy_rows(source, copy)
        with closing(connect_sqlite(unfinished)) as connection:
            verify_sqlite(connection, target)
        move_into_place(unfinished, target, replace=replace)
    finally:
        engine.dispose()
        unfinished.unlink(missing_ok=True)


def restore(
    source: Path, location: Location, *, now: Clock = utc_now, busy_seconds: float = BUSY_SECONDS
) -> Restored:
    """Bring a backup back to `location`. What is there is kept beside it, under a name with the time.

    The backup is read through first; nothing is touched when it is not whole. It may be of an older version.
    Raises `NotFound`, `CatalogueDamaged`, `CatalogueNewer`, `CatalogueLocked`, `StorageFull`.
    """
    source = source.absolute()
    require_database_file(source)
    if location.path is not None and location.path.exists() and source.samefile(location.path):
        raise BadInput("a catalogue is not restored from itself", where=str(source))
    with tempfile.TemporaryDirectory(prefix="steelyard-") as folder:
        # A copy, brought to this version: the backup itself stays as it is.
        ready = Path(folder) / "ready.sqlite"
        with told(Location(path=source), files=True):
            copy_sqlite(source, ready)
            open_catalogue(Location(path=ready), now=now).close()
        mark = f"before-restore-{stamp(now())}"
        with told(location, files=True):
            if location.path is not None:
                kept = _restore_file(ready, location.path, mark, busy_seconds)
            else:
                kept = _restore_to_server(ready, location, mark, busy_seconds)
    return Restored(location, kept)


def _restore_file(ready: Path, path: Path, mark: str, busy_seconds: float) -> str | None:
    kept: Path | None = None
    if path.is_dir():
        raise BadInput("there is a folder here", where=str(path))
    if path.exists():
        kept = name_beside(path, mark)
        if _is_ours(path):
            _replace_contents(ready, path, kept, busy_seconds)
            return str(kept)
        for suffix in ("", "-wal", "-shm"):  # something else, or damaged: keep the files themselves
            if Path(f"{path}{suffix}").exists():
                os.rename(f"{path}{suffix}", f"{kept}{suffix}")
        flush(path.parent)
    path.parent.mkdir(parents=True, exist_ok=True)
    copy_sqlite(ready, path)
    with closing(connect_sqlite(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
    return str(kept) if kept else None


def _is_ours(path: Path) -> bool:
    """Whether there is a catalogue that can be read through; not so for what another program made."""
    try:
        require_database_file(path)
        with closing(connect_sqlite(path)) as connection:
            verify_sqlite(connection, path)
            named = "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = ?"
            if connection.execute(named, (VERSION_TABLE,)).fetchone() == (0,):
                return False
    except CatalogueDamaged:
        return False
    except sqlite3.DatabaseError as fault:
        if isinstance(fault, sqlite3.OperationalError):  # locked, unreadable: says nothing of the contents
            raise
        return False
    return True


def _replace_contents(ready: Path, path: Path, kept: Path, busy_seconds: float) -> None:
    """Put other contents into a live file in one transaction, after keeping the present ones.

    Programs that have the catalogue open go on with the new contents. Nothing that one of them stores after the
    copy was taken can be lost: the first step of the copying locks writers out, and is taken back if one came between.
    """
    with closing(connect_sqlite(path, busy_seconds)) as live:
        # A backup that was used as a catalogue has another journal, under which the watch below waits for the copying.
        live.execute("PRAGMA journal_mode = WAL")
    with (
        closing(connect_sqlite(ready)) as new,
        closing(connect_sqlite(path, busy_seconds)) as live,
        closing(connect_sqlite(path, busy_seconds)) as watch,
    ):
        seen = watch.execute("PRAGMA data_version").fetchone()
        copy_sqlite(path, kept)

        def check(status: int, remaining: int, total: int) -> None:
            if remaining + _PAGES >= total and watch.execute("PRAGMA data_version").fetchone() != seen:
                raise CatalogueLocked(
                    "another program wrote to the catalogue meanwhile",
                    where=str(path),
                    hint="Try again. The catalogue was left as it is.",
                )

        _wait_for_writers(live)
        new.backup(live, pages=_PAGES, progress=check)
        live.execute("PRAGMA journal_mode = WAL")


def _wait_for_writers(connection: sqlite3.Connection) -> None:
    """Raise if another program keeps writing for longer than the busy time: copying itself would wait for ever."""
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("ROLLBACK")


def _restore_to_server(ready: Path, location: Location, mark: str, busy_seconds: float) -> str | None:
    kept: str | None = None
    target, source = make_engine(location, "migrate", busy_seconds), make_engine(Location(path=ready), "read")
    try:
        with source.connect() as old, target.begin() as connection:
            if read_version(connection) is not None:
                kept = f"schema {copy_schema(connection, mark)} of the same database"
                drop_tables(connection)
            elif inspect(connection).get_table_names():
                raise BadInput("the database holds tables of something else", where=str(location))
            migrate(connection)
            copy_rows(old, connection)
    finally:
        target.dispose()
        source.dispose()
    return kept


def drop_tables(connection: Connection) -> None:
    """Empty a PostgreSQL database of a catalogue: what migrations 0003 to 0005 made beside the tables goes first."""
    made = (
        "keep_reference_text",
        "reference_words",
        "reference_names",
        "reference_part",
        "forget_worked_out",
    )
    for function in made:
        connection.execute(text(f"DROP FUNCTION IF EXISTS {function} CASCADE"))
    connection.execute(
        text("DROP TABLE IF EXISTS reference_text, worked_out, content_digest, content_digest_until")
    )
    SQLModel.metadata.drop_all(connection)
    connection.execute(text(f"DROP TABLE {VERSION_TABLE}"))
