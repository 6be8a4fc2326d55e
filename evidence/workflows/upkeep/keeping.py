"""Keeping a catalogue: undo, backup, restore, export, import."""

from collections.abc import Mapping
from pathlib import Path

from evidence.catalogue import Catalogue, locate_catalogue
from evidence.catalogue.history import HistoryEntry, get_change, is_meant, list_changes, undo
from evidence.errors import NotFound


def undo_change(catalogue: Catalogue, number: int | None, who: str) -> HistoryEntry:
    """Undo a change, the last one that is not undone yet where none is named. Returns the new change."""
    return undo(catalogue, find_undoable(catalogue, number).number, who)


def find_undoable(catalogue: Catalogue, number: int | None) -> HistoryEntry:
    """The change of a number; where none is named, the last one made on purpose that is not undone. Raises NotFound."""
    if number is None:
        with catalogue.reading() as session:
            entries = list_changes(session, None, with_rows=False)
        open_ = [e for e in entries if e.undone_by is None and e.undoes is None and is_meant(e)]
        if not open_:
            raise NotFound("There is nothing to undo.", hint="What was changed: steelyard history")
        return open_[0]
    with catalogue.reading() as session:
        return get_change(session, number, with_rows=False)


def back_up(catalogue: Catalogue, target: Path) -> tuple[Path, int]:
    """Write a verified copy; returns where it is and its size in bytes."""
    from evidence.catalogue.backup import backup

    written = backup(catalogue, target)
    return written, written.stat().st_size


def restore_from(source: Path, option: str | None, environment: Mapping[str, str]) -> tuple[str, str | None]:
    """Put a backup in the catalogue's place; returns the place and where the former one is kept."""
    from evidence.catalogue.backup import restore

    location = locate_catalogue(option, environment)
    return str(location), restore(source, location).kept


def export_to(catalogue: Catalogue, folder: Path) -> int:
    """Write the catalogue as text files; returns how many rows."""
    from evidence.catalogue.exchange import export_catalogue

    with catalogue.reading() as session:
        return sum(export_catalogue(session, folder).values())


def import_from(folder: Path, option: str | None, environment: Mapping[str, str]) -> dict[str, int]:
    """Read an exported catalogue into a new or empty one; returns counts by kind."""
    from evidence.catalogue.exchange import import_catalogue
    from evidence.workflows.opening import create_named, open_named

    if not folder.is_dir():  # no empty catalogue is left behind for a folder that is not there
        raise NotFound(
            "there is no such folder.", where=str(folder), hint="Name one written by steelyard export."
        )
    try:
        catalogue = open_named(option, environment)
    except NotFound:
        create_named(option, environment)
        catalogue = open_named(option, environment)
    with catalogue:
        return import_catalogue(folder, catalogue).rows
