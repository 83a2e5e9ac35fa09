"""Five questions, the answer at once, and the same questions to refine it."""

from __future__ import annotations

import re
import tomllib
from html import unescape
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from rinsewright.api import Site
from rinsewright.errors import InputError, Problem
from rinsewright.store.book import Book

from .served import DEMO, SLUG

FIVE = {
    "meter": "280",
    "pressure": "3.4",
    "flow": "",
    "litres": "320",
    "coldest": "5",
    "has": "nothing",
    "name": "Mill Lane",
}


def started(client: TestClient, **changes: str) -> str:
    """The page one gets to after the five questions."""
    answer = client.post("/start", data={**FIVE, **changes})
    assert answer.status_code == 200
    return unescape(answer.text)


def toml(book: Book) -> str:
    return book.current("mill-lane").toml


def refined(client: TestClient, slug: str = "mill-lane", **changes: str) -> str:
    """The page after the questions were answered again with some of the answers changed."""
    html = client.get(f"/sites/{slug}/start").text
    form = html[html.index('class="questions"') :]
    fields = dict(re.findall(r'name="(\w+)" value="([^"]*)"', form))
    answer = client.post(f"/sites/{slug}/start", data={**fields, **changes})
    assert answer.status_code == 200, answer.text
    return unescape(answer.text)


def test_it_works(client: TestClient, book: Book) -> None:
    html = started(client)
    assert "Mill Lane" in html
    assert 'class="digits">0.77</span> <span class="of">L/min' in html
    assert "On the coldest day, 5 °C, it makes 0.8 L/min" in html
    assert "The flow at which you read the pressure" in html
    assert 'data-load="/sites/mill-lane/start/whole"' in html
    assert Site.loads(toml(book)).name == "Mill Lane"


def test_the_page_fetches_the_rest_as_a_fragment(client: TestClient) -> None:
    started(client)
    fragment = client.get("/sites/mill-lane/start/whole", headers={"X-Fragment": "answer"}).text
    assert fragment.strip().startswith('<div id="answer"')
    assert "<html" not in fragment
    assert "data-load" not in fragment
    assert "Nothing stops it" in fragment
    assert "data-load" not in client.get("/sites/mill-lane/start").text


@pytest.mark.parametrize(
    ("name", "value"),
    [("meter", ""), ("meter", "many"), ("meter", "-3"), ("pressure", "99"), ("litres", "0"), ("coldest", "80"),
     ("has", "what"), ("flow", "x"), ("litres", "50000")],
)  # fmt: skip
def test_what_is_wrong_is_refused_and_all_that_was_typed_stays(
    client: TestClient, book: Book, name: str, value: str
) -> None:
    typed = {**FIVE, "litres": "321", name: value}
    answer = client.post("/start", data=typed)
    assert answer.status_code == 422
    html = unescape(answer.text)
    assert f'id="f-{name}-error" role="alert"' in html
    for field in ("meter", "pressure", "flow", "litres", "coldest", "name"):
        assert f'name="{field}" value="{typed[field]}"' in html
    assert len(book.sites()) == 1


def test_answers_that_no_site_file_takes_come_back_to_the_form(
    client: TestClient, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(answers: object) -> str:
        raise InputError(Problem("75000 is not plausible; give 1 to 50000", key="plant.product[3].litres"))

    monkeypatch.setattr("rinsewright.web.pages.start.start_site", refuse)
    answer = client.post("/start", data=FIVE)
    assert answer.status_code == 422
    assert "75000 is not plausible" in answer.text
    assert 'name="meter" value="280"' in answer.text
    assert len(book.sites()) == 1


def test_elements_are_counted_in_whole_numbers(client: TestClient, book: Book) -> None:
    answer = client.post("/start", data={**FIVE, "has": "elements", "elements": "1.5", "size": "4040"})
    assert answer.status_code == 422
    assert "“1.5” is not a whole number; give one from 1 to 12." in unescape(answer.text)
    started(client)
    answer = client.post("/sites/mill-lane/start", data={"made_from": "1", "meter": "280", "pressure": "3.4",
                                                         "litres": "320", "elements": "1.5"})  # fmt: skip
    assert answer.status_code == 422
    assert len(book.versions("mill-lane")) == 1


def test_where_an_analysis_rules_the_meter_says_so(client: TestClient, book: Book) -> None:
    before = client.get(f"/sites/{SLUG}/start").text
    assert "by it the meter should read 311" in before
    assert "Yours differs" not in before
    html = refined(client, SLUG, meter="60")
    assert "Yours differs by 251" in html
    assert book.current(SLUG).what == "answers refined: meter reading (held against the analysis)"
    started(client)
    assert "analysis, and the answer rests" not in client.get("/sites/mill-lane/start").text


def test_what_is_there_is_asked_further(client: TestClient, book: Book) -> None:
    assert client.post("/start", data={**FIVE, "has": "elements", "elements": "0", "size": "4040"}).status_code == 422
    assert client.post("/start", data={**FIVE, "has": "elements", "elements": "2", "size": "x"}).status_code == 422
    assert client.post("/start", data={**FIVE, "has": "tank", "tank": ""}).status_code == 422
    started(client, has="elements", elements="2", size="4040")
    assert toml(book).count("[[plant.membranes]]") == 2


def test_resin_alone_is_answered_by_what_one_fill_cleans(client: TestClient) -> None:
    html = started(client, has="resin", resin="25")
    assert "from one fill of resin" in html
    assert "data-load" not in html


def test_answers_are_read_in_the_users_units(client: TestClient, book: Book) -> None:
    for key, value in (("temperature", "f"), ("pressure", "psi"), ("volume", "gal"), ("ppm_factor", "0.7")):
        book.set_setting(f"units.{key}", value)
    html = started(client, meter="392", pressure="49.3", litres="84.5", coldest="41", flow="2.64")
    made = tomllib.loads(toml(book))
    assert made["water"]["field"] == {"meter_ppm": 392, "meter_factor": 0.7}
    assert made["water"]["season"]["coldest_c"] == pytest.approx(5.0)
    assert made["supply"]["flowing"][0]["pressure_bar"] == pytest.approx(3.4, rel=1e-3)
    assert made["demand"]["litres_per_day"]["mon"] == pytest.approx(320, rel=1e-3)
    assert "On the coldest day, 41 °F" in html
    assert "psi" in html
    before = book.current("mill-lane").number
    refined(client)
    assert book.current("mill-lane").number == before  # showing and sending back changes nothing


def test_a_better_answer_changes_that_alone_and_keeps_every_remark(client: TestClient, book: Book) -> None:
    started(client)
    before = toml(book).splitlines()
    html = refined(client, flow="6", litres="400")
    after = toml(book).splitlines()
    gone = [line for line in before if line not in after]
    come = [line for line in after if line not in before]
    assert [line.partition(" =")[0] for line in gone] == ["flowing", "litres_per_day"]
    assert come[0] == "flowing = [{ flow_l_min = 6, pressure_bar = 3.4 }]"
    assert "mon = 400" in come[1]
    assert "guessed" in come[1]
    assert "answers refined: flow of the running test, litres a day" in html
    assert "The flow at which you read the pressure" not in html


def test_a_guess_that_is_answered_is_none_any_more(client: TestClient, book: Book) -> None:
    started(client, coldest="")
    assert "coldest_c = 5  # guessed" in toml(book)
    refined(client, coldest="4")
    assert "coldest_c = 4\n" in toml(book)


def test_elements_resin_and_tank_are_changed_in_place(client: TestClient, book: Book) -> None:
    started(client)
    refined(client, elements="3", resin="11", tank="650")
    made = Site.loads(toml(book)).document.model.plant
    assert made is not None
    assert len(made.membranes) == 3
    assert {part.part: part.litres for part in made.product if part.part in ("resin", "tank")} == {
        "resin": 11,
        "tank": 650,
    }
    refined(client, elements="1")
    assert toml(book).count("[[plant.membranes]]") == 1


def test_the_demo_is_refined_with_its_comments_and_its_analysis(client: TestClient, book: Book) -> None:
    refined(client, SLUG, meter="310", coldest="4")
    after = book.current(SLUG).toml
    assert after == DEMO.replace("meter_ppm = 305", "meter_ppm = 310").replace("coldest_c = 5.0", "coldest_c = 4")


def test_days_that_differ_keep_their_proportion(client: TestClient, book: Book) -> None:
    book.save(SLUG, DEMO.replace("mon = 320, tue = 320", "mon = 400, tue = 240"), "Tern Quay yard", "other days", 1)
    refined(client, SLUG, litres="160")
    days = tomllib.loads(book.current(SLUG).toml)["demand"]["litres_per_day"]
    assert days == {"mon": 200, "tue": 120, "wed": 160, "thu": 160, "fri": 160, "sat": 0, "sun": 0}


def test_what_does_not_go_together_is_said_and_stays(client: TestClient, book: Book) -> None:
    typed = {"made_from": "1", "meter": "305", "pressure": "9", "litres": "320", "coldest": "5", "elements": "2",
             "resin": "7", "tank": "650"}  # fmt: skip
    answer = client.post(f"/sites/{SLUG}/start", data=typed)
    assert answer.status_code == 422
    assert "above the standing pressure" in unescape(answer.text)
    assert 'id="f-pressure-error" role="alert"' in answer.text
    assert 'name="pressure" value="9"' in answer.text
    assert len(book.versions(SLUG)) == 1


def test_who_saves_second_is_told_and_writes_nothing(client: TestClient, book: Book) -> None:
    started(client)
    old = {"made_from": "1", "meter": "280", "pressure": "3.4", "litres": "320", "coldest": "5", "elements": "1",
           "resin": "7", "tank": "500"}  # fmt: skip
    refined(client, litres="400")
    answer = client.post("/sites/mill-lane/start", data={**old, "litres": "500"})
    assert answer.status_code == 409
    assert "was changed meanwhile" in unescape(answer.text)
    assert len(book.versions("mill-lane")) == 2
    assert 'name="litres" value="500"' in answer.text
    assert 'name="made_from" value="2"' in answer.text


def test_a_plant_without_a_working_state_is_told_and_can_be_mended(client: TestClient, book: Book) -> None:
    html = started(client, pressure="0.1", has="elements", elements="1", size="4040")
    assert 'class="questions"' in html
    assert 'class="first alarm"' in html or "Stop" in html
    assert "On the coldest day" in refined(client, pressure="4")


TESTS = Path(__file__).parents[1]
ALL_SITES = sorted(
    [*TESTS.joinpath("cases", "sites").glob("*.toml"), *TESTS.joinpath("papers", "plants").glob("*.toml")]
)


@pytest.mark.parametrize("file", ALL_SITES, ids=lambda file: file.stem)
def test_any_site_has_an_answer_or_a_reason_and_sending_it_back_changes_nothing(
    client: TestClient, book: Book, file: Path
) -> None:
    text = file.read_text(encoding="utf-8")
    slug = book.add_site(text, "A yard", "brought in").slug
    html = client.get(f"/sites/{slug}/start").text
    assert ('class="digits"' in html) != ('class="first alarm"' in html)
    refined(client, slug)
    assert book.current(slug).toml == text
    refined(client, slug, coldest="3")
    after = Site.loads(book.current(slug).toml).document.model.water
    assert after is not None
    assert after.season is not None
    assert after.season.coldest_c in (3.0, None)  # None: the season is told in another way


def test_a_site_of_which_only_the_water_is_known_says_what_it_lacks(client: TestClient, book: Book) -> None:
    slug = book.add_site(DEMO[: DEMO.index("[supply]")], "Water only", "brought in").slug
    html = unescape(client.get(f"/sites/{slug}/start").text)
    assert "[supply]" in html
    assert "What does your meter read at the tap?" in html
    assert "What pressure is left" not in html
    without_demand = DEMO[: DEMO.index("[demand]")] + DEMO[DEMO.index("[plant]") :]
    slug = book.add_site(without_demand, "No demand", "brought in").slug
    assert client.get(f"/sites/{slug}/start").status_code == 200
