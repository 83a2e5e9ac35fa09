"""The page Year: the answer first, every number in the user's units, charts that tell what the table holds."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from functools import cache
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Page
from starlette.testclient import TestClient

from rinsewright.api import Site
from rinsewright.papers.units import Units
from rinsewright.planning.year_result import VALUE
from rinsewright.store.book import Book
from rinsewright.web.engine import Engine
from rinsewright.web.year_reading import Panel, YearReading, read_year

from ..papers.opened import LOOKS, assert_axe_finds_nothing, assert_nothing_scrolls_sideways
from ..papers.years import YEARS, a_year
from .served import DEMO, SLUG, served

PAGE = f"/sites/{SLUG}/year"
LITRES, GALLONS = Units(), Units(temperature="f", pressure="psi", volume="gal", ppm_factor=0.7)
EVERY_TIME = ("tern-quay", "no-tank")
SAMPLES = [pytest.param(name, marks=() if name in EVERY_TIME else pytest.mark.longer) for name in YEARS]
HEAVIEST = 400_000  # bytes of a page before a chart is touched


# --- what is told of a year ---


def panels(told: YearReading) -> list[Panel]:
    found = [*told.days, *(panel for pair in told.weeks for panel in pair)]
    return [told.chance, *found] if told.chance else found


def number(cell: str) -> float:
    return float(cell.split(" (")[0].replace(",", "").replace("\N{MINUS SIGN}", "-"))


@cache
def told_of(members: int, units: Units = LITRES) -> YearReading:
    """The made-up yard's year: without chance, or many with dry days in February."""
    return read_year(a_year(members=members), units)


@pytest.mark.parametrize("name", SAMPLES)
def test_every_chart_reads_its_own_column_of_a_table(name: str) -> None:
    told = read_year(YEARS[name](), GALLONS)
    tables = {table.name: table for table in told.tables}
    for panel in panels(told):
        table = tables[panel.table]
        head = table.columns[panel.column]
        assert head.unit == panel.unit
        assert head.words.lower() in panel.head.lower()
        assert len(table.rows) == {"by-day": 365, "by-week": 52}.get(table.name, 168)


@pytest.mark.parametrize("units", [LITRES, GALLONS], ids=["litres", "gallons"])
def test_the_table_by_day_holds_the_years_numbers_in_the_users_units(units: Units) -> None:
    result, told = a_year(members=1), told_of(1, units)
    table = next(table for table in told.tables if table.name == "by-day")
    unit = {
        "temperature_c": lambda celsius: celsius if units is LITRES else 1.8 * celsius + 32.0,
        "product_l": lambda litres: litres if units is LITRES else litres / 3.785411784,
        "worst_ppm": lambda ppm: ppm * units.ppm_factor / result.meter_factor,
    }
    keys = [panel for panel in told.days if panel.key in unit]
    assert len(keys) == 3
    for panel in keys:
        want = unit[panel.key](result.days[panel.key][VALUE])
        for (_, cells), value in zip(table.rows, want, strict=True):
            if np.isfinite(value):
                tenths = panel.key == "temperature_c" or (panel.key == "worst_ppm" and value < 9.95)
                assert number(cells[panel.column]) == pytest.approx(value, abs=0.0501 if tenths else 0.501)
            else:
                assert cells[panel.column] == "none"


def test_the_charts_are_drawn_and_described_in_the_users_units() -> None:
    result = a_year(members=1)
    for units, unit in ((LITRES, "°C"), (GALLONS, "°F")):
        told = told_of(1, units)
        chart = next(panel for panel in told.days if panel.key == "temperature_c")
        other = "°F" if unit == "°C" else "°C"
        assert unit in chart.head
        assert unit in chart.told
        assert unit in chart.svg
        assert other not in f"{chart.head}{chart.told}{chart.svg}"
        brush = next(panel for panel in told.days if panel.key == "worst_ppm")
        limit = result.limit_ppm * units.ppm_factor / result.meter_factor
        assert f"{limit:g} ppm: change the resin" in brush.svg


def test_a_band_is_told_with_its_ends() -> None:
    told = told_of(200)
    table = next(table for table in told.tables if table.name == "by-day")
    column = next(panel.column for panel in told.days if panel.key == "product_l")
    value, low, high = map(
        float,
        re.fullmatch(r"([\d,]+) \(([\d,]+) to ([\d,]+)\)", table.rows[2][1][column]).groups(),  # type: ignore[union-attr]
    )
    assert low < value < high
    assert dict(told.whole)["product made"].startswith("about ")


def test_the_verdict_follows_the_water() -> None:
    dry, wet = a_year(members=200), read_year(a_year(members=200, short=False), LITRES)
    assert (wet.answer.verdict, wet.answer.number, wet.answer.do) == ("fine", "0", "")
    assert wet.chance is None
    told = told_of(200).answer
    assert told.verdict in ("look", "stop")
    assert told.do
    worst = max(dry.answer()["dry_chance_by_week"])
    assert float(told.number) == pytest.approx(100.0 * worst, rel=0.05)
    assert told.unit == "%"
    assert f"{told.number}\N{NO-BREAK SPACE}% of 200 years" in told.sentence


def test_without_a_tank_the_advice_is_not_about_a_larger_one() -> None:
    told = read_year(a_year(members=200, tank=False), LITRES)
    assert "larger tank" not in told.answer.do
    assert "level_end_l" not in [panel.key for panel in told.days]


def test_a_least_value_is_never_rounded_up() -> None:
    year = a_year(members=1, short=False)
    levels = year.weeks[0].hours["level_l"].copy()
    levels[:] = np.where(np.arange(168) == 5, 647.9, 650.0)
    week = replace(year.weeks[0], hours={**year.weeks[0].hours, "level_l": levels})
    days = {**year.days, "level_end_l": np.full((3, 365), 647.9)}
    told = read_year(replace(year, weeks=(week, year.weeks[1]), days=days), LITRES)
    said = " ".join((told.answer.more, *told.why))
    assert said.count("640\N{NO-BREAK SPACE}L") == 2
    assert "650\N{NO-BREAK SPACE}L" not in said


def test_a_tap_that_is_always_open_need_not_be_opened() -> None:
    year = a_year(members=1, short=False)
    assert "If you shut it while you draw, open it by" in read_year(replace(year, always_open=True), LITRES).fill_by
    assert "If you shut it" not in read_year(year, LITRES).fill_by


def test_what_the_plant_can_make_is_told_where_it_is_known() -> None:
    result = a_year(members=1)
    assert not any("Into an open tank" in sentence for sentence in told_of(1).why)
    cold, hours = read_year(result, LITRES, (2.0, 3.0)).why[:2]
    assert "2.0\N{NO-BREAK SPACE}L/min" in cold
    wanted = float(np.max((result.days["delivered_l"] + result.days["short_l"])[VALUE]))
    assert f"{wanted / 2.0 / 60.0:.1f} hours" in hours


def test_no_chart_lies_off_its_plot() -> None:
    for panel in panels(told_of(200)):
        left, top, width, height = map(float, panel.plot.split())
        box = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', panel.svg)
        assert box is not None
        assert 0.0 < left < left + width < float(box.group(1))
        assert 0.0 < top < top + height < float(box.group(2))


def test_the_calendar_names_every_change_on_its_day() -> None:
    result, told = a_year(members=1), told_of(1)
    assert len(result.calendar) > 5
    months = dict(told.calendar)
    for event in result.calendar:
        month, day = (int(part) for part in event.date.split("-"))
        assert re.search(rf"{event.what} on [^a-z]*(and )?\b{day}\b", months[f"{date(2026, month, 1):%b}"])
    assert sum(int(change.times) for change in told.changes) == len(result.calendar)


def test_every_day_of_the_year_has_its_row() -> None:
    rows = next(table for table in told_of(1).tables if table.name == "by-day").rows
    assert (rows[0][0], rows[-1][0], len(rows)) == ("Mon 1 Jan", "Mon 31 Dec", 365)


# --- the page, without script ---


def text(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())


def test_the_page_says_what_the_engine_says(client: TestClient) -> None:
    html = client.get(PAGE).text
    result = Site.loads(DEMO).year()
    for told in (read_year(result, Units()).answer.sentence, *(event.why for event in result.calendar)):
        assert told in unescape(html)
    assert html.index("The water lasts") < html.index('class="chart"')
    assert html.count('class="year-panel"') == html.count('class="chart"')
    assert " style=" not in html
    for name in re.findall(r'data-table="([\w-]+)"', html):
        assert html.count(f'<table class="year-figures" id="{name}"') == 1
    assert 'aria-current="page">Year' in html


def test_the_page_is_light(client: TestClient) -> None:
    html = client.get(PAGE)
    static = set(re.findall(r'"(/static/[^"]+)"', html.text))
    assert len(static) >= 5
    assert len(html.content) + sum(len(client.get(address).content) for address in static) < HEAVIEST


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"years": "33", "seed": "1"}, "Choose one of these."),
        ({"years": "20", "seed": "one"}, "“one” is not a number"),
        ({"years": "20", "seed": "1.5"}, "Give a whole number."),
        ({"years": "20", "seed": "-1"}, "This is not plausible"),
        ({"years": "20"}, "This is still missing."),
    ],
)
def test_what_cannot_be_drawn_is_refused_and_stays_typed(client: TestClient, typed: dict[str, str], told: str) -> None:
    answer = client.post(PAGE, data=typed)
    assert answer.status_code == 422
    assert told in unescape(answer.text)
    if "seed" in typed:
        assert f'value="{typed["seed"]}"' in answer.text
    assert "data-running" not in client.get(f"{PAGE}/drawing").text


def drawn(client: TestClient) -> None:
    end = time.monotonic() + 120.0
    while "data-done" not in client.get(f"{PAGE}/drawing").text:
        assert time.monotonic() < end
        time.sleep(0.1)


@pytest.mark.longer
def test_years_are_drawn_looked_at_and_kept(client: TestClient, book: Book) -> None:
    answer = client.post(PAGE, data={"years": "20", "seed": "5"}, follow_redirects=False)
    assert answer.status_code == 303
    where = answer.headers["location"]
    assert where == f"{PAGE}?years=20&seed=5#drawing"
    html = client.get(where).text
    assert '<noscript><meta http-equiv="refresh"' in html
    assert re.search(r"About \d+ % done, \d+ seconds so far", html)
    refused = client.post(PAGE, data={"years": "100", "seed": "5"})
    assert refused.status_code == 422
    assert "are being drawn already" in refused.text
    drawn(client)
    html = client.get(where).text
    assert "http-equiv" not in html
    told = read_year(Site.loads(DEMO).year(20, 5), Units())
    assert told.answer.sentence in unescape(html)
    assert all(value in unescape(html) for _, value in told.whole)
    assert "nine in ten of them" in html
    assert len(html.encode()) < HEAVIEST - 50_000
    assert "Look at the 20 years" in client.get(PAGE).text  # from the year without chance
    again = client.post(PAGE, data={"years": "20", "seed": "5"}, follow_redirects=False)
    assert "#" not in again.headers["location"]  # they are there already
    version = book.current(SLUG)
    book.save(SLUG, version.toml.replace('name = "Tern Quay yard"', 'name = "Tern Quay"'), "Tern Quay", "named anew", 1)
    assert "are of version 1 of this site" in client.get(PAGE).text
    assert "kept no longer" in client.get(where).text


def test_drawing_can_be_stopped(client: TestClient) -> None:
    client.post(PAGE, data={"years": "500", "seed": "5"})
    assert "data-running" in client.get(f"{PAGE}/drawing").text
    answer = client.post(f"{PAGE}/stop")
    assert answer.status_code == 200
    assert "Stopped. Nothing was kept." in answer.text
    assert "data-running" not in answer.text


def test_years_that_nobody_has_drawn_are_not_worked_out_by_looking(client: TestClient) -> None:
    html = client.get(f"{PAGE}?years=500&seed=77").text
    assert client.app.state.engine.shelf.known(("year", DEMO, 500, 77)) is None  # type: ignore[attr-defined]
    assert "the same seed gives the same years" in html
    assert 'value="77"' in html
    for nonsense in ("?years=7&seed=1", "?years=20&seed=x", "?years=20&seed=99999999999", "?years=20"):
        assert "kept no longer" not in client.get(f"{PAGE}{nonsense}").text


def test_a_site_that_needs_more_says_what(client: TestClient, book: Book) -> None:
    version = book.current(SLUG)
    without = re.sub(r"\[demand\].*?(?=\n\[)", "", version.toml, flags=re.DOTALL)
    book.save(SLUG, without, "Tern Quay yard", "no demand", 1)
    answer = client.get(PAGE)
    assert answer.status_code == 422
    assert "demand" in answer.text
    assert client.get("/sites/nowhere/year").status_code == 404
    assert client.get("/sites/nowhere/year/drawing").status_code == 404


# --- the page in a browser ---


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory, engine: Engine) -> Iterator[str]:
    book = Book.open(tmp_path_factory.mktemp("year") / "book.sqlite")
    book.add_site(DEMO, "Tern Quay yard", "brought in")
    with served(book, engine=engine) as address:
        yield f"{address}{PAGE}"
    book.close()


@pytest.fixture
def quiet(page: Page) -> Iterator[Page]:
    """A page that asks nothing of elsewhere and complains of nothing."""
    wrong: list[str] = []
    page.on("console", lambda message: wrong.append(message.text) if message.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("request", lambda asked: wrong.append(asked.url) if "127.0.0.1" not in asked.url else None)
    yield page
    assert wrong == []


def test_touching_a_chart_says_what_the_table_holds_there(quiet: Page, address: str) -> None:
    quiet.goto(address)
    chart = quiet.locator(".year-panel").filter(has_text="Product, L a day")
    place = chart.locator(".year-touch")
    place.scroll_into_view_if_needed()
    box = place.bounding_box()
    assert box is not None
    quiet.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.4 * box["height"])
    told = chart.locator("[aria-live=polite]")
    when, value = (told.text_content() or "").split(": ")
    day = int(place.get_attribute("aria-valuenow") or 0)
    row = quiet.locator("#by-day tbody tr").nth(day - 1)
    assert row.locator("th").text_content() == when
    column = int(chart.get_attribute("data-column") or 0)
    assert value == f"{row.locator('td').nth(column).text_content()}\N{NO-BREAK SPACE}L a day"
    assert abs(day - 170) < 20  # the plot has room on its left, so the middle of the drawing is before the year's
    line = chart.locator(".year-line")
    drawn_at = line.bounding_box()
    assert drawn_at is not None
    assert abs(drawn_at["x"] - (box["x"] + 0.5 * box["width"])) < 4.0
    assert quiet.locator("#daily ~ .year-panel .year-line[d]").count() == quiet.locator("#daily ~ .year-panel").count()


def test_the_arrow_keys_move_along_a_chart(quiet: Page, address: str) -> None:
    quiet.goto(address)
    chart = quiet.locator(".year-panel").filter(has_text="Product, L a day")
    place, told = chart.locator(".year-touch"), chart.locator("[aria-live=polite]")
    place.focus()
    days = []
    for key in ("Home", "ArrowRight", "ArrowRight", "ArrowLeft", "PageUp", "End", "ArrowRight", "Home"):
        quiet.keyboard.press(key)
        days.append((told.text_content() or "").split(":")[0])
    assert days == [
        "Mon 1 Jan", "Tue 2 Jan", "Wed 3 Jan", "Tue 2 Jan", "Tue 30 Jan", "Mon 31 Dec", "Mon 31 Dec", "Mon 1 Jan",
    ]  # fmt: skip
    hours = quiet.locator(".year-panel").filter(has_text="Winter: product").locator(".year-touch")
    hours.focus()
    quiet.keyboard.press("End")
    quiet.keyboard.press("Tab")
    read = quiet.locator(".year-panel").filter(has_text="Winter: product").locator("[aria-live=polite]").text_content()
    assert read is not None
    assert ", 23:00: " in read


def test_years_are_drawn_while_one_looks_and_after_one_has_left(quiet: Page, address: str) -> None:
    quiet.goto(address)
    quiet.get_by_text("20 years", exact=True).click()
    quiet.get_by_role("button", name="Draw them").click()
    quiet.get_by_role("progressbar").wait_for()
    quiet.goto(address.removesuffix("/year") + "/versions")
    quiet.goto(address)
    if not quiet.locator("[data-running]").count():  # they were ready before one came back: there is a link to them
        quiet.locator("#drawing a.action").click()
    quiet.wait_for_url("**/year?years=20&seed=*", timeout=60_000)
    assert "nine in ten of them" in (quiet.locator("main").text_content() or "")
    assert quiet.get_by_role("progressbar").count() == 0


def test_drawing_is_stopped_by_a_touch(quiet: Page, address: str) -> None:
    quiet.goto(address)
    quiet.get_by_text("500 years", exact=True).click()
    quiet.get_by_role("button", name="Draw them").click()
    quiet.get_by_role("button", name="Stop it").click()
    quiet.get_by_text("Stopped. Nothing was kept.").wait_for()
    assert quiet.get_by_role("button", name="Draw them").is_visible()


@pytest.mark.longer  # by day at a phone's width, unfolded: test_in_a_browser, every time
@pytest.mark.parametrize(("width", "scheme"), LOOKS)
def test_axe_finds_nothing_folded_or_open(browser: Browser, address: str, width: int, scheme: str) -> None:
    context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(address)
    for _ in range(2):
        assert_axe_finds_nothing(page)
        page.evaluate("document.querySelectorAll('details').forEach(part => part.open = true)")
    context.close()


def test_nothing_scrolls_sideways(page: Page, address: str) -> None:
    page.goto(address)
    page.evaluate("document.querySelectorAll('details').forEach(part => part.open = true)")
    assert_nothing_scrolls_sideways(page)


def test_what_is_touched_is_large_enough(phone: Page, address: str) -> None:
    phone.goto(address)
    for chart in phone.locator(".year-touch").all():
        box = chart.bounding_box()
        assert box is not None
        assert box["height"] >= 48.0
    for name in ("Draw them",):
        box = phone.get_by_role("button", name=name).bounding_box()
        assert box is not None
        assert box["height"] >= 48.0


def test_without_script_the_same_numbers_are_there(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    page.get_by_text("Day by day", exact=True).click()
    assert page.locator("#by-day tbody tr").nth(364).is_visible()
    assert page.locator("[role=slider]").count() == 0
    context.close()


def test_it_prints_without_what_is_pressed(page: Page, address: str, tmp_path: Path) -> None:
    page.goto(address)
    page.emulate_media(media="print")
    assert not page.get_by_role("button", name="Draw them").is_visible()
    assert page.locator("#by-day tbody tr").first.is_visible()
