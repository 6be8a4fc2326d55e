"""Commands on a study's risk of bias: judge it, settle where people differ, how far they agree."""

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from evidence.cli.frame import (
    JSON_OPTION,
    acting_person,
    on_terminal,
    opened,
    say,
    show_json,
    tells_problems,
    warn,
)
from evidence.cli.waiting import waiting

if TYPE_CHECKING:
    from evidence.workflows.judge.judging import Choice, Questionnaire

STUDY = typer.Argument(..., help="Key of the study.")


@tells_problems
def judge(
    study: str = STUDY,
    tool: str = typer.Option(
        None,
        "--by",
        help="parallel, parallel_adhering, crossover, emg_within_person, nonrandomised, pedro, testex, minors. "
        "Left out: the one for the study's design.",
    ),
    answers: Path = typer.Option(None, "--answers", help="A filled-in file of answers."),
    answer: list[str] = typer.Option(
        [], "--answer", metavar="PROMPT=ANSWER", help="One answer: q1_1=Y. May be repeated."
    ),
    choose: list[str] = typer.Option(
        [],
        "--choose",
        metavar="[DOMAIN=]JUDGEMENT",
        help='Your judgement over the proposed one, of a domain or overall; "proposed" takes it back.',
    ),
    because: list[str] = typer.Option(
        [], "--because", help="The reason for each --choose, in their order; one reason may stand for all."
    ),
    template: bool = typer.Option(False, "--template", help="Print the prompts as a file to fill in."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Judge a study's risk of bias.

    Prompts for its design, a proposed judgement, your choice with a reason.

    Without answers, on a terminal, the prompts are asked one by one; what was answered is kept when you stop.

    Example: steelyard study judge rack-2016 --template > rack.yaml
    """
    from evidence.errors import BadInput
    from evidence.workflows.judge.answer_files import read_answer_file, write_answer_file
    from evidence.workflows.judge.judgement_told import tell_judged, tell_outcome
    from evidence.workflows.judge.judging import ask_about, judge_study

    catalogue, who = opened(), acting_person()
    given: dict[str, str] = {}
    chosen: list[Choice] = []
    if answers is not None:
        file = read_answer_file(answers)
        refuse_other_study(file.study, study, answers)
        given, chosen, tool = dict(file.answers), list(file.choices), tool or file.tool
    given |= split_answers(answer)
    chosen += pair_choices(choose, because)
    asked = ask_about(catalogue, study, who, tool or None)
    if template:
        text = write_answer_file(asked)
        show_json({"template": text}) if as_json else say(text.rstrip("\n"))
        return
    if not given and not chosen:
        if not on_terminal():
            show_prompts(asked, as_json)
            return
        given = ask_on_terminal(asked)
    try:
        done = judge_study(catalogue, study, who, given, chosen, asked.tool.id)
    except BadInput as problem:
        if answers is None or problem.where:
            raise
        raise BadInput(problem.message, where=str(answers), hint=problem.hint) from None
    if as_json:
        show_json({"judged": done, "overall": done.now, "missing": done.judged.missing})
        return
    for line in (*tell_judged(done.judged), *tell_outcome(done)):
        say(line)


def refuse_other_study(named: str, wanted: str, file: Path) -> None:
    """A file of answers on one study is not taken for another."""
    from evidence.errors import BadInput

    if named and named != wanted:
        raise BadInput(f"holds answers on {named}, not on {wanted}.", where=str(file))


def split_answers(texts: list[str]) -> dict[str, str]:
    """`q1_1=Y` as key and answer."""
    from evidence.errors import BadInput

    found: dict[str, str] = {}
    for text in texts:
        key, sign, value = text.partition("=")
        if not sign:
            raise BadInput(f"{text!r} is no answer", hint="Write it as q1_1=Y.")
        if found.setdefault(key.strip(), value) != value:
            raise BadInput(
                f"{key.strip()} is answered twice: {found[key.strip()]} and {value}", hint="Give one."
            )
    return found


def pair_choices(choose: list[str], because: list[str]) -> "list[Choice]":
    """Each `[DOMAIN=]JUDGEMENT` with its reason."""
    from evidence.errors import BadInput
    from evidence.workflows.judge.judging import Choice

    if because and not choose:
        raise BadInput("--because gives the reason of a choice, and none is made", hint="Add --choose.")
    if len(because) > 1 and len(because) != len(choose):
        raise BadInput(
            f"{len(choose)} choices and {len(because)} reasons",
            hint="Give one --because for all, or one for each.",
        )
    reasons = because * len(choose) if len(because) == 1 else because or [""] * len(choose)
    found = []
    for text, reason in zip(choose, reasons, strict=True):
        domain, sign, judgement = text.rpartition("=")
        found.append(Choice(domain if sign else "overall", judgement, reason))
    return found


def show_prompts(asked: "Questionnaire", as_json: bool) -> None:
    """The prompts, where nobody is there to be asked."""
    from evidence.workflows.judge.answer_files import tell_prompt

    if as_json:
        show_json(asked)
        return
    say(f"{asked.label}: {asked.tool.name} ({asked.why})")
    before = None
    for prompt in asked.prompts:
        ask, *rest = tell_prompt(prompt, before)
        before = prompt
        answer = f" (answered: {asked.answers[prompt.key]})" if prompt.key in asked.answers else ""
        say(f"  {prompt.key}, {prompt.domain}: {ask}{answer}")
        for line in rest:
            say(f"      {line}")
    say(f"Answer them: steelyard study judge {asked.study} --template > answers.yaml")
    say(f"             steelyard study judge {asked.study} --answers answers.yaml")


def ask_on_terminal(asked: "Questionnaire") -> dict[str, str]:
    """Ask what is still needed, prompt by prompt. Stopping early keeps what was answered."""
    from evidence.errors import BadInput
    from evidence.workflows.judge.answer_files import tell_prompt
    from evidence.workflows.judge.asking import next_prompt, take_answer

    prompts = {p.key: p for p in asked.prompts}
    say(
        f"{asked.label}: {asked.tool.name} ({asked.why}). Empty leaves a prompt open; Ctrl-C stops and keeps the rest."
    )
    given: dict[str, str] = {}
    skipped: set[str] = set()
    waiting.stop()
    try:
        while (key := next_prompt(asked, {**asked.answers, **given}, skipped)) is not None:
            ask, *rest = tell_prompt(prompts[key])
            say(f"\n{prompts[key].domain}: {ask}")
            for line in rest:
                say(f"  {line}")
            text = typer.prompt(key, default="", show_default=False)
            if not text.strip():
                skipped.add(key)
                continue
            try:
                given[key] = take_answer(asked, key, text)
            except BadInput as problem:
                warn(f"Problem: {problem}")
    except (KeyboardInterrupt, EOFError, typer.Abort):
        say("\nStopped; what was answered is kept.")
    return given


@tells_problems
def settle(
    study: str = STUDY,
    domain: str = typer.Argument(..., help="The domain on which people differ, or overall."),
    judgement: str = typer.Argument(..., help="low, some concerns, high (or the words of ROBINS-I)."),
    because: str = typer.Option(..., "--because", help="The reason; it is shown with the study."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Settle where two people judged a study differently.

    Of its risk of bias; both judgements stay.

    Example: steelyard study settle rack-2016 measurement low --because "assessor was blind, p. 4"
    """
    from evidence.workflows.judge.judgement_told import tell_outcome
    from evidence.workflows.judge.judging import settle_study

    done = settle_study(opened(), study, domain, judgement, because, acting_person())
    if as_json:
        show_json(
            {"study": done.study, "before": done.before, "now": done.now, "not_settled": done.not_settled}
        )
        return
    for line in tell_outcome(done):
        say(line)


@tells_problems
def agreement(
    study: str = typer.Argument(None, help="Key of one study; left out: all studies."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Say how far people agree on risk of bias.

    Percent, Cohen's kappa with its interval, and where they differ.

    Example: steelyard study agreement
    """
    from evidence.workflows.judge.agreeing import agreement_on_studies

    found = agreement_on_studies(opened(), study)
    if as_json:
        show_json(found)
        return
    for line in found.lines:
        say(line)


def register(app: typer.Typer) -> None:
    """Add judge, settle and agreement to the commands on studies."""
    app.command()(judge)
    app.command()(settle)
    app.command()(agreement)
