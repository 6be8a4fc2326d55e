"""Commands on references that may be one work: duplicates, merge, apart."""

import typer

from evidence.cli.frame import (
    FINDINGS,
    JSON_OPTION,
    acting_person,
    opened,
    say,
    show_json,
    tells_problems,
)


@tells_problems
def duplicates(as_json: bool = JSON_OPTION) -> None:
    """List references that may be the same work.

    Pairs set apart are not listed.

    Example: steelyard refs duplicates
    """
    from evidence.workflows.gather.gathering import list_duplicates

    pairs = list_duplicates(opened())
    if as_json:
        show_json(pairs)
    elif not pairs:
        say("No pair looks like the same work.")
    else:
        for pair in pairs:
            say(f"{pair.a}  {pair.b}: {pair.answer} ({pair.reason})")
        say("One work: steelyard refs merge KEY KEY. Two works: steelyard refs apart KEY KEY.")
    if pairs:
        raise typer.Exit(FINDINGS)


@tells_problems
def merge(
    kept: str = typer.Argument(..., help="Key that stays."),
    gone: str = typer.Argument(..., help="Key of the reference that is put into it."),
    force: bool = typer.Option(
        False, "--force", help="Merge although they look different, or their identifiers conflict."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Merge two references of one work.

    Studies follow, and `steelyard undo` takes it back.

    Example: steelyard refs merge anvil2019 anvil2019a
    """
    from evidence.workflows.gather.merging import merge_references

    merged = merge_references(opened(), kept, gone, acting_person(), force)
    if as_json:
        show_json(merged)
        return
    say(f"{merged.gone} is now part of {merged.kept}.")
    for name, keys in merged.origins:
        say(f"  {name}: from {' and '.join(keys)}")
    for difference in merged.differences:
        say(f"  set aside: {difference.field} {difference.set_aside!r} of {difference.from_key}")
    if merged.studies:
        say(f"  studies that follow: {', '.join(merged.studies)}")
    say("steelyard undo takes it back.")


@tells_problems
def apart(
    one: str = typer.Argument(None, help="Key of a reference."),
    other: str = typer.Argument(None, help="Key of another one."),
    why: str = typer.Option("", "--why", help="The reason, for later readers."),
    show_list: bool = typer.Option(False, "--list", help="Show every pair that was set apart."),
    back: bool = typer.Option(
        False, "--take-back", help="Forget the decision: the pair may be proposed again."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Remember that two references are two works.

    The pair is not proposed again.

    Example: steelyard refs apart anvil2019 barbell2020 --why "two samples"
    """
    from evidence.errors import BadInput
    from evidence.workflows.gather.merging import list_apart, put_together, set_apart

    if show_list:
        pairs = list_apart(opened())
        if as_json:
            show_json(pairs)
            return
        for pair in pairs:
            say(f"{pair.a}  {pair.b}: {pair.said}")
        say("steelyard refs apart KEY KEY --take-back forgets one." if pairs else "No pair was set apart.")
        return
    if not one or not other:
        raise BadInput("two keys are needed", hint="steelyard refs apart KEY KEY, or --list.")
    if back:
        put_together(opened(), one, other, acting_person())
        say(f"{one} and {other} may be proposed as one work again.")
        return
    new = set_apart(opened(), one, other, acting_person(), why)
    if as_json:
        show_json({"keys": sorted((one, other)), "apart": True, "new": new})
    else:
        say(f"{one} and {other} are two works." if new else f"{one} and {other} were set apart already.")


def register(app: typer.Typer) -> None:
    """Add the commands to the group `refs`."""
    app.command()(duplicates)
    app.command()(merge)
    app.command()(apart)
