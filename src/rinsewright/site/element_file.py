"""A file with one membrane element: the keys of [[plant.membranes]], flat, with its rating."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from rinsewright.catalogue.loader import load_catalogue
from rinsewright.catalogue.parts import Membrane
from rinsewright.catalogue.reading import Places, parse, read_text_file, validate
from rinsewright.errors import InputError
from rinsewright.plant.membrane.element import Element
from rinsewright.site.build import build_element, resolve_element


def read_element(path: str | Path, folder: str | Path | None = None) -> dict[str, Any]:
    """The checked keys of an element file, with the catalogue's values where it names a ``part``.

    Raises :class:`InputError` with file, key and line of everything wrong, also where no membrane meets the rating.
    """
    data, places = parse(read_text_file(path), str(path))
    membrane = resolve_element(validate(Membrane, data, places), places, load_catalogue(folder))
    if membrane.rated is None:
        raise InputError(places.problem("the rating is missing; give rated = { product_l_h, … }", "rated"))
    build_element(membrane, places)
    return membrane.model_dump(exclude_unset=True, exclude_none=True)


def element_of(keys: dict[str, Any], name: str = "element") -> Element:
    """The element of a table of keys, in SI, its permeances solved for; ``name`` stands in messages."""
    places = Places(name, {})
    membrane = resolve_element(validate(Membrane, keys, places), places, load_catalogue())
    return build_element(membrane, places)
