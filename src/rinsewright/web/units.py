"""The units that are set in the book."""

from __future__ import annotations

from rinsewright.papers.units import Units
from rinsewright.store.book import Book


def units_in(book: Book) -> Units:
    """Those of every page and paper made from it."""
    return Units(
        book.setting("units.temperature", "c") or "c",
        book.setting("units.pressure", "bar") or "bar",
        book.setting("units.volume", "l") or "l",
        float(book.setting("units.ppm_factor", "0.5") or 0.5),
    )
