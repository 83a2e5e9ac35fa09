"""Tap: the water in words and numbers, what was measured, and a report read, shown and taken."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from html import unescape
from typing import Any

import pytest
from playwright.sync_api import Browser, Page
from starlette.testclient import TestClient

from rinsewright.api import Site
from rinsewright.papers.words import number
from rinsewright.store.book import Book
from rinsewright.web.engine import Engine
from rinsewright.web.pages.tap import hardness_word

from ..papers.opened import assert_axe_finds_nothing, assert_nothing_scrolls_sideways
from .served import DEMO, SLUG, served
from .test_plant import fields
from .test_reports import ENGLISH, workbook

AT = f"/sites/{SLUG}/tap"


def html(client: TestClient, address: str = AT) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return unescape(answer.text)


def current(book: Book) -> dict[str, Any]:
    return tomllib.loads(book.current(SLUG).toml)


def form(page: str, name: str) -> dict[str, str]:
    return fields(page.partition(f'action="{AT}/{name}"')[2].partition("</form>")[0])


def read(client: TestClient, text: str, status: int = 200) -> str:
    answer = client.post(f"{AT}/report", data={"text": text})
    assert answer.status_code == status
    return unescape(answer.text)


def taking(page: str) -> dict[str, str]:
    """What the preview's form would send, with its ticks."""
    page = page.partition(f'action="{AT}/report/take"')[2].partition("</form>")[0]
    hidden = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', page))
    return hidden | dict.fromkeys(re.findall(r'name="(take \d+)" checked', page), "on")


# ---- what comes out of the wall ----


def test_it_says_the_reading_and_how_hard_it_is(client: TestClient) -> None:
    water = Site.loads(DEMO).water()
    page = html(client)
    assert f'<span class="digits">{water["meter_ppm"]:.0f}</span> <span class="of">ppm</span>' in page
    assert "on your meter, by the analysis" in page
    assert "This is very hard water." in page
    assert f"leaves {number(water['residue_mg_l'])} mg behind" in page
    for key in ("hardness_mg_l_caco3", "alkalinity_mg_l_caco3", "co2_mg_l", "tds_mg_l", "residue_mg_l"):
        assert f"<b>{number(water[key])}\N{NO-BREAK SPACE}mg/L</b>" in page
    assert "Calcium and magnesium: what scales." in page


def test_the_reading_is_told_on_the_users_meter(client: TestClient, book: Book) -> None:
    book.set_setting("units.ppm_factor", "0.7")
    water = Site.loads(DEMO).water()
    assert f'<span class="digits">{0.7 * water["conductivity_us_cm"]:.0f}</span>' in html(client)


@pytest.mark.parametrize(
    ("hardness", "word"),
    [(0.0, "soft"), (60.0, "soft"), (61.0, "moderately hard"), (150.0, "hard"), (181.0, "very hard")],
)
def test_hard_or_soft(hardness: float, word: str) -> None:
    assert hardness_word(hardness) == word  # classes of the US Geological Survey, from memory


def test_soft_water_is_told_otherwise(client: TestClient, book: Book) -> None:
    water = DEMO[: DEMO.index("[water.ions_mg_l]")] + DEMO[DEMO.index("[water.season]") :]
    soft = water.replace("[water.season]", "[water.field]\nmeter_ppm = 40\nhardness_mg_l_caco3 = 25\n\n[water.season]")
    book.save(SLUG, soft, "Tern Quay yard", "soft", 1)
    page = html(client)
    assert "This is soft water." in page
    assert "by the analysis" not in page
    assert "resin alone is often the cheapest" in page
    assert "Its lime comes out" not in page


def test_a_site_without_water_asks_for_it(client: TestClient, book: Book) -> None:
    start = DEMO.index("[water]")
    book.save(SLUG, DEMO[:start] + DEMO[DEMO.index("[supply]") :], "Tern Quay yard", "no water", 1)
    page = html(client)
    assert "The water is not described yet." in page
    sent = form(page, "water") | {"temperature_c": "12", "field.meter_ppm": "285"}
    assert client.post(f"{AT}/water", data=sent).status_code == 200
    assert current(book)["water"] == {"temperature_c": 12, "field": {"meter_ppm": 285}}
    assert "on your meter" in html(client)


# ---- what was measured ----


@pytest.mark.parametrize("name", ["water", "supply", "analysis"])
def test_saving_what_stands_there_changes_nothing(client: TestClient, book: Book, name: str) -> None:
    sent = form(html(client), name)
    assert len(sent) > 5
    assert client.post(f"{AT}/{name}", data=sent).status_code == 200
    assert book.current(SLUG).number == 1


def test_a_measurement_is_kept_with_comments_around_it(client: TestClient, book: Book) -> None:
    sent = form(html(client), "water") | {"field.meter_ppm": "298", "season.coldest_c": "4"}
    client.post(f"{AT}/water", data=sent)
    version = book.current(SLUG)
    assert version.toml == DEMO.replace("meter_ppm = 305", "meter_ppm = 298").replace(
        "coldest_c = 5.0", "coldest_c = 4"
    )
    assert version.what == "Measured at the tap: meter reading, 305 to 298; coldest water temperature, 5 to 4"


def test_every_measurement_says_how_it_is_made(client: TestClient) -> None:
    page = html(client)
    for text in ("Let the tap run for a minute", "A gauge on the tap", "Count the drops", "The gauge on a tee"):
        assert text in page


def test_a_temperature_is_typed_in_fahrenheit_and_a_difference_is_none(client: TestClient, book: Book) -> None:
    book.set_setting("units.temperature", "f")
    sent = form(html(client), "water")
    assert sent["temperature_c"] == "53.6"
    client.post(f"{AT}/water", data=sent | {"temperature_c": "50"})
    assert current(book)["water"]["temperature_c"] == 10
    airy = {"season.coldest_c": "", "season.warmest_c": "", "season.coldest_day": ""}
    airy |= {"season.air_mean_c": "50", "season.air_monthly_spread_c": "18"}
    client.post(f"{AT}/water", data=form(html(client), "water") | airy)
    assert current(book)["water"]["season"] == {"air_mean_c": 10, "air_monthly_spread_c": 10}


@pytest.mark.parametrize(
    ("name", "typed", "sentence"),
    [
        ("water", {"field.meter_ppm": "wet"}, "“wet” is not a number"),
        ("water", {"total_chlorine_mg_l": "0.1"}, "below free chlorine"),
        ("water", {"season.coldest_c": "30"}, "swap them"),
        ("supply", {"standing_bar": "90"}, "give 0 to 25 bar"),
        ("analysis", {"Ca": "-3"}, "give 0 to 2000 mg/L"),
    ],
)
def test_a_refusal_stands_at_its_field(
    client: TestClient, book: Book, name: str, typed: dict[str, str], sentence: str
) -> None:
    answer = client.post(f"{AT}/{name}", data=form(html(client), name) | typed)
    assert answer.status_code == 422
    page = unescape(answer.text)
    field, value = next(iter(typed.items()))
    assert sentence in page.partition(f'id="f-{field}-error"')[2].partition("</p>")[0]
    assert f'name="{field}" value="{value}"' in page
    assert book.current(SLUG).number == 1


def test_water_that_contradicts_itself_is_refused_at_the_field(client: TestClient, book: Book) -> None:
    answer = client.post(f"{AT}/water", data=form(html(client), "water") | {"ph": "4"})
    assert answer.status_code == 422
    assert "carbon dioxide" in answer.text.partition('id="f-ph-error"')[2].partition("</p>")[0]
    book.save(SLUG, DEMO.replace("ph = 7.4", "ph = 4.0"), "Tern Quay yard", "brought in like this", 1)
    page = html(client)
    assert "more than open water holds" in page
    client.post(f"{AT}/water", data=form(page, "water") | {"ph": "7.2"})
    assert current(book)["water"]["ph"] == 7.2


def test_there_is_no_other_form(client: TestClient) -> None:
    assert client.post(f"{AT}/prices", data={}).status_code == 404


# ---- the report ----


def test_a_report_is_shown_before_it_is_taken(client: TestClient, book: Book) -> None:
    page = read(client, ENGLISH)
    assert "11 of 13 rows mean something here." in page
    assert "Chloride" in page
    assert "(the column of means)" in page
    assert "Turbidity: 0.3 NTU" in page.partition("Not used")[2]
    assert book.current(SLUG).number == 1
    client.post(f"{AT}/report/take", data=taking(page))
    water = current(book)["water"]
    assert water["ions_mg_l"]["Ca"] == 104.2
    assert water["ions_mg_l"]["Na"] == 14.0  # what the report does not tell stays
    assert (water["ph"], water["ph_from"], water["total_chlorine_mg_l"]) == (7.4, "report", 0.35)
    assert book.current(SLUG).what.startswith("from the water company’s report: Ca, HCO3, Cl")
    assert "# As a water company reports it" in book.current(SLUG).toml


def test_only_what_is_ticked_is_taken(client: TestClient, book: Book) -> None:
    sent = {
        name: value
        for name, value in taking(read(client, "Calcium 90 mg/l\nSodium 20 mg/l")).items()
        if name != "take 1"
    }
    client.post(f"{AT}/report/take", data=sent)
    assert current(book)["water"]["ions_mg_l"]["Ca"] == 90
    assert current(book)["water"]["ions_mg_l"]["Na"] == 14.0


def test_nothing_ticked_and_an_unknown_text_are_refused(client: TestClient, book: Book) -> None:
    sent = {name: value for name, value in taking(read(client, ENGLISH)).items() if not name.startswith("take")}
    answer = client.post(f"{AT}/report/take", data=sent)
    assert answer.status_code == 422
    assert "Nothing is ticked" in answer.text
    page = read(client, "Lorem ipsum 12", 422)
    assert "No row of this is understood." in page
    assert ">Lorem ipsum 12</textarea>" in page
    assert "Choose a file or paste some rows." in read(client, "", 422)
    assert client.post(f"{AT}/report/take", data={"report": "%%%"}).status_code == 400
    assert book.current(SLUG).number == 1


def test_too_little_for_an_analysis_does_not_push_the_meter_aside(client: TestClient, book: Book) -> None:
    text = DEMO[: DEMO.index("[water.ions_mg_l]")] + DEMO[DEMO.index("[water.field]") :]
    book.save(SLUG, text, "Tern Quay yard", "readings only", 1)
    answer = client.post(f"{AT}/report/take", data=taking(read(client, "Iron 10 µg/l")))
    assert answer.status_code == 422
    assert "too little for an analysis" in answer.text
    client.post(
        f"{AT}/report/take", data=taking(read(client, "Calcium 104 mg/l\nBicarbonate 285 mg/l\nfree chlorine 0.2 mg/l"))
    )
    assert current(book)["water"]["ions_mg_l"] == {"Ca": 104, "HCO3": 285}
    assert current(book)["water"]["free_chlorine_mg_l"] == 0.2


def test_a_report_can_be_another_water_of_the_year(client: TestClient, book: Book) -> None:
    sent = taking(read(client, "Calcium 60 mg/l\nBicarbonate 170 mg/l\npH 7.6\nfree chlorine 0.2 mg/l"))
    answer = client.post(f"{AT}/report/take", data=sent | {"from": "winter"})
    assert answer.status_code == 422
    assert "is not a day of every year" in unescape(answer.text).partition('id="f-from-error"')[2].partition("</p>")[0]
    assert 'name="from" value="winter"' in answer.text
    client.post(f"{AT}/report/take", data=sent | {"from": "1 Nov"})
    change = {"from": "11-01", "ions_mg_l": {"Ca": 60, "HCO3": 170}, "ph": 7.6}
    assert current(book)["water"] == tomllib.loads(DEMO)["water"] | {"changes": [change]}
    assert book.current(SLUG).what == "from the water company’s report, from 1 November on: Ca, HCO3, ph"
    client.post(f"{AT}/report/take", data=taking(read(client, "Nitrate 10 mg/l")) | {"from": "11-01"})
    assert [len(water["ions_mg_l"]) for water in current(book)["water"]["changes"]] == [3]
    for row in ("Nitrate 10 mg/l", "pH 7.6"):
        answer = client.post(f"{AT}/report/take", data=taking(read(client, row)) | {"from": "1 May"})
        assert "too little for an analysis" in answer.text


def test_chlorine_alone_makes_no_analysis(client: TestClient, book: Book) -> None:
    text = DEMO[: DEMO.index("[water.ions_mg_l]")] + DEMO[DEMO.index("[water.field]") :]
    book.save(SLUG, text, "Tern Quay yard", "readings only", 1)
    client.post(f"{AT}/report/take", data=taking(read(client, "free chlorine 0.1 mg/l")))
    assert current(book)["water"]["free_chlorine_mg_l"] == 0.1
    assert "ions_mg_l" not in current(book)["water"]


@pytest.mark.parametrize("kind", ["csv", "xlsx", "latin"])
def test_a_file_is_read(client: TestClient, kind: str) -> None:
    raw = {
        "csv": ENGLISH.encode(),
        "latin": ENGLISH.encode("cp1252"),
        "xlsx": workbook([["Parameter", "Unit", "Mean"], ["Calcium", "mg/l", 104.2], ["Iron", "µg/l", "<10"]]),
    }[kind]
    answer = client.post(f"{AT}/report", files={"file": (f"report.{kind}", raw)}, data={"text": ""})
    assert answer.status_code == 200
    assert "104.2 mg/L" in unescape(answer.text)


def test_a_file_that_is_none_of_them_is_refused(client: TestClient) -> None:
    answer = client.post(f"{AT}/report", files={"file": ("report.xlsx", b"PK broken")}, data={"text": ""})
    assert answer.status_code == 422
    assert "This file is no workbook" in answer.text


# ---- in a browser ----


@pytest.fixture(params=[(360, "light"), pytest.param((1280, "dark"), marks=pytest.mark.longer)])
def opened(request: pytest.FixtureRequest, browser: Browser, book: Book, engine: Engine) -> Iterator[Page]:
    width, scheme = request.param
    with served(book, engine=engine) as address:
        context = browser.new_context(viewport={"width": width, "height": 740}, color_scheme=scheme)
        page = context.new_page()
        wrong: list[str] = []
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.goto(address + AT)
        yield page
        context.close()
        assert wrong == []


def test_axe_finds_nothing(opened: Page) -> None:
    assert_axe_finds_nothing(opened)
    opened.evaluate("for (const fold of document.querySelectorAll('details')) fold.open = true")
    assert_axe_finds_nothing(opened)
    assert_nothing_scrolls_sideways(opened)
    opened.fill("#f-text", ENGLISH)
    opened.get_by_role("button", name="Read it").click()
    opened.get_by_role("button", name="Take what is ticked").wait_for()
    opened.evaluate("for (const fold of document.querySelectorAll('details')) fold.open = true")
    assert_axe_finds_nothing(opened)
    assert_nothing_scrolls_sideways(opened)
    opened.get_by_role("button", name="Take what is ticked").click()
    opened.wait_for_url("**/tap")
    assert "from the water company" in opened.inner_text("#last")
