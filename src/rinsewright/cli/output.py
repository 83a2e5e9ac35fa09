"""How answers leave: text for a person, one JSON object for a program, files all or not at all."""

from __future__ import annotations

import json
import math
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, Protocol

from rinsewright.errors import InputError, Problem


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
    print(to_json(result.answer()) if as_json else result.text().rstrip("\n"))


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
    """Write a result's files into a folder, each appearing whole or not at all.

    They are written to a temporary folder inside it and then moved, so that a run cut short leaves old files alone.
    """
    place = Path(folder)
    try:
        place.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".rinsewright-", dir=place) as name:
            draft = Path(name)
            return [_move(file, draft, place) for file in result.write(draft)]
    except (FileExistsError, NotADirectoryError):
        raise InputError(Problem("this is a file, not a folder; give a folder to write to", folder)) from None
    except OSError as error:
        why = (error.strerror or type(error).__name__).lower()
        raise InputError(Problem(f"the folder cannot be written to ({why}); give another with --out", folder)) from None


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
