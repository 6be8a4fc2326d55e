"""Files and options that are not what they say: a sentence with the place, nothing stored, no traceback."""

import gzip
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

BOMB = "a: &a [x,x,x,x,x,x,x,x,x]\n" + "\n".join(
    f"{chr(98 + i)}: &{chr(98 + i)} [{','.join(['*' + chr(97 + i)] * 9)}]" for i in range(9)
)
HOSTILE = {
    "binary": bytes(range(256)) * 40,
    "empty": b"",
    "only spaces": b"   \n\n  ",
    "utf-16 rubbish": b"\xff\xfe\x00\xd8\x00",
    "truncated gzip": gzip.compress(b"@article{a, title={x}}" * 50)[:40],
    "nul bytes": b"steelyard: study/1\x00key: a",
    "python object": b"!!python/object/apply:os.system ['echo owned > owned.txt']",
    "alias bomb": BOMB.encode(),
    "deep nesting": b"[" * 5000,
    "png": b"\x89PNG\r\n\x1a\n" + bytes(200),
    "zip": b"PK\x03\x04" + bytes(200),
    "html": b"<html><script>alert(1)</script></html>",
    "yaml list": b"- 1\n- 2\n",
    "bare word": b"hello",
}
COMMANDS = {
    "refs add": ("refs", "add"),
    "study load": ("study", "load"),
    "results load": ("results", "load", "plate-2017"),
    "programme annotate": ("programme", "annotate"),
    "refs notices apply": ("refs", "notices", "apply"),
    "import": ("--catalogue", "other.sqlite", "import"),
    "restore": ("restore",),
}


@pytest.fixture
def stocked(steelyard: Run, demo_inputs: Path) -> Run:
    assert steelyard("init").status == 0
    assert steelyard("refs", "add", demo_inputs / "references.bib").status == 0
    assert steelyard("study", "load", demo_inputs / "studies" / "plate-2017.yaml").status == 0
    return steelyard


def state(steelyard: Run) -> str:
    return "".join(
        steelyard(*c, "--json").text for c in (("refs", "list"), ("study", "list"), ("claim", "list"))
    )


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("ending", [".yaml", ".csv", ".bib", ".xlsx"])
def test_a_file_that_is_not_what_it_says_stores_nothing_and_is_told(
    stocked: Run, tmp_path: Path, command: str, ending: str
) -> None:
    before = state(stocked)
    for name, content in HOSTILE.items():
        path = tmp_path / f"{name.replace(' ', '-')}{ending}"
        path.write_bytes(content)
        done = stocked(*COMMANDS[command], path)
        assert done.status in (0, 1, 2, 3), f"{command} {name}: {done.text}"
        assert "was not built for" not in done.text, f"{command} {name}: {done.text}"
        if done.status == 2:
            assert len(done.text.strip()) > 20
        assert len(done.text) < 20_000
    assert not (tmp_path / "owned.txt").exists()
    assert state(stocked) == before


@pytest.mark.parametrize("command", COMMANDS)
def test_a_missing_file_and_a_folder_in_its_place_are_told(
    stocked: Run, tmp_path: Path, command: str
) -> None:
    missing = stocked(*COMMANDS[command], tmp_path / "no-such-file.yaml")
    assert missing.status in (2, 3)
    assert "no-such-file" in missing.text
    (tmp_path / "folder.yaml").mkdir()
    assert stocked(*COMMANDS[command], tmp_path / "folder.yaml").status in (2, 3)


@pytest.mark.parametrize("command", ["refs add", "study load", "results load", "programme annotate"])
def test_a_file_of_a_hundred_megabytes_is_refused_before_it_is_read(
    stocked: Run, tmp_path: Path, command: str
) -> None:
    path = tmp_path / "huge.yaml"
    with path.open("wb") as file:
        file.truncate(101 * 1024 * 1024)
    done = stocked(*COMMANDS[command], path)
    assert done.status in (1, 2)
    assert "huge.yaml" in done.text or "binary" in done.text


STUDY = """steelyard: study/1
key: oak-2020
title: "[Invented] Bad figures"
invented: true
design: randomised_crossover
pairing: within
people: [{{key: all, analysed: {n}}}]
conditions:
  - {{key: a, exercise: {exercise}, n: {n}}}
  - {{key: b, exercise: leg press, n: {n}}}
outcomes:
  - {{key: emg, construct: activation, instrument: surface EMG, unit: "%MVIC", normalisation: MVIC}}
results:
  - {{outcome: emg, region: gluteus_maximus, condition: a, timepoint: acute, value: {mean}, sd: {sd}, n: {n},
      printed: "{mean} ({sd})", locator: Table 1}}
  - {{outcome: emg, region: gluteus_maximus, condition: b, timepoint: acute, value: 30, sd: 9, n: {n},
      printed: "30 (9)", locator: Table 1}}
"""


def write_study(path: Path, **figures: object) -> Path:
    base = {"n": 12, "exercise": "split squat", "mean": 48, "sd": 12}
    path.write_text(STUDY.format(**{**base, **figures}), "utf-8")
    return path


@pytest.mark.parametrize(
    ("figures", "told"),
    [
        ({"exercise": "moon squat"}, "moon squat"),
        ({"sd": -12}, "negative"),
        ({"n": 0}, "n"),
        ({"exercise": "CP"}, "CP"),
    ],
)
def test_a_study_with_an_impossible_figure_is_refused_with_the_line(
    stocked: Run, tmp_path: Path, figures: dict[str, object], told: str
) -> None:
    done = stocked("study", "load", write_study(tmp_path / "oak.yaml", **figures))
    assert done.status in (2, 3), done.text
    assert told in done.text
    assert "line" in done.text
    assert stocked("study", "show", "oak-2020").status == 3


@pytest.mark.parametrize("figures", [{"mean": 0}, {"mean": -4}, {"n": 1}])
def test_a_ratio_that_cannot_be_made_is_said_to_be_so_and_no_number_is_shown(
    stocked: Run, tmp_path: Path, figures: dict[str, object]
) -> None:
    loaded = stocked("study", "load", write_study(tmp_path / "oak.yaml", **figures))
    if loaded.status == 2:  # refused at the door is right as well
        return
    stocked(
        "claim", "state", "--exercise", "split squat", "--over", "leg press", "--region", "gluteus maximus",
        "--outcome", "activation", "--key", "c",
    )  # fmt: skip
    told = json.loads(stocked("weigh", "c", "--json").text)
    assert told["scale"] != "log_ratio_of_means" or told["pooled"] is None


def test_every_problem_of_a_study_file_is_told_at_once(stocked: Run, tmp_path: Path) -> None:
    done = stocked("study", "load", write_study(tmp_path / "oak.yaml", exercise="moon squat", sd=-1))
    assert "moon squat" in done.text and "negative" in done.text


def test_a_claim_about_unknown_things_is_not_stored(stocked: Run) -> None:
    for options in (
        ("--exercise", "moon squat", "--over", "leg press", "--outcome", "growth"),
        ("--exercise", "back squat", "--over", "back squat", "--outcome", "growth"),
        ("--exercise", "back squat", "--over", "leg press", "--outcome", "beauty"),
        ("--exercise", "back squat", "--over", "leg press", "--outcome", "growth", "--says", "better"),
        ("--exercise", "back squat", "--over", "leg press", "--outcome", "growth", "--margin", "-1"),
        ("--exercise", "back squat", "--over", "leg press", "--outcome", "growth", "--key", "Not A Key"),
        ("--exercise", "back squat", "--over", "leg press", "--outcome", "growth", "--detail", "nonsense"),
        ("--exercise", "", "--over", "leg press", "--outcome", "growth"),
        ("--exercise", "GM", "--over", "leg press", "--outcome", "growth"),
    ):
        assert stocked("claim", "state", *options).status in (2, 3), options
    assert json.loads(stocked("claim", "list", "--json").text) == []


def test_what_is_not_there_ends_with_status_3_and_near_names(stocked: Run) -> None:
    for command in (
        ("study", "show", "plate-2018"),
        ("refs", "show", "plate17"),
        ("weigh", "x"),
        ("brief", "x"),
    ):
        assert stocked(*command).status == 3, command
    assert "plate-2017" in stocked("study", "show", "plate-2018").text


def test_without_a_catalogue_the_way_to_one_is_told(steelyard: Run) -> None:
    done = steelyard("refs", "list")
    assert done.status == 3
    assert "steelyard init" in done.text


def test_a_catalogue_is_not_made_over_something(stocked: Run, tmp_path: Path) -> None:
    assert stocked("init").status == 2
    (tmp_path / "notes.txt").write_text("mine")
    assert stocked("--catalogue", tmp_path / "notes.txt", "init").status == 2
    assert stocked("--catalogue", tmp_path / "notes.txt", "refs", "list").status == 2
    assert (tmp_path / "notes.txt").read_text() == "mine"


@pytest.mark.parametrize("text", ["", "\x00\x01\x02", "nothing here", "1", "a\tb\n", "é" * 500, "1 " * 5000])
def test_a_paste_that_is_no_table_is_told(stocked: Run, text: str) -> None:
    done = stocked("results", "paste", "plate-2017", "--from", "full text", "--store", stdin=text)
    assert done.status in (1, 2)
    assert "No result yet" in stocked("results", "show", "plate-2017").text


def test_answers_that_answer_nothing_are_refused(stocked: Run, demo_inputs: Path) -> None:
    table = (demo_inputs / "pasted_table.txt").read_text("utf-8")
    for options in (
        ("--spread", "SDD"), ("--from", "memory"), ("--time", "noon"), ("--outcome", "none"), ("--says", "x"),
        ("--says", "Nordic curl=moon"), ("--answer", "weather=fine"), ("--answer", "spread"),
    ):  # fmt: skip
        assert stocked("results", "paste", "plate-2017", *options, stdin=table).status == 2, options


def test_text_from_files_is_text_on_the_page(stocked: Run, tmp_path: Path) -> None:
    path = tmp_path / "plan.csv"
    path.write_text(
        'day,exercise,sets,reps,note\n<script>alert(1)</script>,Back squat,3,5,"<img src=x onerror=alert(1)>"\n'
    )
    assert stocked("programme", "annotate", path, "--to", tmp_path / "p.html").status == 0
    html = (tmp_path / "p.html").read_text("utf-8")
    assert "<script" not in html and "<img" not in html


def test_a_page_is_written_whole_or_not_at_all(stocked: Run, demo_inputs: Path, tmp_path: Path) -> None:
    programme = demo_inputs / "programme.yaml"
    for place in ("no-folder/p.html", "p.exe"):
        assert stocked("programme", "annotate", programme, "--to", tmp_path / place).status == 2
    (tmp_path / "dir.html").mkdir()
    assert stocked("programme", "annotate", programme, "--to", tmp_path / "dir.html").status == 2
    assert not list(tmp_path.rglob("*.part"))
