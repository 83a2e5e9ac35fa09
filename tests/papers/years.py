"""Made-up years to print: shaped like real ones, with round inputs; nothing here is computed by the package."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from rinsewright.planning.year_result import Event, WeekHours, YearResult

from .samples import EVIL

DAY = np.arange(1, 366)
WEEKDAY = (DAY - 1) % 7
HOUR = np.arange(168)


def banded(value: Any, low: float, high: float) -> Any:
    """Low, value and high as three rows."""
    return np.stack([value * low, np.asarray(value, dtype=float), value * high])


def amount(value: float | None, share: float = 0.0) -> dict[str, float | None]:
    if value is None or not share:
        return {"value": value, "low": value, "high": value}
    return {"value": value, "low": value * (1.0 - share), "high": value * (1.0 + share)}


def a_year(name: str = "Tern Quay yard", members: int = 200, *, short: bool = True, resin_alone: bool = False,
           tank: bool = True) -> YearResult:  # fmt: skip
    """A yard with 650 L of tank, 400 L a day on five days, water from 5 to 19 °C."""
    spread = 0.15 if members > 1 else 0.0
    low, high = 1.0 - spread, 1.0 + spread
    warm = 12.0 - 7.0 * np.cos(2.0 * np.pi * (DAY - 41) / 365)
    litres = np.choose(WEEKDAY, [420.0, 400.0, 400.0, 400.0, 340.0, 0.0, 0.0])
    litres = litres * np.where((DAY == 1) | (DAY > 358), 0.0, 1.0)
    made = 0.7 * litres + 0.3 * np.roll(litres, 1)
    made[WEEKDAY == 6] = 0.0
    dry = np.clip(80.0 * (np.abs(DAY - 44) < 9) * (WEEKDAY == 3), 0.0, None) * short
    before = np.where(made > 0.0, 311.0 if resin_alone else 11.0 + 0.25 * (warm - 5.0), np.nan)
    age = (DAY - 1) % 58
    after = np.where(made > 0.0, 0.4 + 3.0 / (1.0 + np.exp(-(age - 24) / 2.0)) + 6.4 * (age / 57.0) ** 14, np.nan)
    days = {
        "temperature_c": np.stack([warm - 8.0 * spread, warm, warm + 8.0 * spread]),
        "product_l": banded(made, low, high),
        "drain_l": banded(made * (0.0 if resin_alone else 1.15), low, high),
        "delivered_l": banded(litres - dry, low, high),
        "short_l": banded(dry, 1.0, 1.0) if members == 1 else np.stack([0.0 * dry, 0.2 * dry, 3.0 * dry]),
        "starts": np.rint(banded(np.where(made > 0.0, 13.0 + WEEKDAY, 0.0), low, high)),
        "level_end_l": banded(np.where(dry > 0.0, 60.0, 620.0 - 0.4 * litres), low, min(high, 1.04))
        if tank
        else np.full((3, 365), np.nan),
        "before_ppm": banded(before, low, high),
        "after_ppm": banded(after, 0.4 if spread else 1.0, 1.0 + 4.0 * spread),
        "worst_ppm": banded(after * 1.05, 0.4 if spread else 1.0, 1.0 + 4.0 * spread),
        "back_l": np.zeros((3, 365)),
        "overflow_l": np.zeros((3, 365)),
    }
    chance = [0.0] * 52
    if short:
        chance[4:9] = [0.01, 0.06, 0.14, 0.09, 0.02] if members > 1 else [0.0, 1.0, 1.0, 1.0, 0.0]
    starts: list[str | None] = [
        "21:30", "21:05", "21:40", "22:30", "23:20", "00:05", "00:40", "00:30", "00:00", "23:20", "22:40", "22:00",
    ]  # fmt: skip
    changes = [
        Event(int(day), f"{month:02}-{date:02}", what, why, price)
        for day, month, date, what, why, price in (
            *((d, *_date(d), "resin", "The reading behind it reached 10 ppm.", 75.0) for d in range(58, 360, 58)),
            (183, 7, 2, "sediment cartridge", "Six months are over.", 14.0),
            (183, 7, 2, "carbon cartridge", "Six months are over.", None),
        )
    ]
    answer: dict[str, Any] = {
        "schema": 1, "program": "0.1.0", "phreeqc": "3.8.6", "data": "1",
        "product_m3": amount(100.2, spread),
        "drain_m3": amount(0.0 if resin_alone else 115.0, spread),
        "starts": amount(4210.0, spread),
        "short_days": {"value": 0.4, "low": 0.0, "high": 3.0} if short and members > 1 else amount(3.0 * short),
        "short_litres": {"value": 32.0, "low": 0.0, "high": 410.0} if short and members > 1 else amount(240.0 * short),
        "resin_changes": {"value": 6.0, "low": 5.0, "high": 8.0} if members > 1 else amount(6.0),
        "cartridge_changes": amount(2.0),
        "energy_kwh": amount(0.0),
        "overflow_litres": amount(0.0),
        "frost_days": {"value": 2.0, "low": 0.0, "high": 5.0} if members > 1 else amount(0.0),
        "membrane_changes": amount(0.0),
        "cost": amount(1313.0, spread),
        "cost_per_m3": amount(13.1, spread),
        "worst_meter_ppm": amount(10.3, spread),
        "days_over_limit": {"value": 1.0, "low": 0.0, "high": 4.0} if members > 1 else amount(0.0),
        "dry_chance_by_week": chance,
        "latest_fill_start": starts if tank else [None] * 12,
        "notes": ["The tank's float band is assumed."] if tank else [],
        "seed": 7 if members > 1 else None,
    }  # fmt: skip
    split = {"water": 380.0, "sewerage": 220.0, "resin": 450.0, "cartridges": 28.0, "membranes": 91.0, "labour": 144.0}
    return YearResult(
        site_name=name,
        planned_on="2026-01-31",
        country="GB",
        currency="GBP",
        meter_factor=0.5,
        limit_ppm=10.0,
        seed=7 if members > 1 else None,
        members=members,
        data=answer,
        days=days,
        weeks=(
            week("winter", 43, 5.0, 2.35, spread, resin_alone=resin_alone, tank=tank),
            week("summer", 225, 19.0, 3.5, spread, resin_alone=resin_alone, tank=tank),
        ),
        calendar=tuple(sorted(changes, key=lambda event: event.day)),
        cost_split={key: amount(value, spread) for key, value in split.items()},
        notes=["Frost is counted: the tap stays shut on frosty days.", "The carbon cartridge has no price."],
    )


def _date(day: int) -> tuple[int, int]:
    when = np.datetime64("2018-01-01") + np.timedelta64(day - 1, "D")
    _, month, date = str(when).split("-")
    return int(month), int(date)


def week(
    season: str, first: int, warm: float, flow: float, spread: float, *, resin_alone: bool, tank: bool
) -> WeekHours:
    """Drawn from 8 to 16 on five days; the plant fills a 650 L tank at night, or makes what is drawn."""
    drawn = np.where((HOUR % 24 >= 8) & (HOUR % 24 < 16) & (HOUR < 120), 540.0 / 480.0, 0.0)
    night = (HOUR % 24 >= 20) | (HOUR % 24 < 6)
    level, levels, product = 650.0, [], []
    for wanted, open_tap in zip(drawn, night, strict=True):
        made = min(flow, (650.0 - level) / 60.0) * open_tap if tank else min(flow, wanted)
        level += 60.0 * (made - wanted) if tank else 0.0
        levels.append(level)
        product.append(made)
    made = np.array(product)
    runs = made > 0.0
    before = np.where(runs, 311.0 if resin_alone else 8.0 + 0.35 * warm + 20.0 * (np.diff(runs, prepend=0) > 0), np.nan)
    after = np.where(runs, 1.0 + 0.1 * warm, np.nan)
    low, high = 1.0 - spread, 1.0 + spread
    return WeekHours(
        season,
        first,
        warm,
        {
            "level_l": banded(np.array(levels), low, 1.0) if tank else np.full((3, 168), np.nan),
            "product_l_min": banded(made, low, high),
            "drain_l_min": banded((0.0 if resin_alone else 2.8) * runs, low, high),
            "drawn_l_min": banded(drawn, low, high),
            "before_ppm": banded(before, low, high),
            "after_ppm": banded(after, low, high),
        },
    )


def no_prices() -> YearResult:
    year = a_year(EVIL, 1, short=False)
    data = {**year.data, "cost": amount(None), "cost_per_m3": amount(None), "worst_meter_ppm": amount(None)}
    events = tuple(replace(event, price=None, what=EVIL, why=EVIL) for event in year.calendar)
    return replace(year, data=data, cost_split={}, calendar=events, country="", notes=[EVIL])


def large() -> YearResult:
    """Thirty times the water: five figures on every axis."""
    year = a_year("Long Shed")
    days = {key: 30.0 * rows if key.endswith("_l") else rows for key, rows in year.days.items()}
    weeks = [
        replace(week, hours={key: 30.0 * rows if "_l" in key else rows for key, rows in week.hours.items()})
        for week in year.weeks
    ]
    return replace(year, days=days, weeks=(weeks[0], weeks[1]))


YEARS: dict[str, Callable[[], YearResult]] = {
    "tern-quay": cache(lambda: a_year()),
    "one-year": cache(lambda: a_year("One Year", 1)),
    "lasting": cache(lambda: a_year("Lasting", 50, short=False)),
    "resin-alone": cache(lambda: a_year("Moor Edge", 200, resin_alone=True)),
    "to-the-pole": cache(lambda: a_year("Cold Beck", 1, short=False, tank=False)),
    "no-prices": cache(no_prices),
    "large": cache(large),
}
