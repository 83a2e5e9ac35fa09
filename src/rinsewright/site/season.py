"""The water's temperature by day, from whichever way the season is given in the site file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rinsewright import dates
from rinsewright.quantities import ZERO_C, Array, kelvin
from rinsewright.site.schema import Season
from rinsewright.water import climate

WAYS: dict[str, tuple[str, ...]] = {
    "monthly_c": ("monthly_c",),
    "table": ("table",),
    "air_mean_c": ("air_mean_c", "air_monthly_spread_c", "southern"),
    "coldest_c": ("coldest_c", "warmest_c", "coldest_day"),
}
"""The four ways to give a season, by the key that names each, with all its keys."""


@dataclass(frozen=True)
class SeasonInput:
    """The water's temperature through the year [K]: all 365 days, and the coldest and the warmest.

    ``coldest_day`` (1–365) and ``monthly_k`` only where the season was given so.
    """

    coldest_k: float
    warmest_k: float
    coldest_day: int | None
    monthly_k: tuple[float, ...] | None
    daily_k: tuple[float, ...]


def season_of(season: Season) -> SeasonInput:
    """The season in SI. It must be whole: exactly one way given."""
    days = climate.not_frozen(_days(season))
    coldest, warmest = float(days.min()), float(days.max())
    by_cosine = way_of(season) == "coldest_c"
    if by_cosine:  # as typed in: no day is exactly half a year from the coldest
        coldest, warmest = season.coldest_c + ZERO_C, season.warmest_c + ZERO_C  # type: ignore[operator]
    return SeasonInput(
        coldest_k=coldest,
        warmest_k=warmest,
        coldest_day=day_of_year(season.coldest_day) if by_cosine else None,
        monthly_k=None if season.monthly_c is None else tuple(kelvin(np.array(season.monthly_c)).tolist()),
        daily_k=tuple(days.tolist()),
    )


def way_of(season: Season) -> str:
    """The key that names the way in which the season is given; ``coldest_c`` where none is."""
    return next((way for way, keys in WAYS.items() if not season.model_fields_set.isdisjoint(keys)), "coldest_c")


def from_air(season: Season) -> Array:
    """Daily temperatures [K] by the equation from the air, which may freeze where it does not hold."""
    assert season.air_mean_c is not None
    assert season.air_monthly_spread_c is not None
    return climate.burch_christensen(season.air_mean_c + ZERO_C, season.air_monthly_spread_c, season.southern)


def _days(season: Season) -> Array:
    if season.monthly_c is not None:
        return climate.from_months(kelvin(np.array(season.monthly_c)))
    if season.table is not None:
        return climate.from_months(kelvin(np.array(climate.TABLES_C[season.table])))
    if season.air_mean_c is not None:
        return from_air(season)
    assert season.coldest_c is not None
    assert season.warmest_c is not None
    return climate.cosine(season.coldest_c + ZERO_C, season.warmest_c + ZERO_C, day_of_year(season.coldest_day))


def day_of_year(month_day: str) -> int:
    """Day of a year of 365 days, from 1: "02-10" is 41."""
    month, day = (int(number) for number in month_day.split("-"))
    return dates.day_of_year(month, day)
