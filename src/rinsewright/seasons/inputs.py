"""What a year is made of: rates of the plant by day, a working week, a tank, resin and cartridges.

Plain arrays; members (independent copies of the year, "lanes") come first, days second. One year is a batch of one.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import NDArray

from rinsewright.errors import InputError, Problem
from rinsewright.quantities import DAY, Array
from rinsewright.seasons.climate import DAYS

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")  # 1 January is a Monday
WEEKDAY_OF_DAY = np.arange(DAYS) % 7


@dataclass(frozen=True)
class Rates:
    """What the running plant does, as functions of temperature (…, grid) or, after :meth:`by_day`, of the day (members,
    365); plain numbers hold for all.

    Flows in m3/s, conductivities in S/m at 25 °C. ``resin_share_per_m3`` is the share of a vessel's life that a
    cubic metre of product takes: 1 over the litres to the limit, 0 where there is no resin or none is needed.
    """

    product: Array
    drain: Array
    product_conductivity: Array  # behind the membranes
    feed_conductivity: Array
    fresh_conductivity: Array  # behind fresh resin; the product's own without resin
    plateau_conductivity: Array  # behind resin that lets carbonic acid slip
    resin_share_per_m3: Array
    slip_share: Array  # share of a vessel's life at which it first slips, 1 if never before its limit
    pump_w: Array
    drain_when_full: Array  # m3/s to drain while the tank is full and the tap open; 0 if the shut-off trips

    @classmethod
    def plain(
        cls,
        product: Array | float,
        drain: Array | float,
        product_conductivity: Array | float,
        feed_conductivity: Array | float,
        pump_w: Array | float = 0.0,
        drain_when_full: Array | float = 0.0,
    ) -> Rates:
        """A plant without resin."""
        reading = np.asarray(product_conductivity, dtype=np.float64)
        zero, one = np.zeros_like(reading), np.ones_like(reading)
        given = [np.asarray(x, dtype=np.float64) for x in (product, drain, feed_conductivity, pump_w, drain_when_full)]
        return cls(given[0], given[1], reading, given[2], reading, reading, zero, one, given[3], given[4])

    def with_resin(self, m3_to_limit: Array, m3_to_slip: Array, fresh: Array | float, plateau: Array) -> Rates:
        """The same plant behind resin; not-a-number in ``m3_to_limit`` means that the resin is not needed there."""
        needed = np.isfinite(m3_to_limit) & (np.asarray(m3_to_limit) > 0.0)
        slip = np.divide(m3_to_slip, m3_to_limit, out=np.ones_like(m3_to_limit), where=needed & np.isfinite(m3_to_slip))
        share = np.divide(1.0, m3_to_limit, out=np.zeros_like(m3_to_limit), where=needed)
        values = {f.name: getattr(self, f.name) for f in fields(self)}
        values |= {
            "fresh_conductivity": np.where(needed, fresh, self.product_conductivity),
            "plateau_conductivity": np.where(needed, plateau, self.product_conductivity),
            "resin_share_per_m3": share,
            "slip_share": np.minimum(slip, 1.0),
        }
        return Rates(**values)

    def by_day(self, grid_k: Array, temperature_k: Array) -> Rates:
        """Interpolate from a rising temperature grid [K] to days, (members or 1, 365); the ends of the grid are held.

        Straight between grid points: a grid of 2 K leaves an error below 0.1 % in the flows.
        """
        grid, days = np.asarray(grid_k, dtype=np.float64), np.atleast_2d(temperature_k)

        def along(values: Array) -> Array:
            rows = np.atleast_2d(np.broadcast_to(values, (*np.shape(values)[:-1], len(grid))))
            members = max(len(rows), len(days))
            rows, warm = (np.broadcast_to(x, (members, x.shape[1])) for x in (rows, days))
            return np.stack([np.interp(t, grid, row) for t, row in zip(warm, rows, strict=True)])

        return Rates(**{f.name: along(getattr(self, f.name)) for f in fields(self)})

    def choose(self, other: Rates, days: NDArray[np.bool_]) -> Rates:
        """The other's values on the days marked in ``days`` (365 truths): another water, another pressure."""
        return Rates(**{f.name: np.where(days, getattr(other, f.name), getattr(self, f.name)) for f in fields(self)})


@dataclass(frozen=True)
class Draw:
    """Water drawn evenly between two times of a day [s after midnight]: ``share`` of that day's demand."""

    start: float
    end: float
    share: float = 1.0


@dataclass(frozen=True)
class Week:
    """When water is drawn on each weekday (Monday first) and when the tap may be open.

    ``fill_from`` and ``fill_until`` [s after midnight] may span midnight; equal or absent, the tap is always open.
    """

    draws: tuple[tuple[Draw, ...], ...]
    fill_from: float | None = None
    fill_until: float | None = None

    def filling(self, second: float) -> bool:
        """Whether the tap may be open at a time of day [s]."""
        start, end = self.fill_from, self.fill_until
        if start is None or end is None or start == end:
            return True
        return start <= second < end if start < end else second >= start or second < end

    def breaks(self, weekday: int) -> list[float]:
        """Times [s] of a weekday at which something changes, midnight to midnight."""
        times = {0.0, DAY} | {time for draw in self.draws[weekday] for time in (draw.start, draw.end)}
        return sorted(times | {time for time in (self.fill_from, self.fill_until) if time is not None})


def even_week(start: float, end: float, fill_from: float | None = None, fill_until: float | None = None) -> Week:
    """The day's water drawn evenly between two times, every day; over midnight it is the same date's early hours."""
    if start == end:
        raise InputError(
            Problem("the water must be drawn over some time: give an end later than the start", key="draw_until")
        )
    if start < end:
        day: tuple[Draw, ...] = (Draw(start, end),)
    else:
        length = end + DAY - start
        day = (Draw(0.0, end, end / length), Draw(start, DAY, (DAY - start) / length))
    return Week(tuple(tuple(draw for draw in day if draw.end > draw.start) for _ in WEEKDAYS), fill_from, fill_until)


def rounds_week(
    jobs: Mapping[int, Sequence[tuple[float, float]]],
    start: float,
    end: float,
    fill_from: float | None = None,
    fill_until: float | None = None,
) -> tuple[Week, Array]:
    """Jobs of each weekday (0 is Monday) as (m3, s), in order from ``start``; returns the week and its demand (7) in
    m3.

    Time left until ``end`` is shared evenly between the jobs as travel; without any they follow one another.
    """
    draws: list[tuple[Draw, ...]] = []
    demand = np.zeros(7)
    for weekday in range(7):
        today = jobs.get(weekday, ())
        demand[weekday] = sum(m3 for m3, _ in today)
        working = sum(seconds for _, seconds in today)
        if start + working > DAY:
            message = f"the jobs of {WEEKDAYS[weekday]} last beyond midnight: start earlier or move jobs to another day"
            raise InputError(Problem(message, key="demand.rounds"))
        pause = max(0.0, end - start - working) / max(1, len(today) - 1)
        clock, day = start, []
        for m3, seconds in today:
            day.append(Draw(clock, clock + seconds, m3 / demand[weekday] if demand[weekday] > 0.0 else 0.0))
            clock += seconds + pause
        draws.append(tuple(draw for draw in day if draw.end > draw.start))
    return Week(tuple(draws), fill_from, fill_until), demand


def demand_by_day(weekday_m3: Array, days_off: Collection[int] = ()) -> Array:
    """Demand [m3] of each day, (…, 365), from that of each weekday (…, 7) and the days off (1 to 365)."""
    demand = np.asarray(weekday_m3, dtype=np.float64)[..., WEEKDAY_OF_DAY].copy()
    demand[..., [day - 1 for day in days_off]] = 0.0
    return demand


@dataclass(frozen=True)
class TankUse:
    """A tank as the year sees it. Volumes in m3, plain or per member.

    When full the plant stops, and starts again once ``restart`` has been drawn. With ``restart`` = 0 the float
    hovers: while someone draws, the membranes make just what is drawn and the drain runs on in full.
    """

    volume: Array | float
    restart: Array | float
    start_full: Array | float = 1.0


@dataclass(frozen=True)
class Standstill:
    """Salt that creeps through the membranes while they stand, and comes out with the first water of the next start.

    ``volume`` [m3] of the product side and ``relaxation`` [s] towards the feed (volume over salt permeance × area).
    ``share`` of the bound volume·(C_feed − C_product) that is really found: 1 is the bound; measured first flushes
    of one seawater element stayed well below it.
    """

    volume: Array | float = 0.0
    relaxation: Array | float = 3600.0
    share: Array | float = 1.0


@dataclass(frozen=True)
class CartridgeUse:
    """A cartridge in the feed: it is changed, between two days, after a volume [m3] of feed or a number of days."""

    name: str
    volume: Array | float = np.inf
    days: Array | float = np.inf


@dataclass(frozen=True)
class YearInputs:
    """All that :func:`rinsewright.seasons.year.simulate` needs. ``demand`` is (members, 365) m3."""

    rates: Rates
    week: Week
    demand: Array
    tank: TankUse | None = None
    standstill: Standstill = field(default_factory=Standstill)
    resin_behind_tank: bool = False
    resin_fitted: bool = False  # there is resin, whether or not it is needed on a given day
    limit_conductivity: float = np.inf  # S/m at 25 °C, where the resin is changed
    flush_m3: float = 0.0  # to drain at each stop
    cartridges: tuple[CartridgeUse, ...] = ()
    delivery_j_per_m3: float = 0.0  # energy of the pump to the brush
