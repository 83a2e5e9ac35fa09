"""What a year is made of: the plant's response, a working week, tanks, vans, cartridges and the ways they wear.

Plain arrays; members (independent copies of the year, "lanes") come first, days second. One year is a batch of one.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace

import numpy as np
from numpy.typing import NDArray

from rinsewright.dates import DAYS
from rinsewright.errors import InputError, Problem
from rinsewright.quantities import DAY, HOUR, Array
from rinsewright.seasons.table import Response

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")  # 1 January is a Monday
WEEKDAY_OF_DAY = np.arange(DAYS) % 7


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
            Problem("the water must be drawn over some time: give an end later than the start", key="demand.draw_until")
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
    """The product tank. ``band`` [m3] lies below the top: the float valve is full open below it and shut at the top.

    Without a float valve (``floats`` false) it overflows when full.
    """

    volume: float
    band: float
    start_full: float = 1.0
    floats: bool = True


@dataclass(frozen=True)
class ShutOffRule:
    """What stops the plant as its product is throttled: ``of`` is "ratio" (product over feed pressure) or
    "membrane_pa"; it starts again where the running plant would be at ``reopens_at``.
    """

    of: str
    closes_at: float
    reopens_at: float


@dataclass(frozen=True)
class Standstill:
    """Salt that creeps through the membranes while they stand, and comes out with the first water of the next start.

    ``volume`` [m3] of the product side and ``relaxation`` [s] by day (members or 1, 365) towards the feed side
    (volume over salt permeance × area). ``share`` of the bound volume·(C_feed side − C_product) that is really found:
    1 is the bound; measured first flushes of one seawater element stayed well below it. ``flushed``: the feed side is
    left with tap water, not with concentrate.
    """

    volume: float = 0.0
    relaxation: Array | float = 3600.0
    share: float = 1.0
    flushed: bool = False


@dataclass(frozen=True)
class BackFlow:
    """Water that runs back through the membranes without a check valve: ``line`` [m3] at each stop, and ``leak``
    [m3/s] by day (members or 1, 365) from a tank filled from below, all the while it stands.
    """

    line: float = 0.0
    leak: Array | float = 0.0


@dataclass(frozen=True)
class BreakTank:
    """A tank between mains and plant: ``volume`` [m3], refilled at ``refill`` [m3/s]; run dry, the plant waits until it
    is half full.
    """

    volume: float
    refill: float


@dataclass(frozen=True)
class VanUse:
    """A van: its tank [m3], the time of day [s] from which it is refilled, the refilling flow [m3/s], and its share of
    the day's water.
    """

    volume: float
    refill_at: float
    refill: float
    share: float


@dataclass(frozen=True)
class CartridgeUse:
    """A cartridge in the feed and the rules by which it is changed, each left out where ``None`` or infinite.

    ``clean_pa`` at ``at_flow`` [m3/s] and 20 °C; the loss doubles with every ``to_double`` [m3] (members or plain).
    ``rise_pa`` over clean, ``volume`` [m3], ``days`` since the last change, ``on`` days of the year (1–365), and
    ``chlorine_kg`` taken up from water with ``chlorine`` [kg/m3].
    """

    name: str
    clean_pa: float = 0.0
    at_flow: float = 1.0
    to_double: Array | float = np.inf
    rise_pa: float = np.inf
    volume: Array | float = np.inf
    days: float = np.inf
    on: tuple[int, ...] = ()
    chlorine_kg: float = np.inf
    chlorine: float = 0.0


@dataclass(frozen=True)
class MembraneUse:
    """How the membranes age and when they are changed; rates compound by the year, tolerance in kg s/m3 of chlorine."""

    flow_loss: float = 0.0
    passage_growth: float = 0.0
    flow_loss_allowed: float = np.inf
    passage_allowed: float = np.inf
    chlorine: float = 0.0  # kg/m3 of free chlorine that reaches them
    tolerance: Array | float = np.inf
    age_days: float = 0.0  # at the start of the year
    change_after_days: float = np.inf


@dataclass(frozen=True)
class YearInputs:
    """All that :func:`rinsewright.seasons.march.march` needs.

    ``responses``: (first day from 0, the plant's response to the tap water from then on). By day: ``temperature_k``
    (members or 1, 365), ``demand`` [m3], ``water_factor`` and ``shut_days`` (tap shut all day: frost) (members, 365).
    ``salt_factor`` and ``flow_factor`` (members) on what the membranes give. ``standing_pa`` by hour of the day (24).
    """

    responses: tuple[tuple[int, Response], ...]
    temperature_k: Array
    standing_pa: Array
    week: Week
    demand: Array
    water_factor: Array
    salt_factor: Array
    flow_factor: Array
    shut_days: NDArray[np.bool_]
    tank: TankUse | None = None
    shutoff: tuple[ShutOffRule, ...] = ()
    vans: tuple[VanUse, ...] = ()
    work: tuple[float, float] = (8.0 * HOUR, 16.0 * HOUR)  # of the vans: when they leave, when they have used it
    standstill: Standstill = field(default_factory=Standstill)
    back_flow: BackFlow = field(default_factory=BackFlow)
    break_tank: BreakTank | None = None
    flush_m3: float = 0.0  # to drain at each stop
    pump_w: float = 0.0
    delivery_j_per_m3: float = 0.0  # energy of the pump to the brush
    cartridges: tuple[CartridgeUse, ...] = ()
    membranes: MembraneUse = field(default_factory=MembraneUse)
    hourly_days: tuple[int, ...] = ()  # days (from 0) kept hour by hour
    limit: float = np.inf  # S/m, of what is delivered
    tap_factor: Array | float = 1.0  # (members) on what a blend adds to the reading

    @property
    def members(self) -> int:
        """Years marched side by side."""
        return len(self.demand)

    def part(self, chosen: slice) -> YearInputs:
        """The same for some of the members."""
        n = self.members

        def some(value: object) -> object:
            if isinstance(value, np.ndarray) and value.ndim and len(value) == n and value.shape != (24,):
                return value[chosen]
            return value

        def rebuilt(of: object) -> object:
            return replace(of, **{f.name: some(getattr(of, f.name)) for f in fields(of)})  # type: ignore[type-var, arg-type]

        own = {name: some(getattr(self, name)) for name in _BY_MEMBER}
        own |= {name: rebuilt(getattr(self, name)) for name in ("standstill", "back_flow", "membranes")}
        own["cartridges"] = tuple(rebuilt(one) for one in self.cartridges)
        return replace(self, **own)  # type: ignore[arg-type]


_BY_MEMBER = ("temperature_k", "demand", "water_factor", "salt_factor", "flow_factor", "shut_days", "tap_factor")
