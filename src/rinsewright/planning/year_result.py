"""What a simulated year hands to the command line and the papers: plain data in trade units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rinsewright.dates import STARTS
from rinsewright.planning import wording

if TYPE_CHECKING:
    from rinsewright.quantities import Array

BY_DAY = (
    "temperature_c",
    "product_l",
    "drain_l",
    "delivered_l",
    "short_l",
    "starts",
    "level_end_l",
    "before_ppm",
    "after_ppm",
    "worst_ppm",
    "back_l",
    "overflow_l",
)
BY_HOUR = ("level_l", "product_l_min", "drain_l_min", "drawn_l_min", "before_ppm", "after_ppm")
LOW, VALUE, HIGH = 0, 1, 2  # rows of every array of a year


@dataclass(frozen=True)
class WeekHours:
    """One week of the year hour by hour.

    ``season`` is "winter" or "summer", ``first_day`` 1 to 365, ``temperature_c`` the week's mean. ``hours`` holds the
    keys of :data:`BY_HOUR`, each (3, 168): low, value, high. Not-a-number: no water in that hour, or no such part.
    """

    season: str
    first_day: int
    temperature_c: float
    hours: Mapping[str, Array]


@dataclass(frozen=True)
class Event:
    """Something changed on a day of the year without chance (1 to 365; ``date`` as "MM-DD").

    ``what`` names the thing, ``why`` is a sentence, ``price`` what the change costs in the site's currency; None where
    that has no price.
    """

    day: int
    date: str
    what: str
    why: str
    price: float | None


@dataclass(frozen=True)
class YearResult:
    """A calendar year of a plant. ``data`` is the contract's ``year`` object, with its stamp.

    ``days`` holds the keys of :data:`BY_DAY`, each (3, 365): low, value, high, which are equal for a single member.
    Not-a-number: no water on that day, or no such part (no tank: ``level_end_l``; no membranes: ``before_ppm`` is the
    reading before the resin). What is made is delivered, spilt (``overflow_l``), run back through the membranes to the
    drain (``back_l``, in ``drain_l`` too) or left in the tank. ``weeks`` are one of winter and one of summer.
    ``cost_split`` maps a name to value, low and high of a year's cost. ``notes`` say what is counted and what is not.
    """

    site_name: str
    planned_on: str
    country: str
    currency: str
    meter_factor: float
    limit_ppm: float
    seed: int | None
    members: int
    data: dict[str, Any]
    days: Mapping[str, Array]
    weeks: tuple[WeekHours, WeekHours]
    calendar: tuple[Event, ...]
    cost_split: Mapping[str, Mapping[str, float | None]]
    notes: list[str]
    always_open: bool = False  # no filling hours are given: ``latest_fill_start`` is for a tap shut while drawing

    def answer(self) -> dict[str, Any]:
        """The contract's JSON object."""
        return self.data

    def sentences(self) -> tuple[str, ...]:
        """The year as a person would say it, the most important first."""
        changes = [(event.date, event.what) for event in self.calendar]
        said = wording.year_sentences(
            self.data, self.members, changes, self.months_too_late(), self.currency, self.limit_ppm, self.always_open
        )
        return tuple(said)

    def months_too_late(self) -> list[int]:
        """Months (0 to 11) in which a tank is drawn from and no start of filling is early enough to have it full."""
        if all(level != level for level in self.days["level_end_l"][VALUE].tolist()):  # not-a-number: no tank
            return []
        wanted = (self.days["delivered_l"] + self.days["short_l"])[VALUE].tolist()
        starts = self.data["latest_fill_start"]
        months = [month for month in range(12) if any(wanted[STARTS[month] : STARTS[month + 1]])]
        return [month for month in months if starts[month] is None]

    def text(self) -> str:
        """The year for a terminal."""
        return wording.year_text(
            self.site_name, self.data, self.members, self.sentences(), self.notes, self.always_open
        )

    def __getitem__(self, key: str) -> Any:
        """A part of the answer: ``site.year()["short_days"]``."""
        return self.data[key]
