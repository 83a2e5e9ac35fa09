"""The pages in a real browser: readable by everybody, at a phone's and a desk's width, in light and dark."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from rinsewright.store.book import Book
from rinsewright.web.engine import Engine
from rinsewright.web.issuing import issue

from ..papers.opened import assert_axe_finds_nothing, assert_nothing_scrolls_sideways
from .served import DEMO, SLUG, served

PAGES = {
    "sites": "/",
    "new site": "/start",
    "settings": "/settings",
    "start": f"/sites/{SLUG}/start",
    "tap": f"/sites/{SLUG}/tap",
    "work": f"/sites/{SLUG}/work",
    "a round": f"/sites/{SLUG}/work/rounds/new",
    "yard": f"/sites/{SLUG}/yard",
    "plant": f"/sites/{SLUG}/plant",
    "year": f"/sites/{SLUG}/year",
    "build": f"/sites/{SLUG}/build",
    "unpacking": f"/sites/{SLUG}/unpacking",
    "first run": f"/sites/{SLUG}/first-run",
    "papers": f"/sites/{SLUG}/papers",
    "versions": f"/sites/{SLUG}/versions?compare=2",
    "refusal": "/sites/nowhere/start",
}
LIGHTEST = 400_000  # bytes of a page with all that belongs to it


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory, engine: Engine) -> Iterator[str]:
    """The app over a book with something of everything."""
    book = Book.open(tmp_path_factory.mktemp("book") / "book.sqlite")
    book.add_site(DEMO, "Tern Quay yard", "brought in")
    book.save(SLUG, DEMO.replace("litres = 650", "litres = 800"), "Tern Quay yard", "a larger tank", 1)
    book.remove_site(book.add_site(DEMO, "Old yard", "brought in").slug)
    issue(book, engine, SLUG, "build")
    with served(book, engine=engine) as where:
        yield where
    book.close()


class Watched:
    """Pages of a browser, watched: a request to elsewhere or a complaint fails the test."""

    def __init__(self, browser: Browser, address: str) -> None:
        self.browser, self.address = browser, address
        self.contexts: list[BrowserContext] = []
        self.wrong: list[str] = []
        self.expected: set[int] = set()

    def open(self, path: str, width: int = 360, scheme: str = "light") -> Page:
        context = self.browser.new_context(viewport={"width": width, "height": 740}, color_scheme=scheme)  # type: ignore[arg-type]
        self.contexts.append(context)
        page = context.new_page()
        page.on("request", self._asked)
        page.on("pageerror", lambda error: self.wrong.append(str(error)))
        page.on("console", lambda message: self.wrong.append(message.text) if self._is_wrong(message) else None)
        page.goto(self.address + path)
        page.wait_for_load_state("networkidle")
        return page

    def _asked(self, request) -> None:
        if not request.url.startswith((self.address, "data:")):
            self.wrong.append(request.url)

    def _is_wrong(self, message) -> bool:
        refused = re.search(r"status of (\d+)", message.text)
        return message.type == "error" and (refused is None or int(refused.group(1)) not in self.expected)


@pytest.fixture
def watched(browser: Browser, address: str) -> Iterator[Watched]:
    found = Watched(browser, address)
    yield found
    for context in found.contexts:
        context.close()
    assert found.wrong == []


@pytest.mark.longer
@pytest.mark.parametrize(("width", "scheme"), [(360, "dark"), (1280, "light"), (1280, "dark")])
@pytest.mark.parametrize("name", [name for name in PAGES if name != "year"])  # test_year folds it open too
def test_axe_finds_nothing(watched: Watched, name: str, width: int, scheme: str) -> None:
    watched.expected = {404} if name == "refusal" else set()
    page = watched.open(PAGES[name], width, scheme)
    page.evaluate("document.querySelectorAll('details').forEach((one) => one.open = true)")
    assert_axe_finds_nothing(page)


# What is wide and high enough for a thumb; a box to tick is touched by its label.
SMALL = """() => [...document.querySelectorAll("a, button, summary, input:not([type=hidden]), textarea")]
  .filter((one) => one.checkVisibility() && !one.closest(".skip, .options") && one.getClientRects().length)
  .map((one) => [one.textContent.trim() || one.name, (one.closest("label") ?? one).getBoundingClientRect()])
  .filter(([, box]) => box.height < 47.5 || box.width < 47.5)
  .map(([name, box]) => `${name} ${box.width}x${box.height}`)"""


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_light_made_for_a_thumb_and_open_to_all(watched: Watched, name: str, record_property) -> None:
    watched.expected = {404} if name == "refusal" else set()
    page = watched.open(PAGES[name])
    weight = page.evaluate(
        "performance.getEntriesByType('navigation').concat(performance.getEntriesByType('resource'))"
        ".reduce((sum, one) => sum + one.decodedBodySize, 0)"
    )
    record_property(f"weight of {name}, kB", round(weight / 1000))
    assert 1000 < weight < LIGHTEST
    assert page.evaluate(SMALL) == []
    assert_nothing_scrolls_sideways(page)
    page.set_viewport_size({"width": 360, "height": 740})
    page.evaluate("document.querySelectorAll('details').forEach((one) => one.open = true)")
    assert_axe_finds_nothing(page)


def test_from_five_questions_to_an_answer(watched: Watched) -> None:
    page = watched.open("/")
    page.get_by_role("link", name="New site: five questions").click()
    page.get_by_label("What does your meter read at the tap?").fill("280")
    page.get_by_label("What pressure is left while water runs?").fill("3.4")
    page.get_by_label("How much pure water on a working day?").fill("900")
    page.get_by_text("membranes", exact=True).click()
    page.get_by_label("How many elements?").fill("2")
    page.get_by_role("button", name="Answer").click()
    page.locator("#answer").wait_for()
    assert "L/min" in page.locator(".figure").inner_text()
    page.get_by_text("Nothing stops it").wait_for()  # the plan's own words, fetched after the first look


def test_an_answer_refined_changes_in_its_place(watched: Watched) -> None:
    watched.expected = {422}
    page = watched.open(f"/sites/{SLUG}/start")
    page.evaluate("window.here = true")
    before = page.locator(".digits").inner_text()
    page.get_by_label("How cold does the water get in winter?").fill("80")
    page.get_by_role("button", name="Answer again").click()
    page.locator("#f-coldest-error").wait_for()
    assert page.evaluate("document.activeElement.id") == "f-coldest"
    page.get_by_label("How cold does the water get in winter?").fill("2")
    page.get_by_role("button", name="Answer again").click()
    page.get_by_text("on the coldest day, water at 2 °C").wait_for()
    assert page.locator(".digits").inner_text() != before
    assert page.locator("#f-coldest-error").count() == 0
    page.get_by_role("button", name="Undo").wait_for()
    assert page.evaluate("window.here")
    page.get_by_text("A year costs").wait_for()
    page.get_by_role("button", name="Undo").click()
    page.get_by_text("on the coldest day, water at 5 °C").wait_for()


def test_what_could_not_be_sent_is_kept_and_sent_later(watched: Watched) -> None:
    page = watched.open(f"/sites/{SLUG}/start")
    page.route("**/start", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    page.get_by_label("How much pure water on a working day?").fill("333")
    page.get_by_role("button", name="Answer again").click()
    page.get_by_text("What you typed is kept here").wait_for()
    page.reload()
    page.get_by_text("This was typed earlier and never sent.").wait_for()
    assert page.get_by_label("How much pure water on a working day?").input_value() == "333"
    page.unroute("**/start")
    page.get_by_role("button", name="Answer again").click()
    page.get_by_text("answers refined: litres a day").first.wait_for()
    assert page.evaluate("Object.keys(localStorage).filter((key) => key.startsWith('unsent'))") == []
    assert watched.wrong == ["Failed to load resource: net::ERR_FAILED"]
    watched.wrong.clear()


def test_only_what_is_there_already_is_asked_further(watched: Watched) -> None:
    page = watched.open("/start")
    assert not page.get_by_label("How many elements?").is_visible()
    page.get_by_text("a tank", exact=True).click()
    assert page.get_by_label("How large is the tank?").is_visible()
    assert not page.get_by_label("How many elements?").is_visible()


def test_the_keyboard_reaches_everything_in_order(watched: Watched) -> None:
    page = watched.open("/start", 1280)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    for typed in ("280", "3.4"):
        while page.evaluate("document.activeElement.tagName") != "INPUT":
            page.keyboard.press("Tab")
        page.keyboard.type(typed)
        page.keyboard.press("Tab")
    assert page.get_by_label("What pressure is left while water runs?").input_value() == "3.4"


def test_light_and_dark_can_be_chosen_against_the_device(watched: Watched) -> None:
    page = watched.open("/settings", 360, "light")
    paper = "getComputedStyle(document.body).backgroundColor"
    day = page.evaluate(paper)
    page.get_by_role("button", name="dark").click()
    page.wait_for_load_state("networkidle")
    assert page.evaluate(paper) != day
    assert page.url.endswith("/settings")


def test_it_works_without_script(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(address + f"/sites/{SLUG}/start")
    page.get_by_role("link", name="Work out resin, year and cost").or_(page.get_by_text("A year costs")).first.click()
    assert "A year costs" in page.locator("#answer").inner_text()
    page.goto(address + "/")
    assert page.get_by_role("link", name="Tern Quay yard").is_visible()
    context.close()


def test_print_leaves_what_is_for_the_screen_away(watched: Watched) -> None:
    page = watched.open(PAGES["start"])
    page.emulate_media(media="print")
    for gone in (".pages", ".top", ".light"):
        assert not page.locator(gone).is_visible()
    assert page.locator(".figure").is_visible()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") in (
        "rgba(0, 0, 0, 0)",
        "rgb(255, 255, 255)",
    )


def test_an_issued_page_shows_in_its_own_dress(watched: Watched) -> None:
    page = watched.open(PAGES["papers"], 1280)
    page.get_by_role("link", name=re.compile(r"^Page.*build sheet.*-0001$")).click()
    page.wait_for_load_state("networkidle")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(251, 248, 241)"
