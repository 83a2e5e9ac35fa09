"""A page opened in a real browser, watched for requests and complaints."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Page

Shown = Callable[..., Page]


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
