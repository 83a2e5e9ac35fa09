from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from rinsewright.api import Site
from rinsewright.catalogue.loader import load_catalogue
from rinsewright.errors import InputError, NoWorkingState
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.product.line import ResinVessel
from rinsewright.quantities import BAR, L_MIN, LITRE, LMH, LMH_PER_BAR, MM
from rinsewright.site.build import (
    VanInput,
    build_plant,
    currency,
    demand_input,
    frost_chance,
    meter_factor,
    season_input,
    water_input,
)
from rinsewright.site.checks import check_ratings, path_of
from rinsewright.site.element_file import element_of, read_element
from rinsewright.site.reading import read_text
from rinsewright.site.season import day_of_year

TEXT = (Path(__file__).parents[2] / "examples" / "tern-quay.toml").read_text(encoding="utf-8")
RATED = next(line for line in TEXT.split("\n") if line.startswith("rated ="))
PUMP = """
[[plant.feed]]
part = "pump"
curve = [{ flow_l_min = 0, bar = 5 }, { flow_l_min = 10, bar = 3 }]
"""


def plant_of(text):
    document = read_text(text, "yard.toml")
    return document, build_plant(document, load_catalogue())


def with_pump(text, *, first=False):
    place = text.index("[[plant.feed]]") if first else text.index("[[plant.membranes]]")
    return text[:place] + PUMP + text[place:]


def test_the_demo_in_si():
    _, plant = plant_of(TEXT)
    assert [part.name for part in plant.feed] == ["feed tube", "sediment cartridge", "carbon cartridge"]
    assert [part.key for part in plant.feed] == ["plant.feed[0]", "plant.feed[1]", "plant.feed[2]"]
    assert plant.feed[0].bore == pytest.approx(9 * MM)
    assert plant.feed[1].clean_drop_pa == pytest.approx(0.12 * BAR)
    assert plant.supply.standing_pa == pytest.approx(4.2 * BAR)
    assert float(plant.supply.pressure(0 * L_MIN)) == pytest.approx(4.2 * BAR)
    assert len(plant.stages) == 1
    assert [element.name for element in plant.stages[0]] == ["membrane element 1", "membrane element 2"]
    assert plant.drain[0].flow == pytest.approx(3 * L_MIN)
    assert plant.tank.volume == pytest.approx(0.65)
    assert plant.resin.volume == pytest.approx(7 * LITRE)


def test_the_rating_becomes_the_contracts_permeances():
    """6.7 and 0.48 are stated beside this rating where the site file's form is laid down."""
    _, plant = plant_of(TEXT)
    assert plant.elements[0].water_permeance / LMH_PER_BAR == pytest.approx(6.7, abs=0.05)
    assert plant.elements[0].salt_permeance / LMH == pytest.approx(0.48, abs=0.005)


def test_arrangements():
    _, series = plant_of(TEXT.replace('"parallel"', '"series"'))
    assert [len(stage) for stage in series.stages] == [1, 1]
    assert [element.stage for element in series.elements] == [1, 2]
    staged = TEXT.replace("area_m2 = 7.2", "stage = 2\narea_m2 = 7.2", 1)
    head, tail = staged.rsplit("area_m2 = 7.2", 1)
    _, plant = plant_of(f"{head}stage = 1\narea_m2 = 7.2{tail}")
    assert [[element.key for element in stage] for stage in plant.stages] == [
        ["plant.membranes[1]"],
        ["plant.membranes[0]"],
    ]


def test_parts_from_the_catalogue():
    text = TEXT.replace("bore_mm = 9.0", 'size = "15 mm tube"').replace(RATED, 'part = "4040 low pressure"', 1)
    _, plant = plant_of(text)
    assert plant.feed[0].bore == pytest.approx(11.5 * MM)
    assert plant.feed[0].length == 6.0
    assert plant.elements[0].area == pytest.approx(7.2)  # the site's own
    assert plant.elements[0].water_permeance != plant.elements[1].water_permeance


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            "bore_mm = 9.0",
            'size = "15 mm tub"',
            'plant.feed[0].size: "15 mm tub" is not in the catalogue of tubes; did you mean',
        ),
        (
            RATED,
            'part = "4040 low presure"',
            'plant.membranes[0].part: "4040 low presure" is not in the catalogue of elements',
        ),
        ("bore_mm = 9.0\nlength_m = 6.0", 'size = "15 mm tube"', "plant.feed[0].length_m: this key is missing"),
        (
            RATED,
            RATED.replace("product_l_h = 300", "product_l_h = 5000"),
            "plant.membranes[0].rated: the rating works out at",
        ),
    ],
)
def test_what_the_catalogue_cannot_mend(old, new, words):
    document = read_text(TEXT.replace(old, new, 1), "yard.toml")
    with pytest.raises(InputError) as refusal:
        build_plant(document, load_catalogue())
    assert words in str(refusal.value)
    assert str(refusal.value).startswith("yard.toml, line ")
    assert str(refusal.value).count("\n") == 0


def test_two_vessels_lose_twice():
    _, one = plant_of(TEXT)
    _, two = plant_of(TEXT.replace("usable_share = 0.6", "usable_share = 0.6\nvessels = 2"))
    assert isinstance(two.resin, ResinVessel)
    assert two.resin.clean_drop_pa == 2 * one.resin.clean_drop_pa


# ---- ratings ----


def test_the_demo_stays_within_its_ratings():
    check_ratings(*plant_of(TEXT))


def test_standing_pressure_above_a_parts_rating():
    text = TEXT.replace("rated_bar = 8.0", "rated_bar = 4.0", 1)
    with pytest.raises(NoWorkingState) as refusal:
        check_ratings(*plant_of(text))
    line = text[: text.index("rated_bar = 4.0")].count("\n") + 1
    assert str(refusal.value).startswith(
        f"yard.toml, line {line}, plant.feed[1].rated_bar: the sediment cartridge is made"
    )
    assert refusal.value.part == "plant.feed[1]"


def test_the_highest_hour_counts():
    hours = [4.0] * 23 + [9.0]
    text = TEXT.replace("standing_bar = 4.2", f"standing_bar = 4.2\nby_hour_bar = {hours}")
    with pytest.raises(NoWorkingState, match="the tap shut gives 9 bar"):
        check_ratings(*plant_of(text))


def test_dead_head_counts_behind_the_pump_only():
    check_ratings(*plant_of(with_pump(TEXT)))  # 4.2 + 5 bar behind the cartridges made for 8
    with pytest.raises(NoWorkingState, match=r"plant.feed\[2\].rated_bar.* the pump adds up to 5 bar at no flow"):
        check_ratings(*plant_of(with_pump(TEXT, first=True)))
    weak = with_pump(TEXT).replace("max_bar = 20.0", "max_bar = 9.0", 1)
    with pytest.raises(NoWorkingState, match=r"plant.membranes\[0\].max_bar: the membrane element 1"):
        check_ratings(*plant_of(weak))


def test_a_cut_out_switch_does_not_help():
    text = with_pump(TEXT, first=True).replace('part = "pump"', 'part = "pump"\ncut_out_bar = 6.0')
    document, plant = plant_of(text)
    assert isinstance(plant.feed[0], Pump)
    with pytest.raises(NoWorkingState):
        check_ratings(document, plant)


def test_the_product_line_sees_what_the_shut_off_lets_it():
    # 0.66 of 4.2 bar, by hand: 2.77 bar
    check_ratings(*plant_of(TEXT.replace("usable_share = 0.6", "usable_share = 0.6\nrated_bar = 2.8")))
    weak = TEXT.replace("usable_share = 0.6", "usable_share = 0.6\nrated_bar = 2.7")
    with pytest.raises(NoWorkingState, match=r"rated_bar: the resin vessel .* sees 2.77 bar before the shut-off"):
        check_ratings(*plant_of(weak))


def test_without_a_shut_off_the_product_line_sees_all_of_it():
    weak = TEXT.replace("usable_share = 0.6", "usable_share = 0.6\nrated_bar = 4.1").replace(
        '[[plant.product]]\npart = "shutoff"\ncloses_at_ratio = 0.66\nreopens_at_ratio = 0.45\n', ""
    )
    assert "shutoff" not in weak
    with pytest.raises(NoWorkingState, match=r"rated_bar: the resin vessel .* the tap shut gives 4.2 bar"):
        check_ratings(*plant_of(weak))


def test_an_open_tank_sees_nothing_of_it():
    check_ratings(*plant_of(TEXT.replace("litres = 650", "litres = 650\nrated_bar = 0.2")))


def test_the_drains_parts_are_not():
    with pytest.raises(NoWorkingState, match=r"plant.drain\[0\].rated_bar: the drain restrictor"):
        check_ratings(*plant_of(TEXT.replace("exponent = 0.5", "exponent = 0.5\nrated_bar = 1.0")))


def test_warm_water_above_an_elements_limit():
    text = TEXT.replace("max_c = 45.0", "max_c = 19.0", 1)
    check_ratings(*plant_of(text))  # exactly the warmest
    with pytest.raises(NoWorkingState, match="the water reaches 19 °C"):
        check_ratings(*plant_of(TEXT.replace("max_c = 45.0", "max_c = 18.0", 1)))


def test_paths_of_keys():
    assert path_of("plant.feed[12]") == ("plant", "feed", 12)
    assert path_of("supply") == ("supply",)


# ---- water, season, demand ----


def test_water_input():
    water: Any = water_input(read_text(TEXT))
    assert water.temperature_k == pytest.approx(285.15)
    assert water.ions_mg_l["Ca"] == 104.0
    assert "NH4" not in water.ions_mg_l
    assert water.field.meter_ppm == 305
    assert water.total_chlorine == pytest.approx(0.3e-3)
    assert water_input(read_text(TEXT.replace("total_chlorine_mg_l = 0.3\n", ""))).total_chlorine == pytest.approx(
        0.3e-3
    )


def test_changes_come_in_the_order_of_the_year():
    later = '[[water.changes]]\nfrom = "11-01"\nions_mg_l = { Ca = 80.0 }\n'
    earlier = '[[water.changes]]\nfrom = "03-01"\nions_mg_l = { Ca = 90.0 }\nph = 7.6\n'
    changes = water_input(read_text(TEXT + later + earlier)).changes
    assert [(change.from_day, change.ph) for change in changes] == [(60, 7.6), (305, None)]


def test_season_input():
    season: Any = season_input(read_text(TEXT))
    assert (season.coldest_day, season.monthly_k) == (41, None)
    block = TEXT[TEXT.index("[water.season]") : TEXT.index("[supply]")]
    monthly: Any = season_input(read_text(TEXT.replace(block, f"[water.season]\nmonthly_c = {list(range(5, 17))}\n")))
    assert monthly.monthly_k == pytest.approx(range_k := [month + 273.15 for month in range(5, 17)])
    assert monthly.coldest_k < min(range_k)  # the coldest day, not the coldest month's mean
    assert monthly.warmest_k > max(range_k)
    assert season_input(read_text(TEXT.replace(block, ""))) is None


SEASONS = {
    "coldest and warmest": 'coldest_c = 5.0\nwarmest_c = 19.0\ncoldest_day = "02-10"\n',
    "months": "monthly_c = [5, 5, 7, 9, 12, 15, 17, 18, 16, 12, 9, 6]\n",
    "months near freezing": "monthly_c = [0, 0, 0, 4, 9, 14, 17, 17, 13, 8, 3, 0]\n",
    "British mains": 'table = "GB mains"\n',
    "British header tank": 'table = "GB header tank"\n',
    "air": "air_mean_c = 10.5\nair_monthly_spread_c = 13.0\n",
    "southern air": "air_mean_c = 10.5\nair_monthly_spread_c = 13.0\nsouthern = true\n",
}


@pytest.mark.parametrize("way", SEASONS)
def test_extremes_are_those_of_the_days_whichever_way_the_season_is_given(way):
    season: Any = season_input(read_text(with_season(SEASONS[way])))
    assert len(season.daily_k) == 365
    # a cosine's warmest day is half a day off its peak: 0.0003 K
    assert (season.coldest_k, season.warmest_k) == pytest.approx((min(season.daily_k), max(season.daily_k)), abs=4e-4)
    assert 273.15 <= season.coldest_k < season.warmest_k < 298.15
    winter = season.daily_k[181:243] if way == "southern air" else season.daily_k[:59] + season.daily_k[-31:]
    assert min(season.daily_k) in winter


def test_the_coldest_day_is_where_it_was_put():
    season: Any = season_input(read_text(TEXT))
    assert season.daily_k[40] == season.coldest_k == 278.15


def with_season(lines):
    start, end = TEXT.index("[water.season]"), TEXT.index("[supply]")
    return f"{TEXT[:start]}[water.season]\n{lines}\n{TEXT[end:]}"


@pytest.mark.parametrize("way", ["months", "British header tank"])
def test_the_warmest_day_counts_for_an_element(way):
    text = with_season(SEASONS[way])
    season: Any = season_input(read_text(text))
    warmest = season.warmest_k - 273.15
    check_ratings(*plant_of(text.replace("max_c = 45.0", f"max_c = {warmest + 0.01:.4f}")))
    with pytest.raises(NoWorkingState, match=f"but the water reaches {warmest:.3g} °C"):
        check_ratings(*plant_of(text.replace("max_c = 45.0", f"max_c = {warmest - 0.01:.4f}")))


# ---- what the year needs ----


def test_frost_days_become_a_chance():
    days = [31, 14, 6.2, 0, 0, 0, 0, 0, 0, 0, 3, 28]
    text = TEXT.replace('country = "GB"', f'country = "GB"\nfrost_days = {days}')
    chance = frost_chance(read_text(text))
    assert chance == pytest.approx((1.0, 0.5, 0.2, 0, 0, 0, 0, 0, 0, 0, 0.1, 28 / 31))
    assert frost_chance(read_text(TEXT)) == (0.0,) * 12
    protected = text.replace("frost_protected = false", "frost_protected = true")
    assert protected != text
    assert frost_chance(read_text(protected)) == (0.0,) * 12


def test_a_break_tank():
    _, plant = plant_of(TEXT)
    assert (plant.supply.tank_volume, plant.supply.refill_flow) == (None, None)
    text = TEXT.replace("standing_bar = 4.2", "standing_bar = 4.2\ntank_litres = 250\nrefill_l_min = 9")
    _, plant = plant_of(text.replace('kind = "mains"', 'kind = "break-tank"'))
    assert (plant.supply.tank_volume, plant.supply.refill_flow) == pytest.approx((0.25, 9 * L_MIN))


def test_a_tank_without_a_float_valve():
    _, plant = plant_of(TEXT)
    assert plant.tank.float_valve
    open_ended = TEXT.replace("float_band_mm = 60\n", "float_valve = false\n").replace("float_open_l_min = 12.0\n", "")
    _, plant = plant_of(open_ended)
    assert (plant.tank.float_valve, plant.tank.float_band, plant.tank.float_open_flow) == (False, None, None)
    name = next(iter(load_catalogue().entries["tanks"]))
    _, plant = plant_of(open_ended.replace("litres = 650", f'litres = 650\nsize = "{name}"'))
    assert (plant.tank.float_band, plant.tank.float_open_flow) == (None, None)


def test_rules_of_changing():
    _, plant = plant_of(TEXT)
    assert plant.feed[1].change_on == plant.resin.change_on == ()
    assert plant.resin.change_after_months is None
    element = plant.elements[0]
    assert (element.change_at_flow_loss, element.change_at_passage_times) == (0.25, 1.6)
    assert element.change_after_years is None

    text = TEXT.replace('media = "sediment"', 'media = "sediment"\nchange_on = ["10-01", "04-01", "04-01"]')
    text = text.replace("usable_share = 0.6", 'usable_share = 0.6\nchange_on = ["03-01"]\nchange_after_months = 9')
    keys = "change_at_flow_loss_pct = 30\nchange_at_passage_times = 2\nchange_after_years = 4"
    _, plant = plant_of(text.replace(RATED, f"{RATED}\n{keys}", 1))
    assert plant.feed[1].change_on == (91, 274)
    assert (plant.resin.change_on, plant.resin.change_after_months) == ((60,), 9)
    first, second = plant.elements
    assert (first.change_at_flow_loss, first.change_at_passage_times, first.change_after_years) == (0.3, 2, 4)
    assert second.change_after_years is None


def test_vans_and_the_spread_of_the_demand():
    demand = demand_input(read_text(TEXT))
    assert demand.spread == 0.10
    vans = '[[demand.vans]]\nname = "A"\ntank_litres = 400\n[[demand.vans]]\nname = "B"\ntank_litres = 250\n'
    text = TEXT.replace("product_limit_ppm = 10", "product_limit_ppm = 10\nspread_pct = 25")
    demand = demand_input(read_text(f'{text}\n{vans}refill_at = "18:30"\nrefill_l_min = 15\n'))
    assert demand.spread == 0.25
    assert demand.vans[-2] == VanInput("A", 0.4, 7 * 3600.0, None)
    assert demand.vans[-1].refill_at == 18.5 * 3600.0
    assert demand.vans[-1].refill_flow == pytest.approx(15 * L_MIN)


def test_days_of_the_year():
    assert [day_of_year(day) for day in ("01-01", "02-28", "03-01", "12-31")] == [1, 59, 60, 365]


def test_demand_by_day():
    demand = demand_input(read_text(TEXT.replace("fri = 320", "fri = 120")))
    assert demand.working_day == pytest.approx(0.28)
    assert demand.week == pytest.approx(1.4)
    assert demand.draw_from == 8 * 3600


def test_demand_by_rounds():
    litres = next(line for line in TEXT.split("\n") if line.startswith("litres_per_day"))
    jobs = "jobs = [{ litres = 40, minutes = 25 }, { litres = 60, minutes = 30 }]"
    rounds = f'[[demand.rounds]]\nday = "tue"\n{jobs}\n[[demand.rounds]]\nday = "tue"\n{jobs}\n'
    demand = demand_input(read_text(TEXT.replace(litres, "") + rounds))
    assert demand.by_weekday == pytest.approx((0, 0.2, 0, 0, 0, 0, 0))
    assert len(demand.rounds[1]) == 4


def test_meter_factor_falls_back():
    with_field = TEXT.replace("product_limit_ppm = 10\nmeter_factor = 0.5", "product_limit_ppm = 10").replace(
        "meter_factor = 0.5", "meter_factor = 0.64"
    )
    assert meter_factor(read_text(with_field)) == 0.64
    assert meter_factor(read_text(with_field.replace("meter_factor = 0.64\n", ""))) == 0.5
    assert meter_factor(read_text(TEXT.replace("ppm = 10\nmeter_factor = 0.5", "ppm = 10\nmeter_factor = 0.7"))) == 0.7


def test_currency_falls_back_to_the_countrys():
    bare = TEXT.replace('currency = "GBP"\n', "")
    assert currency(read_text(bare)) == "GBP"
    assert currency(read_text(bare.replace('country = "GB"', 'country = "IE"'))) == "EUR"
    assert currency(read_text(bare.replace('country = "GB"\n', ""))) is None


# ---- an element by itself ----


def test_an_element_file(tmp_path):
    file = tmp_path / "element.toml"
    file.write_text(f"area_m2 = 7.2\nlength_m = 0.92\n{RATED}\n")
    element = read_element(file, load_catalogue())
    assert element.water_permeance / LMH_PER_BAR == pytest.approx(6.7, abs=0.05)


def test_an_elements_keys_with_a_catalogue_name():
    element = element_of({"part": "4040 low pressure", "area_m2": 7.2}, "mine", load_catalogue())
    assert element.area == 7.2
    with pytest.raises(InputError, match="mine, part: "):
        element_of({"part": "no such"}, "mine", load_catalogue())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (f"length_m = 0.92\n{RATED}\n", "area_m2: this key is missing"),
        ("area_m2 = 7.2\nlength_m = 0.92\n", "the element has no rating"),
        (f"area_m2 = 0.1\nlength_m = 0.92\n{RATED}\n", "line 3, rated: no membrane can meet this rating"),
        (
            f"aera_m2 = 7.2\nlength_m = 0.92\n{RATED}\n",
            "line 1, aera_m2: this key is not known here; did you mean area_m2?",
        ),
    ],
)
def test_bad_element_files(tmp_path, text, words):
    file = tmp_path / "element.toml"
    file.write_text(text)
    with pytest.raises(InputError) as refusal:
        read_element(file, load_catalogue())
    assert words in str(refusal.value)


# ---- where it stands ----


@pytest.mark.parametrize(
    ("text", "where"),
    [
        (
            "[water]\ntemperature_c = 12\n[water.field]\nmeter_ppm = 100\nhardness_mg_l_caco3 = 300",
            "yard.toml, line 5, water.field.hardness_mg_l_caco3: 300",
        ),
        (
            "[water]\ntemperature_c = 12\nph = 3.1\n[water.field]\nmeter_ppm = 2155",
            "yard.toml, line 3, water.ph: pH 3.1 with an alkalinity",
        ),
    ],
)
def test_what_the_physics_refuses_is_told_with_file_and_line(text, where):
    with pytest.raises(InputError) as refusal:
        Site.loads(text, "yard.toml").water()
    assert str(refusal.value).startswith(where)
