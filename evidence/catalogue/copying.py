"""Copying all rows of a catalogue into another database, of either engine, numbers and history included."""

from sqlalchemy import Connection, func, insert, select, text
from sqlmodel import SQLModel

from evidence.catalogue.snapshots import TABLES, table_of
from evidence.catalogue.tables import Change, ChangeSet

_CHANGE, _CHANGE_SET = table_of(Change), table_of(ChangeSet)


def copy_rows(source: Connection, target: Connection) -> dict[str, int]:
    """Copy every row of every table into empty tables. Gives the number of rows per table."""
    counts: dict[str, int] = {}
    for table in SQLModel.metadata.sorted_tables:
        counts[table.name] = 0
        rows = source.execution_options(yield_per=500).execute(select(table).order_by(table.c.id)).mappings()
        for part in rows.partitions():
            target.execute(insert(table), [dict(row) for row in part])
            counts[table.name] += len(part)
    reserve_numbers(target)
    return counts


def reserve_numbers(connection: Connection) -> None:
    """Go on numbering after the highest number that any row has or had: numbers are never used again."""
    for table in [*TABLES, _CHANGE_SET, _CHANGE]:
        highest = connection.execute(select(func.max(table.c.id))).scalar() or 0
        former = connection.execute(
            select(func.max(_CHANGE.c.row_id)).where(_CHANGE.c.table_name == table.name)
        ).scalar()
        highest = max(highest, former or 0)
        if highest == 0:
            continue
        if connection.dialect.name == "sqlite":
            connection.execute(text("DELETE FROM sqlite_sequence WHERE name = :name"), {"name": table.name})
            connection.execute(
                text("INSERT INTO sqlite_sequence (name, seq) VALUES (:name, :seq)"),
                {"name": table.name, "seq": highest},
            )
        else:
            quoted = connection.dialect.identifier_preparer.format_table(table)
            connection.execute(
                text("SELECT setval(pg_get_serial_sequence(:name, 'id'), :seq)"),
                {"name": quoted, "seq": highest},
            )
