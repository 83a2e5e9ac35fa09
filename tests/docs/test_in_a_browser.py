"""The documentation in a real browser: readable by everybody, in light and dark, on a phone and on paper."""

from __future__ import annotations

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from docs import build

READ = ["index.html", "tutorial.html", "models/membrane-element.html", "headings.html"]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("site") / "out"
    build.build(folder)
    return folder


@pytest.mark.longer
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(site: Path, browser: Browser, scheme: str) -> None:
    context = browser.new_context(viewport={"width": 1100, "height": 800}, color_scheme=scheme)  # type: ignore[arg-type]
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    for name in READ:
        page.goto((site / name).as_uri())
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
    assert all(url.startswith(("file:", "data:")) for url in asked)
    context.close()


@pytest.mark.longer
def test_no_page_is_wider_than_a_small_phone(site: Path, browser: Browser) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    wide = []
    for file in sorted(site.rglob("*.html")):
        page.goto(file.as_uri())
        if page.evaluate("document.documentElement.scrollWidth") > 360:
            wide.append(file.relative_to(site).as_posix())
    assert wide == []
    context.close()


@pytest.mark.longer
def test_light_and_dark_differ_and_print_is_on_white(site: Path, browser: Browser) -> None:
    def paper(scheme: str, media: str) -> str:
        context = browser.new_context(color_scheme=scheme)  # type: ignore[arg-type]
        page = context.new_page()
        page.emulate_media(media=media)  # type: ignore[arg-type]
        page.goto((site / "index.html").as_uri())
        name = page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--paper').trim()")
        context.close()
        return str(name)

    assert [paper(scheme, media) for scheme in ("light", "dark") for media in ("screen", "print")] == [
        "#FBF8F1", "#FFFFFF", "#10191C", "#FFFFFF",
    ]  # fmt: skip


def test_print_leaves_the_navigation_out_and_keeps_the_words(site: Path, browser: Browser) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto((site / "models/membrane-element.html").as_uri())
    page.emulate_media(media="print")
    assert not page.locator("#pages").is_visible()
    assert page.locator(".formula").first.is_visible()
    context.close()
