"""A year of 365 days that begins on a Monday: its months and dates, in plain numbers."""

from __future__ import annotations

from itertools import accumulate
from typing import Final

DAYS: Final = 365
MONTH_LENGTHS: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
STARTS: Final = (0, *accumulate(MONTH_LENGTHS))  # day index of each month's first day, and the end


def day_of_year(month: int, day: int) -> int:
    """Day of the year, 1 to 365, of a date in a year that is not a leap year (29 February counts as the 28th)."""
    return STARTS[month - 1] + min(day, MONTH_LENGTHS[month - 1])


def month_and_day(day: int) -> tuple[int, int]:
    """Month (1 to 12) and day of the month of a day of the year, 1 to 365."""
    month = sum(day > start for start in STARTS)
    return month, day - STARTS[month - 1]
