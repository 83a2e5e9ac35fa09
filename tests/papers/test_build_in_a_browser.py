"""Build sheet and unpacking check in a real browser: readable by everybody, on a phone, in light and dark."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from .builds import BUILDS, PAGES, page_of
from .opened import LOOKS, Shown, assert_axe_finds_nothing, assert_nothing_scrolls_sideways, opened_file
from .overlaps import OVERLAPS

ALL = [(kind, name) for kind in PAGES for name in BUILDS]


@pytest.fixture(
    params=[pytest.param(one, marks=() if one[1] == "demo" else pytest.mark.longer) for one in ALL], ids=" ".join
)
def show(request: pytest.FixtureRequest, browser: Browser, tmp_path: Path) -> Iterator[Shown]:
    kind, name = request.param
    file = tmp_path / f"{kind}.html"
    file.write_text(page_of(kind, name), encoding="utf-8")
    with opened_file(browser, file) as opened:
        yield opened


@pytest.mark.parametrize(("width", "scheme"), LOOKS)
def test_axe_finds_nothing(show: Shown, width: int, scheme: str) -> None:
    assert_axe_finds_nothing(show(width, scheme))


def test_nothing_scrolls_sideways_and_no_words_lie_on_each_other(show: Shown) -> None:
    page = show(320)
    assert_nothing_scrolls_sideways(page)
    for width in (320, 360, 779, 780, 1280):
        page.set_viewport_size({"width": width, "height": 800})
        assert page.evaluate(OVERLAPS) == []


def test_what_is_ticked_can_be_reached_by_thumb_and_key(show: Shown) -> None:
    page = show(360)
    boxes = page.locator(".tick")
    assert boxes.count() > 3
    for place in range(3):
        box = boxes.nth(place).bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 48
    page.locator(".tick input").first.focus()
    page.keyboard.press("Space")
    assert page.locator(".tick input").first.is_checked()
