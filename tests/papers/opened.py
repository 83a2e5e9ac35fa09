"""A page opened in a real browser, watched for requests and complaints."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

Shown = Callable[..., Page]

# A phone by day every time; the desk and the night in the longer tier.
LOOKS = [
    (360, "light"),
    pytest.param(1280, "dark", marks=pytest.mark.longer),
    pytest.param(360, "dark", marks=pytest.mark.longer),
    pytest.param(1280, "light", marks=pytest.mark.longer),
]


@contextmanager
def opened_file(browser: Browser, file: Path) -> Iterator[Shown]:
    """Open a file at a width and in a colour scheme; what it asks of the network, or complains of, fails the test."""
    contexts, asked, wrong = [], [], []

    def opened(width: int, scheme: str = "light") -> Page:
        context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme)  # type: ignore[arg-type]
        contexts.append(context)
        page = context.new_page()
        page.on("request", lambda request: asked.append(request.url))
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda message: wrong.append(message.text) if message.type == "error" else None)
        page.goto(file.as_uri())
        return page

    yield opened
    for context in contexts:
        context.close()
    assert set(asked) == {file.as_uri()}
    assert wrong == []


def assert_axe_finds_nothing(page: Page) -> None:
    """No violation of what axe checks."""
    result = Axe().run(page)
    assert result.violations_count == 0, result.generate_report()


def assert_nothing_scrolls_sideways(page: Page) -> None:
    """From the narrowest phone to a desk, on both sides of every width at which the page changes."""
    for width in (320, 360, 390, 779, 780, 1099, 1100, 1280):
        page.set_viewport_size({"width": width, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
