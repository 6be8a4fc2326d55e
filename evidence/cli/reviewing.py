"""The commands review, reading-list, and claim reviewed: what is due, what to look for, and a look that was taken."""

import typer

from evidence.cli.claims import app as claims_app
from evidence.cli.frame import (
    JSON_OPTION,
    acting_person,
    opened,
    say,
    say_invented,
    show_json,
    tells_problems,
)


@tells_problems
def review(as_json: bool = JSON_OPTION) -> None:
    """List the claims that are due for another look.

    And why; first those on which most rests.

    Example: steelyard review
    """
    from evidence.workflows.upkeep.reviewing import find_due

    catalogue = opened()
    found = find_due(catalogue)
    if as_json:
        show_json(found)
        return
    say_invented(catalogue)
    for due in found.due:
        say(f"{due.key}: {due.statement}")
        last = (
            f"reviewed {due.last_review} by {due.reviewed_by}"
            if due.reviewed_by
            else f"weighed {due.last_review}"
        )
        say(f"  confidence {due.level}; {last}; {count(due.published, 'thing')} published with it, "
            f"{count(due.other_claims, 'other claim')} resting on it")  # fmt: skip
        for reason in due.reasons:
            say(f"  due {reason.due}: {reason.text} [{reason.signal}]")
        say()
    say(f"{count(len(found.due), 'claim')} of {found.known} due on {found.today}.")
    if found.due:
        say("For each, ask:")
        for question in found.questions:
            say(f"  - {question}")
        say('Then: steelyard claim reviewed KEY --note "..."')
    for item in found.coming:
        say(f"  next: {item.due} {item.key}: {item.statement}")


@tells_problems
def reading_list(
    most: int = typer.Option(10, "--most", min=1, max=1000, help="How many claims to list."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Say which studies would help most.

    Those on claims of little confidence with much published on them come first.

    Example: steelyard reading-list --most 5
    """
    from evidence.workflows.upkeep.reading_list import list_reading

    catalogue = opened()
    found = list_reading(catalogue, most)
    if as_json:
        show_json(found)
        return
    say_invented(catalogue)
    for place, wish in enumerate(found.wishes, 1):
        say(f"{place}. {wish.key}: {wish.statement}")
        say(f"   {wish.verdict}; confidence {wish.level}; {count(wish.studies, 'study', 'studies')}, "
            f"{count(wish.people, 'person', 'people')}; {wish.rests} resting on it (score {wish.score})")  # fmt: skip
        say(f"   look for: {wish.look_for}")
        for need in wish.needs:
            say(f"   it would need: {need}")
    if not found.wishes:
        say("Nothing to look for: no claim was weighed, or all have high confidence.")
        return
    say(found.how)


@claims_app.command()
@tells_problems
def reviewed(
    key: str = typer.Argument(..., help="Key of the claim."),
    note: str = typer.Option("", "--note", help="What you looked at and found."),
    day: str = typer.Option(
        None, "--next", metavar="DATE", help="Day of the next review; left out: by its level."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Note that a claim was looked at again.

    And set the day of the next look.

    Example: steelyard claim reviewed seated-curl-growth --note "no new studies"
    """
    from datetime import date

    from evidence.errors import BadInput
    from evidence.workflows.upkeep.reviewing import mark_reviewed

    try:
        next_review = date.fromisoformat(day) if day else None
    except ValueError:
        raise BadInput(f"{day!r} is no date.", hint="Write it as 2026-03-31.") from None
    done = mark_reviewed(opened(), key, acting_person(), note, next_review)
    if as_json:
        show_json(done)
        return
    say(f"{done.key} was reviewed by {done.by}; confidence {done.level}; next review {done.next_review}.")


def count(number: int, one: str, many: str | None = None) -> str:
    """`1 study`, `2 studies`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def register(app: typer.Typer) -> None:
    """Add review and reading-list to the top level."""
    app.command()(review)
    app.command("reading-list")(reading_list)
