"""The check finds what is wrong, and only that."""

import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest
from sqlmodel import select

from evidence.catalogue import Location, create_catalogue, open_catalogue, tables
from evidence.catalogue.history import undo
from evidence.catalogue.integrity import VocabularyIds, check
from evidence.errors import CatalogueDamaged

KNOWN = VocabularyIds(
    exercises={"hip-thrust", "back-squat"},
    regions={"gluteus-maximus"},
    constructs={"activation"},
    designs={"crossover"},
    training_statuses={"trained"},
)


@pytest.fixture
def filled(catalogue, fill, claim):
    with catalogue.changing("Ada", "x") as session:
        fill(session, "a")
        fill(session, "b")
        session.add(claim())
    return catalogue


def kinds(catalogue, vocabulary=None):
    return [(finding.kind, finding.severity, finding.table) for finding in check(catalogue, vocabulary)]


def test_a_whole_catalogue_has_no_findings(filled):
    assert check(filled, KNOWN) == ()
    with filled.changing("Ada", "y") as session:
        session.delete(session.exec(select(tables.Study)).first())
    undo(filled, 2, "Ada")
    assert check(filled, KNOWN) == ()


def test_words_that_the_vocabulary_lacks_are_found(filled):
    with filled.changing("Ada", "y") as session:
        session.exec(select(tables.Condition)).first().exercise = "sissy-squat"
        session.exec(select(tables.Result)).first().region = "soleus"
        session.exec(select(tables.Outcome)).first().construct_id = "growth"
        session.exec(select(tables.Study)).first().design = "poll"
        session.exec(select(tables.People)).first().training_status = "elite"
        session.exec(select(tables.Claim)).one().comparator = "nordic"
        session.add(tables.OwnAlias(kind="region", alias="calf", target="calves", added_by="Ada"))
    assert kinds(filled) == []
    found = {(finding.table, finding.message.split("'")[1]) for finding in check(filled, KNOWN)}
    assert found == {
        ("condition", "sissy-squat"),
        ("result", "soleus"),
        ("outcome", "growth"),
        ("study", "poll"),
        ("people", "elite"),
        ("claim", "nordic"),
        ("own_alias", "calves"),
    }
    with filled.changing("Ada", "z") as session:
        session.add(tables.OwnExercise(key="sissy-squat", name="Sissy squat", added_by="Ada"))
    assert "sissy-squat" not in str(check(filled, KNOWN))


def test_rows_that_reach_into_another_study_are_found(filled):
    with filled.changing("Ada", "y") as session:
        session.exec(select(tables.Result)).all()[-1].condition_id = 1
    assert kinds(filled) == [("stray", "error", "result")]


def test_results_that_cannot_be_traced_are_found(filled):
    with filled.changing("Ada", "y") as session:
        first, second, *_ = session.exec(select(tables.Result).order_by(tables.Result.id)).all()
        first.locator = " "
        second.printed = ""
    findings = check(filled)
    assert [finding.kind for finding in findings] == ["untraceable"] * 2
    assert "place in the paper" in str(findings[0])
    assert "as printed" in str(findings[1])


def test_entries_that_wait_to_be_mended_are_told(filled, study):
    with filled.changing("Ada", "y") as session:
        for digest in "ab":
            session.add(
                tables.UnreadEntry(
                    source="my.bib", reason="r", text="t", digest=digest, added_at=study().added_at
                )
            )
    (finding,) = check(filled)
    assert (finding.kind, finding.severity) == ("unread", "note")
    assert "2 entries of my.bib" in finding.message


@pytest.fixture
def file(tmp_path, fill):
    """A catalogue in a file, to be tampered with."""
    with create_catalogue(Location(path=tmp_path / "c.sqlite")) as catalogue:
        with catalogue.changing("Ada", "x") as session:
            fill(session, "a")
        yield catalogue


def tamper(catalogue, *statements):
    with closing(sqlite3.connect(catalogue.location.path)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute("PRAGMA foreign_keys = OFF")
        for statement in statements:
            connection.execute(statement)
        connection.commit()


@pytest.mark.parametrize(
    ("statement", "kind", "table"),
    [
        ("DELETE FROM outcome", "lost-link", "result"),
        ("UPDATE study SET pairing = 'both'", "rule", "study"),
        ("UPDATE result SET spread = -1", "rule", "result"),
        ("UPDATE result SET value = 9e999", "value", "result"),
        ("UPDATE result SET value = 'heavy'", "value", "result"),
        ("UPDATE result SET value = 1", "history", "result"),
        ("UPDATE study SET bias = '{'", "value", "study"),
        ("UPDATE study SET bias = '[]'", "value", "study"),
        ("UPDATE study SET bias = '{\"a\": NaN}'", "value", "study"),
        ("UPDATE study SET added_at = 'yesterday'", "value", "study"),
        ("UPDATE study SET key = ''", "rule", "study"),
        ("DELETE FROM correlation", "history", "correlation"),
        ("INSERT INTO setting (key, value) VALUES ('a', 'b')", "history", "setting"),
        ("DROP TABLE correlation", "schema", "correlation"),
        ("ALTER TABLE result DROP COLUMN marks", "schema", "result"),
    ],
)
def test_what_was_written_past_the_product_is_found(file, statement, kind, table):
    tamper(file, statement)
    assert (kind, table) in {(finding.kind, finding.table) for finding in check(file)}


@pytest.mark.parametrize(
    "statement", ["UPDATE study SET bias = '{'", "UPDATE study SET added_at = 'yesterday'"]
)
def test_reading_what_cannot_be_read_is_told(file, statement):
    tamper(file, statement)
    with pytest.raises(CatalogueDamaged, match="steelyard check"), file.reading() as session:
        session.exec(select(tables.Study)).all()


def test_a_damaged_file_is_told(file):
    file.close()
    with closing(sqlite3.connect(file.location.path)) as connection:
        (page,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'result'").fetchone()
    data = bytearray(file.location.path.read_bytes())
    data[(page - 1) * 4096 : (page - 1) * 4096 + 64] = b"\xff" * 64
    file.location.path.write_bytes(data)
    with open_catalogue(file.location) as catalogue:
        findings = check(catalogue)
    assert {finding.kind for finding in findings} == {"damaged"}


def test_what_an_interrupted_program_left_is_told(file):
    (file.location.path.parent / ".c.sqlite.abc.unfinished").touch()
    (finding,) = check(file)
    assert (finding.kind, finding.severity) == ("unfinished", "note")


def test_grave_findings_come_first(file):
    tamper(file, "UPDATE result SET spread = -1, locator = ''")
    severities = [finding.severity for finding in check(file)]
    assert severities == sorted(severities, key=["error", "warning", "note"].index)
    assert len(set(severities)) == 2


@pytest.mark.parametrize(("days", "found"), [(-400, ["clock"]), (-0.5, []), (400, [])])
def test_a_last_change_ahead_of_the_clock_is_told(filled, clock, days, found):
    clock.at += timedelta(days=days)
    assert [kind for kind, _, _ in kinds(filled, KNOWN)] == found
