"""Commands on programmes: annotate."""

from pathlib import Path

import typer

from evidence.cli.frame import acting_person, opened, say, tells_problems, warn

app = typer.Typer(help="Programmes: training plans with the evidence beside each pick.", no_args_is_help=True)


@app.command()
@tells_problems
def annotate(
    file: Path = typer.Argument(..., help="The programme: YAML or CSV."),
    output: Path = typer.Option(
        None, "--to", help="File to write: .html or .md. Left out: Markdown on the screen."
    ),
) -> None:
    """Put claims, verdicts and sources beside each pick.

    Example: steelyard programme annotate plan.yaml --to plan.html
    """
    from evidence.workflows.annotating import annotate_programme

    done = annotate_programme(opened(), file, output, acting_person())
    for question in done.questions:
        warn(f"Question: {question}")
    say(f"Wrote {done.path}." if done.path else done.text)
