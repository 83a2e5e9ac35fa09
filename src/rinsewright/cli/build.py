"""``rinsewright build SITE``: the parts that fit, the joints, the steps in their order, the weights."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from rinsewright.cli.options import add_site


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser(
        "build", help="what to build it from and in which order: parts, joints, cuts, weights"
    )
    add_site(command)
    command.add_argument(
        "--out", metavar="DIR", help="folder for the parts list as tables for other programs: parts.csv and parts.xlsx"
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.api import Site
    from rinsewright.cli.output import require_folder, show, write_papers

    if options.out is not None:
        require_folder(options.out)
    sheet = Site.load(options.site, parts=options.parts).build()
    written = []
    if options.out is not None:
        from rinsewright.jobs.build import BuildTables

        written = write_papers(BuildTables(sheet), options.out)
    show(sheet, as_json=options.json)
    for file in written:
        print(f"written: {file}", file=sys.stderr)
