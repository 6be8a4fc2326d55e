"""Commands on programmes: annotate."""

from pathlib import Path

import typer

from evidence.cli.frame import REPLACE_OPTION, acting_person, opened, tells_problems
from evidence.cli.outputs import FORMAT, PAPER, TO, tell

app = typer.Typer(help="Programmes: training plans with their evidence.", no_args_is_help=True)


@app.command()
@tells_problems
def annotate(
    file: Path = typer.Argument(..., help="The programme: YAML, CSV, XLSX, Markdown or plain lines."),
    output: Path = TO,
    form: str = FORMAT,
    paper: str = PAPER,
    sheet: bool = typer.Option(False, "--one-page", help="The plan alone, on one page to print."),
    replace: bool = REPLACE_OPTION,
) -> None:
    """Put claims, verdicts, swaps and sources beside each pick.

    Example: steelyard programme annotate plan.yaml --to plan.pdf
    """
    from evidence.publishing.formats import choose_format
    from evidence.workflows.programmes.annotating import annotate_programme

    wanted = choose_format(form, output, paper, replace)
    done = annotate_programme(opened(), file, output, acting_person(), wanted, sheet=sheet)
    tell(done, as_json=False)
