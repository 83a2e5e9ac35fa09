"""Years drawn by chance, kept in the book, so that they are there again when the app is.

What is kept goes by a hash of the site's text and of the program that made it: after a change of either it is not found
again. The program's own text counts as well as its version, since a clone changes between two versions. It is JSON, so
that a book from elsewhere can hold numbers only.
"""

from __future__ import annotations

import contextlib
import json
import zlib
from collections.abc import Mapping
from dataclasses import asdict
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rinsewright.errors import RinsewrightError
from rinsewright.planning.versions import stamped
from rinsewright.planning.year_result import Event, WeekHours, YearResult
from rinsewright.store.book import Book
from rinsewright.web.engine import Engine

if TYPE_CHECKING:
    from rinsewright.quantities import Array
    from rinsewright.web.runs import Asked

PROGRAM = Path(__file__).parents[1]


class DrawnYears:
    """The drawn years of all sites: the engine's memory, and behind it the book."""

    def __init__(self, book: Book, engine: Engine) -> None:
        self._book, self._engine = book, engine

    def keep(self, asked: Asked, year: YearResult) -> None:
        """Keep what a run has drawn. Where the book cannot, it is there until the app ends."""
        self._engine.keep_year(asked.toml, asked.members, asked.seed, year)
        with contextlib.suppress(RinsewrightError):
            self._book.keep_drawn_years(asked.slug, basis_of(asked.toml), asked.members, asked.seed, packed(year))

    def find(self, slug: str, toml: str, members: int, seed: int) -> YearResult | None:
        """The years, if they have been drawn and are kept; nothing is worked out."""
        found = self._engine.year_if_known(toml, members, seed)
        if found is None:
            content = self._book.drawn_years(slug, basis_of(toml), members, seed)
            found = None if content is None else unpacked(content)
            if found is not None:
                self._engine.keep_year(toml, members, seed, found)
        return found

    def newest(self, slug: str, toml: str) -> tuple[int, int] | None:
        """How many years of this text were drawn last, and with which seed, as far as the book knows."""
        return self._book.newest_drawn_years(slug, basis_of(toml))


def basis_of(toml: str) -> str:
    """What drawn years rest on but for their number and seed: the site's text and the program."""
    return sha256(json.dumps([stamped({}), program_text(), toml]).encode()).hexdigest()


@cache
def program_text() -> str:
    """A hash of all that the program is written in."""
    texts = sha256()
    for file in sorted(file for file in PROGRAM.rglob("*") if file.suffix in (".py", ".toml")):
        texts.update(f"{file.relative_to(PROGRAM).as_posix()} {file.stat().st_size} ".encode())
        texts.update(file.read_bytes())
    return texts.hexdigest()


def packed(year: YearResult) -> bytes:
    """A year as compressed JSON, every number to its last digit."""
    return zlib.compress(json.dumps(asdict(year), default=lambda array: array.tolist()).encode())


def unpacked(content: bytes) -> YearResult | None:
    """The year again; None where the content is damaged."""
    with contextlib.suppress(zlib.error, ValueError, KeyError, TypeError):
        told = json.loads(zlib.decompress(content))
        told["days"] = _arrays(told["days"])
        told["weeks"] = tuple(WeekHours(**{**week, "hours": _arrays(week["hours"])}) for week in told["weeks"])
        told["calendar"] = tuple(Event(**event) for event in told["calendar"])
        return YearResult(**told)
    return None


def _arrays(rows: Mapping[str, Any]) -> dict[str, Array]:
    import numpy as np

    return {key: np.array(row, dtype=np.float64) for key, row in rows.items()}
