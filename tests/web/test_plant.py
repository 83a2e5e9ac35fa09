"""Plant: the drawing follows the sliders, what is wrong stands at its part, and every part can be changed."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from functools import partial
from html import unescape
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from playwright.sync_api import Browser, Page
from pydantic import BaseModel
from starlette.testclient import TestClient

from rinsewright.api import Site
from rinsewright.catalogue import parts as models
from rinsewright.papers.units import Units
from rinsewright.papers.words import number
from rinsewright.planning.points import at_its_points, at_one_point
from rinsewright.planning.verdicts import judge
from rinsewright.planning.verdicts.word import Verdict
from rinsewright.site.schema import Demand, PlantTable, SupplyTable
from rinsewright.store.book import Book
from rinsewright.web.app import make_app
from rinsewright.web.editing import edited
from rinsewright.web.engine import Engine
from rinsewright.web.lines import LINES, put_in, repeat, take_out
from rinsewright.web.pages.parts import kinds, said
from rinsewright.web.pages.plant import findings_of, moved_to, plant_of, tags_in
from rinsewright.web.tables import form_of

from ..papers.opened import assert_axe_finds_nothing, assert_nothing_scrolls_sideways
from .served import DEMO, SLUG, served

SITES = sorted((Path(__file__).parents[1] / "cases" / "sites").glob("*.toml"))
SOME = [pytest.param(file, marks=() if place % 4 == 0 else pytest.mark.longer) for place, file in enumerate(SITES)]
SAME = {"origin": "http://testserver", "sec-fetch-site": "same-origin"}
AT = f"/sites/{SLUG}/plant"
PART = {"part": "tube", "bore_mm": 9.5, "deep": {"a": 1}, "rows": [{"a": 1}, {"a": 2}]}


def html(client: TestClient, address: str = "", status: int = 200, fragments: str = "") -> str:
    answer = client.get(f"{AT}{address}", headers={"x-fragment": fragments} if fragments else {})
    assert answer.status_code == status
    return unescape(answer.text)


def current(book: Book) -> dict[str, Any]:
    return tomllib.loads(book.current(SLUG).toml)


def fields(page: str) -> dict[str, str]:
    """What the form of a part would send, as it stands."""
    form = page.partition('<form method="post" action="/sites/')[2]
    form = page[page.index('name="made_from"') - 400 :].partition("</form>")[0] if form else page
    found = dict(re.findall(r'<input(?: type="hidden")?(?: id="[^"]+")? name="([^"]+)" value="([^"]*)"', form))
    found |= dict(re.findall(r'<input type="radio" name="([^"]+)" value="([^"]*)" checked', form))
    for name, options in re.findall(r'<select id="f-[^"]+" name="([^"]+)".*?>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        found[name] = chosen.group(1) if chosen else ""
    return found


# ---- the drawing and the sliders ----


def test_the_page_says_what_the_engine_says(client: TestClient) -> None:
    answer = Site.loads(DEMO).solve()
    page = html(client)
    assert f"It makes {answer['product']['flow_l_min']:.1f}\N{NO-BREAK SPACE}L/min" in page
    assert f"{answer['drain']['flow_l_min']:.1f}\N{NO-BREAK SPACE}L/min go to the drain" in page


@pytest.mark.parametrize(("temperature", "pressure"), [(3.0, 2.0), (19.0, 4.2), (25.0, 6.0)])
def test_moving_a_slider_asks_the_engine(client: TestClient, temperature: float, pressure: float) -> None:
    answer = Site.loads(DEMO).solve(temperature, pressure)
    asked = f"?temperature={temperature}&pressure={pressure}"
    page = html(client, asked, fragments="answer tall parts")
    assert f"It makes {number(answer['product']['flow_l_min'])}" in page
    assert f">{number(answer['product']['flow_l_min'] / 2)}</text>" in page  # beside each of two membranes
    assert "<html" not in page
    assert 'id="wide"' not in page


def test_the_sliders_speak_the_users_units(book: Book, client: TestClient) -> None:
    book.set_setting("units.temperature", "f")
    book.set_setting("units.pressure", "psi")
    book.set_setting("units.volume", "gal")
    book.set_setting("units.ppm_factor", "0.7")
    solved = Site.loads(DEMO).solve(10.0, 4.0)
    page = html(client, "?temperature=50&pressure=58.0151")
    assert "50\N{NO-BREAK SPACE}°F" in page
    assert "58\N{NO-BREAK SPACE}psi" in page
    gallons = solved["product"]["flow_l_min"] / 3.785411784
    assert f"It makes {gallons:.2f}\N{NO-BREAK SPACE}US gal/min" in page
    assert f">{solved['feed']['meter_ppm'] * 1.4:.0f}</text>" in page


def test_a_short_day_is_told_in_minutes(client: TestClient, book: Book) -> None:
    made = Site.loads(DEMO).solve()["product"]["flow_l_min"]
    book.save(SLUG, DEMO.replace("= 320", "= 60"), "Tern Quay yard", "little work", 1)
    assert f"take {number(60 / made)} minutes." in html(client)


def test_tags_round_once() -> None:
    tag = tags_in(Units(pressure="psi", ppm_factor=0.64), 0.5)(pressure_bar=3.449, meter_ppm=14.4)
    assert [(one.number, one.unit) for one in tag.readings] == [("50", "psi"), ("18", "ppm")]


def test_a_slider_says_its_pressure_as_the_tags_do(client: TestClient) -> None:
    (said,) = re.findall(r'<output for="s-pressure"[^>]*>([^<]+)<', html(client, "?pressure=12.3"))
    assert said == Units().say("pressure", 12.3)


def test_what_cannot_be_typed_into_a_slider_shows_today(client: TestClient) -> None:
    assert "It makes 2.9" in html(client, "?temperature=hot&pressure=900")


def test_a_place_without_a_working_state_says_which_part_stops_it(client: TestClient) -> None:
    page = html(client, "?pressure=0.2")
    assert "It cannot run like this." in page
    assert "Automatic shut-off stays closed" in page
    assert "plant.product" not in page.partition("stays closed")[2][:200]
    listed = page.partition('class="parts"')[2]
    assert "It cannot run like this" in listed.partition("Automatic shut-off")[2].partition("</ul>")[0]
    assert ">stop</text>" in page


def test_a_plant_that_passes_a_rating_is_drawn_with_its_reason(book: Book, client: TestClient) -> None:
    book.save(SLUG, DEMO.replace("rated_bar = 8.0", "rated_bar = 3.0", 1), "Tern Quay yard", "spoilt", 1)
    page = html(client)
    assert "It cannot run like this." in page
    assert "The sediment cartridge is made for 3 bar" in page.partition('id="why"')[2].partition("</div>")[0]
    assert ">stop</text>" in page


PARTS = "worst parts"
LOW = "?temperature=12&pressure=1.4"
COLD = {"water enough in the cold", "pressure at the membranes", "other scale at the drain end"}
WARM = {"purity", "what passes the membranes", "share that becomes product", "lime scale at the drain end"}


def test_a_low_pressure_is_judged_at_the_membranes_and_back_all_is_the_plans(client: TestClient) -> None:
    saved = html(client, "?judged=yes", fragments=PARTS)
    assert "Pressure at the membranes" not in saved
    assert "About the year, as saved" not in saved
    low = html(client, LOW, fragments=PARTS)
    first = low.partition("<b>Membrane element 1</b>")[2].partition("<b>Membrane element 2</b>")[0]
    assert "Pressure at the membranes" in first
    assert "bar while running like this" in first
    assert "Fit a booster pump" in first
    assert 'href="#part-plant.membranes%5B0%5D"' in low  # the worst, said at the sliders
    starts = low.partition(">Starts<")[2].partition("</li>")[0]
    assert "About the year, as saved" in starts
    assert "67 times a working day" in starts
    assert html(client, "?temperature=12&pressure=4.2", fragments=PARTS) == saved


def test_the_form_without_script_judges_the_same_before_the_plan_is_made(new_client: TestClient) -> None:
    page = html(new_client, LOW)
    assert "Fit a booster pump" in page
    assert ">stop</text>" in page
    assert f'href="{AT}?judged=yes&temperature=12&pressure=1.4"' in page  # the year, without losing the place
    assert "Starts" not in page
    assert "Fit a booster pump" not in html(new_client)


def test_a_state_is_judged_as_the_plan_judges_it() -> None:
    start = at_its_points(SITE.document, SITE.plant, SITE.tap)
    plans = {one.what: one for one in judge(start, ["state"])}
    today = set(plans) - COLD - WARM - {"automatic shut-off"}  # which the plan asks at all three
    for point, subjects in ((start.today, today), (start.coldest, COLD), (start.warmest, WARM)):
        assert point.solved is not None
        found = judge(at_one_point(SITE.document, SITE.tap, point.solved, point.when), ["state"])
        assert {one.what: one for one in found if one.what in subjects} == {what: plans[what] for what in subjects}


def test_what_is_found_speaks_the_users_units(book: Book, client: TestClient) -> None:
    book.set_setting("units.pressure", "psi")
    page = html(client, "?pressure=20", fragments=PARTS)
    assert "water of 12\N{NO-BREAK SPACE}°C and 20\N{NO-BREAK SPACE}psi" in page
    assert re.search(r"They get \d\d psi while running", page)


@pytest.mark.parametrize(
    ("asked", "moved"), [(None, None), (4.2, None), (4.25, None), (4.15, None), (4.3, 4.3), (0.0, 0.0)]
)
def test_the_slider_stands_where_the_site_has_it_to_half_a_step(asked: float | None, moved: float | None) -> None:
    assert moved_to(Units(), "pressure", asked, 4.2) == moved


def test_verdicts_come_with_the_plan_and_stand_at_their_part(new_client: TestClient) -> None:
    assert "See what is wrong, and where" in html(new_client)
    page = html(new_client, "?judged=yes")
    tank = page.partition('class="parts"')[2].partition("<b>Tank</b>")[2].partition("<b>Brush</b>")[0]
    assert "The plant starts about" in tank
    assert "Fill only while nobody draws" in tank
    assert ">look</text>" in page
    assert "The plant starts about" in html(new_client)  # known from then on
    assert "The plant starts about" in html(new_client, "/plant.product%5B4%5D")


@pytest.mark.parametrize("file", SOME, ids=lambda file: file.stem)
def test_every_plant_is_drawn_with_a_link_at_every_part(tmp_path: Path, file: Path) -> None:
    book = Book.open(tmp_path / "book.sqlite")
    text = file.read_text(encoding="utf-8")
    slug = book.add_site(text, "here", "brought in").slug
    client = TestClient(make_app(book, hosts=["testserver"]), headers=SAME)
    page = client.get(f"/sites/{slug}/plant").text
    plant = Site.loads(text).plant
    tall = page.partition('id="tall"')[2].partition("</figure>")[0]
    links = re.findall(r'<a class="touch" href="([^"]+)"', tall)
    many = len((*plant.feed, *plant.elements, *plant.product)) + (len(plant.drain) if plant.stages else 0) + 2
    assert len(links) == len(set(links)) == many
    for link in links:
        answer = client.get(link)
        assert answer.status_code == 200
        assert "style=" not in answer.text
    book.close()


@pytest.mark.parametrize(
    ("key", "place"),
    [
        ("supply.flowing", "supply"),
        ("water.ions_mg_l.Fe", "supply"),
        ("plant.drain", "plant.drain[0]"),
        ("plant.product", "plant.product[0]"),
        ("plant.feed", "plant.feed[2]"),
        ("plant.membranes[1]", "plant.membranes[1]"),
        ("demand.vans", "brush"),
        ("", ""),
    ],
)
def test_every_key_of_a_verdict_has_its_place(key: str, place: str) -> None:
    found = findings_of([Verdict("it", "look", "so", "do", key), Verdict("it", "fine", "so", "", key)], plant_of(SITE))
    assert {at: len(those) for at, those in found.items()} == {place: 1}


SITE = Site.loads(DEMO)


# ---- the forms of the parts ----


@pytest.mark.parametrize("model", [SupplyTable, Demand, PlantTable, models.Membrane, *kinds("feed").values()])
def test_a_form_has_every_key_of_its_model(model: type[BaseModel]) -> None:
    form = form_of(model, {}, Units())
    tops = {str(field.path[0]) for field in form.all_fields()}
    is_tag = model is not models.Membrane
    keys = {name for name in model.model_fields if not (is_tag and name == "part")}
    assert keys - tops <= {"feed", "drain", "product"}


@pytest.mark.parametrize("line", ["feed", "drain", "product"])
def test_every_kind_of_part_has_its_word(line: str) -> None:
    told = [said(kind) for kind in kinds(line)]
    assert len(set(told)) == len(told) > 2


def test_a_field_says_its_unit_its_meaning_and_what_holds_while_it_is_empty(client: TestClient) -> None:
    page = html(client, "/plant.membranes%5B0%5D")
    assert 'value="7.2"' in page
    assert ">m²</span>" in page
    assert "Left empty, 2700 K is taken." in page
    assert "Thickness of the feed spacer." in page


@pytest.mark.parametrize(
    "key",
    ["supply", "plant", *(f"plant.{line}[{n}]" for line in LINES for n in range({"drain": 1}.get(line, 2)))],
)
def test_saving_what_stands_there_changes_nothing(client: TestClient, book: Book, key: str) -> None:
    sent = fields(html(client, f"/{key}"))
    assert len(sent) >= 3
    assert client.post(f"{AT}/{key}", data=sent).status_code == 200
    assert book.current(SLUG).number == 1


def test_the_same_in_other_units(client: TestClient, book: Book) -> None:
    for name, value in (("temperature", "f"), ("pressure", "psi"), ("volume", "gal")):
        book.set_setting(f"units.{name}", value)
    for key in ("supply", "plant.membranes[0]", "plant.drain[0]", "plant.product[4]", "plant.feed[1]"):
        client.post(f"{AT}/{key}", data=fields(html(client, f"/{key}")))
    assert book.current(SLUG).number == 1


def test_a_change_keeps_comments_and_says_what_it_was(client: TestClient, book: Book) -> None:
    sent = fields(html(client, "/plant.drain%5B0%5D")) | {"flow_l_min": "2,4"}
    client.post(f"{AT}/plant.drain%5B0%5D", data=sent)
    version = book.current(SLUG)
    assert version.toml == DEMO.replace("flow_l_min = 3.0\nat_bar", "flow_l_min = 2.4\nat_bar")
    assert version.what == "Drain restrictor: flow, 3 to 2.4"


def test_a_value_is_read_in_the_users_unit(client: TestClient, book: Book) -> None:
    book.set_setting("units.pressure", "psi")
    sent = fields(html(client, "/supply")) | {"standing_bar": "58.0151"}
    client.post(f"{AT}/supply", data=sent)
    assert current(book)["supply"]["standing_bar"] == pytest.approx(4.0, rel=1e-4)


def test_a_default_is_not_written_and_an_emptied_field_is_taken_out(client: TestClient, book: Book) -> None:
    sent = fields(html(client, "/plant.product%5B3%5D")) | {"usable_share": "", "vessels": "2"}
    client.post(f"{AT}/plant.product%5B3%5D", data=sent)
    resin = current(book)["plant"]["product"][3]
    assert resin == {"part": "resin", "litres": 7.0, "drop_bar": 0.1, "at_l_min": 8.0, "vessels": 2}


def test_rows_grow_and_shrink(client: TestClient, book: Book) -> None:
    sent = fields(html(client, "/supply"))
    sent |= {"flowing.0.flow_l_min": "", "flowing.0.pressure_bar": "", "flowing.2.flow_l_min": "15"}
    page = client.post(f"{AT}/supply", data=sent)
    assert page.status_code == 422  # a flow without its pressure
    client.post(f"{AT}/supply", data=sent | {"flowing.2.pressure_bar": "2.9"})
    assert current(book)["supply"]["flowing"] == [
        {"flow_l_min": 12.0, "pressure_bar": 3.4},
        {"flow_l_min": 15, "pressure_bar": 2.9},
    ]


def test_a_table_within_is_changed_in_place(client: TestClient, book: Book) -> None:
    sent = fields(html(client, "/plant.membranes%5B1%5D")) | {"rated.product_l_h": "280"}
    client.post(f"{AT}/plant.membranes%5B1%5D", data=sent)
    assert [one["rated"]["product_l_h"] for one in current(book)["plant"]["membranes"]] == [300, 280]


@pytest.mark.parametrize(
    ("key", "typed", "sentence"),
    [
        ("plant.drain%5B0%5D", {"flow_l_min": "lots"}, "“lots” is not a number"),
        ("plant.drain%5B0%5D", {"flow_l_min": "5000"}, "This is not plausible; give 0 to 100 L/min."),
        ("plant.drain%5B0%5D", {"flow_l_min": ""}, "missing"),
        ("plant.product%5B1%5D", {"reopens_at_ratio": "0.9"}, "reopens"),
        ("plant.membranes%5B0%5D", {"installed": "yesterday"}, "is not a date"),
    ],
)
def test_a_refusal_stands_at_its_field_and_keeps_what_was_typed(
    client: TestClient, book: Book, key: str, typed: dict[str, str], sentence: str
) -> None:
    sent = fields(html(client, f"/{key}")) | typed
    answer = client.post(f"{AT}/{key}", data=sent)
    assert answer.status_code == 422
    page = unescape(answer.text)
    name, value = next(iter(typed.items()))
    error = page.partition(f'id="f-{name}-error"')[2].partition("</p>")[0]
    assert sentence in error
    assert f'name="{name}" value="{value}"' in page
    assert book.current(SLUG).number == 1


def test_somebody_else_saved_first(client: TestClient, book: Book) -> None:
    sent = fields(html(client, "/plant.drain%5B0%5D")) | {"flow_l_min": "2.5"}
    book.save(SLUG, DEMO.replace("litres = 7.0", "litres = 8.0"), "Tern Quay yard", "meanwhile", 1)
    answer = client.post(f"{AT}/plant.drain%5B0%5D", data=sent)
    assert answer.status_code == 409
    assert 'name="flow_l_min" value="2.5"' in answer.text
    assert book.current(SLUG).number == 2
    client.post(f"{AT}/plant.drain%5B0%5D", data=fields(unescape(answer.text)))  # told, and sent once more
    assert (current(book)["plant"]["drain"][0]["flow_l_min"], current(book)["plant"]["product"][3]["litres"]) == (
        2.5,
        8.0,
    )


def test_half_a_vessel_is_refused(client: TestClient, book: Book) -> None:
    resin = next(n for n, part in enumerate(current(book)["plant"]["product"]) if part["part"] == "resin")
    sent = fields(html(client, f"/plant.product%5B{resin}%5D")) | {"vessels": "1.5"}
    answer = client.post(f"{AT}/plant.product%5B{resin}%5D", data=sent)
    assert answer.status_code == 422
    assert "is not a whole number; give one from 1 to" in answer.text
    assert book.current(SLUG).number == 1


def test_a_part_is_found_again_where_others_came_or_went_before_it(client: TestClient, book: Book) -> None:
    """One tab has the resin open, another takes the check valve out: the resin is changed, and nothing else."""
    resin = next(n for n, part in enumerate(current(book)["plant"]["product"]) if part["part"] == "resin")
    sent = fields(html(client, f"/plant.product%5B{resin}%5D")) | {"litres": "11"}
    client.post(f"{AT}/plant.product%5B0%5D/take-out", data={"made_from": "1"})
    answer = client.post(f"{AT}/plant.product%5B{resin}%5D", data=sent)
    assert answer.status_code == 409
    action = re.search(r'<form method="post" action="([^"]+product[^"]+)"', answer.text)
    assert action is not None
    client.post(unescape(action[1]), data=fields(unescape(answer.text)))
    product = {part["part"]: part.get("litres") for part in current(book)["plant"]["product"]}
    assert "check" not in product
    assert (product["resin"], product["tank"]) == (11, 650)


def test_a_part_that_somebody_else_changed_or_took_out_is_not_written(client: TestClient, book: Book) -> None:
    product = current(book)["plant"]["product"]
    last = len(product) - 1
    sent = fields(html(client, f"/plant.product%5B{last}%5D")) | {"litres": "300"}
    client.post(f"{AT}/plant.product%5B{last}%5D/take-out", data={"made_from": "1"})
    answer = client.post(f"{AT}/plant.product%5B{last}%5D", data=sent)
    assert answer.status_code == 409
    assert "taken out meanwhile" in answer.text
    assert book.current(SLUG).number == 2


@pytest.mark.parametrize(
    "key", ["nonsense", "plant.feed[99]", "plant.prices[0]", "plant.feed[x]", "site", "plant.feed"]
)
def test_what_is_not_there_is_not_found(client: TestClient, key: str) -> None:
    html(client, f"/{key}", 404)
    assert client.post(f"{AT}/{key}/take-out", data={}).status_code == 404
    assert client.get(f"{AT}/plant.feed[0]/after?kind=shutoff").status_code == 404


# ---- parts that come and go ----


@pytest.mark.parametrize("file", SOME, ids=lambda file: file.stem)
def test_parts_come_and_go_at_every_place_and_comments_stay(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    comments = [line for line in text.splitlines() if line.startswith("#")]
    for line in LINES:
        path = ("plant", line)
        many = len(tomllib.loads(text)["plant"].get(line, []))
        for index in range(many + 1):
            wanted = tomllib.loads(text)
            wanted["plant"].setdefault(line, []).insert(index, PART)
            assert_same(edited(text, partial(put_in, path=path, index=index, keys=PART)), wanted, comments)
        for index in range(many):
            wanted = tomllib.loads(text)
            wanted["plant"][line].insert(index, wanted["plant"][line][index])
            assert_same(edited(text, partial(repeat, path=path, index=index)), wanted, comments)
            wanted = tomllib.loads(text)
            del wanted["plant"][line][index]
            if many == 1:
                del wanted["plant"][line]
            assert_same(edited(text, partial(take_out, path=path, index=index)), wanted, comments)


def assert_same(text: str, wanted: dict[str, Any], comments: list[str]) -> None:
    assert tomllib.loads(text) == wanted
    assert [line for line in text.splitlines() if line.startswith("#")] == comments


def test_lists_written_in_braces_are_edited_too() -> None:
    document = tomlkit.parse('[plant]\nfeed = [{ part = "check" }, { part = "tube", bore_mm = 9 }]\n')
    put_in(document, ("plant", "feed"), 1, PART)
    take_out(document, ("plant", "feed"), 0)
    assert tomllib.loads(tomlkit.dumps(document)) == {"plant": {"feed": [PART, {"part": "tube", "bore_mm": 9}]}}


def test_a_part_is_put_in_after_another(client: TestClient, book: Book) -> None:
    page = html(client, "/plant.feed%5B0%5D/after?kind=check")
    client.post(f"{AT}/plant.feed%5B0%5D/after", data=fields(page) | {"crack_bar": "0.05"})
    assert current(book)["plant"]["feed"][1] == {"part": "check", "crack_bar": 0.05}
    assert book.current(SLUG).what == "put in: check valve"


def test_a_new_part_can_be_a_size_of_the_catalogue(client: TestClient, book: Book) -> None:
    page = html(client, "/supply/after?kind=tube")
    size = next(name for name in re.findall(r'<option value="([^"]+)">', page))
    client.post(f"{AT}/supply/after", data=fields(page) | {"size": size, "length_m": "2"})
    assert current(book)["plant"]["feed"][0] == {"part": "tube", "size": size, "length_m": 2}
    assert "from the catalogue" in html(client, "/plant.feed%5B0%5D")


def test_a_new_part_that_is_not_whole_says_what_is_missing_at_its_field(client: TestClient, book: Book) -> None:
    page = html(client, "/supply/after?kind=tube")
    answer = client.post(f"{AT}/supply/after", data=fields(page) | {"length_m": "3"})
    assert answer.status_code == 422
    assert "missing" in answer.text.partition('id="f-bore_mm-error"')[2].partition("</p>")[0]
    assert 'name="length_m" value="3"' in answer.text
    assert book.current(SLUG).number == 1


def test_an_element_more_and_a_part_less(client: TestClient, book: Book) -> None:
    client.post(f"{AT}/plant.membranes%5B1%5D/again", data={"made_from": "1"})
    assert len(current(book)["plant"]["membranes"]) == 3
    client.post(f"{AT}/plant.product%5B0%5D/take-out", data={"made_from": "2"})
    assert [part["part"] for part in current(book)["plant"]["product"]] == ["shutoff", "lift", "resin", "tank"]
    assert book.current(SLUG).what == "taken out: Check valve"
    client.post(f"/sites/{SLUG}/undo", data={})
    assert current(book)["plant"]["product"][0]["part"] == "check"


def test_a_part_is_put_at_the_head_of_a_line(client: TestClient, book: Book) -> None:
    page = html(client, "/plant")
    for line, kind in (("product", "tube"), ("drain", "flush"), ("membranes", "")):
        assert f'action="{AT}/plant.{line}/after"' in page
        sent = fields(html(client, f"/plant.{line}/after?kind={kind}")) | {
            "litres": "4",
            "bore_mm": "9",
            "length_m": "0.9",
        }
        size = re.search(r'<option value="([^"]+)"', html(client, f"/plant.{line}/after?kind={kind}"))
        if line == "membranes" and size is not None:
            sent = fields(html(client, f"/plant.{line}/after")) | {"part": size[1]}
        answer = client.post(f"{AT}/plant.{line}/after", data=sent)
        assert answer.status_code == 200, answer.text
    plant = current(book)["plant"]
    assert plant["product"][0] == {"part": "tube", "bore_mm": 9, "length_m": 0.9}
    assert plant["drain"][0] == {"part": "flush", "litres": 4}
    assert list(plant["membranes"][0]) == ["part"]


def test_what_makes_no_plant_is_not_taken_out(client: TestClient, book: Book) -> None:
    answer = client.post(f"{AT}/plant.drain%5B0%5D/take-out", data={"made_from": "1"})
    assert answer.status_code == 422
    assert 'class="alarm" role="alert"' in answer.text
    assert book.current(SLUG).number == 1


# ---- in a browser ----


@pytest.fixture(params=[(360, "light"), pytest.param((1280, "dark"), marks=pytest.mark.longer)])
def opened(request: pytest.FixtureRequest, browser: Browser, book: Book, engine: Engine) -> Iterator[Page]:
    with served(book, engine=engine) as address:
        width, scheme = request.param
        page = browser.new_page(viewport={"width": width, "height": 760}, color_scheme=scheme)
        wrong: list[str] = []
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda message: wrong.append(message.text) if message.type == "error" else None)
        page.goto(f"{address}{AT}?judged=yes")
        yield page
        page.close()
        assert wrong == []


@pytest.mark.longer
def test_what_nobody_moved_stands_as_saved_when_the_plan_is_made(browser: Browser, book: Book, engine: Engine) -> None:
    book.save(SLUG, DEMO.replace("standing_bar = 4.2", "standing_bar = 4.25"), "Tern Quay yard", "measured", 1)
    with served(book, engine=engine) as address:
        page = browser.new_page(viewport={"width": 360, "height": 760})
        page.goto(f"{address}{AT}")
        said = page.inner_text("#answer")
        page.wait_for_function("() => !document.querySelector('#parts [data-waiting]')")
        page.wait_for_timeout(500)
        assert "?" not in page.url
        assert page.inner_text("#answer") == said
        page.focus("#s-temperature")
        page.keyboard.press("ArrowRight")
        page.wait_for_function("() => location.search === '?temperature=12.5'")
        page.close()


def test_everything_moves_with_the_slider(opened: Page) -> None:
    before = opened.inner_text("#answer")
    opened.focus("#s-temperature")
    for _ in range(8):
        opened.keyboard.press("ArrowRight")
    opened.wait_for_function("(old) => document.querySelector('#answer').innerText !== old", arg=before)
    opened.wait_for_function("() => location.search.includes('temperature=16')")
    wanted = Site.loads(DEMO).solve(16.0, 4.2)["product"]["flow_l_min"]
    opened.wait_for_function(
        "(text) => document.querySelector('#answer').innerText.includes(text)", arg=f"It makes {wanted:.1f}"
    )
    assert opened.inner_text("label[for=s-temperature] output") == "16\N{NO-BREAK SPACE}°C"
    assert opened.evaluate("document.activeElement.id") == "s-temperature"


def test_who_hears_the_page_is_told_once_what_is_wrong_now(opened: Page) -> None:
    watch = "new MutationObserver(() => (window.told ??= []).push(heard.textContent)).observe(heard, {childList: true})"
    opened.evaluate(f"() => {watch}")
    opened.focus("#s-pressure")
    for place in ("1.6", "1.2", "1.0", "4.2"):
        opened.fill("#s-pressure", place)
        if place in ("1.0", "4.2"):
            opened.wait_for_function("(many) => window.told?.length === many", arg=1 if place == "1.0" else 2)
    low, back = opened.evaluate("window.told")
    assert low.startswith("It makes 0.")
    assert "Now wrong: " in low
    assert "Pressure at the membranes, stop" in low.partition("Now wrong: ")[2]
    assert "Pressure at the membranes, stop" in back.partition("No longer wrong: ")[2]
    assert "Starts" not in low + back


def test_what_is_wrong_comes_after_the_drawing_and_stands_on_it(opened: Page) -> None:
    opened.goto(opened.url.partition("?")[0])
    opened.wait_for_selector(".parts .verdicts")
    shown = "#tall" if opened.viewport_size and opened.viewport_size["width"] < 780 else "#wide"
    opened.wait_for_selector(f"{shown} .num.look")


def test_the_drawing_is_touched_to_see_a_part(opened: Page) -> None:
    shown = "#tall" if opened.viewport_size and opened.viewport_size["width"] < 780 else "#wide"
    boxes = [box for link in opened.query_selector_all(f"{shown} .touch") if (box := link.bounding_box())]
    assert len(boxes) == 13
    assert min(min(box["width"], box["height"]) for box in boxes) >= 40
    assert opened.evaluate("document.documentElement.scrollWidth") == opened.evaluate("innerWidth")
    link = opened.locator(f'{shown} .touch[aria-label="tank"]')
    link.focus()
    opened.keyboard.press("Enter")
    opened.wait_for_url("**/plant/plant.product*")
    assert opened.inner_text("h1") == "Tank"


def test_the_sliders_stay_at_the_thumb(opened: Page) -> None:
    box = opened.locator("#s-pressure").bounding_box()
    assert box is not None
    assert box["height"] >= 48
    if opened.viewport_size and opened.viewport_size["width"] < 780:
        assert box["y"] > 450


def test_axe_finds_nothing_on_the_plant_and_its_parts(opened: Page) -> None:
    assert_axe_finds_nothing(opened)
    assert_nothing_scrolls_sideways(opened)
    at = opened.url.partition("?")[0]
    for rest in ("?pressure=0.2", "/plant.membranes%5B0%5D", "/supply", "/plant.feed%5B0%5D/after?kind=pump"):
        opened.goto(at + rest)
        opened.evaluate("for (const fold of document.querySelectorAll('details')) fold.open = true")
        assert_axe_finds_nothing(opened)
        assert_nothing_scrolls_sideways(opened)


def test_the_page_is_light(browser: Browser, book: Book, engine: Engine) -> None:
    with served(book, engine=engine) as address:
        page = browser.new_page()
        sizes: list[int] = []
        page.on("response", lambda answer: sizes.append(len(answer.body())))
        page.goto(f"{address}{AT}?judged=yes")
        page.wait_for_load_state("networkidle")
        assert 10_000 < sum(sizes) < 200_000
        page.close()


def test_without_script_a_button_shows_it(browser: Browser, book: Book) -> None:
    with served(book) as address:
        context = browser.new_context(java_script_enabled=False, viewport={"width": 360, "height": 740})
        page = context.new_page()
        page.goto(f"{address}{AT}?temperature=5&pressure=3")
        page.get_by_role("button", name="Show").click()
        wanted = number(Site.loads(DEMO).solve(5.0, 3.0)["product"]["flow_l_min"])
        assert f"It makes {wanted}" in page.inner_text("#answer")
        page.get_by_role("link", name="See what is wrong, and where").click()
        assert "The plant starts about" in page.inner_text(".parts")
        context.close()
