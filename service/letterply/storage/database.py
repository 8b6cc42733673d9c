"""The database of the store: SQLite in a file, or PostgreSQL; opened, migrated, used in turns.

All access is by functions that take a connection: `read` for looking, `write` for one transaction.
Both are tried again when the server went away (it is restarted, say), or the file is held by
another process: a function may therefore run twice, and is written so that this does no harm. Who
waits for an answer is told after a while (`store-busy`); a worker waits for as long as it takes.
"""

from __future__ import annotations

import contextlib
import sqlite3
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import sqlalchemy as sa

from letterply.errors import LetterplyError

if TYPE_CHECKING:
    from alembic.config import Config

__all__ = [
    "FROZEN_S",
    "PATIENCE_S",
    "Database",
    "database_now",
    "layout_of",
    "newest_layout",
    "sqlite_url",
]

T = TypeVar("T")

_BUSY_S = 5.0
"""How long SQLite itself waits for a lock before the patience of this module counts."""

PATIENCE_S = 20.0
"""How long a database that does not answer is waited for, where somebody waits for the answer."""

FROZEN_S = 10.0
"""A transaction in which nothing happens for so long is undone by the server."""

_MIGRATION_LOCK = 8467_0001
_migrating = threading.Lock()


def sqlite_url(file: Path) -> str:
    """Return the URL of a database in a file."""
    return f"sqlite:///{file}"


class Database:
    """One database, from any thread.

    Args:
        url: `sqlite:///file` or `postgresql+psycopg://...`.
        patience_s: how long one that does not answer is waited for; infinite for a worker.

    Raises:
        LetterplyError: `store-layout` when it was made by a later version; `store-busy`, here and
            from `read` and `write`, when the patience was in vain.

    """

    def __init__(self, url: str, patience_s: float = PATIENCE_S) -> None:
        self.url = url
        self._patience_s = min(patience_s, PATIENCE_S)  # what cannot be opened is told soon
        self._embedded = url.startswith("sqlite")
        self._opened = False
        options: dict[str, Any] = {}
        if self._embedded:
            options = {"connect_args": {"timeout": min(_BUSY_S, patience_s)}}
            _close_to_others(Path(url.removeprefix("sqlite:///")))
        self.engine = sa.create_engine(url, pool_pre_ping=not self._embedded, **options)
        if self._embedded:
            sa.event.listen(self.engine, "connect", _prepare_sqlite)
            sa.event.listen(self.engine, "begin", _begin_sqlite)
        else:
            sa.event.listen(self.engine, "connect", _prepare_postgresql)
        try:
            self._migrate()
        except BaseException:
            self.engine.dispose()
            raise
        self._patience_s = patience_s
        self._opened = True

    def read(self, use: Callable[[sa.Connection], T]) -> T:
        """Return what `use` finds; it sees one state of the database a statement."""

        def once() -> T:
            with self.engine.connect() as connection:
                return use(connection.execution_options(isolation_level=self._reading))

        return self.patiently(once)

    def write(self, use: Callable[[sa.Connection], T]) -> T:
        """Run `use` as one transaction; all of it counts, or nothing."""

        def once() -> T:
            with self.engine.begin() as connection:
                return use(connection)

        return self.patiently(once)

    def snapshot(self, use: Callable[[sa.Connection], T]) -> T:
        """Return what `use` finds; it sees one state of the database, and holds nobody up."""
        level = {} if self._embedded else {"isolation_level": "REPEATABLE READ"}

        def once() -> T:
            with self.engine.connect() as connection:
                options = {**level, "letterply_only_reads": True}
                return use(connection.execution_options(**options))

        return self.patiently(once)

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()

    @property
    def _reading(self) -> Any:
        return "AUTOCOMMIT"

    def patiently(self, once: Callable[[], T]) -> T:
        """Do something to the database, again and again while it is held or away.

        Raises:
            LetterplyError: `store-busy` when it stays so for too long.

        """
        deadline = time.monotonic() + self._patience_s
        pause = 0.05
        while True:
            try:
                return once()
            except sa.exc.DBAPIError as exc:
                if not _passes(exc, self._opened):
                    raise
                if time.monotonic() > deadline:
                    raise LetterplyError(
                        "The database does not answer: it is held by another process, is being "
                        "restarted, or its disk is full or away.",
                        code="store-busy",
                        expected="the same request again, in a moment",
                    ) from exc
            time.sleep(pause)
            pause = min(2.0, 2 * pause)

    def _migrate(self) -> None:
        # Alembic is taken in where it is needed: a process that computes never is here.
        from alembic import command
        from alembic.util import CommandError

        config = _alembic()

        def upgrade(connection: sa.Connection) -> None:
            if not self._embedded:  # one process at a time; SQLite's transaction sees to it itself
                connection.execute(
                    sa.text("SELECT pg_advisory_xact_lock(:n)"), {"n": _MIGRATION_LOCK}
                )
            config.attributes["connection"] = connection
            command.upgrade(config, "head")

        try:
            with _migrating:  # Alembic's context is one a process
                self.write(upgrade)
        except CommandError as exc:
            raise LetterplyError(
                "The store was made by a later version of letterply.",
                code="store-layout",
                data={"found": str(exc)},
            ) from exc


def _alembic() -> Config:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")))
    return config


def newest_layout() -> str:
    """Return the revision of the tables that this version knows."""
    from alembic.script import ScriptDirectory

    return str(ScriptDirectory.from_config(_alembic()).get_current_head())


def layout_of(url: str) -> str | None:
    """Return the revision of the tables in a database, which is left as it is; None without any.

    Raises `sqlalchemy.exc.SQLAlchemyError` when it does not answer.
    """
    if url.startswith("sqlite") and not Path(url.removeprefix("sqlite:///")).exists():
        return None
    from alembic.migration import MigrationContext

    engine = sa.create_engine(url)
    try:
        with engine.connect() as connection:
            options = {"version_table": "letterply_layout"}
            return MigrationContext.configure(connection, opts=options).get_current_revision()
    finally:
        engine.dispose()


def _close_to_others(file: Path) -> None:
    """Let only this user read the file of a database; its log and index follow it (SQLite)."""
    with contextlib.suppress(OSError):  # what cannot be opened is told by who opens it
        file.touch(mode=0o600)
        file.chmod(0o600)


_HELD = frozenset((sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_FULL))
_DISK_AWAY = frozenset((sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN))


def _passes(error: sa.exc.DBAPIError, opened: bool) -> bool:
    """Tell whether an error may be gone in a moment, as a disk may be back that was there."""
    if isinstance(error.orig, sqlite3.Error):
        code = getattr(error.orig, "sqlite_errorcode", 0) & 0xFF
        return code in _HELD or (opened and code in _DISK_AWAY)
    return error.connection_invalidated or isinstance(error, sa.exc.OperationalError)


def database_now(connection: sa.Connection) -> float:
    """Return the time of the database's own clock, seconds: hosts need not agree on theirs."""
    if connection.dialect.name == "sqlite":
        return time.time()  # one host
    found = connection.execute(sa.text("SELECT extract(epoch FROM clock_timestamp())")).scalar_one()
    return float(found)


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # transactions begin where `_begin_sqlite` says so
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
        connection.execute(f"PRAGMA {pragma}")


def _prepare_postgresql(connection: Any, _record: Any) -> None:
    # A process that is frozen in the middle of a transaction must not hold its locks for ever.
    with connection.cursor() as cursor:
        cursor.execute(f"SET idle_in_transaction_session_timeout = '{FROZEN_S:.0f}s'")
    connection.commit()


def _begin_sqlite(connection: sa.Connection) -> None:
    if connection.get_execution_options().get("isolation_level") == "AUTOCOMMIT":
        return
    # IMMEDIATE: wait for other writers here, not in the middle of the work.
    only_reads = connection.get_execution_options().get("letterply_only_reads")
    connection.exec_driver_sql("BEGIN" if only_reads else "BEGIN IMMEDIATE")
