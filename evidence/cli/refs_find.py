"""The command `refs find`: stored references by their words."""

import sys
from typing import TYPE_CHECKING

import typer

from evidence.cli.frame import FINDINGS, JSON_OPTION, opened, say, show_json, tells_problems

if TYPE_CHECKING:
    from evidence.workflows.gather.searching import Snippet


@tells_problems
def find(
    words: list[str] = typer.Argument(
        None, metavar="[WORDS]...", help="Words, or beginnings of words; a phrase as '\"range of motion\"'."
    ),
    author: str = typer.Option(None, "--author", help="Words of the name of any author."),
    year: str = typer.Option(None, "--year", help="2017, 2015-2020, 2015- or -1990."),
    journal: str = typer.Option(None, "--journal", help="Words of the journal's name or of its short form."),
    topic: str = typer.Option(
        None, "--topic", help="A topic; other words for the same count too (glutes, gluteal)."
    ),
    region: str = typer.Option(None, "--region", help="A region, studied or named; parts of it count too."),
    exercise: str = typer.Option(
        None, "--exercise", help="An exercise, studied or named; variants count too."
    ),
    state: str = typer.Option(
        None,
        "--state",
        help="unread, abstract, full-text, results-entered, cited-by-claim, noticed, in-study or no-study.",
    ),
    most: int = typer.Option(25, "--most", min=1, max=10_000, help="How many to show."),
    start: int = typer.Option(1, "--from", min=1, max=2**31, help="Where to begin, counted from 1."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Find references by words.

    Of authors, title, journal, keywords and abstract; best first.

    Exit status 1 where none fits.

    Example: steelyard refs find hamstring --year 2015- --state unread
    """
    from evidence.workflows.gather.searching import find_references

    page = find_references(
        opened(),
        " ".join(words or ()),
        author=author,
        year=year,
        journal=journal,
        topic=topic,
        region=region,
        exercise=exercise,
        state=state,
        most=most,
        start=start,
    )
    if as_json:
        show_json(page)
    else:
        for number, found in enumerate(page.found, page.start):
            say(f"{number}. {found.key}  {found.short}  ({found.state})")
            say(
                f"     {mark(found.snippet) if found.where == 'title' and found.snippet else found.title[:160]}"
            )
            if found.where == "abstract" and found.snippet:
                say(f"     {mark(found.snippet)}")
        last = page.start + len(page.found) - 1
        if not page.total:
            say("No reference fits. Fewer words, or beginnings of words, find more.")
        elif len(page.found) < page.total:
            shown = f"{page.start} to {last}" if page.found else "none"
            say(
                f"{shown} of {page.total}"
                + (f"; next: --from {last + 1}" if page.found and last < page.total else "")
            )
    if not page.total:
        raise typer.Exit(FINDINGS)


def mark(snippet: "Snippet") -> str:
    """A snippet with its hits in bold, where the screen can show that."""
    if not sys.stdout.isatty():
        return snippet.text
    pieces, at = [], 0
    for start, end in snippet.hits:
        if start >= at:
            pieces += [snippet.text[at:start], typer.style(snippet.text[start:end], bold=True)]
            at = end
    return "".join([*pieces, snippet.text[at:]])


def register(app: typer.Typer) -> None:
    """Add the command to the group `refs`."""
    app.command()(find)
