"""The command rank: a region's exercises in order, with how far the order can be told."""

from pathlib import Path

import typer

from evidence.cli.frame import JSON_OPTION, opened, say, show_json, tells_problems


@tells_problems
def rank(
    region: str = typer.Argument(..., help="The muscle or region."),
    outcome: str = typer.Option(..., "--outcome", help="activation, growth, strength, ..."),
    against: str = typer.Option(
        None, "--against", help="The exercise the others are shown against; left out: the one most compared."
    ),
    output: Path = typer.Option(
        None, "--to", help="File to write: .html, .svg or .md. Left out: text on the screen."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Rank the exercises of a region by every study that compares them, directly or by way of others.

    Example: steelyard rank hamstrings --outcome activation --against "lying leg curl"
    """
    from evidence.publishing.ranking_pages import ranking_text
    from evidence.workflows.ranking import rank as rank_exercises
    from evidence.workflows.ranking import write_ranking

    ranking = rank_exercises(opened(), region, outcome, against)
    if output is not None:
        write_ranking(ranking, output)
        if not as_json:
            say(f"Wrote {output}.")
    if as_json:
        show_json(ranking)
    elif output is None:
        say(ranking_text(ranking))


def register(app: typer.Typer) -> None:
    """Add rank to the top level."""
    app.command()(rank)
