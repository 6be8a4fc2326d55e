"""Judging, rating, linking and verifying through the real command, on the invented studies of the demonstration."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
ANSWERS = (
    "study: rack-2016\ntool: parallel\nanswers: {q1_1: Y, q1_2: yes, q1_3: N, q2_1: N, q2_2: N, q2_6: Y, q3_1: Y,\n"
    "  q4_1: N, q4_2: N, q4_3: no, q5_1: Y, q5_2: N, q5_3: N}\n"
)
CALVES = ("--exercise", "standing calf raise", "--over", "seated calf raise", "--region", "gastrocnemius")


@pytest.fixture
def stocked(steelyard: Run, demo_inputs: Path, tmp_path: Path) -> Run:
    assert steelyard("init").status == 0
    assert steelyard("refs", "add", demo_inputs / "references.bib").status == 0
    assert steelyard("study", "load", *sorted((demo_inputs / "studies").glob("*.yaml"))).status == 0
    assert steelyard("claim", "state", *CALVES, "--outcome", "growth", "--key", "calf").status == 0
    (tmp_path / "answers.yaml").write_text(ANSWERS, "utf-8")
    return steelyard


def test_a_template_filled_in_gives_a_judgement_that_study_show_tells(stocked: Run, tmp_path: Path) -> None:
    template = stocked("study", "judge", "rack-2016", "--template").text
    (tmp_path / "empty.yaml").write_text(template, "utf-8")
    nothing = stocked("study", "judge", "rack-2016", "--answers", "empty.yaml")
    assert nothing.status == 0  # an empty template answers nothing: the prompts are shown
    done = stocked("study", "judge", "rack-2016", "--answers", "answers.yaml")
    assert (done.status, "overall: low  ▼──┼──┼" in done.text) == (0, True)
    shown = stocked("study", "show", "rack-2016").text
    assert "risk of bias: low  ▼──┼──┼ (RoB 2)" in shown
    assert "measurement: low (q4_2 N, q4_3 N)" in shown
    again = stocked("study", "judge", "rack-2016", "--template").text
    assert 'q1_1: "Y"' in again


def test_the_mark_is_words_first_and_no_colour(stocked: Run) -> None:
    text = stocked("study", "judge", "rack-2016", "--answers", "answers.yaml").text
    assert "\x1b[" not in text
    assert not any(sign in text for sign in "🟢🟡🔴⊕⊖●")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("answers: {q9_9: Y}\n", "no prompt 'q9_9'"),
        ("answers: {q1_1: maybe}\n", "does not answer q1_1"),
        ("answers: [1, 2]\n", "should be named entries"),
        ("study: plate-2017\nanswers: {q1_1: Y}\n", "answers on plate-2017"),
        ("marks: {}\n", "is no part of a file of answers"),
        ("choices: {measurement: {judgement: high}}\nanswers: {q1_1: Y}\n", "needs a reason"),
        ("choices: {measurement: high}\n", "should be named entries"),
        ("answers: {q1_1: Y\n", ""),
        ("- 1\n", "holds no answers"),
    ],
)
def test_a_file_of_answers_with_a_slip_is_refused_with_a_sentence(
    stocked: Run, tmp_path: Path, content: str, said: str
) -> None:
    (tmp_path / "slip.yaml").write_text(content, "utf-8")
    done = stocked("study", "judge", "rack-2016", "--answers", "slip.yaml")
    assert done.status == 2
    assert said in done.text
    assert "not assessed" in stocked("study", "show", "rack-2016").text


def test_a_choice_is_made_by_option_and_reasons_belong_to_choices(stocked: Run) -> None:
    judge = ("study", "judge", "rack-2016", "--answers", "answers.yaml")
    assert stocked(*judge, "--choose", "high").status == 2
    two = ("--choose", "measurement=high", "--choose", "D1=high")
    assert stocked(*judge, *two, "--because", "a", "--because", "b", "--because", "c").status == 2
    done = stocked(
        *judge, *two, "--because", "Read by the trainer.", "--because", "Odd numbers to one group."
    )
    assert "randomisation: high (proposed low; chosen because Odd numbers to one group)" in done.text


def test_prompts_asked_on_a_terminal_are_only_those_still_needed(
    stocked: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    from evidence.appraisal.bias_tools import find_tool, list_questions
    from evidence.cli import study_judgement
    from evidence.workflows.judge.judging import Questionnaire

    prompts = list_questions(find_tool("parallel"))
    asked = Questionnaire("s", "S", "t", find_tool("parallel"), "asked for", prompts, {}, ())
    typed: list[str] = []

    def answer(key: str, **more: object) -> str:
        typed.append(key)
        return "perhaps" if len(typed) == 1 else "" if key == "q3_1" else "N"

    monkeypatch.setattr(study_judgement.typer, "prompt", answer)
    given = study_judgement.ask_on_terminal(asked)
    assert typed[0] == typed[1]  # a slip is asked again
    assert "q3_1" not in given  # left empty stays open
    assert len(given) < len(prompts)  # what earlier answers settle is not asked


def test_stopping_early_keeps_what_was_answered(stocked: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    from evidence.appraisal.bias_tools import find_tool, list_questions
    from evidence.cli import study_judgement
    from evidence.workflows.judge.judging import Questionnaire

    tool = find_tool("crossover")
    asked = Questionnaire("s", "S", "t", tool, "asked for", list_questions(tool), {}, ())
    left = iter(["Y", "Y"])

    def answer(key: str, **more: object) -> str:
        try:
            return next(left)
        except StopIteration:
            raise KeyboardInterrupt from None

    monkeypatch.setattr(study_judgement.typer, "prompt", answer)
    assert len(study_judgement.ask_on_terminal(asked)) == 2


def test_two_people_by_the_command(stocked: Run) -> None:
    stocked("study", "judge", "rack-2016", "--answers", "answers.yaml")
    second = stocked(
        "study", "judge", "rack-2016", "--answers", "answers.yaml", "--answer", "q4_1=Y", "--who", "Kim"
    )
    assert "People differ on measurement" in second.text
    assert "differ on its risk of bias" in " ".join(stocked("weigh", "calf").text.split())
    found = json.loads(stocked("study", "agreement", "--json").text)
    assert found["pairs"][0][1]["measured"]["n"] == 5
    assert (
        stocked("study", "settle", "rack-2016", "measurement", "low", "--because", "Blind, p. 4.").status == 0
    )
    assert "settled by Sam: low" in stocked("study", "show", "rack-2016").text


def test_a_rating_of_a_claim_by_the_command_with_a_minus(stocked: Run) -> None:
    assert "rule IN1" in stocked("claim", "rate", "calf").text
    done = stocked("claim", "rate", "calf", "indirectness", "-1", "--because", "Novices only.")
    assert (done.status, "chosen: −1 (serious), over 0" in done.text) == (0, True)
    assert "Novices only." in stocked("weigh", "calf").text
    assert stocked("claim", "rate", "calf", "indirectness").status == 2
    assert stocked("claim", "rate", "calf", "indirectness", "-1").status == 2
    assert stocked("claim", "rate", "calf", "indirectness", "--take-back").status == 0
    assert "Novices only." not in stocked("weigh", "calf").text


def test_rule_sets_and_settings_by_the_command(stocked: Run) -> None:
    every = stocked("claim", "rate", "calf", "--rule-set", "all").text
    assert all(name in every for name in ("pollock2016", "smo2023", "ashton2020", "narrative"))
    assert stocked("claim", "rate", "calf", "--rule-set", "astrology").status == 2
    kept = stocked("claim", "rate", "calf", "--rule-set", "ashton2020", "--keep").text
    assert "rules: ashton2020" in kept
    assert "rules: default" in stocked("claim", "rate", "calf", "--rule-set", "default", "--keep").text
    assert "single_study kce" in stocked("claim", "rate", "calf", "--set", "single_study=kce").text
    assert stocked("claim", "rate", "calf", "--set", "single_study").status == 2
    assert "lowest among the critical" in stocked("claim", "together", "calf").text


def test_links_by_the_command_are_shown_wherever_the_claim_is(stocked: Run, tmp_path: Path) -> None:
    link = (
        "claim",
        "link",
        "calf",
        "kettle2018",
        "--stance",
        "against",
        "--locator",
        "p. 4",
        "--says",
        "no growth",
    )
    assert stocked(*link, "--kind", "review", "--n", "120", "--design", "RCT").status == 0
    assert stocked(*link).status == 2
    for command in (("claim", "links", "calf"), ("claim", "show", "calf"), ("weigh", "calf")):
        text = " ".join(stocked(*command).text.split())
        assert "Kettle & Anvil 2018" in text and "no growth" in text, command
    assert stocked("brief", "calf", "--to", "brief.html").status == 0
    assert "no growth" in (tmp_path / "brief.html").read_text("utf-8")
    assert stocked("claim", "unlink", "calf", "kettle2018").status == 0
    assert stocked("claim", "unlink", "calf", "kettle2018").status == 3


def test_figures_are_verified_by_the_command(stocked: Run, tmp_path: Path) -> None:
    assert "figures read by one person" in stocked("weigh", "calf").text
    assert stocked("results", "verify", "rack-2016", "--all").status == 2
    assert stocked("results", "verify", "rack-2016").status == 2
    assert (
        "All results of rack-2016 are verified"
        in stocked("results", "verify", "rack-2016", "--all", "--who", "Kim").text
    )
    assert "figures read by one person" not in stocked("weigh", "calf").text
    assert "read by Sam, verified by Kim" in stocked("results", "show", "rack-2016").text
    stocked("results", "verify", "rack-2016", "--withdraw")
    own = stocked("results", "verify", "rack-2016", "--all", "--same-person-says-so").text
    assert "figures read twice by one person" in own
    assert "figures read twice by one person" in stocked("weigh", "calf").text


@pytest.mark.parametrize(
    "command",
    [
        ("study", "judge", "rack-2016"),
        ("study", "agreement"),
        ("claim", "rate", "calf"),
        ("claim", "rate", "calf", "--rule-set", "all"),
        ("claim", "agreement"),
        ("claim", "links", "calf"),
        ("claim", "together", "calf"),
        ("results", "verify", "rack-2016", "--all", "--who", "Kim"),
    ],
)
def test_data_come_as_json(stocked: Run, command: tuple[str, ...]) -> None:
    done = stocked(*command, "--json")
    assert done.status == 0
    json.loads(done.text)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (("claim", "rate", "calf", "--keep"), "Add --rule-set NAME"),
        (("claim", "rate", "calf", "--rule-set", "all", "--keep"), "one rule set is kept"),
        (("claim", "rate", "calf", "--take-back"), "--take-back is about one domain"),
        (("claim", "rate", "calf", "--because", "x"), "--because is about one domain"),
        (
            ("study", "judge", "rack-2016", "--answer", "q1_1=Y", "--answer", "q1_1=N"),
            "answered twice: Y and N",
        ),
        (("study", "judge", "rack-2016", "--because", "x"), "Add --choose"),
    ],
)
def test_options_that_would_change_nothing_are_no_silent_success(
    stocked: Run, typed: tuple[str, ...], says: str
) -> None:
    done = stocked(*typed)
    assert done.status == 2, done.text
    assert says in done.text


def test_a_slip_in_a_file_of_answers_is_told_with_the_file(stocked: Run, tmp_path: Path) -> None:
    (tmp_path / "slip.yaml").write_text(
        "study: rack-2016\ntool: parallel\nanswers: {q1_1: banana}\n", "utf-8"
    )
    done = stocked("study", "judge", "rack-2016", "--answers", "slip.yaml")
    assert done.text.startswith("Problem: slip.yaml: 'banana' does not answer q1_1")


def test_people_who_differ_on_the_whole_alone_are_told_so(stocked: Run) -> None:
    for person, level in (("Kim", "high"), ("Lee", "low")):
        judged = stocked(
            "study", "judge", "rack-2016", "--choose", level, "--because", "Seen.", "--who", person
        )
        assert judged.status == 0
    told = stocked("study", "agreement").text
    assert "They differ on:" in told and "rack-2016, overall" in told
    for person, level in (("Kim", "high"), ("Lee", "low")):
        assert (
            stocked("claim", "rate", "calf", "overall", level, "--because", "Seen.", "--who", person).status
            == 0
        )
    assert "calf, overall" in stocked("claim", "agreement").text


def test_the_template_comes_as_json_too(stocked: Run) -> None:
    told = json.loads(stocked("study", "judge", "rack-2016", "--template", "--json").text)
    assert told["template"].startswith("# Risk of bias of rack-2016")
