"""The whole job in a real browser: five questions, plan, a part changed, the year, build, first run, a document.

Once at a phone's and once at a desk's width, once with nothing but keys, once with the connection cut in the middle.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from rinsewright.store.book import Book

from .served import Signal, served

ANSWERS = {"meter": "305", "pressure": "3.4", "flow": "12", "litres": "320", "coldest": "5"}
WIDTHS = {"phone": (360, 740), "desk": (1280, 800)}
SLUG = "alder-yard"


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    book = Book.open(tmp_path / "book.sqlite")
    yield book
    book.close()


@pytest.fixture
def signal() -> Signal:
    return Signal()


@pytest.fixture
def address(book: Book, signal: Signal) -> Iterator[str]:
    with served(book, signal=signal) as where:
        yield where


Opened = Callable[[str], Page]


@pytest.fixture
def opened(browser: Browser, address: str) -> Iterator[Opened]:
    """A page at a phone's or a desk's width, watched: what it complains of, and what it asks of elsewhere, fails."""
    contexts, wrong = [], []

    def page(width: str) -> Page:
        across, down = WIDTHS[width]
        contexts.append(browser.new_context(viewport={"width": across, "height": down}, has_touch=width == "phone"))
        made = contexts[-1].new_page()
        made.on("pageerror", lambda error: wrong.append(str(error)))
        made.on("console", lambda text: wrong.append(text.text) if "Content Security" in text.text else None)
        made.on("request", lambda asked: wrong.append(asked.url) if not asked.url.startswith(address) else None)
        made.goto(address)
        return made

    yield page
    for context in contexts:
        context.close()
    assert wrong == []


def go(page: Page, group: str, name: str) -> None:
    """By the navigation: on a phone the group's tab first, where it is not the one shown."""
    link = page.get_by_role("navigation", name="Pages of this site").get_by_role("link", name=name, exact=True)
    shown = [one for one in link.all() if one.is_visible() and "tab" not in (one.get_attribute("class") or "")]
    if not shown:
        page.locator(".pages .tab", has_text=group).click()
        shown = [one for one in link.all() if one.is_visible() and "tab" not in (one.get_attribute("class") or "")]
    if shown[0].get_attribute("aria-current") != "page":
        shown[0].click()
    page.wait_for_load_state()


def answer_the_questions(page: Page) -> None:
    page.get_by_role("link", name="New site").click()
    for name, value in ANSWERS.items():
        page.locator(f"#f-{name}").fill(value)
    page.locator("#f-name").fill("Alder yard")
    page.get_by_role("button", name="Answer").click()
    page.wait_for_url(re.compile(f"/sites/{SLUG}/start"))
    expect(page.locator(".digits").first).to_have_text(re.compile(r"^\d"))


def change_the_restrictor(page: Page) -> float:
    """Touch it in the list of parts, change its flow; the litres that it was."""
    go(page, "Plan", "Plant")
    page.locator(".parts a", has_text=re.compile("drain restrictor", re.IGNORECASE)).click()
    field = page.locator("#f-flow_l_min")
    before = float(field.input_value())
    field.fill(f"{before + 0.5:g}")
    page.locator("main form .action").first.click()
    expect(page.locator(".last")).to_contain_text("Undo")
    return before


def read_all(page: Page, readings: dict[str, str]) -> None:
    """Type every reading that the sheet asks for, as its card comes up."""
    for key, value in readings.items():
        card = page.locator(f"#r-{key}")
        if not card.count():
            continue
        if not card.is_visible():
            page.locator(f'.lines a[href="#r-{key}"]').click()
        page.locator(f"#f-{key}").fill(value)
        card.get_by_role("button", name="Keep").click()
        expect(page.locator(f"#line-{key} .word")).to_contain_text(re.compile("fine|look|stop"))


def expected(page: Page) -> dict[str, str]:
    """The middle of every band, as a healthy plant reads."""
    cards = page.locator(".card[data-value]").all()
    found = {}
    for card in cards:
        key, value, decimals = (card.get_attribute(f"data-{name}") for name in ("key", "value", "decimals"))
        assert key is not None
        found[key] = f"{float(value or 0) * float(card.get_attribute('data-scale') or 1):.{decimals}f}"
    return found


@pytest.mark.parametrize("width", ["phone", pytest.param("desk", marks=pytest.mark.longer)])
def test_the_whole_job(width: str, opened: Opened, book: Book) -> None:
    page = opened(width)
    answer_the_questions(page)

    before = change_the_restrictor(page)
    assert f"flow_l_min = {before + 0.5:g}" in book.current(SLUG).toml
    assert len(book.versions(SLUG)) == 2

    go(page, "Plan", "Year")
    expect(page.locator(".verdict").first).to_have_text(re.compile("fine|look|stop"))
    assert page.locator("svg.chart").count() > 2

    go(page, "Build", "Build")
    first = page.locator("h1").inner_text()
    page.get_by_role("button", name="Done and checked").click()
    expect(page.locator("h1")).not_to_have_text(first)
    assert list(book.ticks(SLUG, "build").values()) == [True]

    go(page, "Build", "First run")
    page.locator("#f-temperature").fill("12")
    page.get_by_role("button", name="Begin reading").click()
    page.wait_for_url(re.compile(r"/first-run/\d+"))
    readings = expected(page)
    assert len(readings) > 4
    read_all(page, readings)
    expect(page.locator("[data-verdict]")).to_contain_text("fine")
    (run,) = book.first_runs(SLUG)
    assert set(book.readings(run.id)) == set(readings)

    go(page, "Keep", "Papers")
    page.get_by_role("button", name="First-run record").click()
    expect(page.locator(".documents li")).to_have_count(1)
    (document,) = book.documents(SLUG)
    page.get_by_role("link", name=re.compile("^Page")).first.click()
    expect(page.locator("body")).to_contain_text("Alder yard")
    assert b"Alder yard" in book.document(document.number).html


def tab_to(page: Page, target: Locator, most: int = 150) -> None:
    """Press Tab until the target has the focus."""
    for _ in range(most):
        if target.evaluate("one => one === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab does not reach {target}")


def press(page: Page, target: Locator) -> None:
    tab_to(page, target)
    page.keyboard.press("Enter")


def write(page: Page, target: Locator, text: str) -> None:
    tab_to(page, target)
    page.keyboard.press("Control+A")
    page.keyboard.type(text)


def test_with_keys_alone(opened: Opened, book: Book) -> None:
    page = opened("desk")
    press(page, page.get_by_role("link", name="New site"))
    for name, value in ANSWERS.items():
        write(page, page.locator(f"#f-{name}"), value)
    write(page, page.locator("#f-name"), "Alder yard")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(f"/sites/{SLUG}/start"))

    pages = page.locator(".pages")
    press(page, pages.get_by_role("link", name="Plant", exact=True))
    page.wait_for_url(re.compile("/plant"))
    said = page.locator("output").first.inner_text()
    tab_to(page, page.locator("#s-temperature"))
    with page.expect_response(re.compile("temperature=")):
        page.keyboard.press("ArrowRight")
    expect(page.locator("output").first).not_to_have_text(said)
    press(page, page.locator(".parts a", has_text=re.compile("drain restrictor", re.IGNORECASE)))
    page.wait_for_url(re.compile("/plant/"))
    field = page.locator("#f-flow_l_min")
    write(page, field, f"{float(field.input_value()) + 0.5:g}")
    page.keyboard.press("Enter")
    expect(page.locator(".last")).to_contain_text("Undo")
    assert len(book.versions(SLUG)) == 2

    press(page, pages.get_by_role("link", name="Year", exact=True))
    page.wait_for_url(re.compile("/year"))
    chart = page.locator("[tabindex='0']").filter(has=page.locator("svg.chart")).first
    tab_to(page, chart)
    page.keyboard.press("ArrowRight")

    press(page, pages.locator("a[href$='/build']:not(.tab)"))
    page.wait_for_url(re.compile("/build"))
    press(page, page.get_by_role("button", name="Done and checked"))
    expect(page.locator(".count")).to_contain_text("1 done")

    press(page, pages.get_by_role("link", name="First run", exact=True))
    page.wait_for_url(re.compile("/first-run"))
    write(page, page.locator("#f-temperature"), "12")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/first-run/\d+"))
    key, value = next(iter(expected(page).items()))
    write(page, page.locator(f"#f-{key}"), value)
    page.keyboard.press("Enter")
    expect(page.locator(f"#line-{key} .word")).to_contain_text(re.compile("fine|look|stop"))

    press(page, pages.locator("a[href$='/papers']:not(.tab)"))
    page.wait_for_url(re.compile("/papers"))
    press(page, page.get_by_role("button", name="Plan", exact=True))
    expect(page.locator(".documents li")).to_have_count(1)


def test_with_the_connection_cut_in_the_middle(opened: Opened, book: Book, signal: Signal) -> None:
    """Ticks and readings made without signal stay, also over a reload, and arrive once."""
    page = opened("phone")
    answer_the_questions(page)
    go(page, "Build", "First run")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.locator("#f-temperature").fill("12")
    page.get_by_role("button", name="Begin reading").click()
    page.wait_for_url(re.compile(r"/first-run/\d+"))
    readings = expected(page)
    some = dict(list(readings.items())[:3])
    page.reload()  # kept by the worker
    page.wait_for_load_state("networkidle")

    signal.cut(page.context)
    read_all(page, some)
    page.reload()
    for key in some:
        expect(page.locator(f"#line-{key}")).not_to_have_class(re.compile("unread"))
    (run,) = book.first_runs(SLUG)
    assert book.readings(run.id) == {}

    signal.mend(page.context)
    expect(page.locator("#outbox p")).to_have_count(0)
    assert set(book.readings(run.id)) == set(some)
    rest = {key: value for key, value in readings.items() if key not in some}
    page.reload()
    read_all(page, rest)
    expect(page.locator("#outbox p")).to_have_count(0)
    assert set(book.readings(run.id)) == set(readings)
