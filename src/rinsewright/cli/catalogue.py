"""``rinsewright catalogue [KIND]``: the parts that a site file can name."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from rinsewright.cli.options import add_json, add_parts

if TYPE_CHECKING:
    from rinsewright.catalogue.loader import Catalogue, Entry


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser("catalogue", help="the parts a site file can name, and where their values come from")
    command.add_argument("kind", metavar="KIND", nargs="?", help="only this kind, as elements or tubes")
    add_parts(command)
    add_json(command)
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.catalogue.loader import load_catalogue
    from rinsewright.catalogue.reading import nearest
    from rinsewright.cli.output import show
    from rinsewright.errors import InputError, Problem

    catalogue = load_catalogue(options.parts)
    kinds = list(catalogue.entries) if options.kind is None else [options.kind]
    if options.kind is not None and options.kind not in catalogue.entries:
        known = nearest(options.kind, list(catalogue.entries))
        raise InputError(Problem(f'"{options.kind}" is not a kind of part; {known}'))
    show(Listing(catalogue, kinds), as_json=options.json)


class Listing:
    """Kinds of the catalogue, to be shown."""

    def __init__(self, catalogue: Catalogue, kinds: list[str]) -> None:
        self.parts = {kind: list(catalogue.entries[kind].values()) for kind in kinds}

    def answer(self) -> dict[str, Any]:
        """The parts as JSON."""
        from rinsewright.planning.versions import stamped

        return stamped(
            {"parts": {kind: [_as_json(entry) for entry in entries] for kind, entries in self.parts.items()}}
        )

    def text(self) -> str:
        """The parts for a person."""
        return "\n\n".join("\n".join([kind, *map(_as_text, entries)]) for kind, entries in self.parts.items())


def _as_json(entry: Entry) -> dict[str, Any]:
    return {"name": entry.name, "values": entry.values, "origin": entry.origin, "own": entry.own}


def _as_text(entry: Entry) -> str:
    """One part with its values, each origin said once."""
    lines = [f'  "{entry.name}"' + ("  (your own)" if entry.own else "")]
    for origin in dict.fromkeys(entry.origin.values()):
        values = [f"{key} = {_value(entry.values[key])}" for key in entry.values if entry.origin[key] == origin]
        lines += [f"    {', '.join(values)}", f"      {origin}"]
    return "\n".join(lines)


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:g}" if isinstance(value, float) else f'"{value}"' if isinstance(value, str) else str(value)
