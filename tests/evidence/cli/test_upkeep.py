"""changes, review, reading-list, uses and claim reviewed, through the real command, on the demonstration."""

import json
import shutil
from pathlib import Path

import pytest
import typer

from evidence.workflows.demonstrating import demonstrate


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "made"
    demonstrate(folder, lambda line: None)
    return folder


@pytest.fixture
def demo(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, steelyard):
    shutil.copytree(made, tmp_path / "demo")
    monkeypatch.setenv("STEELYARD_CATALOGUE", str(tmp_path / "demo" / "demonstration.sqlite"))
    return steelyard


def test_after_the_demonstration_something_moved(demo) -> None:
    said = demo("changes")
    assert said.status == 0
    assert "thrust-growth" in said.text
    assert "INVENTED" in said.text
    assert "NO LONGER HOLDS" in said.text
    assert "1 claim moved since it was last seen; 1 of 8 had to be weighed anew." in said.text


def test_changes_as_data(demo) -> None:
    data = json.loads(demo("changes", "--json").text)
    assert [c["key"] for c in data["claims"]] == ["thrust-growth"]
    assert data["claims"][0]["uses"][0]["holds"] is False


def test_a_retraction_in_a_file_is_applied_and_then_told(demo) -> None:
    assert (
        "rack2016 is now retracted" in demo("refs", "notices", "apply", "demo/inputs/later/notices.csv").text
    )
    assert "standing-calf-growth" in demo("changes").text
    review = demo("review")
    assert "rack2016 is retracted" in review.text
    assert "Is the question still a question" in review.text
    assert {d["key"] for d in json.loads(demo("review", "--json").text)["due"]} >= {"standing-calf-growth"}


def test_notes_are_shown_or_written_and_never_over_others_unasked(demo, tmp_path: Path) -> None:
    assert "# Correction: programme" in demo("changes", "--notes").text
    assert demo("changes", "--notes", "--to", "notes").status == 0
    written = list((tmp_path / "notes").glob("*.md"))
    assert len(written) == 1
    refused = demo("changes", "--notes", "--to", "notes")
    assert (refused.status, "--replace" in refused.text) == (2, True)
    assert demo("changes", "--notes", "--to", "notes", "--replace").status == 0
    assert demo("changes", "--to", "notes").status == 2


def test_seen_and_since(demo) -> None:
    assert "stored" in demo("changes", "--seen").text
    assert demo("changes").text.startswith("0 claims moved")
    assert "thrust-growth" in demo("changes", "--since", "2").text
    assert demo("changes", "--since", "soon").status == 2


def test_a_source_that_is_retracted_is_told_until_it_is_seen(demo, tmp_path: Path) -> None:
    (tmp_path / "script.md").write_text("Standing calf raises grow the calves [@rack2016].\n", "utf-8")
    made = demo("publish", "sources", "script.md", "--to", "sources.txt")
    assert made.status == 0, made.text
    assert "is now retracted" in demo("refs", "notices", "apply", "demo/inputs/later/notices.csv").text
    told = demo("changes").text
    assert "source list" in told
    assert "the source is now marked: retracted" in told
    uses = demo("uses", "rack2016").text
    assert "moved: notice" in uses
    assert demo("changes", "--seen").status == 0
    assert demo("changes").text.startswith("0 claims moved")
    assert "NO LONGER HOLDS" in demo("uses", "rack2016").text  # seen, and still not true
    assert "the source is now marked: retracted" in demo("changes", "--since", "2").text


def test_a_note_on_a_claim_is_no_reason_why_it_moved(demo) -> None:
    assert demo("changes", "--seen").status == 0
    assert demo("claim", "edit", "standing-calf-growth", "--note", "to be asked again").status == 0
    assert demo("claim", "falsifier", "standing-calf-growth", "a trial that finds less").status == 0
    assert "is now retracted" in demo("refs", "notices", "apply", "demo/inputs/later/notices.csv").text
    why = [line for line in demo("changes").text.splitlines() if "why:" in line]
    assert len(why) == 1
    assert "rack-2016 is left out" in why[0]
    assert "somebody changed" not in why[0]


def test_uses_of_a_claim_a_reference_and_all(demo) -> None:
    assert "programme" in demo("uses", "thrust-growth").text
    assert "seated-curl-growth" in demo("uses", "chalk2021").text
    everything = json.loads(demo("uses", "--all", "--json").text)
    assert {u["kind"] for u in everything} == {"brief", "programme"}
    assert demo("uses").status == 2
    assert demo("uses", "nothing-of-this-name").status == 3


def test_a_review_is_noted_with_the_day_of_the_next(demo) -> None:
    said = demo("claim", "reviewed", "thrust-growth", "--note", "read it", "--next", "2999-01-01")
    assert "next review 2999-01-01" in said.text
    assert demo("changes").text.startswith("0 claims moved")
    assert demo("claim", "reviewed", "thrust-growth", "--next", "soon").status == 2


def test_the_reading_list_names_what_to_look_for(demo) -> None:
    said = demo("reading-list", "--most", "3")
    assert "look for:" in said.text
    assert "rule of thumb" in said.text
    assert len(json.loads(demo("reading-list", "--most", "3", "--json").text)["wishes"]) == 3


def test_an_empty_catalogue_has_nothing_to_tell(steelyard) -> None:
    steelyard("init")
    assert steelyard("changes").text.startswith("0 claims moved")
    assert "0 claims of 0 due" in steelyard("review").text
    assert "Nothing to look for" in steelyard("reading-list").text
    assert "Nothing was published yet." in steelyard("uses", "--all").text


def test_every_command_that_writes_a_file_asks_before_it_writes_over_one() -> None:
    from evidence.cli.main import app

    left = []
    for path, command in walk(typer.main.get_command(app), ()):
        names = {name for p in command.params for name in p.opts}
        # `refs mend` never writes over a file.
        if "--to" in names and "--replace" not in names and path != ("refs", "mend"):
            left.append(" ".join(path))
    assert left == []


def walk(command, path):
    if hasattr(command, "commands"):
        for name, inner in command.commands.items():
            yield from walk(inner, (*path, name))
    else:
        yield path, command


def test_a_catalogue_that_was_exported_and_imported_tells_the_same(demo, tmp_path: Path) -> None:
    before = json.loads(demo("changes", "--json").text)
    assert demo("export", "as-text").status == 0
    assert demo("--catalogue", str(tmp_path / "copy.sqlite"), "import", "as-text").status == 0
    after = json.loads(demo("--catalogue", str(tmp_path / "copy.sqlite"), "changes", "--json").text)
    for found in (before, after):
        found.pop("at")
        for claim in found["claims"]:
            claim["now"].pop("at")
    assert after == before


def test_a_command_that_was_seen_reviewed_and_undone_leaves_the_history_whole(demo) -> None:
    demo("changes", "--seen")
    demo("claim", "reviewed", "thrust-growth")
    assert demo("undo").status == 0
    assert demo("check").status == 0


def test_notes_come_as_data_and_a_format_needs_a_folder(demo, tmp_path: Path) -> None:
    said = json.loads(demo("changes", "--notes", "--json").text)
    assert len(said["notes"]) == 1
    written = json.loads(demo("changes", "--notes", "--to", "notes", "--json").text)["written"]
    assert [Path(name).is_file() for name in written] == [True]
    refused = demo("changes", "--notes", "--format", "pdf")
    assert (refused.status, "Add --notes --to FOLDER" in refused.text) == (2, True)


def test_one_of_a_key_and_all_is_named(demo) -> None:
    assert "both given" in demo("uses", "thrust-growth", "--all").text
    assert "No claim and no reference is named" in demo("uses").text


def test_a_folder_that_is_not_there_leaves_no_empty_catalogue_behind(demo, tmp_path: Path) -> None:
    new = tmp_path / "new.sqlite"
    assert demo("--catalogue", str(new), "import", "nowhere").status == 3
    assert not new.exists()
