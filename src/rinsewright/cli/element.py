"""``rinsewright element --rated FILE``: an element's permeances from its data sheet."""

from __future__ import annotations

import argparse
from typing import Any

from rinsewright.cli.options import add_json, add_parts


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser("element", help="a membrane element's permeances from its rating")
    command.add_argument("--rated", metavar="FILE", required=True, help="TOML file with one element's keys and `rated`")
    add_parts(command)
    add_json(command)
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.api import Element
    from rinsewright.cli.output import show

    show(Element.load(options.rated, options.parts), as_json=options.json)
