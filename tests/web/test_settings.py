"""Units, meter, light and dark."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from rinsewright.papers.units import Units
from rinsewright.store.book import Book
from rinsewright.web.units import units_in

from .served import SLUG

ABROAD = {"temperature": "f", "pressure": "psi", "volume": "gal", "ppm_factor": "0,7"}


def test_it_works(client: TestClient, book: Book) -> None:
    answer = client.post("/settings", data=ABROAD)
    assert answer.status_code == 200
    assert "Saved." in answer.text
    assert units_in(book) == Units("f", "psi", "gal", 0.7)
    chosen = re.findall(r'name="(\w+)" value="(\w+)" checked', answer.text)
    assert dict(chosen) == {"temperature": "f", "pressure": "psi", "volume": "gal"}


@pytest.mark.parametrize(
    ("name", "value"), [("temperature", "k"), ("pressure", ""), ("ppm_factor", "7"), ("ppm_factor", "half")]
)
def test_what_is_wrong_is_refused_and_stays(client: TestClient, book: Book, name: str, value: str) -> None:
    answer = client.post("/settings", data={**ABROAD, name: value})
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert f"f-{name}-error" in answer.text
    if name == "ppm_factor":
        assert f'value="{value}"' in answer.text
    assert units_in(book) == Units()


def test_light_is_kept_in_a_cookie_and_leads_back(client: TestClient) -> None:
    answer = client.post("/settings/light", data={"light": "night", "from": "/start"}, follow_redirects=False)
    assert answer.headers["location"] == "/start"
    assert 'data-light="night"' in client.get("/start").text
    client.post("/settings/light", data={"light": "auto", "from": "/"})
    assert 'data-light="auto"' in client.get("/").text


@pytest.mark.parametrize("elsewhere", ["https://evil.example/", "//evil.example/", "/\\evil.example", ""])
def test_light_leads_nowhere_else(client: TestClient, elsewhere: str) -> None:
    answer = client.post("/settings/light", data={"light": "day", "from": elsewhere}, follow_redirects=False)
    assert answer.headers["location"] == "/"


def test_a_cookie_of_nonsense_is_taken_for_none(client: TestClient) -> None:
    client.cookies.set("light", "x")
    assert 'data-light="auto"' in client.get("/").text


def test_what_the_pages_say_of_measuring_is_told_in_the_chosen_units(client: TestClient, book: Book) -> None:
    for name, value in (("units.temperature", "f"), ("units.pressure", "psi"), ("units.volume", "gal")):
        book.set_setting(name, value)
    for page in ("/start", f"/sites/{SLUG}/start", f"/sites/{SLUG}/first-run"):
        text = re.sub(r"<[^>]*>", " ", client.get(page).text)
        assert re.findall(r"\d[\d.]*[ \u00a0](?:°C|bar|L(?:/min)?)\b", text) == [], page
