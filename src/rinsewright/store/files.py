"""Files and folders that appear whole or not at all."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from rinsewright.store.errors import BookNotUsable


@contextlib.contextmanager
def neighbour(target: Path) -> Iterator[Path]:
    """A place on the same disk under the target's name, moved to the target at the end, or gone after an error.

    Raises :class:`BookNotUsable` where the target is there already (an empty folder may be) or cannot be written.
    """
    if target.exists() and not (target.is_dir() and not any(target.iterdir())):
        raise BookNotUsable(str(target), "this is there already; give a new name")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".rinsewright-", dir=target.parent) as folder:
            draft = Path(folder) / target.name
            yield draft
            if target.is_dir():
                target.rmdir()
            draft.replace(target)
            _settle(target.parent)
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise BookNotUsable(str(target), f"this cannot be written ({reason}); give another place") from None


def copy_sqlite(source: Path, target: Path) -> None:
    """Copy a SQLite file as it is at one moment, also while others write, into one new file."""
    with neighbour(target) as draft:
        try:
            with closing(sqlite3.connect(source)) as here, closing(sqlite3.connect(draft)) as there:
                here.backup(there)
                there.execute("PRAGMA journal_mode = DELETE")  # so that the copy is one file
        except sqlite3.Error as error:
            raise BookNotUsable(str(source), f"this cannot be copied ({error})") from None
        with draft.open("rb+") as file:
            os.fsync(file.fileno())


def beside(file: Path, why: str) -> Path:
    """A name for a copy beside a file: why and when it is made, as ``book-0001-20260301T093000123456Z.sqlite``."""
    return file.with_name(f"{file.stem}-{why}-{datetime.now(UTC):%Y%m%dT%H%M%S%fZ}{file.suffix}")


def _settle(folder: Path) -> None:
    """Have the folder's new entry outlive a power cut, where the system offers that."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
