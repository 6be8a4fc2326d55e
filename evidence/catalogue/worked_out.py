"""What was worked out of references is kept beside them, so that it need not be worked out at each call.

It is no part of what a catalogue holds: it has no history, goes into no export, and may be thrown away at any time. A
trigger takes it away when its reference changes (migration 0004); `rules` names the state of what worked it out.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Integer, LargeBinary, String, column, delete, func, insert, select, table
from sqlalchemy.sql.expression import ColumnElement
from sqlmodel import Session

from evidence.catalogue.engine import Catalogue
from evidence.catalogue.faults import told
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.snapshots import table_of
from evidence.catalogue.tables import Reference
from evidence.errors import CatalogueProblem

STEP = 2_000  # references between two stores: other writers wait for one step at most
_REFERENCE = table_of(Reference).c
_KEPT = table(
    "worked_out",
    column("reference_id", Integer),
    column("what", String),
    column("rules", String),
    column("content", LargeBinary),
)
Work = Callable[
    [Sequence[tuple[str, dict[str, Any]]]], Sequence[bytes]
]  # key and CSL of each: what is kept of each
Tell = Callable[[int, int], object]  # how many are done, of how many


@dataclass(frozen=True, slots=True)
class Kind:
    """One thing that is worked out of every reference: its name, the state of its rules, and how it is done."""

    what: str
    rules: str
    work: Work


def say_nothing(done: int, of: int) -> None:
    """Where nobody watches."""


def keep_up(catalogue: Catalogue, kind: Kind, tell: Tell = say_nothing) -> None:
    """Work out and store what is missing, a step at a time; nothing where the catalogue cannot be written just now."""
    with told(catalogue.location), catalogue.readers.connect() as connection:
        missing = count_missing(connection, kind)
    if not missing or catalogue.read_only:
        return
    done = 0
    try:
        while done < missing:
            tell(done, missing)
            with told(catalogue.location), catalogue.writers.begin() as connection:
                stored = store_step(connection, kind)
            if not stored:
                return
            done += stored
    except CatalogueProblem:
        return  # another program writes: `read_kept` works out what is missing, and the next call stores it


def store_all(session: ChangingSession, kind: Kind, tell: Tell = say_nothing) -> None:
    """The same in a transaction that writes already."""
    connection = session.connection()
    missing = count_missing(connection, kind)
    done = 0
    while done < missing and (stored := store_step(connection, kind)):
        done += stored
        tell(done, missing)


def store_step(connection: Connection, kind: Kind) -> int:
    """Work out and store one step of what is missing; how many that were."""
    rows = list(connection.execute(_missing(kind, _REFERENCE.id, _REFERENCE.key, _REFERENCE.csl).limit(STEP)))
    if not rows:
        return 0
    connection.execute(
        delete(_KEPT).where(_KEPT.c.what == kind.what, _KEPT.c.reference_id.in_([row[0] for row in rows]))
    )
    contents = kind.work([(key, csl) for _, key, csl in rows])
    connection.execute(
        insert(_KEPT),
        [
            {"reference_id": row[0], "what": kind.what, "rules": kind.rules, "content": content}
            for row, content in zip(rows, contents, strict=True)
        ],
    )
    return len(rows)


def count_missing(connection: Connection, kind: Kind) -> int:
    """How many references have nothing of this kind, or something made by other rules."""
    return int(connection.execute(_missing(kind, func.count())).scalar_one())


def _missing(kind: Kind, *columns: Any) -> Any:
    fresh: ColumnElement[bool] = (
        (_KEPT.c.reference_id == _REFERENCE.id) & (_KEPT.c.what == kind.what) & (_KEPT.c.rules == kind.rules)
    )
    kept = table_of(Reference).outerjoin(_KEPT, fresh)
    return select(*columns).select_from(kept).where(_KEPT.c.reference_id.is_(None))


def read_kept(session: Session, kind: Kind) -> Iterator[tuple[str, bytes]]:
    """Key and what is kept of every reference, in no order; what is missing is worked out, and not stored."""
    connection = session.connection()
    fresh = select(_REFERENCE.key, _KEPT.c.content).where(
        _KEPT.c.reference_id == _REFERENCE.id, _KEPT.c.what == kind.what, _KEPT.c.rules == kind.rules
    )
    for row in connection.execute(fresh):
        yield row[0], row[1]
    rows = connection.execute(_missing(kind, _REFERENCE.key, _REFERENCE.csl))
    for part in rows.partitions(STEP):
        yield from zip((row[0] for row in part), kind.work([(row[0], row[1]) for row in part]), strict=True)
