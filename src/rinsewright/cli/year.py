"""``rinsewright year SITE``: a calendar year, or many of them with their chances."""

from __future__ import annotations

import argparse
from typing import Any

from rinsewright.cli.options import add_out, add_site, whole
from rinsewright.planning import SEED


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser("year", help="a year, hour by hour: will the water last, when to change what, cost")
    add_site(command)
    command.add_argument(
        "--years",
        metavar="N",
        type=whole(1, 10_000, "years"),
        default=1,
        help="how many years to draw, each with its own chance; 1 is a year without chance",
    )
    command.add_argument(
        "--seed",
        metavar="S",
        type=whole(0, 2**32 - 1, "as seed"),
        default=SEED,
        help=f"the same seed draws the same years ({SEED} where not given)",
    )
    command.add_argument(
        "--workers",
        metavar="W",
        type=whole(1, 64, "workers"),
        default=1,
        help="processes that share the work; the answer does not depend on them",
    )
    add_out(
        command,
        "the report: year.html, a page that stands by itself, year.pdf, and the tables days.csv and weeks.csv",
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.api import Site
    from rinsewright.cli.output import Progress, hand_over, require_papers, units_of
    from rinsewright.jobs.year import YearPapers

    require_papers(options)
    site = Site.load(options.site, parts=options.parts)
    seed = options.seed if options.years > 1 else None
    result = site.year(members=options.years, seed=seed, workers=options.workers, progress=Progress())
    hand_over(result, lambda: YearPapers(result, units_of(options, site)), options)
