"""The working week: when water is drawn on each day, and how much."""

from __future__ import annotations

import numpy as np
import pytest

from rinsewright.dates import day_of_year
from rinsewright.errors import InputError
from rinsewright.quantities import DAY, HOUR
from rinsewright.seasons.inputs import demand_by_day, even_week, rounds_week
from tests.seasons.plants import NIGHT, WORKWEEK, year


def test_weekdays():
    """1 January is a Monday: a year has 52 whole weeks and another Monday."""
    demand = demand_by_day(WORKWEEK)
    assert demand[[0, 4, 5, 6, 364]] == pytest.approx([0.32, 0.32, 0.0, 0.0, 0.32])
    assert demand.sum() == pytest.approx(261 * 0.32)
    off = demand_by_day(WORKWEEK, days_off=[day_of_year(12, 25)])
    assert off[day_of_year(12, 25) - 1] == 0.0
    assert off.sum() == pytest.approx(260 * 0.32)


def test_rounds():
    week, demand = rounds_week({0: [(0.04, 1500.0), (0.06, 1500.0)]}, 8 * HOUR, 16 * HOUR)
    assert demand.tolist() == pytest.approx([0.1, 0, 0, 0, 0, 0, 0])
    assert [draw.start for draw in week.draws[0]] == [8 * HOUR, 16 * HOUR - 1500.0]
    assert [draw.share for draw in week.draws[0]] == pytest.approx([0.4, 0.6])
    ledger = year(week=week, demand=demand, hourly_days=(7,), days=8)
    assert ledger.delivered[0, 7] == pytest.approx(0.1)
    assert ledger.hours.delivered[0, 0, [8, 15]] == pytest.approx([0.04, 0.06])
    with pytest.raises(InputError, match="mon last beyond midnight"):
        rounds_week({0: [(0.1, 20 * HOUR)]}, 8 * HOUR, 16 * HOUR)


def test_jobs_without_time_between_follow_one_another():
    week, _ = rounds_week({2: [(0.1, 5 * HOUR), (0.1, 5 * HOUR)]}, 8 * HOUR, 16 * HOUR)
    assert [(draw.start, draw.end) for draw in week.draws[2]] == [(8 * HOUR, 13 * HOUR), (13 * HOUR, 18 * HOUR)]


def test_drawing_over_midnight_stays_on_its_date():
    week = even_week(22 * HOUR, 4 * HOUR)
    assert [(draw.start, draw.end) for draw in week.draws[0]] == [(0.0, 4 * HOUR), (22 * HOUR, DAY)]
    assert sum(draw.share for draw in week.draws[0]) == pytest.approx(1.0)
    ledger = year(week=week, days=7)
    assert ledger.delivered == pytest.approx(year(days=7).delivered)
    with pytest.raises(InputError, match="draw_until"):
        even_week(HOUR, HOUR)


def test_the_hours_in_which_the_tap_may_be_open():
    """20:00 to 06:00: its start belongs to it, its end does not. No times, or twice the same: always."""
    assert [NIGHT.filling(hour * HOUR) for hour in (0, 5.99, 6, 12, 19.99, 20)] == [
        True,
        True,
        False,
        False,
        False,
        True,
    ]
    day = even_week(0.0, HOUR, fill_from=9 * HOUR, fill_until=17 * HOUR)
    assert [day.filling(hour * HOUR) for hour in (8.99, 9, 16.99, 17)] == [False, True, True, False]
    for always in (even_week(0.0, HOUR), even_week(0.0, HOUR, 7 * HOUR, 7 * HOUR)):
        assert all(always.filling(hour * HOUR) for hour in range(24))
    assert day.breaks(0) == [0.0, HOUR, 9 * HOUR, 17 * HOUR, DAY]


def test_a_day_off_draws_nothing():
    off = demand_by_day(WORKWEEK, days_off=[2])[None, :]
    ledger = year(demand=np.asarray(off), days=3)
    assert ledger.delivered[0] == pytest.approx([0.32, 0.0, 0.32])
