"""Mains water temperature against published laws and tables."""

from functools import partial

import numpy as np
import pytest

from rinsewright.quantities import celsius, kelvin
from rinsewright.site.build import season_input
from rinsewright.site.reading import read_text
from rinsewright.water.climate import (
    MONTH_DAYS,
    MONTH_OF_DAY,
    UK_HEADER_TANK_C,
    UK_MAINS_C,
    burch_christensen,
    from_months,
)
from tests.published.agreement import absolute, agree


def days_of(season):
    """The days of a site file's season, °C."""
    document = read_text(f"[water]\ntemperature_c = 12.0\n[water.field]\nmeter_ppm = 180\n[water.season]\n{season}\n")
    found = season_input(document)
    assert found is not None
    return celsius(np.array(found.daily_k))


@pytest.mark.parametrize("door", ["", ", site file"])
def test_burch_christensen(door):
    # Burch & Christensen, NREL 2007: constants read in NREL's own code; values reproduced from the equation (no worked
    # example is printed). Mean air 10.5 °C, spread of monthly means 13.0 °C; 0.01 K.
    days = celsius(burch_christensen(float(kelvin(10.5)), 13.0))
    if door:
        days = days_of("air_mean_c = 10.5\nair_monthly_spread_c = 13.0")
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
        quantity=f"mains temperature{door}",
        at=[f"day {day}" for day in expected],
        published=expected.values(),
        ours=[days[day - 1] for day in expected],
    )
    agree_day(
        quantity=f"mains temperature of the year{door}",
        at=["least", "most", "mean"],
        published=[10.785, 16.882, 13.834],
        ours=[days.min(), days.max(), days.mean()],
    )
    assert [int(days.argmin()) + 1, int(days.argmax()) + 1] == [43, 226]


def test_southern_hemisphere_is_half_a_year_away():
    north, south = (burch_christensen(float(kelvin(15.0)), 10.0, southern) for southern in (False, True))
    assert (north + south) / 2 == pytest.approx(np.full(365, (north[0] + south[0]) / 2))
    written = days_of("air_mean_c = 15.0\nair_monthly_spread_c = 10.0\nsouthern = true")
    assert written == pytest.approx(celsius(south), abs=1e-9)


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


# As printed, apart from the package's own.
PRINTED = {
    "mains": (8.0, 8.2, 9.3, 12.7, 14.6, 16.7, 18.4, 17.6, 16.6, 14.3, 11.1, 8.5),
    "header tank": (11.1, 11.3, 12.3, 14.5, 16.2, 18.8, 21.3, 19.3, 18.7, 16.2, 13.2, 11.2),
}


@pytest.mark.parametrize("name", PRINTED)
@pytest.mark.parametrize("door", ["", ", site file"])
def test_smooth_daily_keep_each_published_month(name, door):
    table = PRINTED[name]
    days = days_of(f'table = "GB {name}"') if door else celsius(from_months(kelvin(np.array(table))))
    agree(
        source="sap",
        quantity=f"mean of smooth days, {name}{door}",
        at=[f"month {month}" for month in range(1, 13)],
        unit="°C",
        published=table,
        ours=[days[month == MONTH_OF_DAY].mean() for month in range(12)],
        tolerance=absolute(1e-9),
        standing="read",
        model="mains temperature by month",
    )
    assert np.abs(np.diff(np.append(days, days[0]))).max() < 0.25
