"""The year of a site: plant, demand and chance, put into the march of :mod:`rinsewright.seasons`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Protocol

import numpy as np

from rinsewright.dates import DAYS
from rinsewright.planning.consumables import (
    DIRT_SPREAD,
    chlorine_at_membranes,
    chlorine_of,
    dirt_to_double,
    rules_of,
)
from rinsewright.planning.ensemble import (
    CAPACITY_SPREAD,
    COLD_SPREAD,
    FILM_SPREAD,
    SALT_SPREAD,
    USABLE_SPREAD,
    breathes_first,
    spread_bed,
)
from rinsewright.planning.tap import Tap, changed_taps
from rinsewright.plant.check import Check
from rinsewright.plant.feed import cartridge as filters
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane import ageing
from rinsewright.plant.membrane.channel import Spread
from rinsewright.plant.membrane.element import arrhenius
from rinsewright.plant.membrane.restrictor import Flush
from rinsewright.plant.product import resin
from rinsewright.plant.product.line import DeliveryPump, Lift, ResinVessel, ShutOff, Tank
from rinsewright.plant.tube import Tube
from rinsewright.quantities import BAR, DAY, GRAVITY, L_MIN, LITRE, T25, US_CM, Array
from rinsewright.seasons.chance import DEMAND_DAY_SPREAD, Draws, draw
from rinsewright.seasons.ensemble import years
from rinsewright.seasons.inputs import (
    BackFlow,
    BreakTank,
    CartridgeUse,
    MembraneUse,
    ShutOffRule,
    Standstill,
    TankUse,
    VanUse,
    Week,
    YearInputs,
    demand_by_day,
    even_week,
    rounds_week,
)
from rinsewright.seasons.ledger import Ledger
from rinsewright.seasons.march import march
from rinsewright.seasons.quality import SPECIES, ResinUse, species_of, through_resin
from rinsewright.seasons.table import Response, build_table, bypass_of
from rinsewright.site import build
from rinsewright.site.build import DemandInput
from rinsewright.site.document import SiteDocument
from rinsewright.site.season import SeasonInput
from rinsewright.solve.result import solve_batch
from rinsewright.sources import Sourced
from rinsewright.water import climate
from rinsewright.water.gas import GAS_VELOCITY
from rinsewright.water.state import Water

Progress = Callable[[str, float], None]

PRODUCT_SIDE = 0.17e-3  # m: product-side volume for each m2 of membrane (gives the 0.35 h of a 4040 at 25 °C; assumed)
CREEP_SHARE = 0.2  # of the bound (assumed); one seawater element's first flushes carried 0.07 to 0.10 (our integral)
FLOAT_BAND = Sourced(0.05, "share of the tank's volume", "0.02 to 0.1", "float valves on a lever", "assumed", "assumed")
VAN_REFILL = Sourced(20.0 * L_MIN, "m3/s", "10 to 40 L/min", "a transfer pump", "assumed", "assumed")
GAS_VELOCITY_SPREAD = 0.7  # sd of ln of the gas transfer velocity (assumed: a factor of three either way)
WATER_REACH = 3.5  # standard deviations of the water permeance; one member in two thousand is held at the edge
TOLERANCE_SPREAD = 0.5  # sd of ln of the chlorine that membranes stand (200 to 1000 mg h/L in the literature by memory)

# Work as that of so many more members (measured): solving the plant, marching any number, the year without chance.
SOLVING, ANY_MARCH, WITHOUT_CHANCE = 65, 120, 80


# --- one plant: what the march needs of it ---


@dataclass(frozen=True)
class Case:
    """A site's year in SI, whatever the number of members: plant, responses and rules."""

    plant: Plant
    demand: DemandInput
    temperature_k: Array  # (365,)
    standing_pa: Array  # (24,)
    responses: tuple[tuple[int, Response], ...]
    cartridges: tuple[CartridgeUse, ...]
    membranes: MembraneUse
    holds: bool  # whether the shut-off, if there is one, holds
    frost_chance: tuple[float, ...]  # share of each month's days on which frost shuts the tap


def temperatures(season: SeasonInput | None, today_k: float) -> Array:
    """Water temperature of each day [K]."""
    return climate.constant(today_k) if season is None else np.array(season.daily_k)


def week_of(demand: DemandInput, direct: bool) -> tuple[Week, Array]:
    """The working week and the water of each weekday [m3]."""
    if any(demand.rounds):
        jobs = {day: [(job.volume, job.seconds) for job in jobs] for day, jobs in enumerate(demand.rounds)}
        return rounds_week(jobs, demand.draw_from, demand.draw_until, demand.fill_from, demand.fill_until)
    if direct and demand.brush_flow is not None and not demand.vans:  # the water runs only while a brush uses it
        flow = demand.brushes * demand.brush_flow
        once = {day: [(volume, volume / flow)] for day, volume in enumerate(demand.by_weekday) if volume > 0.0}
        return rounds_week(once, demand.draw_from, demand.draw_until, demand.fill_from, demand.fill_until)
    week = even_week(demand.draw_from, demand.draw_until, demand.fill_from, demand.fill_until)
    return week, np.array(demand.by_weekday)


def case_of(
    document: SiteDocument,
    plant: Plant,
    tap: Tap,
    factors: tuple[float, float] = (1.0, 1.0),
    changes: Sequence[tuple[int, Water]] | None = None,
) -> Case:
    """Solve the plant's response over the year's water, pressure and wear; ``factors``: range of the water permeance
    over its data sheet's that members may have.
    """
    demand, season = build.demand_input(document), build.season_input(document)
    days = temperatures(season, float(tap.water.temperature_k[0]))
    standing = standing_by_hour(document, plant)
    cartridges = cartridge_uses(document, plant)
    membranes = membrane_use(document, plant, 0.0)
    lost = sum(one.rise_pa for one in cartridges if np.isfinite(one.rise_pa) and one.clean_pa > 0.0)
    least = max(standing.min() - 1.1 * lost, 0.25 * standing.min())
    worn = (1.0 - membranes.flow_loss) ** ((membranes.age_days + DAYS) / DAYS)
    reach = (factors[0] * min(worn, 1.0), factors[1])
    if changes is None:
        changes = changed_taps(document, tap.water)
    table = (float(days.min()), float(days.max())), (float(least), float(standing.max())), reach
    responses = [(0, build_table(plant, tap.water, *table))]
    responses += [(day - 1, build_table(plant, other, *table)) for day, other in changes]
    first = responses[0][1]
    flow = float(np.median(first.at(np.array([days.mean()]), standing[:1], np.ones(1)).tap_flow[:, 0]))
    return Case(
        plant,
        demand,
        days,
        standing,
        tuple(responses),
        cartridges,
        membrane_use(document, plant, flow),
        shutoff_holds(plant),
        build.frost_chance(document),
    )


def standing_by_hour(document: SiteDocument, plant: Plant) -> Array:
    """Standing pressure of each hour of the day [Pa]."""
    supply = document.model.supply
    if supply is not None and supply.by_hour_bar:
        given = np.array(supply.by_hour_bar)
        if supply.standing_bar is None:
            return np.asarray(given * plant.supply.standing_pa / given.mean())
        return np.asarray(given * BAR)
    return np.full(24, plant.supply.standing_pa)


def shutoff_holds(plant: Plant) -> bool:
    """Whether a check valve stands between the membranes and the shut-off: without one it chatters."""
    for part in plant.product:
        if isinstance(part, Check):
            return True
        if isinstance(part, ShutOff):
            return not plant.stages
    return True


def cartridge_uses(document: SiteDocument, plant: Plant, dirt: Array | float = 1.0) -> tuple[CartridgeUse, ...]:
    """The cartridges and their rules; ``dirt`` (members): how much dirtier the water is than usual."""
    water = build.water_input(document)
    uses = []
    for n, part in enumerate(part for part in plant.feed if isinstance(part, Cartridge)):
        rules = rules_of(part)
        assert rules.at_rise_pa is not None
        assert rules.after_s is not None
        uses.append(
            CartridgeUse(
                part.name,
                clean_pa=part.clean_drop_pa,
                at_flow=part.at_flow,
                to_double=dirt_to_double(part, n > 0) / dirt,
                rise_pa=rules.at_rise_pa,
                volume=rules.after_m3 or np.inf,
                days=rules.after_s / DAY,
                on=part.change_on,
                chlorine_kg=rules.chlorine_kg or np.inf,
                chlorine=chlorine_of(part, water),
            )
        )
    return tuple(uses)


def membrane_use(document: SiteDocument, plant: Plant, flow: float, tolerance: Array | float = 1.0) -> MembraneUse:
    """How the membranes age; ``flow`` [m3/s] through the carbon while running, ``tolerance`` times the usual one."""
    if not plant.stages:
        return MembraneUse()
    elements = plant.elements
    free, _ = chlorine_at_membranes(plant, build.water_input(document), flow)
    after = min((e.change_after_years for e in elements if e.change_after_years is not None), default=np.inf)
    return MembraneUse(
        flow_loss=ageing.FLUX_LOSS_PER_YEAR.value,
        passage_growth=ageing.SALT_PASSAGE_GROWTH_PER_YEAR.value,
        flow_loss_allowed=min(e.change_at_flow_loss for e in elements),
        passage_allowed=min(e.change_at_passage_times for e in elements),
        chlorine=free,
        tolerance=ageing.CHLORINE_TOLERANCE.value * ageing.MG_H_L * tolerance,
        age_days=age_of(document, plant),
        change_after_days=after * DAYS,
    )


def age_of(document: SiteDocument, plant: Plant) -> float:
    """Days that the oldest membrane has been in use at the plan's date; new where no date is known."""
    planned = document.model.site.planned_on
    dates = [element.installed for element in plant.elements if element.installed]
    if not dates or not planned:
        return 0.0
    return max(0.0, float(max((date.fromisoformat(planned) - date.fromisoformat(day)).days for day in dates)))


def standstill(plant: Plant, temperature_k: Array) -> Standstill:
    """Creep through the membranes while they stand; ``temperature_k`` (365,)."""
    area = sum(element.area for element in plant.elements)
    if area <= 0.0:
        return Standstill()
    salt = sum(
        (e.area * e.salt_permeance * arrhenius(e.salt_activation, temperature_k) for e in plant.elements),
        start=np.zeros_like(temperature_k),
    )
    volume = PRODUCT_SIDE * area
    flushed = any(isinstance(part, Flush) and part.volume > 0.0 for part in plant.drain)
    return Standstill(volume, (volume / salt)[None, :], CREEP_SHARE, flushed)


def back_flow(plant: Plant, tap: Water, temperature_k: Array) -> BackFlow:
    """What runs back through the membranes at a stop, where no check valve keeps it on the product side."""
    if not plant.stages or any(isinstance(part, Check) for part in plant.product):
        return BackFlow()
    tubes = sum(np.pi / 4.0 * part.bore**2 * part.length for part in plant.to_tank if isinstance(part, Tube))
    line = tubes + PRODUCT_SIDE * sum(element.area for element in plant.elements)
    tank = plant.tank
    if tank is None or tank.inlet == "top":
        return BackFlow(line=line)
    head = sum(part.height for part in plant.to_tank if isinstance(part, Lift)) * GRAVITY * 1000.0
    water = tap[np.zeros(len(temperature_k), dtype=np.intp)].with_temperature(temperature_k)
    leak = sum(
        (e.area * e.water_permeance * arrhenius(e.water_activation, temperature_k) for e in plant.elements),
        start=np.zeros_like(temperature_k),
    )
    return BackFlow(leak=(leak * np.maximum(head + water.osmotic, 0.0))[None, :])


def shutoff_rules(plant: Plant, holds: bool) -> tuple[ShutOffRule, ...]:
    """What stops the plant when its product is throttled: shut-off, the pump's pressure switch, or both."""
    rules = []
    if plant.shutoff is not None and holds:
        rules.append(ShutOffRule("ratio", plant.shutoff.closes_at_ratio, plant.shutoff.reopens_at_ratio))
    if plant.pump is not None and plant.pump.cut_out_pa is not None:
        rules.append(ShutOffRule("membrane_pa", plant.pump.cut_out_pa, plant.pump.cut_in_pa or 0.0))
    return tuple(rules)


def tank_use(tank: Tank | None) -> TankUse | None:
    """The tank's usable water and the band of its float valve."""
    if tank is None:
        return None
    volume = tank.usable_volume or tank.volume
    given = tank.float_band is not None and tank.height is not None
    band = tank.volume * tank.float_band / tank.height if given else FLOAT_BAND.value * tank.volume  # type: ignore[operator]
    return TankUse(volume, min(band, 0.9 * volume), tank.start_full, tank.float_valve)


def limit_of(demand: DemandInput) -> float:
    """The product's limit [S/m at 25 °C]."""
    return demand.limit_ppm / demand.meter_factor * US_CM


def van_uses(demand: DemandInput) -> tuple[VanUse, ...]:
    """The vans, each with its share of the day's water by the size of its tank."""
    total = sum(van.volume for van in demand.vans)
    return tuple(
        VanUse(van.volume, van.refill_at, van.refill_flow or VAN_REFILL.value, van.volume / total)
        for van in demand.vans
    )


def central_inputs(case: Case, tap: Water) -> YearInputs:
    """One member, with everything at its central value and no chance."""
    plant, demand = case.plant, case.demand
    week, weekday = week_of(demand, plant.tank is None)
    delivery = next((part for part in plant.product if isinstance(part, DeliveryPump)), None)
    supply, one = plant.supply, np.ones(1)
    break_tank = None
    if supply.tank_volume is not None and supply.refill_flow is not None:
        break_tank = BreakTank(supply.tank_volume, supply.refill_flow)
    return YearInputs(
        responses=case.responses,
        temperature_k=case.temperature_k[None, :],
        standing_pa=case.standing_pa,
        week=week,
        demand=demand_by_day(weekday, demand.days_off)[None, :],
        water_factor=np.ones((1, DAYS)),
        salt_factor=one,
        flow_factor=one,
        shut_days=np.zeros((1, DAYS), dtype=bool),
        tank=tank_use(plant.tank),
        shutoff=shutoff_rules(plant, case.holds),
        vans=van_uses(demand),
        work=(demand.draw_from, demand.draw_until),
        standstill=standstill(plant, case.temperature_k),
        back_flow=back_flow(plant, tap, case.temperature_k),
        break_tank=break_tank,
        flush_m3=sum(part.volume for part in plant.drain if isinstance(part, Flush)),
        pump_w=(plant.pump.power_w or 0.0) if plant.pump else 0.0,
        delivery_j_per_m3=delivery.power_w / delivery.flow if delivery and delivery.power_w and delivery.flow else 0.0,
        cartridges=case.cartridges,
        membranes=case.membranes,
        limit=limit_of(demand),
        hourly_days=tuple(
            day for first in report_weeks(case.temperature_k, weekday) for day in range(first, first + 7)
        ),
    )


def report_weeks(temperature_k: Array, weekday_m3: Array) -> tuple[int, int]:
    """First days (from 0, Mondays) of the coldest and of the warmest whole week."""
    mondays = np.arange(0, DAYS - 6, 7)
    means = np.array([temperature_k[day : day + 7].mean() for day in mondays])
    if np.ptp(means) < 0.01:
        return 7 * 5, 7 * 30
    return int(mondays[means.argmin()]), int(mondays[means.argmax()])


def central_resin(case: Case) -> ResinUse | None:
    """The resin as stated."""
    vessel = case.plant.resin
    if vessel is None:
        return None
    one = np.ones(1)
    return resin_use(case, vessel, (one, one, np.array([vessel.usable_share])), np.ones((1, SPECIES)), one, one)


def resin_use(
    case: Case,
    vessel: ResinVessel,
    bed: tuple[Array, Array, Array],
    composition: Array,
    co2: Array,
    gas: Array,
) -> ResinUse:
    """The resin of some members: factors on its two capacities and its usable share, on the water and on the gas."""
    tank = case.plant.tank
    months = vessel.change_after_months
    return ResinUse(
        bed=spread_bed(vessel, *bed),
        limit=limit_of(case.demand),
        behind_tank=case.plant.resin_behind_tank,
        composition=composition,
        co2=co2,
        on=vessel.change_on,
        days=np.inf if months is None else months * filters.MONTH / DAY,
        gas_velocity=gas * GAS_VELOCITY.value if breathes_first(case.plant) else None,
        depth=(tank.height if tank is not None and tank.height else 1.0),
    )


# --- many members: chance and what is uncertain ---


def member_inputs(document: SiteDocument, case: Case, tap: Tap, draws: Draws) -> tuple[YearInputs, ResinUse | None]:
    """The inputs of all members of an ensemble: waters, parts, temperature form, resin, dirt, demand, weather."""
    plant, demand = case.plant, case.demand
    one = central_inputs(case, tap.water)
    n = draws.members
    means = _Means.of(case, tap)
    picked = np.minimum((draws.u_water * means.waters).astype(int), means.waters - 1)
    salt, film = SALT_SPREAD * draws.z_salt, FILM_SPREAD * draws.z_film
    by_year = np.exp(demand.spread / 1.645 * draws.z_demand - 0.5 * (demand.spread / 1.645) ** 2)
    sd = DEMAND_DAY_SPREAD.value
    by_day = np.exp(sd * draws.z_day - 0.5 * sd**2)
    wanted = one.demand * by_year[:, None] * by_day * ~draws.off
    if demand.vans:  # a round is planned by what the vans carry
        carried = sum(van.volume for van in demand.vans)
        wanted = np.where(one.demand <= carried, np.minimum(wanted, carried), wanted)
    tolerance = np.exp(TOLERANCE_SPREAD * draws.z_chlorine_tolerance)
    inputs = replace(
        one,
        demand=wanted,
        water_factor=water_factors(plant, case.temperature_k, draws),
        salt_factor=means.salt[picked] * np.exp(means.salt_by_salt * salt + means.salt_by_film * film),
        flow_factor=means.flow[picked] * np.exp(means.flow_by_film * film),
        shut_days=draws.frost,
        tap_factor=means.blended[picked],
        cartridges=cartridge_uses(document, plant, np.exp(np.log(DIRT_SPREAD) / 1.645 * draws.z_dirt)),
        membranes=replace(case.membranes, tolerance=case.membranes.tolerance * tolerance),
    )
    vessel = plant.resin
    if vessel is None:
        return inputs, None
    bed = (
        np.exp(CAPACITY_SPREAD * draws.z_cation),
        np.exp(CAPACITY_SPREAD * draws.z_anion),
        np.clip(vessel.usable_share + USABLE_SPREAD * draws.z_usable, 0.1, 1.0),
    )
    gas = np.exp(GAS_VELOCITY_SPREAD * 1.645 * (2.0 * draws.u_gas - 1.0))
    use = resin_use(case, vessel, bed, means.composition[picked], means.co2[picked], gas * np.ones(n))
    return inputs, replace(use, tap=means.tap[picked])


def water_factors(plant: Plant, temperature_k: Array, draws: Draws) -> Array:
    """Water permeance of each member over its data sheet's by day: the makers' tolerance and the temperature form."""
    tolerance = max((element.tolerance for element in plant.elements), default=0.0) / 1.645
    cold = COLD_SPREAD * np.maximum(0.0, (T25 - temperature_k) / 20.0)
    return np.exp(tolerance * draws.z_water_permeance[:, None] + draws.z_temperature_form[:, None] * cold[None, :])


def water_reach(plant: Plant, temperature_k: Array) -> tuple[float, float]:
    """Range of :func:`water_factors` that the response is solved over: the same however many members are drawn."""
    tolerance = max((element.tolerance for element in plant.elements), default=0.0) / 1.645
    cold = COLD_SPREAD * max(0.0, (T25 - float(temperature_k.min())) / 20.0)
    most = float(np.exp(WATER_REACH * np.hypot(tolerance, cold)))
    return 1.0 / most, most


@dataclass(frozen=True)
class _Means:
    """How the waters the tap may have, salt permeance and film move the product against the central one."""

    waters: int
    flow: Array
    salt: Array  # flux of salt, of which the flow is not a part
    composition: Array
    co2: Array
    tap: Array  # the feed's equivalents and CO2 by volume
    blended: Array  # what a blend adds to the reading
    salt_by_salt: float
    salt_by_film: float
    flow_by_film: float

    @classmethod
    def of(cls, case: Case, tap: Tap) -> _Means:
        """From direct solves at the year's middle temperature."""
        members, plant = tap.members, case.plant
        count = len(members.solutes)
        middle = float(0.5 * (case.temperature_k.min() + case.temperature_k.max()))
        central = [tap.water] * 3
        waters = Water(
            np.concatenate([*(w.solutes for w in central), members.solutes]),
            np.concatenate([*(w.carbon for w in central), members.carbon]),
            np.asarray(middle),
        )
        salt, film = np.ones(count + 3), np.ones(count + 3)
        salt[1], film[2] = np.exp(SALT_SPREAD), np.exp(FILM_SPREAD)
        standing = np.full(count + 3, float(np.median(case.standing_pa)))
        batch = solve_batch(plant, waters, standing, spread=Spread(salt=salt, film=film))
        flow = batch.state.product_flow + batch.state.blend_flow
        reading = batch.waters.product.conductivity
        load = resin.Load.of(batch.waters.product.solutes, batch.waters.product.co2)
        ions = np.maximum(species_of(load) / np.maximum(reading, 1e-12), 1e-12)
        works = batch.state.solved
        safe = np.where(works, np.arange(count + 3), 0)
        tap_load = resin.Load.of(batch.waters.feed.solutes, batch.waters.feed.co2)
        bypass = bypass_of(plant, batch.waters, slice(None))

        def against(values: Array) -> Array:
            return np.asarray(values[..., safe[3:]] / values[..., :1])

        slope = np.log(reading[1:3] / reading[0]) / np.array([SALT_SPREAD, FILM_SPREAD])
        return cls(
            waters=count,
            flow=against(flow),
            salt=against(reading),
            composition=np.clip(against(ions), 0.0, 1e3).T,
            co2=against(np.maximum(batch.waters.product.co2, 1e-9)),
            tap=against(np.maximum(np.concatenate([species_of(tap_load), tap_load.co2[None]]), 1e-12)).T,
            blended=np.ones(count) if bypass is None else against(bypass.adds),
            salt_by_salt=float(slope[0]) if works[1] else 0.0,
            salt_by_film=float(slope[1]) if works[2] else 0.0,
            flow_by_film=float(np.log(flow[2] / flow[0]) / FILM_SPREAD) if works[2] else 0.0,
        )


# --- marching ---


@dataclass(frozen=True)
class MarchedYear:
    """A marched year and what it came from."""

    case: Case
    inputs: YearInputs
    ledger: Ledger


def march_year(document: SiteDocument, plant: Plant, tap: Tap) -> MarchedYear:
    """The central year, without chance."""
    case = case_of(document, plant, tap)
    inputs = central_inputs(case, tap.water)
    return MarchedYear(case, inputs, years(inputs, central_resin(case)))


def march_members(
    document: SiteDocument,
    plant: Plant,
    tap: Tap,
    members: int,
    seed: int,
    workers: int = 1,
    progress: Progress | None = None,
) -> MarchedYear:
    """Many years, each with its own chance; the same whatever the number of workers."""
    say = progress or (lambda what, share: None)
    say("drawing the chance of each year", 0.0)
    demand = build.demand_input(document)
    draws = draw(seed, range(members), demand.weather_off_chance, build.frost_chance(document))
    season = build.season_input(document)
    reach = water_reach(plant, temperatures(season, float(tap.water.temperature_k[0])))
    say("solving the plant over the year's conditions", 0.01)
    case = case_of(document, plant, tap, reach)
    inputs, bed = member_inputs(document, case, tap, draws)
    solved = SOLVING / (SOLVING + ANY_MARCH + members)
    ledger = years(inputs, bed, workers, lambda share: say("marching the years", solved + (1.0 - solved) * share))
    return MarchedYear(case, inputs, ledger)


class Place(Protocol):
    """What a site is made of."""

    @property
    def document(self) -> SiteDocument:
        """Its file."""

    @property
    def plant(self) -> Plant:
        """Its plant."""

    @property
    def tap(self) -> Tap:
        """Its tap water."""


def march_days(site: Place, first_day: int, days: int) -> Ledger:
    """Some days of the central year, for those who want to look closely; ``first_day`` from 0."""
    case = case_of(site.document, site.plant, site.tap)
    inputs = central_inputs(case, site.tap.water)
    ledger, bed = march(inputs, first_day, days), central_resin(case)
    return ledger if bed is None else through_resin(inputs, ledger, bed)


def notes_of(case: Case, ledger: Ledger) -> list[str]:
    """What a reader of the year should know about how it was counted."""
    plant, notes = case.plant, []
    if plant.stages and plant.tank is not None and plant.tank.float_valve:
        if plant.shutoff is not None and not case.holds:
            notes.append("Without a check valve before it the shut-off chatters; it is counted as not there.")
        elif bool(ledger.never_stops.any()) and shutoff_rules(plant, case.holds):
            notes.append("The shut-off may not trip on every day; the drain is then counted as running on.")
        elif not shutoff_rules(plant, case.holds):
            notes.append("Nothing shuts the feed when the tank is full: while the tap is open the drain runs on.")
    if float(ledger.product.sum()) <= 0.0 < float(ledger.demand.sum()):
        notes.append("The plant makes nothing all year: what stops it when the tank is full stops it at once.")
    back = float(np.median(ledger.back.sum(axis=1))) / LITRE
    if back >= 0.5:
        notes.append(
            f"Without a check valve about {back:,.0f} L of product a year run back through the membranes to the drain; "
            "they count as made and as drained."
        )
    if bool((ledger.overflow > 0.0).any()):
        notes.append("The tank overflows on some days; its water is counted as made and lost.")
    if ledger.members == 1 and (any(case.demand.weather_off_chance) or any(case.frost_chance)):
        notes.append("Days lost to weather or frost are counted only in several years drawn by chance.")
    return notes
