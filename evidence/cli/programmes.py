"""Commands on programmes: annotate."""

from pathlib import Path

import typer

from evidence.cli.frame import (
    JSON_OPTION,
    REPLACE_OPTION,
    acting_person,
    opened,
    show_json,
    tells_problems,
)
from evidence.cli.outputs import FORMAT, PAPER, TO, tell

app = typer.Typer(help="Programmes: training plans with their evidence.", no_args_is_help=True)


@app.command()
@tells_problems
def annotate(
    file: Path = typer.Argument(..., help="The programme: YAML, CSV, XLSX, Markdown or plain lines."),
    output: Path = TO,
    form: str = FORMAT,
    paper: str = PAPER,
    sheet: bool = typer.Option(
        False, "--one-page", help="The plan alone, to print: on one page where it fits."
    ),
    replace: bool = REPLACE_OPTION,
    as_json: bool = JSON_OPTION,
) -> None:
    """Put claims, verdicts, swaps and sources beside each pick.

    Example: steelyard programme annotate plan.yaml --to plan.pdf
    """
    from evidence.publishing.formats import choose_format
    from evidence.workflows.making import require_apart
    from evidence.workflows.programmes.annotating import hand_out_programme, read_annotated

    wanted, catalogue, who = choose_format(form, output, paper, replace), opened(), acting_person()
    require_apart(output, file)
    read = read_annotated(catalogue, file, who)
    if as_json and output is None:
        show_json({"programme": read.annotated, "path": None, "notes": read.notes})
        return
    done = hand_out_programme(catalogue, read, output, who, wanted, sheet=sheet)
    if as_json:
        show_json({"programme": read.annotated, "path": done.path, "notes": done.notes})
    else:
        tell(done, as_json=False)
