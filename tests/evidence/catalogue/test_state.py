"""Short hashes of contents."""

import math
from collections import OrderedDict
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from enum import Enum, StrEnum

import numpy as np
import pytest
from sqlalchemy import text
from sqlmodel import select

from evidence.catalogue import create_catalogue, queries, tables
from evidence.catalogue.digests import count_behind, digests_of
from evidence.catalogue.history import list_changes, undo
from evidence.catalogue.location import Location
from evidence.catalogue.state import catalogue_state, hash_inputs, keep_state
from evidence.errors import BadInput


def state(catalogue):
    with catalogue.reading() as session:
        return catalogue_state(session)


def test_the_state_does_not_depend_on_the_order_of_recording(catalogue, fill, reference, tmp_path):
    with catalogue.changing("Ada", "one") as session:
        fill(session, "a")
        fill(session, "b")
        session.add(reference("r"))
    with create_catalogue(Location(path=tmp_path / "other.sqlite")) as other:
        with other.changing("Bo", "two") as session:
            session.add(reference("r"))
            session.add(reference("gone"))
        with other.changing("Bo", "three") as session:
            session.delete(queries.reference_by_key(session, "gone"))
            fill(session, "b")
            fill(session, "a")
        with other.changing("Bo", "four") as session:  # the last result of one study, recorded once more
            old = session.exec(select(tables.Result).where(tables.Result.key == "r1")).first()
            copy = tables.Result(**old.model_dump(exclude={"id"}))
            linked = session.exec(
                select(tables.Correlation).where(tables.Correlation.result_b_id == old.id)
            ).one()
            again = tables.Correlation(**linked.model_dump(exclude={"id"}))
            session.delete(old)
            session.flush()
            session.add(copy)
            session.flush()
            again.result_b_id = copy.id
            session.add(again)
        assert state(other) == state(catalogue)


def read_anew(catalogue):
    """The state worked out of everything, as if nothing had been kept."""
    with catalogue.writers.begin() as connection:
        connection.execute(text("DELETE FROM content_digest_until"))
    return state(catalogue)


def test_what_is_kept_of_the_state_follows_every_change(catalogue, fill, reference, claim):
    keep_state(catalogue)
    with catalogue.changing("Ada", "two studies, a claim, references") as session:
        fill(session, "a")
        fill(session, "b")
        session.add_all([claim(), reference("r"), reference("gone"), tables.Setting(key="s", value="1")])

    def first(session, model):
        return session.exec(select(model).order_by(model.id)).first()

    def leave_out(session):
        left = {"reason": "why", "person": "Ada", "at": catalogue.now()}
        session.add(
            tables.Exclusion(
                claim_id=first(session, tables.Claim).id, study_id=first(session, tables.Study).id, **left
            )
        )

    changes = [
        lambda s: setattr(first(s, tables.Result), "value", 12.5),
        lambda s: setattr(first(s, tables.People), "analysed", 3),
        leave_out,
        lambda s: setattr(first(s, tables.Study), "key", "renamed"),  # the claim's document names it
        lambda s: setattr(queries.reference_by_key(s, "r"), "notice", "retracted"),
        lambda s: s.delete(queries.reference_by_key(s, "gone")),
        lambda s: s.delete(first(s, tables.Exclusion)),
        lambda s: setattr(first(s, tables.Setting), "value", "2"),
        lambda s: s.delete(first(s, tables.Study)),
        lambda s: setattr(first(s, tables.Claim), "note", "a note"),
    ]
    seen = set()
    for number, change in enumerate(changes):
        if number % 2:
            keep_state(catalogue)
        with catalogue.changing("Ada", "change") as session:
            change(session)
            inside = catalogue_state(session) if number % 3 == 0 else None
        found = state(catalogue)
        assert inside in (None, found)
        seen.add(found)
        with catalogue.readers.connect() as connection:
            digests = digests_of(connection)
        assert read_anew(catalogue) == found, number
        keep_state(catalogue)
        with catalogue.readers.connect() as connection:
            assert (digests_of(connection), count_behind(connection)) == (digests, 0)
    for back in (0, 2):  # the note, then the study that was removed
        with catalogue.reading() as session:
            last = list_changes(session, 1)[0].number
        undo(catalogue, last - back, "Ada")
        found = state(catalogue)
        assert read_anew(catalogue) == found
    assert len(seen) == len(changes)


def test_every_change_of_content_changes_the_state(catalogue, fill, claim):
    seen = {state(catalogue)}

    def changed():
        now = state(catalogue)
        fresh = now not in seen
        seen.add(now)
        return fresh

    with catalogue.changing("Ada", "x") as session:
        fill(session, "a")
        session.add(claim())
    assert changed()
    edits = [
        (tables.Result, "value", 69.6),
        (tables.Result, "locator", "Table 2"),
        (tables.Condition, "dose", {"sets": 2}),
        (tables.People, "analysed", 12),
        (tables.Reference, "notice", "retracted"),
        (tables.Correlation, "r", 0.6),
        (tables.RawTable, "text", "b"),
        (tables.Claim, "margin", 0.2),
        (tables.StudyReference, "role", "preprint"),
    ]
    for model, column, value in edits:
        with catalogue.changing("Ada", "edit") as session:
            setattr(session.exec(select(model)).first(), column, value)
        assert changed(), (model, column)
    with catalogue.changing("Ada", "x") as session:
        stated = session.exec(select(tables.Claim)).one()
        session.add(
            tables.Exclusion(claim_id=stated.id, study_id=1, reason="r", person="p", at=stated.added_at)
        )
        session.add(tables.Setting(key="a", value="b"))
    assert changed()


def test_appraisals_uses_and_history_do_not_count(catalogue, fill, claim):
    with catalogue.changing("Ada", "x") as session:
        fill(session, "a")
        session.add(claim())
    before = state(catalogue)
    with catalogue.changing("Ada", "weigh") as session:
        at = session.exec(select(tables.Claim)).one().added_at
        session.add(
            tables.Appraisal(
                claim_id=1,
                at=at,
                inputs_hash="h",
                verdict="more",
                confidence="low",
                confidence_low="low",
                confidence_high="low",
            )
        )
        session.add(tables.Use(kind="brief", name="n", claim_id=1, catalogue_hash=before, at=at))
    assert state(catalogue) == before
    with catalogue.changing("Ada", "edit") as session:
        session.exec(select(tables.Study)).one().weeks = 3
    assert state(catalogue) != before
    undo(catalogue, 3, "Ada")
    assert state(catalogue) == before


@dataclass(frozen=True)
class Effect:
    estimate: float
    source: str


@dataclass(frozen=True)
class Other:
    estimate: float
    source: str


class Word(StrEnum):
    A = "a"


class Number(Enum):
    ONE = 1


SAME = [
    ({"a": 1, "b": 2}, OrderedDict([("b", 2), ("a", 1)])),
    ({1, 2, 3}, frozenset([3, 2, 1])),
    ([1, 2], (1, 2)),
    (Word.A, "a"),
    (Number.ONE, 1),
    (np.float64(0.1), 0.1),
    (np.array([1.0, 2.0]), [1.0, 2.0]),
    (datetime(2026, 1, 1, 12, tzinfo=UTC), datetime(2026, 1, 1, 13, tzinfo=timezone(timedelta(hours=1)))),
    (Effect(0.1 + 0.2, "a"), Effect(0.30000000000000004, "a")),
]
DIFFERENT = [
    (1, 1.0),
    (1, True),
    (0, False),
    (0.0, -0.0),
    ("1", 1),
    (None, "null"),
    ([1, 2], [2, 1]),
    ({1, 2}, [1, 2]),
    ({1: "a"}, {"1": "a"}),
    (Effect(1.0, "a"), Other(1.0, "a")),
    (Effect(1.0, "a"), Effect(1.0000000000000002, "a")),
    (date(2026, 1, 1), "2026-01-01"),
    (datetime(2026, 1, 1, tzinfo=UTC), datetime(2026, 1, 1)),
    (["a", "b"], ["ab"]),
    (b"a", "a"),
    ({"float": "1.0"}, 1.0),
    ({}, []),
    ("é", "e\u0301"),
]


@pytest.mark.parametrize(("one", "other"), SAME)
def test_equal_content_has_an_equal_hash(one, other):
    assert hash_inputs(one) == hash_inputs(other)
    assert hash_inputs({"nested": [one]}) == hash_inputs({"nested": [other]})


@pytest.mark.parametrize(("one", "other"), DIFFERENT)
def test_different_content_has_a_different_hash(one, other):
    assert hash_inputs(one) != hash_inputs(other)


def test_row_numbers_do_not_count(study):
    assert hash_inputs(study("a", id=1)) == hash_inputs(study("a", id=2))
    assert hash_inputs(study("a")) != hash_inputs(study("b"))


@pytest.mark.parametrize("value", [math.nan, math.inf, object(), print, iter([1])])
def test_what_has_no_fixed_content_is_refused(value):
    with pytest.raises(BadInput):
        hash_inputs([value])


def test_a_hash_is_the_same_on_every_machine_and_day():
    """Written down once, so that a change of the rules of hashing cannot go unseen."""
    assert hash_inputs({"a": [1, 2.5, None, "é"], "b": {date(2026, 1, 1)}}) == "74d0219abb339942"
