"""Backups: one SQLite file that holds the whole book, whichever database the book itself is on."""

from __future__ import annotations

import contextlib
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import Connection, func, select

from rinsewright.store.database import Database
from rinsewright.store.errors import BookNotUsable
from rinsewright.store.files import beside, copy_sqlite
from rinsewright.store.migrate import bring_up_to_date
from rinsewright.store.schema import METADATA

AT_ONCE = 20  # rows that are held in memory while they are copied; a document may be a megabyte


def back_up(database: Database, file: Path) -> None:
    """Write the book as it is at this moment to a new file; raises :class:`BookNotUsable` where it is there already."""
    if database.file is not None:
        copy_sqlite(database.file, file)
        return
    with temporary_book(str(file)) as draft:
        bring_up_to_date(draft)
        with draft.writing() as connection:
            fill(connection, database)
        draft.close()
        copy_sqlite(_file(draft), file)


def restore(file: Path, database: Database) -> Path | None:
    """Put a backup's content in place of the book's, in one transaction; returns the copy kept of what was there.

    The copy goes beside a SQLite book. A server's book has to be empty, since there is no place beside it. Raises
    :class:`BookNotUsable` where the file is no backup or is damaged, and then nothing has changed.
    """
    with temporary_book(str(file)) as draft:
        _check(file)
        copy_sqlite(file, _file(draft))
        bring_up_to_date(draft)
        with database.writing() as connection:
            kept = None if is_empty(connection) else _keep(database)
            fill(connection, draft)
        return kept


def fill(target: Connection, source: Database) -> None:
    """Have one book hold what another holds, and nothing else. Both are up to date."""
    for table in reversed(METADATA.sorted_tables):
        target.execute(table.delete())
    with source.reading() as connection:
        for table in METADATA.sorted_tables:
            order = list(table.primary_key.columns)
            rows = connection.execute(select(table).order_by(*order).execution_options(yield_per=AT_ONCE))
            for some in rows.partitions():
                target.execute(table.insert(), [dict(row._mapping) for row in some])
    if target.dialect.name == "postgresql":
        _go_on_counting(target)


def is_empty(connection: Connection) -> bool:
    """Whether a book holds nothing at all."""
    return all(connection.scalar(select(func.count()).select_from(table)) == 0 for table in METADATA.sorted_tables)


@contextlib.contextmanager
def temporary_book(shown: str) -> Iterator[Database]:
    """A SQLite book that is gone at the end; no tables are in it yet. Refusals speak of the place ``shown``."""
    with tempfile.TemporaryDirectory(prefix="rinsewright-") as folder:
        database = Database(Path(folder) / "book.sqlite")
        database.where = shown
        try:
            yield database
        finally:
            database.close()


def _keep(database: Database) -> Path:
    if database.file is None:
        raise BookNotUsable(database.where, "this book is not empty; restore into a new database")
    kept = beside(database.file, "before-restore")
    copy_sqlite(database.file, kept)
    return kept


def _check(file: Path) -> None:
    """Refuse a file that is not there, is not SQLite's or is damaged."""
    if not file.is_file():
        raise BookNotUsable(str(file), "there is no such file; give a backup's")
    try:
        with contextlib.closing(sqlite3.connect(file)) as connection:
            tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
            sound = connection.execute("PRAGMA integrity_check").fetchone()[0]
    except sqlite3.DatabaseError as error:
        raise BookNotUsable(str(file), f"this is not a backup of a book ({error}); give another file") from None
    if sound != "ok" or not tables:
        reason = "it is empty" if not tables else str(sound)
        raise BookNotUsable(str(file), f"this is not a whole backup of a book ({reason}); give another file")


def _go_on_counting(connection: Connection) -> None:
    """Have PostgreSQL give the next row of each table an id that is free."""
    for table in METADATA.sorted_tables:
        if "id" in table.c:
            last = connection.scalar(select(func.max(table.c.id)))
            sequence = func.pg_get_serial_sequence(table.name, "id")
            connection.execute(select(func.setval(sequence, last or 1, last is not None)))


def _file(database: Database) -> Path:
    assert database.file is not None
    return database.file
