"""How an answer of the calculator is printed, and the option that its commands share."""

from typing import TYPE_CHECKING

import typer

from evidence.cli.frame import FINDINGS, say, show_json

if TYPE_CHECKING:
    from evidence.workflows.calculator.computing import Worked

RATIO = typer.Option(False, "--ratio", help="Estimates and limits are ratios as printed (1 = no difference).")


def show(worked: "Worked", *, as_json: bool) -> None:
    """Print an answer; exit status 1 when something in it needs a look."""
    from evidence.workflows.calculator.text import worked_text

    if as_json:
        show_json(worked)
    else:
        say(worked_text(worked))
    if worked.flagged:
        raise typer.Exit(FINDINGS)
