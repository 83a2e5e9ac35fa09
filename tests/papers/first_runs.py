"""First runs of real plants, filled in or not, as pages."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from rinsewright.api import Site
from rinsewright.firstrun.handover import handover_of
from rinsewright.jobs.firstrun import FirstRunPapers
from rinsewright.papers.firstrun import handover_page, record_page

ROOT = Path(__file__).parents[2]
CASES = ROOT / "tests" / "cases" / "sites"
FAULTY = {
    "tap_meter_ppm": 312,
    "product_meter_ppm": 60,
    "after_resin_meter_ppm": 0,
    "product_l_min": 1.2,
    "drain_l_min": 2.8,
    "membrane_bar": 3.5,
    "shutoff_closes_bar": "never",
}
RUNS = {
    "empty": (ROOT / "examples" / "tern-quay.toml", None),
    "faulty": (ROOT / "examples" / "tern-quay.toml", FAULTY),
    "resin alone": (CASES / "soft-resin-alone.toml", {"after_resin_meter_ppm": 0}),
    "to the pole": (CASES / "direct-to-the-pole.toml", None),
    "pumped": (CASES / "pumped-break-tank.toml", None),
}


@cache
def site_of(name: str) -> Site:
    return Site.load(RUNS[name][0])


@cache
def papers_of(name: str) -> FirstRunPapers:
    return FirstRunPapers(site_of(name), site_of(name).first_run(measured=RUNS[name][1]))


@cache
def record_of(name: str) -> str:
    return record_page(papers_of(name).paper())


@cache
def handover_page_of(name: str) -> str:
    run = papers_of(name).run
    return handover_page(handover_of(site_of(name).plan(), run), run.answer())
