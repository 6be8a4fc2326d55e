"""The command `steelyard`: options that hold for every command, and the groups of commands."""

import gc
import sys

import typer
from typer.main import get_command

from evidence.cli import (
    catalogue,
    changes,
    claims,
    compute,
    demonstration,
    drafts,
    outputs,
    programmes,
    ranking,
    refs,
    results,
    reviewing,
    serving,
    studies,
    tracing,
    words,
)
from evidence.cli.frame import choices
from evidence.cli.help_pages import name_values

app = typer.Typer(
    help="Claims about training, tied to the numbers they rest on.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
)


def show_version(wanted: bool) -> None:
    """Print the version and leave."""
    if wanted:
        from importlib.metadata import version

        typer.echo(version("steelyard"))
        raise typer.Exit()


@app.callback()
def choose(
    catalogue_location: str = typer.Option(
        None,
        "--catalogue",
        metavar="PLACE",
        help="The catalogue: a file, or a postgresql:// address. Default: STEELYARD_CATALOGUE, or your own.",
    ),
    who: str = typer.Option(None, "--who", metavar="NAME", help="Your name in the history."),
    version: bool = typer.Option(
        False, "--version", callback=show_version, is_eager=True, help="Print the version."
    ),
) -> None:
    """Claims about training, tied to the numbers they rest on."""
    choices.catalogue = catalogue_location
    choices.who = who


demonstration.register(app)
catalogue.register(app)
app.add_typer(refs.app, name="refs")
app.add_typer(studies.app, name="study")
app.add_typer(results.app, name="results")
app.add_typer(claims.app, name="claim")
app.add_typer(compute.app, name="compute")
claims.register(app)
ranking.register(app)
tracing.register(app)
changes.register(app)
reviewing.register(app)
app.add_typer(drafts.app, name="draft")
app.add_typer(programmes.app, name="programme")
app.add_typer(outputs.app, name="publish")
app.add_typer(words.app, name="words")
serving.register(app)


def hoisted(arguments: list[str]) -> list[str]:
    """Move --catalogue and --who to the front, so that they may stand anywhere in a command."""
    front: list[str] = []
    rest: list[str] = []
    waiting = iter(arguments)
    for argument in waiting:
        if argument == "--":
            rest += [argument, *waiting]
        elif argument in ("--catalogue", "--who"):
            value = next(waiting, None)
            front += [argument] if value is None else [argument, value]
        elif argument.startswith(("--catalogue=", "--who=")):
            front.append(argument)
        else:
            rest.append(argument)
    return front + rest


# New objects between two looks for rubbish. The rows of a large catalogue stay alive while a command works; looking
# through them after every 700 new ones, Python's own choice, took more time than reading them.
RUBBISH = (50_000, 20, 100)


def run() -> None:
    """Entry point of the installed command."""
    gc.set_threshold(*RUBBISH)
    name_values(get_command(app))(args=hoisted(sys.argv[1:]), prog_name="steelyard")
