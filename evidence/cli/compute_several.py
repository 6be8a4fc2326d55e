"""The commands compute difference and compute tests: questions about several results at once."""

import typer

from evidence.cli.compute_shown import RATIO, show
from evidence.cli.frame import JSON_OPTION, tells_problems

RESULT = '"ESTIMATE LOW HIGH"'


@tells_problems
def difference(
    first: str = typer.Option(..., "--first", metavar=RESULT, help="A result with its 95 % interval."),
    second: str = typer.Option(..., "--second", metavar=RESULT, help="The other result, in the same unit."),
    ratio: bool = RATIO,
    as_json: bool = JSON_OPTION,
) -> None:
    """Say whether two results differ.

    One that is significant and one that is not need not differ from each other.

    Example: steelyard compute difference --first "0.55 0.10 1.00" --second "0.30 -0.15 0.75"
    """
    from evidence.workflows.calculator.several import DifferenceQuestion, compute_difference

    show(compute_difference(DifferenceQuestion(first, second, ratio)), as_json=as_json)


@tells_problems
def many_tests(
    p: list[str] = typer.Argument(..., metavar="P...", help="The p-values of a paper, all of them."),
    alpha: float = typer.Option(0.05, "--alpha", help="The line they are held against."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Say what is left of many p-values.

    Of twenty tests of nothing, one falls below 0.05 by chance.

    Example: steelyard compute tests 0.01 0.04 0.03 0.005
    """
    from evidence.workflows.calculator.several import compute_tests

    show(compute_tests(p, alpha), as_json=as_json)


def register(app: typer.Typer) -> None:
    """Add the commands to the group `compute`."""
    app.command()(difference)
    app.command("tests")(many_tests)
