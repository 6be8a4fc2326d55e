"""The command `refs look-up`: records by their identifiers, over the network, only where that is asked for."""

from typing import TYPE_CHECKING

import typer

from evidence.cli.frame import (
    FINDINGS,
    JSON_OPTION,
    acting_person,
    opened,
    say,
    show_json,
    tells_problems,
    warn,
)

if TYPE_CHECKING:
    from pathlib import Path


@tells_problems
def look_up(
    identifiers: list[str] = typer.Argument(None, metavar="[IDENTIFIER]...", help="DOIs, in any form."),
    online: bool = typer.Option(
        False, "--online", help="Ask over the network; without this nothing is sent."
    ),
    contact: str = typer.Option(
        None, "--contact", help="Your e-mail address, which services ask for; it is remembered."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Look references up by DOI and add them. Off unless --online is given: else tells what would be asked.

    Exit status 1 where a record did not come.

    Example: steelyard refs look-up 10.5555/12345678
    """
    from evidence.errors import BadInput
    from evidence.workflows.gather.looking_up import look_up, plan, remember_contact

    if contact:
        remember_contact(opened(), contact, acting_person())
    if not identifiers:
        if contact:
            say(f"Contact address: {contact}")
            return
        raise BadInput("no identifier was given", hint="Give one or more DOIs.")
    if not online:
        questions = plan(identifiers)
        if as_json:
            show_json(questions)
            return
        for question in questions:
            say(f"{question.identifier}: " + (question.reason or f"would be asked for at {question.address}"))
        say("Nothing was sent. Add --online to ask (needs the extra: pip install 'steelyard[online]').")
        return
    from evidence.cli.refs_add import tell_report

    done = look_up(opened(), identifiers, acting_person(), answers_folder())
    if as_json:
        show_json(done)
    else:
        for answer in done.failed:
            warn(f"{answer.identifier}: {answer.reason}")
        if done.report is not None:
            tell_report(done.report)
    if done.failed:
        raise typer.Exit(FINDINGS)


def answers_folder() -> "Path":
    """Where answers are kept, so that nothing is asked twice."""
    from pathlib import Path

    from platformdirs import user_cache_dir

    return Path(user_cache_dir("steelyard")) / "looked-up"


def register(app: typer.Typer) -> None:
    """Add the command to the group `refs`."""
    app.command("look-up")(look_up)
