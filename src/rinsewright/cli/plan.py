"""``rinsewright plan SITE``: the main job, with a report if wanted."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from rinsewright.cli.options import add_site


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser("plan", help="the plan: today, winter, summer, resin, filters, cost, what to look at")
    add_site(command)
    command.add_argument(
        "--out", metavar="DIR", help="folder for the report: plan.html, a page that stands by itself, and plan.pdf"
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.api import Site
    from rinsewright.cli.output import Progress, show, write_papers
    from rinsewright.jobs.plan import PlanPapers

    plan = Site.load(options.site, parts=options.parts).plan(progress=Progress())
    written = write_papers(PlanPapers(plan), options.out) if options.out is not None else []
    show(plan, as_json=options.json)
    for file in written:
        print(f"written: {file}", file=sys.stderr)
