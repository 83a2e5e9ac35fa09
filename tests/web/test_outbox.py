"""Without signal: what is typed or ticked is kept on the device, lost by nothing, and sent exactly once."""

from __future__ import annotations

import re
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Error, Page, Route, expect
from starlette.testclient import TestClient

from rinsewright.store.book import Book
from rinsewright.web.engine import Engine

from .served import SLUG, Signal, served

HOME = f"/sites/{SLUG}/first-run"
TYPED = {"tap_meter_ppm": "305", "membrane_bar": "3,4", "product_l_min": "2.9"}
READ = {"tap_meter_ppm": 305.0, "membrane_bar": 3.4, "product_l_min": 2.9}


@pytest.fixture
def signal() -> Signal:
    return Signal()


@pytest.fixture
def app(book: Book, signal: Signal, engine: Engine) -> Iterator[str]:
    with served(book, signal=signal, engine=engine) as address:
        yield address


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport={"width": 360, "height": 740})
    yield context
    context.close()


def until(holds: Callable[[], bool], page: Page, seconds: float = 30.0) -> None:
    """Wait for something that the page does not show."""
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "it did not come in time"
        page.wait_for_timeout(50)


def rows(book: Book, table: str = "reading") -> list[tuple[object, ...]]:
    value = "value" if table == "reading" else "done"
    with sqlite3.connect(Path(book.where)) as connection:
        return connection.execute(f"select key, {value} from {table} order by id").fetchall()


def waiting(page: Page) -> int:
    return int(page.evaluate("outbox.waiting().length"))


def visited(page: Page, address: str) -> None:
    """Go there with signal, so that the page is kept: the worker has to be in charge and to have seen it."""
    page.goto(address)
    page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
    page.wait_for_function("navigator.serviceWorker.controller !== null")
    page.reload(wait_until="networkidle")
    kept = "caches.open('pages').then(pages => pages.match(location.href)).then(Boolean)"
    until(lambda: bool(page.evaluate(kept)), page)


def nothing_for_axe(page: Page) -> None:
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def typed(page: Page, readings: dict[str, str]) -> None:
    for key, value in readings.items():
        card = page.locator(f"#r-{key}")
        expect(card).to_be_visible()
        card.locator("[name=value]").fill(value)
        card.locator(".action").click()


def test_the_cut_in_the_middle(app: str, book: Book, context: BrowserContext, signal: Signal) -> None:
    """Three readings without signal, the page loaded anew, signal again: three rows, each as it was typed."""
    book.begin_first_run(SLUG, 12.0, 4.0, None)
    page = context.new_page()
    visited(page, f"{app}{HOME}/1")
    signal.cut(context)
    typed(page, TYPED)
    assert waiting(page) == 3
    expect(page.locator("#outbox")).to_contain_text("3 wait to be sent")

    page.reload()
    expect(page.locator("#outbox")).to_contain_text("3 wait to be sent")
    expect(page.locator("#line-membrane_bar")).to_contain_text("3.4 bar")
    expect(page.locator("#r-drain_l_min")).to_be_visible()  # it goes on where one was
    nothing_for_axe(page)
    assert rows(book) == []

    signal.mend(context)
    until(lambda: waiting(page) == 0, page)
    assert rows(book) == list(READ.items())
    expect(page.locator("#sheet .first")).to_contain_text("Everything measured")
    expect(page.locator("#progress")).to_contain_text("3 of 8")
    page.reload()
    page.evaluate("outbox.flush()")
    assert rows(book) == list(READ.items())


def test_the_answer_is_lost(app: str, book: Book, context: BrowserContext) -> None:
    """The app has taken the reading, and the phone never hears of it: it is sent again, and kept once."""
    book.begin_first_run(SLUG, 12.0, 4.0, None)
    page = context.new_page()
    visited(page, f"{app}{HOME}/1")
    lost = []

    def lose(route: Route) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        lost.append(route.fetch().status)
        with suppress(Error):  # where the test goes on meanwhile
            route.abort()

    page.route(f"**{HOME}/1", lose)
    typed(page, TYPED)
    until(lambda: len(lost) >= 2, page)
    assert set(lost) == {200}
    assert len(rows(book)) >= 1
    assert waiting(page) == 3
    page.reload()
    assert waiting(page) == 3
    page.unroute_all(behavior="ignoreErrors")
    page.evaluate("outbox.flush()")
    until(lambda: waiting(page) == 0, page)
    assert rows(book) == list(READ.items())


@pytest.mark.longer
def test_two_open_pages_send_it_once(app: str, book: Book, context: BrowserContext, signal: Signal) -> None:
    book.begin_first_run(SLUG, 12.0, 4.0, None)
    one, two = context.new_page(), context.new_page()
    visited(one, f"{app}{HOME}/1")
    visited(two, f"{app}{HOME}/1")
    signal.cut(context)
    typed(one, TYPED)
    assert waiting(two) == 3
    signal.mend(context)  # both hear of it
    until(lambda: waiting(one) == waiting(two) == 0, one)
    assert sorted(rows(book)) == sorted(READ.items())


def test_a_device_that_keeps_nothing_sends_the_form_at_once(app: str, book: Book, context: BrowserContext) -> None:
    book.begin_first_run(SLUG, 12.0, 4.0, None)
    page = context.new_page()
    page.add_init_script("Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); };")
    page.goto(f"{app}{HOME}/1")
    typed(page, {"tap_meter_ppm": "305"})
    expect(page.locator("#progress")).to_contain_text("1 of 8")
    assert rows(book) == [("tap_meter_ppm", 305.0)]


def test_without_script_the_same_by_plain_forms(app: str, book: Book, browser: Browser) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740}, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{app}{HOME}")
    page.locator("[name=temperature]").first.fill("12")
    page.get_by_role("button", name="Begin reading").click()
    typed(page, TYPED)
    assert page.url.endswith(f"{HOME}/1#r-drain_l_min")
    assert rows(book) == list(READ.items())
    context.close()


def test_something_else_answers_in_the_apps_place(app: str, book: Book, context: BrowserContext) -> None:
    """A log-in page of some network says 200 to everything: that is not the app having it."""
    book.begin_first_run(SLUG, 12.0, 4.0, None)
    page = context.new_page()
    visited(page, f"{app}{HOME}/1")
    page.route(f"**{HOME}/1", lambda route: route.fulfill(status=200, body="<h1>Please log in</h1>"))
    typed(page, {"tap_meter_ppm": "305"})
    page.wait_for_timeout(300)
    assert waiting(page) == 1
    page.unroute(f"**{HOME}/1")
    page.evaluate("dispatchEvent(new Event('focus'))")
    until(lambda: waiting(page) == 0, page)
    assert rows(book) == [("tap_meter_ppm", 305.0)]


def test_judged_on_the_phone_and_then_by_the_app(app: str, book: Book, context: BrowserContext, signal: Signal) -> None:
    book.begin_first_run(SLUG, 12.0, 4.0, None)
    page = context.new_page()
    visited(page, f"{app}{HOME}/1")
    signal.cut(context)
    field, judged = page.locator("#f-tap_meter_ppm"), page.locator("#judged-tap_meter_ppm")
    for value, says in {"305": "Inside the band", "420": "Outside the band"}.items():
        field.fill(value)
        expect(judged).to_contain_text(says)
        expect(judged).to_contain_text("Judged on the phone, without narrowing")
    page.reload()  # what was typed and not yet kept stands there again
    expect(field).to_have_value("420")
    signal.mend(context)
    field.fill("435")
    expect(judged).to_contain_text("what a meter with factor 0.7 shows")
    assert rows(book) == []


@pytest.mark.longer
def test_begun_without_signal(app: str, book: Book, context: BrowserContext, signal: Signal) -> None:
    """The bands come from the table that came with the page, and are the engine's to a few per cent."""
    page = context.new_page()
    visited(page, f"{app}{HOME}")
    until(lambda: bool(page.evaluate("caches.match(location.pathname + '/table').then(Boolean)")), page)
    signal.cut(context)
    page.reload()
    page.locator("[name=temperature]").fill("9.5")
    page.locator("[name=running]").fill("3.7")
    page.get_by_role("button", name="Begin reading").click()
    expect(page.locator("#r-tap_meter_ppm")).to_be_visible()
    for key in TYPED:
        told = page.locator(f"#r-{key}").evaluate("card => [card.dataset.value, card.dataset.low, card.dataset.high]")
        band = _expected(9.5, 3.7, key)
        assert [float(edge) for edge in told] == pytest.approx(band, rel=0.05)
    typed(page, TYPED)
    page.reload()
    expect(page.locator("#line-product_l_min")).to_contain_text("2.9 L/min")
    nothing_for_axe(page)
    assert book.first_runs(SLUG) == []

    mended = datetime.now(UTC)
    signal.mend(context)
    page.wait_for_url(re.compile(rf"{HOME}/1(#.*)?$"))
    (run,) = book.first_runs(SLUG)
    assert (run.temperature_c, run.running_bar) == pytest.approx((9.5, 3.7))
    assert run.begun_at < mended
    assert rows(book) == list(READ.items())
    assert page.evaluate("Object.keys(localStorage).filter(name => name.startsWith('begun')).length") == 0


def _expected(temperature: float, running: float, key: str) -> list[float]:
    from rinsewright.api import Site

    from .served import DEMO

    band = Site.loads(DEMO).first_run(temperature, running).expected[key]
    return [edge for edge in (band.value, band.low, band.high) if edge is not None]


def test_the_apps_end_is_no_end(book: Book, context: BrowserContext) -> None:
    """The app itself stops and starts again, on the same port."""
    book.begin_first_run(SLUG, 12.0, 4.0, None)
    page = context.new_page()
    with served(book) as address:
        visited(page, f"{address}{HOME}/1")
        page.goto("about:blank")
    page.goto(f"{address}{HOME}/1")
    typed(page, {"tap_meter_ppm": "305"})
    assert waiting(page) == 1
    with served(book, int(address.rpartition(":")[2])):
        page.evaluate("outbox.flush()")
        until(lambda: waiting(page) == 0, page)
        page.goto("about:blank")
    assert rows(book) == [("tap_meter_ppm", 305.0)]


def test_what_the_app_refuses_is_said_and_stays_until_it_is_thrown_away(
    app: str, book: Book, context: BrowserContext
) -> None:
    page = context.new_page()
    page.goto(f"{app}{HOME}")
    page.evaluate(f"outbox.add('{HOME}/99', {{ key: 'tap_meter_ppm', value: 305 }})")
    strip = page.locator("#outbox")
    expect(strip).to_contain_text("Not taken: ")
    nothing_for_axe(page)
    page.reload()
    expect(strip).to_contain_text("Not taken: ")
    strip.get_by_role("button", name="Throw it away").click()
    expect(strip).to_be_empty()


def test_ticks_of_the_unpacking_check(app: str, book: Book, context: BrowserContext, signal: Signal) -> None:
    page = context.new_page()
    visited(page, f"{app}/sites/{SLUG}/unpacking")
    signal.cut(context)
    boxes = page.locator("input[data-tick]")
    keys = [boxes.nth(n).get_attribute("data-key") for n in range(3)]
    for n in range(3):
        boxes.nth(n).check()
    boxes.nth(1).uncheck()
    page.reload()
    assert [boxes.nth(n).is_checked() for n in range(3)] == [True, False, True]
    signal.mend(context)
    until(lambda: waiting(page) == 0, page)
    assert book.ticks(SLUG, "unpacking") == {keys[0]: True, keys[1]: False, keys[2]: True}
    assert len(rows(book, "tick")) == 4


def test_the_build_goes_on_step_by_step(app: str, book: Book, context: BrowserContext, signal: Signal) -> None:
    page = context.new_page()
    visited(page, f"{app}/sites/{SLUG}/build")
    third = "caches.open('pages').then(pages => pages.match(location.pathname + '?step=3')).then(Boolean)"
    until(lambda: bool(page.evaluate(third)), page)  # steps that were not visited are kept too
    titles = [page.locator("h1").inner_text()]
    signal.cut(context)
    for number in (2, 3):
        page.locator("form[data-tick] .action").click()
        page.wait_for_url(f"**/build?step={number}")
        titles.append(page.locator("h1").inner_text())
    assert len(set(titles)) == 3
    assert waiting(page) == 2
    signal.mend(context)
    until(lambda: waiting(page) == 0, page)
    assert sorted(book.ticks(SLUG, "build").values()) == [True, True]
    page.goto(f"{app}/sites/{SLUG}/build")
    assert page.locator("h1").inner_text() == titles[2]


@pytest.mark.longer
def test_a_page_that_is_not_kept_says_so_and_names_those_that_are(
    app: str, book: Book, context: BrowserContext, signal: Signal
) -> None:
    page = context.new_page()
    visited(page, f"{app}{HOME}")
    signal.cut(context)
    page.goto(f"{app}/sites/{SLUG}/plant")
    expect(page.locator("h1")).to_have_text("No signal")
    nothing_for_axe(page)
    page.get_by_role("link", name="First run").last.click()
    expect(page.locator("h1").first).to_have_text("First run")


def test_an_origin_that_is_not_secure_has_ids_too(app: str, context: BrowserContext) -> None:
    page = context.new_page()
    page.goto(app)
    page.evaluate("Object.defineProperty(crypto, 'randomUUID', { value: undefined })")
    ids = {page.evaluate("outbox.uuid()") for _ in range(50)}
    assert len(ids) == 50
    for one in ids:  # RFC 9562, 5.4: version 4, variant 10 (from memory)
        assert re.fullmatch(r"[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", one)


# ---- the app's end of it ----


def test_a_tick_is_kept_exactly_once(client: TestClient, book: Book) -> None:
    told = {"sheet": "build", "key": "a step", "client_id": "one", "done": "yes", "taken_at": "2026-01-02T03:04:05Z"}
    answers = [client.post(f"/sites/{SLUG}/ticks", data=told).json() for _ in range(2)]
    assert answers == [{"client_id": "one", "kept": True}, {"client_id": "one", "kept": False}]
    later = {**told, "client_id": "two", "done": "no", "taken_at": "2026-01-02T03:04:04Z"}  # made before, sent after
    assert client.post(f"/sites/{SLUG}/ticks", data=later).json()["kept"] is True
    assert client.get(f"/sites/{SLUG}/ticks?sheet=build").json() == {"a step": True}


@pytest.mark.parametrize("missing", ["sheet", "key", "client_id"])
def test_a_tick_without_its_names_is_refused(client: TestClient, book: Book, missing: str) -> None:
    told = {"sheet": "build", "key": "a step", "client_id": "one", "done": "yes", missing: " "}
    answer = client.post(f"/sites/{SLUG}/ticks", data=told)
    assert answer.status_code == 422
    assert "missing" in answer.json()["refused"]
    assert book.ticks(SLUG, "build") == {}


def test_a_tick_from_a_form_leads_back_to_a_page_of_the_site(client: TestClient) -> None:
    for here, there in ((HOME, HOME), ("//elsewhere.example", f"/sites/{SLUG}/build"), ("", f"/sites/{SLUG}/build")):
        answer = client.post(
            f"/sites/{SLUG}/ticks",
            data={"sheet": "build", "key": "a step", "done": "yes", "from": here},
            follow_redirects=False,
        )
        assert answer.headers["location"] == there


def test_the_worker_keeps_the_shell(client: TestClient) -> None:
    answer = client.get("/worker.js")
    assert answer.headers["content-type"].startswith("text/javascript")
    assert answer.headers["cache-control"] == "no-cache"
    shell = re.findall(r'"(/static/[^"]+)"', answer.text.partition("\n")[0])
    assert {"page", "outbox", "firstrun", "build"} <= {re.split(r"[/.]", address)[2] for address in shell}
    for address in shell:
        assert client.get(address).status_code == 200


def test_the_clock_of_the_phone_orders_what_it_took(book: Book, client: TestClient) -> None:
    """Sent late, but read before what the app has: the newer reading stays."""
    run = book.begin_first_run(SLUG, 12.0, 4.0, None)
    book.keep_reading(run.id, "drain_l_min", 2.8, "here", datetime.now(UTC))
    told = {"key": "drain_l_min", "value": "9", "client_id": "late", "taken_at": "2026-01-02T03:04:05.678Z"}
    assert client.post(f"{HOME}/{run.id}", data=told).json()["kept"] is True
    assert book.readings(run.id) == {"drain_l_min": 2.8}
    assert len(rows(book)) == 2
