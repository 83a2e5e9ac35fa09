"""``rinsewright firstrun SITE``: what the plant should read today, and what the readings say."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, Any

from rinsewright.cli.options import add_out, add_site, add_temperature, between

if TYPE_CHECKING:
    from rinsewright.api import Site
    from rinsewright.firstrun.record import FirstRun
    from rinsewright.jobs.firstrun import FirstRunPapers
    from rinsewright.papers.units import Units


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser("firstrun", help="the first run: what it should read today; readings judged")
    add_site(command)
    add_temperature(command)
    command.add_argument(
        "--running-bar",
        metavar="P",
        type=between(0.1, 25.0, "bar"),
        help="pressure at the tap while the plant runs, bar",
    )
    command.add_argument(
        "--running-l-min",
        metavar="Q",
        type=between(0.1, 200.0, "L/min"),
        help="flow at which that pressure was read, where it was not the plant's own, L/min",
    )
    command.add_argument(
        "--measured",
        metavar="FILE",
        help="a TOML file of readings by the answer's keys, such as product_meter_ppm = 12",
    )
    add_out(
        command,
        "the record to sign and, where the site file has [demand], the handover pack: firstrun and handover, each as a "
        "page and a PDF",
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.api import Site
    from rinsewright.cli.output import hand_over, require_papers, units_of
    from rinsewright.errors import InputError, Problem

    if options.running_l_min is not None and options.running_bar is None:
        raise InputError(Problem("--running-l-min says nothing without its pressure; give --running-bar too"))
    require_papers(options)
    site = Site.load(options.site, parts=options.parts)
    record = site.first_run(
        temperature_c=options.temperature,
        running_bar=options.running_bar,
        running_l_min=options.running_l_min,
        measured=options.measured,
    )
    hand_over(record, lambda: _papers(site, record, units_of(options, site)), options)
    if options.out is not None and site.document.model.demand is None:
        print(
            "no handover pack: the site file has no [demand], so it cannot say what the plant is for", file=sys.stderr
        )


def _papers(site: Site, record: FirstRun, units: Units | None) -> FirstRunPapers:
    from rinsewright.jobs.firstrun import FirstRunPapers  # the page's templates take a while to load

    return FirstRunPapers(site, record, units)
