"""Reading and changing: all or nothing, one writer at a time, and nothing that cannot be given back."""

import math
import multiprocessing
from datetime import datetime, timedelta, timezone

import pytest
from sqlalchemy import text, update
from sqlmodel import select

from evidence.catalogue import open_catalogue, tables
from evidence.catalogue.recording import add_rows, change_set_of
from evidence.errors import BadInput, CatalogueLocked, CatalogueProblem

FORK = multiprocessing.get_context("fork")


def studies(catalogue):
    with catalogue.reading() as session:
        return session.exec(select(tables.Study.key)).all()


def stop_half_way(catalogue, row, fault):
    with catalogue.changing("Ada", "x") as session:
        session.add(row)
        session.flush()
        raise fault


def test_a_change_is_stored_whole_or_not_at_all(catalogue, study):
    with pytest.raises(RuntimeError):
        stop_half_way(catalogue, study("a"), RuntimeError)
    assert studies(catalogue) == []
    with catalogue.changing("Ada", "x") as session:
        session.add(study("a"))
    assert studies(catalogue) == ["a"]


def test_an_interrupt_from_the_keyboard_stores_nothing(catalogue, study):
    with pytest.raises(KeyboardInterrupt):
        stop_half_way(catalogue, study("a"), KeyboardInterrupt)
    assert studies(catalogue) == []


def test_rows_stay_usable_after_the_session(catalogue, study):
    with catalogue.changing("Ada", "x") as session:
        session.add(study("a", weeks=6.5))
    with catalogue.reading() as session:
        found = session.exec(select(tables.Study)).one()
    assert (found.key, found.weeks, found.bias) == ("a", 6.5, {})


def test_a_reading_session_refuses_to_write(catalogue, study):
    with catalogue.reading() as session:
        session.add(study("a"))
        with pytest.raises(CatalogueProblem, match="only reads"):
            session.commit()
    with pytest.raises(CatalogueProblem), catalogue.reading() as session:
        session.execute(text("DELETE FROM study"))


def test_a_reader_sees_one_moment_of_the_catalogue(catalogue, study):
    with catalogue.reading() as session:
        assert session.exec(select(tables.Study.key)).all() == []
        with catalogue.changing("Ada", "x") as writing:
            writing.add(study("a"))
        assert session.exec(select(tables.Study.key)).all() == []
    assert studies(catalogue) == ["a"]


def test_changes_below_the_history_are_refused(catalogue):
    with pytest.raises(CatalogueProblem, match="add_rows"), catalogue.changing("Ada", "x") as session:
        session.execute(update(tables.Study).values(title="x"))
    with pytest.raises(CatalogueProblem, match="history"), catalogue.changing("Ada", "x") as session:
        session.add(tables.Change(change_set_id=1, table_name="study", row_id=1, operation="add"))


def test_a_second_writer_waits_and_is_then_told(place, clock, study):
    with (
        open_catalogue(place, now=clock) as first,
        open_catalogue(place, now=clock, busy_seconds=0.2) as second,
    ):
        with first.changing("Ada", "x") as session:
            session.add(study("a"))
            session.flush()
            with pytest.raises(CatalogueLocked, match="another program"), second.changing("Bo", "y"):
                pass
            assert studies(second) == []
        assert studies(second) == ["a"]


def increment(place, times):
    with open_catalogue(place, busy_seconds=60) as catalogue:
        for _ in range(times):
            with catalogue.changing("Ada", "count") as session:
                row = session.exec(select(tables.Setting)).one()
                row.value = str(int(row.value) + 1)


def test_two_writers_lose_no_change(place):
    with open_catalogue(place) as catalogue, catalogue.changing("Ada", "x") as session:
        session.add(tables.Setting(key="count", value="0"))
    workers = [FORK.Process(target=increment, args=(place, 200)) for _ in range(2)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    with open_catalogue(place) as catalogue, catalogue.reading() as session:
        assert session.exec(select(tables.Setting.value)).one() == "400"
        assert len(session.exec(select(tables.ChangeSet.id)).all()) == 401


REFUSED = [
    ("weeks", math.nan, "not finite"),
    ("weeks", math.inf, "not finite"),
    ("weeks", "six", "no number"),
    ("weeks", True, "no number"),
    ("weeks", 10**400, "too large"),
    ("weeks", -1.0, "weeks_not_negative"),
    ("year", 2**31, "too large"),
    ("year", 2020.0, "no whole number"),
    ("pairing", "both", "none of within"),
    ("title", "a\x00b", "NUL"),
    ("title", "a\ud800b", "surrogate"),
    ("title", 5, "no text"),
    ("title", None, "missing"),
    ("key", "", "empty"),
    ("key", " a", "blanks"),
    ("key", "a\nb", "line ends"),
    ("invented", 1, "neither true nor false"),
    ("added_at", datetime(2026, 1, 1), "zone"),
    ("added_at", "2026-01-01", "no date with a time"),
    ("bias", {"a": [1, {"b": math.nan}]}, "not finite"),
    ("bias", {1: "a"}, "no text"),
    ("bias", {"a": {2}}, "JSON does not know"),
    ("bias", {"a": "\x00"}, "NUL"),
    ("bias", None, "missing"),
    ("bias", [1], "no document"),
]


@pytest.mark.parametrize(("column", "value", "words"), REFUSED)
def test_what_cannot_be_given_back_is_refused_by_name(catalogue, study, column, value, words):
    with pytest.raises(BadInput) as caught, catalogue.changing("Ada", "x") as session:
        session.add(study(**{"key": "a", column: value}))
    assert words in str(caught.value)
    assert column in str(caught.value)
    assert "study" in str(caught.value)
    assert studies(catalogue) == []


@pytest.mark.parametrize(("column", "value", "words"), REFUSED)
def test_adding_many_checks_as_adding_one_does(catalogue, study, column, value, words):
    rows = [study("fine").model_dump(), {**study("a").model_dump(), column: value}]
    with pytest.raises(BadInput, match=words), catalogue.changing("Ada", "x") as session:
        add_rows(session, tables.Study, rows)
    assert studies(catalogue) == []


def test_an_edit_is_checked_too(catalogue, study):
    with catalogue.changing("Ada", "x") as session:
        session.add(study("a"))
    with pytest.raises(BadInput, match="not finite"), catalogue.changing("Ada", "x") as session:
        session.exec(select(tables.Study)).one().weeks = math.inf


@pytest.mark.parametrize(
    "value", [5e-324, 1.7976931348623157e308, 0.1 + 0.2, -0.0, 1e22, 123456789.123456789]
)
def test_numbers_come_back_bit_for_bit(catalogue, study, value):
    with catalogue.changing("Ada", "x") as session:
        session.add(study("a", weeks=abs(value), bias={"value": value}))
    with catalogue.reading() as session:
        found = session.exec(select(tables.Study)).one()
    assert math.copysign(1, found.bias["value"]) == math.copysign(1, value)
    assert found.bias["value"] == value
    assert found.weeks == abs(value)


def test_times_come_back_in_utc(catalogue, study):
    at = datetime(2026, 7, 1, 1, 30, 0, 123456, tzinfo=timezone(timedelta(hours=5, minutes=30)))
    with catalogue.changing("Ada", "x") as session:
        session.add(study("a", added_at=at))
    with catalogue.reading() as session:
        found = session.exec(select(tables.Study.added_at)).one()
    assert found == at
    assert found.utcoffset() == timedelta(0)


def test_the_same_key_twice_is_told(catalogue, study):
    with catalogue.changing("Ada", "x") as session:
        session.add(study("a"))
    with pytest.raises(BadInput, match=r"already.*study"), catalogue.changing("Ada", "x") as session:
        session.add(study("a"))


def test_a_link_to_nothing_is_told(catalogue):
    with pytest.raises(BadInput, match="not in the catalogue"), catalogue.changing("Ada", "x") as session:
        session.add(tables.People(study_id=99, key="a"))


def test_a_reference_that_a_study_needs_is_not_removed(catalogue, fill):
    with catalogue.changing("Ada", "x") as session:
        fill(session)
    with pytest.raises(BadInput, match="still need"), catalogue.changing("Ada", "y") as session:
        session.delete(session.exec(select(tables.Reference)).one())


def test_a_change_needs_an_author_and_a_name(catalogue):
    for who, action in (("", "x"), ("Ada", " ")):
        with pytest.raises(BadInput), catalogue.changing(who, action):
            pass


def test_what_changes_nothing_leaves_no_trace(catalogue, study):
    with catalogue.changing("Ada", "x") as session:
        session.add(study("a"))
    with catalogue.changing("Ada", "again") as session:
        found = session.exec(select(tables.Study)).one()
        found.title = str(found.title)
        found.weeks = None
        assert change_set_of(session) is None
    with catalogue.reading() as session:
        assert len(session.exec(select(tables.ChangeSet)).all()) == 1


def test_adding_many_takes_defaults_and_gives_numbers_in_order(catalogue, study):
    rows = [{"key": f"k{n}", "kind": "x", "name": f"n{n}", "added_by": "Ada"} for n in range(1200)]
    rows = [{"key": row["key"], "name": row["name"], "added_by": "Ada"} for row in rows]
    with catalogue.changing("Ada", "x") as session:
        ids = add_rows(session, tables.OwnExercise, rows)
        found = {row.id: row for row in session.exec(select(tables.OwnExercise))}
    assert [found[number].key for number in ids] == [row["key"] for row in rows]
    assert found[ids[0]].body == {}


def test_adding_many_refuses_a_column_that_is_not_there(catalogue):
    with pytest.raises(CatalogueProblem, match="colour"), catalogue.changing("Ada", "x") as session:
        add_rows(session, tables.Setting, [{"key": "a", "value": "b", "colour": "c"}])


def test_stamps_never_run_backwards_also_where_the_clock_does(place, clock, study):
    with open_catalogue(place, now=clock) as first:
        with first.changing("Ada", "x") as session:
            session.add(study("a"))
        before = first.now()
    clock.at -= timedelta(days=30)
    with open_catalogue(place, now=clock) as second:
        assert second.now() >= before - timedelta(minutes=1)
        for key in ("b", "c"):
            with second.changing("Ada", "x") as session:
                session.add(study(key))
        with second.reading() as session:
            stamps = list(session.exec(select(tables.ChangeSet.at).order_by(tables.ChangeSet.id)))
        assert sorted(set(stamps)) == stamps
        assert second.now() >= stamps[-1]
        assert second.today() < before.date()
