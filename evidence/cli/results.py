"""Commands on results: paste a table, load a saved one, show what is stored."""

from pathlib import Path
from typing import Any

import typer

from evidence.cli.frame import (
    FINDINGS,
    JSON_OPTION,
    acting_person,
    counted,
    is_standard_input,
    opened,
    read_standard_input,
    say,
    show_json,
    tells_problems,
)

app = typer.Typer(help="Results: numbers as printed, with their places.", no_args_is_help=True)

STUDY = typer.Argument(..., help="Key of the study the table belongs to.")
OUTCOME = typer.Option(None, "--outcome", help="Key of the study's outcome; needed when it has several.")
SPREAD = typer.Option(
    None, "--spread", help="What the spread is where the table does not say: SD, SE, CI, IQR, range."
)
LOCATOR = typer.Option(None, "--where", help='Where it stands: "Table 1", "p. 5".')
READ_FROM = typer.Option(
    None, "--from", help="What you read it from: abstract, full text, figure, open data. Needed to store."
)
REGION = typer.Option(None, "--region", help="The muscle of the whole table, where its labels name none.")
TIMEPOINT = typer.Option(None, "--time", help="acute, pre, post, follow-up: where the table does not say.")
SAYS = typer.Option(
    [],
    "--says",
    metavar="NAME=ID",
    help='A name in the table and what it is: "GM=gluteus_medius". May be repeated.',
)
ANSWER = typer.Option(
    [],
    "--answer",
    metavar="NAME=CHOICE",
    help='Answer to a question of the preview: "decimal=,". May be repeated.',
)
STORE = typer.Option(False, "--store", help="Store it. Without this, only what was understood is shown.")
LEAVE_OUT_DOUBTS = typer.Option(
    False, "--leave-doubts", help="Store the sure cells and leave the doubtful ones out."
)


@app.command()
@tells_problems
def paste(
    study: str = STUDY,
    file: Path = typer.Argument(None, help="Text file with the table. Left out, or -: standard input."),
    outcome: str = OUTCOME,
    spread: str = SPREAD,
    where: str = LOCATOR,
    read_from: str = READ_FROM,
    time: str = TIMEPOINT,
    region: str = REGION,
    says: list[str] = SAYS,
    answer: list[str] = ANSWER,
    store: bool = STORE,
    leave_doubts: bool = LEAVE_OUT_DOUBTS,
    as_json: bool = JSON_OPTION,
) -> None:
    """Read a pasted table, show it, store it.

    From standard input, or saved as text.

    Example: steelyard results paste plate-2017 < table.txt
    """
    said = gather_said(outcome, spread, where, read_from, time, region, says, answer)
    if file is not None and not is_standard_input(file):
        take(study, file, str(file), said, store, leave_doubts, as_json)
        return
    take(study, read_standard_input("table"), "pasted table", said, store, leave_doubts, as_json)


@app.command()
@tells_problems
def load(
    study: str = STUDY,
    file: Path = typer.Argument(..., help="CSV, TSV, XLSX or text file holding the table."),
    outcome: str = OUTCOME,
    spread: str = SPREAD,
    where: str = LOCATOR,
    read_from: str = READ_FROM,
    time: str = TIMEPOINT,
    region: str = REGION,
    says: list[str] = SAYS,
    answer: list[str] = ANSWER,
    store: bool = STORE,
    leave_doubts: bool = LEAVE_OUT_DOUBTS,
    as_json: bool = JSON_OPTION,
) -> None:
    """Read a saved table, show it, store it.

    Example: steelyard results load plate-2017 table2.csv --spread SD --from "full text" --store
    """
    said = gather_said(outcome, spread, where, read_from, time, region, says, answer)
    take(study, file, str(file), said, store, leave_doubts, as_json)


@app.command()
@tells_problems
def individuals(
    study: str = STUDY,
    file: Path = typer.Argument(..., help="CSV with one row per person and condition."),
    outcome: str = typer.Option(..., "--outcome", help="Key of the study's outcome."),
    region: str = typer.Option(None, "--region", help="The muscle or region."),
    person: str = typer.Option("subject", "--person", help="Name of the column that says who."),
    condition: str = typer.Option(
        "condition", "--condition", help="Name of the column that says which condition."
    ),
    pre: str = typer.Option(
        None, "--pre", help="Name of the column with figures before; left out: measured once."
    ),
    post: str = typer.Option(
        "post", "--post", help="Name of the column with figures after, or the only ones."
    ),
    says: list[str] = SAYS,
    where: str = LOCATOR,
    as_json: bool = JSON_OPTION,
) -> None:
    """Store what published data of single people come to.

    Means, SDs, changes, and the correlations that papers leave out.

    Example: steelyard results individuals chalk-2018 data.csv --outcome emg --region hamstrings
    """
    from evidence.workflows.extract.individuals import load_individuals
    from evidence.workflows.extract.pasting import split_saying

    report = load_individuals(
        opened(),
        study,
        file,
        acting_person(),
        outcome=outcome,
        region=region,
        columns={"person": person, "condition": condition, "pre": pre, "post": post},
        conditions=dict(split_saying(text) for text in says),
        locator=where,
    )
    if as_json:
        show_json(report)
        return
    for line in (*report.warnings, *report.correlations):
        say(f"  {line}")
    both = f"{counted(report.results, 'result')} and {counted(len(report.correlations), 'correlation')}"
    say(f"{both} stored, computed from individual data.")


def gather_said(
    outcome: str | None,
    spread: str | None,
    where: str | None,
    read_from: str | None,
    time: str | None,
    region: str | None,
    says: list[str],
    answer: list[str],
) -> dict[str, Any]:
    """What the options say of a table, as the parts of `TableAnswers`."""
    return {
        "outcome": outcome,
        "spread": spread,
        "locator": where,
        "read_from": read_from,
        "timepoint": time,
        "region": region,
        "says": tuple(says),
        "answers": tuple(answer),
    }


def take(
    study: str,
    source: Path | bytes,
    name: str,
    said: dict[str, Any],
    store: bool,
    leave_doubts: bool,
    as_json: bool,
) -> None:
    """Read, show, and, when asked and nothing is in doubt, store. `said`: the parts of `TableAnswers`."""
    from evidence.workflows.extract.pasting import TableAnswers, understand_table
    from evidence.workflows.extract.table_questions import tell_set_aside

    answers = TableAnswers(**said)
    catalogue = opened()
    understood = understand_table(catalogue, study, source, name, answers)
    if as_json:
        show_json(understood)
    else:
        say(understood.preview)
        for question in understood.questions:
            say(f"Question: {question}")
        for line in (aside := tell_set_aside(understood.set_aside, understood.other_decimals)):
            say(f"Set aside: {line}")
    if store:
        from evidence.workflows.extract.pasting import store_table

        report = store_table(catalogue, understood, acting_person(), leave_doubts=leave_doubts)
        if not as_json:
            say(report)
            if understood.set_aside:
                say(f"Left out, not read: {'; '.join(c.printed for c in understood.set_aside)}.")
    elif not as_json:
        say("Nothing is stored yet. Add --store to keep it.")
        if understood.questions or aside or (understood.reading and understood.reading.unread):
            raise typer.Exit(FINDINGS)


@app.command()
@tells_problems
def show(study: str = STUDY, as_json: bool = JSON_OPTION) -> None:
    """Show a study's results as printed, with where they stand.

    Example: steelyard results show plate-2017
    """
    from evidence.workflows.pages.browsing import show_results

    shown = show_results(opened(), study)
    if as_json:
        show_json(shown)
        return
    for line in shown.lines:
        say(line)


@app.command()
@tells_problems
def verify(
    study: str = STUDY,
    results: list[str] = typer.Argument(None, help="Keys of results, as `results show` has them."),
    every: bool = typer.Option(False, "--all", help="All results of the study."),
    same_person: bool = typer.Option(
        False,
        "--same-person-says-so",
        help="You read them yourself: kept, and labelled as read twice by one person.",
    ),
    withdraw: bool = typer.Option(False, "--withdraw", help="Take the mark off again."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Say that you held figures against the paper.

    Someone else than who read them should.

    Example: steelyard results verify plate-2017 --all --who Kim
    """
    from evidence.workflows.relevance.verifying import tell_outcome, verify_results, withdraw_verification

    if withdraw:
        done = withdraw_verification(opened(), study, acting_person(), results or [])
    else:
        done = verify_results(
            opened(), study, acting_person(), results or [], every=every, same_person=same_person
        )
    if as_json:
        show_json(done)
        return
    for line in tell_outcome(done):
        say(line)
