"""Versions of the schema: the first equals the models; older catalogues are brought up, newer refused."""

import sqlite3
from contextlib import closing

import pytest
from sqlalchemy import MetaData, inspect, text
from sqlmodel import SQLModel, select

from evidence.catalogue import create_catalogue, open_catalogue, queries, tables
from evidence.catalogue.backup import drop_tables
from evidence.catalogue.engine import make_engine
from evidence.catalogue.migrations import PACKAGED, VERSION_TABLE, Migrations
from evidence.errors import CatalogueNewer, SteelyardError, StorageFull

# Their tables and triggers are made by migrations 0003 to 0005 and hold nothing of their own.
TEXT_INDEX, WORKED_OUT, DIGESTS = "reference_text", "worked_out", "content_digest"
UPCOMING = f"{int(PACKAGED.newest) + 1:04}"
NEXT = '''
"""A version of the future: rebuilds `study` with a column more."""
import sqlalchemy as sa
from alembic import op

revision = "NEXT"
down_revision = "NEWEST"

def upgrade():
    rebuild = "always" if op.get_bind().dialect.name == "sqlite" else "auto"
    with op.batch_alter_table("study", recreate=rebuild) as batch:
        batch.add_column(sa.Column("country", sa.String(), nullable=False, server_default="not stated"))
'''
NEXT = NEXT.replace("NEXT", UPCOMING).replace("NEWEST", PACKAGED.newest)
FAILING = NEXT + "\n    raise RuntimeError('half way')\n"


@pytest.fixture
def future(tmp_path):
    """Migrations with a version more."""

    def build(script):
        folder = tmp_path / "migrations"
        (folder / "versions").mkdir(parents=True)
        for step in (PACKAGED.folder / "versions").glob("*.py"):
            (folder / "versions" / step.name).write_text(step.read_text())
        (folder / "versions" / f"{UPCOMING}_next.py").write_text(script)
        return Migrations(folder=folder, versions=(*PACKAGED.versions, UPCOMING))

    return build


def test_the_known_versions_are_those_in_the_folder():
    from alembic.script import ScriptDirectory

    script = ScriptDirectory(str(PACKAGED.folder))
    assert script.get_heads() == [PACKAGED.newest]
    assert [step.revision for step in reversed(list(script.walk_revisions()))] == list(PACKAGED.versions)


def describe(engine):
    """Everything the database knows of its tables, in a form that can be compared."""
    found = inspect(engine)

    def sort(items):
        return sorted(
            ({**item, "type": str(item.get("type"))} for item in items), key=lambda i: str(i["name"])
        )

    return {
        name: {
            "columns": [{**column, "type": repr(column["type"])} for column in found.get_columns(name)],
            "primary": found.get_pk_constraint(name),
            "unique": sort(found.get_unique_constraints(name)),
            "checks": sort(found.get_check_constraints(name)),
            "links": sort(found.get_foreign_keys(name)),
            "indexes": sort(found.get_indexes(name)),
        }
        for name in found.get_table_names()
        if name != VERSION_TABLE and not name.startswith((TEXT_INDEX, WORKED_OUT, DIGESTS))
    }


def test_the_migrated_schema_equals_the_models(own_place, engine):
    migrated = make_engine(own_place, "migrate")
    described = describe(migrated)
    assert set(described) == set(SQLModel.metadata.tables)
    assert all(item["name"] for parts in described.values() for item in parts["checks"] + parts["links"])
    statements = sqlite_statements(own_place) if engine == "sqlite" else None
    with migrated.begin() as connection:
        if engine == "postgresql":
            drop_tables(connection)
        else:
            SQLModel.metadata.drop_all(connection)
        SQLModel.metadata.create_all(connection)
    assert describe(migrated) == described
    if engine == "sqlite":  # down to AUTOINCREMENT, which no inspection shows
        assert sqlite_statements(own_place) == statements
    migrated.dispose()


def sqlite_statements(own_place):
    """The statements that make each table; parts in any order (constraints may be listed in another one)."""
    with closing(sqlite3.connect(own_place.path)) as connection:
        rows = connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
    return {
        name: sorted(parts_of(sql))
        for name, sql in rows
        if name != VERSION_TABLE and not name.startswith((TEXT_INDEX, WORKED_OUT, DIGESTS))
    }


def parts_of(statement):
    """What stands between the commas of the outer bracket; a column added later stands on another's line."""
    inner, depth, parts = statement.partition("(")[2].rpartition(")")[0], 0, [""]
    for character in inner.replace('"', ""):
        depth += (character == "(") - (character == ")")
        if character == "," and depth == 0:
            parts.append("")
        else:
            parts[-1] += character
    return [" ".join(part.split()) for part in (*parts, statement.rpartition(")")[2])]


def test_an_older_catalogue_is_copied_and_migrated(own_place, engine, clock, fill, future):
    with open_catalogue(own_place, now=clock) as catalogue, catalogue.changing("Ada", "x") as session:
        fill(session)
    with open_catalogue(own_place, now=clock, migrations=future(NEXT)) as catalogue:
        with catalogue.reading() as session:
            assert session.execute(text("SELECT country FROM study")).scalars().all() == ["not stated"]
            rows = queries.study_rows(session, queries.study_by_key(session, "nord-2020"))
            assert (len(rows.people), len(rows.results), len(rows.correlations)) == (1, 3, 1)
        with catalogue.changing("Ada", "y") as session:  # links still lead to the rebuilt table
            session.delete(session.exec(select(tables.Study)).one())
        with catalogue.reading() as session:
            assert session.exec(select(tables.Result)).all() == []
    if engine == "sqlite":
        (copy,) = own_place.path.parent.glob(f"catalogue.sqlite.before-{UPCOMING}-*")
        with closing(sqlite3.connect(copy)) as connection:
            assert connection.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchall() == [
                (PACKAGED.newest,)
            ]
            assert connection.execute("SELECT count(*) FROM result").fetchall() == [(3,)]
    else:
        beside = make_engine(own_place, "read")
        (schema,) = [
            n for n in inspect(beside).get_schema_names() if n.startswith(f"steelyard_before_{UPCOMING}_")
        ]
        with beside.connect() as connection:
            assert connection.execute(text(f"SELECT count(*) FROM {schema}.result")).scalar() == 3
        beside.dispose()


def test_a_migration_that_fails_leaves_the_catalogue_as_it_was(own_place, clock, fill, future):
    with open_catalogue(own_place, now=clock) as catalogue, catalogue.changing("Ada", "x") as session:
        fill(session)
    with pytest.raises(RuntimeError, match="half way"):
        open_catalogue(own_place, now=clock, migrations=future(FAILING))
    with open_catalogue(own_place) as catalogue, catalogue.reading() as session:
        assert len(session.exec(select(tables.Result)).all()) == 3


def test_a_newer_catalogue_is_refused_and_left_alone(free_place, future):
    create_catalogue(free_place, migrations=future(NEXT)).close()
    with pytest.raises(CatalogueNewer, match=f"schema {UPCOMING}, this one knows {PACKAGED.newest}"):
        open_catalogue(free_place)
    open_catalogue(free_place, migrations=Migrations(PACKAGED.folder, (*PACKAGED.versions, UPCOMING))).close()


def test_triggers_survive_the_rebuilding_of_their_table(tmp_path, free_place, engine, future):
    create_catalogue(free_place).close()
    if engine == "sqlite":
        with closing(sqlite3.connect(free_place.path)) as connection:
            connection.execute(
                "CREATE TRIGGER watch AFTER INSERT ON study BEGIN SELECT raise(ABORT, 'watched'); END"
            )
    open_catalogue(free_place, migrations=future(NEXT)).close()
    if engine == "sqlite":
        with closing(sqlite3.connect(free_place.path)) as connection:
            found = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        assert ("watch",) in found
        assert sum(name.startswith(TEXT_INDEX) for (name,) in found) == 3
        assert sum(name.startswith(WORKED_OUT) for (name,) in found) == 2


def test_two_programs_that_open_an_older_catalogue_migrate_it_once(own_place, future):
    import threading

    migrations, faults = future(NEXT), []

    def open_it():
        try:
            open_catalogue(own_place, migrations=migrations, busy_seconds=30).close()
        except (SteelyardError, StorageFull) as fault:
            faults.append(fault)

    threads = [threading.Thread(target=open_it) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    open_catalogue(own_place, migrations=migrations).close()


def test_no_table_of_the_models_is_left_out_of_history_and_exchange():
    from evidence.catalogue.snapshots import BY_NAME

    metadata: MetaData = SQLModel.metadata
    assert set(BY_NAME) == set(metadata.tables) - {"change", "change_set"}
    names = list(BY_NAME)
    for table in BY_NAME.values():  # parents come before their children
        for link in table.foreign_keys:
            assert names.index(link.column.table.name) < names.index(table.name)


def test_uses_of_the_first_version_are_kept_and_may_then_tell_of_a_reference(free_place, engine, clock, fill):
    first = Migrations(PACKAGED.folder, ("0001",))
    create_catalogue(free_place, migrations=first).close()
    beside = make_engine(free_place, "migrate")
    with beside.begin() as connection:
        connection.execute(
            text(
                "INSERT INTO claim (id, key, kind, statement, exercise_details, comparator_details, construct_id, "
                "direction, added_at, added_by) VALUES (7, 'a', 'comparison', 'A', '{}', '{}', 'activation', "
                "'more', '2026-01-01 00:00:00+00:00', 'Ada')"
            )
        )
        connection.execute(
            text(
                "INSERT INTO use (id, kind, name, claim_id, told, catalogue_hash, at) VALUES "
                "(5, 'brief', 'a', 7, 'as it was', 'x', '2026-01-01 00:00:00+00:00')"
            )
        )
    beside.dispose()
    with open_catalogue(free_place, now=clock) as catalogue:
        with catalogue.reading() as session:
            (use,) = session.exec(select(tables.Use)).all()
            assert (use.id, use.claim_id, use.told, use.place, use.body) == (5, 7, "as it was", "", {})
            assert session.exec(select(tables.Claim)).one().terms == {}
        with catalogue.changing("Ada", "y") as session:
            new = tables.Use(kind="list", name="b", catalogue_hash="x", at=clock())
            session.add(new)
            session.flush()
            assert new.id is not None and new.id > 5
