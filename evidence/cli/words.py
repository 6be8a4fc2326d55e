"""Commands on names: look one up, add your own exercises and aliases."""

import typer

from evidence.cli.frame import (
    FINDINGS,
    JSON_OPTION,
    acting_person,
    opened,
    say,
    show_json,
    table,
    tells_problems,
)

app = typer.Typer(help="Names of exercises and regions: look up, add your own.", no_args_is_help=True)


@app.command()
@tells_problems
def find(
    text: str = typer.Argument(..., help="A name or abbreviation."), as_json: bool = JSON_OPTION
) -> None:
    """Say what a name means.

    An ambiguous one lists the candidates.

    Example: steelyard words find RDL
    """
    from evidence.workflows.naming import look_up

    found = look_up(opened(), text)
    if as_json:
        show_json(found)
    else:
        rows = [(c.kind, c.id, c.name, f"{c.score:.0f}", c.reason) for c in found.candidates]
        say(f"{text}: {found.outcome}")
        if rows:
            say(table(rows, ("kind", "id", "name", "score", "because")))
        else:
            say("No name here is like it. Add it: steelyard words add-alias, or steelyard words add-exercise")
    if found.outcome != "match":
        raise typer.Exit(FINDINGS)


@app.command("add-exercise")
@tells_problems
def add_exercise(
    key: str = typer.Argument(..., help="Short id: small letters, digits, underscores."),
    name: str = typer.Argument(..., help="The name as shown."),
    primary: list[str] = typer.Option([], "--primary", help="Primary region. May be repeated."),
    secondary: list[str] = typer.Option([], "--secondary", help="Secondary region. May be repeated."),
    parent: str = typer.Option(None, "--variant-of", help="The exercise it is a variant of."),
    details: list[str] = typer.Option(
        [], "--detail", metavar="NAME=VALUE", help="implement=barbell, laterality=..."
    ),
) -> None:
    """Add an exercise of your own.

    Example: steelyard words add-exercise heel_squat "heel-raised squat" --primary quadriceps
    """
    from evidence.workflows.naming import add_own_exercise

    added = add_own_exercise(opened(), key, name, primary, secondary, parent, details, acting_person())
    say(f"Added {added}.")
    if not (primary or secondary or parent):
        say("It works no region yet, so its sets count for none: steelyard undo, then add it with --primary.")


@app.command("add-alias")
@tells_problems
def add_alias(
    alias: str = typer.Argument(..., help="The name you, or a paper, use."),
    meaning: str = typer.Argument(..., help="The exercise or region it stands for."),
) -> None:
    """Add a name of your own for a known exercise or region.

    Example: steelyard words add-alias "hammies" hamstrings
    """
    from evidence.workflows.naming import add_own_alias

    say(add_own_alias(opened(), alias, meaning, acting_person()))
