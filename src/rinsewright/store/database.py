"""One database under the book, SQLite or PostgreSQL: how it is reached, and how a transaction begins.

Writers take turns on both: SQLite by its own write lock, PostgreSQL by an advisory lock. So a number given out inside a
transaction is never given out twice, and neither database has to repeat a transaction.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import sqlalchemy
from sqlalchemy.engine import URL, Connection, Engine, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from rinsewright.store.errors import BookNotUsable

BUSY_S = 30  # how long a writer waits for another process
TURN = 0x72696E7365  # PostgreSQL's advisory lock of the book's writers

NOT_ALLOWED = "this user may not do that ({words}); let the user make tables, or give another with --book"
REASONS = {
    "not a database": "this file is not a book; give the book's file, or a new name for a new book",
    "malformed": "the book is damaged ({words}); move its file away and restore a backup",
    "unable to open": "the book cannot be opened ({words}); give another place with --book",
    "readonly": "the book cannot be written to ({words}); give another place with --book",
    "permission denied": NOT_ALLOWED,
    "no schema has been selected": NOT_ALLOWED,
    "locked": f"another program has held the book for more than {BUSY_S} s; end it and try again",
}  # by words of the database's own message


def default_file() -> Path:
    """Where the book is unless another place is named: in the user's data folder."""
    home = Path.home()
    if sys.platform == "win32":
        folder = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        folder = home / "Library" / "Application Support"
    else:
        folder = Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share")
    return folder / "rinsewright" / "book.sqlite"


def is_url(where: str | Path | None) -> bool:
    """Whether a place is a database server's address rather than a file."""
    return isinstance(where, str) and "://" in where


class Database:
    """A place that holds a book. ``where`` names it without a password; ``file`` is None on a server."""

    def __init__(self, where: str | Path | None = None) -> None:
        if is_url(where):
            self.file = None
            url = _server(str(where))
        else:
            self.file = _file(default_file() if where is None else Path(where))
            url = URL.create("sqlite+pysqlite", database=str(self.file))
        shown = url.set(drivername="postgresql").render_as_string(hide_password=True)
        self.where = shown if self.file is None else str(self.file)
        self.engine = self._engine(url)
        self._turn = threading.Lock()

    def _engine(self, url: URL) -> Engine:
        if self.file is None:
            try:
                return sqlalchemy.create_engine(url, pool_pre_ping=True, max_overflow=40)
            except ModuleNotFoundError:
                raise BookNotUsable(
                    self.where, 'a book on PostgreSQL needs one more package: pip install "rinsewright[postgres]"'
                ) from None
        # isolation_level None: transactions begin where this module says so, and hold changes to tables too.
        engine = sqlalchemy.create_engine(
            url, max_overflow=40, connect_args={"isolation_level": None, "timeout": BUSY_S}
        )
        sqlalchemy.event.listen(engine, "connect", _prepare)
        return engine

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one moment of the book."""
        with self._speaking(), self.engine.connect() as connection:
            if self.file is None:
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            with connection.begin():
                if self.file is not None:
                    connection.exec_driver_sql("BEGIN")
                yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that is kept whole or not at all, one at a time over all threads and processes."""
        with self._speaking(), self._turn, self.engine.connect() as connection, connection.begin():
            if self.file is None:
                connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({TURN})")
            else:
                connection.exec_driver_sql("BEGIN IMMEDIATE")
            yield connection

    @contextlib.contextmanager
    def _speaking(self) -> Iterator[None]:
        """Say what the database says in one sentence."""
        try:
            yield
        except DBAPIError as error:
            reason = _reason(error)
            if reason is None:
                raise
            raise BookNotUsable(self.where, reason) from error

    def close(self) -> None:
        """Let go of all connections."""
        self.engine.dispose()


def _prepare(connection: Any, _: Any) -> None:
    """Set up one SQLite connection. FULL: an answered write outlives a power cut."""
    for pragma in ("foreign_keys = ON", "synchronous = FULL"):
        connection.execute(f"PRAGMA {pragma}")


def _server(where: str) -> URL:
    try:
        url = make_url(where)
    except (ArgumentError, NoSuchModuleError, ValueError):
        url = None
    if url is None or url.get_backend_name() not in ("postgresql", "postgres"):
        shown = where if url is None else url.render_as_string(hide_password=True)
        raise BookNotUsable(
            shown.partition("://")[0] + "://…",
            "this is not an address of a book; give a file, or postgresql://user@server/database",
        )
    return url.set(drivername="postgresql+psycopg")


def _file(path: Path) -> Path:
    path = path.expanduser().absolute()
    if path.is_dir():
        raise BookNotUsable(str(path), "this is a folder; give a file for the book, as book.sqlite in it")
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        raise BookNotUsable(
            str(path), f"the book's folder cannot be made ({_lower(error.strerror)}); give another place with --book"
        ) from None
    return path


def _reason(error: DBAPIError) -> str | None:
    """What is wrong with the place, and what to do; None where the mistake is ours."""
    words = " ".join(str(error.orig).split())
    for sign, reason in REASONS.items():
        if sign in words:
            return reason.format(words=words)
    if isinstance(error, sqlalchemy.exc.ProgrammingError | sqlalchemy.exc.IntegrityError):
        return None
    return f"the database does not answer as it should ({words}); see to it and try again"


def _lower(text: str | None) -> str:
    return (text or "unknown reason").lower()
