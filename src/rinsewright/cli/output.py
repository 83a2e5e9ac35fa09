"""How answers leave: text for a person, one JSON object for a program, files all or not at all."""

from __future__ import annotations

import argparse
import contextlib
import json
import math
import os
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from rinsewright.errors import InputError, Problem

if TYPE_CHECKING:
    from rinsewright.api import Site
    from rinsewright.papers.units import Units


class Answer(Protocol):
    """What every command's result offers."""

    def answer(self) -> dict[str, Any]:
        """The JSON object."""

    def text(self) -> str:
        """For a person."""


class Papers(Protocol):
    """A result that can be written to a folder."""

    def write(self, folder: Path, /) -> list[Path]:
        """Write into a folder; returns the files."""


def show(result: Answer, *, as_json: bool) -> None:
    """Print an answer to standard output."""
    print(to_json(result.answer()) if as_json else result.text().rstrip("\n"), flush=True)


def hand_over(result: Answer, papers: Callable[[], Papers], options: argparse.Namespace) -> None:
    """Write the papers if a folder is asked for, print the answer, say on standard error what was written."""
    written = [] if options.out is None else write_papers(papers(), options.out)
    show(result, as_json=options.json)
    for file in written:
        print(f"written: {file}", file=sys.stderr)


def to_json(answer: dict[str, Any]) -> str:
    """One JSON object; numbers at full precision, what is not a number is null."""
    return json.dumps(plain(answer), allow_nan=False, indent=2)


def plain(value: Any) -> Any:
    """A value of JSON's own types. Arrays and their numbers are taken for what they hold."""
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, bool | int | str) or value is None:
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    return str(value)


def write_papers(result: Papers, folder: str) -> list[Path]:
    """Write a result's files into a folder, all of them or none.

    They are written to a temporary folder inside it and then moved, so that a run cut short leaves old files alone; a
    folder made for them goes again.
    """
    place = Path(folder)
    made = not place.exists()
    try:
        place.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".rinsewright-", dir=place) as name:
            draft = Path(name)
            files = result.write(draft)
            with _undisturbed():
                return [_move(file, draft, place) for file in files]
    except (FileExistsError, NotADirectoryError):
        raise _not_a_folder(folder) from None
    except OSError as error:
        raise _not_writable(folder, (error.strerror or type(error).__name__).lower()) from None
    finally:
        if made:
            with contextlib.suppress(OSError):  # it holds the files
                place.rmdir()


def require_papers(options: argparse.Namespace) -> None:
    """Refuse units that are none and a folder that cannot be written to, before a long job begins."""
    if options.units is not None:
        from rinsewright.papers.units import Units

        Units.named(options.units)
        if options.out is None:
            raise InputError(Problem("--units is for what is written to a folder; give --out too"))
    if options.out is not None:
        require_folder(options.out)


def units_of(options: argparse.Namespace, site: Site) -> Units | None:
    """The units asked for, with readings on the site's meter; None where none are."""
    from rinsewright.papers.units import Units
    from rinsewright.site.build import meter_factor

    return None if options.units is None else Units.named(options.units, meter_factor(site.document))


def require_folder(folder: str) -> None:
    """Refuse a folder that cannot be written to."""
    if not folder.strip():
        raise InputError(Problem("--out names no folder; give one to write to, or . for this one"))
    place = Path(folder)
    nearest = next(path for path in (place, *place.absolute().parents) if path.exists())
    if not nearest.is_dir():
        raise _not_a_folder(folder)
    if not os.access(nearest, os.W_OK | os.X_OK):
        raise _not_writable(folder, "permission denied")


def _not_a_folder(folder: str) -> InputError:
    return InputError(Problem("this is a file, not a folder; give a folder to write to", folder))


def _not_writable(folder: str, why: str) -> InputError:
    return InputError(Problem(f"the folder cannot be written to ({why}); give another with --out", folder))


@contextlib.contextmanager
def _undisturbed() -> Iterator[None]:
    """Put an interrupt off until the files are all in place."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: came.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if came:
        raise KeyboardInterrupt


def _move(file: Path, draft: Path, place: Path) -> Path:
    final = place / file.relative_to(draft)
    final.parent.mkdir(parents=True, exist_ok=True)
    os.replace(file, final)  # noqa: PTH105  (the one call that is atomic on every system)
    return final


class Progress:
    """Says on standard error how far a long job is: nothing in the first second, then at most once a second."""

    def __init__(self) -> None:
        self._next = time.monotonic() + 1.0

    def __call__(self, what: str, share: float | None = None) -> None:
        """Report what is being done, and which share of it is done (0–1) where that is known."""
        now = time.monotonic()
        if now < self._next:
            return
        self._next = now + 1.0
        done = "" if share is None else f" {100.0 * share:.0f} %"
        print(f"rinsewright: {what}{done}", file=sys.stderr, flush=True)
