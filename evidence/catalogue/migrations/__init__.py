"""Versions of the schema, and the way from an older one: forward only, after a copy, all or nothing."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, inspect, text

from evidence.errors import CatalogueDamaged

if TYPE_CHECKING:
    from alembic.runtime.migration import MigrationContext

VERSION_TABLE = "catalogue_version"


@dataclass(frozen=True, slots=True)
class Migrations:
    """A folder of migrations and its versions, oldest first: opening a catalogue needs no Alembic."""

    folder: Path
    versions: tuple[str, ...]

    @property
    def newest(self) -> str:
        return self.versions[-1]


PACKAGED = Migrations(folder=Path(__file__).parent, versions=("0001", "0002", "0003", "0004", "0005"))


def read_version(connection: Connection) -> str | None:
    """The version of the schema in a database; None where there is no catalogue."""
    if not inspect(connection).has_table(VERSION_TABLE):
        return None
    found = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalars().all()
    return str(found[0]) if len(found) == 1 else None


def migrate(connection: Connection, migrations: Migrations = PACKAGED) -> None:
    """Bring the schema to the newest version inside the transaction of `connection`.

    On SQLite the connection must have foreign keys off since before the transaction began: rebuilding a
    table drops it, which would remove its children's rows.
    """
    from alembic.operations import Operations
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    script = ScriptDirectory(str(migrations.folder))

    def steps(revision: object, context: "MigrationContext") -> object:
        return script._upgrade_revs(migrations.newest, revision)  # type: ignore[arg-type]

    context = MigrationContext.configure(
        connection,
        opts={"fn": steps, "version_table": VERSION_TABLE, "render_as_batch": True},
    )
    triggers = _triggers(connection)
    with Operations.context(context):
        context.run_migrations()
    _restore_triggers(connection, triggers)
    if connection.dialect.name == "sqlite":
        broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
        if broken:
            raise CatalogueDamaged(
                f"{len(broken)} rows name others that are not there, first in the table {broken[0][0]}",
                hint="The catalogue was left as it was.",
            )


def _triggers(connection: Connection) -> dict[str, str]:
    if connection.dialect.name != "sqlite":
        return {}
    found = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
    return {row[0]: row[1] for row in found}


def _restore_triggers(connection: Connection, before: dict[str, str]) -> None:
    """Make again the triggers that went when SQLite rebuilt their table."""
    for name, statement in before.items():
        if name not in _triggers(connection):
            connection.exec_driver_sql(statement)
