"""A plant marched second by second: explicit Euler, a state machine of its own, no events and no table.

The reference for the year. It shares with the program the site file and the steady plant (checked elsewhere), solved
here directly at every day's temperature, every standing pressure and a close grid of float openings. Everything that
happens in time is written down here once more, in the plainest way: level, float, shut-off, standing, vans, break tank.

    dV/dt = q(o) − draw,   o = (top − V)/band between 0 and 1,   flow through the float C·o·√(Δp/1 bar)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from rinsewright import Site
from rinsewright.plant.check import Check
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.ageing import FLUX_LOSS_PER_YEAR, SALT_PASSAGE_GROWTH_PER_YEAR
from rinsewright.plant.membrane.channel import Spread
from rinsewright.plant.membrane.restrictor import Flush
from rinsewright.plant.part import Fluid, OrificePart
from rinsewright.plant.product.line import Lift
from rinsewright.plant.tube import Tube
from rinsewright.site import build
from rinsewright.solve.result import solve_batch
from rinsewright.solve.steady import drain_with_product_shut

BAR, L_MIN, LITRE = 1e5, 1e-3 / 60.0, 1e-3
HOUR, DAY = 3600.0, 86400.0
GRAVITY = 9.80665

FLOAT_OPEN = 12.0 * L_MIN  # at 1 bar, where the file says nothing
BAND_SHARE = 0.05  # of the tank, where the file gives no band
VAN_REFILL = 20.0 * L_MIN
PRODUCT_SIDE = 0.17e-3  # m: m3 of product side on each m2 of membrane
CREEP_SHARE = 0.2

OPENINGS = (np.arange(1, 97) / 96.0) ** 2  # close where little is open and the product is salty
FINE = 2000  # even steps of opening that the march looks up
LONG_AGO = 7 * DAY  # how long the plant has stood when the march begins


# ---- what the running plant does ----


@dataclass(frozen=True)
class Curve:
    """The running plant at one temperature and standing pressure, at even openings from shut to open and one beyond."""

    product: list[float]  # m3/s
    drain: list[float]  # m3/s
    salt: list[float]  # S/m m3/s carried by the product
    signal: list[float]  # what the shut-off or the pressure switch feels
    slug: float  # S/m m3 of salt found on the product side after standing for ever
    relaxation: float  # s
    seep: float  # m3/s that run back through the membranes while they stand under a bottom inlet


@dataclass(frozen=True)
class Switch:
    """What stops the plant when the tank is full: closes at or above one value of the signal, opens at or below."""

    closes: float = math.inf
    reopens: float = -math.inf

    @property
    def holds(self) -> bool:
        return self.closes < math.inf


def switch_of(plant: Plant) -> Switch:
    """The shut-off with a check valve between it and the membranes, else the pump's pressure switch, else none."""
    if _shutoff_holds(plant):
        assert plant.shutoff is not None
        return Switch(plant.shutoff.closes_at_ratio, plant.shutoff.reopens_at_ratio)
    if plant.pump is not None and plant.pump.cut_out_pa is not None:
        return Switch(plant.pump.cut_out_pa, -math.inf if plant.pump.cut_in_pa is None else plant.pump.cut_in_pa)
    return Switch()


def _shutoff_holds(plant: Plant) -> bool:
    if plant.shutoff is None:
        return False
    return any(isinstance(part, Check) for part in plant.product[: plant.product.index(plant.shutoff)])


def throttled(plant: Plant, opening: float) -> Plant:
    """The plant with its float, or the brush at its end, partly open, as parts of its line."""
    if plant.tank is None:
        brush = OrificePart(drop_pa=BAR * (opening**-2 - 1.0), at_flow=FLOAT_OPEN, name="brush")
        return replace(plant, product=(*plant.product, brush))
    tank = replace(plant.tank, float_open_flow=opening * (plant.tank.float_open_flow or FLOAT_OPEN))
    return replace(plant, product=tuple(tank if part is plant.tank else part for part in plant.product))


def fully_open(plant: Plant) -> Plant:
    """The plant with a float of known size, full open; a plant without a tank has none."""
    return plant if plant.tank is None else throttled(plant, 1.0)


def throttle_of(plant: Plant, openings: Any, count: int) -> Any:
    """The same as :func:`throttled`, as the solver takes it for many openings at once: Pa s2/m6 beyond full open."""
    largest = FLOAT_OPEN if plant.tank is None else plant.tank.float_open_flow or FLOAT_OPEN
    return np.repeat(BAR / largest**2 * (openings**-2.0 - 1.0), count)


def solve_curves(site: Site, temperature_k: Any, standing_pa: Any, age_days: Any = 0.0) -> list[Curve]:
    """One curve for each condition, from the steady plant solved at every opening of the grid.

    Membranes lose flow and pass more salt as they age, so much a year.
    """
    plant, count, openings = site.plant, len(temperature_k), len(OPENINGS)
    years = np.tile(np.asarray(age_days) / 365.0 + np.zeros(count), openings)
    worn = Spread(
        water=(1.0 - FLUX_LOSS_PER_YEAR.value) ** years, salt=(1.0 + SALT_PASSAGE_GROWTH_PER_YEAR.value) ** years
    )
    warm = np.tile(temperature_k, openings)
    waters = site.tap.water[np.zeros(warm.size, dtype=np.intp)].with_temperature(warm)
    opened = fully_open(plant)
    batch = solve_batch(
        opened, waters, np.tile(standing_pa, openings), spread=worn, throttle=throttle_of(plant, OPENINGS, count)
    )
    state = batch.state
    assert state.solved.all(), "no working state at some opening"
    salt = state.product_flow * batch.waters.product.conductivity
    rows = {
        name: values.reshape(openings, count)
        for name, values in {
            "product": state.product_flow,
            "drain": state.drain_flow,
            "salt": salt,
            "signal": _felt(opened, state),
        }.items()
    }
    fluid = Fluid.at(np.asarray(temperature_k))
    shut = drain_with_product_shut(plant, np.asarray(temperature_k), np.asarray(standing_pa))[0]
    nothing = np.zeros(count)
    ends = {"product": nothing, "drain": shut, "salt": nothing, "signal": rows["signal"][0]}
    grid, even = np.concatenate([[0.0], OPENINGS]), np.linspace(0.0, 1.0 + 1.0 / FINE, FINE + 2)
    whole = {name: np.array([ends[name], *values]) for name, values in rows.items()}
    full = slice(-count, None)  # the last opening
    assert batch.waters.drain is not None
    feed, drained, made = (w.conductivity[full] for w in (batch.waters.feed, batch.waters.drain, batch.waters.product))
    flushed = any(isinstance(part, Flush) and part.volume > 0.0 for part in plant.drain)
    source = feed if flushed else 0.5 * (feed + drained)
    area = sum(e.area for e in plant.elements)
    slug = CREEP_SHARE * PRODUCT_SIDE * area * np.maximum(source - made, 0.0)
    lift = sum(part.height for part in plant.to_tank if isinstance(part, Lift))
    head = fluid.density * GRAVITY * lift + batch.waters.feed.osmotic[full]
    return [
        Curve(
            **{name: np.interp(even, grid, values[:, n]).tolist() for name, values in whole.items()},
            slug=float(slug[n]),
            relaxation=PRODUCT_SIDE * area / _permeance(plant, float(temperature_k[n]), "salt"),
            seep=_permeance(plant, float(temperature_k[n]), "water") * max(float(head[n]), 0.0),
        )
        for n in range(count)
    ]


def _felt(plant: Plant, state: Any) -> Any:
    """Share of the membranes' pressure that stands at the shut-off, or that pressure itself for a pressure switch."""
    if not _shutoff_holds(plant):
        return state.membrane_pa
    assert plant.shutoff is not None
    before = plant.product[: plant.product.index(plant.shutoff)]
    lost = sum((part.drop(state.product_flow, state.fluid) for part in before), np.zeros_like(state.product_flow))
    return (state.product_pa - lost) / state.membrane_pa


def _permeance(plant: Plant, temperature_k: float, of: str) -> float:
    """Sum of area × permeance at a temperature; water m3/(s Pa), salt m3/s."""
    return float(
        sum(
            e.area
            * getattr(e, f"{of}_permeance")
            * math.exp(getattr(e, f"{of}_activation") * (1.0 / 298.15 - 1.0 / temperature_k))
            for e in plant.elements
        )
    )


# ---- the calendar ----


def temperature_of(site: Site, day: int) -> float:
    """Water temperature [K] of a day (0 is 1 January): the season's cosine, else today's."""
    season = build.season_input(site.document)
    if season is None:
        return float(site.tap.water.temperature_k[0])
    assert season.coldest_day is not None, "the second-by-second march takes the cosine alone"
    swing = math.cos(2.0 * math.pi * (day + 1 - season.coldest_day) / 365.0)
    return 0.5 * (season.coldest_k + season.warmest_k) - 0.5 * (season.warmest_k - season.coldest_k) * swing


def standing_by_hour(site: Site) -> list[float]:
    """Standing pressure [Pa] of each hour of the clock."""
    supply = site.document.model.supply
    assert supply is not None
    if supply.by_hour_bar:
        return [value * BAR for value in supply.by_hour_bar]
    return [site.plant.supply.standing_pa] * 24


@dataclass(frozen=True)
class Draw:
    """Water wanted evenly between two times of a day [s]; rate in m3/s."""

    start: float
    end: float
    rate: float


def draws_of(demand: build.DemandInput, day: int, direct: bool) -> list[Draw]:
    """The draws of a day: jobs in order with the time left over as travel, or evenly, or as fast as brushes go."""
    weekday = day % 7
    wanted = demand.by_weekday[weekday]
    if wanted <= 0.0 or day + 1 in demand.days_off:
        return []
    start, end = demand.draw_from, demand.draw_until
    jobs = demand.rounds[weekday]
    if jobs:
        travel = max(end - start - sum(job.seconds for job in jobs), 0.0) / max(len(jobs) - 1, 1)
        draws = []
        for job in jobs:
            draws.append(Draw(start, start + job.seconds, job.volume / job.seconds))
            start += job.seconds + travel
        return draws
    if direct and demand.brush_flow is not None:
        rate = demand.brushes * demand.brush_flow
        return [Draw(start, start + wanted / rate, rate)]
    assert start < end, "the second-by-second march takes draws within one day alone"
    return [Draw(start, end, wanted / (end - start))]


def within(second: float, start: float | None, end: float | None) -> bool:
    """Whether a time of day lies in a window that may span midnight; no window is always open."""
    if start is None or end is None or start == end:
        return True
    return start <= second < end if start < end else second >= start or second < end


@dataclass
class Van:
    full: float
    refill: float  # m3/s
    refill_at: float
    level: float = field(init=False)

    def __post_init__(self) -> None:
        self.level = self.full


def vans_of(demand: build.DemandInput) -> list[Van]:
    return [Van(van.volume, van.refill_flow or VAN_REFILL, van.refill_at) for van in demand.vans]


# ---- the march ----


@dataclass
class Totals:
    """Sums of one day: m3, S/m m3, s."""

    product: float = 0.0
    drain: float = 0.0
    salt: float = 0.0
    creep: float = 0.0
    delivered: float = 0.0
    short: float = 0.0
    overflow: float = 0.0
    running: float = 0.0
    starts: int = 0
    drawn: float = 0.0  # out of the tank, into vans too
    drawn_salt: float = 0.0
    into_tank: float = 0.0
    seeped: float = 0.0  # back out of the tank
    level_end: float = 0.0
    salt_end: float = 0.0
    flushed: float = 0.0  # part of the drain: flushes and lines that ran empty


@dataclass
class March:
    """The whole state of a site, and how it moves from one second to the next."""

    site: Site
    dt: float = 1.0

    def __post_init__(self) -> None:
        plant = self.site.plant
        self.switch = switch_of(plant)
        self.demand = build.demand_input(self.site.document)
        self.vans = vans_of(self.demand)
        tank = plant.tank
        if tank is not None:
            self.top = tank.usable_volume or tank.volume
            known = tank.float_band is not None and tank.height is not None
            self.band = tank.volume * tank.float_band / tank.height if known else BAND_SHARE * tank.volume  # type: ignore[operator]
            self.level = self.top * tank.start_full
            self.has_float = tank.float_valve
        self.tank_salt = math.nan  # begins at the product's own strength
        self.flush = sum(part.volume for part in plant.drain if isinstance(part, Flush))
        no_check = not any(isinstance(part, Check) for part in plant.product)
        bottom = tank is not None and tank.inlet == "bottom"
        self.seeps = no_check and bottom
        self.line = _line_volume(plant) if no_check and not bottom else 0.0
        self.to_fill = 0.0  # of the line, before water reaches the tank
        self.running, self.stood = False, LONG_AGO
        self.fed_anew = True  # the tap has been opened, or the break tank has water again
        self.was_open = False
        self.stored = math.inf if plant.supply.tank_volume is None else plant.supply.tank_volume
        self.dry = False

    def days(self, first_day: int, count: int) -> list[Totals]:
        """March ``count`` days from a day of the year, 0 being 1 January."""
        hours = standing_by_hour(self.site)
        pressures = sorted(set(hours))
        warmth = [temperature_of(self.site, first_day + n) for n in range(count)]
        keys = [(n, p) for n in range(count) for p in pressures]
        age, standing = (np.array(column, dtype=np.float64) for column in zip(*keys, strict=True))
        temperature = np.array([warmth[n] for n, _ in keys])
        curves = dict(zip(keys, solve_curves(self.site, temperature, standing, age), strict=True))
        result = []
        for n in range(count):
            self.today = Totals()
            if n == 0 and self.site.plant.tank is not None:
                first = curves[0, hours[0]]
                self.tank_salt = self.level * first.salt[FINE] / first.product[FINE]
            self._day(first_day + n, [curves[n, p] for p in hours])
            if self.site.plant.tank is not None:
                self.today.level_end, self.today.salt_end = self.level, self.tank_salt
            result.append(self.today)
        return result

    def _day(self, day: int, by_hour: Sequence[Curve]) -> None:
        demand, direct = self.demand, self.site.plant.tank is None
        draws = draws_of(demand, day, direct)
        times = {hour * HOUR for hour in range(25)} | {t for d in draws for t in (d.start, d.end)}
        times |= {t for t in (demand.fill_from, demand.fill_until) if t is not None}
        times |= {van.refill_at for van in self.vans} | {demand.draw_from, demand.draw_until}
        for start, end in pairwise(sorted(times)):
            middle = 0.5 * (start + end)
            curve = by_hour[int(middle // HOUR)]
            tap = within(middle, demand.fill_from, demand.fill_until)
            wanted = sum(d.rate for d in draws if d.start <= middle < d.end)
            if direct:
                at_work = bool(draws) and draws[0].start <= middle < draws[-1].end
                self._direct(end - start, curve, tap, wanted, at_work)
                continue
            refilling = [van for van in self.vans if within(middle, van.refill_at, demand.draw_from)]
            self._stretch(end - start, curve, tap, 0.0 if self.vans else wanted, refilling)
            if self.vans and draws and end == demand.draw_until:
                self._spend(demand.by_weekday[day % 7])

    def _spend(self, volume: float) -> None:
        """The day's work, taken out of the vans by the size of their tanks."""
        size = sum(van.full for van in self.vans)
        for van in self.vans:
            share = volume * van.full / size
            taken = min(van.level, share)
            van.level -= taken
            self.today.delivered += taken
            self.today.short += share - taken

    def _stretch(self, seconds: float, curve: Curve, tap: bool, wanted: float, refilling: list[Van]) -> None:
        """Seconds in which pressure, tap and draw stay as they are. Locals, because it runs a million times a site."""
        steps = max(1, round(seconds / self.dt))
        dt = seconds / steps
        products, drains, salts, signals = curve.product, curve.drain, curve.salt, curve.signal
        closes, top, has_float, steps_per_m3 = self.switch.closes, self.top, self.has_float, FINE / self.band
        seep = curve.seep if self.seeps else 0.0
        stores = self.stored < math.inf
        level, salt_in_tank = self.level, self.tank_salt
        product = drain = salt = running = drawn = drawn_salt = short = into = seeped = 0.0
        self.fed_anew |= tap and not self.was_open
        self.was_open = tap
        for _ in range(steps):
            place = (top - level) * steps_per_m3 if has_float else FINE
            at = FINE if place >= FINE else int(place) if place > 0.0 else 0
            part = place - at if 0.0 < place < FINE else 0.0

            signal = signals[at] + part * (signals[at + 1] - signals[at])
            fed = tap and not self.dry
            if (not fed or signal >= closes) if self.running else fed:
                salt_in_tank += self._switch(curve, fed, signal, at)

            q = w = c = made = lost = 0.0
            if self.running:
                if self.to_fill > 0.0:  # an empty line holds nothing back, whatever the float does
                    at, part = FINE, 0.0
                q = products[at] + part * (products[at + 1] - products[at])
                w = drains[at] + part * (drains[at + 1] - drains[at])
                c = salts[at] + part * (salts[at + 1] - salts[at])
                made = q if self.to_fill <= 0.0 else self._fill_line(q, dt)
                product += q * dt
                drain += w * dt
                salt += c * dt
                running += dt
            else:
                self.stood += dt
                lost = seep if seep * dt < level else level / dt
                seeped += lost * dt

            if refilling:
                wanted = sum([min(van.refill, (van.full - van.level) / dt) for van in refilling])
            there = level / dt + made - lost  # what could be drawn in this second
            out = wanted if wanted < there else there
            if refilling:
                self._refill(refilling, out / wanted if wanted else 0.0, dt)
            short += (wanted - out) * dt
            strength = salt_in_tank / level if level > 1e-9 else (c / q if q else 0.0)
            drawn += out * dt
            drawn_salt += out * strength * dt
            into += made * dt
            salt_in_tank = max(salt_in_tank + (c - (out + lost) * strength) * dt, 0.0)
            level = max(level + (made - lost - out) * dt, 0.0)
            if level > top and not has_float:
                self.today.overflow += level - top
                salt_in_tank *= top / level
                level = top
            if stores:
                self._store(q + w, dt)

        self.level, self.tank_salt = level, salt_in_tank
        today = self.today
        today.product += product
        today.drain += drain + seeped
        today.salt += salt
        today.running += running
        today.drawn += drawn
        today.drawn_salt += drawn_salt
        today.into_tank += into
        today.seeped += seeped
        if not self.vans:  # those count when they come home
            today.delivered += drawn
            today.short += short

    def _switch(self, curve: Curve, fed: bool, signal: float, at: int) -> float:
        """Stop a plant that runs, or see whether one that stands may start; returns what crept through meanwhile."""
        if self.running:
            self.running = False
            self._stopped()
            return 0.0
        may = signal < self.switch.closes if self.fed_anew else signal <= self.switch.reopens or at == FINE
        self.fed_anew = False
        return self._start(curve) if fed and may else 0.0

    def _start(self, curve: Curve) -> float:
        self.running, self.fed_anew = True, False
        creep = curve.slug * -math.expm1(-self.stood / curve.relaxation)
        self.stood = 0.0
        self.today.starts += 1
        self.today.creep += creep
        self.today.salt += creep
        return creep

    def _stopped(self) -> None:
        """What a stop costs: the flush, if the break tank still has it, and a line without a check valve run empty."""
        self.to_fill = self.line
        flush = min(self.flush, self.stored)
        self.stored -= flush
        self.today.drain += flush + self.line
        self.today.flushed += flush + self.line

    def _fill_line(self, q: float, dt: float) -> float:
        """Product that reaches the tank [m3/s] while the line fills again."""
        kept = min(self.to_fill, q * dt)
        self.to_fill -= kept
        return q - kept / dt

    @staticmethod
    def _refill(vans: list[Van], got: float, dt: float) -> None:
        for van in vans:
            van.level += got * min(van.refill * dt, van.full - van.level)

    def _store(self, taken: float, dt: float) -> None:
        """The break tank: filled while below full; once dry it feeds the plant again from half full."""
        full, refill = self.site.plant.supply.tank_volume, self.site.plant.supply.refill_flow
        assert full is not None
        assert refill is not None
        self.stored = max(min(self.stored + refill * dt, full) - taken * dt, 0.0)
        if self.stored <= 0.0:
            self.dry = True
        elif self.dry and self.stored >= 0.5 * full:
            self.dry = False
            self.fed_anew = True

    def _direct(self, seconds: float, curve: Curve, tap: bool, wanted: float, at_work: bool) -> None:
        """A plant without a tank: the brush is the float. Without a shut-off that holds the drain runs between jobs."""
        steps = max(1, round(seconds / self.dt))
        dt = seconds / steps
        # Product rises with the opening, so that what is wanted tells the opening.
        q = min(wanted, curve.product[FINE])
        w, c = (float(np.interp(q, curve.product[: FINE + 1], v[: FINE + 1])) for v in (curve.drain, curve.salt))
        today = self.today
        for _ in range(steps):
            run = tap and (wanted > 0.0 or (at_work and not self.switch.holds))
            if run and not self.running:
                self._start(curve)
            elif self.running and not run:
                self.running = False
                self._stopped()
            if run:
                today.product += q * dt
                today.drain += w * dt
                today.salt += c * dt
                today.running += dt
                today.delivered += q * dt
                today.drawn += q * dt
                today.short += (wanted - q) * dt
            else:
                self.stood += dt
                today.short += wanted * dt


def _line_volume(plant: Plant) -> float:
    """Water in the product line as far as the tank and in the membranes' product side [m3]."""
    tubes = sum(0.25 * math.pi * part.bore**2 * part.length for part in plant.to_tank if isinstance(part, Tube))
    return tubes + PRODUCT_SIDE * sum(e.area for e in plant.elements)


def summed(days: Sequence[Totals]) -> dict[str, float]:
    """Sums over days; level and salt at the end of the last."""
    total = {f.name: float(sum(getattr(day, f.name) for day in days)) for f in fields(Totals)}
    return total | {"level_end": days[-1].level_end, "salt_end": days[-1].salt_end}


def march_seconds(site: Site, first_day: int, days: int, dt: float = 1.0) -> list[Totals]:
    """The reference for ``days`` days from a day of the year, 0 being 1 January."""
    return March(site, dt).days(first_day, days)


# ---- the made-up sites ----

SITES = Path(__file__).parent / "year_sites"
FIRST, COUNT = 60, 14  # from 2 March on, two weeks


@cache
def site(name: str) -> Site:
    """A made-up site."""
    return Site.load(SITES / f"{name}.toml")


@cache
def by_the_second(name: str) -> list[Totals]:
    """Its two weeks."""
    return march_seconds(site(name), FIRST, COUNT)
