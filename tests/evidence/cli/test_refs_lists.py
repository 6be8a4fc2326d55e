"""`refs list`, `refs read`, `refs mend`, `refs notices list`, `refs add` of folders; invented references."""

import gzip
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]


@pytest.fixture
def stocked(steelyard: Run, demo_inputs: Path) -> Run:
    assert steelyard("init").status == 0
    assert steelyard("refs", "add", demo_inputs / "references.bib").status == 0
    return steelyard


def keys(run: Run, *options: str) -> list[str]:
    done = run("refs", "list", *options, "--json")
    assert done.status == 0, done.text
    return [line["key"] for line in json.loads(done.text)]


def test_years_are_one_or_a_stretch_open_at_either_end(stocked: Run) -> None:
    every = keys(stocked)
    late, early = keys(stocked, "--year", "2020-"), keys(stocked, "--year", "-2019")
    assert sorted(late + early) == sorted(every)
    assert late
    assert early
    assert keys(stocked, "--year", "2021") == ["chalk2021"]
    assert set(keys(stocked, "--year", "2020-2021")) == set(keys(stocked, "--year", "2020")) | {"chalk2021"}
    for year in ("soon", "-", "20201", "2020-x", ""):
        assert stocked("refs", "list", "--year", year).status == 2


def test_an_author_need_not_be_the_first_and_accents_do_not_matter(steelyard: Run, tmp_path: Path) -> None:
    steelyard("init")
    (tmp_path / "a.bib").write_text(
        "@book{a, title={Squats}, author={First, Ann and Muñoz-Gård, Þóra}}\n"
        "@book{b, title={Lunges}, author={Other, B}}"
    )
    steelyard("refs", "add", tmp_path / "a.bib")
    assert keys(steelyard, "--author", "munoz") == ["a"]
    assert keys(steelyard, "--author", "Ann First") == ["a"]
    assert keys(steelyard, "--author", "Ann Other") == []


def test_pages_follow_each_other_without_gap_or_overlap(stocked: Run) -> None:
    every = keys(stocked)
    pages = [keys(stocked, "--most", "5", "--from", str(start)) for start in (1, 6, 11, 16)]
    assert [len(page) for page in pages] == [5, 5, 2, 0]
    assert [key for page in pages for key in page] == every
    assert "1 to 5 of 12; next: --from 6" in stocked("refs", "list", "--most", "5").text
    assert "none of 12" in stocked("refs", "list", "--from", "99").text
    assert (
        keys(stocked, "--author", "anvil", "--most", "1", "--from", "2")
        == keys(stocked, "--author", "anvil")[1:2]
    )
    assert stocked("refs", "list", "--from", "0").status == 2


def test_how_far_a_reference_was_read_is_noted_and_asked_for(stocked: Run) -> None:
    assert stocked("refs", "read", "chalk2021", "anvil2019", "--abstract").status == 0
    assert stocked("refs", "read", "chalk2021", "--full-text").status == 0
    assert keys(stocked, "--state", "abstract") == ["anvil2019"]
    assert keys(stocked, "--state", "full-text") == ["chalk2021"]
    assert len(keys(stocked, "--state", "unread")) == 10
    assert "(as before)" in stocked("refs", "read", "chalk2021", "--full-text").text
    stocked("refs", "read", "chalk2021", "--unread")
    assert len(keys(stocked, "--state", "unread")) == 11
    stocked("undo")
    assert keys(stocked, "--state", "full-text") == ["chalk2021"]


def test_an_unknown_key_changes_nothing_and_one_state_must_be_given(stocked: Run) -> None:
    assert stocked("refs", "read", "chalk2021", "nobody", "--abstract").status == 3
    assert keys(stocked, "--state", "abstract") == []
    assert stocked("refs", "read", "chalk2021").status == 2
    assert stocked("refs", "read", "chalk2021", "--abstract", "--unread").status == 2
    assert stocked("refs", "list", "--state", "devoured").status == 2


def test_references_of_studies_are_told_from_others(stocked: Run, demo_inputs: Path) -> None:
    assert keys(stocked, "--state", "in-study") == []
    stocked("study", "load", demo_inputs / "studies" / "rack-2016.yaml")
    assert len(keys(stocked, "--state", "in-study")) == 1
    assert not set(keys(stocked, "--state", "in-study")) & set(keys(stocked, "--state", "no-study"))


def test_entries_to_mend_are_listed_with_line_and_reason_written_out_and_settled(
    steelyard: Run, tmp_path: Path
) -> None:
    steelyard("init")
    assert "no entry" in steelyard("refs", "mend").text
    (tmp_path / "cut.json").write_text('[{"id":"a","type":"book","title":"Squats"},\n{"id":"b","title":}\n]')
    assert steelyard("refs", "add", tmp_path / "cut.json").status == 1
    listed = steelyard("refs", "mend")
    assert listed.status == 1
    assert "cut.json, line 2: " in listed.text
    assert '{"id":"b","title":}' in listed.text
    (entry,) = json.loads(steelyard("refs", "mend", "--json").text)
    assert entry["line"] == 2
    assert steelyard("refs", "mend", "--to", tmp_path / "mend.json").status == 1
    assert '"id":"b"' in (tmp_path / "mend.json").read_text()
    assert steelyard("refs", "mend", "--to", tmp_path / "mend.json").status == 2
    assert steelyard("refs", "mend", "--settled", "99").status == 3
    assert steelyard("refs", "mend", "--settled", str(entry["number"])).status == 0
    assert steelyard("refs", "mend").status == 0
    steelyard("undo")
    assert steelyard("refs", "mend").status == 1


def test_a_folder_is_added_whole_and_a_file_that_is_none_of_references_costs_no_other(
    steelyard: Run, tmp_path: Path, demo_inputs: Path
) -> None:
    steelyard("init")
    folder = tmp_path / "library"
    (folder / "below").mkdir(parents=True)
    text = (demo_inputs / "references.bib").read_bytes()
    (folder / "below" / "all.bib.gz").write_bytes(gzip.compress(text))
    (folder / "picture.bin").write_bytes(bytes(range(256)) * 9)
    (folder / "again.bib").write_bytes(text)
    (folder / ".hidden.bib").write_text("@book{h, title={Hidden}}")
    done = steelyard("refs", "add", folder, "--json")
    assert done.status == 1
    reports = {report["name"]: report for report in json.loads(done.text)}
    assert set(reports) == {"again.bib", "below/all.bib.gz", "picture.bin"}
    assert len(reports["again.bib"]["added"]) == 12
    assert len(reports["below/all.bib.gz"]["known"]) == 13
    assert reports["picture.bin"]["problems"][0]["severity"] == "error"
    assert len(keys(steelyard)) == 12
    assert steelyard("history").text.count("refs add library") == 1
    (tmp_path / "nothing").mkdir()
    assert steelyard("refs", "add", tmp_path / "nothing").status == 2


def test_no_progress_bar_is_drawn_where_nobody_watches(stocked: Run, demo_inputs: Path) -> None:
    done = stocked("refs", "add", demo_inputs / "references.bib")
    assert "%" not in done.text
    assert "\r" not in done.text


def test_notices_are_listed_with_their_studies_and_silence_is_not_called_clean(
    stocked: Run, demo_inputs: Path, tmp_path: Path
) -> None:
    before = stocked("refs", "notices", "list")
    assert before.status == 0
    assert "12 never looked up" in before.text
    stocked("study", "load", *sorted((demo_inputs / "studies").glob("*.yaml")))
    notice = {
        "DOI": "10.5555/notice.1",
        "title": ["Retraction"],
        "update-to": [
            {"DOI": "10.5555/steelyard.demo.03", "type": "retraction", "updated": {"date-parts": [[2024]]}}
        ],
    }
    (tmp_path / "notices.json").write_text(json.dumps([notice]))
    applied = stocked("refs", "notices", "apply", tmp_path / "notices.json")
    assert applied.status == 0, applied.text
    done = stocked("refs", "notices", "list")
    assert done.status == 1
    assert "retracted" in done.text
    assert "11 not listed" in done.text
    assert "clean" not in done.text
    known = json.loads(stocked("refs", "notices", "list", "--json").text)
    (noticed,) = known["noticed"]
    assert (noticed["key"], noticed["notice"]) == ("chalk2021", "retracted")
    assert noticed["studies"]
    assert noticed["checked_on"]
    assert keys(stocked, "--state", "noticed") == ["chalk2021"]
