"""Commands on references: list, read, show, notices; others are registered from modules of their own."""

from pathlib import Path

import typer

from evidence.cli import refs_add, refs_cite, refs_find, refs_look_up, refs_match, refs_merge
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
from evidence.cli.refs_add import count, progress

SCREENFUL = 100  # references on one page of a list

app = typer.Typer(help="References: articles, books, theses, preprints.", no_args_is_help=True)
refs_add.register(app)


@app.command("list")
@tells_problems
def list_(
    words: str = typer.Argument(
        "", help="Only those with these words in title, first author, journal or key."
    ),
    year: str = typer.Option(None, "--year", help="2017, 2015-2020, 2015- or -1990."),
    state: str = typer.Option(
        None, "--state", help="unread, abstract or full-text (how far read), noticed, in-study or no-study."
    ),
    author: str = typer.Option(
        None, "--author", help="A part of the name of any author; accents do not matter."
    ),
    most: int = typer.Option(
        None, "--most", min=1, help="How many to show; left out: 100 on the screen, all as JSON."
    ),
    start: int = typer.Option(1, "--from", min=1, max=2**31, help="Where to begin, counted from 1."),
    as_json: bool = JSON_OPTION,
) -> None:
    """List references, a page at a time.

    Example: steelyard refs list "hip thrust" --year 2015- --state unread
    """
    from evidence.workflows.gather.reference_lists import list_page

    limit = most if most or as_json else SCREENFUL
    page = list_page(opened(), words, year=year, state=state, author=author, most=limit, start=start)
    if as_json:
        show_json(page.lines)
        return
    if not page.total:
        asked = words or year or state or author
        say("No reference fits." if asked else "No reference yet: steelyard refs add FILE.bib")
        return
    rows = [(r.key, r.short[:40], r.state, r.title[:70]) for r in page.lines]
    if rows:
        say(table(rows, ("key", "short", "state", "title")))
    last = start + len(rows) - 1
    if len(rows) < page.total:
        shown = f"{start} to {last}" if rows else "none"
        say(f"{shown} of {page.total}" + (f"; next: --from {last + 1}" if rows and last < page.total else ""))


@app.command()
@tells_problems
def read(
    keys: list[str] = typer.Argument(..., metavar="KEY...", help="Keys of the references."),
    abstract: bool = typer.Option(False, "--abstract", help="The abstract was read."),
    full_text: bool = typer.Option(False, "--full-text", help="The full text was read."),
    unread: bool = typer.Option(False, "--unread", help="Neither was read."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Note how far references were read.

    Example: steelyard refs read anvil2019 --full-text
    """
    from evidence.errors import BadInput
    from evidence.workflows.gather.reference_lists import mark_read

    given = {"abstract": abstract, "full-text": full_text, "unread": unread}
    chosen = [name for name, is_given in given.items() if is_given]
    if len(chosen) != 1:
        raise BadInput("how far was it read?", hint="Give one of --abstract, --full-text, --unread.")
    changed = mark_read(opened(), keys, chosen[0], acting_person())
    if as_json:
        show_json({"state": chosen[0], "changed": changed})
        return
    for key in dict.fromkeys(keys):
        say(f"{key}: {chosen[0]}" + ("" if key in changed else " (as before)"))


@app.command()
@tells_problems
def show(key: str = typer.Argument(..., help="Key of the reference."), as_json: bool = JSON_OPTION) -> None:
    """Show one reference with all that is kept of it.

    Example: steelyard refs show anvil2019
    """
    from evidence.workflows.pages.browsing import show_reference

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


@notices.command("list")
@tells_problems
def list_notices(as_json: bool = JSON_OPTION) -> None:
    """List references with a notice.

    And how many were never looked up. Exit status 1 where there are any.

    Example: steelyard refs notices list
    """
    from evidence.workflows.gather.reference_lists import list_notices

    known = list_notices(opened())
    if as_json:
        show_json(known)
    else:
        rows = [
            (
                r.key,
                r.short,
                r.notice,
                f"{r.checked_on:%Y-%m-%d}" if r.checked_on else "-",
                ", ".join(r.studies),
            )
            for r in known.noticed
        ]
        if rows:
            say(table(rows, ("key", "short", "notice", "checked", "studies")))
        say(
            f"{len(rows)} with a notice; {known.not_listed} not listed where they were looked up "
            f"(which does not say that nothing is known of them); {known.never_checked} never looked up."
        )
        if known.oldest_check:
            say(f"Longest ago: looked up on {known.oldest_check:%Y-%m-%d}.")
    if known.noticed:
        raise typer.Exit(FINDINGS)


@notices.command("apply")
@tells_problems
def apply(
    file: Path = typer.Argument(
        ..., help="The open retraction table (CSV), Crossref-shaped JSON, or PubMed records (.nbib, .xml)."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Put notices from a file on their references.

    Tells what rests on them.

    Exit status 1 where a claim, or something that went out, is touched.

    Example: steelyard refs notices apply retractions.csv
    """
    from evidence.workflows.gather.noticing import apply_notices, tell_change

    with progress(file.name, "notice") as tell:
        applied = apply_notices(opened(), file, acting_person(), tell)
    if as_json:
        show_json(applied)
        raise typer.Exit(FINDINGS if applied.touched.claims or applied.touched.uses else 0)
    for change in applied.changes:
        say(f"{tell_change(change)}. What follows: {change.effect}.")
    for doubt in applied.doubtful:
        say(f"look first: {doubt}")
    for problem in applied.problems:
        say(f"{problem.severity}: line {problem.line}: {problem.reason}")
    if applied.studies:
        say(f"Studies touched: {', '.join(applied.studies)}.")
    if applied.touched.claims:
        say(f"Claims to weigh again: {', '.join(applied.touched.claims)}.")
    for use in applied.touched.uses:
        say(f"Went out and rests on it: {use}")
    if applied.unjoinable:
        say(
            f"{count(len(applied.unjoinable), 'reference')} without DOI and PMID: no notice can be joined to them."
        )
    say(
        f"{count(applied.read, 'notice')} read on {applied.checked_on:%Y-%m-%d}; "
        f"{count(len(applied.changes), 'reference')} changed, {applied.unlisted:,} not listed "
        "(which does not say that nothing is known of them)."
    )
    if applied.touched.claims or applied.touched.uses:
        raise typer.Exit(FINDINGS)


refs_find.register(app)
refs_look_up.register(app)
refs_match.register(app)
refs_merge.register(app)
refs_cite.register(app)
