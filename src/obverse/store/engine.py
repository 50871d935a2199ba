"""Connections, migrations, and the turning of database errors into one sentence."""

from __future__ import annotations

import json
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from importlib.resources import as_file, files
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.pool import StaticPool

from obverse.foundation import StoreError
from obverse.store.tables import NEWEST

# How long a write waits for another program that holds the file, before it says so.
BUSY_TIMEOUT_MS = 4000
# Any number that no other program uses for a lock in the same PostgreSQL database.
ONE_WRITER = 0x6F6276657273

# How long to wait before the file is asked again.
RETRY_S = 0.02


def _dumps(value: Any) -> str:
    return json.dumps(value, allow_nan=False, separators=(",", ":"))


class Database:
    """One database file (or server) with its rules: durable writes, one writer at a time.

    Parameters
    ----------
    url : str
        ``"sqlite://"`` for a twin in memory, ``"sqlite:///PATH"``, or a PostgreSQL URL.
    busy_timeout_ms : int
        How long to wait for another program that holds a SQLite file.

    Raises
    ------
    StoreError
        If it cannot be opened, read, written or migrated.
    """

    def __init__(self, url: str, *, busy_timeout_ms: int = BUSY_TIMEOUT_MS):
        self._lock = threading.RLock()
        self._closed = False
        # The transaction that is open now; whoever reads it holds the lock.
        self._transaction: Connection | None = None
        self._held = threading.local()
        self.engine = _engine(url, busy_timeout_ms)
        self.name = _name(self.engine)
        self._migrate()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection for reading; one consistent view. Within a transaction it sees what that one wrote."""
        with self._lock, self._told():
            if self._transaction is not None:
                yield self._transaction
                return
            with self.engine.connect() as connection:
                yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction: durable when the outermost block is left, untouched if that block fails.

        A block within a block is part of the outer one; if only the inner one fails, only what it wrote is undone.
        """
        with self._lock, self._told():
            held: _Held | None = getattr(self._held, "now", None)
            if self._transaction is None and held is not None:
                held.open()
            if self._transaction is not None:
                inner = self._transaction.begin_nested()
                try:
                    yield self._transaction
                except BaseException:
                    # A full disk has undone the whole transaction already; what is told is that, not this.
                    with suppress(SQLAlchemyError):
                        inner.rollback()
                    raise
                inner.commit()
                return
            with self._begun() as connection:
                yield connection

    @contextmanager
    def held_together(self, at_first_write: Callable[[Connection], None]) -> Iterator[Callable[[], Connection | None]]:
        """Everything this thread writes within the block is one transaction, which begins at the first write.

        Before that nothing is locked, so that long reckoning keeps nobody waiting.

        Parameters
        ----------
        at_first_write : callable
            Called within the transaction before anything is written; what it raises undoes the block.

        Yields
        ------
        callable
            Gives the connection of the transaction, None while nothing was written.
        """
        with ExitStack() as stack:

            def begin() -> None:
                stack.enter_context(self._lock)
                stack.enter_context(self._told())
                at_first_write(stack.enter_context(self._begun()))

            held = self._held.now = _Held(begin)
            try:
                yield lambda: self._transaction if held.opened else None
            finally:
                self._held.now = None

    @property
    def in_transaction(self) -> bool:
        """Whether this thread has written something that is not durable yet."""
        with self._lock:
            return self._transaction is not None

    @contextmanager
    def _begun(self) -> Iterator[Connection]:
        connection = self.engine.connect().execution_options(obverse_write=True)
        with connection, connection.begin():
            if self.engine.dialect.name == "postgresql":
                # One writer at a time here too, as a SQLite file has it; released at the end.
                connection.execute(text(f"SELECT pg_advisory_xact_lock({ONE_WRITER})"))
            self._transaction = connection
            try:
                yield connection
            finally:
                self._transaction = None

    def close(self) -> None:
        """Close all connections. Closing twice is no error."""
        self._closed = True
        self.engine.dispose()

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Turn what the database says into one sentence of ours."""
        if self._closed:
            raise StoreError("it was closed already", where=self.name, remedy="open it again")
        try:
            yield
        except SQLAlchemyError as error:
            raise _sentence(error, self.name) from error

    def _migrate(self) -> None:
        found = self._version()
        if found == NEWEST:
            return
        if found is not None and found not in _known_versions():
            raise StoreError(
                f"the file was written by a newer obverse (tables {found})",
                where=self.name,
                remedy="update obverse; nothing was changed",
            )
        # Imported here: a file that is up to date, which is the usual case, need not wait for it.
        from alembic import command

        with as_file(files("obverse.store").joinpath("migrations")) as folder, self.writing() as connection:
            command.upgrade(_config(folder, connection), "head")

    def _version(self) -> str | None:
        with self.reading() as connection:
            if not self.engine.dialect.has_table(connection, "alembic_version"):
                return None
            return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()


class _Held:
    """Writes of one thread that belong together; the transaction begins when the first of them comes."""

    def __init__(self, begin: Callable[[], None]):
        self._begin = begin
        self.opened = False

    def open(self) -> None:
        """Begin, once."""
        if not self.opened:
            self._begin()
            self.opened = True


def _config(folder, connection: Connection | None = None):
    from alembic.config import Config

    config = Config()
    config.set_main_option("path_separator", "os")
    config.set_main_option("script_location", str(folder).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def _known_versions() -> set[str]:
    from alembic.script import ScriptDirectory

    with as_file(files("obverse.store").joinpath("migrations")) as folder:
        return {script.revision for script in ScriptDirectory.from_config(_config(folder)).walk_revisions()}


def _engine(url: str, busy_timeout_ms: int) -> Engine:
    try:
        parsed = make_url(url)
        sqlite = parsed.get_backend_name() == "sqlite"
        if not sqlite:
            return create_engine(parsed, json_serializer=_dumps, pool_pre_ping=True)
        in_memory = parsed.database in (None, "", ":memory:")
        pool = {"poolclass": StaticPool} if in_memory else {}
        engine = create_engine(
            parsed, json_serializer=_dumps, connect_args={"check_same_thread": False, "timeout": 0}, **pool
        )
    except (ArgumentError, NoSuchModuleError, ModuleNotFoundError) as error:
        raise StoreError(f"no database can be opened by the address {url.split('@')[-1]!r} ({error})") from error
    event.listen(engine, "connect", lambda raw, _record: _prepare_sqlite(raw, busy_timeout_ms))
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(raw: sqlite3.Connection, busy_timeout_ms: int) -> None:
    """Durable before acknowledged: write-ahead log, and a flush to the disk at every commit."""
    raw.isolation_level = None  # we begin transactions ourselves
    raw.execute(f"PRAGMA busy_timeout = {int(busy_timeout_ms)}")
    raw.execute("PRAGMA foreign_keys = ON")
    raw.execute("PRAGMA synchronous = FULL")
    if raw.execute("PRAGMA journal_mode").fetchone()[0] not in ("wal", "memory"):
        _turn_to_wal(raw, busy_timeout_ms)


def _turn_to_wal(raw: sqlite3.Connection, busy_timeout_ms: int) -> None:
    """Two programs that open a new file at once both want this; SQLite does not wait here as it does elsewhere."""
    until = time.monotonic() + busy_timeout_ms / 1000
    while True:
        try:
            raw.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if ((error.sqlite_errorcode or 0) & 0xFF) != sqlite3.SQLITE_BUSY or time.monotonic() >= until:
                raise
            time.sleep(RETRY_S)


def _begin_sqlite(connection: Connection) -> None:
    """A writer takes the file at once, so that it never finds out half way that it may not."""
    write = connection.get_execution_options().get("obverse_write")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")


def _name(engine: Engine) -> str:
    if engine.url.get_backend_name() == "sqlite":
        return engine.url.database or "the notebook in memory"
    return engine.url.render_as_string(hide_password=True)


# What SQLite says, what we say, and what helps.
_SQLITE_WORDS: dict[int, tuple[str, str]] = {
    sqlite3.SQLITE_BUSY: ("another program holds the file", "close it and try again; nothing was lost"),
    sqlite3.SQLITE_LOCKED: ("another program holds the file", "close it and try again; nothing was lost"),
    sqlite3.SQLITE_FULL: ("the disk is full", "make room and try again; what was stored before is whole"),
    sqlite3.SQLITE_READONLY: ("the file may only be read", "allow writing to the file and its folder, then try again"),
    sqlite3.SQLITE_CANTOPEN: ("the file cannot be opened", "check the folder and its permissions"),
    sqlite3.SQLITE_IOERR: (
        "the disk reports an error",
        "check the disk and try again; what was stored before is whole",
    ),
    sqlite3.SQLITE_NOTADB: (
        "the file is not a notebook of obverse, or it is damaged",
        "restore a copy or name another file",
    ),
    sqlite3.SQLITE_CORRUPT: ("the file is damaged", "keep it, and restore your last export into a new one"),
    sqlite3.SQLITE_PERM: ("the file may not be opened", "check the folder and its permissions"),
}


def _sentence(error: SQLAlchemyError, name: str) -> StoreError:
    original = error.orig if isinstance(error, DBAPIError) else error
    if isinstance(original, sqlite3.Error):
        code = (getattr(original, "sqlite_errorcode", None) or 0) & 0xFF
        what, remedy = _SQLITE_WORDS.get(code, (f"it refused ({original})", "nothing was changed"))
    else:
        first_line = str(original).strip().splitlines()[0] if str(original).strip() else type(original).__name__
        what, remedy = f"the database refused ({first_line})", "check that it runs and may be written"
    return StoreError(what, where=name, remedy=remedy)
