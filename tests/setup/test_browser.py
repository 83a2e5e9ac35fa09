"""The browser of the tests shows a page on a desk and on a phone."""

from __future__ import annotations

from playwright.sync_api import Page

PAGE = '<!doctype html><meta name="viewport" content="width=device-width"><title>tap to pole</title>'


def test_a_page_is_shown(page: Page) -> None:
    page.set_content(PAGE)
    assert page.title() == "tap to pole"


def test_the_phone_is_narrow_and_has_touch(phone: Page) -> None:
    phone.set_content(PAGE)
    assert phone.evaluate("innerWidth") < 480
    assert phone.evaluate("navigator.maxTouchPoints") > 0
