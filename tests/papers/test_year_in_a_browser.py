"""The year's sheet in a real browser: readable by everybody, in light and dark, on a phone and on paper."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from rinsewright.papers import year_page

from .opened import LOOKS, Shown, assert_axe_finds_nothing, assert_nothing_scrolls_sideways, opened_file
from .overlaps import OVERLAPS
from .years import YEARS

EVERY_TIME = ("tern-quay",)
UNFOLD = "document.querySelectorAll('details').forEach(part => part.open = true)"


@pytest.fixture(params=[pytest.param(name, marks=() if name in EVERY_TIME else pytest.mark.longer) for name in YEARS])
def show(request: pytest.FixtureRequest, browser: Browser, tmp_path: Path) -> Iterator[Shown]:
    """Open a year at a width and in a colour scheme; anything the page asks of the network fails the test."""
    file = tmp_path / "year.html"
    file.write_text(year_page(YEARS[request.param]()), encoding="utf-8")
    with opened_file(browser, file) as opened:
        yield opened


@pytest.mark.parametrize(("width", "scheme"), LOOKS)
def test_axe_finds_nothing_folded_or_open(show: Shown, width: int, scheme: str) -> None:
    page = show(width, scheme)
    for _ in range(2):
        assert_axe_finds_nothing(page)
        page.evaluate(UNFOLD)


def test_nothing_scrolls_sideways(show: Shown) -> None:
    page = show(320)
    page.evaluate(UNFOLD)
    assert_nothing_scrolls_sideways(page)


def test_no_words_of_a_chart_lie_on_each_other_or_outside(show: Shown) -> None:
    page = show(360)
    for width in (320, 360, 779, 780, 1100, 1280):
        page.set_viewport_size({"width": width, "height": 800})
        assert page.evaluate(OVERLAPS) == []
        assert page.evaluate(CUT_OFF) == []


CUT_OFF = """() => [...document.querySelectorAll('svg.chart text')].filter(text => {
  const word = text.getBoundingClientRect(), sheet = text.closest('svg').getBoundingClientRect();
  return word.left < sheet.left - 0.5 || word.right > sheet.right + 0.5 || word.bottom > sheet.bottom + 2
    || word.top < sheet.top - 2;
}).map(text => text.textContent)"""


@pytest.mark.parametrize(("width", "least"), [(360, 9.5), (779, 10), (780, 10), (1280, 12)])
def test_words_in_charts_can_be_read(show: Shown, width: int, least: float) -> None:
    """Their size on the screen, in pixels."""
    page = show(width)
    sizes = page.evaluate(
        """() => [...document.querySelectorAll('svg.chart')].flatMap(svg => {
          const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
          return [...svg.querySelectorAll('text')].map(text => scale * parseFloat(getComputedStyle(text).fontSize));
        })"""
    )
    assert len(sizes) > 50
    assert min(sizes) >= least


def test_tables_are_folded_and_open_by_touch_or_key(show: Shown) -> None:
    page = show(360)
    table = page.locator(".by-day")
    assert not table.is_visible()
    summary = page.get_by_text("Day by day", exact=True)
    box = summary.bounding_box()
    assert box is not None
    assert box["height"] >= 48
    summary.focus()
    page.keyboard.press("Enter")
    assert table.is_visible()


def test_paper_is_white_and_a4_even_at_night_and_shows_the_days(show: Shown) -> None:
    page = show(1280, "dark")
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(21, 37, 43)"
    assert page.locator(".by-day tbody tr").last.is_visible()
    assert not page.get_by_text("Day by day", exact=True).is_visible()
    pdf = page.pdf(prefer_css_page_size=True)
    assert 4 <= pdf.count(b"/Type /Page\n") <= 14


def test_winter_stands_beside_summer_where_there_is_room(show: Shown) -> None:
    page = show(1280)
    first, second = (page.locator(".twins figure").nth(n) for n in (0, 1))
    for width, beside in ((1280, True), (360, False)):
        page.set_viewport_size({"width": width, "height": 800})
        left, right = first.bounding_box(), second.bounding_box()
        assert left is not None
        assert right is not None
        assert (left["y"] == right["y"]) is beside
