"""Twelve plants of every kind, planned for real and put on paper: staged, pumped, resin alone, blended and so on.

Half of them are the sites that the cases judge; the other half stand beside this file.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from rinsewright import Site
from rinsewright.jobs.plan import paper_of
from rinsewright.papers import PlanPaper, plan_page
from rinsewright.papers.plan import DEFAULT
from tests.cases.running import SITES

from .opened import Shown, opened_file
from .overlaps import OVERLAPS
from .reading import agree_with, read

OWN = Path(__file__).parent / "plants"
SHARED = (
    *("direct-to-the-pole", "loft-without-check-valve", "pumped-break-tank"),
    *("soft-resin-alone", "two-vans-one-tank", "well-with-iron"),
)
PLANTS = [*sorted(OWN.glob("*.toml")), *(SITES / f"{name}.toml" for name in SHARED)]
MOST_BYTES = 400_000


@cache
def paper(file: Path) -> PlanPaper:
    return paper_of(Site.load(file).plan())


@cache
def sheet(file: Path) -> str:
    return plan_page(paper(file))


EVERY_TIME = ("four-elements", "soft-resin-alone", "direct-to-the-pole", "pumped-break-tank")


def tiered(file: Path) -> Any:
    """Four plants are looked at every time, the other eight in the longer tier."""
    return pytest.param(file, id=file.stem, marks=() if file.stem in EVERY_TIME else pytest.mark.longer)


@pytest.fixture(params=[tiered(file) for file in PLANTS])
def plant(request: pytest.FixtureRequest) -> Path:
    file: Path = request.param
    return file


def test_there_are_twelve() -> None:
    assert len(PLANTS) == 12


def test_every_number_is_the_answers(plant: Path) -> None:
    agree_with(paper(plant), read(sheet(plant)))


def test_a_page_is_small_and_asks_nothing_of_elsewhere(plant: Path) -> None:
    html = sheet(plant)
    assert len(html.encode("utf-8")) < MOST_BYTES
    page = read(html)
    assert not {"script", "link", "img", "iframe"}.intersection(tag for tag, _ in page.tags)
    assert "url(" not in html
    assert "@import" not in html


def test_what_moves_the_answer_is_on_the_page_most_first(plant: Path) -> None:
    rows = paper(plant).answer["sensitivities"]
    places = {number.place for number in read(sheet(plant)).numbers}
    for target in {row["target"] for row in rows}:
        first = next(place for place, row in enumerate(rows) if row["target"] == target)
        assert f"/answer/sensitivities/{first}/central" in places
        for end in ("low", "high"):
            assert (f"/answer/sensitivities/{first}/{end}" in places) is (rows[first][end] is not None)


def test_defaults_are_told_apart_from_what_was_assumed(plant: Path) -> None:
    rows = paper(plant).answer["assumptions"]
    kept = [row for row in rows if row["origin"] == DEFAULT]
    assert kept
    loose = read(sheet(plant)).loose
    head = loose.index("Keys of the site file left to their defaults")
    assert all(row["what"] in loose[head:] for row in kept), "as they are written in a site file"


@pytest.fixture
def show(plant: Path, browser: Browser, tmp_path: Path) -> Any:
    """Open the plant's page at a width and in a colour scheme; anything asked of the network fails the test."""
    file = tmp_path / "plan.html"
    file.write_text(sheet(plant), encoding="utf-8")
    with opened_file(browser, file) as opened:
        yield opened


@pytest.mark.longer
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_in_a_browser(show: Shown, scheme: str) -> None:
    page = show(360, scheme)
    for width in (360, 1280):
        page.set_viewport_size({"width": width, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate(OVERLAPS) == []
    result = Axe().run(page)
    assert result.violations_count == 0, result.generate_report()
