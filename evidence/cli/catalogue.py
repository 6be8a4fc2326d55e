"""Commands on the catalogue as a whole: init, history, undo, backup, restore, check, export, import."""

from pathlib import Path

import typer

from evidence.cli.frame import (
    FINDINGS,
    JSON_OPTION,
    acting_person,
    choices,
    on_terminal,
    opened,
    say,
    show_json,
    table,
    tells_problems,
)
from evidence.cli.waiting import waiting


@tells_problems
def init() -> None:
    """Create an empty catalogue.

    Example: steelyard init
    """
    import os

    from evidence.workflows.opening import create_named

    location = create_named(choices.catalogue, os.environ)
    say(f"Created an empty catalogue: {location}")
    say("Next: steelyard refs add FILE.bib, then steelyard study load FILE.yaml")


@tells_problems
def history(
    most: int = typer.Option(20, "--most", min=1, help="How many changes to show, newest first."),
    as_json: bool = JSON_OPTION,
) -> None:
    """Show what was changed, when and by whom.

    Example: steelyard history --most 5
    """
    from evidence.workflows.pages.browsing import recent_changes

    entries = recent_changes(opened(), most)
    if as_json:
        show_json(entries)
        return
    if not entries:
        say("Nothing has been changed yet.")
        return
    rows = [
        (
            str(e.number),
            f"{e.at:%Y-%m-%d %H:%M}",
            e.who,
            e.action,
            e.summary + (f" (undoes {e.undoes})" if e.undoes else ""),
        )
        for e in entries
    ]
    say(table(rows, ("no.", "when (UTC)", "who", "action", "rows")))
    if entries[-1].number > 1 and len(entries) == most:
        say(f"Older ones: steelyard history --most {10 * most}")


@tells_problems
def undo(
    number: int = typer.Argument(
        None, help="Number from `steelyard history`; left out: the last one made on purpose."
    ),
) -> None:
    """Take one change back, as a new change.

    Without a number it passes over what weighing and publishing leave behind, and over undoings; on a terminal it asks
    whether the change that it found is the one.

    Example: steelyard undo 12
    """
    from evidence.workflows.upkeep.keeping import find_undoable, undo_change

    catalogue = opened()
    found = find_undoable(catalogue, number)
    say(f"Change {found.number} of {found.at:%Y-%m-%d %H:%M} UTC, by {found.who}: {found.action}")
    if number is None and on_terminal():
        waiting.stop()
        if not typer.confirm("Take it back?", default=False):
            say("Nothing was changed. Another one: steelyard history, then steelyard undo NUMBER")
            return
    undone = undo_change(catalogue, found.number, acting_person())
    say(f"Undone by change {undone.number}. To bring it back: steelyard undo {undone.number}")


@tells_problems
def backup(target: Path = typer.Argument(..., help="File to write the backup to.")) -> None:
    """Write a verified copy of the catalogue.

    Example: steelyard backup catalogue-2026-11.backup
    """
    from evidence.workflows.upkeep.keeping import back_up

    path, size = back_up(opened(), target)
    say(f"Backed up to {path} ({size / 1024:.0f} kB), read back and checked.")


@tells_problems
def restore(source: Path = typer.Argument(..., help="A backup made by `steelyard backup`.")) -> None:
    """Put a backup in the catalogue's place.

    What stood there is kept beside it.

    Example: steelyard restore catalogue-2026-11.backup
    """
    import os

    from evidence.workflows.upkeep.keeping import restore_from

    location, kept = restore_from(source, choices.catalogue, os.environ)
    say(f"Restored {location} from {source}.")
    if kept:
        say(f"What stood there before is kept as {kept}.")


@tells_problems
def check(
    figures: bool = typer.Option(
        False, "--figures", help="Also recompute printed figures where that is possible."
    ),
    as_json: bool = JSON_OPTION,
) -> None:
    """Check that the catalogue is whole and sound.

    Example: steelyard check --figures
    """
    from evidence.workflows.effects.checking import check_catalogue

    findings = check_catalogue(opened(), figures=figures)
    if as_json:
        show_json(findings)
    elif not findings:
        say("The catalogue is whole: nothing to report.")
    else:
        for finding in findings:
            say(f"{finding.severity}: {finding.where}: {finding.text}")
        say("1 finding." if len(findings) == 1 else f"{len(findings)} findings.")
    if findings:
        raise typer.Exit(FINDINGS)


@tells_problems
def export(folder: Path = typer.Argument(..., help="An empty or new folder.")) -> None:
    """Write the whole catalogue as readable text files.

    Example: steelyard export my-catalogue/
    """
    from evidence.workflows.upkeep.keeping import export_to

    count = export_to(opened(), folder)
    say(f"Wrote {count} rows to {folder} as text files.")


@tells_problems
def import_(folder: Path = typer.Argument(..., help="A folder written by `steelyard export`.")) -> None:
    """Read an exported catalogue into a new or empty one.

    Example: steelyard --catalogue new.sqlite import my-catalogue/
    """
    import os

    from evidence.workflows.upkeep.keeping import import_from

    counts = import_from(folder, choices.catalogue, os.environ)
    said = [f"{n} {name_rows(what, n)}" for what, n in counts.items() if n]
    say(f"Read {', '.join(said) or 'nothing: the folder holds no rows'}.")


def name_rows(table: str, count: int) -> str:
    """A table as people read it: `1 study`, `13 study references`, `2 people`."""
    words = table.replace("_", " ")
    if count == 1 or words in ("people", "history"):
        return words
    return f"{words[:-1]}ies" if words.endswith("y") else f"{words}s"


def register(app: typer.Typer) -> None:
    """Add these commands to the top level."""
    for command in (init, history, undo, backup, restore, check, export):
        app.command()(command)
    app.command("import")(import_)
