"""Five answers make a site file that works, with its guesses told."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rinsewright.api import Site
from rinsewright.errors import InputError
from rinsewright.planning.first_look import FirstLook, first_look
from rinsewright.planning.starting import FILL_HOURS, GUESS, SIZES, Answers, next_to_measure, start_site

HARD = Answers(meter_ppm=280, running_bar=3.4, litres_a_day=320, coldest_c=5.0, running_l_min=10.0)


def started(**changes) -> Site:
    return Site.loads(start_site(dataclasses.replace(HARD, **changes)))


def looked(**changes) -> FirstLook:
    site = started(**changes)
    return first_look(site.document, site.plant, site.tap)


def sizes_of(site: Site) -> list[str]:
    assert site.document.model.plant is not None
    return [element.nominal or str(element.part) for element in site.document.model.plant.membranes]


def fill_hours(site: Site, litres: float, coldest_c: float = 5.0) -> float:
    return litres / site.solve(temperature_c=coldest_c)["product"]["flow_l_min"] / 60.0


def test_it_works() -> None:
    text = start_site(HARD)
    plan = Site.loads(text).plan()
    assert not [verdict for verdict in plan.verdicts if verdict.verdict == "stop"]
    assert text.endswith("\n")


def test_the_smallest_plant_that_makes_the_day_overnight_is_taken() -> None:
    assert sizes_of(started()) == ["4021 low pressure"]
    assert sizes_of(started(litres_a_day=900)) == ["4040 low pressure"]
    assert sizes_of(started(litres_a_day=1600)) == ["4040 low pressure"] * 2
    for litres in (320, 900, 1600):
        assert fill_hours(started(litres_a_day=litres), litres) <= FILL_HOURS


def test_a_smaller_one_would_not_have_done() -> None:
    small = started(litres_a_day=900, has="elements", size="4021")
    assert fill_hours(small, 900) > FILL_HOURS


def test_colder_water_and_less_pressure_want_a_larger_plant() -> None:
    assert len(sizes_of(started(litres_a_day=900, coldest_c=1.0))) == 2
    assert sizes_of(started(running_bar=2.0)) == ["4040 low pressure"]


def test_what_no_layout_can_do_is_written_down_and_told() -> None:
    assert "stop" in {verdict.verdict for verdict in looked(running_bar=0.4, litres_a_day=3000).verdicts}


def test_a_booster_pump_comes_after_the_second_element() -> None:
    text = start_site(dataclasses.replace(HARD, litres_a_day=1500, running_bar=1.5))
    assert 'part = "pump"' in text
    assert fill_hours(Site.loads(text), 1500) <= FILL_HOURS


@pytest.mark.parametrize(
    ("meter_ppm", "coldest_c", "running_bar", "litres_a_day"),
    [(30, 3, 3, 5000), (30, 3, 6, 100), (280, 5, 3, 1000), (280, 5, 4, 2000), (280, 5, 3, 3000), (450, 3, 1.8, 2000)],
)
def test_nothing_stops_what_is_proposed(
    meter_ppm: float, coldest_c: float, running_bar: float, litres_a_day: float
) -> None:
    refuse_own_choices(meter_ppm, coldest_c, running_bar, litres_a_day)


@pytest.mark.longer
@pytest.mark.parametrize("meter_ppm", [30, 90, 200, 450])
@pytest.mark.parametrize("coldest_c", [3.0, 12.0])
@pytest.mark.parametrize("running_bar", [1.8, 3.0, 4.0, 6.0])
@pytest.mark.parametrize("litres_a_day", [100, 1000, 3000, 5000])
def test_nothing_stops_what_is_proposed_anywhere(
    meter_ppm: float, coldest_c: float, running_bar: float, litres_a_day: float
) -> None:
    refuse_own_choices(meter_ppm, coldest_c, running_bar, litres_a_day)


def refuse_own_choices(meter_ppm: float, coldest_c: float, running_bar: float, litres_a_day: float) -> None:
    answers = Answers(meter_ppm, running_bar, litres_a_day, coldest_c)
    site = Site.loads(start_site(answers))
    look = first_look(site.document, site.plant, site.tap)
    found = {verdict.what: verdict.verdict for verdict in look.verdicts}
    assert "stop" not in found.values(), found
    assert found.get("loss before the membranes", "fine") == "fine"
    assert found.get("loss before the resin", "fine") == "fine"
    assert found.get("pump and pressure switch", "fine") == "fine"


def test_resin_that_lasts_a_few_days_is_no_plant() -> None:
    assert sizes_of(started(meter_ppm=30)) == []
    assert sizes_of(started(meter_ppm=30, litres_a_day=5000)) != []


@pytest.mark.longer
@pytest.mark.parametrize(
    "answers", [{"litres_a_day": 5000, "running_bar": 3.0}, {"litres_a_day": 5000, "meter_ppm": 30}]
)
def test_nor_does_the_whole_plan_stop_it(answers: dict[str, float]) -> None:
    plan = started(running_l_min=None, **answers).plan()
    assert not [verdict for verdict in plan.verdicts if verdict.verdict == "stop"]


def test_a_tap_that_gives_too_little_is_told_what_would_help() -> None:
    text = start_site(dataclasses.replace(HARD, litres_a_day=8000, running_bar=1.8, running_l_min=6.0))
    assert "the most that this tap feeds" in text
    site = Site.loads(text)
    (stop,) = (one for one in first_look(site.document, site.plant, site.tap).verdicts if one.verdict == "stop")
    assert stop.what == "water enough in the cold"
    assert "a stronger tap or several plants" in stop.do


def test_at_least_half_goes_to_drain_in_the_warm() -> None:
    for size in SIZES:
        site = started(has="elements", size=size, elements=2)
        assert site.solve(temperature_c=19.0)["recovery"] <= 0.5 + 1e-3


def test_soft_water_gets_resin_alone_by_its_conductivity_not_by_its_ppm() -> None:
    assert sizes_of(started(meter_ppm=80, meter_factor=0.5)) == []
    assert sizes_of(started(meter_ppm=130, meter_factor=0.7)) == []
    assert sizes_of(started(meter_ppm=130, meter_factor=0.5)) != []


def test_what_is_there_is_kept() -> None:
    assert sizes_of(started(has="elements", size="2540", elements=3)) == ["2540 low pressure"] * 3
    resin = started(has="resin", resin_litres=11.0)
    assert sizes_of(resin) == []
    assert resin.plant.resin is not None
    assert resin.plant.resin.volume == pytest.approx(11e-3)
    tank = started(has="tank", tank_litres=180.0).plant.tank
    assert tank is not None
    assert tank.volume == pytest.approx(0.18)


def test_every_guess_is_said_where_it_stands() -> None:
    text = start_site(Answers(meter_ppm=280, running_bar=3.4, litres_a_day=320))
    for key in ("temperature_c", "coldest_c", "warmest_c", "flowing", "product_limit_ppm", "length_m", "litres"):
        line = next(line for line in text.splitlines() if line.startswith(f"{key} ="))
        assert f"# {GUESS}" in line
    for key in ("meter_ppm", "meter_factor"):
        assert GUESS not in next(line for line in text.splitlines() if line.startswith(f"{key} ="))


def test_what_is_known_is_not_asked_for_again() -> None:
    unknown = next_to_measure(start_site(Answers(meter_ppm=280, running_bar=3.4, litres_a_day=320)))
    assert unknown == ("flow", "standing", "hardness", "coldest", "temperature", "ph", "report")
    assert next_to_measure(start_site(HARD)) == ("standing", "hardness", "temperature", "ph", "report")


def test_a_size_that_is_none_is_refused() -> None:
    with pytest.raises(InputError, match="not a size of element"):
        started(has="elements", size="9999")


def test_a_name_cannot_break_the_file() -> None:
    assert started(name='Jo\'s "big"\nyard\\ ☂').name == 'Jo\'s "big"yard\\ ☂'
    assert started(name="  ").name == "New site"


def test_the_first_look_says_what_the_plan_says() -> None:
    site = started()
    look, plan = first_look(site.document, site.plant, site.tap), site.plan()
    assert look.sentences[:2] == plan.sentences()[:2]  # what the year adds to the third only the plan can say
    planned = {(verdict.what, verdict.verdict) for verdict in plan.verdicts}
    assert {(verdict.what, verdict.verdict) for verdict in look.verdicts} <= planned


@settings(max_examples=10)
@given(
    meter_ppm=st.floats(1, 2000),
    running_bar=st.floats(0.3, 10),
    litres_a_day=st.floats(10, 5000),
    coldest_c=st.none() | st.floats(0.5, 25),
    running_l_min=st.none() | st.floats(1, 60),
    has=st.sampled_from(["nothing", "elements", "resin", "tank"]),
    size=st.sampled_from(SIZES),
    elements=st.integers(1, 6),
)
def test_any_plausible_answers_make_a_file_that_is_read(**answers) -> None:
    site = Site.loads(start_site(Answers(**answers)))
    assert site.document.model.demand is not None
