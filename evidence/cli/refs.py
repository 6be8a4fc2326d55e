"""Commands on references: add, list, show, notices."""

from pathlib import Path

import typer

from evidence.cli import refs_add, refs_cite, refs_match, refs_merge
from evidence.cli.frame import (
    JSON_OPTION,
    acting_person,
    opened,
    say,
    show_json,
    table,
    tells_problems,
)

app = typer.Typer(help="References: articles, books, theses, preprints.", no_args_is_help=True)
refs_add.register(app)


@app.command("list")
@tells_problems
def list_(
    words: str = typer.Argument("", help="Only those with these words in author, title, journal or year."),
    as_json: bool = JSON_OPTION,
) -> None:
    """List references.

    Example: steelyard refs list "hip thrust"
    """
    from evidence.workflows.browsing import find_references

    found = find_references(opened(), words)
    if as_json:
        show_json(found)
        return
    if not found:
        say("No reference fits." if words else "No reference yet: steelyard refs add FILE.bib")
        return
    say(table([(r.key, r.short, r.title[:70], r.state) for r in found], ("key", "short", "title", "state")))


@app.command()
@tells_problems
def show(key: str = typer.Argument(..., help="Key of the reference."), as_json: bool = JSON_OPTION) -> None:
    """Show one reference with all that is kept of it.

    Example: steelyard refs show lehman2004
    """
    from evidence.workflows.browsing import show_reference

    shown = show_reference(opened(), key)
    if as_json:
        show_json(shown)
        return
    say(shown.full)
    for name, value in shown.fields:
        say(f"  {name}: {value}")
    say(f"  state: {shown.state}")
    say(f"  studies: {', '.join(shown.studies) or 'none'}")
    if shown.source:
        say(f"  from: {shown.source}")


notices = typer.Typer(help="Notices: retractions, concerns, corrections.", no_args_is_help=True)
app.add_typer(notices, name="notices")


@notices.command("apply")
@tells_problems
def apply(
    file: Path = typer.Argument(..., help="The open retraction table (CSV) or Crossref-shaped JSON."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Put notices from a file on the references they are about.

    Example: steelyard refs notices apply retractions.csv
    """
    from evidence.workflows.noticing import apply_notices

    applied = apply_notices(opened(), file, acting_person())
    if as_json:
        show_json(applied)
        return
    for change in applied.changed:
        say(change)
    for doubt in applied.doubtful:
        say(f"look first: {doubt}")
    for problem in applied.problems:
        say(f"{problem.severity}: line {problem.line}: {problem.reason}")
    if applied.studies:
        say(f"Studies touched: {', '.join(applied.studies)}. Weigh their claims again.")
    say(
        f"{applied.read} notices read; {len(applied.changed)} references changed, {applied.unlisted} are not listed "
        "(which does not say that nothing is known of them)."
    )


refs_match.register(app)
refs_merge.register(app)
refs_cite.register(app)
