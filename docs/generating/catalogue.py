"""The catalogue's parts, with values and origins."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from typing import Any

from docs.generating import fields
from docs.generating.markdown import code, doc, page, table
from rinsewright.catalogue.loader import DATA_VERSION, Catalogue, Entry, load_catalogue
from rinsewright.catalogue.parts import KINDS

INTRO = """
Generic parts with round values; none is a product of a maker. A site file names one (`size = "…"`, for a membrane
`part = "…"`) and may override any key. A data sheet of the part you really have is better than any of these: put it
into [a folder of your own parts](../how-to/own-parts.md). Under each table stands where its values come from; *from
memory* has not been checked against a source, *common practice* has none.
"""


def shipped() -> Catalogue:
    """The parts of the package alone, whatever the user's folder holds."""
    with tempfile.TemporaryDirectory() as empty:
        return load_catalogue(empty)


def catalogue() -> str:
    """The page."""
    entries = shipped().entries
    sections = [text for kind, found in entries.items() for text in _kind(kind, list(found.values()))]
    return page("The catalogue", INTRO, f"Version of these values: {DATA_VERSION}.", *sections)


def _kind(kind: str, entries: list[Entry]) -> Iterator[str]:
    model = KINDS[kind]
    keys = [key for key in model.model_fields if any(key in entry.values for entry in entries)]
    yield f"## {kind}"
    yield doc(model)
    head = ["Name", *(_head(model, key) for key in keys)]
    yield table(head, [(code(entry.name), *(shown(entry.values.get(key)) for key in keys)) for entry in entries])
    yield "\n".join(_origins(entries))


def _head(model: fields.Model, key: str) -> str:
    unit = fields.unit(model.model_fields[key])
    return f"`{key}`" + (f" [{unit}]" if unit else "")


def shown(value: Any) -> str:
    """A value of the catalogue."""
    if value is None:
        return ""
    if isinstance(value, dict):
        return ", ".join(f"{key} {shown(item)}" for key, item in value.items())
    if isinstance(value, list):
        return "; ".join(map(shown, value))
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:g}" if isinstance(value, float | int) else str(value)


def _origins(entries: list[Entry]) -> Iterator[str]:
    """Each origin once: of what, in which parts."""
    names: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for entry in entries:
        for origin in dict.fromkeys(entry.origin.values()):
            keys = tuple(key for key in entry.values if entry.origin[key] == origin)
            whole = len(keys) > len(entry.values) / 2
            names.setdefault((origin, () if whole else keys), []).append(entry.name)
    for (origin, keys), found in names.items():
        which = ", ".join(map(code, keys)) + " of " if keys else ""
        every = "all" if len(found) == len(entries) else ", ".join(map(code, found))
        yield f"- {which}{every}: {origin}."
