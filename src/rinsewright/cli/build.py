"""``rinsewright build SITE``: the parts that fit, the joints, the steps in their order, the weights."""

from __future__ import annotations

import argparse
from typing import Any

from rinsewright.cli.options import add_out, add_site


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser(
        "build", help="what to build it from and in which order: parts, joints, cuts, weights"
    )
    add_site(command)
    add_out(
        command,
        "build sheet and unpacking check as pages and PDFs, and the parts list as tables: parts.csv, parts.xlsx",
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.api import Site
    from rinsewright.cli.output import hand_over, require_papers, units_of
    from rinsewright.jobs.build import BuildPapers

    require_papers(options)
    site = Site.load(options.site, parts=options.parts)
    sheet = site.build()
    hand_over(sheet, lambda: BuildPapers(sheet, units_of(options, site)), options)
