"""A catalogue as documents that name their rows by keys: a study or claim with its parts, a reference.

Row numbers appear nowhere in them, so that two catalogues with the same content have the same documents.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, RowMapping, Table, select

from evidence.catalogue.recording import RowName, chunks
from evidence.catalogue.snapshots import BY_NAME, plain
from evidence.errors import CatalogueDamaged

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """A table whose rows are listed in the document of what they belong to."""

    table: Table
    title: str
    named_by: str | None = (
        None  # the column that names a row to the others; None: its place in the list, from 1
    )
    shared: bool = False  # its rows may belong to wholes of several kinds

    def path(self, key: str, name: str | int, owner: str) -> "Path":
        """The names by which a row is found again."""
        return (key, name, owner) if self.shared else (key, name)


@dataclass(frozen=True, slots=True)
class Whole:
    """A table whose rows have a document each, with lists of their parts (in an order fit for storing)."""

    table: Table
    folder: str
    parts: tuple[Part, ...]

    @property
    def owner(self) -> str:
        """The column by which a part names its whole."""
        return f"{self.table.name}_id"


STUDIES = Whole(
    BY_NAME["study"],
    "studies",
    (
        Part(BY_NAME["study_reference"], "references"),
        Part(BY_NAME["people"], "people", "key"),
        Part(BY_NAME["condition"], "conditions", "key"),
        Part(BY_NAME["outcome"], "outcomes", "key"),
        Part(BY_NAME["raw_table"], "raw_tables", "digest"),
        Part(BY_NAME["result"], "results", "key"),
        Part(BY_NAME["correlation"], "correlations"),
        Part(BY_NAME["rating"], "ratings", shared=True),
    ),
)
CLAIMS = Whole(
    BY_NAME["claim"],
    "claims",
    (
        Part(BY_NAME["exclusion"], "exclusions"),
        Part(BY_NAME["override"], "overrides"),
        Part(BY_NAME["claim_link"], "links"),
        Part(BY_NAME["rating"], "ratings", shared=True),
        Part(BY_NAME["appraisal"], "appraisals"),
        Part(BY_NAME["use"], "uses"),
    ),
)
WHOLES = (STUDIES, CLAIMS)
# Tables whose rows stand for themselves, and the columns that tell them apart.
FLAT: dict[str, tuple[str, ...]] = {
    "setting": ("key",),
    "own_exercise": ("key",),
    "own_alias": ("kind", "alias", "target"),
    "unread_entry": ("source", "digest"),
    "draft": ("key",),
    "programme": ("key",),
    "reference": ("key",),
    "use": (),  # those of no claim, told apart by their place alone
}
# What people write and what went out is no evidence: it does not change what the catalogue says.
NO_EVIDENCE = frozenset({"draft", "programme", "use"})


@dataclass(slots=True)
class Document:
    """One document and, for each row in it, the row's table, number and path of names."""

    key: str
    body: dict[str, Any]
    rows: list[tuple[RowName, Path]] = field(default_factory=list)


def link_name(column: str) -> str:
    """How a document calls a column that names another row: `people_id` is `people`."""
    return column.removesuffix("_id")


def flat_documents(
    connection: Connection, table: Table, numbers: Collection[int] | None = None
) -> Iterator[Document]:
    """Each row of a flat table, or those of these numbers, in the order of what tells them apart."""
    if not FLAT[table.name]:
        yield from _placed_documents(connection, table)
        return
    columns = FLAT[table.name]
    wanted = select(table) if numbers is None else select(table).where(table.c.id.in_(numbers))
    found = connection.execute(wanted).mappings().all()
    for row in sorted(found, key=lambda row: tuple(row[column] for column in columns)):
        path = tuple(str(row[column]) for column in columns)
        yield Document(
            path[0] if len(path) == 1 else "", _columns(table, row, set()), [((table.name, row["id"]), path)]
        )


def _placed_documents(connection: Connection, table: Table) -> Iterator[Document]:
    """Rows that belong to no whole, in the order of recording; they name others by their keys."""
    owners = [part for whole in WHOLES for part in (table.c.get(whole.owner),) if part is not None]
    links = [link for link in table.foreign_keys if "key" in link.column.table.columns]
    keys = {link.parent.name: _keys(connection, link.column.table) for link in links}
    found = connection.execute(select(table).where(*(o.is_(None) for o in owners)).order_by(table.c.id))
    for place, row in enumerate(found.mappings(), start=1):
        named = {link_name(column): keys[column][row[column]] for column in keys if row[column] is not None}
        yield Document("", {**named, **_columns(table, row, set())}, [((table.name, row["id"]), (place,))])


def whole_documents(
    connection: Connection,
    whole: Whole,
    *,
    without: frozenset[str] = frozenset(),
    numbers: Collection[int] | None = None,
) -> Iterator[Document]:
    """Each study or claim, or those of these numbers, with its parts, by key; parts in the order of recording.

    `without` names lists to leave out. Raises `CatalogueDamaged` where a row names one of another document.
    """
    keys = {table: _keys(connection, BY_NAME[table]) for table in ("study", "claim", "reference")}
    known = keys[whole.table.name]
    ids = sorted(known if numbers is None else known.keys() & set(numbers), key=known.__getitem__)
    for part_of_ids in chunks(ids):
        owners = {
            row["id"]: row
            for row in connection.execute(
                select(whole.table).where(whole.table.c.id.in_(part_of_ids))
            ).mappings()
        }
        grouped = {
            part.title: _grouped(connection, part, whole, part_of_ids)
            for part in whole.parts
            if part.title not in without
        }
        for number in part_of_ids:
            yield _whole_document(whole, owners[number], grouped, keys)


def _whole_document(
    whole: Whole,
    owner: RowMapping,
    grouped: Mapping[str, Mapping[int, list[RowMapping]]],
    keys: Mapping[str, Mapping[int, str]],
) -> Document:
    key = str(owner["key"])
    document = Document(key, _columns(whole.table, owner, set()), [((whole.table.name, owner["id"]), (key,))])
    names: dict[str, Mapping[int, str | int]] = {**keys}
    for part in whole.parts:
        if part.title not in grouped:
            continue
        rows = grouped[part.title].get(owner["id"], [])
        places = {row["id"]: place for place, row in enumerate(rows, start=1)}
        named = {row["id"]: row[part.named_by] if part.named_by else places[row["id"]] for row in rows}
        names[part.table.name] = named
        listed = []
        for row in rows:
            entry = _columns(part.table, row, {whole.owner})
            listed.append(_with_links(entry, part, whole, row, names, key))
            document.rows.append(
                ((part.table.name, row["id"]), part.path(key, named[row["id"]], whole.table.name))
            )
        document.body[part.title] = listed
    return document


def _with_links(
    entry: dict[str, Any],
    part: Part,
    whole: Whole,
    row: RowMapping,
    names: Mapping[str, Mapping[int, str | int]],
    key: str,
) -> dict[str, Any]:
    links: dict[str, Any] = {}
    for link in part.table.foreign_keys:
        column, target = link.parent.name, link.column.table.name
        if column == whole.owner or row[column] is None:
            continue
        if row[column] not in names.get(target, {}):
            raise CatalogueDamaged(
                f"a row of {part.title} names a {target} that is not of the same {whole.table.name}",
                where=f"{whole.table.name} {key}",
                hint="Run `steelyard check`.",
            )
        links[column] = names[target][row[column]]
    ordered: dict[str, Any] = {}
    for column in [column.name for column in part.table.columns]:
        if column in links:
            ordered[link_name(column)] = links[column]
        elif column in entry:
            ordered[column] = entry[column]
    return ordered


def _columns(table: Table, row: RowMapping, without: set[str]) -> dict[str, Any]:
    """The row's own columns; what is not known is left out."""
    return {
        column.name: plain(column, row[column.name])
        for column in table.columns
        if column.name != "id"
        and column.name not in without
        and not column.foreign_keys
        and row[column.name] is not None
    }


def _keys(connection: Connection, table: Table) -> dict[int, str]:
    return {row[0]: row[1] for row in connection.execute(select(table.c.id, table.c.key))}


def _grouped(connection: Connection, part: Part, whole: Whole, ids: Any) -> dict[int, list[RowMapping]]:
    grouped: dict[int, list[RowMapping]] = {}
    owner = part.table.c[whole.owner]
    found = connection.execute(select(part.table).where(owner.in_(ids)).order_by(part.table.c.id))
    for row in found.mappings():
        grouped.setdefault(row[whole.owner], []).append(row)
    return grouped
