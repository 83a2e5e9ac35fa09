"""Water temperature by day of the year, from the user's own values or from a published law or table.

Every function returns 365 daily means in kelvin; index 0 is 1 January. No leap years: a planning year has 365 days.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from rinsewright.dates import DAYS, MONTH_LENGTHS, STARTS
from rinsewright.quantities import ZERO_C, Array, celsius, kelvin

MONTH_DAYS: Final = np.array(MONTH_LENGTHS)
MONTH_STARTS: Final = np.array(STARTS)  # day index of each month's first day, and the end
MONTH_OF_DAY: Final = np.repeat(np.arange(12), MONTH_DAYS)

# SAP 10.2 table J1 (BRE for the UK government): cold water, 24-hour mean by month, °C. Read in two public copies
# that agree.
UK_MAINS_C: Final = (8.0, 8.2, 9.3, 12.7, 14.6, 16.7, 18.4, 17.6, 16.6, 14.3, 11.1, 8.5)
UK_HEADER_TANK_C: Final = (11.1, 11.3, 12.3, 14.5, 16.2, 18.8, 21.3, 19.3, 18.7, 16.2, 13.2, 11.2)
TABLES_C: Final = {"GB mains": UK_MAINS_C, "GB header tank": UK_HEADER_TANK_C}
"""Published monthly means by the name that a site file gives them [°C]."""


def cosine(coldest_k: float, warmest_k: float, coldest_day: int) -> Array:
    """One cosine a year, coldest on ``coldest_day`` (1 to 365), warmest half a year later."""
    middle, half = 0.5 * (coldest_k + warmest_k), 0.5 * (warmest_k - coldest_k)
    days = np.arange(1, DAYS + 1)
    return np.asarray(middle - half * np.cos(2.0 * np.pi * (days - coldest_day) / DAYS))


def from_months(monthly_k: Array) -> Array:
    """Smooth days from twelve monthly means, each of which is kept.

    A parabola in each month, joined without a kink, periodic over the year; each day is the parabola's mean over
    that day, so the days of a month average to the month's value exactly. Peaks may pass the given values a little.
    """
    means, length = np.asarray(monthly_k, dtype=np.float64), MONTH_DAYS.astype(np.float64)
    months = np.arange(12)
    before, after = months - 1, (months + 1) % 12
    # Slopes meet at the start of each month: (2 b₋ + 4 b − 6 m₋)/L₋ = (6 m − 4 b − 2 b₊)/L, b being the values at
    # the joints.
    matrix = np.zeros((12, 12))
    matrix[months, before] += 2.0 / length[before]
    matrix[months, months] += 4.0 / length[before] + 4.0 / length
    matrix[months, after] += 2.0 / length
    joints = np.linalg.solve(matrix, 6.0 * (means[before] / length[before] + means / length))
    start, bulge = joints, 6.0 * (means - 0.5 * (joints + joints[after]))
    rise = joints[after] - joints

    month = MONTH_OF_DAY
    step = 1.0 / length[month]
    u = (np.arange(DAYS) - MONTH_STARTS[month]) * step
    upto = [
        start[month] * u + rise[month] * u**2 / 2.0 + bulge[month] * (u**2 / 2.0 - u**3 / 3.0) for u in (u, u + step)
    ]
    return np.asarray((upto[1] - upto[0]) / step)


def burch_christensen(mean_air_k: float, monthly_air_spread_k: float, southern: bool = False) -> Array:
    """Mains temperature from the air's annual mean [K] and the spread [K] of its monthly means.

    Burch & Christensen, "Towards development of an algorithm for mains water temperature", NREL 2007 (the equation
    as in NREL's own code). Made for the United States; it gives British mains too little swing (use
    :data:`UK_MAINS_C` there).
    """
    mean_f = float(celsius(mean_air_k)) * 1.8 + 32.0
    ratio = 0.4 + 0.01 * (mean_f - 44.0)
    lag = 35.0 - 1.0 * (mean_f - 44.0)  # days
    phase = 90.0 if southern else -90.0
    angle = 0.986 * (np.arange(1, DAYS + 1) - 15.0 - lag) + phase
    mains_f = mean_f + 6.0 + ratio * monthly_air_spread_k * 1.8 / 2.0 * np.sin(np.radians(angle))
    return kelvin((mains_f - 32.0) / 1.8)


def not_frozen(daily_k: Array) -> Array:
    """The same days, none below 0 °C: a smooth curve through months near freezing may pass it."""
    return np.maximum(daily_k, ZERO_C)


def constant(temperature_k: float) -> Array:
    """The same temperature all year, where nothing else is known."""
    return np.full(DAYS, float(temperature_k))
