"""Engines and sessions of a catalogue: one writer at a time, and readers that cannot write."""

import json
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Literal

from sqlalchemy import Connection, Engine, NullPool, create_engine, event
from sqlalchemy.pool import ConnectionPoolEntry
from sqlmodel import Session as Session

from evidence.catalogue.faults import told
from evidence.catalogue.guard import text_trouble
from evidence.catalogue.location import Location
from evidence.catalogue.recording import ChangingSession, ReadingSession, Recorder, last_stamp
from evidence.catalogue.verified_figures import figures_changed  # noqa: F401  (its rule holds for every session)
from evidence.errors import BadInput, CatalogueDamaged

Clock = Callable[[], datetime]
Mode = Literal["read", "write", "migrate"]

BUSY_SECONDS = 10.0
# One writer at a time on PostgreSQL too: reading, deciding and writing are one step there as on SQLite.
_WRITER_LOCK = 0x5374656C79617264


def utc_now() -> datetime:
    """The present time, in UTC."""
    return datetime.now(UTC)


class Catalogue:
    """An open catalogue. Use `reading()` and `changing()`; `close()` or `with` ends it."""

    def __init__(
        self, location: Location, *, now: Clock = utc_now, busy_seconds: float = BUSY_SECONDS
    ) -> None:
        self.location = location
        self.clock = now
        self._last: datetime | None = None  # stamp of the last change that this object knows of
        self.busy_seconds = busy_seconds
        self.read_only = location.path is not None and not may_write(location.path)
        self.readers = make_engine(location, "read", busy_seconds)
        self.writers = make_engine(location, "write", busy_seconds)

    def now(self) -> datetime:
        """The time to stamp things with: the clock's, but never before the last change (a clock may be set back)."""
        if self._last is None:
            with told(self.location), self.readers.connect() as connection:
                self._last = last_stamp(connection)
        return self.clock() if self._last is None else max(self.clock(), self._last)

    def today(self) -> date:
        """The day by the clock, in UTC: what is due is counted from it."""
        return self.clock().date()

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session on one unchanging view of the catalogue. Rows stay usable after it ends.

        Raises `CatalogueProblem` on any attempt to write.
        """
        with told(self.location), ReadingSession(self.readers, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def changing(self, who: str, action: str) -> Iterator[ChangingSession]:
        """A session in one transaction: stored whole when the block ends, not at all on any error.

        `who` and `action` ("study load lehman-2004.yaml") go into the history. Other writers wait, up to
        `busy_seconds`. Raises `CatalogueLocked`, `StorageFull`, or `BadInput` naming the table and column.
        """
        if not who.strip() or not action.strip():
            raise BadInput("a change needs the name of who makes it, and of what is done")
        if trouble := text_trouble(who) or text_trouble(action):
            raise BadInput(f"{trouble}.", where="the name or reason of a change")
        recorder = Recorder(who=who, action=action, at=self.now())
        with told(self.location), ChangingSession(self.writers, expire_on_commit=False) as session:
            session.info["recorder"] = recorder
            # Take the place of the writer now: what is read from here on cannot change under this session.
            session.connection()
            yield session
            session.commit()
        if recorder.change_set_id is not None:
            self._last = recorder.at

    def close(self) -> None:
        """Give back all connections."""
        self.readers.dispose()
        self.writers.dispose()

    def __enter__(self) -> "Catalogue":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def __repr__(self) -> str:
        return f"Catalogue({self.location})"


def make_engine(location: Location, mode: Mode, busy_seconds: float = BUSY_SECONDS) -> Engine:
    """An engine that reads, writes, or migrates (writes with foreign keys off on SQLite)."""
    if location.path is not None:
        return _sqlite_engine(location.path, mode, busy_seconds)
    return _postgres_engine(location.url or "", mode, busy_seconds)


def connect_sqlite(path: Path, busy_seconds: float = BUSY_SECONDS) -> sqlite3.Connection:
    """A raw connection to a file that exists (SQLite would make a missing one without a word).

    Where the file or its folder may only be read, and no change waits in a journal beside it, the file is read as one
    that nobody changes: SQLite cannot keep its usual files there.
    """
    mode = "rw" if may_write(path) else "ro" if has_waiting_changes(path) else "ro&immutable=1"
    return sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=busy_seconds,
        isolation_level=None,  # transactions are begun by us: the driver's own way loses updates
        check_same_thread=False,
    )


def may_write(path: Path) -> bool:
    """Whether a catalogue that is there may be written, and its journal beside it; True where there is none yet."""
    return not path.is_file() or (os.access(path, os.W_OK) and os.access(path.absolute().parent, os.W_OK))


def has_waiting_changes(path: Path) -> bool:
    """Whether changes wait in the journal beside a catalogue."""
    journal = Path(f"{path}-wal")
    try:
        return journal.stat().st_size > 0
    except OSError:
        return False


def _sqlite_engine(path: Path, mode: Mode, busy_seconds: float) -> Engine:
    engine = create_engine(
        "sqlite://",
        creator=lambda: connect_sqlite(path, busy_seconds),
        poolclass=NullPool,
        json_deserializer=read_document,
    )

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, entry: ConnectionPoolEntry) -> None:
        connection.create_function("lower", 1, _lower, deterministic=True)  # the built-in knows ASCII only
        connection.execute(f"PRAGMA foreign_keys = {'OFF' if mode == 'migrate' else 'ON'}")
        connection.execute("PRAGMA synchronous = FULL")
        if mode == "read":
            connection.execute("PRAGMA query_only = ON")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN DEFERRED" if mode == "read" else "BEGIN IMMEDIATE")

    return engine


def read_document(text: str) -> Any:
    """A stored document. Raises `CatalogueDamaged` where something else than this product wrote it."""
    try:
        return json.loads(text)
    except ValueError as fault:
        raise CatalogueDamaged("a stored document is not JSON", hint="Run `steelyard check`.") from fault


def _lower(text: object) -> object:
    return text.lower() if isinstance(text, str) else text


def _postgres_engine(url: str, mode: Mode, busy_seconds: float) -> Engine:
    options: dict[str, Any] = {"isolation_level": "READ COMMITTED"}
    if mode == "read":
        options = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
    engine = create_engine(
        url,
        pool_pre_ping=True,
        execution_options=options,
        connect_args={"client_encoding": "utf8", "connect_timeout": max(2, round(busy_seconds))},
    )
    if mode != "read":

        @event.listens_for(engine, "begin")
        def begin(connection: Connection) -> None:
            connection.exec_driver_sql(f"SET LOCAL lock_timeout = {max(1, round(busy_seconds * 1000))}")
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITER_LOCK})")

    return engine
