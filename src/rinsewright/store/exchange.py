"""The whole book as a folder that a person can read, and back: TOML, CSV and the documents.

Only what the program can work out again is left out.

::

    book.toml                      which format and revision this is
    site.csv, version.csv …        each table's columns; an empty cell is null
    sites/tern-quay/0001.toml      a version of a site file
    documents/2026-0001.html .pdf  a document as it was issued
"""

from __future__ import annotations

import csv
import hashlib
import re
import sys
import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, MetaData, Table, select
from sqlalchemy.exc import DBAPIError

from rinsewright.store.backup import AT_ONCE, fill, is_empty, temporary_book
from rinsewright.store.database import Database
from rinsewright.store.errors import BookNotUsable
from rinsewright.store.files import neighbour
from rinsewright.store.migrate import NEWEST, TABLE, bring_up_to_date, known_revisions, upgrade
from rinsewright.store.schema import DRAWN_YEARS, METADATA, as_text

FORMAT = 1
LEFT_OUT = (DRAWN_YEARS.name,)  # can be worked out again
APART = {"version": ("toml",), "document": ("html", "pdf")}  # columns that go to files of their own


def export(database: Database, folder: Path) -> None:
    """Write the book as it is at this moment; the folder has to be new or empty."""
    with neighbour(folder) as draft, database.reading() as connection:
        draft.mkdir()
        (draft / "book.toml").write_text(
            "# A book of rinsewright. `rinsewright book import` reads this folder.\n"
            f'format = {FORMAT}\nrevision = "{NEWEST}"\nexported_at = {datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}\n',
            encoding="utf-8",
        )
        slugs = _slugs(connection, METADATA.tables["site"])
        for table in METADATA.sorted_tables:
            if table.name in LEFT_OUT:
                continue
            _write_table(connection, table, slugs, draft)


def read_back(folder: Path, database: Database) -> None:
    """Fill an empty book with an export, in one transaction.

    An export of an older program is migrated. Raises :class:`BookNotUsable` where the book holds something, or where
    the export is not whole; then nothing has changed.
    """
    revision = _revision(folder)
    with temporary_book(str(folder)) as draft:
        with draft.writing() as connection:
            upgrade(connection, revision)
            _read_tables(connection, folder)
        bring_up_to_date(draft)
        try:
            with database.writing() as connection:
                if not is_empty(connection):
                    raise BookNotUsable(database.where, "this book is not empty; import into a new one")
                fill(connection, draft)
        except ValueError as error:  # a time that is none
            raise BookNotUsable(str(folder), f"a row cannot be read ({error}); mend it and import again") from None


# Out


def _write_table(connection: Connection, table: Table, slugs: dict[int, str], folder: Path) -> None:
    apart = APART.get(table.name, ())
    names = [column.name for column in table.columns if column.name not in apart]
    with (folder / f"{table.name}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(names)
        order = list(table.primary_key.columns)
        for row in connection.execute(select(table).order_by(*order).execution_options(yield_per=AT_ONCE)).mappings():
            writer.writerow([_cell(row[name]) for name in names])
            for name in apart:
                path = folder / _path(table.name, name, row, slugs)
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(row[name].encode() if isinstance(row[name], str) else row[name])


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime):
        return as_text(value)
    return repr(value) if isinstance(value, float) else str(value)


def _slugs(connection: Connection, site: Table) -> dict[int, str]:
    return {row.id: row.slug for row in connection.execute(select(site.c.id, site.c.slug))}


def _path(table: str, column: str, row: Any, slugs: dict[int, str]) -> str:
    if table == "version":
        return f"sites/{slugs[row['site_id']]}/{row['number']:04d}.toml"
    return f"documents/{row['number']}.{column}"


# In


def _revision(folder: Path) -> str:
    file = folder / "book.toml"
    try:
        about = tomllib.loads(file.read_text(encoding="utf-8"))
    except OSError:
        raise BookNotUsable(str(folder), "this is not an export of a book: it has no book.toml") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BookNotUsable(str(file), f"this is not TOML ({error}); give a folder as it was exported") from None
    revision = about.get("revision")
    if about.get("format") != FORMAT or revision not in known_revisions():
        raise BookNotUsable(
            str(file),
            f"format {about.get('format')}, revision {revision} is not known (format {FORMAT}, revisions up to "
            f"{NEWEST} are); update rinsewright",
        )
    return str(revision)


def _read_tables(connection: Connection, folder: Path) -> None:
    """Into tables of the export's own revision, so they are asked for their columns."""
    tables = MetaData()
    tables.reflect(connection)
    slugs: dict[int, str] = {}
    for table in tables.sorted_tables:
        if table.name in (TABLE, *LEFT_OUT):
            continue
        for line, row in _rows(folder, table):
            if table.name == "site":
                slugs[row["id"]] = _one_name(folder / "site.csv", line, row["slug"])
            for column in APART.get(table.name, ()):
                row[column] = _read_apart(folder, table, column, line, row, slugs)
            try:
                connection.execute(table.insert(), row)
            except DBAPIError as error:
                raise _bad_row(folder / f"{table.name}.csv", line, str(error.orig)) from None


def _rows(folder: Path, table: Table) -> Iterator[tuple[int, dict[str, Any]]]:
    """Each row of a table's CSV with the line where it ends."""
    file = folder / f"{table.name}.csv"
    columns = [column for column in table.columns if column.name not in APART.get(table.name, ())]
    csv.field_size_limit(min(sys.maxsize, 2**31 - 1))  # a text may be long
    try:
        with file.open(encoding="utf-8", newline="") as stream:
            reader = csv.reader(stream, strict=True)
            if next(reader, []) != [column.name for column in columns]:
                wanted = ",".join(column.name for column in columns)
                raise BookNotUsable(str(file), f"the first line does not name the columns; it should be {wanted}")
            for cells in reader:
                if len(cells) != len(columns):
                    raise _bad_row(file, reader.line_num, f"{len(cells)} cells instead of {len(columns)}")
                yield reader.line_num, _values(file, reader.line_num, columns, cells)
    except OSError:
        raise BookNotUsable(str(folder), f"{file.name} is missing; give a folder as it was exported") from None
    except (UnicodeDecodeError, csv.Error) as error:
        raise BookNotUsable(str(file), f"this cannot be read ({error}); give a folder as it was exported") from None


def _values(file: Path, line: int, columns: list[Any], cells: list[str]) -> dict[str, Any]:
    row: dict[str, Any] = {}
    for column, cell in zip(columns, cells, strict=True):
        kind = column.type.python_type
        try:
            row[column.name] = None if cell == "" and (column.nullable or kind is not str) else _value(kind, cell)
        except ValueError:
            raise _bad_row(file, line, f'{column.name} is "{cell}"') from None
    return row


def _value(kind: type, cell: str) -> Any:
    if kind is not bool:
        return kind(cell)
    if cell not in ("true", "false"):
        raise ValueError
    return cell == "true"


def _read_apart(folder: Path, table: Table, column: str, line: int, row: dict[str, Any], slugs: dict[int, str]) -> Any:
    csv_file = folder / f"{table.name}.csv"
    if table.name == "document":
        _one_name(csv_file, line, row["number"])
    elif row["site_id"] not in slugs:
        raise _bad_row(csv_file, line, f"there is no site {row['site_id']}")
    file = folder / _path(table.name, column, row, slugs)
    try:
        content = file.read_bytes()
        if table.name == "version":
            return content.decode()
    except OSError:
        raise BookNotUsable(str(file), "this file is missing; give a folder as it was exported") from None
    except UnicodeDecodeError:
        raise BookNotUsable(str(file), "this is not UTF-8 text; give a folder as it was exported") from None
    if hashlib.sha256(content).hexdigest() != row[f"{column}_sha256"]:
        raise BookNotUsable(str(file), "this is not the document that was issued (its hash differs)")
    return content


def _one_name(file: Path, line: int, name: str) -> str:
    """A name that leads to a file of this folder and to no other."""
    if not re.fullmatch(r"[a-z0-9-]+", name):
        raise _bad_row(file, line, f'"{name}" is not a name of small letters, digits and hyphens')
    return name


def _bad_row(file: Path, line: int, what: str) -> BookNotUsable:
    return BookNotUsable(f"{file}, line {line}", f"this row cannot be kept ({what}); give a folder as it was exported")
