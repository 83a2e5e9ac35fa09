"""What is read off a marched year: bands, dry weeks, the latest start of a filling, the answer."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from rinsewright.dates import day_of_year
from rinsewright.planning.answers import YearAnswer
from rinsewright.quantities import HOUR, L_MIN, US_CM, kelvin
from rinsewright.seasons.filling import latest_fill_start
from rinsewright.seasons.inputs import TankUse, VanUse, even_week
from rinsewright.seasons.ledger import band, hours_minutes, year_answer
from rinsewright.seasons.march import march
from rinsewright.water.climate import cosine
from tests.seasons.plants import NIGHT, plant, response, year

FULL = TankUse(0.65, 1e-4)  # a float that bites at the very top, so that hands can reckon


def starts(of: Any, **rest: Any) -> list[str | None]:
    inputs = plant(of, **({"tank": FULL} | rest))
    return latest_fill_start(inputs, march(inputs))


def test_latest_start_by_hand():
    # Night filling, 319.5 L drawn by 16:00, 1 L/min: 319.5 min before the tap shuts at 06:00 is 00:40.
    assert starts(response(1.0), week=NIGHT, demand=np.full(7, 0.3195)) == ["00:40"] * 12
    # Too slow for one night: no start is early enough.
    assert starts(response(0.5), week=NIGHT) == [None] * 12
    # No draw, or no tank: no start to be named.
    assert starts(response(1.0), demand=np.zeros(7)) == [None] * 12
    assert starts(response(1.0), tank=None) == [None] * 12


def test_latest_start_where_the_tap_is_open_by_day():
    """Ratio 1 at a tenth open: it stops 11.4 L below the top (0.9, at 0.19 open), starts 54.6 L below (0.1, at 0.91).

    So it starts 43.2 L into the draw, 64.8 min after 08:00, and makes 207.6 of the 320 L until 16:00. The 123.8 L that
    are missing then take 247.6 min at 0.5 L/min: with the tap shut from 05:00 to 06:00 that is from 02:52. Without any
    hours somebody shuts it while drawing: 320 L at 0.5 L/min are 640 min, from 21:20.
    """
    tank = TankUse(0.65, 0.06)
    of = response((0.5, 0.5, 0.0), ratio=(0.0, 1.0, 1.0), openings=(1.0, 0.1, 0.0))
    week = even_week(8 * HOUR, 16 * HOUR, 6 * HOUR, 5 * HOUR)
    assert starts(of, tank=tank, week=week) == ["02:52"] * 12
    assert starts(of, tank=tank) == ["21:20"] * 12


def test_the_floats_throttling_is_in_the_latest_start():
    """q = q₀·o over the last 60 L, called full at 98 % of the band: 60/1·(ln 50 − 0.98) min more than at full flow."""
    tank = TankUse(0.65, 0.06)
    openings = np.linspace(1.0, 0.0, 401)
    of = response(openings, ratio=0.5 * (1.0 - openings), openings=openings)
    ledger = year(of, week=NIGHT, tank=tank, shutoff=(), days=1)
    assert ledger.last_part[0, 0] == pytest.approx(60 * 60.0 * (np.log(50.0) - 0.98), rel=1e-3)
    closing = year(response(openings, ratio=1.0 - openings, openings=openings), week=NIGHT, tank=tank, days=1)
    assert closing.last_part[0, 0] == pytest.approx(60 * 60.0 * (np.log(10.0) - 0.9), rel=1e-3)


def test_latest_start_of_the_worst_day_of_each_month():
    days = cosine(float(kelvin(5.0)), float(kelvin(19.0)), day_of_year(2, 10))
    of = response(1.0, by_temperature={0.0: 0.4, 30.0: 2.0})
    found = starts(of, week=NIGHT, temperature_k=np.asarray(days)[None, :])
    assert found[1] is not None
    assert found[1] > "20:00"  # in February it must start the evening before
    assert found[7] is not None
    assert found[7] < "06:00"
    # Coldest on 10 February, 5 °C: 0.6667 L/min, 320 L in 480 min before 06:00.
    assert found[1] == "22:00"


def test_latest_start_of_a_van_that_is_refilled():
    """Refilled with 299.5 L at 16:00, 20 L/min; from then on 1 L/min, in the tap's hours, until the next 16:00."""
    van = VanUse(0.4, 16 * HOUR, 20.0 * L_MIN, 1.0)
    found = starts(response(1.0), vans=(van,), demand=np.full(7, 0.2995), week=NIGHT)
    assert found == ["01:00"] * 12  # 300 min before 06:00, when the tap shuts


def test_dry_weeks():
    """10 h at 0.4 L/min give 240 L of the 320 that each working day wants."""
    ledger = year(response(0.4), week=NIGHT, tank=TankUse(0.25, 1e-4))
    assert ledger.short_days.tolist() == [261]
    assert ledger.short[0, 1] == pytest.approx(0.08)
    assert ledger.dry_chance_by_week.tolist() == [1.0] * 52


def test_the_chance_of_a_dry_week_is_the_share_of_members():
    demand = np.full((4, 365), 0.1)
    demand[2, 20] = 5.0
    chance = year(demand=demand, members=4).dry_chance_by_week
    assert chance[20 // 7] == 0.25
    assert chance.sum() == 0.25


def test_day_365_belongs_to_week_52():
    demand = np.zeros((1, 365))
    demand[0, 364] = 5.0
    chance = year(demand=demand).dry_chance_by_week
    assert chance[51] == 1.0
    assert chance[:51].sum() == 0.0


def test_days_over_the_limit():
    ledger = replace(year(response(reading=30.0)), limit_conductivity=20.0 * US_CM)
    assert ledger.days_over_limit.tolist() == [261]  # water is drawn
    assert replace(ledger, limit_conductivity=30.0 * US_CM).days_over_limit.tolist() == [0]


def test_bands():
    assert band(np.arange(101.0)) == {"value": 50.0, "low": 5.0, "high": 95.0}
    assert band(np.array([3.0])) == {"value": 3.0, "low": None, "high": None}
    assert band(np.arange(4.0)) == {"value": 1.5, "low": pytest.approx(0.15), "high": pytest.approx(2.85)}
    whole = band(np.arange(4.0), whole=True)
    assert all(value is not None and value == int(value) for value in whole.values())
    for unknown in (None, np.array([np.nan, np.nan])):
        assert band(unknown) == {"value": None, "low": None, "high": None}


def test_times_of_day():
    assert hours_minutes(86400.0 - 61.0) == "23:58"
    assert hours_minutes(-3600.0) == "23:00"
    assert hours_minutes(86400.0) == "00:00"


def test_the_answer_is_the_contracts():
    ledger = year(week=NIGHT)
    answer: dict[str, Any] = year_answer(ledger, 0.5, [None] * 12, np.array([100.0]), ["A note."])
    versions = {"schema": 1, "program": "0", "phreeqc": "0", "data": "0", "seed": None}
    YearAnswer.model_validate(answer | versions)
    # Full on New Year's Eve; all that was drawn until Friday night is made again.
    assert answer["product_m3"] == {"value": pytest.approx(261 * 0.32, abs=0.33), "low": None, "high": None}
    assert answer["worst_meter_ppm"]["value"] == pytest.approx(7.5)
    assert answer["cost_per_m3"]["value"] == pytest.approx(100.0 / (261 * 0.32))
    assert answer["notes"] == ["A note."]
    unpriced = year_answer(ledger, 0.5, [None] * 12)
    assert unpriced["cost"] == unpriced["cost_per_m3"] == {"value": None, "low": None, "high": None}
