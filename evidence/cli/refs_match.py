"""The command `refs match`: which reference a garbled mention means."""

import typer

from evidence.cli.frame import FINDINGS, JSON_OPTION, opened, say, show_json, tells_problems


@tells_problems
def match(
    mention: str = typer.Argument(..., help="The mention, as it was said or written."),
    most: int = typer.Option(5, "--most", min=1, help="How many candidates to show."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Find the reference that a mention means.

    A match, candidates to choose from, or none.

    Exit status 1 where it is ambiguous, or where no reference fits.

    Example: steelyard refs match "the 2017 hamstring study in the strength journal"
    """
    from evidence.workflows.gather.mentions import find_mention

    found = find_mention(opened(), mention, most)
    if as_json:
        show_json(found)
    else:
        headings = {
            "match": f"match: {found.key}",
            "ambiguous": f"ambiguous: {found.reason}",
            "none": f"none: {found.reason}",
        }
        say(headings[found.answer])
        if found.answer == "none" and found.candidates:
            say("The nearest, none of which fits well enough:")
        for number, candidate in enumerate(found.candidates, 1):
            say(f"{number}. {candidate.key}  {candidate.short}  {candidate.title[:80]}")
            for reason in candidate.reasons:
                say(f"     {reason}")
        if found.related:
            say(f"belongs with it: {', '.join(found.related)}")
        for warning in found.warnings:
            say(f"look first: {warning}")
    if found.answer != "match":
        raise typer.Exit(FINDINGS)


def register(app: typer.Typer) -> None:
    """Add the command to the group `refs`."""
    app.command()(match)
