"""The chance of an ensemble: all that a year draws by lot, one stream of random numbers for each member.

A member's numbers follow from the seed and its own number alone, in one fixed order: more members or other numbers of
workers change none of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from rinsewright.dates import DAYS
from rinsewright.quantities import Array
from rinsewright.sources import Sourced
from rinsewright.water.climate import MONTH_OF_DAY

Days = NDArray[np.bool_]

WEATHER_PERSISTENCE = Sourced(
    0.25,
    "correlation of one day with the next",
    "0.2 to 0.4",
    "wet days, which stand here for days lost to weather",
    "Geng, Penning de Vries & Supit, Agric. For. Meteorol. 36, 363 (1986): a wet day follows a dry one with 0.75 of "
    "the share of wet days, a wet one with 0.25 more; read in public weather generators that use it, not in the paper",
    "read",
)
FROST_PERSISTENCE = Sourced(
    0.6,
    "correlation of one day with the next",
    "0.4 to 0.7",
    "days with frost within a month",
    "assumed: cold spells last longer than wet ones",
    "assumed",
)
DEMAND_DAY_SPREAD = Sourced(
    0.15, "share of a day's demand, one standard deviation", "0.05 to 0.3", "day to day", "assumed", "assumed"
)


@dataclass(frozen=True)
class Draws:
    """What is drawn for each member; members first. ``z`` is of a standard normal, ``u`` even between 0 and 1."""

    z_water_permeance: Array  # (members,): the makers' tolerance
    z_temperature_form: Array  # (members,): how permeance falls in the cold
    z_salt: Array  # (members,): salt permeance
    z_film: Array  # (members,): film coefficient of the feed channel
    z_cation: Array  # (members,): the resin's cation capacity
    z_anion: Array  # (members,): the resin's anion capacity
    z_usable: Array  # (members,): share of the capacity that is used
    z_dirt: Array  # (members,): dirt of the water
    z_chlorine_tolerance: Array  # (members,): of the membranes
    z_demand: Array  # (members,): level of the whole year
    u_water: Array  # (members,): picks one of the waters that the tap may have
    u_gas: Array  # (members,): gas of the air that the tank takes up
    z_day: Array  # (members, 365): demand from day to day
    off: Days  # (members, 365): no work for the weather
    frost: Days  # (members, 365)

    @property
    def members(self) -> int:
        """How many members are drawn."""
        return len(self.z_demand)


def draw(seed: int, members: range, weather: Sequence[float], frost: Sequence[float]) -> Draws:
    """All chance of some members of an ensemble.

    ``weather``, ``frost``: each month's share of days off and of frost days (12 each, 0 to 1).
    """
    drawn = [_member(member_rng(seed, member)) for member in members]
    z, u, z_day, u_off, u_frost = (np.stack(numbers) for numbers in zip(*drawn, strict=True))
    single = [field.name for field in fields(Draws)][:12]
    return Draws(
        **dict(zip(single, [*z.T, *u.T], strict=True)),
        z_day=z_day,
        off=off_days(u_off, weather, WEATHER_PERSISTENCE.value),
        frost=off_days(u_frost, frost, FROST_PERSISTENCE.value),
    )


def member_rng(seed: int, member: int) -> np.random.Generator:
    """The one stream of random numbers of a member; ``seed`` and ``member`` from 0."""
    return np.random.default_rng(np.random.SeedSequence([seed, member]))


def _member(rng: np.random.Generator) -> tuple[Array, ...]:
    """One member's numbers in their fixed order: ten z, two u, the days' z, the days' u for weather and for frost.

    All are drawn, needed or not, and what is new goes to the end: what a seed has given stays.
    """
    return rng.standard_normal(10), rng.random(2), rng.standard_normal(DAYS), rng.random(DAYS), rng.random(DAYS)


def off_days(uniform: Array, chance: Sequence[float], persistence: float) -> Days:
    """Which days are off, in spells: a chain of two states by day.

    ``uniform``: numbers between 0 and 1, (members, 365). ``chance``: each month's share of days off (12).
    ``persistence``: correlation of one day with the next, 0 to below 1.

    A day of share m is off with the chance m (1 − r) after a day on, and with r more after a day off: its share is m
    again, its correlation r (Gabriel & Neumann, Q. J. R. Meteorol. Soc. 88, 90, 1962; from memory). Where the share
    changes from m₋ to m the first is m − r m₋, so that the new share holds from the first of the month on; r is less on
    that one day where the shares are too far apart for it.
    """
    if len(chance) != 12 or not all(0.0 <= share <= 1.0 for share in chance):
        raise ValueError("give twelve shares between 0 and 1, January to December")
    if not 0.0 <= persistence < 1.0:
        raise ValueError(f"the persistence is {persistence:g}: give 0 to below 1")
    share = np.array(chance, dtype=np.float64)[MONTH_OF_DAY]
    before = np.roll(share, 1)
    kept = np.full(DAYS, persistence)
    for now, then in ((share, before), (1.0 - share, 1.0 - before)):  # no chance below 0 or above 1
        np.divide(now, then, out=kept, where=now < kept * then)
    after_on = share - kept * before

    off = np.empty(uniform.shape, dtype=np.bool_)
    off[:, 0] = uniform[:, 0] < share[0]
    for day in range(1, DAYS):
        off[:, day] = uniform[:, day] < after_on[day] + kept[day] * off[:, day - 1]
    return off
