"""A catalogue that may only be read, and a restore over what is no catalogue of ours."""

import os
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from evidence.catalogue import Catalogue, Location, create_catalogue, open_catalogue, tables
from evidence.catalogue import engine as engines
from evidence.catalogue.backup import backup, restore
from evidence.catalogue.queries import list_claims
from evidence.errors import CatalogueProblem

Make = Callable[..., tables.Claim]


@pytest.fixture
def filled(tmp_path: Path, claim: Make) -> Path:
    """A catalogue with one claim, closed, nothing waiting in a journal."""
    path = tmp_path / "shared" / "catalogue.sqlite"
    create_catalogue(Location(path=path)).close()
    with open_catalogue(Location(path=path)) as catalogue, catalogue.changing("Sam", "claim") as session:
        session.add(claim())
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return path


def keys(catalogue: Catalogue) -> list[str]:
    with catalogue.reading() as session:
        return [c.key for c in list_claims(session)]


@pytest.fixture
def sealed(filled: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The same, as one sees it who may only read: root may write anywhere, so the question itself is answered no."""
    monkeypatch.setattr(engines, "may_write", lambda path: not path.is_relative_to(filled.parent))
    return filled


def test_it_is_read_and_leaves_nothing_beside_it(sealed: Path) -> None:
    before = sorted(p.name for p in sealed.parent.iterdir())
    with open_catalogue(Location(path=sealed)) as catalogue:
        assert catalogue.read_only
        assert keys(catalogue) == ["thrust-over-squat"]
    assert sorted(p.name for p in sealed.parent.iterdir()) == before


def test_a_change_is_refused_in_words_and_nothing_is_stored(sealed: Path, claim: Make) -> None:
    with open_catalogue(Location(path=sealed)) as catalogue:
        with (
            pytest.raises(CatalogueProblem, match="may only be read"),
            catalogue.changing("Sam", "x") as session,
        ):
            session.add(claim("another"))
        assert keys(catalogue) == ["thrust-over-squat"]


def test_it_can_be_backed_up_and_the_copy_written(sealed: Path, tmp_path: Path, claim: Make) -> None:
    with open_catalogue(Location(path=sealed)) as catalogue:
        copy = backup(catalogue, tmp_path / "own.sqlite")
    with open_catalogue(Location(path=copy)) as own:
        assert not own.read_only
        with own.changing("Sam", "claim") as session:
            session.add(claim("another"))
        assert keys(own) == ["another", "thrust-over-squat"]


@pytest.mark.skipif(os.name != "posix", reason="permissions of a POSIX system")
def test_a_file_without_leave_to_write_is_told_apart(filled: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert engines.may_write(filled)
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    assert not engines.may_write(filled)
    assert engines.may_write(filled.with_name("not there yet"))


def test_a_restore_over_another_programs_database_keeps_that_file_and_does_not_wait(
    filled: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.backup"
    with open_catalogue(Location(path=filled)) as catalogue:
        backup(catalogue, copy)
    foreign = tmp_path / "foreign.sqlite"
    with closing(sqlite3.connect(foreign)) as connection:
        connection.execute("CREATE TABLE theirs (x)")
        connection.commit()
    contents, started = foreign.read_bytes(), time.monotonic()
    done = restore(copy, Location(path=foreign), busy_seconds=5)
    assert time.monotonic() - started < 5  # it waited out the whole busy time before
    assert done.kept is not None
    assert Path(done.kept).read_bytes() == contents
    with open_catalogue(Location(path=foreign)) as catalogue:
        assert keys(catalogue) == ["thrust-over-squat"]


def test_a_restore_over_a_backup_that_was_used_as_a_catalogue_does_not_wait(
    filled: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.backup"
    with open_catalogue(Location(path=filled)) as catalogue:
        backup(catalogue, copy)
    used = tmp_path / "used.sqlite"
    used.write_bytes(copy.read_bytes())
    started = time.monotonic()
    assert restore(copy, Location(path=used), busy_seconds=5).kept is not None
    assert time.monotonic() - started < 5


def test_an_empty_file_is_said_to_be_empty_and_a_backup_may_take_its_place(
    filled: Path, tmp_path: Path
) -> None:
    empty, copy = tmp_path / "empty.sqlite", tmp_path / "copy.backup"
    empty.touch()
    with pytest.raises(CatalogueProblem, match="the file is empty"):
        open_catalogue(Location(path=empty))
    with open_catalogue(Location(path=filled)) as catalogue:
        backup(catalogue, copy)
    assert restore(copy, Location(path=empty)).kept is not None
