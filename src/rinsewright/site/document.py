"""A checked site file that knows where its keys stand."""

from __future__ import annotations

from dataclasses import dataclass

from rinsewright.catalogue.reading import Places
from rinsewright.errors import Problem
from rinsewright.site.schema import SiteFile


@dataclass(frozen=True)
class SiteDocument:
    """A site file that has passed every check, and where its keys stand."""

    model: SiteFile
    places: Places

    @property
    def file(self) -> str:
        """Name of the file, as it was given."""
        return self.places.file

    @property
    def lines(self) -> dict[tuple[str | int, ...], int]:
        """Line of every key, by path."""
        return self.places.lines

    def problem(self, message: str, *path: str | int) -> Problem:
        """A problem at a key of this file."""
        return self.places.problem(message, *path)
