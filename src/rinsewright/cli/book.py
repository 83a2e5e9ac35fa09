"""``rinsewright book ACTION``: keep a copy of the book, bring one back, hand everything over as files."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rinsewright.cli.options import add_book
from rinsewright.errors import InputError, Problem

if TYPE_CHECKING:
    from rinsewright.store.book import Book

ACTIONS = {
    "backup": "write the whole book to one new file",
    "restore": "put a backup's content in place of the book's, of which a copy is kept",
    "export": "write everything as TOML, CSV and the documents to a new folder",
    "import": "fill an empty book with an export",
}


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser("book", help="the book that the app keeps: back up, restore, export, import")
    what = "; ".join(f"{action}: {does}" for action, does in ACTIONS.items())
    command.add_argument("action", metavar="ACTION", choices=list(ACTIONS), help=what)
    command.add_argument("place", metavar="PLACE", help="the backup's file or the export's folder")
    add_book(command)
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.store.book import Book

    new = _is_new(options.book)
    if new is not None and options.action in ("backup", "export"):
        # A copy of a book that is not there would be an empty one, and nobody would notice.
        raise InputError(Problem("there is no book here; name its place with --book", str(new)))
    book = Book.open(options.book)
    try:
        said = _act(book, options.action, options.place)
    except BaseException:
        if new is not None:
            book.discard()
        raise
    finally:
        book.close()
    for line in said:
        print(line, file=sys.stderr)


def _act(book: Book, action: str, place: str) -> list[str]:
    """Do it; returns what to say."""
    if action == "backup":
        book.backup(place)
        return [f"written: {place}"]
    if action == "export":
        book.export_to(place)
        return [f"written: {place}"]
    if action == "import":
        book.import_from(place)
        return [f"imported into: {book.where}"]
    kept = book.restore(place)
    return [f"restored: {book.where}", *([] if kept is None else [f"what was there is kept as: {kept}"])]


def _is_new(where: str | None) -> Path | None:
    """The book's file where it is not there yet."""
    from rinsewright.store.database import default_file, is_url

    if is_url(where):
        return None
    file = default_file() if where is None else Path(where).expanduser()
    return None if file.exists() else file
