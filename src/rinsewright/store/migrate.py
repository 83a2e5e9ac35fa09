"""Brings a book up to the tables of this program: all steps in one transaction, and a SQLite book is copied before.

The steps stand in ``migrations/versions``, each as it once was; :mod:`~rinsewright.store.schema` is where they lead to.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy
from sqlalchemy import Connection
from sqlalchemy.exc import OperationalError

from rinsewright.store.database import BUSY_S, Database
from rinsewright.store.errors import BookNotUsable
from rinsewright.store.files import beside, copy_sqlite
from rinsewright.store.schema import METADATA

if TYPE_CHECKING:
    from alembic.config import Config

NEWEST = "0003"  # the last revision in migrations/versions: so that a book in order opens without Alembic
TABLE = "book_revision"
FOLDER = Path(__file__).parent / "migrations"


def bring_up_to_date(database: Database) -> None:
    """Make the tables where there are none, migrate older ones, refuse newer ones and what is no book."""
    with database.reading() as connection:
        found = _revision(database, connection)
    if database.file is not None:
        _write_ahead(database)
    if found == NEWEST:
        return
    with database.writing() as connection:
        found = _revision(database, connection)  # another process may have been quicker
        if found == NEWEST:
            return
        if found is not None and database.file is not None:
            copy_sqlite(database.file, beside(database.file, found))
        upgrade(connection, NEWEST)


def upgrade(connection: Connection, revision: str) -> None:
    """Take the tables to a revision, within the connection's transaction."""
    from alembic import command

    config = _alembic()
    config.attributes["connection"] = connection
    command.upgrade(config, revision)


def known_revisions() -> list[str]:
    """All revisions that this program knows, the newest first."""
    from alembic.script import ScriptDirectory

    return [step.revision for step in ScriptDirectory.from_config(_alembic()).walk_revisions()]


def _alembic() -> Config:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def _revision(database: Database, connection: Connection) -> str | None:
    """The book's revision; None where there is no book yet."""
    tables = set(sqlalchemy.inspect(connection).get_table_names())
    if TABLE not in tables:
        foreign = tables & set(METADATA.tables) if database.file is None else tables
        if foreign:
            raise BookNotUsable(
                database.where,
                f'this holds something else (the table "{min(foreign)}"); give the place of a book, or of a new one',
            )
        return None
    found = str(connection.exec_driver_sql(f"SELECT version_num FROM {TABLE}").scalar_one())
    if found != NEWEST and found not in known_revisions():
        raise BookNotUsable(
            database.where,
            f"a newer rinsewright wrote this book (revision {found}, this one knows those up to {NEWEST}); "
            "update rinsewright",
        )
    return found


def _write_ahead(database: Database) -> None:
    """Readers go on while one writes. SQLite does not wait for its turn here, so we do."""
    until = time.monotonic() + BUSY_S
    while True:
        try:
            with database.engine.connect() as connection:
                connection.exec_driver_sql("PRAGMA journal_mode = WAL")
            return
        except OperationalError as error:
            if "locked" not in str(error.orig) or time.monotonic() > until:
                raise BookNotUsable(
                    database.where, f"the book cannot be written to ({error.orig}); give another place with --book"
                ) from None
            time.sleep(0.02)
