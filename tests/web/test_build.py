"""Build and unpacking on the phone: one step at a time, ticks that stay, nothing that the plant has not."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape

import pytest
from starlette.testclient import TestClient

from rinsewright.api import Site
from rinsewright.store.book import Book
from rinsewright.web.pages.build import step_keys

from ..building.plants import site_text
from .served import DEMO


def page(client: TestClient, address: str) -> str:
    answer = client.get(f"/sites/tern-quay-yard/{address}")
    assert answer.status_code == 200
    return unescape(answer.text)


def heading(html: str) -> str:
    found = re.search(r"<h1>(.*?)</h1>", html)
    assert found is not None
    return found.group(1)


def test_it_begins_with_the_first_step_and_goes_on_as_they_are_done(client: TestClient) -> None:
    steps = Site.loads(DEMO).build().steps
    for step, key in zip(steps, step_keys(steps), strict=True):
        html = page(client, "build")
        assert heading(html) == step.title
        for text in filter(None, (step.do, step.check, step.why, step.caution)):
            assert text in html
        assert html.count('class="drawing"') == 1
        answer = client.post("/sites/tern-quay-yard/build", data={"key": key, "step": "1", "done": "yes"})
        assert answer.status_code == 200
    html = page(client, "build")
    assert heading(html) == steps[-1].title
    assert f"{len(steps)} done" in html
    assert "Not done after all" in html


def test_a_step_that_is_not_done_after_all_comes_again(client: TestClient, book: Book) -> None:
    key = step_keys(Site.loads(DEMO).build().steps)[0]
    for done in ("yes", "no"):
        client.post("/sites/tern-quay-yard/build", data={"key": key, "step": "1", "done": done})
    assert book.ticks("tern-quay-yard", "build") == {key: False}
    assert heading(page(client, "build")) == "Unpack and tick off"


def test_any_step_can_be_looked_at_and_nonsense_shows_the_next(client: TestClient) -> None:
    steps = Site.loads(DEMO).build().steps
    assert heading(page(client, f"build?step={len(steps)}")) == steps[-1].title
    for nonsense in ("0", "999", "two", "-1"):
        assert heading(page(client, f"build?step={nonsense}")) == steps[0].title


@pytest.mark.parametrize("number", range(12))
def test_every_step_has_a_key_of_its_own_that_outlives_other_steps(number: int) -> None:
    steps = Site.loads(site_text(number)).build().steps
    keys = step_keys(steps)
    assert len(set(keys)) == len(keys)
    assert set(step_keys(steps[1:])) <= set(keys)


def test_every_row_can_be_ticked_and_stays(client: TestClient, book: Book) -> None:
    html = page(client, "unpacking")
    rows = re.findall(r'name="(tick [^"]+)"', html)
    sheet = Site.loads(DEMO).build()
    assert len(rows) == len(set(rows)) == len([i for i in sheet.items if i.needed]) + len(sheet.tools)
    client.post("/sites/tern-quay-yard/unpacking", data=dict.fromkeys(rows[:5], "on"))
    html = page(client, "unpacking")
    assert len(re.findall(r"<input type=\"checkbox\"[^>]* checked>", html)) == 5
    assert f"5 of {len(rows)} ticked" in html
    client.post("/sites/tern-quay-yard/unpacking", data=dict.fromkeys(rows[1:5], "on"))
    ticks = book.ticks("tern-quay-yard", "unpacking")
    assert {key for key, done in ticks.items() if done} == {row.removeprefix("tick ") for row in rows[1:5]}
    client.post("/sites/tern-quay-yard/unpacking", data=dict.fromkeys(rows, "on"))
    assert "All that this plant needs is there." in page(client, "unpacking")


def test_a_tick_stays_with_its_article_where_the_plant_changes(client: TestClient, book: Book) -> None:
    """A carbon cartridge in the place of the sediment one, a gauge of another size: neither gets the other's tick."""
    kept = "box: sediment cartridge: 10 in slim"
    was = ["order: tube: 12 mm", "order: also.gauge: push-fit 12 mm", kept]
    for number, key in enumerate([*was, "box: plant.feed[1]"]):  # the last one as a row was once ticked: by its place
        book.keep_tick("tern-quay-yard", "unpacking", key, True, f"a {number}", datetime(2026, 3, 1, tzinfo=UTC))
    ticked = r'name="tick ([^"]+)"[^>]* checked>'
    assert set(re.findall(ticked, page(client, "unpacking"))) == set(was)
    swapped = DEMO.replace('"sediment"', '"x"').replace('"carbon"', '"sediment"').replace('"x"', '"carbon"')
    changed = swapped.replace('"12 mm"', '"10 mm"')
    book.save("tern-quay-yard", changed, "Tern Quay yard", "swapped", 1)
    assert re.findall(ticked, page(client, "unpacking")) == [kept]


def test_what_is_not_needed_is_said_and_not_ticked(client: TestClient) -> None:
    html = page(client, "unpacking")
    assert "Taste filter" in html.partition("Not needed")[2]
    assert "kit[" not in "".join(re.findall(r'name="(tick [^"]+)"', html))


@pytest.mark.parametrize("address", ["build", "unpacking"])
def test_a_site_that_is_not_there_and_another_place_are_refused(client: TestClient, address: str) -> None:
    assert client.get(f"/sites/nowhere/{address}").status_code == 404
    foreign = {"origin": "https://elsewhere.example", "sec-fetch-site": "cross-site"}
    assert client.post(f"/sites/tern-quay-yard/{address}", data={"key": "x"}, headers=foreign).status_code == 403


def test_a_tick_of_a_step_that_is_not_there_keeps_nothing(client: TestClient, book: Book) -> None:
    for data in ({"done": "yes"}, {"done": "yes", "key": "Fit the pump plant.feed[9]"}):
        assert client.post("/sites/tern-quay-yard/build", data=data).status_code == 200
    assert book.ticks("tern-quay-yard", "build") == {}


def test_steps_and_rows_are_told_in_the_units_of_the_book(client: TestClient, book: Book) -> None:
    book.set_setting("units.pressure", "psi")
    book.set_setting("units.volume", "gal")
    steps = [client.get(f"/sites/tern-quay-yard/build?step={number}").text for number in range(1, 30)]
    assert any("Rated for 116 psi: never above." in step for step in steps)  # 8 bar
    assert any("172 US gal tank" in step for step in steps)  # 650 L
    assert "172 US gal" in client.get("/sites/tern-quay-yard/unpacking").text
