"""`steelyard draft`: the real command, on invented drafts, in order and in disorder."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Steelyard = Callable[..., Any]
UNSAFE = "Train through the pain.\n"
WEAK = "I like tea. It is the best squat for quads.\n"


@pytest.fixture
def ready(steelyard: Steelyard) -> Steelyard:
    assert steelyard("init").status == 0
    return steelyard


def test_the_exit_status_follows_the_severity(ready: Steelyard, tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text(WEAK, "utf-8")
    (tmp_path / "b.md").write_text("I like tea.\n", "utf-8")
    assert ready("draft", "check", "a.md").status == 1
    assert ready("draft", "check", "a.md", "--severity", "error").status == 0
    assert (
        ready("draft", "check", "b.md").text == "b.md: 0 findings in 1 sentence, 0 of them tied to a claim\n"
    )
    assert ready("draft", "check", "b.md").status == 0


def test_one_draft_that_cannot_be_read_does_not_hide_the_others(ready: Steelyard, tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text(UNSAFE, "utf-8")
    (tmp_path / "b.docx").write_bytes(b"no")
    done = ready("draft", "check", "nothere.md", "a.md", "b.docx")
    assert done.status == 2
    assert (
        "there is no such file" in done.text
        and "DOCX file is damaged" in done.text
        and "error: safety" in done.text
    )


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("a.md", "--severity", "loud"), "no severity"),
        (("a.md", "--register", "loud"), "no register"),
        (("a.md", "--fix", "1"), "writes into a copy, and none is named. Add --to COPY."),
        (("a.md", "--to", "c.md"), "says where, but not what. Add --fix."),
        (("a.md", "--fix", "7", "--to", "c.md"), "no number 7"),
        (("a.md", "--fix", "one", "--to", "c.md"), "names no findings"),
        (("a.md", "--fix", "all", "--to", "a.md"), "the draft itself"),
        (("a.md", "--fix", "all", "--to", "b.md"), "--replace"),
        (("a.md", "b.md", "--fix", "all", "--to", "c.md"), "one draft at a time"),
        (("a.pdf",), "no format of drafts"),
        (("a.md", "--format", "odt"), "no format of drafts"),
        (("empty.md",), "empty"),
        (("binary.md",), "not text"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_is_written(
    ready: Steelyard, tmp_path: Path, arguments: tuple[str, ...], said: str
) -> None:
    for name in ("a.md", "b.md", "a.pdf"):
        (tmp_path / name).write_text(UNSAFE, "utf-8")
    (tmp_path / "empty.md").write_text("", "utf-8")
    (tmp_path / "binary.md").write_bytes(b"\x00\x01\x02text")
    done = ready("draft", "check", *arguments)
    assert done.status == 2 and said in done.text, done.text
    assert (tmp_path / "a.md").read_text("utf-8") == UNSAFE and not (tmp_path / "c.md").exists()


def test_a_draft_is_checked_and_tied_from_standard_input(ready: Steelyard, tmp_path: Path) -> None:
    done = ready("draft", "check", "-", stdin=UNSAFE)
    assert done.status == 1 and done.text.startswith("1. standard input:1:1: error: safety\n")
    timed = "WEBVTT\n\n00:01.000 --> 00:02.000\n" + UNSAFE
    assert (
        "standard input:00:00:01.000:" in ready("draft", "check", "-", "--format", "webvtt", stdin=timed).text
    )
    (tmp_path / "a.md").write_text("I like tea.\n", "utf-8")
    both = ready("draft", "check", "a.md", "-", stdin=UNSAFE).text
    assert "a.md: 0 findings" in both and "standard input: 1 finding " in both
    assert ready("draft", "check", "-", "--fix", "all", "--to", "c.md", stdin=UNSAFE).status == 1
    assert (tmp_path / "c.md").read_text("utf-8") == UNSAFE
    assert ready("draft", "tie", "-", stdin=UNSAFE).text == "0 ties proposed.\n"


@pytest.mark.parametrize(
    ("arguments", "typed", "said"),
    [
        (("-", "-"), UNSAFE, "can be read only once"),
        (("-", "--record"), UNSAFE, "has no name to be stored under. Save it, and name the file."),
        (("-", "--watch"), UNSAFE, "is there only once. Save it, and name the file."),
        (("-",), "", "no text came in. Paste or pipe a draft, or name its file."),
        (("-",), b"PK\x03\x04...", "a DOCX draft is read from a file only"),
        (("-", "--format", "docx"), UNSAFE, "a DOCX draft is read from a file only"),
        (("-", "--format", "odt"), UNSAFE, "no format of drafts"),
        (("-",), b"\x00\x01\x02text", "not text"),
    ],
)
def test_what_cannot_be_read_from_standard_input_is_said(
    ready: Steelyard, arguments: tuple[str, ...], typed: str | bytes, said: str
) -> None:
    done = ready("draft", "check", *arguments, stdin=typed)
    assert done.status == 2 and said in done.text, done.text


def test_json_and_sarif_hold_the_same_findings(ready: Steelyard, tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text(UNSAFE, "utf-8")
    done = ready("draft", "check", "a.md", "--json", "--sarif", "out.sarif")
    (draft,) = json.loads(done.text)
    run = json.loads((tmp_path / "out.sarif").read_text("utf-8"))["runs"][0]
    assert [f["kind"] for f in draft["findings"]] == [r["ruleId"] for r in run["results"]] == ["safety"]
    assert draft["findings"][0]["place"] == {"line": 1, "column": 1, "cue": None}
    assert draft["findings"][0]["suggestions"][0]["register"] == "caution"


def test_text_that_steers_a_terminal_or_turns_its_direction_is_shown_as_text(
    ready: Steelyard, tmp_path: Path
) -> None:
    text = "\x1b[31mTrain through the pain\x1b[0m \u202eevil, =cmd() #set text(red) <script>x</script>.\n"
    (tmp_path / "a.md").write_text(text, "utf-8")
    done = ready("draft", "check", "a.md")
    assert done.status == 1 and "error: safety" in done.text
    assert "\x1b" not in done.text and "\u202e" not in done.text


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_usual_encodings_and_line_ends_are_read_and_places_hold(
    ready: Steelyard, tmp_path: Path, encoding: str
) -> None:
    (tmp_path / "a.txt").write_bytes(
        f"Café, größer.\r\n\r\nWell… {UNSAFE}".replace("\n", "\r\n").encode(encoding)
    )
    done = ready("draft", "check", "a.txt", "--json")
    (finding,) = json.loads(done.text)[0]["findings"]
    assert finding["kind"] == "safety" and finding["place"]["column"] == 7


def test_ties_are_listed_and_written_only_where_asked(ready: Steelyard, tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text("Squats grow the quads more than lunges.\n", "utf-8")
    stated = ready(
        "claim",
        "state",
        "--exercise",
        "back squat",
        "--over",
        "split squat",
        "--region",
        "quads",
        "--outcome",
        "growth",
        "--key",
        "squat",
    )
    assert stated.status == 0, stated.text
    (tmp_path / "a.md").write_text("Back squats grow the quads more than split squats.\n", "utf-8")
    done = ready("draft", "tie", "a.md")
    assert "-> squat:" in done.text and "1 tie proposed." in done.text
    assert ready("draft", "tie", "a.md", "--all", "--to", "b.md").status == 0
    assert (tmp_path / "b.md").read_text(
        "utf-8"
    ) == "[Back squats grow the quads more than split squats.]{claim=squat}\n"
    assert "0 ties proposed" in ready("draft", "tie", "b.md").text
    assert ready("draft", "tie", "a.md", "--all", "--to", "a.md").status == 2


def test_ties_are_not_written_into_captions_which_would_show_them(ready: Steelyard, tmp_path: Path) -> None:
    (tmp_path / "a.srt").write_text("1\n00:00:01,000 --> 00:00:02,000\nSquats grow.\n", "utf-8")
    done = ready("draft", "tie", "a.srt", "--all", "--to", "b.srt")
    assert done.status == 2 and "captions show every sign" in done.text and not (tmp_path / "b.srt").exists()


def test_a_recorded_check_is_told_of_in_the_history(ready: Steelyard, tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text("I like tea.\n", "utf-8")
    assert ready("draft", "check", "a.md", "--record").status == 0
    assert "draft check a.md" in ready("history").text


def test_the_hook_for_commits_runs_this_command_on_these_files() -> None:
    import re

    import yaml

    (hook,) = yaml.safe_load((Path(__file__).parents[3] / ".pre-commit-hooks.yaml").read_text("utf-8"))
    assert hook["entry"].startswith("steelyard draft check ")
    assert all(re.search(hook["files"], f"x{end}") for end in (".md", ".vtt", ".srt", ".docx"))


def test_findings_are_never_written_over_a_draft(ready: Steelyard, tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text(WEAK, "utf-8")
    before = (tmp_path / "a.md").read_bytes()
    done = ready("draft", "check", "a.md", "--sarif", "a.md", "--replace")
    assert (done.status, "is what this is made from" in done.text) == (2, True)
    assert (tmp_path / "a.md").read_bytes() == before
    (tmp_path / "notes.txt").write_text("mine", "utf-8")
    assert ready("draft", "check", "a.md", "--sarif", "notes.txt").status == 2
    assert (tmp_path / "notes.txt").read_text("utf-8") == "mine"
    for _ in range(2):  # the findings of a check that runs again are written again
        assert ready("draft", "check", "a.md", "--sarif", "out.sarif").status < 2


def test_a_range_that_runs_backwards_is_refused(ready: Steelyard, tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text(UNSAFE + "\n" + UNSAFE + "\n" + UNSAFE, "utf-8")
    done = ready("draft", "check", "a.md", "--fix", "3-1", "--to", "c.md")
    assert done.status == 2 and "runs backwards" in done.text and "1-3" in done.text
    assert not (tmp_path / "c.md").exists()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("audience: 5", "audience: 5"),
        ("audience: [a, b]", "audience"),
        ("register: banana", "short, plain or full"),
        ("register: 7", "register: 7"),
        ("checked: yesterday", "as in 2026-04-01"),
        ("title: {a: b}", "title"),
    ],
)
def test_front_matter_that_cannot_be_meant_is_told(
    line: str, said: str, ready: Steelyard, tmp_path: Path
) -> None:
    (tmp_path / "a.md").write_text(f"---\n{line}\n---\nI like tea.\n", "utf-8")
    done = ready("draft", "check", "a.md")
    assert done.status == 0 and "note:" in done.text and said in done.text


def test_front_matter_that_is_right_is_not_told(ready: Steelyard, tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text(
        "---\ntitle: 2026\naudience: women over 60\nregister: full\nchecked: 2026-04-01\n---\nI like tea.\n",
        "utf-8",
    )
    assert "note:" not in ready("draft", "check", "a.md").text


@pytest.mark.parametrize("command", ["check", "tie"])
def test_what_is_no_text_is_told_as_what_it_is(command: str, ready: Steelyard, tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder.md").mkdir()
    (tmp_path / "picture.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(200))
    (tmp_path / "renamed.md").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(200))
    kinds = {
        "folder": "a folder",
        "folder.md": "a folder",
        "picture.png": "a picture",
        "renamed.md": "a picture",
    }
    for name, said in kinds.items():
        done = ready("draft", command, name)
        assert done.status == 2 and said in done.text, done.text


def test_writing_a_copy_does_not_list_every_finding_again(ready: Steelyard, tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text(UNSAFE, "utf-8")
    done = ready("draft", "check", "a.md", "--fix", "1", "--to", "c.md")
    assert "Wrote c.md" in done.text and "^^^" not in done.text
