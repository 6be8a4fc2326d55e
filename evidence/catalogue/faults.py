"""The one place where the faults of a database become sentences for a person."""

import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError, StatementError

from evidence.catalogue.location import Location
from evidence.errors import (
    BadInput,
    CatalogueDamaged,
    CatalogueLocked,
    CatalogueProblem,
    NotFound,
    SteelyardError,
    StorageFull,
)

NOTHING_STORED = "Nothing of this change was stored."


@contextmanager
def told(location: Location, *, files: bool = False) -> Iterator[None]:
    """Turn every fault of the database layer raised inside into an error of the product.

    With `files`, faults of the file system too: only where the files in question are the catalogue's own.
    """
    try:
        yield
    except SteelyardError:
        raise
    except (SQLAlchemyError, sqlite3.Error) as fault:
        raise explain(fault, location) from fault
    except OSError as fault:
        if not files:
            raise
        raise explain_os(fault, str(location)) from fault
    except ValueError as fault:
        # How SQLAlchemy tells of a time that is none, stored by something else than this product.
        if "datetime string" in str(fault) or "isoformat string" in str(fault):
            raise CatalogueDamaged(
                f"a stored time cannot be read ({_first_line(fault)})",
                where=str(location),
                hint="Run `steelyard check`.",
            ) from fault
        raise
    except Exception as fault:
        if type(fault).__module__.split(".")[0] == "psycopg":
            raise explain(fault, location) from fault
        raise


def explain(fault: BaseException, location: Location) -> SteelyardError:
    """Say what a fault of the database layer means for the person at `location`."""
    origin = fault.orig if isinstance(fault, DBAPIError) and fault.orig is not None else fault
    where = str(location)
    if isinstance(origin, sqlite3.Error):
        return _explain_sqlite(origin, where)
    if isinstance(fault, StatementError) and not isinstance(fault, DBAPIError):
        return BadInput(f"a value cannot be stored: {_first_line(fault.orig or fault)}", where=where)
    if type(origin).__module__.split(".")[0] == "psycopg":
        return _explain_postgres(origin, where)
    return CatalogueProblem(f"the catalogue could not be used: {_first_line(origin)}", where=where)


def explain_os(fault: OSError, where: str) -> SteelyardError:
    """Say what a fault of the file system means."""
    reason = fault.strerror or str(fault)
    if isinstance(fault, FileNotFoundError):
        return NotFound(f"there is no such file or folder: {fault.filename}", where=where)
    return StorageFull(
        f"the disk refuses to be written to or read from ({reason})",
        where=where,
        hint=f"Free some space or choose another place with --catalogue. {NOTHING_STORED}",
    )


def _explain_sqlite(fault: sqlite3.Error, where: str) -> SteelyardError:
    name = getattr(fault, "sqlite_errorname", "") or ""
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return _locked(where)
    if name.startswith(("SQLITE_FULL", "SQLITE_IOERR")):
        return StorageFull(
            "the disk is full or cannot be written",
            where=where,
            hint=f"Free some space and try again. {NOTHING_STORED}",
        )
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM")):
        return StorageFull(
            "the catalogue, or the folder it lies in, may only be read",
            where=where,
            hint=f"Copy it to a folder of your own, or ask for permission to write. {NOTHING_STORED}",
        )
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
        return CatalogueDamaged(
            "the file is damaged or no catalogue",
            where=where,
            hint="Run `steelyard check`, or bring back a backup with `steelyard restore`.",
        )
    if name.startswith("SQLITE_CONSTRAINT"):
        return _broken_rule(str(fault), where)
    if name.startswith("SQLITE_TOOBIG"):
        return BadInput("a text is too long to be stored", where=where)
    if isinstance(fault, sqlite3.OperationalError) and str(fault).startswith(
        ("no such table", "no such column")
    ):
        return CatalogueDamaged(f"a part of the catalogue is missing ({fault})", where=where)
    return CatalogueProblem(f"the catalogue could not be used: {_first_line(fault)}", where=where)


def _explain_postgres(fault: BaseException, where: str) -> SteelyardError:
    state = getattr(fault, "sqlstate", None) or ""
    diagnosis = getattr(fault, "diag", None)
    if state in ("55P03", "57014", "40P01", "40001"):
        return _locked(where)
    if state.startswith("53"):
        return StorageFull(f"the server is out of space or connections: {_first_line(fault)}", where=where)
    if state.startswith("23"):
        rule = getattr(diagnosis, "constraint_name", None) or getattr(diagnosis, "column_name", None) or ""
        return _broken_rule(f"{_first_line(fault)} {rule}", where)
    if state.startswith("22"):
        return BadInput(f"a value cannot be stored: {_first_line(fault)}", where=where)
    if state == "3D000" or ("does not exist" in str(fault) and not state):
        return NotFound(
            "the server has no such database",
            where=where,
            hint="Have it made (`createdb NAME`), then run `steelyard init`.",
        )
    if state.startswith("28") or "authentication failed" in str(fault) or "no password" in str(fault):
        return CatalogueProblem("the server does not accept this user or password", where=where)
    if state == "42501":
        return CatalogueProblem("this user of the database may not do that", where=where)
    if state in ("42P01", "42703"):
        return CatalogueDamaged(f"a part of the catalogue is missing ({_first_line(fault)})", where=where)
    return CatalogueProblem(
        f"the server cannot be used: {_first_line(fault)}",
        where=where,
        hint="Check the address, and that the server runs.",
    )


def _locked(where: str) -> CatalogueLocked:
    return CatalogueLocked(
        "another program is writing to the catalogue",
        where=where,
        hint=f"Wait until it is done and try again. {NOTHING_STORED}",
    )


def _broken_rule(text: str, where: str) -> BadInput:
    """Name the table and column of a refused row from what the engine says of the constraint."""
    lowered = text.lower()
    columns = re.search(r"failed: (\w+)\.(\w+)", text)
    rule = re.search(r"\b(?P<kind>ck|uq|fk|ix|pk)_(?P<rest>\w+)", text)
    place = (
        f"{columns[1]}, {columns[2]}" if columns else rule["rest"] if rule else _first_line(Exception(text))
    )
    if "foreign key" in lowered:
        return BadInput(
            "a row names another one that is not in the catalogue, or that others still need",
            where=where,
            hint=NOTHING_STORED,
        )
    if "unique" in lowered or "duplicate key" in lowered:
        return BadInput(f"the catalogue holds this already ({place})", where=where, hint=NOTHING_STORED)
    if "not null" in lowered or "not-null" in lowered:
        return BadInput(f"a value is missing ({place})", where=where, hint=NOTHING_STORED)
    return BadInput(f"a value is not allowed ({place})", where=where, hint=NOTHING_STORED)


def _first_line(fault: BaseException) -> str:
    lines = str(fault).strip().splitlines()
    return lines[0] if lines else type(fault).__name__
