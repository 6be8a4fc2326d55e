"""Reading a folder of text files into an empty catalogue: checked as a whole, stored in one transaction."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, insert, select
from sqlmodel import Session

from evidence.catalogue.copying import reserve_numbers
from evidence.catalogue.documents import FLAT, WHOLES, Part, Whole, link_name
from evidence.catalogue.engine import Catalogue
from evidence.catalogue.exchange.history import Numbers, read_history, read_rows
from evidence.catalogue.exchange.layout import (
    CHANGES,
    FORMAT,
    FORMAT_VERSION,
    MANIFEST,
    ROWS,
    SHELVES,
    file_name,
)
from evidence.catalogue.faults import told
from evidence.catalogue.guard import require_storable
from evidence.catalogue.migrations import PACKAGED
from evidence.catalogue.plaintext import Entry, read_yaml
from evidence.catalogue.recording import change_of, chunks, recorder_of, with_defaults
from evidence.catalogue.snapshots import BY_NAME, MODEL_OF, lively, snapshot, table_of
from evidence.catalogue.tables import ChangeSet
from evidence.errors import BadInput, CatalogueNewer, NotFound, SteelyardError

_LARGEST_FILE = 200_000_000  # bytes
_LARGEST_HISTORY = 4_000_000_000  # it grows with every change, for as long as the catalogue lives


@dataclass(frozen=True, slots=True)
class Intake:
    """What an import brought in."""

    rows: dict[str, int]  # per table
    change_sets: int


def import_catalogue(folder: Path, catalogue: Catalogue, who: str = "import") -> Intake:
    """Read an exported folder into an empty catalogue: all of it or nothing.

    The history comes along as it was. A folder of which `manifest.yaml` and `history/` were taken away (to
    edit the other files by hand) is read too, and is recorded as one change by `who`.
    Raises `NotFound`, `CatalogueNewer`, or `BadInput` naming file and line.
    """
    files = _read_files(folder)
    counts = read_yaml(files.pop(MANIFEST), MANIFEST).get("rows") if MANIFEST in files else None
    with catalogue.changing(who, f"import {folder.name}") as session:
        connection = session.connection()
        _require_empty(connection, catalogue)
        intake = _Intake(session, connection, catalogue, files)
        intake.store()
        if counts is not None:
            _require_counts(counts, intake.counts)
        return Intake(rows=intake.counts, change_sets=intake.change_sets)


def _require_empty(connection: Connection, catalogue: Catalogue) -> None:
    for table in [*BY_NAME.values(), table_of(ChangeSet)]:
        if connection.execute(select(table.c.id).limit(1)).first() is not None:
            raise BadInput(
                "the catalogue is not empty",
                where=str(catalogue.location),
                hint="Import into a new one: name a file that is not there yet with --catalogue; it is made.",
            )


def _read_files(folder: Path) -> dict[str, str]:
    """The text of every file, checked against the manifest. Raises `BadInput`."""
    if not folder.is_dir():
        raise NotFound("there is no such folder", where=str(folder))
    files: dict[str, str] = {}
    digests: dict[str, str] = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_dir() or any(part.startswith(".") for part in name.split("/")):
            continue
        largest = _LARGEST_HISTORY if name in (CHANGES, ROWS) else _LARGEST_FILE
        files[name], digests[name] = _read_file(path, largest)
    if MANIFEST in files:
        _check_manifest(folder, files, digests)
    elif CHANGES in files or ROWS in files:
        raise BadInput("manifest.yaml is missing, but there is a history", where=str(folder))
    elif not files:
        raise BadInput("the folder is empty", where=str(folder))
    return files


def _read_file(path: Path, largest: int) -> tuple[str, str]:
    try:
        if path.stat().st_size > largest:
            raise BadInput("the file is too large for an exported catalogue", where=str(path))
        if not path.is_file():
            raise BadInput("this is no ordinary file", where=str(path))
        data = path.read_bytes()
        return data.decode("utf-8"), hashlib.sha256(data).hexdigest()
    except UnicodeDecodeError as fault:
        line = fault.object[: fault.start].count(b"\n") + 1
        raise BadInput("the file is not UTF-8 text", where=f"{path}:{line}") from fault
    except OSError as fault:
        raise BadInput(f"the file cannot be read ({fault.strerror})", where=str(path)) from fault


def _check_manifest(folder: Path, files: dict[str, str], digests: dict[str, str]) -> None:
    where = MANIFEST
    manifest_text = files[MANIFEST]
    manifest = read_yaml(manifest_text, where)
    if manifest.get("format") != FORMAT:
        raise BadInput("this is not the manifest of an exported catalogue", where=f"{where}:1")
    version, schema = manifest.get("format_version"), manifest.get("schema")
    if version != FORMAT_VERSION or schema not in PACKAGED.versions:
        raise CatalogueNewer(
            f"the folder was written by a later version of Steelyard (format {version}, schema {schema})",
            where=where,
            hint="Install the newest Steelyard.",
        )
    listed = manifest.get("files")
    if not isinstance(listed, Entry) or manifest.get("complete") is not True:
        line = manifest_text.count("\n") + 1
        raise BadInput("the file was cut short", where=f"{where}:{line}", hint="Export the catalogue again.")
    hint = "Export again; or, to read it as it is now, take away manifest.yaml and history/."
    for name, line in listed.lines.items():
        if name not in files:
            raise BadInput(f"{name} is missing", where=f"{where}:{line}", hint=hint)
    others = [name for name in files if name != MANIFEST]
    for name in others:
        if name not in listed:
            raise BadInput("the manifest does not know this file", where=name, hint=hint)
    for name in others:
        if digests[name] != listed[name]:
            _check_readable(name, files[name])
            last = files[name].count("\n") or 1
            raise BadInput(
                "the file is not as it was written: it was changed or cut short",
                where=f"{name}:{last}",
                hint=hint,
            )


def _require_counts(told: object, found: dict[str, int]) -> None:
    """Hold what came in against what the manifest says (a table that an earlier version lacked has no rows)."""
    listed = told if isinstance(told, Entry) else Entry()
    for table, count in found.items():
        if listed.get(table, 0) != count:
            where = f"{MANIFEST}:{listed.lines[table]}" if table in listed else MANIFEST
            raise BadInput(
                f"the manifest says {listed.get(table, 0)} rows of {table}, there are {count}", where=where
            )


def _check_readable(name: str, text: str) -> None:
    """Name the line of a fault that the text itself shows, before saying only that the file differs."""
    if name.endswith(".yaml"):
        read_yaml(text, name)
    elif name in (CHANGES, ROWS):
        for _ in read_rows(text, name):
            pass


class _Intake:
    """One import: its rows, the names they gave themselves, and their numbers."""

    def __init__(
        self, session: Session, connection: Connection, catalogue: Catalogue, files: dict[str, str]
    ) -> None:
        self.session = session
        self.connection = connection
        self.catalogue = catalogue
        self.files = files
        self.counts = dict.fromkeys(BY_NAME, 0)
        self.with_history = CHANGES in files
        self.numbers = Numbers(files.get(ROWS, ""), strict=self.with_history)
        self.named: dict[str, dict[str | int, int]] = {table: {} for table in BY_NAME}
        self.change_sets = 0

    def store(self) -> None:
        for file in self._in_folder("references"):  # first: the uses of no claim name them
            self._store_flat(file, "references", "reference")
            del self.files[file]
        for file in dict.fromkeys(shelf.file for shelf in SHELVES):
            for shelf in SHELVES:
                if shelf.file == file and file in self.files:
                    self._store_flat(file, shelf.title, shelf.table)
            self.files.pop(file, None)
        for whole in WHOLES:
            for file in self._in_folder(whole.folder):
                self._store_whole(file, whole)
                del self.files[file]
        if self.with_history:
            self.numbers.require_all_used()
            self.change_sets = read_history(self.connection, self.files[CHANGES])
        for file in sorted(set(self.files) - {CHANGES, ROWS}):
            raise BadInput("this file has no place in an exported catalogue", where=file)
        reserve_numbers(self.connection)

    def _in_folder(self, folder: str) -> list[str]:
        return sorted(name for name in self.files if name.startswith(f"{folder}/") and name.endswith(".yaml"))

    def _store_flat(self, file: str, title: str, table: str) -> None:
        document = read_yaml(self.files[file], file)
        titles = {shelf.title for shelf in SHELVES if shelf.file == file} or {title}
        _require_names(document, titles, file)
        rows = []
        for place, entry in enumerate(_entries(document, title, file), start=1):
            values = self._values(entry, table, file, {})
            path: tuple[str | int, ...] = tuple(str(values[column]) for column in FLAT[table]) or (place,)
            rows.append((entry, self._numbered(table, path, values, entry, file)))
            if len(FLAT[table]) == 1:
                self._name(table, path[0], values["id"], entry, file)
        self._insert(table, rows, file)

    def _store_whole(self, file: str, whole: Whole) -> None:
        document = read_yaml(self.files[file], file)
        lists = {part.title for part in whole.parts}
        own = Entry({name: value for name, value in document.items() if name not in lists})
        own.line, own.lines = document.line, document.lines
        values = self._values(own, whole.table.name, file, {})
        key = values["key"]
        if file != f"{whole.folder}/{file_name(key)}" and self.with_history:
            raise BadInput(
                f"the key {key!r} does not belong in this file", where=f"{file}:{own.lines['key']}"
            )
        self._numbered(whole.table.name, (key,), values, own, file)
        self._name(whole.table.name, key, values["id"], own, file)
        self._insert(whole.table.name, [(own, values)], file)
        for part in whole.parts:
            self.named[part.table.name] = {}
            self._store_part(document, file, part, whole, values["id"], key)

    def _store_part(
        self, document: Entry, file: str, part: Part, whole: Whole, number: int, key: str
    ) -> None:
        table, rows, owner = part.table.name, [], {whole.owner: number}
        for place, entry in enumerate(_entries(document, part.title, file), start=1):
            values = self._values(entry, table, file, owner)
            name = values[part.named_by] if part.named_by else place
            self._numbered(table, part.path(key, name, whole.table.name), values, entry, file)
            self._name(table, name, values["id"], entry, file)
            rows.append((entry, values))
        self._insert(table, rows, file)

    def _values(self, entry: Entry, table: str, file: str, owner: dict[str, int]) -> dict[str, Any]:
        """The row of an entry: names of other rows become their numbers, texts of times become times."""
        columns = {column.name: column for column in BY_NAME[table].columns if column.name != "id"}
        links = {
            link_name(link.parent.name): link
            for link in BY_NAME[table].foreign_keys
            if link.parent.name not in owner
        }
        values: dict[str, Any] = dict(owner)
        for name, value in entry.items():
            where = f"{file}:{entry.lines[name]}"
            if name in links:
                values[links[name].parent.name] = self._number_of(links[name].column.table.name, value, where)
            elif name in columns and name not in owner and not columns[name].foreign_keys:
                try:
                    values[name] = lively(columns[name], value)
                except (ValueError, TypeError, OverflowError) as fault:
                    raise BadInput(f"{value!r} is no {name.replace('_', ' ')}", where=where) from fault
            else:
                raise BadInput(f"a {table} has no {name!r}", where=where)
        complete = with_defaults(MODEL_OF[table], values)
        try:
            require_storable(BY_NAME[table], complete)
        except BadInput as fault:
            column = (fault.where or "").rsplit(", ", 1)[-1]
            line = entry.lines.get(link_name(column), entry.lines.get(column, entry.line))
            raise BadInput(f"{fault.message} ({fault.where})", where=f"{file}:{line}") from fault
        return complete

    def _number_of(self, table: str, name: Any, where: str) -> int | None:
        if name is None:
            return None
        known = self.named[table]
        if not isinstance(name, str | int) or isinstance(name, bool) or name not in known:
            raise BadInput(f"there is no {table.replace('_', ' ')} {name!r} to go with this", where=where)
        return known[name]

    def _numbered(
        self, table: str, path: tuple[str | int, ...], values: dict[str, Any], entry: Entry, file: str
    ) -> dict[str, Any]:
        values["id"] = self.numbers.take(table, path, f"{file}:{entry.line}")
        return values

    def _name(self, table: str, name: str | int, number: int, entry: Entry, file: str) -> None:
        if name in self.named[table]:
            raise BadInput(f"there are two of {table} {name!r}", where=f"{file}:{entry.line}")
        self.named[table][name] = number

    def _insert(self, table: str, rows: list[tuple[Entry, dict[str, Any]]], file: str) -> None:
        self.counts[table] += len(rows)
        for part in chunks(rows):
            try:
                with told(self.catalogue.location):
                    self.connection.execute(insert(BY_NAME[table]), [values for _, values in part])
            except SteelyardError as fault:
                if isinstance(fault, BadInput):
                    raise BadInput(
                        fault.message, where=f"{file}:{part[0][0].line}", hint=fault.hint
                    ) from fault
                raise
        if not self.with_history:
            recorder_of(self.session).record(
                self.connection,
                (
                    change_of(BY_NAME[table], values["id"], "add", None, snapshot(BY_NAME[table], values))
                    for _, values in rows
                ),
            )


def _require_names(document: Entry, names: set[str], file: str) -> None:
    for name in document:
        if name not in names:
            raise BadInput(f"the file has no place for {name!r}", where=f"{file}:{document.lines[name]}")


def _entries(document: Entry, title: str, file: str) -> Iterator[Entry]:
    listed = document.get(title) or []
    line = document.lines.get(title, document.line)
    if not isinstance(listed, list):
        raise BadInput(f"{title} is no list", where=f"{file}:{line}")
    for entry in listed:
        if not isinstance(entry, Entry):
            raise BadInput(f"an item of {title} is no mapping of names to values", where=f"{file}:{line}")
        yield entry
