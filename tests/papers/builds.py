"""Build sheets of real plants as pages."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from rinsewright.api import Site
from rinsewright.building.result import BuildSheet
from rinsewright.papers.build import build_page, unpacking_page

from ..building.plants import site_text

ROOT = Path(__file__).parents[2]
CASES = ROOT / "tests" / "cases" / "sites"
BUILDS: dict[str, str] = {
    "demo": (ROOT / "examples" / "tern-quay.toml").read_text(encoding="utf-8"),
    **{
        name: (CASES / f"{name}.toml").read_text(encoding="utf-8")
        for name in ("soft-resin-alone", "direct-to-the-pole", "pumped-break-tank", "two-vans-one-tank")
    },
    **{f"plant {number}": site_text(number) for number in range(9)},  # a round of every kind
}
PAGES = {"build": build_page, "unpacking": unpacking_page}


@cache
def sheet_of(name: str) -> BuildSheet:
    return Site.loads(BUILDS[name]).build()


@cache
def page_of(kind: str, name: str) -> str:
    return PAGES[kind](sheet_of(name))
