"""The commands changes and uses: what moved, why, and what was published that no longer holds."""

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from evidence.cli.frame import JSON_OPTION, acting_person, counted, opened, say, show_json, tells_problems

if TYPE_CHECKING:
    from evidence.workflows.upkeep.changes import ClaimChange
    from evidence.workflows.upkeep.uses import UseLine


@tells_problems
def changes(
    since: str = typer.Option(
        None, "--since", metavar="DATE|CHANGE", help="Since a date or a change; left out: since last seen."
    ),
    notes: bool = typer.Option(
        False, "--notes", help="Write a correction note for each thing published that no longer holds."
    ),
    to: Path = typer.Option(
        None, "--to", metavar="FOLDER", help="Folder for the notes; left out: the screen."
    ),
    form: str = typer.Option("md", "--format", help="Of the notes: md, html, pdf, docx or txt."),
    replace: bool = typer.Option(False, "--replace", help="Write over notes that are there already."),
    keep: bool = typer.Option(
        False,
        "--keep",
        help="Store the new answers, and those of claims not weighed yet: the next look is quicker.",
    ),
    seen: bool = typer.Option(
        False, "--seen", help="Take what moved for known: list only what moves from now on."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """List the claims that moved.

    With before and after, why, and what was published of them.

    Nothing is stored unless --keep or --seen is given.

    Example: steelyard changes --since 2026-01-01 --notes --to notes/
    """
    from evidence.errors import BadInput
    from evidence.workflows.upkeep.changes import find_changes

    if to is not None and not notes:
        raise BadInput("--to names a folder for notes.", hint="Add --notes.")
    if form != "md" and to is None:
        raise BadInput("--format is that of notes in a folder.", hint="Add --notes --to FOLDER.")
    found = find_changes(opened(), acting_person(), since=since, keep=keep, seen=seen)
    if notes:
        from evidence.workflows.documents.corrections import correction_notes, write_notes

        made = correction_notes(found)
        if as_json and to is None:
            show_json({"notes": made})
            return
        if to is None:
            from evidence.publishing.corrections import note_markdown

            say("\n\n".join(note_markdown(note) for note in made) or "Nothing published has to be corrected.")
            return
        from evidence.workflows.making import made_from

        state = made_from(opened())
        written = write_notes(made, to, replace=replace, form=form, made=state)
        if as_json:
            show_json({"notes": made, "written": [str(path) for path in written]})
            return
        for path in written:
            say(f"Wrote {path}.")
        if not made:
            say("Nothing published has to be corrected.")
        return
    if as_json:
        show_json(found)
        return
    for claim in found.claims:
        tell_claim(claim)
    for use in found.uses:
        say(f"{use.kind} {use.name}, {use.key}: {'; '.join(m.text for m in use.moves)}")
        say()
    anew = f"{found.weighed_anew} of {found.known} had to be weighed anew"
    say(f"{counted(len(found.claims), 'claim')} moved {told_since(found.since)}; {anew}.")
    if found.never_weighed:
        say(f"{found.never_weighed} not weighed yet: steelyard changes --keep")
    if found.kept:
        say(f"{found.kept} new answers stored; the earlier ones stay.")
    elif (found.claims or found.uses) and not seen:
        say("Next: steelyard changes --notes, then steelyard changes --seen")


def told_since(since: str) -> str:
    """Since when, in words: `since it was last seen`, `since 2026-03-01`, `since change 12`."""
    if since == "last seen":
        return "since it was last seen"
    return f"since change {since}" if since.isdecimal() else f"since {since}"


def tell_claim(claim: "ClaimChange") -> None:
    """One claim that moved, in lines."""
    say(f"{claim.key}: {claim.statement}" + (" (INVENTED demonstration data)" if claim.invented else ""))
    say(f"  before ({claim.before.at:%Y-%m-%d}): {claim.before.verdict_text}; confidence {claim.before.span}")
    if claim.before.figures:
        say(f"    {claim.before.figures}")
    say(f"  now: {claim.now.verdict_text}; confidence {claim.now.span}")
    if claim.now.figures:
        say(f"    {claim.now.figures}")
    say(f"  moved: {', '.join(dict.fromkeys(str(m.kind) for m in claim.moves))}")
    for cause in claim.causes:
        say(f"  why: {cause.text}")
    for use in claim.uses:
        tell_use_briefly(use)
    say()


def tell_use_briefly(use: "UseLine") -> None:
    """One thing published, in a line."""
    state = {True: "still holds", False: "NO LONGER HOLDS", None: "cannot be compared"}[use.holds]
    where = f" ({use.place})" if use.place and use.place != use.name else ""
    say(f"  told in: {use.kind} {use.name}{where}, {use.at:%Y-%m-%d}: {state}")


@tells_problems
def uses(
    about: str = typer.Argument(None, metavar="CLAIM|REFERENCE", help="Key of a claim or a reference."),
    everything: bool = typer.Option(False, "--all", help="Everything that ever went out."),
    as_json: bool = JSON_OPTION,
) -> None:
    """List what was published, and whether it still holds.

    With a claim or a reference: where, what it said, and what holds now.

    Example: steelyard uses --all
    """
    from evidence.errors import BadInput
    from evidence.workflows.upkeep.uses import list_uses

    if (about is None) == (not everything):
        both = (
            "A claim or reference and --all were both given"
            if about
            else "No claim and no reference is named"
        )
        raise BadInput(f"{both}.", hint="steelyard uses KEY, or steelyard uses --all")
    found = list_uses(opened(), about)
    if as_json:
        show_json(found)
        return
    if not found:
        say("Nothing was published with it yet." if about else "Nothing was published yet.")
        return
    for use in found:
        tell_use(use)


def tell_use(use: "UseLine") -> None:
    """One thing published, in lines: what it told, and what of it moved."""
    states = {True: "holds", False: "NO LONGER HOLDS", None: "cannot be compared"}
    state = "replaced by a later one" if use.replaced else states[use.holds]
    say(f"{use.at:%Y-%m-%d}  {use.kind} {use.name}, {use.key}: {state}")
    if use.told:
        say(f"  it {'cited' if use.about == 'reference' else 'said'}: {use.told}")
    if use.holds is False and not use.replaced:
        say(f"  now: {use.now}")
        say(f"  moved: {', '.join(dict.fromkeys(str(m.kind) for m in use.moves)) or 'its wording'}")


def register(app: typer.Typer) -> None:
    """Add changes and uses to the top level."""
    app.command()(changes)
    app.command()(uses)
