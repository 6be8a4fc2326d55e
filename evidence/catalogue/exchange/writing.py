"""Writing a catalogue as a folder of text files."""

import hashlib
import json
import os
import shutil
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select
from sqlmodel import Session

from evidence.catalogue.documents import FLAT, WHOLES, Document, flat_documents, whole_documents
from evidence.catalogue.exchange.layout import (
    CHANGES,
    FORMAT,
    FORMAT_VERSION,
    MANIFEST,
    NO_YEAR,
    ROWS,
    SHELVES,
    file_name,
)
from evidence.catalogue.faults import explain_os
from evidence.catalogue.files import flush, unfinished_folder_beside
from evidence.catalogue.migrations import PACKAGED
from evidence.catalogue.plaintext import read_yaml, write_yaml
from evidence.catalogue.snapshots import BY_NAME, table_of
from evidence.catalogue.tables import Change, ChangeSet
from evidence.errors import BadInput

_CHANGE, _CHANGE_SET = table_of(Change), table_of(ChangeSet)


def export_catalogue(session: Session, folder: Path, *, replace: bool = False) -> dict[str, int]:
    """Write everything the session sees to `folder`, whole or not at all. Gives the number of rows per table.

    The folder must not exist or be empty; with `replace` it may hold an earlier export and nothing else.
    Raises `BadInput` otherwise, `StorageFull` where it cannot be written.
    """
    try:
        _require_room(folder, replace)
        folder.parent.mkdir(parents=True, exist_ok=True)
        unfinished = unfinished_folder_beside(folder)
        try:
            counts = _write_all(session.connection(), unfinished)
            _swap(unfinished, folder)
        finally:
            shutil.rmtree(unfinished, ignore_errors=True)
    except OSError as fault:
        raise explain_os(fault, str(folder)) from fault
    return counts


def _require_room(folder: Path, replace: bool) -> None:
    if not folder.exists() and not folder.is_symlink():
        return
    if not folder.is_dir():
        raise BadInput(
            "there is a file of this name already.", where=str(folder), hint="Name an empty or new folder."
        )
    present = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if not path.is_dir()}
    if not present:
        return
    if not replace:
        raise BadInput("the folder is not empty", where=str(folder), hint="Name a new one.")
    manifest = folder / MANIFEST
    if not manifest.is_file():
        raise BadInput("the folder holds no earlier export", where=str(folder), hint="Name a new one.")
    listed = read_yaml(manifest.read_text(encoding="utf-8"), str(manifest)).get("files")
    others = sorted(present - set(listed if isinstance(listed, dict) else {}) - {MANIFEST})
    if others:
        raise BadInput(f"the folder holds other things than an export: {others[0]}", where=str(folder))


def _swap(unfinished: Path, folder: Path) -> None:
    """Give the finished folder its name; an earlier export goes only when the new one is in its place."""
    if not folder.exists():
        os.rename(unfinished, folder)
    else:
        former = unfinished_folder_beside(folder)
        os.rename(folder, former / "former")
        os.rename(unfinished, folder)
        shutil.rmtree(former, ignore_errors=True)
    flush(folder.parent)


class _Writer:
    """Writes files and keeps what the manifest says of them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.digests: dict[str, str] = {}
        self.counts = dict.fromkeys(BY_NAME, 0)
        self.rows: list[str] = []

    def write(self, name: str, parts: Iterable[str]) -> None:
        digest = hashlib.sha256()
        path = self.folder / name
        path.parent.mkdir(exist_ok=True)
        with path.open("xb") as file:
            for part in parts:
                data = part.encode("utf-8")
                file.write(data)
                digest.update(data)
            file.flush()
            os.fsync(file.fileno())
        self.digests[name] = digest.hexdigest()

    def note(self, document: Document) -> None:
        for (table, number), path in document.rows:
            self.counts[table] += 1
            self.rows.append(_line({"table": table, "row": number, "of": list(path)}))


def _write_all(connection: Connection, folder: Path) -> dict[str, int]:
    writer = _Writer(folder)
    flat: dict[str, list[Document]] = {}
    for name in FLAT:
        flat[name] = list(flat_documents(connection, BY_NAME[name]))
        for document in flat[name]:
            writer.note(document)
    for file in dict.fromkeys(shelf.file for shelf in SHELVES):
        shelves = [shelf for shelf in SHELVES if shelf.file == file]
        lists = {shelf.title: [document.body for document in flat[shelf.table]] for shelf in shelves}
        writer.write(file, [write_yaml(lists)])
    years: dict[str, list[dict[str, Any]]] = {}
    for document in flat["reference"]:
        years.setdefault(str(document.body.get("year", NO_YEAR)), []).append(document.body)
    for year in sorted(years):
        writer.write(f"references/{year}.yaml", [write_yaml({"references": years[year]})])
    for whole in WHOLES:
        for document in whole_documents(connection, whole):
            writer.note(document)
            writer.write(f"{whole.folder}/{file_name(document.key)}", [write_yaml(document.body)])
    writer.write(CHANGES, _history(connection))
    writer.write(ROWS, writer.rows)
    manifest = {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "schema": PACKAGED.newest,
        "rows": writer.counts,
        "files": {name: writer.digests[name] for name in sorted(writer.digests)},
        "complete": True,  # the last line: a manifest that was cut short lacks it
    }
    writer.write(MANIFEST, [write_yaml(manifest)])
    return writer.counts


def _history(connection: Connection) -> Iterator[str]:
    """One line for each change set, followed by one for each row that it changed."""
    changes = iter(
        connection.execute(select(_CHANGE).order_by(_CHANGE.c.change_set_id, _CHANGE.c.id)).mappings()
    )
    change = next(changes, None)
    for row in connection.execute(select(_CHANGE_SET).order_by(_CHANGE_SET.c.id)).mappings():
        at = row["at"].isoformat()
        yield _line(
            {
                "set": row["id"],
                "at": at,
                "who": row["who"],
                "action": row["action"],
                "undoes": row["undoes_id"],
            }
        )
        while change is not None and change["change_set_id"] == row["id"]:
            yield _line(
                {
                    "table": change["table_name"],
                    "row": change["row_id"],
                    "key": change["row_key"],
                    "operation": change["operation"],
                    "before": change["before"],
                    "after": change["after"],
                }
            )
            change = next(changes, None)


def _line(value: dict[str, Any]) -> str:
    # Escaped: characters at which programs may break lines never stand in a line as they are.
    return json.dumps(value, ensure_ascii=True, allow_nan=False) + "\n"
