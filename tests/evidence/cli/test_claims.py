"""Claims through the real command: stated by kind, read from plain words, changed, removed, undone, listed."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
CURLS = (
    "--exercise",
    "seated leg curl",
    "--over",
    "lying leg curl",
    "--region",
    "hamstrings",
    "--outcome",
    "growth",
)
SENTENCE = "seated leg curl grows the hamstrings more than lying leg curl in trained people"


@pytest.fixture
def empty(steelyard: Run) -> Run:
    assert steelyard("init").status == 0
    return steelyard


@pytest.fixture
def stocked(empty: Run, demo_inputs: Path) -> Run:
    assert empty("refs", "add", demo_inputs / "references.bib").status == 0
    assert empty("study", "load", *sorted((demo_inputs / "studies").glob("*.yaml"))).status == 0
    return empty


def keys(run: Run, *filters: str) -> list[str]:
    done = run("claim", "list", "--json", *filters)
    assert done.status == 0, done.text
    return [claim["key"] for claim in json.loads(done.text)]


def test_plain_words_are_shown_as_read_and_stored_only_when_asked(empty: Run) -> None:
    shown = empty("claim", "propose", SENTENCE)
    assert shown.status == 0
    assert 'exercise: seated leg curl (seated_leg_curl), from "seated leg curl"' in shown.text
    assert "Nothing is stored yet" in shown.text
    assert keys(empty) == []
    stored = empty("claim", "propose", SENTENCE, "--store", "--key", "curls")
    assert stored.status == 0, stored.text
    assert "in trained people" in stored.text
    assert keys(empty) == ["curls"]


def test_open_questions_hold_storing_back_until_they_are_answered(empty: Run) -> None:
    text = "Turbo lunges work the glutes more than step-ups"
    shown = empty("claim", "propose", text)
    assert "? exercise" in shown.text
    assert "forward_lunge" in shown.text
    refused = empty("claim", "propose", text, "--store")
    assert refused.status == 2
    assert (
        "to be answered first: exercise (--exercise); region (--region); outcome (--outcome)" in refused.text
    )
    answers = ("--exercise", "walking lunge", "--region", "gluteus maximus", "--outcome", "activation")
    done = empty("claim", "propose", text, "--store", *answers)
    assert done.status == 0, done.text
    assert "Walking lunge activates the gluteus maximus more than step-up" in done.text


def test_a_sameness_in_plain_words_asks_for_its_margin(empty: Run) -> None:
    text = "The leg press is as good as the back squat for quad growth"
    assert empty("claim", "propose", text, "--store").status == 2
    assert empty("claim", "propose", text, "--store", "--margin", "0.2").status == 0


def test_a_doubtful_negation_is_settled_by_the_direction(empty: Run) -> None:
    text = "The hack squat is no better than the back squat for quad growth"
    assert empty("claim", "propose", text, "--store").status == 2
    done = empty("claim", "propose", text, "--store", "--says", "less")
    assert done.status == 0, done.text
    assert "less than" in done.text


def test_the_reading_comes_out_as_data(empty: Run) -> None:
    data = json.loads(empty("claim", "propose", SENTENCE, "--json").text)
    assert data["proposal"]["kind"] == "comparison"
    assert {part["name"] for part in data["proposal"]["parts"]} >= {
        "exercise",
        "comparator",
        "region",
        "outcome",
    }


@pytest.mark.parametrize("text", ["", "   ", "?", "more more more than than", "\x00", "squat " * 400])
def test_odd_words_are_no_crash(empty: Run, text: str) -> None:
    done = empty("claim", "propose", text, "--store")
    assert done.status == 2
    assert "not built for" not in done.text


def test_an_edit_keeps_the_key_and_can_be_undone(empty: Run) -> None:
    assert empty("claim", "state", *CURLS, "--key", "curls").status == 0
    assert empty("claim", "falsifier", "curls", "a trial of 60 people that finds less").status == 0
    done = empty(
        "claim", "edit", "curls", "--region", "biceps femoris", "--weeks", "8-12", "--status", "trained"
    )
    assert done.status == 0, done.text
    assert "biceps femoris more than lying leg curl in trained people over 8 to 12 weeks" in done.text
    assert "a trial of 60 people" in empty("claim", "show", "curls").text
    assert empty("undo").status == 0
    shown = empty("claim", "show", "curls").text
    assert "hamstring muscles" in shown
    assert "weeks" not in shown


def test_an_edit_takes_a_part_away_with_none(empty: Run) -> None:
    assert (
        empty("claim", "state", *CURLS, "--key", "curls", "--status", "trained", "--weeks", "8").status == 0
    )
    done = empty("claim", "edit", "curls", "--status", "none", "--weeks", "none")
    assert done.status == 0, done.text
    assert (
        done.text.splitlines()[0]
        == "curls: Seated leg curl grows the hamstring muscles more than lying leg curl"
    )


def test_an_edit_that_changes_nothing_or_doubles_another_is_refused(empty: Run) -> None:
    assert empty("claim", "state", *CURLS, "--key", "curls").status == 0
    assert empty("claim", "state", *CURLS, "--says", "less", "--key", "less").status == 0
    assert "says that already" in empty("claim", "edit", "curls", "--says", "more").text
    assert "Another claim says that already: less" in empty("claim", "edit", "curls", "--says", "less").text
    assert empty("claim", "edit", "curls").status == 2


def test_a_claim_is_removed_with_a_reason_and_comes_back_with_undo(stocked: Run) -> None:
    assert stocked("claim", "state", *CURLS, "--key", "curls").status == 0
    assert stocked("claim", "leave-out", "curls", "barbell-2020", "--because", "another machine").status == 0
    assert stocked("weigh", "curls").status == 0
    assert stocked("claim", "remove", "curls", "--because", "  ").status == 2
    assert stocked("claim", "remove", "curls", "--because", "asked twice").status == 0
    assert keys(stocked) == []
    assert stocked("undo").status == 0
    assert keys(stocked) == ["curls"]
    assert "another machine" in stocked("claim", "show", "curls").text


def test_the_note_that_high_confidence_needs_is_asked_for_until_it_is_written(stocked: Run) -> None:
    parts = ("--exercise", "standing calf raise", "--over", "seated calf raise", "--region", "soleus")
    stated = stocked(
        "claim", "state", *parts, "--outcome", "growth", "--says", "same", "--margin", "0.29", "--key", "same"
    )
    assert stated.status == 0, stated.text
    assert "steelyard claim falsifier same" in " ".join(stocked("weigh", "same").text.split())
    assert stocked("claim", "falsifier", "same", "").status == 2
    assert stocked("claim", "falsifier", "same", "a trial that finds half an SD").status == 0
    told = " ".join(stocked("weigh", "same").text.split())
    assert "it would be given up if: a trial that finds half an SD" in told
    assert "say what would overturn it" not in told


@pytest.mark.parametrize(
    "text", ["The moon is made of cheese", "Asdf qwer zxcv", "I think lunch is nice", "Because it is so"]
)
def test_a_sentence_of_which_nothing_was_read_is_not_stored_unless_its_kind_is_named(
    empty: Run, text: str
) -> None:
    shown = empty("claim", "propose", text)
    assert "Read as: no kind of claim" in shown.text
    refused = empty("claim", "propose", text, "--store")
    flat = " ".join(refused.text.split())
    assert refused.status == 2
    assert "no exercise, region or outcome" in flat
    assert "--kind principle (a rule of training)" in flat
    assert keys(empty) == []
    stored = empty("claim", "propose", text, "--store", "--kind", "practice", "--key", "on-purpose")
    assert stored.status == 0, stored.text
    assert keys(empty, "--kind", "practice") == ["on-purpose"]


def test_a_rule_that_names_what_it_is_about_is_still_stored_as_one(empty: Run) -> None:
    done = empty("claim", "propose", "Strength needs progressive overload", "--store", "--key", "rule")
    assert done.status == 0, done.text
    assert keys(empty, "--kind", "principle") == ["rule"]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (("--detail", "foo=bar"), 'no detail is called "foo"'),
        (("--over-detail", "gripp=wide"), "Nearest: grip"),
        (("--detail", "knee_angel_deg=90"), "Nearest: knee_angle_deg"),
        (("--detail", "load_percent_1rm=abc"), "a number from 0 to 200 (percent), such as 80"),
        (("--detail", "load_percent_1rm=800"), "a number from 0 to 200"),
        (("--detail", "sets=three"), "a number from 0 to 1000"),
        (("--detail", "foo=bar"), "All of them: steelyard claim details"),
    ],
)
def test_a_detail_that_nothing_is_known_of_is_refused(empty: Run, typed: tuple[str, ...], says: str) -> None:
    refused = empty("claim", "state", *CURLS, *typed)
    assert refused.status == 2, refused.text
    assert says in " ".join(refused.text.split())
    assert empty("claim", "propose", SENTENCE, "--store", *typed).status == 2
    assert keys(empty) == []


@pytest.mark.parametrize(
    "typed",
    ["load_percent_1rm=80", "load_percent_1rm=80 %", "Knee angle deg=90 degrees", "reps=8-12", "load=8RM"],
)
def test_a_detail_is_taken_as_people_write_it(empty: Run, typed: str) -> None:
    done = empty("claim", "state", *CURLS, "--detail", typed, "--key", "curls")
    assert done.status == 0, done.text


def test_a_detail_that_a_study_carries_is_known(stocked: Run, tmp_path: Path) -> None:
    import yaml

    assert stocked("claim", "state", *CURLS, "--detail", "mood=good").status == 2
    text = stocked("study", "show", "rack-2020", "--file").text
    study = yaml.safe_load(text)
    study["conditions"][0]["details"]["mood"] = "good"
    (tmp_path / "mood.yaml").write_text(yaml.safe_dump(study, allow_unicode=True), "utf-8")
    loaded = stocked("study", "load", tmp_path / "mood.yaml", "--replace")
    assert loaded.status == 0, loaded.text
    assert stocked("claim", "state", *CURLS, "--detail", "mood=good").status == 0
    assert "mood" in stocked("claim", "details").text


def test_a_trend_over_a_detail_that_has_no_levels_is_refused(empty: Run) -> None:
    trend = ("--kind", "trend", "--outcome", "growth", "--region", "hamstrings", "--exercise", "leg curl")
    assert "which have no order" in " ".join(empty("claim", "state", *trend, "--graded", "grip").text.split())
    assert "Nearest: hip_angle_deg" in " ".join(
        empty("claim", "state", *trend, "--graded", "hip_angel_deg").text.split()
    )


def test_a_stored_claim_with_a_detail_that_is_not_known_now_is_shown_and_changed_as_before(
    empty: Run, tmp_path: Path
) -> None:
    from sqlalchemy import create_engine, text

    assert empty("claim", "state", *CURLS, "--detail", "load=8RM", "--key", "curls").status == 0
    engine = create_engine(f"sqlite:///{tmp_path / 'catalogue.sqlite'}")
    with engine.begin() as connection:
        connection.execute(text('UPDATE claim SET exercise_details = \'{"foo": "bar"}\''))
    engine.dispose()
    assert empty("claim", "show", "curls").status == 0
    assert empty("weigh", "curls").status == 0
    done = empty("claim", "edit", "curls", "--status", "trained")
    assert done.status == 0, done.text
    assert "foo bar" in done.text
    assert empty("claim", "edit", "curls", "--detail", "foo=other").status == 2


@pytest.mark.parametrize("verdict", ["banana", "", "support"])
def test_a_verdict_that_no_claim_can_have_is_refused_as_a_filter(empty: Run, verdict: str) -> None:
    refused = empty("claim", "list", "--verdict", verdict)
    assert refused.status == 2
    assert "There are: supported, contradicted" in " ".join(refused.text.split())
    assert "not weighed" in refused.text


@pytest.mark.parametrize(
    ("option", "value"), [("--confidence", "enormous"), ("--kind", "wish"), ("--outcome", "luck")]
)
def test_other_filters_are_checked_where_there_is_no_claim_too(empty: Run, option: str, value: str) -> None:
    assert empty("claim", "list", option, value).status in (2, 3)


def test_a_study_that_does_not_bear_on_a_claim_is_not_left_out_of_it(stocked: Run) -> None:
    assert stocked("claim", "state", *CURLS, "--key", "curls").status == 0
    refused = stocked("claim", "leave-out", "curls", "rack-2020", "--because", "Another region.")
    flat = " ".join(refused.text.split())
    assert refused.status == 2
    assert "rack-2020 does not bear on curls" in flat
    assert "chalk-2021" in flat
    assert stocked("claim", "leave-out", "curls", "no-such", "--because", "x").status == 3


def test_a_list_is_narrowed_by_each_filter(stocked: Run) -> None:
    assert stocked("claim", "state", *CURLS, "--key", "curls").status == 0
    thrust = ("--exercise", "hip thrust", "--over", "split squat", "--region", "gluteus maximus")
    assert stocked("claim", "state", *thrust, "--outcome", "activation", "--key", "thrust").status == 0
    assert (
        stocked("claim", "state", "--kind", "practice", "--text", "Think of the floor", "--key", "cue").status
        == 0
    )
    assert stocked("weigh", "thrust").status == 0
    assert keys(stocked) == ["cue", "curls", "thrust"]
    assert keys(stocked, "--region", "hamstrings") == ["curls"]
    assert keys(stocked, "--exercise", "split squat") == ["thrust"]
    assert keys(stocked, "--outcome", "EMG") == ["thrust"]
    assert keys(stocked, "--kind", "practice") == ["cue"]
    assert keys(stocked, "--verdict", "supported") == ["thrust"]
    assert keys(stocked, "--verdict", "not weighed") == ["cue", "curls"]
    assert keys(stocked, "--confidence", "high") == []
    assert keys(stocked, "--due") == []
    assert stocked("claim", "list", "--confidence", "enormous").status == 2
    assert stocked("claim", "list", "--kind", "wish").status == 2
    assert "not graded" in stocked("weigh", "cue").text
    assert "not graded (opinion)" in stocked("claim", "list").text


def test_pain_carries_a_caution_when_it_is_stated(empty: Run) -> None:
    parts = ("--exercise", "front squat", "--over", "back squat", "--outcome", "pain", "--says", "less")
    done = empty("claim", "state", *parts)
    assert done.status == 0, done.text
    assert "belong to a licensed clinician" in " ".join(done.text.split())
    weighed = empty("weigh", json.loads(empty("claim", "list", "--json").text)[0]["key"])
    assert "belong to a licensed clinician" in " ".join(weighed.text.split())


@pytest.mark.parametrize(
    "command", [("show", "no-such"), ("edit", "no-such", "--says", "less"), ("falsifier", "no-such", "x"),
                ("remove", "no-such", "--because", "x")],
)  # fmt: skip
def test_a_claim_that_is_not_there_is_said_to_be_missing(empty: Run, command: tuple[str, ...]) -> None:
    done = empty("claim", *command)
    assert done.status == 3
    assert "no-such" in done.text


def test_studies_that_bear_are_listed_with_their_rule(stocked: Run) -> None:
    assert stocked("claim", "state", *CURLS, "--key", "curls").status == 0
    for told in (stocked("claim", "show", "curls").text, stocked("weigh", "curls").text):
        flat = " ".join(told.split())
        assert "each with the rule that brought it in" in flat
        assert "(the exercise itself)" in flat


def test_an_answer_is_shown_in_place_of_what_was_read_before_anything_is_stored(empty: Run) -> None:
    text = "seated leg curl grows the hamstrings more than lying leg curl"
    told = empty("claim", "propose", text, "--says", "less")
    assert "direction: less (your answer, in place of more)" in told.text
    assert empty("claim", "propose", text, "--kind", "wish").status == 2
    assert empty("claim", "propose", text, "--says", "banana").status == 2
    assert empty("claim", "propose", text, "--kind", "trend").status == 2  # a trend has no second exercise
    open_still = empty("claim", "propose", "RDLs work the glutes more than step-ups", "--says", "banana")
    assert open_still.status == 2


def test_figures_of_a_claim_can_be_taken_away_and_written_with_a_comma(empty: Run) -> None:
    assert (
        empty("claim", "state", *CURLS, "--key", "curls", "--size", "40", "--percent", "relative").status == 0
    )
    assert empty("claim", "edit", "curls", "--margin", "0,3").status == 0
    assert (
        empty("claim", "edit", "curls", "--margin", "none", "--size", "none", "--percent", "none").status == 0
    )
    assert "40 %" not in empty("claim", "show", "curls").text
    refused = empty("claim", "edit", "curls", "--margin", "wide")
    assert (refused.status, "--margin: 'wide' is no number" in refused.text) == (2, True)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (("--kind", "superlative", "--exercise", "squat", "--region", "quads", "--outcome", "growth",
          "--among", "squat"), "the best of one"),
        (("--kind", "principle", "--text", "Overload", "--margin", "3"), "--margin would say nothing"),
        (("--kind", "level", "--exercise", "squat", "--region", "quads", "--outcome", "growth", "--band", "high"),
         "this outcome has none"),
        (("--kind", "level", "--exercise", "squat", "--region", "quads", "--outcome", "activation", "--level", "60",
          "--to-level", "40"), "--to-level 60"),
        (("--kind", "rate", "--exercise", "squat", "--over", "leg press", "--outcome", "growth"),
         "not muscle growth"),
    ],
)  # fmt: skip
def test_a_claim_that_could_say_nothing_is_refused(empty: Run, typed: tuple[str, ...], says: str) -> None:
    refused = empty("claim", "state", *typed)
    assert refused.status == 2, refused.text
    assert says in " ".join(refused.text.split())
    assert json.loads(empty("claim", "list", "--json").text) == []


def test_a_field_names_the_exercise_with_the_others(empty: Run) -> None:
    stated = empty(
        "claim", "state", "--kind", "superlative", "--exercise", "seated leg curl", "--region", "hamstrings",
        "--outcome", "growth", "--among", "lying leg curl",
    )  # fmt: skip
    assert "among seated leg curl and lying leg curl" in stated.text


def test_a_study_is_left_out_once(stocked: Run) -> None:
    assert stocked("claim", "state", *CURLS, "--key", "curls").status == 0
    assert stocked("claim", "leave-out", "curls", "chalk-2021", "--because", "Too short.").status == 0
    again = stocked("claim", "leave-out", "curls", "chalk-2021", "--because", "Again.")
    assert again.status == 2
    assert "left out of curls already: Too short. (Sam)" in again.text
