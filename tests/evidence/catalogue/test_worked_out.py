"""What is worked out of references and kept: once each, anew when the reference or the rules change, and no content."""

import pytest

from evidence.catalogue import open_catalogue
from evidence.catalogue.integrity import check
from evidence.catalogue.state import catalogue_state
from evidence.catalogue.worked_out import Kind, keep_up, read_kept, store_all
from evidence.errors import BadInput


@pytest.fixture
def three(catalogue, reference):
    """Three references."""
    with catalogue.changing("Ada", "x") as session:
        session.add_all([reference(key, title=f"Title of {key}", csl={"title": key}) for key in "abc"])
    return catalogue


def kind_of(rules, seen):
    """Titles of references as bytes; what was worked on is noted in `seen`."""

    def work(rows):
        seen.extend(key for key, _ in rows)
        return [f"{rules} {csl['title']}".encode() for _, csl in rows]

    return Kind("title", rules, work)


def kept(catalogue, kind):
    with catalogue.reading() as session:
        return dict(read_kept(session, kind))


def test_each_reference_is_worked_on_once_and_again_when_it_or_the_rules_change(three):
    seen, told = [], []
    kind = kind_of("1", seen)
    keep_up(three, kind, lambda done, of: told.append((done, of)))
    assert (sorted(seen), told) == (["a", "b", "c"], [(0, 3)])
    assert kept(three, kind) == {"a": b"1 a", "b": b"1 b", "c": b"1 c"}
    keep_up(three, kind)
    assert len(seen) == 3
    with three.changing("Ada", "edit, remove and note") as session:
        from evidence.catalogue.queries import reference_by_key

        reference_by_key(session, "a").csl = {"title": "other"}
        reference_by_key(session, "c").notice = "retracted"  # nothing that it is worked out of
        session.delete(reference_by_key(session, "b"))
        store_all(session, kind)
    assert sorted(seen) == ["a", "a", "b", "c"]
    assert kept(three, kind) == {"a": b"1 other", "c": b"1 c"}
    later = kind_of("2", [])
    keep_up(three, later)
    assert kept(three, later) == {"a": b"2 other", "c": b"2 c"}


def test_what_is_not_kept_yet_is_given_all_the_same(three):
    seen = []
    assert kept(three, kind_of("1", seen)) == {"a": b"1 a", "b": b"1 b", "c": b"1 c"}
    assert len(seen) == 3


def test_it_is_no_part_of_what_the_catalogue_holds(three):
    def state():
        with three.reading() as session:
            return catalogue_state(session)

    before = state()
    keep_up(three, kind_of("1", []))
    assert state() == before
    assert not check(three)


def test_while_another_program_writes_nothing_is_kept_and_nothing_fails(three):
    kind = kind_of("1", [])
    with open_catalogue(three.location, busy_seconds=0.1) as other, three.changing("Ada", "long work"):
        keep_up(other, kind)
        assert len(kept(other, kind)) == 3


def fail_after_storing(catalogue, kind, row):
    with catalogue.changing("Ada", "x") as session:
        session.add(row)
        session.flush()
        store_all(session, kind)
        raise BadInput("no")


def test_a_failing_change_keeps_nothing_of_it(three, reference):
    with pytest.raises(BadInput):
        fail_after_storing(three, kind_of("1", []), reference("d", csl={"title": "d"}))
    seen = []
    assert sorted(kept(three, kind_of("1", seen))) == sorted(seen) == ["a", "b", "c"]
