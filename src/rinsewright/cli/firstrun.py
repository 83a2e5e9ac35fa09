"""``rinsewright firstrun SITE``: what the plant should read today, and what the readings say."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from rinsewright.cli.options import add_site, between


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser("firstrun", help="the first run: what it should read today; readings judged")
    add_site(command)
    command.add_argument(
        "--temperature", metavar="C", type=between(0.0, 45.0, "°C"), help="the water's temperature today, °C"
    )
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
    command.add_argument(
        "--out",
        metavar="DIR",
        help="folder for the record and the handover pack: firstrun and handover, each as a page and a PDF",
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out."""
    from rinsewright.api import Site
    from rinsewright.cli.output import require_folder, show, write_papers

    if options.running_l_min is not None and options.running_bar is None:
        from rinsewright.errors import InputError, Problem

        raise InputError(Problem("--running-l-min says nothing without its pressure; give --running-bar too"))
    if options.out is not None:
        require_folder(options.out)
    site = Site.load(options.site, parts=options.parts)
    record = site.first_run(
        temperature_c=options.temperature,
        running_bar=options.running_bar,
        running_l_min=options.running_l_min,
        measured=options.measured,
    )
    written = []
    if options.out is not None:
        from rinsewright.jobs.firstrun import FirstRunPapers

        written = write_papers(FirstRunPapers(site, record), options.out)
    show(record, as_json=options.json)
    for file in written:
        print(f"written: {file}", file=sys.stderr)
