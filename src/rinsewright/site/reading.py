"""Reading a site file: from a path or a text to a checked document that knows its lines."""

from __future__ import annotations

from pathlib import Path

from rinsewright.catalogue.reading import in_order, parse, read_text_file, validate
from rinsewright.errors import InputError, Problem
from rinsewright.site.checks import problems_of
from rinsewright.site.document import SiteDocument
from rinsewright.site.schema import SiteFile

TABLES_OF = {
    "water": ("water",),
    "solve": ("water", "supply", "plant"),
    "plan": ("water", "supply", "demand", "plant"),
    "year": ("water", "supply", "demand", "plant"),
    "build": ("supply", "plant"),
    "firstrun": ("water", "supply", "plant"),
}
"""The tables that each command needs."""

MISSING_TABLE = "the table is missing"  # how a message begins that says so


def read_site(path: str | Path) -> SiteDocument:
    """Read and check a site file; raises :class:`InputError` with everything that is wrong with it."""
    return read_text(read_text_file(path), str(path))


def read_text(text: str, name: str = "site file") -> SiteDocument:
    """Read and check the text of a site file; ``name`` stands in messages."""
    data, places = parse(text, name)
    document = SiteDocument(validate(SiteFile, data, places), places)
    if problems := list(problems_of(document.model, places)):
        raise InputError(in_order(problems))
    return document


def require(document: SiteDocument, command: str, tables: tuple[str, ...] | None = None) -> None:
    """Refuse a document that lacks a table the command needs (:data:`TABLES_OF`, or ``tables``)."""
    needed = tables or TABLES_OF[command]
    missing = [table for table in needed if getattr(document.model, table) is None]
    if missing:
        raise InputError(
            [Problem(f"{MISSING_TABLE}; `{command}` needs [{table}]", document.file, table) for table in missing]
        )
    demand = document.model.demand
    if "demand" in needed and demand and demand.litres_per_day is None and not demand.rounds:
        message = f"the litres are missing; `{command}` needs litres_per_day or [[demand.rounds]]"
        raise InputError(document.problem(message, "demand"))
