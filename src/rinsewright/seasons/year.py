"""One calendar year, marched from event to event.

Within a day the rates are constant between the hours at which someone begins or stops drawing and the tap opens or
shuts. Between those hours the next event (tank full, tank drawn down far enough to start again, tank dry, resin
slips, resin at its limit) is computed, not searched for with small steps, so litres and starts are exact whatever
the rates. All members march side by side; each takes its own next event.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from rinsewright.errors import NoWorkingState
from rinsewright.quantities import DAY, Array
from rinsewright.seasons.climate import DAYS
from rinsewright.seasons.inputs import WEEKDAY_OF_DAY, Rates, Week, YearInputs
from rinsewright.seasons.ledger import Ledger

Truths = NDArray[np.bool_]
_MOST_EVENTS = 4_000  # in one stretch; more means a float that chatters
_NEVER_RAN = 7.0 * DAY  # how long the plant has stood when the year begins


@dataclass
class _State:
    """Where every member is, and today's sums."""

    level: Array  # m3
    running: Truths
    was_open: bool
    standing: Array  # s since the last stop
    reading: Array  # S/m in the tank
    spent: Array  # share of the resin's life used up
    today: dict[str, Array] = field(default_factory=dict)


_SUMS = (
    "product", "drain", "delivered", "short", "starts", "running", "energy", "resin_spent", "resin_changes",
    "creep_spent", "worst", "level_end",
)  # fmt: skip


def simulate(inputs: YearInputs) -> Ledger:
    """March one calendar year (1 January a Monday) for every member; deterministic.

    ``inputs.rates`` holds values by day (see :meth:`Rates.by_day`), ``inputs.demand`` (members, 365). The worst reading
    is that at the brush: resin before the tank is seen through the well-mixed tank; resin last in line shows its
    limit at the moment of each change. Raises :class:`NoWorkingState` if the float chatters.
    """
    shapes = [np.shape(inputs.demand), *(np.shape(values) for values in vars(inputs.rates).values())]
    members = max((shape[0] for shape in shapes if len(shape) == 2), default=1)
    demand = np.broadcast_to(inputs.demand, (members, DAYS))
    daily = {name: np.broadcast_to(values, (members, DAYS)) for name, values in vars(inputs.rates).items()}
    year = {name: np.zeros((members, DAYS)) for name in _SUMS}
    after_draw = np.full((members, DAYS), np.nan)
    state = _first_state(inputs, daily["fresh_conductivity"][:, 0])
    cartridges = _Cartridges(inputs, members)
    stretches = [_stretches(inputs.week, weekday) for weekday in range(7)]
    for day in range(DAYS):
        rates = Rates(**{name: values[:, day] for name, values in daily.items()})
        state.today = {name: np.zeros(members) for name in _SUMS}
        for length, filling, draw in stretches[WEEKDAY_OF_DAY[day]]:
            _stretch(state, inputs, rates, length, filling, draw * demand[:, day])
            if draw > 0.0:
                after_draw[:, day] = np.where(demand[:, day] > 0.0, state.level, np.nan)
        state.today["level_end"] = state.level
        for name, total in year.items():
            total[:, day] = state.today[name]
        cartridges.end_of_day(day, state.today["product"] + state.today["drain"])
    spare, latest = _latest_fill(inputs, daily["product"], demand, after_draw)
    return Ledger(
        demand=np.array(demand),
        **year,
        cartridge_spent=cartridges.lives,
        cartridge_changes=cartridges.changes,
        spare_fill=spare,
        latest_fill=latest,
        limit_conductivity=inputs.limit_conductivity,
    )


# --- one stretch of constant rates ---


def _stretches(week: Week, weekday: int) -> list[tuple[float, bool, float]]:
    """Stretches of a weekday: length [s], whether the tap may be open, share of the day's demand drawn per second."""
    times = week.breaks(weekday)
    parts = []
    for start, end in pairwise(times):
        middle = 0.5 * (start + end)
        drawn = sum(d.share / (d.end - d.start) for d in week.draws[weekday] if d.start <= middle < d.end)
        parts.append((end - start, week.filling(middle), drawn))
    return parts


def _stretch(state: _State, inputs: YearInputs, rates: Rates, length: float, filling: bool, wanted: Array) -> None:
    """March one stretch. ``wanted`` [m3/s] is drawn throughout."""
    left = np.full_like(state.level, length)
    opening = filling and not state.was_open
    state.was_open = filling
    for _ in range(_MOST_EVENTS):
        _switch(state, inputs, rates, filling, opening, wanted)
        opening = False
        left = _to_next_event(state, inputs, rates, filling, wanted, left)
        if not (left > 0.0).any():
            return
    reason = "the tank's float lets the plant start and stop without end: give it a wider band, or none to let it hover"
    raise NoWorkingState(reason, "tank")


def _switch(state: _State, inputs: YearInputs, rates: Rates, filling: bool, opening: bool, wanted: Array) -> None:
    """Start and stop the plant; count starts, flushes and the slug of standstill."""
    if inputs.tank is None:
        run = np.broadcast_to(filling, wanted.shape) & (wanted > 0.0)
    else:
        full = np.broadcast_to(inputs.tank.volume, wanted.shape)
        low = np.maximum(full - inputs.tank.restart, 0.0)
        hovers = np.broadcast_to(np.asarray(inputs.tank.restart) <= 0.0, wanted.shape)
        at_top = state.level >= full
        stays = np.where(at_top, (wanted >= rates.product) | (hovers & (wanted > 0.0)), True)
        begins = (state.level <= low) & ((state.level < full) | (wanted > 0.0))
        begins |= opening & (state.level < full)
        run = np.where(state.running, stays, begins) & filling & (rates.product > 0.0)
    started, stopped = run & ~state.running, state.running & ~run
    state.today["starts"] += started
    state.today["drain"] += stopped * inputs.flush_m3
    if started.any():
        _slug(state, inputs, rates, started)
    state.standing = np.where(run, 0.0, state.standing)
    state.running = run


def _slug(state: _State, inputs: YearInputs, rates: Rates, started: Truths) -> None:
    """Salt that crept to the product side while the membranes stood goes to the resin, or to the tank without one."""
    still = inputs.standstill
    reached = np.asarray(still.share) * -np.expm1(-state.standing / still.relaxation)
    excess = np.maximum(rates.feed_conductivity - rates.product_conductivity, 0.0) * still.volume * reached  # S/m m3
    excess = np.where(started, excess, 0.0)
    as_product = excess / np.maximum(rates.product_conductivity, 1e-12)  # m3 of product that would bring as much
    share = as_product * rates.resin_share_per_m3
    state.spent = state.spent + share
    state.today["resin_spent"] += share
    state.today["creep_spent"] += share
    # Resin takes the slug even on days on which the product alone would meet the limit.
    treated = ((rates.resin_share_per_m3 > 0.0) | inputs.resin_fitted) & ~np.bool_(inputs.resin_behind_tank)
    held = state.level > 0.0
    lifted = np.divide(excess, state.level, out=np.zeros_like(excess), where=held & ~treated)
    state.reading = np.minimum(state.reading + lifted, np.maximum(rates.feed_conductivity, state.reading))


def _to_next_event(state: _State, inputs: YearInputs, rates: Rates, filling: bool, wanted: Array, left: Array) -> Array:
    """Move every member to its next event or to the end of the stretch; returns the time still left [s]."""
    made, drawn = _flows(state, inputs, rates, wanted)
    net = made - drawn
    net = np.where(inputs.tank is None, 0.0, net)
    step, to_level = _time_to_level(state, inputs, filling, net, left)
    load = np.where(inputs.resin_behind_tank, drawn, made) * rates.resin_share_per_m3
    step, at_limit = _time_to_resin(state, rates, load, step)
    _book(state, inputs, rates, wanted, made, drawn, step)
    _mix(state, inputs, rates, made, drawn, net, step)
    reached = np.isfinite(to_level) & (step > 0.0) & _close(state.level + net * step, to_level)
    state.level = np.where(reached, to_level, np.maximum(state.level + net * step, 0.0))
    state.spent = state.spent + load * step
    state.today["resin_spent"] += load * step
    at_limit |= state.spent >= 1.0
    changes = np.where(at_limit, np.maximum(np.floor(state.spent + 1e-9), 1.0), 0.0)
    state.spent = np.where(at_limit, np.maximum(state.spent - changes, 0.0), state.spent)
    state.today["resin_changes"] += changes
    if np.isfinite(inputs.limit_conductivity) and (inputs.tank is None or inputs.resin_behind_tank):
        at_change = np.where((changes > 0.0) & (drawn > 0.0), inputs.limit_conductivity, 0.0)
        state.today["worst"] = np.maximum(state.today["worst"], at_change)
    state.standing = np.where(state.running, 0.0, state.standing + step)
    remaining = left - step
    return np.where(remaining < 1e-6, 0.0, remaining)


def _flows(state: _State, inputs: YearInputs, rates: Rates, wanted: Array) -> tuple[Array, Array]:
    """Product made and water drawn now [m3/s]."""
    made = np.where(state.running, rates.product, 0.0)
    if inputs.tank is None:
        made = np.minimum(made, wanted)
        return made, made
    hovering = state.running & (state.level >= inputs.tank.volume) & (made > wanted)
    made = np.where(hovering, wanted, made)
    drawn = np.where((state.level <= 0.0) & (made < wanted), made, wanted)
    return made, drawn


def _time_to_level(state: _State, inputs: YearInputs, filling: bool, net: Array, left: Array) -> tuple[Array, Array]:
    """Time [s] to the tank's next event, at most ``left``, and the level [m3] it has then (NaN without a tank)."""
    if inputs.tank is None:
        return left.copy(), np.full_like(left, np.nan)
    full = np.broadcast_to(np.asarray(inputs.tank.volume, dtype=np.float64), left.shape)
    low = np.maximum(full - inputs.tank.restart, 0.0)
    waits = ~state.running & filling & (state.level > low)
    target = np.where(net > 0.0, full, np.where(waits, low, 0.0))
    time = np.divide(target - state.level, net, out=np.full_like(left, np.inf), where=net != 0.0)
    return np.minimum(np.maximum(time, 0.0), left), target


def _time_to_resin(state: _State, rates: Rates, load: Array, step: Array) -> tuple[Array, Truths]:
    """Shorten the step to first slip or to the limit of the resin, whichever comes first."""
    never = np.full_like(step, np.inf)
    before = state.spent < rates.slip_share - 1e-12
    to_slip = np.divide(rates.slip_share - state.spent, load, out=never.copy(), where=(load > 0.0) & before)
    to_limit = np.divide(1.0 - state.spent, load, out=never.copy(), where=load > 0.0)
    to_limit = np.maximum(to_limit, 0.0)
    shortest = np.minimum(np.minimum(to_slip, to_limit), step)
    return shortest, (to_limit <= shortest) & (load > 0.0)


def _book(
    state: _State, inputs: YearInputs, rates: Rates, wanted: Array, made: Array, drawn: Array, step: Array
) -> None:
    """Write the step into today's sums."""
    today = state.today
    idle = ~state.running & state.was_open
    today["product"] += made * step
    today["drain"] += np.where(state.running, rates.drain, np.where(idle, rates.drain_when_full, 0.0)) * step
    today["delivered"] += drawn * step
    today["short"] += (wanted - drawn) * step
    today["running"] += state.running * step
    today["energy"] += (state.running * rates.pump_w + drawn * inputs.delivery_j_per_m3) * step


def _mix(state: _State, inputs: YearInputs, rates: Rates, made: Array, drawn: Array, net: Array, step: Array) -> None:
    """Reading of the well-mixed tank after the step, and the worst reading delivered in it.

    d(κV)/dt = q·κ_in − out·κ with V changing linearly: κ − κ_in falls as (V0/V)^(q/net), or exponentially at
    constant V.
    """
    slipping = state.spent >= rates.slip_share - 1e-12
    slipped = np.maximum(rates.plateau_conductivity, rates.fresh_conductivity)
    resin = np.where(slipping, slipped, rates.fresh_conductivity)
    resin = np.where(rates.resin_share_per_m3 > 0.0, resin, rates.product_conductivity)
    drawing = (drawn > 0.0) & (step > 0.0)
    if inputs.tank is None or inputs.resin_behind_tank:
        state.today["worst"] = np.maximum(state.today["worst"], np.where(drawing, resin, 0.0))
        return
    before = np.maximum(state.level, 0.0)
    after = np.maximum(before + net * step, 0.0)
    held = before > 1e-12
    steady = np.abs(net) * step <= 1e-9 * before
    base = np.divide(after, before, out=np.ones_like(before), where=held)
    power = np.divide(-made, net, out=np.zeros_like(net), where=~steady & (net != 0.0))
    with np.errstate(divide="ignore", over="ignore"):
        changing = np.where(made > 0.0, np.where(base > 0.0, base, 1e-300) ** power, 1.0)
    standing = np.exp(-np.divide(made * step, before, out=np.zeros_like(before), where=held))
    keeps = np.where(held, np.where(steady, standing, changing), np.where(made * step > 0.0, 0.0, 1.0))
    mixed = resin + (state.reading - resin) * keeps
    state.today["worst"] = np.maximum(
        state.today["worst"], np.where(drawing, np.maximum(np.where(held, state.reading, mixed), mixed), 0.0)
    )
    state.reading = mixed


# --- slow things and the question of when to open the tap ---


class _Cartridges:
    """Volume and days on each cartridge; changed between two days."""

    def __init__(self, inputs: YearInputs, members: int) -> None:
        count = len(inputs.cartridges)
        limits = [(c.volume, c.days) for c in inputs.cartridges]
        self.volume, self.days = (
            np.array([np.broadcast_to(limit[k], members) for limit in limits], dtype=np.float64).reshape(count, members)
            for k in range(2)
        )
        self.filtered, self.age = np.zeros((count, members)), np.zeros((count, members))
        self.lives = np.zeros((count, members))
        self.changes = np.zeros((count, members, DAYS))

    def end_of_day(self, day: int, feed: Array) -> None:
        """Age by one day and by what was filtered; change what is due."""
        before = np.maximum(self.filtered / self.volume, self.age / self.days)
        self.filtered += feed
        self.age += 1.0
        now = np.maximum(self.filtered / self.volume, self.age / self.days)
        self.lives += now - before
        due = now >= 1.0 - 1e-12
        self.changes[:, :, day] = due
        self.filtered[due] = 0.0
        self.age[due] = 0.0


def _first_state(inputs: YearInputs, reading: Array) -> _State:
    """New Year: the tank as full as it is said to be, fresh resin, a plant that has stood for a week."""
    members = len(reading)
    level = np.zeros(members)
    if inputs.tank is not None:
        level = np.zeros(members) + np.asarray(inputs.tank.volume) * inputs.tank.start_full
    idle = np.full(members, _NEVER_RAN)
    return _State(level, np.zeros(members, dtype=bool), False, idle, np.array(reading), np.zeros(members))


def _close(a: Array, b: Array) -> Truths:
    return np.asarray(np.abs(a - b) <= 1e-9 * np.maximum(np.abs(b), 1e-3))


def _latest_fill(inputs: YearInputs, product: Array, demand: Array, after_draw: Array) -> tuple[Array, Array]:
    """Time to spare [s] and latest start [s after midnight] of the filling that follows each day's last draw.

    The tank is to be full when the next draw begins, from the level it has when this day's draw ends, at this day's
    rate.
    """
    spare, latest = np.full(demand.shape, np.nan), np.full(demand.shape, np.nan)
    if inputs.tank is None:
        return spare, latest
    days = np.arange(DAYS)
    draws = inputs.week.draws
    works = (demand > 0.0) & np.array([bool(draws[weekday]) for weekday in WEEKDAY_OF_DAY])
    # The next day with a draw; behind the last one a day like it is taken to follow.
    ahead = np.where(works, days, DAYS)
    following = np.minimum.accumulate(ahead[:, ::-1], axis=1)[:, ::-1]
    following = np.concatenate([following[:, 1:], np.full((len(demand), 1), DAYS)], axis=1)
    wait = np.where(following < DAYS, following - days, 1)
    full = np.asarray(np.broadcast_to(inputs.tank.volume, (len(demand),)))[:, None]
    needed = np.divide(
        np.maximum(full - after_draw, 0.0), product, out=np.full(demand.shape, np.inf), where=product > 0.0
    )
    weekday = np.broadcast_to(WEEKDAY_OF_DAY, demand.shape)
    for today, apart in {(int(a), int(b)) for a, b in zip(weekday[works], wait[works], strict=True)}:
        starting = draws[(today + apart) % 7] or draws[today]
        gap = max(draw.end for draw in draws[today]), apart * DAY + min(draw.start for draw in starting)
        these = works & (weekday == today) & (wait == apart)
        spare[these], latest[these] = _fill_backwards(inputs.week, gap, needed[these])
    return spare, latest


def _fill_backwards(week: Week, gap: tuple[float, float], needed: Array) -> tuple[Array, Array]:
    """Walk back from the end of a gap [s] through the hours in which the tap may be open until ``needed`` is found."""
    start, end = gap
    marks = {start, end}
    for midnight in range(int(end // DAY) + 1):
        marks |= {midnight * DAY + time for time in (week.fill_from, week.fill_until) if time is not None}
    times = sorted(time for time in marks if start <= time <= end)
    open_time, latest = 0.0, np.full(needed.shape, np.nan)
    for begin, finish in reversed(list(pairwise(times))):
        if not week.filling((0.5 * (begin + finish)) % DAY):
            continue
        found = np.isnan(latest) & (open_time + finish - begin >= needed)
        latest = np.where(found, finish - (needed - open_time), latest)
        open_time += finish - begin
    return open_time - needed, latest
