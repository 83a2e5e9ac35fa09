"""Loading the catalogue: the parts that come with the package, then those of the user's own folder."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar

from rinsewright.catalogue.parts import KINDS, Membrane, Stocked
from rinsewright.catalogue.reading import Places, in_order, nearest, parse, read_text_file, validate
from rinsewright.errors import InputError, Problem

DATA_VERSION = "2026-11"  # of the catalogue and the constants; raised whenever a number in them moves
"""Version of the values that come with the package; answers carry it."""

KIND_OF_PART = {
    "tube": "tubes",
    "cartridge": "cartridges",
    "pump": "pumps",
    "restrictor": "restrictors",
    "resin": "resin-vessels",
    "tank": "tanks",
}
_PERMEANCES = ("water_permeance_l_m2_h_bar", "salt_permeance_l_m2_h")
AnyPart = TypeVar("AnyPart", bound=Stocked)


@dataclass(frozen=True)
class Entry:
    """A part of the catalogue. ``values`` has the keys of a site file, ``origin`` says where each comes from."""

    kind: str
    name: str
    values: dict[str, Any]
    origin: dict[str, str]
    file: str
    line: int | None
    own: bool = False


@dataclass(frozen=True)
class Catalogue:
    """All parts known, by kind and name."""

    entries: dict[str, dict[str, Entry]] = field(default_factory=lambda: {kind: {} for kind in KINDS})

    def find(self, kind: str, name: str) -> Entry | None:
        """The part of that name, or None."""
        return self.entries[kind].get(name)

    def suggestion(self, kind: str, name: str) -> str:
        """The nearest name, or all of them, for a message."""
        return nearest(name, sorted(self.entries[kind]))


def load_catalogue(folder: str | Path | None = None) -> Catalogue:
    """The parts of the package and of the user's folder, whose own parts replace those of the same name.

    ``folder`` must be there if it is given. Without one, ``$RINSEWRIGHT_PARTS`` is taken, or
    ``~/.config/rinsewright/parts`` if that is there.

    Raises:
        InputError: naming file, key and line of everything wrong in the user's files.
    """
    entries = {kind: dict(parts) for kind, parts in _shipped().items()}
    for own in _own_files(folder):
        for part in _read(own):
            entries[part.kind][part.name] = part
    return Catalogue(entries)


def _own_files(folder: str | Path | None) -> list[Path]:
    named = folder or os.environ.get("RINSEWRIGHT_PARTS")
    place = Path(named) if named else _usual_folder()
    if place is None or (not named and not place.is_dir()):
        return []
    if not place.is_dir():
        raise InputError(Problem("there is no such folder of parts; check the name", str(place)))
    return sorted(place.glob("*.toml"))


def _usual_folder() -> Path | None:
    try:
        return Path.home() / ".config" / "rinsewright" / "parts"
    except RuntimeError:  # nobody's home is known
        return None


@lru_cache(maxsize=1)
def _shipped() -> dict[str, dict[str, Entry]]:
    entries: dict[str, dict[str, Entry]] = {kind: {} for kind in KINDS}
    folder = files("rinsewright.catalogue") / "data"
    for file in sorted(folder.iterdir(), key=lambda item: item.name):
        if file.name.endswith(".toml"):
            for part in _entries(file.read_text(encoding="utf-8"), f"catalogue/data/{file.name}", own=False):
                entries[part.kind][part.name] = part
    return entries


def _read(path: Path) -> list[Entry]:
    return _entries(read_text_file(path), str(path), own=True)


def _entries(text: str, file: str, *, own: bool) -> list[Entry]:
    data, places = parse(text, file)
    entries: list[Entry] = []
    problems: list[Problem] = []
    for kind, tables in data.items():
        if kind not in KINDS:
            problems.append(places.problem(f"this kind of part is not known; {nearest(kind, list(KINDS))}", kind))
        elif not isinstance(tables, dict):
            problems.append(places.problem(f'this is not a table of parts; give [{kind}."a name"]', kind))
        else:
            for name, values in tables.items():
                try:
                    entries.append(_entry(kind, name, values, places, own=own))
                except InputError as error:
                    problems += error.problems
    if problems:
        raise InputError(in_order(problems))
    return entries


def _entry(kind: str, name: str, values: object, places: Places, *, own: bool) -> Entry:
    at = (kind, name)
    if not isinstance(values, dict):
        raise InputError(places.problem("this is not a part; give a table of its keys", *at))
    values = dict(values)
    origin = values.pop("origin", "your own parts" if own else "")
    origins = values.pop("origins", {})
    if not isinstance(origin, str) or not isinstance(origins, dict):
        raise InputError(places.problem("origin is text, and origins a table of texts", *at))
    for key in ("part", "size"):
        if key in values:
            raise InputError(places.problem("this key is not for the catalogue; leave it out", *at, key))
    model = KINDS[kind]
    checked = validate(model, {**_tag(model), **values}, places, at)
    given = {key: value for key, value in checked.model_dump(exclude_unset=True).items() if key != "part"}
    where_from = {key: str(origins.get(key, origin)) for key in given}
    return Entry(kind, name, given, where_from, places.file, places.line(at), own)


def _tag(model: type[Stocked]) -> dict[str, str]:
    """The `part` that marks a kind on a line; an element's `part` is a name instead."""
    return (
        {} if model is Membrane else {"part": next(tag for tag, kind in KIND_OF_PART.items() if KINDS[kind] is model)}
    )


def merge(part: AnyPart, found: Entry) -> AnyPart:
    """A part with the catalogue's values where it gives none itself.

    A rating and a pair of permeances say the same thing: whichever the part gives replaces the catalogue's.
    """
    own = part.model_dump(exclude_unset=True)
    values = dict(found.values)
    if any(key in own for key in _PERMEANCES):
        values.pop("rated", None)
    if "rated" in own:
        values = {key: value for key, value in values.items() if key not in _PERMEANCES}
    return type(part).model_validate({**values, **own})
