"""Text that people did not mean well: it is shown as text, kept whole as data, and steers nothing."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from evidence.cli.frame import harmless

Run = Callable[..., Any]


@pytest.fixture
def stocked(steelyard: Run) -> Run:
    assert steelyard("init").status == 0
    return steelyard


def test_a_claim_that_steers_a_terminal_is_shown_as_text_and_kept_as_data(stocked: Run) -> None:
    text = "Squat \x1b]0;owned\x07 and\x9b2J sit"
    assert stocked("claim", "state", "--kind", "practice", "--text", text, "--key", "cue").status == 0
    for told in (
        stocked("claim", "show", "cue").text,
        stocked("claim", "list").text,
        stocked("weigh", "cue").text,
    ):
        assert not any(sign in told for sign in "\x1b\x07\x9b")
    shown = stocked("claim", "list", "--json").text
    assert "\x9b" not in shown
    assert json.loads(shown)[0]["statement"] == text


def test_lines_are_turned_on_no_terminal_and_left_alone_in_a_file() -> None:
    assert harmless("a\u202eb", on_terminal=True) == "a\ufffdb"
    assert harmless("a\u202eb\tc\r\n", on_terminal=False) == "a\u202eb\tc\n"


def test_a_reason_with_a_nul_changes_nothing(stocked: Run) -> None:
    assert stocked("claim", "state", "--kind", "practice", "--text", "Sit", "--key", "cue").status == 0
    done = stocked("claim", "remove", "cue", "--because", "a\0b")
    assert (done.status, "take it out" in done.text) == (2, True)
    assert stocked("claim", "show", "cue").status == 0


def test_an_empty_place_is_not_taken_for_the_usual_catalogue(stocked: Run) -> None:
    done = stocked("claim", "list", "--catalogue", "")
    assert (done.status, "no place is named" in done.text) == (2, True)


def test_a_name_is_added_once_and_what_it_meant_is_told(stocked: Run) -> None:
    taken = stocked("words", "add-exercise", "my_squat", "Squat")
    assert (taken.status, "means barbell back squat (back_squat) already" in taken.text) == (2, True)
    assert "now means" in stocked("words", "add-alias", "piston", "back_squat").text
    assert (
        "means barbell back squat (back_squat) already"
        in stocked("words", "add-alias", "piston", "back_squat").text
    )
    other = stocked("words", "add-alias", "piston", "hamstrings").text
    assert "now means hamstring muscles (hamstrings). It meant barbell back squat" in " ".join(other.split())
    assert len(json.loads(stocked("history", "--json").text)) == 2


def test_days_ahead_and_years_backwards_are_refused(stocked: Run) -> None:
    ahead = stocked("changes", "--since", "2999-01-01")
    assert (ahead.status, "is ahead: today is" in ahead.text) == (2, True)
    backwards = stocked("refs", "find", "squat", "--year", "2020-2010")
    assert (backwards.status, "Write 2010-2020" in backwards.text) == (2, True)


def test_counts_are_told_in_words(stocked: Run, tmp_path: Any) -> None:
    (tmp_path / "cut.bib").write_text("@article{x, title={[Invented] open", "utf-8")
    stocked("refs", "add", "cut.bib")
    checked = " ".join(stocked("check").text.split())
    assert "1 entry of cut.bib could not be read and waits to be mended" in checked
    assert "1 finding." in checked
    assert stocked("claim", "state", "--kind", "practice", "--text", "Sit", "--key", "cue").status == 0
    assert stocked("export", "out").status == 0
    assert "1 claim" in stocked("--catalogue", "other.sqlite", "import", "out").text
