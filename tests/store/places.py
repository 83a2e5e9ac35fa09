"""Places for books, and what stands in a book, row by row."""

from __future__ import annotations

import itertools
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg
from sqlalchemy import select

from rinsewright.store.book import Book
from rinsewright.store.schema import METADATA

KINDS = ("sqlite", "postgresql")


class Places:
    """Empty places: a file in a folder of its own, or a schema of its own on one server."""

    def __init__(self, server: str, folder: Path) -> None:
        self._server = server
        self._folder = folder
        self._numbers = itertools.count(1)
        self._control = psycopg.connect(server, autocommit=True)
        self._control.execute("ALTER SYSTEM SET fsync = off")  # the tests cut no power
        self._control.execute("SELECT pg_reload_conf()")

    def new(self, kind: str) -> str:
        number = next(self._numbers)
        if kind == "sqlite":
            folder = self._folder / str(number)
            folder.mkdir()
            return str(folder / "book.sqlite")
        self._control.execute(f"CREATE SCHEMA book{number}".encode())
        return f"{self._server}&options=-csearch_path%3Dbook{number}"

    def close(self) -> None:
        self._control.close()


def run_sql(place: str, text: str) -> None:
    """Run many statements past the book's own code."""
    if "://" in place:
        with psycopg.connect(place) as connection:
            connection.execute(text.encode())
    else:
        with closing(sqlite3.connect(place)) as connection:
            connection.executescript(text)


def ask_sql(place: str, question: str) -> list[Any]:
    """What stands in the tables themselves."""
    if "://" in place:
        with psycopg.connect(place) as server:
            return list(server.execute(question.encode()))
    with closing(sqlite3.connect(place)) as file:
        return list(file.execute(question))


def rows(book: Book) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table."""
    with book._database.reading() as connection:
        return {
            table.name: [tuple(row) for row in connection.execute(select(table).order_by(*table.primary_key.columns))]
            for table in METADATA.sorted_tables
        }
