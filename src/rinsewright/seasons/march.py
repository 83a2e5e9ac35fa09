"""The plant through days and years, marched from event to event.

Between two hours at which something outside changes (a draw begins, the tap opens, the pressure shifts) the plant
follows its response alone. Product flow is straight between the table's openings, and the float's opening straight in
the level, so the level obeys dV/dt = a + b·V piece by piece and every next event (shut-off closes, plant starts again,
tank dry, van full) has a closed form; nothing is searched for with small steps. A plant that starts and stops again
and again under an even draw repeats one cycle: the cycles are counted, not stepped through. All members march side by
side, each to its own next event. What wears slowly (filters, membranes) is brought up to date at midnight.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import lru_cache
from itertools import pairwise
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from rinsewright.dates import DAYS
from rinsewright.errors import NoWorkingState
from rinsewright.plant.feed.cartridge import CartridgeLaw
from rinsewright.plant.membrane.ageing import compounding
from rinsewright.quantities import DAY, HOUR, LITRE, Array
from rinsewright.seasons.inputs import WEEKDAY_OF_DAY, ShutOffRule, TankUse, YearInputs
from rinsewright.seasons.ledger import Hours, Ledger
from rinsewright.seasons.table import Curve

Truths = NDArray[np.bool_]
Index = NDArray[np.intp]
_some = np.count_nonzero  # whether any is true; several times as fast as asking each array
_MOST_A_DAY, _MOST_SPARE = 1_000, 10_000  # events of a day on the mean, and beyond; usual are tens
_NEVER_RAN = 7.0 * DAY  # how long the plant has stood when the march begins
_FOR_EVER = 1e30
_SAME = 1e-6  # of the tank, the break tank: how near they come to a cycle's beginning for the next to be the same
_TOPPED = 0.005  # of the float's band
_FULL_ENOUGH = 0.98  # of the float's band: where filling is called done if no shut-off ends it

SUMS = (
    "product", "drain", "back", "overflow", "delivered", "short", "starts", "running", "energy", "salt", "creep",
    "salt_drawn",
)  # fmt: skip


# --- one plant under one pressure on one day ---


@dataclass(frozen=True)
class Phase:
    """Flows against the tank's level for each member: ``level`` (nodes) rises; the rest are (members, nodes).

    ``close`` and ``reopen`` [m3]: levels at which the plant stops and starts again; ``close`` lies above the top where
    nothing stops it.
    """

    level: Array
    product: Array
    drain: Array
    salt: Array
    slope: Array  # of the product against the level, (members, nodes − 1)
    drain_slope: Array  # of drain and salt against the product, likewise; 0 where the product is even
    salt_slope: Array
    close: Array
    reopen: Array
    tap_flow: Array  # (members), full open

    @property
    def stops(self) -> Truths:
        """Which members' plants a shut-off or pressure switch stops."""
        return np.asarray(self.close <= self.level[-1])

    def take(self, i: Index) -> Phase:
        """The same for some members, in rising order."""
        if len(i) == len(self.close):
            return self
        slopes = (self.slope, self.drain_slope, self.salt_slope)
        rest = (self.product, self.drain, self.salt, *slopes, self.close, self.reopen, self.tap_flow)
        return Phase(self.level, *(values[i] for values in rest))

    def pieces(self, first: int, end: int) -> Phase:
        """Some of the nodes."""
        product, drain, salt = (values[:, first:end] for values in (self.product, self.drain, self.salt))
        slopes = (self.slope, self.drain_slope, self.salt_slope)
        slope, drain_slope, salt_slope = (values[:, first : end - 1] for values in slopes)
        rest = (slope, drain_slope, salt_slope, self.close, self.reopen, self.tap_flow)
        return Phase(self.level[first:end], product, drain, salt, *rest)


def phase_of(curve: Curve, openings: Array, tank: TankUse | None, rules: tuple[ShutOffRule, ...]) -> Phase:
    """A response's curve laid over the tank's levels; without a tank the "level" is 1 − opening of the brush.

    Of several rules the first to be reached stops the plant, and all must let it start again.
    """
    floats = tank is None or tank.floats
    if tank is None:
        level = np.concatenate([[0.0], 1.0 + (1.0 - openings)])
    elif tank.floats:
        level = np.concatenate([[0.0], tank.volume - tank.band * openings])
    else:
        level = np.array([0.0, tank.volume])

    def over(values: Array) -> Array:
        return np.concatenate([values[:, :1], values if floats else values[:, :1]], axis=1)

    product = over(curve.product)
    n, top = len(product), level[-1]
    close, reopen = np.full(n, np.inf), np.full(n, top if rules else -np.inf)
    for rule in rules if tank is not None and floats else ():
        value = over(getattr(curve, rule.of))
        close = np.minimum(close, _level_of(level, value, rule.closes_at, np.inf))
        reopen = np.minimum(reopen, _level_of(level, value, rule.reopens_at, top))
    reopen = np.minimum(reopen, close)
    close = np.where(close <= level[1], -np.inf, close)  # it never even opens
    drain, salt = over(curve.drain), over(curve.salt)
    more = product[:, 1:] - product[:, :-1]
    per_product = np.divide(1.0, more, out=np.zeros_like(more), where=more != 0.0)
    drain_slope, salt_slope = ((v[:, 1:] - v[:, :-1]) * per_product for v in (drain, salt))
    slope = more / (level[1:] - level[:-1])
    tap_flow = curve.tap_flow[:, 0]
    return Phase(level, product, drain, salt, slope, drain_slope, salt_slope, close, reopen, tap_flow)


def _level_of(level: Array, value: Array, reached: float, never: float) -> Array:
    """Lowest level within the float's band at which a rising ``value`` (members, nodes) is reached; (members)."""
    above = value >= reached
    j = np.maximum(np.argmax(above, axis=1), 1)
    lane = np.arange(len(value))
    v0, v1 = value[lane, j - 1], value[lane, j]
    part = np.clip(np.divide(reached - v0, v1 - v0, out=np.ones_like(v0), where=v1 > v0), 0.0, 1.0)
    found = np.where(above[:, 0], level[1], level[j - 1] + part * (level[j] - level[j - 1]))
    return np.where(above.any(axis=1), found, never)


@dataclass(frozen=True)
class Passage:
    """How the level moved while the plant ran; arrays (members)."""

    level: Array
    time: Array  # s
    product: Array  # m3
    drain: Array
    salt: Array  # S/m · m3
    keep: Array  # share of the tank's old reading left
    mixed: Array  # S/m added to the reading by what came in


def traverse(phase: Phase, level: Array, bound: Array, draw: Array, limit: Array) -> Passage:
    """Let the plants run under an even draw [m3/s] until their levels reach ``bound``, fall dry or ``limit`` [s] is up.

    Within a piece dV/dt = n + s·(V − V₀): V goes as an exponential, straight where s = 0. Drain and salt are straight
    in the product within a piece, so their sums follow from its. The tank is well mixed: over a piece the old water's
    share falls as exp(−∫q/V dt), the piece's product having its mean strength.
    """
    lane = np.arange(len(level))
    j = np.minimum(np.maximum(np.searchsorted(phase.level, level, side="right") - 1, 0), len(phase.level) - 2)
    x = phase.level[j]
    up = phase.product[lane, j] - draw + phase.slope[lane, j] * (level - x) > 0.0
    # Only the pieces that can be passed.
    first = 0 if _some(~up) else int(j.min())
    last = max(int(np.searchsorted(phase.level, np.minimum(bound, phase.level[-1]).max())), int(j.max()) + 1)
    phase = phase.pieces(first, last + 1)
    x0, x1 = phase.level[:-1], phase.level[1:]
    net = phase.product - draw[:, None]
    lowest, highest = np.where(up, level, 0.0)[:, None], np.where(up, np.minimum(bound, x1[-1]), level)[:, None]
    low = np.minimum(np.maximum(x0, lowest), highest)
    high = np.minimum(np.maximum(x1, lowest), highest)
    width = high - low
    net_low = net[:, :-1] + phase.slope * (low - x0)
    change = phase.slope * width
    net_high = net_low + change
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        straight = np.abs(change) <= 1e-9 * np.abs(net_low)
        whole = np.abs(np.where(straight, width / net_low, np.log(net_high / net_low) / phase.slope))
        whole = np.where(width <= 0.0, 0.0, np.where(net_low * net_high > 0.0, whole, _FOR_EVER))
        whole = np.minimum(whole, _FOR_EVER)
        before = np.zeros_like(whole)
        before[:, 1:] = np.cumsum(whole, axis=1)[:, :-1]
        down = ~up
        if _some(down):
            falling = np.cumsum(whole[down, ::-1], axis=1)[:, ::-1]
            before[down] = 0.0
            before[down, :-1] = falling[:, 1:]
        time = np.minimum(np.maximum(limit[:, None] - before, 0.0), whole)
        entry = np.where(up[:, None], net_low, net_high)
        exponent = phase.slope * time
        growth = np.where(np.abs(exponent) < 1e-12, 1.0, np.expm1(exponent) / np.where(exponent == 0.0, 1.0, exponent))
        sign = np.where(up, 1.0, -1.0)[:, None]
        moved = np.where(time >= whole, sign * width, sign * np.minimum(np.abs(entry * time * growth), width))
        product = np.maximum(moved + draw[:, None] * time, 0.0)
        beyond = product - phase.product[:, :-1] * time
        drain = phase.drain[:, :-1] * time + phase.drain_slope * beyond
        salt = phase.salt[:, :-1] * time + phase.salt_slope * beyond

        start = np.where(up[:, None], low, high)
        end = start + moved
        ratio = end / np.where(start == 0.0, 1.0, start)
        mean = np.where(np.abs(ratio - 1.0) < 1e-9, start, moved / np.where(ratio == 1.0, 1.0, np.log(ratio)))
        mean = np.where((start <= 0.0) | (end <= 0.0), 0.0, mean)
        washed = np.minimum(np.where(product > 0.0, product / np.maximum(mean, 1e-30), 0.0), 500.0)
        after = np.cumsum(washed, axis=1)
        total = after[:, -1]
        later = np.where(up[:, None], total[:, None] - after, after - washed)
        strength = np.where(product > 0.0, salt / np.where(product > 0.0, product, 1.0), 0.0)
        mixed = (strength * -np.expm1(-washed) * np.exp(-later)).sum(axis=1)
    spent = time.sum(axis=1)
    ends = level + moved.sum(axis=1)
    through = time >= whole
    ends = np.where(up & through.all(axis=1), highest[:, 0], ends)
    ends = np.where(down & through.all(axis=1), 0.0, ends)
    return Passage(ends, spent, product.sum(axis=1), drain.sum(axis=1), salt.sum(axis=1), np.exp(-total), mixed)


def most_taken(phase: Phase, level: Array, draw: Array) -> Array:
    """Most feed [m3/s] that running plants take from ``level`` on to where the level comes to rest, (members)."""
    lane, nodes = np.arange(len(level)), np.arange(len(phase.level))
    feed, net = phase.product + phase.drain, phase.product - draw[:, None]
    j = np.clip(np.searchsorted(phase.level, level, side="right") - 1, 0, len(nodes) - 2)

    def at(values: Array, piece: Index, part: Array) -> Array:
        return np.asarray(values[lane, piece] + part * (values[lane, piece + 1] - values[lane, piece]))

    part = (level - phase.level[j]) / (phase.level[j + 1] - phase.level[j])
    up = at(net, j, part) > 0.0
    # The piece in which it comes to rest, on the way up or down; where there is none its outer end.
    above, below = (net <= 0.0) & (nodes > j[:, None]), (net >= 0.0) & (nodes <= j[:, None])
    rest_up = np.where(above.any(axis=1), above.argmax(axis=1), len(nodes) - 1) - 1
    rest_down = np.where(below.any(axis=1), len(nodes) - 1 - below[:, ::-1].argmax(axis=1), 0)
    rest = np.where(up, rest_up, np.minimum(rest_down, len(nodes) - 2))
    low, high = net[lane, rest], net[lane, rest + 1]
    turns = np.divide(low, low - high, out=np.where(up, 1.0, 0.0), where=low != high)
    passed = np.where(up[:, None], (nodes > j[:, None]) & (nodes <= rest[:, None]), False)
    passed |= np.where(up[:, None], False, (nodes <= j[:, None]) & (nodes > rest[:, None]))
    between = np.where(passed, feed, 0.0).max(axis=1)
    return np.asarray(np.maximum(np.maximum(at(feed, j, part), at(feed, rest, np.clip(turns, 0.0, 1.0))), between))


# --- the clock ---


@dataclass(frozen=True)
class Stretch:
    """Part of a day in which nothing outside changes."""

    start: float
    length: float
    open: bool  # whether the tap may be open
    share: float  # of the day's water drawn per second
    hour: int  # of the pressure
    refills: tuple[int, ...]  # vans that begin to refill at its start
    leaves: bool  # the vans leave at its start
    back: bool  # their day's water is used up at its start


def stretches_of(inputs: YearInputs, weekday: int, hourly: bool) -> tuple[Stretch, ...]:
    """A weekday cut where something outside changes."""
    week, vans = inputs.week, inputs.vans
    leave, back = inputs.work
    marks = {0.0, DAY, *(k * HOUR for k in range(24) if hourly or inputs.standing_pa[k] != inputs.standing_pa[k - 1])}
    marks |= set(week.breaks(weekday))
    if vans:
        marks |= {leave, back, *(van.refill_at for van in vans)}
    draws = () if vans else week.draws[weekday]
    direct = inputs.tank is None and week.fill_from is None and not vans
    first, last = min((d.start for d in draws), default=0.0), max((d.end for d in draws), default=0.0)
    found = []
    for start, end in pairwise(sorted(mark for mark in marks if 0.0 <= mark <= DAY)):
        middle = 0.5 * (start + end)
        share = sum(d.share / (d.end - d.start) for d in draws if d.start <= middle < d.end)
        may = week.filling(middle) and (not direct or first <= middle < last)
        refills = tuple(n for n, van in enumerate(vans) if van.refill_at == start)
        found.append(
            Stretch(start, end - start, may, share, int(middle // HOUR), refills, start == leave, start == back % DAY)
        )
    return tuple(found)


# --- the march ---


def march(
    inputs: YearInputs, first_day: int = 0, days: int = DAYS, progress: Callable[[float], None] | None = None
) -> Ledger:
    """March some days of a calendar year (1 January a Monday) for every member; deterministic.

    ``progress`` is told the share of the days done, day by day. Raises :class:`NoWorkingState` if the plant starts and
    stops without end.
    """
    return _March(inputs, first_day, days).run(progress)


class _March:
    """Where every member is, and the day's sums."""

    def __init__(self, inputs: YearInputs, first_day: int, days: int) -> None:
        self.inputs, self.first, self.days = inputs, first_day, days
        m = self.members = inputs.members
        tank = inputs.tank
        self.level = np.full(m, tank.volume * tank.start_full if tank else 0.0)
        self.running = np.zeros(m, dtype=bool)
        self.tap = np.zeros(m, dtype=bool)
        self.standing = np.full(m, _NEVER_RAN)
        self.reading = np.zeros(m)
        self.keep = np.ones(m)
        self.worst = np.zeros(m)
        self.lowest = self.level.copy()
        self.vans = np.array([np.full(m, van.volume) for van in inputs.vans]).reshape(len(inputs.vans), m)
        self.refilling = np.zeros(self.vans.shape, dtype=bool)
        self.refill = np.array([van.refill for van in inputs.vans]).reshape(len(inputs.vans), 1)
        self.broken = np.full(m, inputs.break_tank.volume if inputs.break_tank else 0.0)
        self.starved = np.zeros(m, dtype=bool)
        self.emptied = np.zeros(m, dtype=bool)  # the line, through the membranes
        self.today: dict[str, Array] = {}
        self.events = 0
        self.marks: dict[str, dict[str, Array]] = {}  # this stretch's last start from a filled break tank, last stop
        self.wear = _Wear(inputs)
        self.feed_side = _feed_side(inputs)
        self.year = {
            name: np.zeros((m, days)) for name in (*SUMS, "worst", "keep", "lowest", "level_end", "tank_reading")
        }
        self.after_draw = np.full((m, days), np.nan)
        self.full_open = {name: np.zeros((m, days)) for name in ("product", "last_part", "salt")}
        self.hours = _HourBook(inputs, first_day, days)
        self.never_stops = np.zeros(m, dtype=bool)
        self.blended = np.zeros(m)  # S/m of the reading before the resin that a blend adds

    def run(self, progress: Callable[[float], None] | None) -> Ledger:
        """The whole march."""
        phases: list[Phase] = []
        cut = lru_cache(maxsize=None)(lambda weekday, hourly: stretches_of(self.inputs, weekday, hourly))
        for n in range(self.days):
            day = self.first + n
            hourly = day in self.hours.days
            stretches = cut(int(WEEKDAY_OF_DAY[day % DAYS]), hourly)
            idle = n > 0 and not hourly and self._nothing_happens(day, stretches, phases)
            if not idle:
                phases = self._phases(day)
            self._begin(n, day, phases)
            if idle:
                self.standing += DAY
            else:
                for stretch in stretches:
                    self._stretch(day, n, stretch, phases[stretch.hour])
                    if hourly:
                        self.hours.write(day, stretch, self)
            self._end(n, day)
            if progress is not None:
                progress((n + 1) / self.days)
        return self._ledger()

    # --- a day ---

    def _phases(self, day: int) -> list[Phase]:
        """The plant's flows over the level, hour by hour."""
        inputs, d = self.inputs, day % DAYS
        response = [r for start, r in inputs.responses if start <= d][-1]
        temperature = np.broadcast_to(inputs.temperature_k[:, d], self.members)
        factor = inputs.water_factor[:, d] * self.wear.water
        salt = inputs.salt_factor * self.wear.passage
        lost = self.wear.pressure_lost(d)
        bypass = response.bypass
        self.by_membranes = 1.0
        if bypass is not None and not bypass.behind_resin:
            self.blended = inputs.tap_factor * response.along_temperature(bypass.adds, temperature)
            self.by_membranes = 1.0 - bypass.share
        made: dict[float, Phase] = {}
        for standing in set(inputs.standing_pa.tolist()):
            curve = response.at(temperature, standing - lost, factor)
            product = curve.product * inputs.flow_factor[:, None]
            flux = curve.salt * (inputs.flow_factor * salt)[:, None] + product * self.blended[:, None]
            curve = Curve(product, curve.drain, flux, curve.ratio, curve.membrane_pa, curve.tap_flow)
            made[standing] = phase_of(curve, response.openings, inputs.tank, inputs.shutoff)
        self.source = self.feed_side[:, d]
        relaxation = inputs.standstill.relaxation
        self.relaxation = np.broadcast_to(relaxation, (self.members, DAYS))[:, d] / self.wear.passage
        self.leak = np.broadcast_to(inputs.back_flow.leak, (self.members, DAYS))[:, d]
        return [made[standing] for standing in inputs.standing_pa.tolist()]

    def _begin(self, n: int, day: int, phases: list[Phase]) -> None:
        self.today = {name: np.zeros(self.members) for name in SUMS}
        self.keep, self.worst = np.ones(self.members), np.zeros(self.members)
        self.lowest = self.level.copy()
        phase = phases[0]
        if n == 0:
            made = phase.product[:, 0]
            self.reading = np.divide(phase.salt[:, 0], made, out=np.zeros_like(made), where=made > 0.0)
        self.full_open["product"][:, n] = phase.product[:, 0]
        self.full_open["salt"][:, n] = phase.salt[:, 0]
        self.full_open["last_part"][:, n] = self._last_part(phase)
        self.never_stops |= ~phase.stops
        self.wear.note_flow(phase.tap_flow)

    def _last_part(self, phase: Phase) -> Array:
        """Time [s] by which the float's throttling lengthens a filling: ∫dV/q over its band, less the same in full."""
        if self.inputs.tank is None or not self.inputs.tank.floats:
            return np.zeros(self.members)
        level = phase.level[1:]
        top = level[0] + _FULL_ENOUGH * (level[-1] - level[0])
        end = np.minimum(phase.close, top)[:, None]
        width = np.maximum(np.minimum(level[1:], end) - level[:-1], 0.0)
        flow = phase.product[:, 1:]
        mean = np.maximum(0.5 * (flow[:, :-1] + flow[:, 1:]), 1e-12)
        lengthened = width * (1.0 / mean - 1.0 / np.maximum(flow[:, :1], 1e-12))
        return np.where(flow[:, 0] > 0.0, lengthened.sum(axis=1), 0.0)

    def _nothing_happens(self, day: int, stretches: tuple[Stretch, ...], phases: list[Phase]) -> bool:
        """Whether all stand by all day, the tap as it is. Yesterday's levels will do: a day moves them by a hair."""
        if self.inputs.vans:
            return False
        outside = [(phases[stretch.hour], *self._outside(day, stretch)) for stretch in stretches]
        return all(not _some(tap ^ self.tap) and self._stand_by(phase, draw, tap) for phase, draw, tap in outside)

    def _outside(self, day: int, stretch: Stretch) -> tuple[Array, Truths]:
        """What is drawn [m3/s], and whether the tap is open."""
        shut = self.inputs.shut_days[:, day % DAYS]
        return stretch.share * self.inputs.demand[:, day % DAYS], stretch.open & ~shut

    def _end(self, n: int, day: int) -> None:
        for name in SUMS:
            self.year[name][:, n] = self.today[name]
        self.year["worst"][:, n], self.year["keep"][:, n] = self.worst, self.keep
        self.year["lowest"][:, n] = self.lowest
        if self.inputs.vans:
            self.after_draw[:, n] = self.lowest
        self.year["level_end"][:, n], self.year["tank_reading"][:, n] = self.level, self.reading
        feed = self.today["product"] + self.today["drain"] - self.today["back"]
        self.wear.end_of_day(day % DAYS, feed, self.today["running"])

    # --- a stretch ---

    def _stretch(self, day: int, n: int, stretch: Stretch, phase: Phase) -> None:
        demand = self.inputs.demand[:, day % DAYS]
        self._vans_come_and_go(stretch, demand)
        draw, tap = self._outside(day, stretch)
        idle = self._stand_by(phase, draw, tap)
        opening = tap & ~self.tap
        self.tap = tap
        if idle:
            self.standing += stretch.length
            return
        left = np.full(self.members, stretch.length)
        self.period = np.zeros(self.members)  # of a cycle in this stretch, once known
        self.marks = {}
        while True:
            stopped = self._switch(phase, opening, draw)
            if _some(opening):
                left = self._repeat("started", opening & self.running, left)
            opening = np.zeros_like(opening)
            if _some(stopped):
                left = self._repeat("stopped", stopped, self._cycles(phase, stopped, draw, left))
            if not _some(left > 0.0):
                break
            opening = self._advance(phase, draw, left)
            self.lowest = np.minimum(self.lowest, self.level)
            self.events += 1
            if self.events > _MOST_A_DAY * (n + 1) + _MOST_SPARE:
                raise self._without_end()
        if stretch.share > 0.0:
            self.after_draw[:, n] = np.where(demand > 0.0, self.level, np.nan)

    def _without_end(self) -> NoWorkingState:
        reason = (
            f"the plant starts and stops more than {_MOST_A_DAY:,} times a day, too often for its year to be counted"
        )
        if self.inputs.break_tank is not None:
            return NoWorkingState(f"{reason}: give the break tank more litres and a faster refill", "supply")
        return NoWorkingState(f"{reason}: give the float valve a wider band, or the tank more litres", "tank")

    def _stand_by(self, phase: Phase, draw: Array, tap: Truths) -> bool:
        """Whether every plant just goes on standing while so much is drawn and the tap is so."""
        if self.inputs.tank is None or self.inputs.break_tank is not None:
            return False
        if any(map(_some, (self.running, draw, self.refilling, self.leak, tap & ~self.tap))):
            return False
        return not _some(tap & ~(phase.stops & (self.level > phase.reopen)))

    def _vans_come_and_go(self, stretch: Stretch, demand: Array) -> None:
        for k, van in enumerate(self.inputs.vans):
            if stretch.back:
                wanted = van.share * demand
                used = np.minimum(self.vans[k], wanted)
                self.vans[k] -= used
                self.today["short"] += wanted - used
            if stretch.leaves:
                self.refilling[k] = False
            if k in stretch.refills:
                self.refilling[k] = self.vans[k] < van.volume

    def _into_vans(self) -> Array:
        """Flow that the vans at the tank ask for [m3/s], (vans, members)."""
        return np.asarray(self.refilling * self.refill)

    def _switch(self, phase: Phase, opening: Truths, draw: Array) -> Truths:
        """Start and stop the plants; returns which have just been stopped by their shut-off."""
        allowed = self.tap & ~self.starved
        if self.inputs.tank is None:
            wanted = draw + self._into_vans().sum(axis=0)
            run = allowed & ((wanted > 0.0) | (not self.inputs.shutoff))
            by_valve = np.zeros_like(run)
        else:
            tiny = 1e-9 * self.inputs.tank.volume
            full = self.level >= phase.close - tiny
            # What the closed valve holds in the line keeps it shut when the tap opens on a tank that is all but full.
            topped = self.level >= phase.close - _TOPPED * self.inputs.tank.band
            begins = (self.level <= phase.reopen + tiny) | (opening & ~topped) | ~phase.stops
            run = allowed & np.where(self.running, ~full, begins & ~full)
            by_valve = self.running & allowed & ~run
        started, stopped = run & ~self.running, self.running & ~run
        self.running = run
        if _some(started):
            self._start(phase, started)
        if _some(stopped):
            self._stop(stopped)
        return np.asarray(by_valve)

    def _start(self, phase: Phase, started: Truths) -> None:
        """Count the start; salt that crept to the product side while the membranes stood comes out."""
        self.today["starts"] += started
        if _some(self.emptied):
            self._refill_line(started)
        excess = np.where(started, self._slug(phase, self.standing), 0.0)
        self._add_slug(excess, self.level)
        self.standing = np.where(started, 0.0, self.standing)

    def _slug(self, phase: Phase, standing: Array) -> Array:
        """Excess salt [S/m · m3] at a start after standing so long [s]."""
        still = self.inputs.standstill
        made = phase.product[:, 0]
        own = np.divide(phase.salt[:, 0], made, out=np.zeros_like(made), where=made > 0.0)
        own = (own - self.blended) / self.by_membranes
        return still.share * still.volume * -np.expm1(-standing / self.relaxation) * np.maximum(self.source - own, 0.0)

    @property
    def _first_water(self) -> float:
        """Water [m3] with which what has crept through comes out."""
        return max(self.inputs.standstill.volume, LITRE)

    def _add_slug(self, excess: Array, level: Array) -> None:
        self.today["salt"] += excess
        self.today["creep"] += excess
        first = self._first_water
        if self.inputs.tank is None:
            self.worst = np.maximum(self.worst, np.where(excess > 0.0, excess / first + self.reading, 0.0))
            self.today["salt_drawn"] += excess
        else:
            raised = excess / np.maximum(level, first)
            self.reading = self.reading + raised
            self.today["salt_drawn"] += excess - raised * level  # an all but empty tank hands it on

    def _stop(self, stopped: Truths) -> None:
        flush = stopped * self.inputs.flush_m3
        if self.inputs.break_tank is not None:
            flush = np.minimum(flush, self.broken)
            self.broken = self.broken - flush
        self.today["drain"] += flush
        self.emptied |= stopped & (self.inputs.back_flow.line > 0.0)

    def _refill_line(self, started: Truths) -> None:
        """The line that ran back at the last stop takes its water before the tank gets any."""
        lost = np.where(started & self.emptied, np.minimum(self.inputs.back_flow.line, self.level), 0.0)
        self.emptied &= ~started
        if self.inputs.tank is None:
            return
        self.level = self.level - lost
        self.today["back"] += lost
        self.today["drain"] += lost
        self.today["salt_drawn"] += lost * self.reading

    def _cycles(self, phase: Phase, stopped: Truths, draw: Array, left: Array) -> Array:
        """Count whole cycles of stopping, drawing down and filling again under an even draw, all at once."""
        if self.inputs.tank is None or self.inputs.break_tank is not None or self.inputs.back_flow.line > 0.0:
            return left
        into_vans = self._into_vans()
        wanted = draw + into_vans.sum(axis=0)
        i = (stopped & (wanted > 0.0) & (left > self.period)).nonzero()[0]
        if not len(i):
            return left
        some, d = phase.take(i), wanted[i]
        off = (some.close - some.reopen) / d
        run = traverse(some, some.reopen, some.close, d, np.full(len(i), _FOR_EVER))
        limit = np.minimum(left, self._until_van_full(into_vans, np.ones(self.members)))[i]
        period = off + run.time
        self.period[i] = period
        times = np.floor(np.where((run.time < 0.1 * _FOR_EVER) & (period > 0.0), limit / period, 0.0) - 1e-9)
        times = np.maximum(times, 0.0)
        if not _some(times > 0.0):
            return left
        full = np.zeros(self.members)
        full[i] = off
        slug = self._slug(phase, full)[i]
        kept = run.keep
        raised = slug / np.maximum(some.reopen, self._first_water)
        added = kept * raised + run.mixed
        reading = self.reading[i]

        def reading_after(cycles: Array) -> Array:
            grown = -np.expm1(cycles * np.log(np.maximum(kept, 1e-300)))
            gained = np.where(kept < 1.0, grown / np.where(kept < 1.0, 1.0 - kept, 1.0), cycles)
            return np.asarray(reading * kept**cycles + added * gained)

        today = self.today
        after, before_last = reading_after(times), reading_after(np.maximum(times - 1.0, 0.0))
        today["starts"][i] += times
        today["product"][i] += times * run.product
        today["drain"][i] += times * (run.drain + self.inputs.flush_m3)
        today["salt"][i] += times * (run.salt + slug)
        today["creep"][i] += times * slug
        today["running"][i] += times * run.time
        today["delivered"][i] += times * d * period
        today["energy"][i] += times * (run.time * self.inputs.pump_w + d * period * self.inputs.delivery_j_per_m3)
        today["salt_drawn"][i] += times * (run.salt + slug) - (after - reading) * some.close
        peak = np.maximum(np.maximum(reading, before_last) + raised, after)  # the slug goes in at the lowest level
        self.worst[i] = np.maximum(self.worst[i], np.where(times > 0.0, peak, 0.0))
        self.lowest[i] = np.minimum(self.lowest[i], np.where(times > 0.0, some.reopen, np.inf))
        self.reading[i] = after
        self.keep[i] *= kept**times
        if len(self.vans):
            self.vans[:, i] += into_vans[:, i] * (times * period)
        left = left.copy()
        left[i] -= times * period
        return left

    def _repeat(self, event: str, at: Truths, left: Array) -> Array:
        """Count whole cycles of a plant with a break tank, or whose line runs back, all at once.

        Where the same event of a stretch finds the tank as the last one did, all that lay between comes again: the sums
        are taken so many times, and the reading goes on by its straight line in itself. A break tank that was never
        waited for may fill or empty meanwhile, as long as it gets neither full nor dry.
        """
        source, tank = self.inputs.break_tank, self.inputs.tank
        if tank is None or (source is None and self.inputs.back_flow.line <= 0.0):
            return left
        at = at & ~self.refilling.any(axis=0)
        last, now = self.marks.get(event), self._mark(event, at, left)
        if last is None:
            return left
        period = last["left"] - left
        same = at & (period > 0.0) & (left > period) & (np.abs(self.level - last["level"]) <= _SAME * tank.volume)
        if not _some(same):
            return left
        times = np.where(same, np.floor(left / np.where(same, period, 1.0) - 1e-9), 0.0)
        if source is not None:
            drift = np.where(same, self.broken - last["broken"], 0.0)
            used = sum(now[name] - last[name] for name in ("product", "drain")) - (now["back"] - last["back"])
            room = np.maximum(np.where(drift < 0.0, self.broken, source.volume - self.broken) - used, 0.0)
            if "started" in self.marks:  # it ran dry meanwhile
                waited = self.marks["started"]["left"]
                room = np.where((waited > left) & (waited < last["left"]), 0.0, room)
            drifts = np.abs(drift) > _SAME * source.volume
            times = np.where(drifts, np.minimum(times, np.floor(room / np.where(drifts, np.abs(drift), 1.0))), times)
            self.broken = np.clip(self.broken + times * drift, 0.0, source.volume)
        kept = np.divide(self.keep, last["keep"], out=np.zeros_like(self.keep), where=same & (last["keep"] > 1e-200))
        gained = np.where(kept < 1.0, (1.0 - kept**times) / np.where(kept < 1.0, 1.0 - kept, 1.0), times)
        step = self.reading - last["reading"]
        # r₁ = k·r₀ + b; after so many more r₁ + (r₁ − r₀)·k·(1 − kⁿ)/(1 − k).
        reading = self.reading + np.where(same, step * kept * gained, 0.0)
        level = self.level + times * np.where(same, self.level - last["level"], 0.0)
        for name in SUMS:
            if name != "salt_drawn":
                self.today[name] = self.today[name] + times * (self.today[name] - last[name])
        salt = times * (now["salt"] - last["salt"])
        self.today["salt_drawn"] = self.today["salt_drawn"] + salt - (reading * level - self.reading * self.level)
        self.worst = self.worst + np.where(self.worst > 0.0, np.maximum(reading - self.reading, 0.0), 0.0)
        self.keep = self.keep * np.where(same, kept**times, 1.0)
        self.reading, self.level = reading, level
        left = left - times * period
        self._mark(event, times > 0.0, left)
        return left

    def _mark(self, event: str, at: Truths, left: Array) -> dict[str, Array]:
        """Keep how some members stand at an event, with what is left of the stretch; returns how all stand."""
        states = {"left": left, "level": self.level, "broken": self.broken, "reading": self.reading, "keep": self.keep}
        now = {name: values.copy() for name, values in (states | self.today).items()}
        last = self.marks.get(event, now | {"left": np.zeros(self.members)})
        self.marks[event] = {name: np.where(at, now[name], last[name]) for name in now}
        return now

    # --- one event ---

    def _advance(self, phase: Phase, draw: Array, left: Array) -> Truths:
        """Move every member to its next event or to the end of the stretch, in ``left``; returns whose plant may start
        again because its break tank has filled.
        """
        into_vans = self._into_vans()
        wanted = draw + into_vans.sum(axis=0)
        step, delivered, feed = (np.zeros(self.members) for _ in range(3))
        busy = left > 0.0
        i, k = (busy & self.running).nonzero()[0], (busy & ~self.running).nonzero()[0]
        if len(i):
            limit = left
            if len(self.vans):
                limit = np.minimum(left, self._until_van_full(into_vans, self._given(phase, wanted)))
            run = self._run if self.inputs.tank is not None else self._run_direct
            step[i], delivered[i], feed[i] = run(phase.take(i), i, wanted[i], limit[i])
        if len(k):
            self._stand(phase, k, wanted, left, into_vans, step, delivered)
        self.today["delivered"] += delivered
        self.today["energy"] += delivered * self.inputs.delivery_j_per_m3
        missing = np.maximum(wanted * step - delivered, 0.0)
        if len(self.vans):
            share = np.divide(delivered, wanted * step, out=np.zeros_like(step), where=wanted * step > 0.0)
            self.vans += into_vans * (step * share)
            for n, van in enumerate(self.inputs.vans):
                full = self.vans[n] >= van.volume - 1e-9
                self.vans[n] = np.where(full, van.volume, self.vans[n])
                self.refilling[n] &= ~full
            missing = np.zeros_like(missing)  # counted when the van has not got it
        self.today["short"] += missing
        left -= step
        left[left < 1e-6] = 0.0
        return self._break_tank(feed, step)

    def _given(self, phase: Phase, wanted: Array) -> Array:
        """Share of what is asked for that can be given now: less than 1 from an empty tank."""
        made = phase.product[:, 0]
        dry = (self.level <= 0.0) & (made < wanted)
        return np.where(dry, np.divide(made, wanted, out=np.ones_like(made), where=wanted > 0.0), 1.0)

    def _until_van_full(self, into_vans: Array, given: Array) -> Array:
        """Time until the next of the vans being refilled is full [s]."""
        if not len(self.vans):
            return np.full(self.members, _FOR_EVER)
        room = np.array([van.volume for van in self.inputs.vans])[:, None] - self.vans
        rate = into_vans * given
        times = np.divide(room, rate, out=np.full_like(room, _FOR_EVER), where=rate > 0.0)
        return np.asarray(np.maximum(times.min(axis=0), 0.0))

    def _run(self, some: Phase, i: Index, d: Array, limit: Array) -> tuple[Array, Array, Array]:
        """Running plants with a tank: time passed, water drawn and feed taken."""
        tank = self.inputs.tank
        assert tank is not None
        level = self.level[i]
        full = some.product[:, 0]
        if self.inputs.break_tank is not None:
            limit = np.minimum(limit, self._until_break_tank_dry(some, level, d, i))
        dry = (level <= 0.0) & (full <= d)
        spills = dry & False if tank.floats else (level >= tank.volume) & (full > d)
        fixed = dry | spills
        moved = traverse(some, level, np.minimum(some.close, some.level[-1]), d, np.where(fixed, 0.0, limit))
        if _some(fixed):
            moved = self._held(moved, some, i, limit, dry, spills)
        # A plant that has come to rest where it makes what is drawn stays there.
        stays = ~fixed & (moved.level >= some.level[-1]) & ~some.stops & tank.floats
        rest = np.where(stays, limit - moved.time, 0.0)
        time = moved.time + rest
        product = moved.product + rest * np.minimum(d, full)
        drain = moved.drain + rest * some.drain[:, -1]
        salt = moved.salt
        out = np.where(dry, product, d * time)
        before = self.reading[i]
        reading = before * moved.keep + moved.mixed
        content = before * level + salt - reading * moved.level
        self.level[i] = moved.level
        self.reading[i] = reading
        self.keep[i] *= moved.keep
        self.worst[i] = np.maximum(
            self.worst[i], np.where(out > 0.0, np.maximum(np.where(level > 0.0, before, 0.0), reading), 0.0)
        )
        today = self.today
        today["product"][i] += product
        today["drain"][i] += drain
        today["salt"][i] += salt
        if _some(spills):
            today["overflow"][i] += np.where(spills, (full - d) * limit, 0.0)
        today["running"][i] += time
        today["energy"][i] += time * self.inputs.pump_w
        today["salt_drawn"][i] += content
        return time, out, product + drain

    def _held(self, moved: Passage, some: Phase, i: Index, limit: Array, dry: Truths, spills: Truths) -> Passage:
        """The same with an empty or a brimful tank staying so for all of ``limit``: what comes in passes through."""
        assert self.inputs.tank is not None
        product, drain, salt = (flow[:, 0] * limit for flow in (some.product, some.drain, some.salt))
        own = np.divide(salt, product, out=self.reading[i].copy(), where=product > 0.0)
        keep = np.where(spills, np.exp(-product / self.inputs.tank.volume), 0.0)
        still = Passage(self.level[i], limit, product, drain, salt, keep, own * (1.0 - keep))
        chosen = (np.where(dry | spills, getattr(still, f.name), getattr(moved, f.name)) for f in fields(Passage))
        return Passage(*chosen)

    def _run_direct(self, some: Phase, i: Index, d: Array, limit: Array) -> tuple[Array, Array, Array]:
        """Running plants without a tank, the same: the brush takes what it wants or all there is."""
        if self.inputs.break_tank is not None:
            limit = np.minimum(limit, self._until_break_tank_dry(some, np.zeros(len(i)), d, i))
        flow = np.minimum(d, some.product[:, 0])
        # The opening at which the plant makes just that, straight between the table's openings.
        j = np.clip((some.product >= flow[:, None]).sum(axis=1) - 1, 0, some.product.shape[1] - 2)
        lane = np.arange(len(i))
        q0, q1 = some.product[lane, j], some.product[lane, j + 1]
        part = np.divide(q0 - flow, q0 - q1, out=np.zeros_like(flow), where=q0 > q1)
        drain, salt = (v[lane, j] + part * (v[lane, j + 1] - v[lane, j]) for v in (some.drain, some.salt))
        salt = np.where(flow > 0.0, salt, 0.0)
        own = np.divide(salt, flow, out=self.reading[i].copy(), where=flow > 0.0)
        self.reading[i] = own
        self.worst[i] = np.maximum(self.worst[i], np.where(flow > 0.0, own, 0.0))
        today = self.today
        today["product"][i] += flow * limit
        today["drain"][i] += drain * limit
        today["salt"][i] += salt * limit
        today["salt_drawn"][i] += salt * limit
        today["running"][i] += limit
        today["energy"][i] += limit * self.inputs.pump_w
        return limit, flow * limit, (flow + drain) * limit

    def _stand(
        self, phase: Phase, k: Index, wanted: Array, left: Array, into_vans: Array, step: Array, delivered: Array
    ) -> None:
        """Plants that stand: the tank is drawn down, or stays."""
        level, d, time = self.level[k], wanted[k], left[k]
        if self.inputs.break_tank is not None:
            tank = self.inputs.break_tank
            wait = np.where(
                self.starved[k],
                np.maximum(0.5 * tank.volume - self.broken[k], 0.0) / max(tank.refill, 1e-30),
                _FOR_EVER,
            )
            time = np.minimum(time, np.maximum(wait, 1e-6))
        if self.inputs.tank is None:
            step[k] = time
            self.standing[k] += time
            return
        leak = self.leak[k]
        down = d + leak
        waits = self.tap[k] & ~self.starved[k] & phase.stops[k] & (level > phase.reopen[k])
        target = np.where(waits, np.maximum(phase.reopen[k], 0.0), 0.0)
        empty = level <= 0.0
        reach = np.divide(level - target, down, out=np.full_like(level, _FOR_EVER), where=(down > 0.0) & ~empty)
        if len(self.vans):
            given = np.where(empty, 0.0, 1.0)
            whole = np.ones(self.members)
            whole[k] = given
            time = np.minimum(time, self._until_van_full(into_vans, whole)[k])
        arrives = reach <= time
        time = np.minimum(time, reach)
        lost = np.where(empty, 0.0, down * time)
        share = np.divide(d, down, out=np.zeros_like(d), where=down > 0.0)
        self.level[k] = np.where(arrives, target, np.maximum(level - lost, 0.0))
        out = lost * share
        self.worst[k] = np.maximum(self.worst[k], np.where(out > 0.0, self.reading[k], 0.0))
        step[k], delivered[k] = time, out
        self.standing[k] += time
        self.today["salt_drawn"][k] += lost * self.reading[k]
        self.today["back"][k] += lost - out
        self.today["drain"][k] += lost - out

    # --- the break tank ---

    def _until_break_tank_dry(self, some: Phase, level: Array, draw: Array, i: Index) -> Array:
        """Time [s] for which the break tank lasts at least: at the most that is taken on the level's way.

        That way ends where the plant makes what is drawn, at the top or at the bottom. Where the feed hardly changes
        on it the time is all but exact; else the next step looks again, and few are needed.
        """
        tank = self.inputs.break_tank
        assert tank is not None
        most = most_taken(some, level, draw)
        net = most - tank.refill
        dry = np.divide(self.broken[i], net, out=np.full_like(net, _FOR_EVER), where=net > 0.0)
        return np.asarray(np.maximum(dry, 1e-3))

    def _break_tank(self, feed: Array, step: Array) -> Truths:
        tank = self.inputs.break_tank
        if tank is None:
            return np.zeros(self.members, dtype=bool)
        self.broken = np.clip(self.broken + tank.refill * step - feed, 0.0, tank.volume)
        filled = self.starved & (self.broken >= 0.5 * tank.volume - 1e-9)
        self.starved = (self.starved & ~filled) | (self.running & (self.broken <= 1e-6))
        return np.asarray(filled)

    # --- the end ---

    def _ledger(self) -> Ledger:
        days = (self.first + np.arange(self.days)) % DAYS
        return Ledger(
            first_day=self.first,
            demand=self.inputs.demand[:, days],
            after_draw=self.after_draw,
            full_product=self.full_open["product"],
            full_salt=self.full_open["salt"],
            last_part=self.full_open["last_part"],
            shut=self.inputs.shut_days[:, days],
            hours=self.hours.kept(),
            never_stops=self.never_stops,
            limit_conductivity=self.inputs.limit,
            **cast(dict[str, Any], self.year),
            **self.wear.books(self.days),
            **self._without_resin(),
        )

    def _without_resin(self) -> dict[str, Any]:
        made, salt = self.year["product"], self.year["salt"]
        nothing = np.zeros_like(made)
        return {
            "resin_changes": nothing,
            "resin_reasons": np.full(made.shape, -1),
            "resin_spent": nothing,
            "silica_slipped": nothing,
            "after": np.divide(salt, made, out=np.full_like(made, np.nan), where=made > 1e-9),
        }


def _feed_side(inputs: YearInputs) -> Array:
    """Conductivity [S/m] before standing membranes, (members, days): of the feed if flushed, else half drain water."""
    found = np.empty((inputs.members, DAYS))
    for start, response in inputs.responses:
        source: Array | float = response.feed_conductivity
        if not inputs.standstill.flushed:
            drain = response.along_temperature(response.drain_conductivity, inputs.temperature_k[:, start:])
            source = 0.5 * (source + drain)
        found[:, start:] = source
    return found


class _HourBook:
    """Sums and states hour by hour, of chosen days."""

    def __init__(self, inputs: YearInputs, first: int, days: int) -> None:
        self.days = tuple(day for day in inputs.hourly_days if first <= day < first + days)
        shape = (inputs.members, len(self.days), 24)
        self.values = {name: np.zeros(shape) for name in ("product", "drain", "delivered", "salt", "level", "reading")}
        self.so_far: dict[str, Array] = {}

    def write(self, day: int, stretch: Stretch, march: _March) -> None:
        """Book a stretch's part into its hour."""
        n, hour = self.days.index(day), stretch.hour
        if stretch.start == 0.0:
            self.so_far = {}
        for name in ("product", "drain", "delivered", "salt"):
            now = march.today[name].copy()
            self.values[name][:, n, hour] += now - self.so_far.get(name, 0.0)
            self.so_far[name] = now
        self.values["level"][:, n, hour] = march.level
        self.values["reading"][:, n, hour] = march.reading

    def kept(self) -> Hours:
        """What was kept."""
        return Hours(days=self.days, **self.values)


class _Wear:
    """Filters and membranes: how far they are, what that does to the plant, and when they are changed."""

    def __init__(self, inputs: YearInputs) -> None:
        m, self.cartridges, self.use = inputs.members, inputs.cartridges, inputs.membranes
        count = len(self.cartridges)
        self.filtered, self.age, self.lives, self.spent = (np.zeros((count, m)) for _ in range(4))
        self.changed: list[Array] = []
        self.reasons: list[NDArray[np.int8]] = []
        self.flow = np.zeros(m)

        def each(name: str) -> Array:
            values = (np.asarray(getattr(one, name), dtype=np.float64) for one in self.cartridges)
            return np.array([np.broadcast_to(value, (m,)) for value in values]).reshape(count, m)

        laws = [CartridgeLaw(one.clean_pa, one.at_flow) for one in self.cartridges]
        clean = [law.clean_drop(1.0, inputs.temperature_k) for law in laws]
        self.clean = np.array(clean).reshape(count, *inputs.temperature_k.shape)  # Pa for each m3/s, by day
        self.dirt = CartridgeLaw(0.0, 1.0, each("to_double"))
        self.rise = each("rise_pa")
        self.most_volume, self.most_days = each("volume"), each("days")
        kg, chlorine = each("chlorine_kg"), each("chlorine")
        self.most_chlorinated = np.divide(kg, chlorine, out=np.full_like(kg, np.inf), where=chlorine > 0.0)  # m3
        self.on = np.zeros((DAYS, count, 1), dtype=bool)
        for c, one in enumerate(self.cartridges):
            self.on[[day - 1 for day in one.on], c] = True
        self.membrane_age = np.full(m, inputs.membranes.age_days)
        self.dose = np.zeros(m)
        self.membrane_lives = np.zeros(m)
        self.membrane_spent = np.minimum(self._membrane_shares().max(axis=0), 1.0)
        self.membrane_changed: list[Array] = []
        self.membrane_reasons: list[NDArray[np.int8]] = []

    @property
    def water(self) -> Array:
        """Factor of ageing on the water permeance."""
        return np.asarray((1.0 - self.use.flow_loss) ** (self.membrane_age / DAYS))

    @property
    def passage(self) -> Array:
        """Factor of ageing on the salt permeance."""
        return np.asarray((1.0 + self.use.passage_growth) ** (self.membrane_age / DAYS))

    def note_flow(self, tap_flow: Array) -> None:
        """The day's full feed flow, at which dirt in the filters is felt."""
        self.flow = tap_flow

    def pressure_lost(self, day: int) -> Array:
        """What the dirt in all cartridges takes off the pressure [Pa], at the feed flow of the day before."""
        lost = self.flow * self.clean[..., day] * (self.dirt.dirt_factor(self.filtered) - 1.0)
        return np.asarray(lost.sum(axis=0))

    def _shares(self, day: int) -> Array:
        """How far each cartridge is by its rules, 1 being due: rise of its loss, volume, time, chlorine."""
        at_rise = self.dirt.volume_at_rise_over(self.flow * self.clean[..., day], self.rise)
        filtered = self.filtered
        by_volume, by_chlorine = filtered / self.most_volume, filtered / self.most_chlorinated
        return np.array((filtered / at_rise, by_volume, self.age / self.most_days, by_chlorine))

    def end_of_day(self, day: int, feed: Array, running: Array) -> None:
        """Age by a day and what it filtered; change what is due. A change by date throws the unused part away."""
        self.filtered += feed
        self.age += 1.0
        shares = self._shares(day)
        now = shares.max(axis=0)
        by_rule = now >= 1.0 - 1e-12
        due = by_rule | self.on[day]
        reached = np.where(due, 1.0, np.maximum(np.minimum(now, 1.0), self.spent))
        self.lives += reached - self.spent
        self.spent = np.where(due, 0.0, reached)
        self.reasons.append(np.where(due, np.where(by_rule, shares.argmax(axis=0), len(shares)), -1).astype(np.int8))
        self.filtered[due] = 0.0
        self.age[due] = 0.0
        self.changed.append(due.astype(np.float64))
        self._membranes(running)

    def _membrane_shares(self) -> Array:
        """How far the membranes are by flow, salt, chlorine and age; what compounds is even in its logarithm."""
        use, years = self.use, self.membrane_age / DAYS
        flow, salt = compounding(use.flow_loss, use.flow_loss_allowed, use.passage_growth, use.passage_allowed)
        by_age = self.membrane_age / use.change_after_days
        return np.stack([years / flow, years / salt, self.dose / use.tolerance, by_age])

    def _membranes(self, running: Array) -> None:
        self.membrane_age = self.membrane_age + 1.0
        self.dose = self.dose + self.use.chlorine * running
        shares = self._membrane_shares()
        now = shares.max(axis=0)
        due = now >= 1.0 - 1e-12
        reached = np.where(due, 1.0, now)
        self.membrane_lives += reached - self.membrane_spent
        self.membrane_spent = np.where(due, 0.0, reached)
        self.membrane_reasons.append(np.where(due, shares.argmax(axis=0), -1).astype(np.int8))
        self.membrane_age[due] = 0.0
        self.dose[due] = 0.0
        self.membrane_changed.append(due.astype(float))

    def books(self, days: int) -> dict[str, Any]:
        """What the ledger keeps of it."""
        m = len(self.flow)
        return {
            "cartridge_spent": self.lives,
            "cartridge_changes": np.stack(self.changed, axis=-1).reshape(len(self.cartridges), m, days),
            "cartridge_reasons": np.stack(self.reasons, axis=-1).reshape(len(self.cartridges), m, days),
            "membrane_spent": self.membrane_lives,
            "membrane_changes": np.stack(self.membrane_changed, axis=-1),
            "membrane_reasons": np.stack(self.membrane_reasons, axis=-1),
        }
