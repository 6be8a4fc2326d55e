"""Checks that are stored, and checks that are made again on every save."""

import threading
import time
from datetime import UTC, datetime
from pathlib import Path

from evidence.catalogue import Catalogue, tables
from evidence.catalogue.queries import draft_by_key, list_drafts
from evidence.errors import SteelyardError
from evidence.workflows.drafts.checking import Checked
from evidence.workflows.drafts.running import Checker, watch


def test_a_recorded_check_stores_text_audience_state_and_what_was_accepted(
    own_catalogue: Catalogue, tmp_path: Path
) -> None:
    path = tmp_path / "a.md"
    text = "---\naudience: women\n---\n\nIt is the best squat for quads. <!-- accept superlative: a headline -->\n"
    path.write_text(text, "utf-8")
    checker = Checker(own_catalogue)
    assert checker.record(checker.check(path), "Sam") == "a.md"
    assert checker.record(checker.check(path), "Sam") == "a.md"
    with own_catalogue.reading() as session:
        row = draft_by_key(session, "a.md")
        assert len(list_drafts(session)) == 1
    assert (row.text, row.format, row.audience, row.added_by) == (text, "markdown", {"said": "women"}, "Sam")
    assert [v["reason"] for v in row.accepted.values()] == ["a headline"]
    assert row.checked_at is not None and row.catalogue_hash is not None and len(row.catalogue_hash) == 16


def test_a_draft_that_was_recorded_is_stale_where_a_study_came_in_since(
    own_catalogue: Catalogue, tmp_path: Path
) -> None:
    path = tmp_path / "a.md"
    path.write_text(
        "[Heavy sets raise the squat max more than light ones.]{claim=heavy-squat-strength}\n", "utf-8"
    )
    checker = Checker(own_catalogue)
    checker.record(checker.check(path), "Sam")
    assert checker.check(path).findings == ()
    from sqlmodel import select

    with own_catalogue.changing("tests", "a study came in") as session:
        study = session.exec(select(tables.Study).where(tables.Study.key == "birkrigg2017")).one()
        study.added_at = datetime(2099, 1, 1, tzinfo=UTC)
    assert "stale" in [f.kind for f in checker.check(path).findings]


def test_a_save_is_checked_within_three_tenths_of_a_second(own_catalogue: Catalogue, tmp_path: Path) -> None:
    path = tmp_path / "a.md"
    path.write_text("I like tea.\n", "utf-8")
    told: list[tuple[float, object]] = []
    stop = threading.Event()
    checker = Checker(own_catalogue)
    checker.check(path)

    def tell(file: Path, result: Checked | SteelyardError) -> None:
        told.append((time.monotonic(), result))

    thread = threading.Thread(target=watch, args=(checker, [path], tell, lambda: not stop.is_set()))
    thread.start()
    try:
        waits = []
        for number in range(3):
            count = len(told)
            deadline = time.monotonic() + 10
            while len(told) <= number and time.monotonic() < deadline:
                time.sleep(0.01)
            count = len(told)
            saved = time.monotonic()
            path.write_text(f"Studies show {number} things.\n", "utf-8")
            while len(told) == count and time.monotonic() < deadline:
                time.sleep(0.005)
            waits.append(told[count][0] - saved)
        assert min(waits) < 0.3, waits  # the quickest: another job on the machine may hold up one of them
        assert isinstance(told[-1][1], Checked) and [f.kind for f in told[-1][1].findings] == ["no-source"]
    finally:
        stop.set()
        thread.join(10)


def test_a_file_that_is_taken_away_and_comes_back_is_told_both_times(
    own_catalogue: Catalogue, tmp_path: Path
) -> None:
    path = tmp_path / "a.md"
    path.write_text("I like tea.\n", "utf-8")
    told: list[object] = []

    def going_on() -> bool:
        if len(told) == 1 and path.exists():
            path.unlink()
        elif len(told) == 2:
            path.write_text("I like tea again.\n", "utf-8")
        return len(told) < 3

    watch(Checker(own_catalogue), [path], lambda _, result: told.append(result), going_on)
    assert [isinstance(t, Checked) for t in told] == [True, False, True]
