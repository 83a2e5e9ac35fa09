"""The calendar of a year; the laws of the water's temperature are in :mod:`rinsewright.water.climate`."""

from __future__ import annotations

from rinsewright.water.climate import (
    DAYS,
    MONTH_DAYS,
    MONTH_OF_DAY,
    MONTH_STARTS,
    constant,
    cosine,
    day_of_year,
    from_months,
)

__all__ = [
    "DAYS",
    "MONTH_DAYS",
    "MONTH_OF_DAY",
    "MONTH_STARTS",
    "constant",
    "cosine",
    "day_of_year",
    "from_months",
]
