"""Every change is recorded with its way back."""

import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import select

from evidence.catalogue import open_catalogue, tables
from evidence.catalogue.history import get_change, list_changes, undo
from evidence.catalogue.location import Location
from evidence.catalogue.recording import add_rows, stored_rows
from evidence.catalogue.snapshots import TABLES
from evidence.errors import BadInput, NotFound


def everything(catalogue):
    """All rows of all tables but history, by table and row number."""
    with catalogue.reading() as session:
        connection = session.connection()
        return {
            table.name: stored_rows(connection, table, connection.execute(select(table.c.id)).scalars().all())
            for table in TABLES
        }


def newest(catalogue):
    with catalogue.reading() as session:
        return list_changes(session)[0]


def test_adding_editing_and_removing_are_recorded(catalogue, study):
    with catalogue.changing("Ada", "study load a.yaml") as session:
        session.add(study("a"))
    with catalogue.changing("Bo", "edit") as session:
        session.exec(select(tables.Study)).one().weeks = 6
    with catalogue.changing("Cy", "remove") as session:
        session.delete(session.exec(select(tables.Study)).one())
    with catalogue.reading() as session:
        removed, edited, added = list_changes(session)
    assert [(e.who, e.action) for e in (added, edited, removed)] == [
        ("Ada", "study load a.yaml"),
        ("Bo", "edit"),
        ("Cy", "remove"),
    ]
    assert added.at < edited.at < removed.at
    (change,) = added.changes
    assert (change.operation, change.table, change.key, change.before) == ("add", "study", "a", None)
    (change,) = edited.changes
    assert (change.columns, change.before["weeks"], change.after["weeks"]) == (("weeks",), None, 6.0)
    (change,) = removed.changes
    assert (change.operation, change.after) == ("remove", None)


def test_what_goes_with_a_removed_row_is_recorded_and_comes_back(catalogue, fill, claim):
    with catalogue.changing("Ada", "load") as session:
        loaded = fill(session)
        session.add(claim())
        session.flush()
        stated = session.exec(select(tables.Claim)).one()
        session.add(
            tables.Exclusion(
                claim_id=stated.id, study_id=loaded.id, reason="r", person="Ada", at=loaded.added_at
            )
        )
    before = everything(catalogue)
    with catalogue.changing("Ada", "remove") as session:
        session.delete(session.exec(select(tables.Study)).one())
    assert {name for name, rows in everything(catalogue).items() if rows} == {"reference", "claim"}
    undo(catalogue, newest(catalogue).number, "Ada")
    assert everything(catalogue) == before


def test_a_lost_link_is_recorded_and_comes_back(catalogue, fill):
    with catalogue.changing("Ada", "load") as session:
        fill(session)
    before = everything(catalogue)
    with catalogue.changing("Ada", "remove people") as session:
        session.delete(session.exec(select(tables.People)).one())
    kinds = sorted((c.operation, c.table) for c in newest(catalogue).changes)
    assert kinds == [("edit", "condition")] * 2 + [("edit", "result")] * 3 + [("remove", "people")]
    undo(catalogue, newest(catalogue).number, "Ada")
    assert everything(catalogue) == before


def test_an_undoing_is_undone_and_done_again(catalogue, fill):
    with catalogue.changing("Ada", "load") as session:
        fill(session)
    loaded, number = everything(catalogue), newest(catalogue).number
    undoing = undo(catalogue, number, "Bo")
    assert (undoing.undoes, undoing.who, undoing.action) == (number, "Bo", f"undo {number}: load")
    assert not any(everything(catalogue).values())
    redoing = undo(catalogue, undoing.number, "Bo")
    assert everything(catalogue) == loaded
    undo(catalogue, redoing.number, "Bo")
    assert not any(everything(catalogue).values())


def test_a_change_whose_undoing_was_undone_can_be_undone(catalogue, study):
    with catalogue.changing("Ada", "load") as session:
        session.add(study("a"))
    first = newest(catalogue).number
    second = undo(catalogue, first, "Ada")
    undo(catalogue, second.number, "Ada")
    undo(catalogue, first, "Ada")
    assert not any(everything(catalogue).values())


def test_undoing_twice_is_refused_with_the_way_back(catalogue, study):
    with catalogue.changing("Ada", "load") as session:
        session.add(study("a"))
    undoing = undo(catalogue, newest(catalogue).number, "Ada")
    with pytest.raises(BadInput, match=f"undone already.*steelyard undo {undoing.number}"):
        undo(catalogue, undoing.undoes, "Ada")


def test_a_later_edit_of_the_row_is_named(catalogue, study):
    with catalogue.changing("Ada", "load") as session:
        session.add(study("a"))
    with catalogue.changing("Ada", "longer now") as session:
        session.exec(select(tables.Study)).one().weeks = 6
    before = everything(catalogue)
    with pytest.raises(BadInput, match=r"later ones build on it: 2 \(longer now\)"):
        undo(catalogue, 1, "Ada")
    assert everything(catalogue) == before
    assert newest(catalogue).number == 2


def test_a_later_row_that_hangs_on_it_is_named(catalogue, fill, study):
    with catalogue.changing("Ada", "load") as session:
        session.add(study("a"))
    with catalogue.changing("Ada", "describe people") as session:
        found = session.exec(select(tables.Study)).one()
        session.add(tables.People(study_id=found.id, key="p"))
    with pytest.raises(BadInput, match=r"2 \(describe people\)"):
        undo(catalogue, 1, "Ada")
    undo(catalogue, 2, "Ada")
    undo(catalogue, 1, "Ada")
    assert not any(everything(catalogue).values())


def test_a_reference_linked_later_keeps_its_addition(catalogue, study, reference):
    with catalogue.changing("Ada", "add") as session:
        session.add(reference("r"))
    with catalogue.changing("Ada", "link") as session:
        session.add(study("a"))
        session.flush()
        session.add(tables.StudyReference(study_id=1, reference_id=1))
    with pytest.raises(BadInput, match=r"2 \(link\)"):
        undo(catalogue, 1, "Ada")


def test_a_row_does_not_come_back_without_its_parent(catalogue, study):
    with catalogue.changing("Ada", "load") as session:
        session.add(study("a"))
        session.flush()
        session.add(tables.People(study_id=1, key="p"))
    with catalogue.changing("Ada", "remove people") as session:
        session.delete(session.exec(select(tables.People)).one())
    with catalogue.changing("Ada", "remove study") as session:
        session.delete(session.exec(select(tables.Study)).one())
    with pytest.raises(BadInput, match=r"3 \(remove study\)"):
        undo(catalogue, 2, "Ada")


def test_a_row_does_not_come_back_when_its_key_is_taken(catalogue, study):
    with catalogue.changing("Ada", "load") as session:
        session.add(study("a"))
    with catalogue.changing("Ada", "remove") as session:
        session.delete(session.exec(select(tables.Study)).one())
    with catalogue.changing("Ada", "load another") as session:
        session.add(study("a", title="Another"))
    with pytest.raises(BadInput, match="already"):
        undo(catalogue, 2, "Ada")


def test_numbers_of_removed_rows_are_never_used_again(catalogue, study):
    with catalogue.changing("Ada", "load") as session:
        session.add(study("a"))
    with catalogue.changing("Ada", "remove") as session:
        session.delete(session.exec(select(tables.Study)).one())
    with catalogue.changing("Ada", "load") as session:
        session.add(study("b"))
    assert newest(catalogue).changes[0].row_id > 1


def test_rows_added_many_at_a_time_are_recorded_and_undone(catalogue, reference):
    with catalogue.changing("Ada", "refs add") as session:
        add_rows(session, tables.Reference, [reference(f"r{n}").model_dump() for n in range(1100)])
    assert len(newest(catalogue).changes) == 1100
    undo(catalogue, 1, "Ada")
    assert not any(everything(catalogue).values())


def test_history_counts_rows_without_bringing_them(catalogue, fill):
    with catalogue.changing("Ada", "load") as session:
        fill(session)
    with catalogue.reading() as session:
        (whole,), (short,) = list_changes(session), list_changes(session, with_rows=False)
    assert short.changes == ()
    assert short.counts == whole.counts
    assert {(c.table, c.operation): c.rows for c in short.counts}["result", "add"] == 3
    assert sum(c.rows for c in short.counts) == len(whole.changes)


def test_history_is_found_by_table_and_key(catalogue, study, reference):
    with catalogue.changing("Ada", "one") as session:
        session.add(study("a"))
    with catalogue.changing("Ada", "two") as session:
        session.add(reference("a"))
    with catalogue.reading() as session:
        assert [e.action for e in list_changes(session, table="study")] == ["one"]
        assert [e.action for e in list_changes(session, key="a")] == ["two", "one"]
        assert [e.action for e in list_changes(session, limit=1)] == ["two"]
        assert list_changes(session, key="none") == ()
        with pytest.raises(NotFound, match="there are setting"):
            list_changes(session, table="recipe")


@pytest.mark.parametrize("number", [0, -1, 99, 10**20])
def test_a_change_that_is_not_there_is_told(catalogue, number):
    with pytest.raises(NotFound, match="steelyard history"):
        undo(catalogue, number, "Ada")
    with pytest.raises(NotFound), catalogue.reading() as session:
        get_change(session, number)


STEPS = st.lists(
    st.tuples(st.sampled_from(["add", "edit", "remove", "undo"]), st.integers(0, 5)), min_size=1, max_size=12
)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=STEPS)
def test_undoing_everything_from_the_newest_on_leads_back_to_nothing(
    steps, tmp_path_factory, empty_file, study
):
    """Any story of changes and undoings, told backwards, ends where it began: no step may be refused."""
    path = Path(shutil.copy(empty_file, tmp_path_factory.mktemp("story")))
    with open_catalogue(Location(path=path)) as catalogue:
        states = [everything(catalogue)]
        for kind, which in steps:
            before = newest_number(catalogue)
            take_step(catalogue, kind, which, study)
            if newest_number(catalogue) != before:
                states.append(everything(catalogue))
        for number in range(newest_number(catalogue), 0, -1):
            undo(catalogue, number, "Ada")
            assert everything(catalogue) == states[number - 1]


def newest_number(catalogue):
    with catalogue.reading() as session:
        found = list_changes(session, 1)
    return found[0].number if found else 0


def take_step(catalogue, kind, which, study):
    key = f"s{which}"
    try:
        if kind == "undo":
            undo(catalogue, which + 1, "Ada")
            return
        with catalogue.changing("Ada", kind) as session:
            found = session.exec(select(tables.Study).where(tables.Study.key == key)).first()
            if kind == "add" and found is None:
                session.add(study(key))
                session.flush()
                added = session.exec(select(tables.Study).where(tables.Study.key == key)).one()
                session.add(tables.People(study_id=added.id, key="p"))
            elif kind == "edit" and found is not None:
                found.weeks = (found.weeks or 0) + 1
            elif kind == "remove" and found is not None:
                session.delete(found)
    except (BadInput, NotFound):
        pass  # an undoing that is refused changes nothing, and is a step all the same
