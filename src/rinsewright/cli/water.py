"""``rinsewright water SITE``: what comes out of the tap."""

from __future__ import annotations

import argparse
from typing import Any

from rinsewright.cli.options import add_site


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser("water", help="what comes out of the tap: ions, readings, hardness, scale")
    add_site(command)
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.api import Site
    from rinsewright.cli.output import show

    show(Site.load(options.site, parts=options.parts).water(), as_json=options.json)
