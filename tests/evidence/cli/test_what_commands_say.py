"""Small things that commands say, as a newcomer meets them: one of a thing, what to do next, no repeats."""

from pathlib import Path
from typing import Any

import pytest

from evidence.cli.demonstration import called_as
from evidence.cli.frame import counted

Steelyard = Any

STUDY = """
steelyard: study/1
key: holly-2026
title: "[Invented] Two squats, open data"
invented: true
references: [{doi: 10.5555/says.1}]
design: DESIGN
people: [{key: all, analysed: 6, sex: both, training_status: trained, health: healthy}]
conditions:
  - {key: split, exercise: split squat, printed: Split squats, n: 6}
  - {key: press, exercise: leg press, n: 6}
outcomes: [{key: emg, construct: activation, unit: "%MVIC", normalisation: mvc_standard_isometric}]
"""
PEOPLE = "subject,condition,post\n" + "".join(
    f"{n},split,{50 + 3 * n}\n{n},press,{30 + 2 * n + n % 2}\n" for n in range(1, 7)
)


def store(steelyard: Steelyard, folder: Path, design: str = "randomised_crossover") -> None:
    steelyard("init")
    (folder / "s.yaml").write_text(STUDY.replace("DESIGN", design))
    assert steelyard("study", "load", "s.yaml").status == 0


@pytest.mark.parametrize(
    ("design", "said", "other"),
    [
        ("randomised_crossover", "the same people did all of it", "different people did each"),
        ("randomised_parallel", "different people did each", "the same people did all of it"),
    ],
)
def test_a_study_says_whose_figures_are_compared_and_what_each_condition_is(
    steelyard: Steelyard, tmp_path: Path, design: str, said: str, other: str
) -> None:
    store(steelyard, tmp_path, design)
    text = steelyard("study", "show", "holly-2026").text
    assert said in text and other not in text
    assert "split: Split squats = split_squat" in text and "press: leg_press\n" in text


def test_one_correlation_is_one(steelyard: Steelyard, tmp_path: Path) -> None:
    store(steelyard, tmp_path)
    (tmp_path / "people.csv").write_text(PEOPLE)
    told = steelyard(
        "results",
        "individuals",
        "holly-2026",
        "people.csv",
        "--outcome",
        "emg",
        "--region",
        "gluteus maximus",
    )
    assert "2 results and 1 correlation stored, computed from individual data." in told.text
    assert (counted(0, "claim"), counted(1, "claim")) == ("0 claims", "1 claim")


def test_a_history_that_is_longer_says_how_to_see_the_rest(steelyard: Steelyard, tmp_path: Path) -> None:
    store(steelyard, tmp_path)
    steelyard("words", "add-exercise", "sled drag", "--region", "quadriceps")
    (tmp_path / "people.csv").write_text(PEOPLE)
    steelyard(
        "results",
        "individuals",
        "holly-2026",
        "people.csv",
        "--outcome",
        "emg",
        "--region",
        "gluteus maximus",
    )
    assert "Older ones: steelyard history --most 10" in steelyard("history", "--most", "1").text
    assert "Older ones" not in steelyard("history").text


@pytest.mark.parametrize(
    ("command", "group"),
    [
        (("weigh", "zzzz"), "claim"),
        (("publish", "answer", "is it any good?"), "claim"),
        (("study", "show", "zzzz"), "study"),
        (("refs", "show", "zzzz"), "refs"),
    ],
)
def test_a_key_like_none_there_is_leads_to_the_list(
    steelyard: Steelyard, tmp_path: Path, command: tuple[str, ...], group: str
) -> None:
    steelyard("init")
    told = steelyard(*command)
    assert told.status == 3 and f"Those there are: steelyard {group} list" in told.text


def test_a_sentence_is_not_told_twice_and_a_broad_name_is_told_as_one(
    steelyard: Steelyard, tmp_path: Path
) -> None:
    steelyard("init")
    told = steelyard(
        "claim",
        "propose",
        "split squats activate the gluteus maximus more than squats",
        "--key",
        "k",
        "--store",
    )
    assert told.status == 0, told.text
    assert '"squats" is a broad name, read as the usual one' in told.text
    assert '"split_squat" is read as' not in told.text
    asked = steelyard("claim", "propose", "split squats activate the glutes more than leg presses").text
    assert '"glutes" may mean more than one thing. Answer with --region.' in asked


def test_a_backup_onto_a_file_that_is_there_says_what_to_do(steelyard: Steelyard, tmp_path: Path) -> None:
    steelyard("init")
    assert steelyard("backup", "b").status == 0
    again = steelyard("backup", "b")
    assert again.status == 2 and "Name another file, or move that one away first." in again.text


def test_the_demonstration_names_the_command_as_it_can_be_typed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shutil.which", lambda name: None)
    monkeypatch.setattr("sys.argv", [".venv/bin/steelyard", "demo"])
    assert called_as() == ".venv/bin/steelyard"
    monkeypatch.setattr("shutil.which", lambda name: f"/bin/{name}")
    assert called_as() == "steelyard"


@pytest.mark.parametrize(
    ("sentence", "said"),
    [
        ("Hip thrusts prevent groin injuries.", "the check finds 1 error in it"),
        ("If something hurts, stop, and see a physiotherapist.", ""),
    ],
)
def test_an_article_that_goes_out_with_findings_says_so(
    steelyard: Steelyard, tmp_path: Path, sentence: str, said: str
) -> None:
    steelyard("init")
    (tmp_path / "a.md").write_text(f"# [Invented] Hips\n\n{sentence}\n")
    told = steelyard("publish", "article", "a.md", "--to", "a.html")
    assert told.status == 0 and "Wrote a.html." in told.text
    assert (said in told.text) if said else ("Before it goes out" not in told.text)


def test_a_script_that_names_no_source_is_told_how_one_is_named(steelyard: Steelyard, tmp_path: Path) -> None:
    steelyard("init")
    (tmp_path / "s.md").write_text("Hip thrusts are fun.\n")
    told = steelyard("publish", "sources", "s.md").text
    assert "No source is cited." in told and 'in words: "Oak and Elm (2021)"' in told


def test_a_name_that_nothing_is_like_and_an_exercise_without_a_region_say_what_to_do(steelyard) -> None:
    assert steelyard("init").status == 0
    found = steelyard("words", "find", "xqzvw")
    assert (
        found.status == 1
        and "Add it: steelyard words add-alias, or steelyard words add-exercise" in found.text
    )
    bare = steelyard("words", "add-exercise", "xqz_squat", "xqz squat")
    assert "its sets count for none: steelyard undo, then add it with --primary." in bare.text
    whole = steelyard("words", "add-exercise", "wvq_squat", "wvq squat", "--primary", "quadriceps")
    assert whole.text == "Added wvq_squat.\n"


def test_an_export_onto_a_file_names_what_to_name(steelyard, tmp_path) -> None:
    assert steelyard("init").status == 0
    (tmp_path / "out").write_text("x", "utf-8")
    assert "Name an empty or new folder." in steelyard("export", "out").text
