"""Mains water temperature against published laws and tables."""

from functools import partial

import numpy as np
import pytest

from rinsewright.quantities import celsius, kelvin
from rinsewright.seasons.climate import (
    MONTH_DAYS,
    MONTH_OF_DAY,
    UK_HEADER_TANK_C,
    UK_MAINS_C,
    burch_christensen,
    from_months,
)
from tests.published.agreement import absolute, agree


def test_burch_christensen():
    # Burch & Christensen, NREL 2007: constants read in NREL's own code; values reproduced from the equation (no worked
    # example is printed). Mean air 10.5 °C, spread of monthly means 13.0 °C; 0.01 K.
    days = celsius(burch_christensen(float(kelvin(10.5)), 13.0))
    expected = {15: 11.134, 46: 10.789, 105: 12.357, 196: 16.493, 227: 16.881, 319: 13.725}
    agree_day = partial(
        agree,
        source="burch-christensen",
        unit="°C",
        tolerance=absolute(0.01),
        standing="reproduced",
        model="mains temperature from the air",
    )
    agree_day(
        quantity="mains temperature",
        at=[f"day {day}" for day in expected],
        published=expected.values(),
        ours=[days[day - 1] for day in expected],
    )
    agree_day(
        quantity="mains temperature of the year",
        at=["least", "most", "mean"],
        published=[10.785, 16.882, 13.834],
        ours=[days.min(), days.max(), days.mean()],
    )
    assert [int(days.argmin()) + 1, int(days.argmax()) + 1] == [43, 226]


def test_southern_hemisphere_is_half_a_year_away():
    north, south = (burch_christensen(float(kelvin(15.0)), 10.0, southern) for southern in (False, True))
    assert (north + south) / 2 == pytest.approx(np.full(365, (north[0] + south[0]) / 2))


def test_uk_table():
    # SAP 10.2 table J1 (BRE), read in two public copies; day-weighted mean 13.03 °C (reproduced).
    agree(
        source="sap",
        quantity="mean of the year",
        at="mains",
        unit="°C",
        published=13.03,
        ours=np.average(UK_MAINS_C, weights=MONTH_DAYS),
        tolerance=absolute(0.005),
        standing="reproduced",
        model="mains temperature by month",
    )
    assert max(UK_HEADER_TANK_C) > 20.0  # why a tank in a shed is a legionella matter


@pytest.mark.parametrize(("name", "table"), [("mains", UK_MAINS_C), ("header tank", UK_HEADER_TANK_C)])
def test_smooth_days_keep_each_published_month(name, table):
    days = celsius(from_months(kelvin(np.array(table))))
    agree(
        source="sap",
        quantity=f"mean of smooth days, {name}",
        at=[f"month {month}" for month in range(1, 13)],
        unit="°C",
        published=table,
        ours=[days[month == MONTH_OF_DAY].mean() for month in range(12)],
        tolerance=absolute(1e-9),
        standing="read",
        model="mains temperature by month",
    )
    assert np.abs(np.diff(np.append(days, days[0]))).max() < 0.25
