"""Making and opening a catalogue: what is at the place, is it ours, is it of this version."""

from pathlib import Path

from sqlalchemy import Connection, inspect, text

from evidence.catalogue.engine import BUSY_SECONDS, Catalogue, Clock, connect_sqlite, make_engine, utc_now
from evidence.catalogue.faults import told
from evidence.catalogue.files import copy_sqlite, move_into_place, name_beside, stamp, unfinished_beside
from evidence.catalogue.location import Location
from evidence.catalogue.migrations import PACKAGED, VERSION_TABLE, Migrations, migrate, read_version
from evidence.errors import BadInput, CatalogueDamaged, CatalogueNewer, CatalogueProblem, NotFound

_INIT_HINT = "Run `steelyard init` to start one, or name another with --catalogue."


def create_catalogue(
    location: Location,
    *,
    now: Clock = utc_now,
    busy_seconds: float = BUSY_SECONDS,
    migrations: Migrations = PACKAGED,
) -> Catalogue:
    """Make an empty catalogue: all of it or nothing. Folders are made as needed.

    Raises `BadInput` where there is something already, `StorageFull` where nothing can be written.
    """
    with told(location, files=True):
        if location.path is not None:
            _create_file(location.path, busy_seconds, migrations)
        else:
            _create_in_database(location, busy_seconds, migrations)
    return Catalogue(location, now=now, busy_seconds=busy_seconds)


def open_catalogue(
    location: Location,
    *,
    now: Clock = utc_now,
    busy_seconds: float = BUSY_SECONDS,
    migrations: Migrations = PACKAGED,
) -> Catalogue:
    """Open a catalogue; an older one is copied beside itself and brought to this version first.

    Raises `NotFound`, `CatalogueDamaged` (not a catalogue), `CatalogueNewer`, `CatalogueLocked`.
    """
    if location.path is not None:
        require_database_file(location.path)
    catalogue = Catalogue(location, now=now, busy_seconds=busy_seconds)
    with told(location):
        try:
            with catalogue.readers.connect() as connection:
                version = read_version(connection)
                foreign = version is None and bool(inspect(connection).get_table_names())
            if version is None:
                raise _not_ours(location, foreign)
            if version not in migrations.versions:
                raise CatalogueNewer(
                    f"the catalogue was written by a later version of Steelyard (schema {version}, "
                    f"this one knows {migrations.newest})",
                    where=str(location),
                    hint="Install the newest Steelyard. The catalogue was left as it is.",
                )
            if version != migrations.newest:
                _bring_up(catalogue, version, migrations)
        except BaseException:
            catalogue.close()
            raise
    return catalogue


def require_database_file(path: Path) -> None:
    """Raise unless there is a file at `path` that begins as an SQLite database does."""
    try:
        if path.is_dir():
            raise CatalogueDamaged("this is a folder, not a catalogue", where=str(path), hint=_INIT_HINT)
        if not path.exists():
            raise NotFound("there is no catalogue here", where=str(path), hint=_INIT_HINT)
        if not path.is_file():
            raise CatalogueDamaged("this is no ordinary file", where=str(path), hint=_INIT_HINT)
        with path.open("rb") as file:
            start = file.read(16)
    except PermissionError as fault:
        raise CatalogueProblem("you may not read this file", where=str(path)) from fault
    except OSError as fault:
        reason = fault.strerror or str(fault)
        raise BadInput(f"no catalogue can have this name ({reason})", where=str(path)) from fault
    if not start:
        raise CatalogueDamaged(
            "the file is empty: nothing of a catalogue is in it",
            where=str(path),
            hint="Bring a backup back with `steelyard restore`, or delete the file and run `steelyard init`.",
        )
    if start != b"SQLite format 3\x00":
        raise CatalogueDamaged(
            "the file is not a catalogue (it is no database at all)",
            where=str(path),
            hint="Name the catalogue with --catalogue; other files are read with `refs add` or `study load`.",
        )


def _not_ours(location: Location, foreign: bool) -> CatalogueProblem | NotFound:
    if not location.is_file and not foreign:
        return NotFound("the database holds no catalogue yet", where=str(location), hint=_INIT_HINT)
    return CatalogueDamaged(
        "this is a database, but no catalogue of Steelyard", where=str(location), hint=_INIT_HINT
    )


def _create_file(path: Path, busy_seconds: float, migrations: Migrations) -> None:
    if path.exists() or path.is_symlink():
        what = "a folder" if path.is_dir() else "something"
        raise BadInput(
            f"there is {what} here already", where=str(path), hint="Use it as it is, or name another place."
        )
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = unfinished_beside(path)
    try:
        _fill(Location(path=unfinished), busy_seconds, migrations)
        move_into_place(unfinished, path, replace=False)
    finally:
        unfinished.unlink(missing_ok=True)
    connection = connect_sqlite(path, busy_seconds)
    try:
        connection.execute("PRAGMA journal_mode = WAL")  # kept in the file: readers and a writer side by side
    finally:
        connection.close()


def _create_in_database(location: Location, busy_seconds: float, migrations: Migrations) -> None:
    engine = make_engine(location, "read", busy_seconds)
    try:
        with engine.connect() as connection:
            _require_free(connection, location)
    finally:
        engine.dispose()
    _fill(location, busy_seconds, migrations)


def _require_free(connection: Connection, location: Location) -> None:
    encoding = connection.execute(text("SHOW server_encoding")).scalar()
    if encoding != "UTF8":
        raise CatalogueProblem(
            f"the database keeps text as {encoding}, a catalogue needs UTF8",
            where=str(location),
            hint="Have it made with `createdb --encoding=UTF8 --template=template0 NAME`.",
        )
    taken = set(inspect(connection).get_table_names())
    if VERSION_TABLE in taken:
        raise BadInput("the database holds a catalogue already", where=str(location))
    if taken:
        raise BadInput(
            f"the database holds tables of something else ({', '.join(sorted(taken)[:3])}, ...)",
            where=str(location),
            hint="Give the catalogue a database of its own.",
        )


def _fill(location: Location, busy_seconds: float, migrations: Migrations) -> None:
    engine = make_engine(location, "migrate", busy_seconds)
    try:
        with engine.begin() as connection:
            migrate(connection, migrations)
    finally:
        engine.dispose()


def _bring_up(catalogue: Catalogue, version: str, migrations: Migrations) -> None:
    """Copy the catalogue as it is beside itself, then migrate it in one transaction."""
    location = catalogue.location
    mark = f"before-{migrations.newest}-{stamp(catalogue.clock())}"
    engine = make_engine(location, "migrate", catalogue.busy_seconds)
    try:
        with engine.begin() as connection:
            if read_version(connection) != version:
                return  # another program has just done it
            if location.path is None:
                copy_schema(connection, mark)
            else:  # this transaction keeps writers away, and lets the copy read
                with told(location, files=True):
                    copy_sqlite(location.path, name_beside(location.path, mark))
            migrate(connection, migrations)
    finally:
        engine.dispose()


def copy_schema(connection: Connection, mark: str) -> str:
    """Copy every table of a PostgreSQL catalogue, as it is, into a schema of its own beside it."""
    schema = base = "steelyard_" + mark.replace("-", "_").lower()
    quote = connection.dialect.identifier_preparer.quote
    taken = set(inspect(connection).get_schema_names())
    number = 1
    while schema in taken:
        number += 1
        schema = f"{base}_{number}"
    connection.execute(text(f"CREATE SCHEMA {quote(schema)}"))
    for name in inspect(connection).get_table_names():
        connection.execute(text(f"CREATE TABLE {quote(schema)}.{quote(name)} AS TABLE {quote(name)}"))
    return schema
