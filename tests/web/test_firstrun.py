"""First run: one reading at a time, judged beside all others, kept exactly once, in the user's units."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from starlette.testclient import TestClient

from rinsewright.api import Site
from rinsewright.store.book import Book
from rinsewright.web.engine import Engine
from rinsewright.web.pages.firstrun import ORDER, taken_at

from .served import DEMO, SLUG, served

HOME = f"/sites/{SLUG}/first-run"
HEALTHY = {
    "tap_meter_ppm": 311.0,
    "membrane_bar": 3.46,
    "product_l_min": 2.87,
    "drain_l_min": 2.77,
    "product_meter_ppm": 13.0,
    "after_resin_meter_ppm": 0.0,
    "shutoff_closes_bar": 2.47,
    "reopens_bar": 1.88,
}


def text(html: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", html)))


def begin(client: TestClient, temperature: str = "12", running: str = "4.0") -> str:
    answer = client.post(HOME, data={"temperature": temperature, "running": running}, follow_redirects=False)
    assert answer.status_code == 303
    return str(answer.headers["location"])


def sent(client: TestClient, at: str, key: str, value: float | None, client_id: str) -> dict[str, object]:
    read = {"never": "yes"} if value is None else {"value": str(value)}
    answer = client.post(at, data={"key": key, "client_id": client_id, **read})
    assert answer.status_code == 200
    told: dict[str, object] = answer.json()
    return told


def test_it_asks_for_todays_water_and_the_bands_are_for_that(client: TestClient) -> None:
    for temperature, running in ((6.0, 3.2), (18.0, 4.2)):
        html = client.get(begin(client, f"{temperature:g}", f"{running:g}")).text
        band = Site.loads(DEMO).first_run(temperature, running).expected["product_l_min"]
        assert f"should read {band.low:.1f} to {band.high:.1f} L/min, about {band.value:.1f}" in text(html)
    assert text(client.get(HOME).text).count("0 of 8 read") == 2


@pytest.mark.parametrize(
    ("temperature", "running", "says"),
    [
        ("", "4", "still missing"),
        ("60", "4", "not plausible"),
        ("cold", "4", "is not a number"),
        ("12", "90", "not plausible"),
        ("12", "0.2", "press"),  # the plant does not work so; the engine says why
    ],
)
def test_what_cannot_be_is_refused_and_stays(client: TestClient, temperature: str, running: str, says: str) -> None:
    answer = client.post(HOME, data={"temperature": temperature, "running": running})
    assert answer.status_code == 422
    assert says in text(answer.text)
    assert f'value="{running}"' in answer.text
    assert "so far" not in answer.text


def test_the_rinse_and_its_cautions_come_first(client: TestClient) -> None:
    html = text(client.get(HOME).text)
    places = [
        html.index(words) for words in ("60 minutes", "Wear gloves", "slowly", "release the pressure", "Today’s water")
    ]
    assert places == sorted(places)
    client.post(f"/sites/{SLUG}/ticks", data={"sheet": "first run", "key": "rinsed", "done": "yes", "from": HOME})
    assert re.search(r'data-key="rinsed" checked', client.get(HOME).text)


def test_every_line_has_its_name_its_way_of_reading_and_where_it_can_hurt_a_caution(client: TestClient) -> None:
    html = client.get(begin(client)).text
    cards = re.findall(r'<li class="card.*?</li>', html, re.DOTALL)
    assert [re.search(r'data-key="(\w+)"', card)[1] for card in cards] == list(ORDER)  # type: ignore[index]
    for card in cards:
        assert 'inputmode="decimal"' in card
        assert re.search(r'class="how"[^>]*>[^<]{20,}', card)
    cautioned = {re.search(r'data-key="(\w+)"', card)[1] for card in cards if "alarm" in card}  # type: ignore[index]
    assert {"membrane_bar", "after_resin_meter_ppm", "shutoff_closes_bar", "reopens_bar"} <= cautioned
    never = [card for card in cards if 'name="never"' in card]
    assert len(never) == 1
    assert 'data-key="shutoff_closes_bar"' in never[0]


def test_a_healthy_plant_read_to_the_end(client: TestClient, book: Book) -> None:
    at = begin(client)
    for number, (key, value) in enumerate(HEALTHY.items()):
        html = client.get(at).text
        assert f'class="card here" id="r-{ORDER[number]}"' in html
        assert f"{number} of 8 read" in text(html)
        answer = client.post(at, data={"key": key, "form_id": f"form {number}", "value": f"{value:g}"})
        assert answer.status_code == 200
    html = client.get(at).text
    assert book.readings(1) == HEALTHY
    assert "fine Everything measured is what this plant should read." in text(html)
    assert "Sign the record." in text(html)
    assert f'href="/sites/{SLUG}/papers"' in html
    assert "Go on reading: 8 of 8" in text(client.get(HOME).text)
    client.post(f"{at}/close", data={})
    assert "Go on" not in text(client.get(HOME).text)
    assert book.first_run(1).closed_at is not None
    assert "Closed" in text(client.get(at).text)


def test_the_sheet_says_what_the_engine_says(client: TestClient) -> None:
    """A leaking O-ring: the product reads three times what it should."""
    at, ill = begin(client), {**HEALTHY, "product_meter_ppm": 40.0}
    for key, value in ill.items():
        sent(client, at, key, value, key)
    html = text(client.get(at).text)
    record = Site.loads(DEMO).first_run(12.0, 4.0, measured=ill)
    assert record.verdict == "stop"
    assert record.why in html
    assert record.do in html
    for line in record.lines:
        assert line.why in html
    assert "stop Product, on the meter" in html
    for cannot in record.cannot_tell:
        assert cannot in html


def test_a_reading_is_judged_beside_the_others_and_nothing_is_kept(client: TestClient, book: Book) -> None:
    """Low flow alone is looked at; with the low pressure that explains it, it is fine."""
    at = begin(client, running="")
    asked = f"{at}/judged?key=product_l_min&value=2.0"
    assert 'class="verdict look"' in client.get(asked).text
    sent(client, at, "membrane_bar", 2.7, "one")
    assert 'class="verdict fine"' in client.get(asked).text
    assert book.readings(1) == {"membrane_bar": 2.7}
    for nonsense in ("key=product_l_min&value=much", "key=product_l_min", "key=colour&value=3", ""):
        answer = client.get(f"{at}/judged?{nonsense}")
        assert answer.status_code == 200
        assert "verdict" not in answer.text


def test_a_shut_off_that_never_stops_is_a_button(client: TestClient, book: Book) -> None:
    at = begin(client)
    client.post(at, data={"key": "shutoff_closes_bar", "form_id": "one", "value": "", "never": "yes"})
    assert book.readings(1) == {"shutoff_closes_bar": None}
    html = text(client.get(at).text)
    assert "stop The shut-off never stopped the drain" in html
    answer = client.post(at, data={"key": "reopens_bar", "form_id": "two", "value": "", "never": "yes"})
    assert answer.status_code == 422


def test_each_reading_is_kept_exactly_once(client: TestClient, book: Book) -> None:
    at = begin(client)
    assert sent(client, at, "drain_l_min", 2.7, "one") == {"client_id": "one", "kept": True, "at": at}
    assert sent(client, at, "drain_l_min", 2.7, "one")["kept"] is False
    for _ in range(2):  # a form sent twice, as by an impatient thumb
        client.post(at, data={"key": "drain_l_min", "form_id": "a form", "value": "2.9"})
    client.post(at, data={"key": "drain_l_min", "form_id": "a form", "value": "3.0"})  # back, and another value
    assert [row.split(",")[-1] for row in kept(book)] == ["2.7", "2.9", "3.0"]
    assert book.readings(1) == {"drain_l_min": 3.0}


def kept(book: Book) -> list[str]:
    import sqlite3

    found = sqlite3.connect(Path(book.where)).execute("select key, value from reading order by id").fetchall()
    return [f"{key},{value}" for key, value in found]


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("product_l_min", "-3", "not plausible"),
        ("product_l_min", "three", "not a number"),
        ("product_l_min", "", "missing"),
        ("colour", "3", "no such line"),
    ],
)
def test_what_cannot_be_read_is_refused_and_stays(
    client: TestClient, book: Book, key: str, value: str, says: str
) -> None:
    at = begin(client)
    answer = client.post(at, data={"key": key, "form_id": "one", "value": value})
    assert answer.status_code == 422
    if key in ORDER:
        assert says in text(answer.text)
        assert f'class="card here" id="r-{key}"' in answer.text
        assert f'value="{value}"' in answer.text
    told = client.post(at, data={"key": key, "client_id": "one", "value": value})
    assert told.status_code == 422
    assert says in told.json()["refused"]
    assert book.readings(1) == {}


def test_the_users_units(client: TestClient, book: Book) -> None:
    for name, value in {"temperature": "f", "pressure": "psi", "volume": "gal", "ppm_factor": "0.7"}.items():
        book.set_setting(f"units.{name}", value)
    at = begin(client, "53.6", "58.0")
    run = book.first_run(1)
    assert run.temperature_c == pytest.approx(12.0)
    assert run.running_bar == pytest.approx(58.0 * 0.0689476, rel=1e-5)
    client.post(at, data={"key": "membrane_bar", "form_id": "one", "value": "50"})
    client.post(at, data={"key": "tap_meter_ppm", "form_id": "two", "value": "434"})
    client.post(at, data={"key": "product_l_min", "form_id": "three", "value": "0.75"})
    readings = book.readings(1)
    assert readings["membrane_bar"] == pytest.approx(50 * 0.0689476, rel=1e-5)  # 1 psi: NIST SP 811 (from memory)
    assert readings["tap_meter_ppm"] == pytest.approx(434 * 0.5 / 0.7)
    assert readings["product_l_min"] == pytest.approx(0.75 * 3.785411784)  # NIST SP 811 (from memory)
    html = text(client.get(at).text)
    assert "53.6 °F" in html
    assert re.search(r"should read 4[89] to 5[0-3] psi", html)
    assert "0.75 US gal/min" in html


def test_a_first_run_keeps_the_plant_it_was_begun_with(client: TestClient, book: Book) -> None:
    at = begin(client)
    without = re.sub(r"\[\[plant.product\]\]\npart = \"resin\".*?at_l_min = 8.0\n", "", DEMO, flags=re.DOTALL)
    book.save(SLUG, without, "Tern Quay yard", "resin taken out", 1)
    assert sent(client, at, "after_resin_meter_ppm", 0.0, "one")["kept"] is True
    assert "after_resin_meter_ppm" not in client.get(begin(client)).text


def test_what_is_not_there_is_not_found(client: TestClient, book: Book) -> None:
    at = begin(client)
    other = book.add_site(DEMO, "Other yard", "brought in").slug
    assert client.get(f"{HOME}/99").status_code == 404
    assert client.get(at.replace(SLUG, other)).status_code == 404
    assert client.post(f"{HOME}/99", data={"key": "drain_l_min", "client_id": "x", "value": "1"}).status_code == 404


def test_a_first_run_begun_without_signal_is_begun_once(client: TestClient, book: Book) -> None:
    at = datetime.now(UTC) - timedelta(hours=5)
    begun = {"begun": "on a phone", "begun_at": at.isoformat(), "temperature_c": "9.5", "running_bar": "3.9"}
    ats = {
        client.post(f"{HOME}/begun", data={**begun, "key": key, "value": str(value), "client_id": key}).json()["at"]
        for key, value in HEALTHY.items()
    }
    assert len(ats) == 1
    (run,) = book.first_runs(SLUG)
    assert (run.temperature_c, run.running_bar, run.begun_at) == (9.5, 3.9, at)
    assert book.readings(run.id) == HEALTHY
    answer = client.post(f"{HOME}/begun", data={**begun, "temperature_c": "900", "key": "drain_l_min", "value": "1"})
    assert answer.status_code == 422


def test_a_reading_that_fails_behind_its_beginning_is_sent_again_to_the_same(
    client: TestClient, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    reading = {"begun": "on a phone", "temperature_c": "9.5", "key": "drain_l_min", "value": "1", "client_id": "one"}

    def fails(*_: object) -> bool:
        raise MemoryError

    with monkeypatch.context() as patch:
        patch.setattr(book, "keep_reading", fails)
        with pytest.raises(MemoryError):
            client.post(f"{HOME}/begun", data=reading)
    assert client.post(f"{HOME}/begun", data=reading).json()["kept"] is True
    (run,) = book.first_runs(SLUG)
    assert book.readings(run.id) == {"drain_l_min": 1.0}
    other = book.add_site(DEMO, "Other yard", "brought in").slug
    answer = client.post(f"{HOME}/begun".replace(SLUG, other), data={**reading, "client_id": "two"})
    assert (answer.status_code, book.first_runs(other)) == (422, [])


def test_a_beginning_that_is_sent_twice_begins_once(client: TestClient, book: Book) -> None:
    found = re.search(r'name="form_id" value="([^"]+)"', client.get(HOME).text)
    assert found is not None
    for temperature in ("12", "12", "9"):
        client.post(HOME, data={"form_id": found[1], "temperature": temperature})
    assert [run.temperature_c for run in book.first_runs(SLUG)] == [12.0, 9.0]


def test_the_table_comes_with_the_page(client: TestClient) -> None:
    html = client.get(HOME).text
    address = re.search(r'data-table="([^"]+)"', html)
    assert address is not None
    table = client.get(address[1]).json()
    assert set(table["bands"]) == set(ORDER)
    assert len(table["bands"]["product_l_min"]) == len(table["temperature_c"])


def test_a_phones_clock_that_runs_ahead_is_not_believed() -> None:
    now = datetime.now(UTC)
    assert taken_at((now - timedelta(hours=3)).isoformat()) == now - timedelta(hours=3)
    for text_ in ((now + timedelta(days=2)).isoformat(), "yesterday", "", "2026-01-01T00:00:00"):
        assert abs(taken_at(text_) - now) < timedelta(seconds=5)


@pytest.mark.parametrize("scheme", ["light", pytest.param("dark", marks=pytest.mark.longer)])
def test_axe_finds_nothing_and_nothing_is_wider_than_a_small_phone(
    browser: Browser, book: Book, scheme: str, engine: Engine
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    book.begin_first_run(SLUG, 12.0, 4.0, None)
    for number, (key, value) in enumerate(HEALTHY.items()):
        if number < 4:
            book.keep_reading(1, key, value * 0.8, key, datetime.now(UTC))
    wrong: list[str] = []
    with served(book, engine=engine) as at:
        for width in (360, 1280):
            context = browser.new_context(viewport={"width": width, "height": 740}, color_scheme=scheme)  # type: ignore[arg-type]
            page = context.new_page()
            page.on("console", lambda message: wrong.append(message.text) if message.type == "error" else None)
            page.on("pageerror", lambda error: wrong.append(str(error)))
            for address in (HOME, f"{HOME}/1", "/offline"):
                page.goto(at + address, wait_until="networkidle")
                found = Axe().run(page)
                assert found.violations_count == 0, found.generate_report()
                assert page.evaluate("document.documentElement.scrollWidth") <= width
            context.close()
    assert not wrong
