"""The command rank: a region's exercises in order, with how far the order can be told."""

from pathlib import Path

import typer

from evidence.cli.frame import (
    JSON_OPTION,
    REPLACE_OPTION,
    acting_person,
    opened,
    say,
    show_json,
    tells_problems,
)


@tells_problems
def rank(
    region: str = typer.Argument(..., help="The muscle or region."),
    outcome: str = typer.Option(..., "--outcome", help="activation, growth, strength, ..."),
    against: str = typer.Option(
        None, "--against", help="The exercise the others are shown against; left out: the one most compared."
    ),
    scale: str = typer.Option(
        None, "--scale", help="smd, mean-difference, ...; left out: the usual one of the outcome."
    ),
    level: str = typer.Option(
        "exercise",
        "--level",
        help="What counts as one exercise: exercise; details (variants by load, angle, ... apart); or family (with "
        "all its variants).",
    ),
    status: str = typer.Option(
        None, "--status", help="Only studies of people of this training status: trained, untrained, ..."
    ),
    sex: str = typer.Option(None, "--sex", help="Only studies of: female, male or both."),
    output: Path = typer.Option(
        None,
        "--to",
        help="File to write; its ending says the format. Left out: text on the screen.",
    ),
    paper: str = typer.Option("a4", "--paper", help="a4 or letter, for .pdf and .docx."),
    replace: bool = REPLACE_OPTION,
    as_json: bool = JSON_OPTION,
) -> None:
    """Rank the exercises of a region.

    By every study that compares them, directly or by way of others.

    Example: steelyard rank hamstrings --outcome activation --against "lying leg curl"
    """
    from evidence.publishing.ranking_pages import ranking_text
    from evidence.workflows.documents.ranking_files import publish_ranking
    from evidence.workflows.making import require_free
    from evidence.workflows.rank.ranking import rank as rank_exercises

    require_free(output, replace)
    catalogue = opened()
    ranking = rank_exercises(
        catalogue, region, outcome, against, scale=scale, level=level, status=status, sex=sex
    )
    if output is not None:
        publish_ranking(catalogue, ranking, output, acting_person(), paper)
        if not as_json:
            say(f"Wrote {output}.")
    if as_json:
        show_json(ranking)
    elif output is None:
        say(ranking_text(ranking))


def register(app: typer.Typer) -> None:
    """Add rank to the top level."""
    app.command()(rank)
