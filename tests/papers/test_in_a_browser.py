"""The plan sheet in a real browser: readable by everybody, in light and dark, on a phone and on paper."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from rinsewright.papers import plan_page

from .opened import LOOKS, Shown, assert_axe_finds_nothing, assert_nothing_scrolls_sideways, opened_file
from .overlaps import OVERLAPS
from .samples import SAMPLES


@cache
def sheet(name: str) -> str:
    return plan_page(SAMPLES[name]())


EVERY_TIME = ("tern-quay",)


def tiered(name: str) -> Any:
    """One sample is opened every time, the others in the longer tier."""
    return pytest.param(name, marks=() if name in EVERY_TIME else pytest.mark.longer)


@pytest.fixture(params=[tiered(name) for name in SAMPLES])
def show(request: pytest.FixtureRequest, browser: Browser, tmp_path: Path) -> Any:
    """Open a sample at a width and in a colour scheme; anything the page asks of the network fails the test."""
    file = tmp_path / "plan.html"
    file.write_text(sheet(request.param), encoding="utf-8")
    with opened_file(browser, file) as opened:
        yield opened


@pytest.mark.parametrize(("width", "scheme"), LOOKS)
def test_axe_finds_nothing(show: Shown, width: int, scheme: str) -> None:
    assert_axe_finds_nothing(show(width, scheme))


def test_nothing_scrolls_sideways(show: Shown) -> None:
    assert_nothing_scrolls_sideways(show(320))


def test_the_pictures_suit_the_width_and_no_words_in_them_lie_on_each_other(show: Shown) -> None:
    page = show(360)
    for width, shown, hidden in ((360, ".path-tall", ".path-wide"), (1280, ".path-wide", ".path-tall")):
        page.set_viewport_size({"width": width, "height": 800})
        assert page.locator(shown).is_visible()
        assert not page.locator(hidden).is_visible()
        assert page.evaluate(OVERLAPS) == []


def test_paper_is_white_and_a4_even_at_night(show: Shown) -> None:
    page = show(1280, "dark")
    page.emulate_media(media="print")
    ink = page.evaluate("getComputedStyle(document.body).color")
    assert ink == "rgb(21, 37, 43)"
    assert page.locator(".path-wide").is_visible()
    pdf = page.pdf(prefer_css_page_size=True)
    assert pdf.startswith(b"%PDF")
    assert 2 <= pdf.count(b"/Type /Page\n") <= 9


def test_dark_is_dark(show: Shown) -> None:
    assert show(390, "dark").evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(16, 25, 28)"


PAPER = "getComputedStyle(document.body).backgroundColor"
LIGHT, DARK = "rgb(251, 248, 241)", "rgb(16, 25, 28)"


def test_the_switch_turns_light_and_dark_whatever_the_device_says(show: Shown) -> None:
    for scheme, own in (("light", LIGHT), ("dark", DARK)):
        page = show(390, scheme)
        assert page.evaluate(PAPER) == own
        for word, colour in (("light", LIGHT), ("dark", DARK), ("as this device", own)):
            page.get_by_label(word, exact=True).check()
            assert page.evaluate(PAPER) == colour, (scheme, word)


def test_the_switch_is_a_target_for_a_thumb_and_reached_by_keys(show: Shown) -> None:
    page = show(360)
    for label in page.locator(".switch label").all():
        box = label.bounding_box()
        assert box is not None
        assert box["height"] >= 48
        assert box["width"] >= 48
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowLeft")
    assert page.evaluate(PAPER) == DARK


def test_axe_finds_nothing_when_switched(show: Shown) -> None:
    page = show(360, "light")
    page.get_by_label("dark", exact=True).check()
    assert_axe_finds_nothing(page)


def test_a_page_switched_to_dark_prints_on_white(show: Shown) -> None:
    page = show(1280)
    page.get_by_label("dark", exact=True).check()
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(21, 37, 43)"
    assert not page.locator(".switch").is_visible()
