"""The whole job through the real command, on the invented demonstration data."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
CURLS = ("--exercise", "seated leg curl", "--over", "lying leg curl", "--region", "hamstrings")


@pytest.fixture
def stocked(steelyard: Run, demo_inputs: Path) -> Run:
    assert steelyard("init").status == 0
    assert steelyard("refs", "add", demo_inputs / "references.bib").status == 0
    assert steelyard("study", "load", *sorted((demo_inputs / "studies").glob("*.yaml"))).status == 0
    return steelyard


def test_the_demonstration_runs_twice_and_leaves_two_pages_that_say_they_are_invented(
    steelyard: Run, tmp_path: Path
) -> None:
    for _ in range(2):
        done = steelyard("demo", tmp_path / "demo", "--no-open")
        assert done.status == 0, done.text
    assert "confidence: low (between low and moderate)\n" in done.text  # the level first, as lists have it
    for page in ("brief.html", "programme.html"):
        html = (tmp_path / "demo" / page).read_text("utf-8")
        assert "Invented data" in html
        assert "<script" not in html


def test_the_demonstration_touches_no_folder_that_holds_anything_else(steelyard: Run, tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "notes.txt").write_text("mine")
    done = steelyard("demo", folder, "--no-open")
    assert done.status == 2
    assert "holds other files" in done.text
    assert [p.name for p in folder.iterdir()] == ["notes.txt"]


def test_a_second_import_of_the_same_references_changes_nothing(stocked: Run, demo_inputs: Path) -> None:
    before = stocked("refs", "list", "--json").text
    again = stocked("refs", "add", demo_inputs / "references.bib")
    assert again.status == 0
    assert "0 added, 13 already here" in again.text
    assert stocked("refs", "list", "--json").text == before


def test_two_entries_of_one_work_are_kept_once_with_both_texts_and_keys(stocked: Run) -> None:
    shown = json.loads(stocked("refs", "show", "anvil2019", "--json").text)
    assert shown["key"] == "anvil2019"
    assert stocked("refs", "show", "anvil19emg").status == 3
    assert "Anvil" in shown["full"]


def test_the_same_study_file_is_not_loaded_twice(stocked: Run, demo_inputs: Path) -> None:
    again = stocked("study", "load", demo_inputs / "studies" / "rack-2016.yaml")
    assert again.status == 0
    assert "already here" in again.text


def test_a_changed_study_file_needs_a_word_before_it_replaces_the_stored_one(
    stocked: Run, demo_inputs: Path, tmp_path: Path
) -> None:
    changed = tmp_path / "rack.yaml"
    changed.write_text(
        (demo_inputs / "studies" / "rack-2016.yaml").read_text("utf-8").replace("19.8", "19.9"), "utf-8"
    )
    refused = stocked("study", "load", changed)
    assert refused.status == 2
    assert "--replace" in refused.text
    assert stocked("study", "load", changed, "--replace").status == 0
    assert "19.9" in stocked("results", "show", "rack-2016").text
    assert stocked("undo").status == 0
    assert "19.8" in stocked("results", "show", "rack-2016").text


def test_a_study_written_out_and_loaded_elsewhere_is_the_same(
    stocked: Run, tmp_path: Path, demo_inputs: Path
) -> None:
    text = stocked("study", "show", "anvil-2019", "--file").text
    path = tmp_path / "again.yaml"
    path.write_text(text, "utf-8")
    assert stocked("study", "load", path, "--replace").status == 0
    assert stocked("study", "show", "anvil-2019", "--file").text == text


def test_a_table_is_stored_only_when_nothing_is_in_doubt(stocked: Run, demo_inputs: Path) -> None:
    table = (
        (demo_inputs / "pasted_table.txt")
        .read_text("utf-8")
        .replace("Mean (SD) n", "N")
        .replace("Values are mean (SD). ", "")
    )
    asked = stocked("results", "paste", "plate-2017", "--from", "full text", "--store", stdin=table)
    assert asked.status == 2
    assert "nothing was stored" in asked.text
    assert "No result yet" in stocked("results", "show", "plate-2017").text
    told = stocked(
        "results",
        "paste",
        "plate-2017",
        "--spread",
        "SD",
        "--where",
        "Table 2",
        "--from",
        "full text",
        "--store",
        stdin=table,
    )
    assert told.status == 0, told.text
    assert "49.2 (15.8)*" in stocked("results", "show", "plate-2017").text


def test_a_cell_that_cannot_be_read_is_told_before_and_when_the_rest_is_stored(
    stocked: Run, demo_inputs: Path
) -> None:
    table = (demo_inputs / "pasted_table.txt").read_text("utf-8").replace("80.3 (22.1)", "8O.3 (22.l)")
    ask = ("results", "paste", "plate-2017", "--from", "full text", "--where", "Table 2")
    looked = stocked(*ask, stdin=table)
    assert looked.status == 1
    assert "Set aside: 8O.3 (22.l)" in looked.text
    assert "Left out, not read: 8O.3 (22.l)." in stocked(*ask, "--store", stdin=table).text


def test_a_table_pasted_twice_is_stored_once(stocked: Run, demo_inputs: Path) -> None:
    table = (demo_inputs / "pasted_table.txt").read_text("utf-8")
    assert (
        stocked("results", "paste", "plate-2017", "--from", "full text", "--store", stdin=table).status == 0
    )
    again = stocked("results", "paste", "plate-2017", "--from", "full text", "--store", stdin=table)
    assert "stored already" in again.text


def test_a_table_saved_as_a_file_is_read_like_a_pasted_one(
    stocked: Run, demo_inputs: Path, tmp_path: Path
) -> None:
    text = (demo_inputs / "pasted_table.txt").read_text("utf-8")
    (tmp_path / "my table.txt").write_text(text, "utf-8")
    ask = ("results", "paste", "plate-2017")
    from_file = json.loads(stocked(*ask, "my table.txt", "--from", "full text", "--json").text)
    pasted = json.loads(stocked(*ask, "-", "--from", "full text", "--json", stdin=text).text)
    named = {"name", "preview"}  # which say where the table came from
    assert from_file["name"] == "my table.txt"
    assert {k: v for k, v in from_file.items() if k not in named} == {
        k: v for k, v in pasted.items() if k not in named
    }
    assert stocked(*ask, "my table.txt", "--from", "full text", "--store").status == 0
    assert "49.2 (15.8)*" in stocked("results", "show", "plate-2017").text
    assert "stored already" in stocked(*ask, "--from", "full text", "--store", stdin=text).text


def test_a_file_that_holds_no_table_or_is_none_is_told_by_its_name(stocked: Run, tmp_path: Path) -> None:
    (tmp_path / "words.txt").write_text("Nothing but words.\n", "utf-8")
    for name in ("words.txt", "none.txt"):
        done = stocked("results", "paste", "plate-2017", name)
        assert (done.status, name in done.text) == (2, True), done.text


def test_figures_for_a_place_that_has_figures_are_refused(stocked: Run, demo_inputs: Path) -> None:
    table = (demo_inputs / "pasted_table.txt").read_text("utf-8")
    assert (
        stocked("results", "paste", "plate-2017", "--from", "full text", "--store", stdin=table).status == 0
    )
    other = stocked(
        "results",
        "paste",
        "plate-2017",
        "--from",
        "full text",
        "--store",
        stdin=table.replace("82.4", "83.4"),
    )
    assert other.status == 2
    assert "would stand beside 82.4 (21.3)" in other.text


def test_a_saved_csv_goes_the_same_way_as_a_paste(stocked: Run, tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_text(
        "Muscle;Nordic curl;Romanian deadlift\nSemitendinosus;91,7 (24,0);49,2 (15,8)\nValues are mean (SD)\n",
        "utf-8",
    )
    done = stocked(
        "results", "load", "plate-2017", path, "--from", "full text", "--store", "--where", "Table 2"
    )
    assert done.status == 0, done.text
    assert "91,7 (24,0)" in stocked("results", "show", "plate-2017").text


def test_for_and_against_are_both_shown_and_pooled(stocked: Run) -> None:
    assert stocked("claim", "state", *CURLS, "--outcome", "growth", "--key", "g").status == 0
    told = stocked("weigh", "g")
    assert told.status == 0
    for label in ("Barbell & Plate 2020", "Chalk et al. 2021", "Dumbbell & Sleeve 2022"):
        assert label in told.text
    assert "no clear difference" in told.text
    assert "INVENTED" in told.text


def test_a_study_left_out_is_named_with_the_reason(stocked: Run) -> None:
    stocked("claim", "state", *CURLS, "--outcome", "growth", "--key", "g")
    refused = stocked("claim", "leave-out", "g", "dumbbell-2022", "--because", " ")
    assert refused.status == 2
    assert (
        stocked("claim", "leave-out", "g", "dumbbell-2022", "--because", "runners, not lifters").status == 0
    )
    told = stocked("weigh", "g").text
    assert "runners, not lifters" in told
    assert "2 studies" in told


def test_a_retracted_source_is_not_weighed_and_is_named(stocked: Run, demo_inputs: Path) -> None:
    state = (
        "claim",
        "state",
        "--exercise",
        "leg extension",
        "--over",
        "leg press",
        "--region",
        "rectus femoris",
    )
    stocked(*state, "--outcome", "activation", "--key", "e")
    assert "supported" in stocked("weigh", "e").text
    applied = stocked("refs", "notices", "apply", demo_inputs / "notices.csv")
    assert "sleeve2015 is now retracted" in applied.text
    told = stocked("weigh", "e").text
    assert "nothing found" in told
    assert "retracted" in told


def test_the_same_claim_is_not_stated_twice(stocked: Run) -> None:
    assert stocked("claim", "state", *CURLS, "--outcome", "growth").status == 0
    again = stocked("claim", "state", *CURLS, "--outcome", "hypertrophy", "--key", "other")
    assert again.status == 2
    assert "here already" in again.text


def test_an_ambiguous_name_lists_the_candidates(stocked: Run) -> None:
    found = stocked("words", "find", "GM")
    assert found.status == 1
    assert "gluteus_maximus" in found.text and "gluteus_medius" in found.text


def test_an_own_exercise_and_an_own_alias_are_understood_afterwards(stocked: Run) -> None:
    added = stocked(
        "words",
        "add-exercise",
        "heel_squat",
        "heel-raised squat",
        "--primary",
        "quadriceps",
        "--variant-of",
        "back squat",
    )
    assert added.status == 0, added.text
    assert stocked("words", "add-alias", "hammies", "hamstrings").status == 0
    assert stocked("words", "find", "heel-raised squat").status == 0
    assert "hamstrings" in stocked("words", "find", "hammies").text


def test_a_programme_comes_back_with_claims_sets_and_cautions(
    stocked: Run, demo_inputs: Path, tmp_path: Path
) -> None:
    stocked("claim", "state", *CURLS, "--outcome", "growth", "--key", "g")
    done = stocked("programme", "annotate", demo_inputs / "programme.yaml", "--to", tmp_path / "p.md")
    assert done.status == 0, done.text
    page = (tmp_path / "p.md").read_text("utf-8")
    for expected in ("Seated leg curl", "Dumbbell", "not medical advice", "Fractional", "Invented"):
        assert expected in page
    assert "told in: programme" in stocked("claim", "show", "g").text


def test_a_csv_programme_is_read_too(stocked: Run, tmp_path: Path) -> None:
    path = tmp_path / "plan.csv"
    path.write_text(
        "day,exercise,sets,reps\n1,Back squat,3,5\n1,RDL,3,8-10\n2,Seated leg curl,4,12\n", "utf-8"
    )
    done = stocked("programme", "annotate", path)
    assert done.status == 0, done.text
    assert "hamstring" in done.text


def test_export_and_import_give_the_same_catalogue(stocked: Run, tmp_path: Path) -> None:
    stocked("claim", "state", *CURLS, "--outcome", "growth", "--key", "g")
    stocked("weigh", "g")
    assert stocked("export", tmp_path / "one").status == 0
    assert stocked("--catalogue", tmp_path / "new.sqlite", "import", tmp_path / "one").status == 0
    assert stocked("export", tmp_path / "two", "--catalogue", tmp_path / "new.sqlite").status == 0
    files = sorted(p.relative_to(tmp_path / "one") for p in (tmp_path / "one").rglob("*") if p.is_file())
    assert files
    for name in files:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_a_backup_restored_brings_back_what_was_undone(stocked: Run, tmp_path: Path) -> None:
    stocked("claim", "state", *CURLS, "--outcome", "growth", "--key", "g")
    assert stocked("backup", tmp_path / "b").status == 0
    stocked("undo")
    assert stocked("claim", "show", "g").status == 3
    assert stocked("restore", tmp_path / "b").status == 0
    assert stocked("claim", "show", "g").status == 0


def test_a_misprinted_p_is_found_when_figures_are_checked(stocked: Run) -> None:
    assert stocked("check").status == 0
    found = stocked("check", "--figures")
    assert found.status == 1
    assert "anvil-2019" in found.text and "0.0355" in found.text
    assert found.text.count("Check this figure") == 1


def test_every_change_is_in_the_history_with_its_author(stocked: Run) -> None:
    entries = json.loads(stocked("history", "--most", "50", "--json").text)
    assert len(entries) == 13
    assert {e["who"] for e in entries} == {"Sam"}


def test_json_is_what_its_name_says_for_every_command_that_prints_data(stocked: Run) -> None:
    stocked("claim", "state", *CURLS, "--outcome", "growth", "--key", "g")
    for command in (
        ("refs", "list"), ("refs", "show", "anvil2019"), ("refs", "duplicates"), ("study", "list"),
        ("study", "show", "anvil-2019"), ("results", "show", "anvil-2019"), ("claim", "list"), ("claim", "show", "g"),
        ("weigh", "g"), ("history",), ("check",), ("words", "find", "RDL"),
    ):  # fmt: skip
        json.loads(stocked(*command, "--json").text)


def test_a_verdict_is_marked_when_the_evidence_has_changed_since(stocked: Run, demo_inputs: Path) -> None:
    stocked("claim", "state", *CURLS, "--outcome", "growth", "--key", "g")
    stocked("weigh", "g")
    assert "weigh again" not in stocked("claim", "list").text
    stocked("claim", "leave-out", "g", "chalk-2021", "--because", "another question")
    assert "weigh again" in stocked("claim", "list").text
    assert "weigh again" in stocked("claim", "show", "g").text
    stocked("weigh", "g")
    assert "weigh again" not in stocked("claim", "list").text


def test_a_study_file_does_not_take_pasted_results_away(
    stocked: Run, demo_inputs: Path, tmp_path: Path
) -> None:
    stocked(
        "results",
        "paste",
        "plate-2017",
        "--from",
        "full text",
        "--store",
        stdin=(demo_inputs / "pasted_table.txt").read_text("utf-8"),
    )
    path = tmp_path / "plate.yaml"
    path.write_text(
        (demo_inputs / "studies" / "plate-2017.yaml").read_text("utf-8") + "note: edited\n", "utf-8"
    )
    refused = stocked("study", "load", path, "--replace")
    assert refused.status == 2
    assert "6 results of plate-2017 are not in this file" in refused.text
    assert "82.4 (21.3)" in stocked("results", "show", "plate-2017").text


def test_undo_without_a_number_takes_back_a_change_and_not_a_look(stocked: Run) -> None:
    stocked("claim", "state", *CURLS, "--outcome", "growth", "--key", "g")
    stocked("weigh", "g")
    refused = stocked("undo")
    assert refused.status == 2
    assert "claim state g" in refused.text and "weigh g" in refused.text
    stocked("claim", "leave-out", "g", "chalk-2021", "--because", "another question")
    stocked("weigh", "g")
    assert "claim leave-out g chalk-2021" in stocked("undo").text


def test_undo_names_the_change_and_the_way_back_and_asks_on_a_terminal(
    stocked: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    stocked("claim", "state", *CURLS, "--outcome", "growth", "--key", "g")
    number = json.loads(stocked("history", "--json").text)[0]["number"]
    monkeypatch.setattr("evidence.cli.catalogue.on_terminal", lambda: True)
    kept = stocked("undo", stdin="n\n")
    assert f"Change {number} of 20" in kept.text and "by Sam: claim state g" in kept.text
    assert "Nothing was changed." in kept.text and stocked("claim", "show", "g").status == 0
    done = stocked("undo", stdin="y\n")
    assert f"Undone by change {number + 1}. To bring it back: steelyard undo {number + 1}" in done.text
    assert stocked("claim", "show", "g").status == 3
    back = stocked("undo", str(number + 1))
    assert "Take it back?" not in back.text and stocked("claim", "show", "g").status == 0
    assert "there is no change 9000" in stocked("undo", "9000").text


def test_doubtful_figures_are_told_where_they_are_weighed(stocked: Run) -> None:
    stocked("claim", "state", *CURLS, "--outcome", "activation", "--key", "a")
    assert "t = 2.31 gives p = 0.0355" in stocked("weigh", "a").text


def test_a_figure_that_is_not_the_printed_one_is_told(
    stocked: Run, demo_inputs: Path, tmp_path: Path
) -> None:
    text = stocked("study", "show", "kettle-2018", "--file").text.replace("value: 84.6", "value: 48.6")
    path = tmp_path / "kettle.yaml"
    path.write_text(text, "utf-8")
    assert "48.6 is used" in stocked("study", "load", path, "--replace").text


def test_one_bad_entry_of_a_bib_file_takes_no_neighbour_with_it(stocked: Run, tmp_path: Path) -> None:
    path = tmp_path / "mixed.bib"
    path.write_bytes(
        b"@article{good1, author={Oak, A}, title={[Invented] One}, year=2020}\n"
        b"@article{b\xe2\x80\xaead, author={Elm, B}, title={[Invented] Two}, year=2021}\n"
        b"@article{nul, author={Ash, C}, title={[Invented] Th\x00ree}, year=2022}\n"
        b"@article{good2, author={Yew, D}, title={[Invented] Four}, year=2023}\n"
    )
    stocked("refs", "add", path)
    listed = stocked("refs", "list", "Invented").text
    for author in ("Oak", "Elm", "Yew"):
        assert author in listed


def test_a_table_is_not_stored_before_it_is_said_what_it_was_read_from(
    stocked: Run, demo_inputs: Path
) -> None:
    table = (demo_inputs / "pasted_table.txt").read_text("utf-8")
    refused = stocked("results", "paste", "plate-2017", "--store", stdin=table)
    assert refused.status == 2
    assert "--from" in refused.text
    assert "No result yet" in stocked("results", "show", "plate-2017").text


def test_a_study_file_to_fill_in_is_printed_or_written(stocked: Run) -> None:
    shown = stocked("study", "template", "crossover")
    assert (
        shown.status == 0
        and "design: randomised_crossover" in shown.text
        and "timepoint: acute" in shown.text
    )
    done = stocked("study", "template", "RCT", "--to", "oak.yaml")
    assert "Fill it in, then: steelyard study load oak.yaml" in done.text
    assert "--replace" in stocked("study", "template", "RCT", "--to", "oak.yaml").text
    refused = stocked("study", "load", "oak.yaml")
    assert refused.status == 2 and "oak.yaml, line 5: key is empty." in refused.text
    unknown = stocked("study", "template", "guesswork")
    assert unknown.status == 2 and "There are: randomised_parallel, randomised_crossover" in unknown.text
