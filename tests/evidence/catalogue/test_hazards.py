"""Killed programs, full disks, folders that may only be read: nothing is lost and nothing is half stored."""

import multiprocessing
import os
import random
import resource
import shutil
import signal
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import event
from sqlmodel import select

from evidence.catalogue import Location, create_catalogue, open_catalogue, queries, tables
from evidence.catalogue.backup import backup, restore
from evidence.catalogue.exchange import export_catalogue, import_catalogue
from evidence.catalogue.history import list_changes, undo
from evidence.catalogue.integrity import check
from evidence.catalogue.recording import add_rows
from evidence.catalogue.state import catalogue_state
from evidence.errors import CatalogueDamaged, NotFound, StorageFull

FORK = multiprocessing.get_context("fork")
ROUNDS = 10
STUDIES = 12


def kill_at_random(seed, action, *given):
    """Run `action` in ten processes, one after the other, and kill each at a random moment of its work."""
    chance = random.Random(seed)
    began = time.perf_counter()
    first = FORK.Process(target=action, args=given)
    first.start()
    first.join()
    assert first.exitcode == 0
    usual = time.perf_counter() - began
    yield
    for _ in range(ROUNDS):
        process = FORK.Process(target=action, args=given)
        process.start()
        time.sleep(chance.uniform(0, usual))
        process.kill()
        process.join()
        assert process.exitcode in (0, -signal.SIGKILL)
        yield


@pytest.fixture(scope="module")
def folder(tmp_path_factory, fillers):
    """An exported catalogue of some size."""
    place = tmp_path_factory.mktemp("source")
    fill, claim = fillers
    with create_catalogue(Location(path=place / "c.sqlite")) as catalogue:
        with catalogue.changing("Ada", "load") as session:
            for number in range(STUDIES):
                fill(session, f"study-{number}")
            session.add(claim())
        with catalogue.reading() as session:
            export_catalogue(session, place / "out")
    return place / "out"


def empty_it(place):
    """Undo the import: by hand, as its history came along."""
    with open_catalogue(place) as catalogue, catalogue.changing("Ada", "empty") as session:
        for model in (tables.Study, tables.Reference, tables.Claim):
            for row in session.exec(select(model)):
                session.delete(row)


def load_again(place, fill):
    """Remove in one change what the last round left, and load every study again in another."""
    empty_it(place)
    with open_catalogue(place) as catalogue, catalogue.changing("Ada", "load") as session:
        for number in range(STUDIES):
            fill(session, f"study-{number}")


def test_an_import_that_is_killed_stores_all_or_nothing(place, fillers):
    for _ in kill_at_random(1, load_again, place, fillers[0]):
        with open_catalogue(place) as catalogue:
            assert check(catalogue) == ()
            with catalogue.reading() as session:
                rows = queries.study_rows_of(session, queries.list_studies(session))
                changes = list_changes(session)
        assert len(rows) in (0, STUDIES)
        assert all(len(each.results) == 3 and len(each.correlations) == 1 for each in rows)
        assert len(changes) % 2 == (1 if rows else 0)


def import_into_new(folder, place):
    with open_catalogue(place) as catalogue:
        import_catalogue(folder, catalogue)


def test_reading_a_folder_that_is_killed_stores_all_or_nothing(empty_file, folder, tmp_path):
    place = Location(path=tmp_path / "c.sqlite")
    shutil.copy(empty_file, place.path)
    for _ in kill_at_random(2, import_into_new, folder, place):
        with open_catalogue(place) as catalogue:
            assert check(catalogue) == ()
            with catalogue.reading() as session:
                assert len(queries.list_studies(session)) in (0, STUDIES)
                assert len(queries.all_references(session)) in (0, STUDIES)
                assert len(list_changes(session)) in (0, 1)
        for path in tmp_path.iterdir():
            path.unlink()
        shutil.copy(empty_file, place.path)


def add_many(place):
    with open_catalogue(place) as catalogue, catalogue.changing("Ada", "refs add") as session:
        start = len(queries.all_references(session))
        rows = [
            {"key": f"r{start + n}", "title": "t" * 200, "added_at": catalogue.now()} for n in range(1500)
        ]
        add_rows(session, tables.Reference, rows)


def test_what_was_stored_before_survives_a_killed_writer(place):
    counts = []
    for _ in kill_at_random(3, add_many, place):
        with open_catalogue(place) as catalogue, catalogue.reading() as session:
            counts.append(queries.count_references(session))
            assert len(list_changes(session)) * 1500 == counts[-1]
    assert counts == sorted(counts)
    assert all(count % 1500 == 0 for count in counts)


def create_it(folder):
    create_catalogue(Location(path=folder / f"{time.monotonic_ns()}.sqlite")).close()


def test_a_catalogue_whose_making_is_killed_is_not_there(tmp_path):
    for _ in kill_at_random(4, create_it, tmp_path):
        for path in tmp_path.glob("*.sqlite"):
            with open_catalogue(Location(path=path)) as catalogue:
                assert [finding for finding in check(catalogue) if finding.kind != "unfinished"] == []


def restore_it(source, place):
    restore(source, place)


def test_a_restore_that_is_killed_leaves_the_old_or_the_new(tmp_path, fillers):
    place = Location(path=tmp_path / "c.sqlite")
    states = set()
    with create_catalogue(place) as catalogue:
        for key in ("a", "b"):
            with catalogue.changing("Ada", "load") as session:
                fillers[0](session, key)
            backup(catalogue, tmp_path / f"{key}.backup")
            with catalogue.reading() as session:
                states.add(catalogue_state(session))
    for number, _ in enumerate(kill_at_random(5, restore_it, tmp_path / "a.backup", place)):
        with open_catalogue(place) as catalogue:
            assert [finding for finding in check(catalogue) if finding.kind != "unfinished"] == []
            with catalogue.reading() as session:
                assert catalogue_state(session) in states
        restore(tmp_path / ("b.backup" if number % 2 else "a.backup"), place)


def export_it(place, folder):
    with open_catalogue(place) as catalogue, catalogue.reading() as session:
        export_catalogue(session, folder, replace=True)


def test_an_export_that_is_killed_leaves_a_whole_folder_or_none(folder, empty_file, tmp_path):
    place = Location(path=tmp_path / "c.sqlite")
    shutil.copy(empty_file, place.path)
    import_into_new(folder, place)
    (tmp_path / "to").mkdir()
    for _ in kill_at_random(6, export_it, place, tmp_path / "to" / "out"):
        if (tmp_path / "to" / "out").exists():
            shutil.copy(empty_file, tmp_path / "again.sqlite")
            import_into_new(tmp_path / "to" / "out", Location(path=tmp_path / "again.sqlite"))
            for path in tmp_path.glob("again*"):
                path.unlink()


@contextmanager
def disk_of(size):
    """No file may grow beyond `size` bytes: to a program this looks like a disk that is full."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.fixture
def file(tmp_path, fillers):
    """A catalogue in a file, with one study."""
    with create_catalogue(Location(path=tmp_path / "c.sqlite")) as catalogue:
        with catalogue.changing("Ada", "load") as session:
            fillers[0](session, "a")
        yield catalogue


def contents(catalogue):
    with catalogue.reading() as session:
        return catalogue_state(session), list_changes(session)


def write_much(catalogue, amount=3000):
    with catalogue.changing("Ada", "refs add") as session:
        rows = [{"key": f"r{n}", "title": "t" * 2000, "added_at": catalogue.now()} for n in range(amount)]
        add_rows(session, tables.Reference, rows)


def test_a_full_disk_is_told_and_nothing_of_the_change_is_stored(file):
    before = contents(file)
    for size in (100_000, 1_000_000):
        with disk_of(size), pytest.raises(StorageFull, match="disk"):
            write_much(file)
        assert contents(file) == before
        assert check(file) == ()
    write_much(file, 10)
    assert check(file) == ()


def test_a_catalogue_that_may_not_grow_is_told(file):
    def stop_growing(connection, entry):
        connection.execute("PRAGMA max_page_count = 1")  # that is: as many as there are

    event.listen(file.writers, "connect", stop_growing)
    before = contents(file)
    with pytest.raises(StorageFull, match="Nothing of this change was stored"):
        write_much(file)
    assert contents(file) == before


def test_a_full_disk_leaves_no_half_file_behind(file, tmp_path):
    target = backup(file, tmp_path / "good.backup")
    before, present = contents(file), sorted(os.listdir(tmp_path))
    with disk_of(20_000):
        with pytest.raises(StorageFull):
            create_catalogue(Location(path=tmp_path / "new.sqlite"))
        with pytest.raises(StorageFull):
            backup(file, tmp_path / "copy.sqlite")
        with pytest.raises(StorageFull):
            restore(target, file.location)
    with file.reading() as session:
        assert len(queries.list_studies(session)) == 1
        with disk_of(100), pytest.raises(StorageFull):
            export_catalogue(session, tmp_path / "out")
    assert sorted(os.listdir(tmp_path)) == present
    assert contents(file) == before


@contextmanager
def read_only(folder):
    """The folder may only be read; a superuser, who may do anything, steps down meanwhile."""
    folder.chmod(0o555)
    user = os.geteuid()
    if user == 0:
        os.seteuid(65534)
    try:
        yield
    finally:
        if user == 0:
            os.seteuid(0)
        folder.chmod(0o755)


@pytest.fixture
def shared():
    """A folder that other users may look into."""
    folder = Path(tempfile.mkdtemp(prefix="steelyard-test-"))
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


def test_a_folder_that_may_only_be_read_is_told(shared, file, tmp_path):
    with read_only(shared):
        with pytest.raises(StorageFull):
            create_catalogue(Location(path=shared / "c.sqlite"))
        with pytest.raises(StorageFull):
            create_catalogue(Location(path=shared / "new folder" / "c.sqlite"))
    assert list(shared.iterdir()) == []


def test_a_catalogue_in_a_folder_that_may_only_be_read_is_told(shared, study):
    place = Location(path=shared / "c.sqlite")
    with create_catalogue(place) as catalogue, catalogue.changing("Ada", "x") as session:
        session.add(study("a"))
    data = place.path.read_bytes()
    with read_only(shared), pytest.raises(StorageFull, match="may only be read"), open_catalogue(place):
        pass
    assert place.path.read_bytes() == data
    assert os.listdir(shared) == ["c.sqlite"]


def test_a_file_that_may_only_be_read_is_told(shared, study):
    place = Location(path=shared / "c.sqlite")
    create_catalogue(place).close()
    shared.chmod(0o777)
    place.path.chmod(0o444)
    user = os.geteuid()
    if user == 0:
        os.seteuid(65534)
    try:
        with open_catalogue(place) as catalogue:
            with catalogue.reading() as session:
                assert queries.list_studies(session) == []
            with (
                pytest.raises(StorageFull, match="may only be read"),
                catalogue.changing("Ada", "x") as session,
            ):
                session.add(study("a"))
    finally:
        if user == 0:
            os.seteuid(0)


def test_a_catalogue_that_goes_while_it_is_open_is_told(file, tmp_path):
    for path in tmp_path.glob("c.sqlite*"):
        path.unlink()
    with pytest.raises((StorageFull, NotFound, CatalogueDamaged)):
        write_much(file, 1)
    assert list(tmp_path.iterdir()) == []


def test_undoing_on_a_full_disk_changes_nothing(file):
    write_much(file, 300)
    before = contents(file)
    with disk_of(200_000), pytest.raises(StorageFull):
        undo(file, 2, "Ada")
    assert contents(file) == before
