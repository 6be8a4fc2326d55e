"""Backups are whole files that were read through; restoring keeps what it replaces."""

import os
import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import inspect, text
from sqlmodel import select

from evidence.catalogue import Location, create_catalogue, open_catalogue, queries, tables
from evidence.catalogue.backup import backup, restore
from evidence.catalogue.engine import make_engine
from evidence.catalogue.history import list_changes, undo
from evidence.catalogue.integrity import check
from evidence.catalogue.state import catalogue_state
from evidence.errors import BadInput, CatalogueDamaged, CatalogueLocked, CatalogueProblem, NotFound


def state(place):
    with open_catalogue(place) as catalogue, catalogue.reading() as session:
        return catalogue_state(session), list_changes(session, None)


@pytest.fixture
def filled(catalogue, fill):
    with catalogue.changing("Ada", "load") as session:
        fill(session, "a")
    with catalogue.changing("Ada", "load") as session:
        fill(session, "b")
        session.delete(queries.study_by_key(session, "a"))
    return catalogue


def test_a_backup_is_one_file_that_opens_as_a_catalogue(filled, tmp_path):
    target = backup(filled, tmp_path / "new" / "copy.sqlite")
    assert os.listdir(target.parent) == ["copy.sqlite"]
    assert state(Location(path=target)) == state(filled.location)
    with open_catalogue(Location(path=target)) as copy:
        assert check(copy) == ()


def test_numbers_go_on_in_a_copy_after_all_that_ever_were(filled, fill, tmp_path):
    target = backup(filled, tmp_path / "copy.sqlite")
    with open_catalogue(Location(path=target)) as copy:
        with copy.changing("Ada", "load") as session:
            assert fill(session, "c").id == 3
        undo(copy, 2, "Ada")
        with copy.reading() as session:
            assert [study.key for study in queries.list_studies(session)] == ["a", "c"]


def test_a_backup_never_replaces_a_file_unasked(filled, tmp_path):
    target = tmp_path / "copy.sqlite"
    target.write_text("mine")
    with pytest.raises(BadInput, match="already"):
        backup(filled, target)
    assert target.read_text() == "mine"
    backup(filled, target, replace=True)
    assert state(Location(path=target)) == state(filled.location)
    with pytest.raises(BadInput, match="folder"):
        backup(filled, tmp_path)
    if filled.location.path:
        with pytest.raises(BadInput, match="itself"):
            backup(filled, filled.location.path, replace=True)
    assert not list(tmp_path.glob(".*unfinished"))


def test_a_damaged_catalogue_is_not_backed_up_as_if_it_were_whole(filled, engine, tmp_path):
    if engine == "postgresql":
        return  # its files are the server's own
    filled.close()
    with closing(sqlite3.connect(filled.location.path)) as connection:
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.execute("DELETE FROM study")
        connection.commit()
    with pytest.raises(CatalogueDamaged, match="not there"):
        backup(filled, tmp_path / "copy.sqlite")
    assert not (tmp_path / "copy.sqlite").exists()


def test_a_backup_comes_back_where_there_was_nothing(filled, free_place, tmp_path):
    target = backup(filled, tmp_path / "copy.sqlite")
    assert restore(target, free_place).kept is None
    assert state(free_place) == state(filled.location)
    with open_catalogue(free_place) as catalogue:
        assert check(catalogue) == ()


def test_a_backup_comes_back_and_what_it_replaces_is_kept(filled, engine, fill, tmp_path, clock):
    target = backup(filled, tmp_path / "copy.sqlite")
    before = state(filled.location)
    with filled.changing("Bo", "load") as session:
        fill(session, "later")
    later = state(filled.location)
    kept = restore(target, filled.location, now=clock).kept
    assert state(filled.location) == before
    if engine == "sqlite":
        assert state(Location(path=Path(kept))) == later
    else:
        looking = make_engine(filled.location, "read")
        (schema,) = [name for name in inspect(looking).get_schema_names() if "before_restore" in name]
        assert schema in kept
        with looking.connect() as connection:
            keys = connection.execute(text(f"SELECT key FROM {schema}.study ORDER BY key")).scalars().all()
        looking.dispose()
        assert keys == ["b", "later"]
    with filled.changing(
        "Ada", "load"
    ) as session:  # a program that has it open goes on with the new contents
        fill(session, "afterwards")
    with open_catalogue(filled.location) as again:
        assert check(again) == ()


def test_restoring_twice_in_one_second_keeps_both(filled, tmp_path):
    target = backup(filled, tmp_path / "copy.sqlite")
    at = filled.now()
    kept = [restore(target, filled.location, now=lambda: at).kept for _ in range(2)]
    assert len(set(kept)) == 2


def test_a_backup_of_either_engine_comes_back_on_the_other(filled, other_place, tmp_path):
    target = backup(filled, tmp_path / "copy.sqlite")
    with create_catalogue(Location(path=tmp_path / "file.sqlite")) as file:
        pass
    restore(target, file.location)
    back = backup(file, tmp_path / "again.sqlite")
    restore(back, other_place)
    assert state(other_place) == state(filled.location)


def test_what_is_no_backup_changes_nothing(filled, tmp_path):
    before = state(filled.location)
    target = backup(filled, tmp_path / "copy.sqlite")
    data = target.read_bytes()
    for name, content in {
        "text": b"hello",
        "empty": b"",
        "cut": data[: len(data) // 2],
        "header": data[:100],
        "scrambled": data[:8192] + b"\xff" * 4096 + data[12288:],
    }.items():
        (tmp_path / name).write_bytes(content)
        with pytest.raises(CatalogueDamaged):
            restore(tmp_path / name, filled.location)
    with pytest.raises(NotFound):
        restore(tmp_path / "none", filled.location)
    if filled.location.path:
        with pytest.raises(BadInput, match="itself"):
            restore(filled.location.path, filled.location)
    assert state(filled.location) == before
    assert not [path for path in tmp_path.iterdir() if "before-restore" in path.name]


@pytest.mark.parametrize("damage", ["text", "cut", "scrambled"])
def test_a_damaged_catalogue_is_replaced_and_its_files_are_kept(tmp_path, study, damage):
    place = Location(path=tmp_path / "c.sqlite")
    with create_catalogue(place) as catalogue:
        with catalogue.changing("Ada", "x") as session:
            session.add(study("a"))
        target = backup(catalogue, tmp_path / "copy.sqlite")
    data = place.path.read_bytes()
    spoilt = {"text": b"hello", "cut": data[:5000], "scrambled": data[:4096] + b"\xff" * 4096 + data[8192:]}[
        damage
    ]
    place.path.write_bytes(spoilt)
    kept = restore(target, place).kept
    with open(kept, "rb") as file:
        assert file.read() == spoilt
    with open_catalogue(place) as catalogue, catalogue.reading() as session:
        assert session.exec(select(tables.Study.key)).all() == ["a"]


def test_what_is_written_while_a_backup_comes_back_is_not_lost(tmp_path, study, monkeypatch):
    """A change stored between the keeping of the old and the coming of the new stops the restore."""
    from evidence.catalogue import backup as room

    place = Location(path=tmp_path / "c.sqlite")
    with create_catalogue(place) as catalogue:
        target = backup(catalogue, tmp_path / "copy.sqlite")
        copy = room.copy_sqlite

        def copy_and_write(source, into, **options):
            copy(source, into, **options)
            if "before-restore" in into.name:
                with catalogue.changing("Bo", "meanwhile") as session:
                    session.add(study("meanwhile"))

        monkeypatch.setattr(room, "copy_sqlite", copy_and_write)
        with pytest.raises(CatalogueLocked, match="meanwhile"):
            restore(target, place)
        with catalogue.reading() as session:
            assert session.exec(select(tables.Study.key)).all() == ["meanwhile"]
        assert check(catalogue) == ()


def test_restoring_waits_for_a_writer_and_is_then_told(filled, tmp_path):
    target = backup(filled, tmp_path / "copy.sqlite")
    with filled.changing("Ada", "long"), pytest.raises(CatalogueLocked):
        restore(target, filled.location, busy_seconds=0.2)


def test_a_backup_is_one_moment_of_a_catalogue_that_is_being_written(catalogue, study, tmp_path):
    stop = threading.Event()

    def write():
        number = 0
        while not stop.is_set():
            with catalogue.changing("Ada", "pair") as session:
                session.add_all([study(f"{number}-one"), study(f"{number}-two")])
            number += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        targets = [backup(catalogue, tmp_path / f"copy-{number}.sqlite") for number in range(3)]
    finally:
        stop.set()
        writer.join()
    for target in targets:
        with open_catalogue(Location(path=target)) as copy:
            assert check(copy) == ()
            with copy.reading() as session:
                assert len(queries.list_studies(session)) % 2 == 0


def test_a_backup_of_nothing_is_told(tmp_path):
    place = Location(path=tmp_path / "c.sqlite")
    with create_catalogue(place) as catalogue:
        place.path.unlink()
        with pytest.raises(CatalogueProblem):
            backup(catalogue, tmp_path / "copy.sqlite")
    assert list(tmp_path.iterdir()) == []
