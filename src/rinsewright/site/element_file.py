"""One membrane element on its own: the keys of a ``[[plant.membranes]]`` table, in a file or a mapping."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from rinsewright.catalogue.loader import Catalogue
from rinsewright.catalogue.parts import Membrane
from rinsewright.catalogue.reading import Places, parse, read_text_file, validate
from rinsewright.plant.membrane.element import Element
from rinsewright.site.build import build_element, resolve_element


def read_element(path: str | Path, catalogue: Catalogue) -> Element:
    """An element from a TOML file; raises :class:`InputError` naming key and line."""
    data, places = parse(read_text_file(path), str(path))
    return _element(data, places, catalogue)


def element_of(keys: Mapping[str, Any], name: str, catalogue: Catalogue) -> Element:
    """An element from its keys; ``name`` stands in messages."""
    return _element(dict(keys), Places(name, {}), catalogue)


def _element(keys: dict[str, Any], places: Places, catalogue: Catalogue) -> Element:
    membrane = resolve_element(validate(Membrane, keys, places), places, catalogue)
    return build_element(membrane, places)
