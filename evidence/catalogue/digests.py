"""A digest of each document of a catalogue, kept so that its state is known without reading all of it.

What was kept holds up to a change; what later changes touched is read anew. It is no part of what a catalogue holds:
it has no history, goes into no export, and may be thrown away at any time.
"""

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import (
    Connection,
    Integer,
    LargeBinary,
    String,
    and_,
    column,
    delete,
    func,
    insert,
    select,
    table,
)

from evidence.catalogue.documents import CLAIMS, FLAT, NO_EVIDENCE, STUDIES, flat_documents, whole_documents
from evidence.catalogue.recording import chunks
from evidence.catalogue.snapshots import BY_NAME, table_of
from evidence.catalogue.tables import Change

FORM = "1"  # to be counted up when documents are written or hashed in another way
_CHANGE = table_of(Change).c
_DIGEST = table(
    "content_digest", column("table_name", String), column("row_id", Integer), column("digest", LargeBinary)
)
_UNTIL = table("content_digest_until", column("change_id", Integer), column("form", String))
_FLAT = tuple(name for name in FLAT if name not in NO_EVIDENCE)
_WHOLES = {
    whole.table.name: (whole, frozenset(without))
    for whole, without in ((STUDIES, ()), (CLAIMS, ("appraisals", "uses")))
}
_LEFT_OUT = (*NO_EVIDENCE, "appraisal")
_NAMING = ("reference", "study", "claim")  # documents of others hold their keys
Digests = dict[tuple[str, int], bytes]  # by table and row number of what a document is of


@dataclass(slots=True)
class _Touched:
    """Which documents changes touched, by table; `all`: everything has to be read."""

    rows: dict[str, set[int]] = field(default_factory=dict)
    all: bool = False


def digests_of(connection: Connection) -> Digests:
    """The digest of every document as the catalogue stands; nothing is stored."""
    kept, touched, _ = _kept(connection)
    for name, numbers in touched.rows.items():
        for number in numbers:
            kept.pop((name, number), None)
    return kept | dict(_work_out(connection, touched))


def count_behind(connection: Connection) -> int:
    """How many changes came since the digests were kept; 0: they hold."""
    until = connection.execute(select(_UNTIL.c.change_id).where(_UNTIL.c.form == FORM)).scalar()
    return last_content(connection) - (until if until is not None else -1)


def keep_digests(connection: Connection) -> None:
    """Store the digests of what was touched since they were kept, in a transaction that writes."""
    _, touched, last = _kept(connection, numbers_alone=True)
    if touched.all:
        connection.execute(delete(_DIGEST))
    for name, numbers in touched.rows.items():
        for part in chunks(sorted(numbers)):
            connection.execute(
                delete(_DIGEST).where(_DIGEST.c.table_name == name, _DIGEST.c.row_id.in_(part))
            )
    fresh = [
        {"table_name": name, "row_id": number, "digest": digest}
        for (name, number), digest in _work_out(connection, touched)
    ]
    for part in chunks(fresh, 5_000):
        connection.execute(insert(_DIGEST), part)
    connection.execute(delete(_UNTIL))
    connection.execute(insert(_UNTIL).values(change_id=last, form=FORM))


def last_content(connection: Connection) -> int:
    """The number of the last change of content; 0 before the first."""
    newest = select(_CHANGE.id).where(_CHANGE.table_name.not_in(_LEFT_OUT)).order_by(_CHANGE.id.desc())
    return connection.execute(newest.limit(1)).scalar() or 0


def _kept(connection: Connection, *, numbers_alone: bool = False) -> tuple[Digests, _Touched, int]:
    """What is kept, what was touched since, and the last change of content."""
    until = connection.execute(select(_UNTIL.c.change_id).where(_UNTIL.c.form == FORM)).scalar()
    last = last_content(connection)
    if until is None or until > last:  # nothing was kept, or what was kept is of another history
        return {}, _Touched(all=True), last
    touched = _touched_since(connection, until) if until < last else _Touched()
    if touched.all or numbers_alone:
        return {}, touched, last
    rows = connection.execute(select(_DIGEST.c.table_name, _DIGEST.c.row_id, _DIGEST.c.digest))
    return {(name, number): digest for name, number, digest in rows}, touched, last


def _touched_since(connection: Connection, until: int) -> _Touched:
    """The documents that changes after `until` are about; all of them where a key was changed that others hold."""
    found = _Touched()
    later = and_(_CHANGE.id > until, _CHANGE.table_name.not_in(_LEFT_OUT))
    renamed = and_(
        later,
        _CHANGE.table_name.in_(_NAMING),
        _CHANGE.operation == "edit",
        _CHANGE.before["key"].as_string() != _CHANGE.after["key"].as_string(),
    )
    if connection.execute(select(func.count()).where(renamed)).scalar_one():
        return _Touched(all=True)
    own = (*_FLAT, *_WHOLES)
    for name, number in connection.execute(
        select(_CHANGE.table_name, _CHANGE.row_id).where(later, _CHANGE.table_name.in_(own)).distinct()
    ):
        found.rows.setdefault(name, set()).add(number)
    for name, (whole, without) in _WHOLES.items():
        parts = [part.table.name for part in whole.parts if part.title not in without]
        for side in (_CHANGE.before, _CHANGE.after):
            owner = side[whole.owner].as_integer()
            wanted = select(owner).where(later, _CHANGE.table_name.in_(parts), side.is_not(None)).distinct()
            numbers = {number for number in connection.execute(wanted).scalars() if number is not None}
            found.rows.setdefault(name, set()).update(numbers)
    return found


def _work_out(connection: Connection, touched: _Touched) -> Iterator[tuple[tuple[str, int], bytes]]:
    """The digests of documents that are there."""
    for name in _FLAT:
        changed = chunks(sorted(touched.rows.get(name, ())))
        for numbers in (None,) if touched.all else changed:
            for document in flat_documents(connection, BY_NAME[name], numbers):
                yield document.rows[0][0], digest([name, document.body])
    for name, (whole, without) in _WHOLES.items():
        some = None if touched.all else touched.rows.get(name, set())
        if some is None or some:
            for document in whole_documents(connection, whole, without=without, numbers=some):
                yield document.rows[0][0], digest([whole.folder, _in_any_order(document.body)])


def digest(content: Any) -> bytes:
    """The digest of a plain value."""
    text = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest()


def _in_any_order(body: dict[str, Any]) -> dict[str, Any]:
    """The document with the lists of its parts sorted: their order is that of recording."""
    titles = {part.title for whole in (STUDIES, CLAIMS) for part in whole.parts}
    return {
        name: sorted(value, key=lambda entry: json.dumps(entry, sort_keys=True)) if name in titles else value
        for name, value in body.items()
    }
