"""Work, yard, the year's other waters and the boxes: seen, put in, changed and taken out."""

from __future__ import annotations

import tomllib
from html import unescape
from types import SimpleNamespace
from typing import Any

import pytest
from starlette.testclient import TestClient

from rinsewright.planning.verdicts.word import Verdict
from rinsewright.store.book import Book
from rinsewright.web.engine import Engine
from rinsewright.web.pages.entries import day_said

from .served import DEMO, SLUG
from .test_plant import fields

SITE = f"/sites/{SLUG}"
VANS, ROUNDS, CHANGES = f"{SITE}/work/vans", f"{SITE}/work/rounds", f"{SITE}/tap/changes"
NORTH = {"name": "North", "tank_litres": "400"}
MONDAY = {"day": "mon", "jobs.0.litres": "40", "jobs.0.minutes": "25", "jobs.2.litres": "60", "jobs.2.minutes": "30"}
WINTER = {"from": "11-01", "ions_mg_l.Ca": "60", "ions_mg_l.HCO3": "170"}


def html(client: TestClient, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return unescape(answer.text)


def current(book: Book) -> dict[str, Any]:
    return tomllib.loads(book.current(SLUG).toml)


def sent(client: TestClient, address: str, action: str = "") -> dict[str, str]:
    """What the form that is sent to ``action`` (else to the page's own address) would send untouched."""
    return fields(html(client, address).partition(f'action="{action or address}"')[2].partition("</form>")[0])


def refused(client: TestClient, address: str, typed: dict[str, str], field: str = "") -> str:
    """What is said at a field, or above the form, where something is refused; what was typed stays."""
    answer = client.post(address, data=typed)
    assert answer.status_code == 422
    page = unescape(answer.text)
    for name, value in typed.items():
        assert not value or name in ("day", "made_from") or f'name="{name}" value="{value}"' in page
    start = f'id="f-{field}-error"' if field else 'class="alarm"'
    return page.partition(start)[2].partition(">")[2].partition("</p>")[0]


# ---- vans ----


def test_a_van_comes_changes_and_goes_and_the_rest_stays_as_it_is_written(client: TestClient, book: Book) -> None:
    assert "No van is given" in html(client, f"{SITE}/work")
    client.post(f"{VANS}/new", data=sent(client, f"{VANS}/new") | NORTH)
    assert book.current(SLUG).what == "put in: Van North"
    assert book.current(SLUG).toml == DEMO.replace(
        "\n[plant]\n", '\n[[demand.vans]]\nname = "North"\ntank_litres = 400\n\n[plant]\n'
    )
    page = html(client, f"{SITE}/work")
    assert "Van North" in page
    assert "400\N{NO-BREAK SPACE}L, filled at 07:00" in page
    assert "The van carries 400\N{NO-BREAK SPACE}L when full." in page
    more = {"payload_kg": "900", "hose.bore_mm": "8", "hose.length_m": "100"}
    client.post(f"{VANS}/0", data=sent(client, f"{VANS}/0") | more)
    van = current(book)["demand"]["vans"][0]
    assert (van["payload_kg"], van["hose"]) == (900, {"bore_mm": 8, "length_m": 100})
    assert book.current(SLUG).what.startswith("Van North: payload given, 900")
    client.post(f"{VANS}/0", data=sent(client, f"{VANS}/0") | dict.fromkeys(more, ""))
    assert current(book)["demand"]["vans"] == [{"name": "North", "tank_litres": 400}]
    client.post(f"{VANS}/0/take-out")
    assert book.current(SLUG).toml == DEMO
    assert book.current(SLUG).what == "taken out: Van North"
    assert client.get(f"{VANS}/0").status_code == 404


def test_a_van_is_typed_in_the_users_units_and_another_begins_like_it(client: TestClient, book: Book) -> None:
    book.set_setting("units.volume", "gal")
    client.post(f"{VANS}/new", data=sent(client, f"{VANS}/new") | NORTH | {"tank_litres": "100"})
    assert current(book)["demand"]["vans"][0]["tank_litres"] == pytest.approx(378.541, rel=1e-5)
    like = fields(html(client, f"{VANS}/new?like=0"))
    assert (like["name"], like["tank_litres"]) == ("North", "100")
    assert "two vans are called" in refused(client, f"{VANS}/new", like, "name").lower()
    assert len(current(book)["demand"]["vans"]) == 1


def test_a_van_that_is_not_right_is_refused_at_its_field(client: TestClient, book: Book) -> None:
    whole = sent(client, f"{VANS}/new") | NORTH
    for typed, field, said in (
        ({"name": ""}, "name", "still missing"),
        ({"tank_litres": "90,000"}, "tank_litres", "give 1 to 5000 L"),
        ({"refill_at": "early"}, "refill_at", "is not a time of day"),
        ({"hose.bore_mm": "8"}, "hose.length_m", "still missing"),
        ({"payload_kg": "500", "kit_kg": "600"}, "kit_kg", "above the payload"),
    ):
        assert said in refused(client, f"{VANS}/new", whole | typed, field)
    assert book.current(SLUG).number == 1


# ---- rounds ----


def test_rounds_take_the_place_of_litres_by_day_and_give_it_back(client: TestClient, book: Book) -> None:
    assert "litres_per_day.mon" in sent(client, f"{SITE}/work")
    assert "the litres by day go" in html(client, f"{ROUNDS}/new")
    client.post(f"{ROUNDS}/new", data=sent(client, f"{ROUNDS}/new") | MONDAY)
    demand = current(book)["demand"]
    assert "litres_per_day" not in demand
    assert demand["rounds"] == [{"day": "mon", "jobs": [{"litres": 40, "minutes": 25}, {"litres": 60, "minutes": 30}]}]
    assert book.current(SLUG).what == "put in: Round of Monday, in place of the litres by day"
    page = html(client, f"{SITE}/work")
    assert "2 jobs, 100\N{NO-BREAK SPACE}L, 55 minutes" in page
    assert "litres_per_day.mon" not in page
    less = {"jobs.0.litres": "", "jobs.0.minutes": "", "jobs.1.minutes": "35"}
    client.post(f"{ROUNDS}/0", data=sent(client, f"{ROUNDS}/0") | less)
    assert current(book)["demand"]["rounds"][0]["jobs"] == [{"litres": 60, "minutes": 35}]
    client.post(f"{ROUNDS}/0/take-out")
    assert "litres_per_day.mon" in sent(client, f"{SITE}/work")
    assert "not known yet" in html(client, f"{SITE}/work")


def test_a_round_that_is_not_right_is_refused_where_it_is_typed(client: TestClient, book: Book) -> None:
    whole = sent(client, f"{ROUNDS}/new") | MONDAY
    for typed, field, said in (
        ({"day": ""}, "day", "still missing"),
        ({"jobs.2.minutes": ""}, "jobs.2.minutes", "still missing"),
        (dict.fromkeys(list(MONDAY)[1:], ""), "jobs", "still missing"),
        ({"jobs.0.minutes": "1000"}, "", "The jobs of Monday last beyond midnight"),
    ):
        assert said in refused(client, f"{ROUNDS}/new", whole | typed, field)
    assert book.current(SLUG).number == 1


# ---- the work itself ----


def test_the_work_is_told_first_and_its_table_is_kept(client: TestClient, book: Book) -> None:
    page = html(client, f"{SITE}/work")
    assert '<span class="digits">320</span>' in page
    assert "A week takes 1,600\N{NO-BREAK SPACE}L on 5 days, drawn between 08:00 and 16:00." in page
    typed = sent(client, f"{SITE}/work")
    client.post(f"{SITE}/work", data=typed)
    assert book.current(SLUG).number == 1
    assert "End of filling is missing" in refused(client, f"{SITE}/work", typed | {"fill_from": "20:00"}, "fill_from")
    client.post(
        f"{SITE}/work",
        data=typed | {"litres_per_day.sat": "500", "draw_until": "", "fill_from": "20", "fill_until": "06:00"},
    )
    demand = current(book)["demand"]
    assert (demand["litres_per_day"]["sat"], demand["fill_from"]) == (500, "20:00")
    assert "draw_until" not in demand
    page = html(client, f"{SITE}/work")
    assert "on the busiest day, Saturday" in page
    assert "The tap is open from 20:00 to 06:00 only." in page


def test_one_problem_of_the_whole_work_is_said_at_its_group(client: TestClient) -> None:
    typed = {
        name: "0" if name.startswith("litres_per_day") else value
        for name, value in sent(client, f"{SITE}/work").items()
    }
    assert "No day needs any water" in refused(client, f"{SITE}/work", typed, "litres_per_day")


def test_a_site_without_work_gets_it_here(client: TestClient, book: Book) -> None:
    start = DEMO.index("[demand]")
    book.save(SLUG, DEMO[:start] + DEMO[DEMO.index("[plant]") :], "Tern Quay yard", "no work", 1)
    page = html(client, f"{SITE}/work")
    assert "not known yet" in page
    client.post(f"{SITE}/work", data=sent(client, f"{SITE}/work") | {"litres_per_day.tue": "300"})
    assert current(book)["demand"] == {"litres_per_day": {"tue": 300}}


def test_what_the_plan_finds_wrong_with_the_work_stands_there(
    client: TestClient, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    heavy = Verdict("weight on the van", "stop", "Its tank holds 400 L.", "Fill less.", "demand.vans")
    other = Verdict("lime", "look", "It scales.", "Fit a softener.", "plant.drain")
    plan = SimpleNamespace(verdicts=(heavy, other), situation_factor=0.5)
    monkeypatch.setattr(Engine, "plan_if_known", lambda engine, toml: plan)
    book.set_setting("units.volume", "gal")
    page = html(client, f"{SITE}/work")
    assert "Weight on the van" in page
    assert "Its tank holds 106 US gal." in page
    assert "It scales." not in page


def test_the_brush_of_the_drawing_leads_to_the_work(client: TestClient) -> None:
    assert "What does the work need?" in html(client, f"{SITE}/plant/brush")


# ---- the year's other waters ----


def test_another_water_comes_changes_and_goes(client: TestClient, book: Book) -> None:
    assert "One water all year." in html(client, f"{SITE}/tap")
    client.post(f"{CHANGES}/new", data=sent(client, f"{CHANGES}/new") | WINTER)
    assert book.current(SLUG).what == "put in: Water from 1 November"
    page = html(client, f"{SITE}/tap")
    assert "Water from 1 November" in page
    assert "Ca 60, HCO3 170 mg/L" in page
    client.post(
        f"{CHANGES}/0", data=sent(client, f"{CHANGES}/0") | {"ions_mg_l.Cl": "20", "ph": "7.6", "from": "10-15"}
    )
    assert current(book)["water"]["changes"] == [
        {"from": "10-15", "ions_mg_l": {"Ca": 60, "HCO3": 170, "Cl": 20}, "ph": 7.6}
    ]
    assert "two analyses" in refused(client, f"{CHANGES}/new", WINTER | {"from": "10-15"}, "from").lower()
    client.post(f"{CHANGES}/0/take-out")
    assert book.current(SLUG).toml == DEMO


def test_another_water_that_is_not_right_is_refused_at_its_field(client: TestClient) -> None:
    assert "not a day of every year" in refused(client, f"{CHANGES}/new", WINTER | {"from": "31-12"}, "from")
    assert "still missing" in refused(client, f"{CHANGES}/new", {"from": "11-01", "ions_mg_l.Ca": ""}, "ions_mg_l")
    assert "more than open water holds" in refused(client, f"{CHANGES}/new", WINTER | {"ph": "4"}, "ph")
    assert day_said("02-28") == "28 February"


def test_an_analysis_and_a_season_can_be_taken_out(client: TestClient, book: Book) -> None:
    at = f"{SITE}/tap"
    typed = sent(client, at, f"{at}/analysis")
    client.post(f"{at}/analysis", data={name: value if name == "made_from" else "" for name, value in typed.items()})
    assert "ions_mg_l" not in current(book)["water"]
    assert "# What a meter and two drop tests said at the tap.\n[water.field]" in book.current(SLUG).toml
    for season in ({"table": "GB mains"}, {"table": "", "coldest_c": "4", "warmest_c": "18"}):
        typed = sent(client, at, f"{at}/water")
        blank = {name: "" for name in typed if name.startswith("season.") and name != "season.southern"}
        client.post(f"{at}/water", data=typed | blank | {f"season.{key}": value for key, value in season.items()})
    assert current(book)["water"]["season"] == {"coldest_c": 4, "warmest_c": 18}


# ---- the yard and the boxes ----


def test_the_place_and_its_prices_are_put_in_and_taken_out(client: TestClient, book: Book) -> None:
    at = f"{SITE}/yard"
    page = html(client, at)
    assert "Frost can reach the plant." in page
    assert "Every price is known." in page
    frost = ", ".join(["3"] * 12)
    typed = sent(client, at, f"{at}/site") | {
        "name": "Gull Yard",
        "frost_days": frost,
        "planned_on": "",
        "frost_protected": "yes",
    }
    client.post(f"{at}/site", data=typed)
    site = current(book)["site"]
    assert (site["name"], site["frost_protected"], site["frost_days"]) == ("Gull Yard", True, [3] * 12)
    assert "planned_on" not in site
    assert book.current(SLUG).name == "Gull Yard"
    assert "two capital letters" in refused(
        client, f"{at}/site", sent(client, at, f"{at}/site") | {"country": "gb"}, "country"
    )
    typed = sent(client, at, f"{at}/prices")
    client.post(f"{at}/prices", data=typed | {"membrane": "", "water_per_m3": "2.5"})
    assert "membrane" not in current(book)["prices"]
    assert "Left out of the cost, as not known: price of a membrane." in html(client, at)
    client.post(
        f"{at}/prices",
        data={name: value if name == "made_from" else "" for name, value in sent(client, at, f"{at}/prices").items()},
    )
    assert "prices" not in current(book)
    assert "No prices are known" in html(client, at)
    assert client.post(f"{at}/kit", data={}).status_code == 404


def test_what_the_boxes_hold_is_said_row_by_row_and_comments_stay(client: TestClient, book: Book) -> None:
    at = f"{SITE}/unpacking"
    typed = sent(client, at, f"{at}/kit")
    client.post(f"{at}/kit", data=typed)
    assert book.current(SLUG).number == 1
    typed |= {"kit.0.what": "", "kit.2.quantity": "3", "kit.9.what": "gauge", "kit.9.quantity": "1"}
    client.post(f"{at}/kit", data=typed)
    wanted = DEMO.replace('[[kit]]\nwhat = "sediment cartridge"\n\n', "").replace(
        'what = "cartridge housing"\nquantity = 2', 'what = "cartridge housing"\nquantity = 3'
    )
    wanted = wanted.replace(
        'what = "taste filter"\n', 'what = "taste filter"\n\n[[kit]]\nwhat = "gauge"\nquantity = 1\n'
    )
    assert book.current(SLUG).toml == wanted
    typed = sent(client, at, f"{at}/kit")
    client.post(f"{at}/kit", data={name: value if name == "made_from" else "" for name, value in typed.items()})
    assert "kit" not in current(book)
    assert "does not say what the boxes hold" in html(client, at)
    assert "still missing" in refused(client, f"{at}/kit", {"kit.1.quantity": "2"}, "kit.1.what")
    client.post(f"{at}/kit", data=sent(client, at, f"{at}/kit") | {"kit.0.what": "gauge"})
    assert book.current(SLUG).toml.endswith('\n\n[[kit]]\nwhat = "gauge"\n')


# ---- two at once ----


def test_what_was_typed_over_an_older_version_stands_and_goes_in_when_sent_again(
    client: TestClient, book: Book
) -> None:
    typed = sent(client, f"{VANS}/new") | NORTH
    client.post(f"{VANS}/new", data=typed | {"name": "South"})
    answer = client.post(f"{VANS}/new", data=typed)
    assert answer.status_code == 409
    assert "was changed meanwhile" in unescape(answer.text).partition('class="alarm"')[2]
    assert [van["name"] for van in current(book)["demand"]["vans"]] == ["South"]
    client.post(f"{VANS}/new", data=fields(unescape(answer.text)))
    assert [van["name"] for van in current(book)["demand"]["vans"]] == ["South", "North"]


def test_there_is_no_other_list(client: TestClient) -> None:
    for address in (f"{SITE}/work/changes/new", f"{SITE}/tap/vans/new", f"{SITE}/work/feed/0", f"{VANS}/0"):
        assert client.get(address).status_code == 404
