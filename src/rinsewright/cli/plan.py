"""``rinsewright plan SITE``: the main job, with a report if wanted."""

from __future__ import annotations

import argparse
from typing import Any

from rinsewright.cli.options import add_out, add_site


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser("plan", help="the plan: today, winter, summer, resin, filters, cost, what to look at")
    add_site(command)
    add_out(command, "the report: plan.html, a page that stands by itself, and plan.pdf")
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.api import Site
    from rinsewright.cli.output import Progress, hand_over, require_papers, units_of
    from rinsewright.jobs.plan import PlanPapers

    require_papers(options)
    site = Site.load(options.site, parts=options.parts)
    plan = site.plan(progress=Progress())
    hand_over(plan, lambda: PlanPapers(plan, units_of(options, site)), options)
