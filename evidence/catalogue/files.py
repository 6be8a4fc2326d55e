"""Files that are written whole or not at all: beside their place, flushed to disk, then moved there."""

import os
import secrets
import sqlite3
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

from evidence.catalogue.engine import BUSY_SECONDS, connect_sqlite
from evidence.errors import BadInput, CatalogueDamaged

UNFINISHED = ".unfinished"
ANOTHER_NAME = "Name another file, or move that one away first."


def stamp(at: datetime) -> str:
    """A time as part of a file name."""
    return at.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")


def unfinished_beside(path: Path) -> Path:
    """A new empty file beside `path`, to be filled and moved there."""
    unfinished = _hidden_name(path)
    # Not mkstemp: the file becomes the catalogue, with the permissions that the user's files have.
    os.close(os.open(unfinished, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o666))
    return unfinished


def unfinished_folder_beside(path: Path) -> Path:
    """A new empty folder beside `path`, to be filled and moved there."""
    unfinished = _hidden_name(path)
    unfinished.mkdir()
    return unfinished


def _hidden_name(path: Path) -> Path:
    # The name is cut so that it is no longer than a file's name may be, where that of `path` is not.
    return path.with_name(f".{path.name[:100]}.{secrets.token_hex(6)}{UNFINISHED}")


def name_beside(path: Path, mark: str) -> Path:
    """A free name for a copy that is kept beside `path`."""
    name = path.with_name(f"{path.name}.{mark}")
    number = 1
    while name.exists():
        number += 1
        name = path.with_name(f"{path.name}.{mark}-{number}")
    return name


def move_into_place(unfinished: Path, path: Path, *, replace: bool) -> None:
    """Flush a finished file to disk and give it its name. Raises `BadInput` if that is taken."""
    flush(unfinished)
    if replace:
        os.replace(unfinished, path)
    else:
        try:
            os.link(unfinished, path)  # unlike a rename, refuses to replace a file that has come up meanwhile
        except FileExistsError as fault:
            raise BadInput("there is something here already.", where=str(path), hint=ANOTHER_NAME) from fault
        except OSError:  # a file system without hard links
            if path.exists():
                raise BadInput(
                    "there is something here already.", where=str(path), hint=ANOTHER_NAME
                ) from None
            os.rename(unfinished, path)
        else:
            unfinished.unlink()
    flush(path.parent)


def flush(path: Path) -> None:
    """Make sure that a file, or the names in a folder, are on the disk."""
    with suppress(PermissionError):  # folders cannot be opened on every system
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def copy_sqlite(source: Path, target: Path, *, replace: bool = False) -> None:
    """Copy a live SQLite catalogue, as one moment of it, to a single file, and read the copy through.

    Raises `CatalogueDamaged` when the copy fails its integrity check, `BadInput` when the target is taken.
    """
    if target.exists() and not replace:
        raise BadInput("there is something here already.", where=str(target), hint=ANOTHER_NAME)
    unfinished = unfinished_beside(target)
    try:
        with (
            closing(connect_sqlite(source, BUSY_SECONDS)) as old,
            closing(sqlite3.connect(unfinished)) as new,
        ):
            old.backup(new)
            new.execute("PRAGMA journal_mode = DELETE")  # one file, nothing beside it
            verify_sqlite(new, target)
        move_into_place(unfinished, target, replace=replace)
    finally:
        unfinished.unlink(missing_ok=True)


def verify_sqlite(connection: sqlite3.Connection, path: Path) -> None:
    """Raise `CatalogueDamaged` unless the file is whole and every link in it leads somewhere."""
    found = [row[0] for row in connection.execute("PRAGMA integrity_check(5)")]
    if found != ["ok"]:
        raise CatalogueDamaged(f"the catalogue is damaged ({found[0]})", where=str(path))
    broken = connection.execute("PRAGMA foreign_key_check").fetchone()
    if broken:
        raise CatalogueDamaged(f"rows of {broken[0]} name others that are not there", where=str(path))
