from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from rinsewright.errors import InputError
from rinsewright.site.reading import read_site, read_text, require

DEMO = Path(__file__).parents[2] / "examples" / "tern-quay.toml"
TEXT = DEMO.read_text(encoding="utf-8")
SEASON = 'coldest_c = 5.0\nwarmest_c = 19.0\ncoldest_day = "02-10"\n'


def refusal_of(text):
    with pytest.raises(InputError) as refusal:
        read_text(text, "yard.toml")
    return str(refusal.value)


def model_of(text) -> Any:
    """The site's model; which of its tables are there is what the tests are about."""
    return read_text(text).model


def changed(old, new):
    assert old in TEXT
    return TEXT.replace(old, new, 1)


def line_of(text, words):
    return next(n for n, line in enumerate(text.split("\n"), 1) if words in line)


def test_the_demo_is_read():
    document = read_site(DEMO)
    assert document.model.site.name == "Tern Quay yard"
    assert document.lines[("plant", "feed", 0, "bore_mm")] == line_of(TEXT, "bore_mm = 9.0")
    assert document.lines[("supply", "flowing", 1, "pressure_bar")] == line_of(TEXT, "flow_l_min = 12.0, pressure")


def test_the_demos_analysis_balances():
    """Charges in eq, with molar masses by hand (CIAAW abridged, from memory): within ±5 %."""
    ions = model_of(TEXT).water.ions_mg_l
    cations = 2 * ions.Ca / 40.078 + 2 * ions.Mg / 24.305 + ions.Na / 22.990 + ions.K / 39.098 + 2 * ions.Sr / 87.62
    anions = ions.HCO3 / 61.017 + 2 * ions.SO4 / 96.06 + ions.Cl / 35.45 + ions.NO3 / 62.005 + ions.F / 18.998
    assert abs(cations - anions) / (cations + anions) < 0.05


REFUSED = [
    ("standing_bar = 4.2", "standing_bar = 400", "supply.standing_bar: 400 is not a plausible standing pressure"),
    ("standing_bar = 4.2", "standing_bar = nan", "supply.standing_bar: nan is not"),
    ("standing_bar = 4.2", "standing_bar = inf", "supply.standing_bar: inf is not"),
    ("standing_bar = 4.2", "standing_bar = -inf", "supply.standing_bar: -inf is not"),
    ("standing_bar = 4.2", "standing_bar = true", "supply.standing_bar: true is not what is needed"),
    ("standing_bar = 4.2", 'standing_bar = "4.2"', 'supply.standing_bar: "4.2" is not what is needed'),
    ("standing_bar = 4.2", "standing_bar = [4.2]", "supply.standing_bar: a list is not what is needed"),
    ("standing_bar = 4.2", f"standing_bar = {'9' * 400}", "supply.standing_bar: 9999"),
    ("standing_bar = 4.2", "standing_bar = 4.2\nby_hour_bar = [4.2, 4.0]", "2 values are given; give at least 24"),
    ("ph = 7.4", "ph = 74", "water.ph: 74 is not a plausible pH; give a number between 3 and 11"),
    ("temperature_c = 12.0", "temperature_c = -3", "water.temperature_c: -3 is not a plausible water temperature"),
    (
        "bore_mm = 9.0",
        "bore_mm = -9.0",
        "plant.feed[0].bore_mm: -9.0 is not a plausible bore; give millimetres between 1",
    ),
    ("bore_mm = 9.0", "boor_mm = 9.0", "plant.feed[0].boor_mm: this key is not known here; did you mean bore_mm?"),
    ("length_m = 6.0", "length_m = -6.0", "plant.feed[0].length_m: -6.0 is not a plausible length"),
    ("length_m = 6.0", "length_m = 0", "give metres above 0 and up to 1000"),
    (
        'part = "tube"',
        'part = "tub"',
        'plant.feed[0].part: "tub" is not a kind of part that goes here; did you mean tube?',
    ),
    ('part = "restrictor"', 'part = "pump"', 'plant.drain[0].part: "pump" is not a kind of part that goes here'),
    ('media = "carbon"', 'media = "coal"', 'plant.feed[2].media: "coal" is not known here; known are sediment, carbon'),
    ("exponent = 0.5", "exponent = 1.5", "plant.drain[0].exponent: 1.5 is not a plausible exponent"),
    ("Ca = 104.0", "Caa = 104.0", "water.ions_mg_l.Caa: this key is not known here; did you mean Ca?"),
    ("Ca = 104.0", "Ca = -1", "water.ions_mg_l.Ca: -1 is not a plausible calcium"),
    ("schema = 1", "schema = 2", "schema: 2 is not known here; give 1"),
    ("schema = 1", "schema = true", "schema: true is not known here; give 1"),
    ("schema = 1", "schema = 1.0", "schema: 1.0 is not known here; give 1"),
    ("[supply]", "[suply]", "suply: this key is not known here; did you mean supply?"),
    ('coldest_day = "02-10"', 'coldest_day = "02-30"', '"02-30" is not a day of every year'),
    ('coldest_day = "02-10"', 'coldest_day = "2-10"', '"2-10" is not a day of every year'),
    ("warmest_c = 19.0", "warmest_c = 4.0", "the coldest water, 5 °C, is above the warmest, 4 °C"),
    ("warmest_c = 19.0\n", "", "the season is not whole"),
    ("warmest_c = 19.0\n", "warmest_c = 19.0\nmonthly_c = [1, 2]\n", "2 values are given; give at least 12"),
    ("warmest_c = 19.0\n", 'table = "GB"\n', 'water.season.table: "GB" is not known here'),
    (SEASON, 'table = "GB mains"\nsouthern = true\n', "water.season.southern: it contradicts table; give either one"),
    (SEASON, f'table = "GB mains"\nmonthly_c = {[9.0] * 12}\n', "water.season.table: it contradicts monthly_c; give"),
    (SEASON, "air_mean_c = 10.5\n", "air_monthly_spread_c is missing; the water follows from the air's mean and"),
    (SEASON, "southern = true\n", "air_mean_c is missing; the water follows from the air's mean and"),
    (SEASON, "", "the season is not whole; give coldest_c and warmest_c, or 12 monthly_c, or a table, or air_mean_c"),
    (SEASON, "air_mean_c = 40\n", "water.season.air_mean_c: 40 is not a plausible mean temperature of the air"),
    (
        SEASON,
        "air_mean_c = -4\nair_monthly_spread_c = 45\n",
        "water.season.air_mean_c: this air gives water of -5.3 °C on the coldest day",
    ),
    ('country = "GB"', f'country = "GB"\nfrost_days = {[3] * 11}', "11 values are given; give at least 12"),
    ('country = "GB"', f'country = "GB"\nfrost_days = {[32] + [0] * 11}', "32 is not a plausible number of frost days"),
    (
        'country = "GB"',
        f'country = "GB"\nfrost_days = {[3, 30] + [0] * 10}',
        "site.frost_days[1]: 30 days of frost are more than the month has; give at most 29",
    ),
    (
        "standing_bar = 4.2",
        "standing_bar = 4.2\ntank_litres = 200",
        'supply.tank_litres: only a break tank has it; give kind = "break-tank", or leave it out',
    ),
    (
        'kind = "mains"',
        'kind = "break-tank"\nrefill_l_min = 9',
        "supply.refill_l_min: tank_litres is missing; give both or neither",
    ),
    (
        "float_band_mm = 60\n",
        "float_valve = false\n",
        "plant.product[4].float_open_l_min: it belongs to a float valve",
    ),
    ('media = "carbon"', 'media = "carbon"\nchange_on = ["4-1"]', '"4-1" is not a day of every year'),
    (
        "usable_share = 0.6",
        "usable_share = 0.6\nchange_after_months = 0",
        "0 is not a plausible age; give months above",
    ),
    (
        "area_m2 = 7.2",
        "area_m2 = 7.2\nchange_at_passage_times = 1",
        "1 is not a plausible growth of salt passage; give a number above 1",
    ),
    ("area_m2 = 7.2", "area_m2 = 7.2\nchange_at_flow_loss_pct = 0", "0 is not a plausible loss of flow; give per cent"),
    ("product_limit_ppm = 10", "product_limit_ppm = 10\nspread_pct = -1", "-1 is not a plausible spread of the demand"),
    ('draw_from = "08:00"', 'draw_from = "24:00"', '"24:00" is not a time of day'),
    ('draw_from = "08:00"', 'draw_from = "8"', '"8" is not a time of day'),
    ('draw_from = "08:00"', 'draw_from = "08:00"\nfill_from = "20:00"', "fill_until is missing"),
    ("total_chlorine_mg_l = 0.3", "total_chlorine_mg_l = 0.1", "total chlorine 0.1 is below free chlorine 0.3"),
    ('country = "GB"', 'country = "gb"', 'site.country: "gb" is not a country code'),
    ('currency = "GBP"', 'currency = "pounds"', 'prices.currency: "pounds" is not a currency code'),
    (
        "flow_l_min = 6.0, pressure_bar = 4.0",
        "flow_l_min = 6.0, pressure_bar = 4.3",
        "supply.flowing[0].pressure_bar: the r",
    ),
    (
        'arrangement = "parallel"',
        'arrangement = "parallel"\nrecirculation_l_min = 2',
        "drain water returns only to a pump",
    ),
    ("area_m2 = 7.2\n", "", "plant.membranes[0].area_m2: this key is missing; give square metres"),
    ("pressure_bar = 6.9, nacl_mg_l = 500", "pressure_bar = 2, nacl_mg_l = 5000", "no water would pass"),
    ("reopens_at_ratio = 0.45", "reopens_at_ratio = 0.7", "plant.product[1].reopens_at_ratio: it reopens at or above"),
    ("float_band_mm = 60", "float_band_mm = 1200", "above the tank's height of 1100 mm"),
    (
        "vented = true",
        "vented = true\nusable_litres = 700",
        "plant.product[4].usable_litres: it is above the tank's 650 L",
    ),
    ("vented = true", "vented = 1", "plant.product[4].vented: 1 is not what is needed here; give true or false"),
    (
        "at_l_min = 8.0\n\n[[plant.product]]",
        "\n[[plant.product]]",
        "at_l_min is missing; a pressure drop needs the flow",
    ),
    (
        "litres_per_day = { mon = 320",
        "litres_per_day = { mon = -320",
        "demand.litres_per_day.mon: -320 is not a plausible",
    ),
    ("days_off = [", 'days_off = ["13-01", ', 'demand.days_off[0]: "13-01" is not a day of every year'),
]


@pytest.mark.parametrize(("old", "new", "words"), REFUSED, ids=[words[:40] for _, _, words in REFUSED])
def test_one_mistake_gives_one_sentence_with_file_and_line(old, new, words):
    text = changed(old, new)
    message = refusal_of(text)
    assert message.count("\n") == 0
    assert words in message
    place, key = message.split(": ")[0].removeprefix("yard.toml, line ").split(", ")
    line = text.split("\n")[int(place) - 1]
    assert key.split(".")[-1].split("[")[0] in line or line.startswith("["), (
        "the line named has the key, or heads its table"
    )


def test_all_mistakes_are_reported_by_line():
    text = changed("ph = 7.4", "ph = 74").replace("bore_mm = 9.0", "bore_mm = -9", 1).replace("years = 5", "yeers = 5")
    lines = refusal_of(text).split("\n")
    assert [line.split(": ")[0].split(", ")[-1] for line in lines] == [
        "water.ph",
        "plant.feed[0].bore_mm",
        "prices.yeers",
    ]


def without_membranes(text):
    start, end = text.index("[[plant.membranes]]"), text.index("[[plant.drain]]")
    return text[:start] + text[end:]


def test_monthly_temperatures_stand_alone():
    message = refusal_of(changed("warmest_c = 19.0\n", f"monthly_c = {[9.0] * 12}\n"))
    assert [line.split(": ")[1] for line in message.split("\n")] == [
        "it contradicts monthly_c; give either one, not both"
    ] * 2


def test_product_parts_out_of_place():
    start = TEXT.index('[[plant.product]]\npart = "shutoff"')
    valve = TEXT[start : TEXT.index('[[plant.product]]\npart = "lift"')]
    place = TEXT.index("[prices]")
    assert "put it before the tank" in refusal_of(
        TEXT[:start] + TEXT[start + len(valve) : place] + valve + TEXT[place:]
    )
    pump = '[[plant.product]]\npart = "delivery-pump"\n'
    assert "put it behind the tank" in refusal_of(TEXT[:start] + pump + TEXT[start:])


def test_neither_membranes_nor_resin():
    text = without_membranes(TEXT).replace('part = "resin"\nlitres = 7.0\nusable_share = 0.6', 'part = "tube"', 1)
    assert "neither membranes nor resin" in refusal_of(
        text.replace("drop_bar = 0.1\nat_l_min = 8.0", "bore_mm=9\nlength_m=1")
    )


def test_resin_alone_is_a_plant():
    text = TEXT[: TEXT.index("[[plant.membranes]]")] + '[[plant.product]]\npart = "resin"\nlitres = 7.0\n'
    assert model_of(text).plant.membranes == []


def test_an_element_needs_a_rating_or_both_permeances():
    rated = next(line for line in TEXT.split("\n") if line.startswith("rated ="))
    assert "the element has no rating" in refusal_of(changed(rated, ""))
    assert "the element has no rating" in refusal_of(changed(rated, "water_permeance_l_m2_h_bar = 6"))
    assert "it contradicts rated" in refusal_of(changed(rated, rated + "\nwater_permeance_l_m2_h_bar = 6"))
    both = "water_permeance_l_m2_h_bar = 6\nsalt_permeance_l_m2_h = 0.5"
    assert model_of(changed(rated, both)).plant.membranes[0].rated is None
    assert "rejection_pct: this key is missing" in refusal_of(
        changed(rated, rated.replace(" rejection_pct = 98.5,", ""))
    )


def test_an_element_is_fitted_by_the_day_of_the_plan_or_today():
    later = TEXT.replace('nominal = "4040"', 'nominal = "4040"\ninstalled = "2999-01-31"', 1)
    assert "2999-01-31 is still to come; give the day it was fitted" in refusal_of(later)
    assert "plant.membranes[0].installed" in refusal_of(later)
    planned = later.replace('planned_on = "2026-11-25"', 'planned_on = "2999-02-01"', 1)
    assert model_of(planned).plant.membranes[0].installed == "2999-01-31"
    old = TEXT.replace('nominal = "4040"', 'nominal = "4040"\ninstalled = "2020-01-31"', 1)
    assert model_of(old).plant.membranes[0].installed == "2020-01-31"


def test_stages_and_arrangement():
    staged = TEXT.replace('nominal = "4040"', 'nominal = "4040"\nstage = 1', 1)
    assert "its stage is missing" in refusal_of(staged)
    second = staged.replace('nominal = "4040"\narea', 'nominal = "4040"\nstage = 3\narea', 1)
    assert "stage 3 has no stage before it" in refusal_of(second)
    series = second.replace("stage = 3", "stage = 2").replace('"parallel"', '"series"')
    assert 'it contradicts arrangement = "series"' in refusal_of(series)


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        ('[[plant.product]]\npart = "tank"\nlitres = 100\n', "a plant has one tank"),
        ('[[plant.product]]\npart = "shutoff"\n', "automatic shut-off; leave one out"),
        ('[[plant.product]]\npart = "resin"\nlitres = 5\n', "a plant has one resin part"),
        (
            '[[plant.feed]]\npart = "pump"\ncurve = [{ flow_l_min = 5, bar = 3 }, { flow_l_min = 4, bar = 2 }]\n',
            "do not rise",
        ),
        ('[[plant.feed]]\npart = "pump"\ncurve = []\n', "0 values are given; give at least 1"),
        ('[[plant.feed]]\npart = "pump"\n', "plant.feed[3].curve: this key is missing"),
        ('[[plant.feed]]\npart = "softener"\nclean_drop_bar = 0.5\n', "at_l_min is missing"),
        ('[[water.changes]]\nfrom = "11-01"\nions_mg_l = {}\n', "the analysis is empty"),
        ('[[water.changes]]\nfrom = "11-31"\nions_mg_l = { Ca = 1 }\n', "water.changes[0].from: "),
        ('[[demand.rounds]]\nday = "mon"\njobs = [{ litres = 40, minutes = 25 }]\n', "contradict litres_per_day"),
        ('[[demand.vans]]\nname = "a"\ntank_litres = 400\npayload_kg = 700\nkit_kg = 800\n', "the kit, 800 kg"),
    ],
)
def test_more_that_cannot_be(extra, words):
    place = TEXT.index("[prices]")
    message = refusal_of(TEXT[:place] + extra + TEXT[place:])
    assert words in message.split("\n")[0]


def test_all_optional_tables_of_the_form_are_read():
    extra = """
[[water.changes]]
from = "11-01"
ions_mg_l = { Ca = 80.0, HCO3 = 200.0 }
[[demand.vans]]
name = "first"
tank_litres = 400
refill_at = "07:00"
refill_l_min = 20
payload_kg = 900
kit_kg = 250
hose = { bore_mm = 6, length_m = 100 }
pole_m = 9
brush_l_min = 1.5
[[plant.product]]
part = "delivery-pump"
flow_l_min = 4
power_w = 60
"""
    place = TEXT.index("[prices]")
    rounds = '[[demand.rounds]]\nday = "mon"\njobs = [ { litres = 40, minutes = 25 } ]\n'
    litres = next(line for line in TEXT.split("\n") if line.startswith("litres_per_day"))
    text = (TEXT[:place] + extra + rounds + TEXT[place:]).replace(litres, "brushes = 1\nbrush_l_min = 1.5")
    text = text.replace("standing_bar = 4.2", f"standing_bar = 4.2\nby_hour_bar = {[4.2] * 24}")
    text = text.replace(
        'draw_from = "08',
        f'weather_off_chance = {[0.1] * 12}\nfill_from = "20:00"\nfill_until = "06:00"\ndraw_from = "08',
    )
    demand = model_of(text).demand
    assert demand.vans[0].hose.length_m == 100
    assert demand.rounds[0].jobs[0].minutes == 25


def test_water_alone_is_enough_for_water():
    document = read_text("[water]\ntemperature_c = 10\n[water.field]\nmeter_ppm = 285\n", "tap.toml")
    require(document, "water")
    with pytest.raises(InputError) as refusal:
        require(document, "solve")
    assert str(refusal.value).split("\n") == [
        "tap.toml, supply: the table is missing; `solve` needs [supply]",
        "tap.toml, plant: the table is missing; `solve` needs [plant]",
    ]


def test_a_plan_needs_litres():
    litres = next(line for line in TEXT.split("\n") if line.startswith("litres_per_day"))
    with pytest.raises(InputError, match="the litres are missing"):
        require(read_text(changed(litres, "")), "plan")


def test_water_must_be_described():
    assert "the water is not described" in refusal_of("[water]\ntemperature_c = 10\n")
    assert "temperature_c: this key is missing" in refusal_of("[water]\n[water.field]\nmeter_ppm = 285\n")


def test_supply_must_be_described():
    assert "pressure is not described" in refusal_of("[supply]\n")
    rising = "[supply]\nflowing = [{flow_l_min=5, pressure_bar=3}, {flow_l_min=9, pressure_bar=3.5}]\n"
    assert "rises with the flow" in refusal_of(rising)


BYTES = [
    (b"", "the file is empty"),
    (b" \n\t\n", "the file is empty"),
    (b"\x7fELF\x02\x01\x01\x00\x00\x00", "not a text file"),
    (b"\x89PNG\r\n\x1a\n\x00\x00", "not UTF-8 text"),
    ("[water]".encode("utf-16"), "UTF-16"),
    (b"name = \xe9", "not UTF-8 text"),
    (b"[water\n", "is not TOML"),
    (b"a = 1,5\n", "write decimals with a point"),
    ("a = “x”\n".encode(), "straight quotes"),
    (b"a = 1\na = 2\n", "stands twice"),
    (b"[a]\n[a]\n", "stands twice"),
    (b"schema = 1\njust words\n", "write it as key = value"),
    (b"a = yes\n", "put text in quotes"),
    (b"a = 08:00\n", "put times and days in quotes"),
    (b"a = " + b"[" * 5000, "nested too deeply"),
    (b"a = " + b"9" * 5000, "too long"),
    (b"a = 1" + b" " * 4_000_000, "too large"),
]


@pytest.mark.parametrize(("raw", "words"), BYTES, ids=[words for _, words in BYTES])
def test_files_that_are_no_site_file(tmp_path, raw, words):
    file = tmp_path / "odd.toml"
    file.write_bytes(raw)
    with pytest.raises(InputError) as refusal:
        read_site(file)
    assert words in str(refusal.value)
    assert "odd.toml" in str(refusal.value)
    assert str(refusal.value).count("\n") == 0


def test_a_byte_order_mark_of_utf8_is_passed_over(tmp_path):
    file = tmp_path / "notepad.toml"
    file.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert read_site(file).lines == read_site(DEMO).lines


def test_no_file_and_a_folder(tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        read_site(tmp_path / "none.toml")
    with pytest.raises(InputError, match="this is a folder"):
        read_site(tmp_path)
    with pytest.raises(InputError, match="not a file name"):
        read_site("a\x00b")
