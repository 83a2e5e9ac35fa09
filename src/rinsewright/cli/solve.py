"""``rinsewright solve SITE``: what the plant does now."""

from __future__ import annotations

import argparse
from typing import Any

from rinsewright.cli.options import add_site, add_temperature, between


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser("solve", help="what the plant does now: flows, pressures, readings")
    add_site(command)
    add_temperature(command)
    command.add_argument(
        "--standing-bar",
        metavar="P",
        type=between(0, 25, "bar"),
        help="standing pressure at the tap instead of the file's, in bar",
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.api import Site
    from rinsewright.cli.output import show

    site = Site.load(options.site, parts=options.parts)
    show(site.solve(temperature_c=options.temperature, standing_bar=options.standing_bar), as_json=options.json)
