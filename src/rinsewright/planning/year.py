"""The plant over a year: its rates by water temperature, put into the march of :mod:`rinsewright.seasons`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rinsewright.errors import NoWorkingState
from rinsewright.planning.consumables import CartridgeOutlook
from rinsewright.planning.ensemble import bed_of, resin_inlet
from rinsewright.plant.feed.cartridge import CHANGE_AFTER_MONTHS, MONTH
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import arrhenius
from rinsewright.plant.membrane.restrictor import Flush
from rinsewright.plant.product import resin
from rinsewright.plant.product.line import DeliveryPump, ResinVessel, Tank
from rinsewright.quantities import DAY, US_CM, Array, celsius, kelvin
from rinsewright.seasons import climate
from rinsewright.seasons.inputs import (
    CartridgeUse,
    Rates,
    Standstill,
    TankUse,
    Week,
    YearInputs,
    demand_by_day,
    even_week,
    rounds_week,
)
from rinsewright.seasons.ledger import Ledger
from rinsewright.seasons.year import simulate
from rinsewright.site.build import DemandInput, SeasonInput
from rinsewright.solve.result import Batch, solve_batch
from rinsewright.solve.steady import drain_with_product_shut
from rinsewright.water.state import Water

PRODUCT_SIDE = 0.17e-3  # m: product-side volume for each m2 of membrane (gives the 0.35 h of a 4040 at 25 °C; assumed)
CREEP_SHARE = 0.2  # of the bound (assumed); one seawater element's first flushes carried 0.07 to 0.10 (our integral)


@dataclass(frozen=True)
class YearOfPlant:
    """The year's ledger and what it was computed from."""

    grid_k: Array
    batch: Batch
    temperature_k: Array  # (365,)
    ledger: Ledger
    never_trips: bool


def temperatures(season: SeasonInput | None, today_k: float) -> Array:
    """Water temperature of each day [K]."""
    if season is None:
        return climate.constant(today_k)
    if season.monthly_k is not None:
        return climate.from_months(np.array(season.monthly_k))
    return climate.cosine(season.coldest_k, season.warmest_k, season.coldest_day or 41)


def temperature_grid(coldest_k: float, warmest_k: float) -> Array:
    """Water temperatures [K] from cold to warm: the two ends, and even whole degrees Celsius between them."""
    cold, warm = float(celsius(coldest_k)), float(celsius(warmest_k))
    if warm - cold < 0.5:
        return kelvin(np.array([cold, cold + 0.5]))
    between = np.arange(2.0 * np.ceil(0.5 * cold + 0.25), warm - 0.4, 2.0)
    return kelvin(np.concatenate([[cold], between, [warm]]))


def solve_grid(plant: Plant, tap: Water, grid_k: Array, standing_pa: float) -> Batch:
    """The plant at every temperature of the grid."""
    waters = tap[np.zeros(len(grid_k), dtype=np.intp)].with_temperature(grid_k)
    return solve_batch(plant, waters, np.full(len(grid_k), standing_pa))


def rates_of(plant: Plant, batch: Batch, limit_ppm: float, factor: float) -> tuple[Rates, bool]:
    """Rates over the grid, and whether the shut-off fails to trip somewhere on it."""
    state, waters = batch.state, batch.waters
    works = state.solved
    product = np.where(works, state.product_flow + state.blend_flow, 0.0)
    drain = np.where(works, state.drain_flow, 0.0)
    when_full, never_trips = _drain_when_full(plant, batch)
    pump_w = (plant.pump.power_w or 0.0) if plant.pump else 0.0
    rates = Rates.plain(
        product,
        drain,
        waters.product.conductivity if plant.resin is not None else waters.delivered.conductivity,
        waters.feed.conductivity,
        np.full_like(product, pump_w),
        when_full,
    )
    vessel = plant.resin
    if vessel is None:
        return rates, never_trips
    inlet, co2 = resin_inlet(plant, batch)
    one = bed_of(vessel, 1, np.random.default_rng(0))
    run = resin.exhaustion(one, inlet.solutes, co2, limit_ppm / factor * US_CM)
    fresh = waters.delivered.conductivity
    # Where the limit lies below the plateau, the resin is changed at the limit, before the plateau is reached.
    plateau = np.clip(run.plateau, fresh, np.maximum(limit_ppm / factor * US_CM, fresh))
    return rates.with_resin(run.m3_to_limit, run.m3_to_first_slip, fresh, plateau), never_trips


def _drain_when_full(plant: Plant, batch: Batch) -> tuple[Array, bool]:
    """Drain flow while the tank is full, over the grid; none if shut-off or pressure switch stops the plant."""
    if not plant.stages or plant.tank is None:
        return np.zeros(len(batch)), False
    flow, pressure = drain_with_product_shut(plant, batch.conditions.temperature_k, batch.conditions.standing_pa)
    if plant.shutoff is not None:
        reached = 1.0 - 1.1 * batch.conditions.salt.osmotic / pressure
        trips = reached >= plant.shutoff.closes_at_ratio
        return np.where(trips, 0.0, flow), not bool(trips.all())
    if plant.pump is not None and plant.pump.cut_out_pa is not None:
        return np.where(pressure >= plant.pump.cut_out_pa, 0.0, flow), False
    return flow, False


def week_of(demand: DemandInput, direct: bool) -> tuple[Week, Array]:
    """The working week and the water of each weekday [m3]."""
    if any(demand.rounds):
        jobs = {day: [(job.volume, job.seconds) for job in jobs] for day, jobs in enumerate(demand.rounds)}
        return rounds_week(jobs, demand.draw_from, demand.draw_until, demand.fill_from, demand.fill_until)
    if direct and demand.brush_flow is not None:  # the water runs only while a brush uses it
        flow = demand.brushes * demand.brush_flow
        once = {day: [(volume, volume / flow)] for day, volume in enumerate(demand.by_weekday) if volume > 0.0}
        return rounds_week(once, demand.draw_from, demand.draw_until, demand.fill_from, demand.fill_until)
    week = even_week(demand.draw_from, demand.draw_until, demand.fill_from, demand.fill_until)
    return week, np.array(demand.by_weekday)


def restart_volume(plant: Plant, tank: Tank) -> float:
    """Water [m3] drawn from the full tank before the plant starts again.

    A float valve opens within its band; with a shut-off the plant waits until the valve has opened far enough to let
    the product pressure fall, taken as half the band. Without a shut-off it hovers at the top.
    """
    if plant.shutoff is None or tank.float_band is None or tank.height is None:
        return 0.02 * tank.volume if plant.shutoff is not None else 0.0
    return 0.5 * tank.volume * tank.float_band / tank.height


def standstill(plant: Plant) -> Standstill:
    """Creep through the membranes while they stand, at 12 °C."""
    area = sum(element.area for element in plant.elements)
    if area <= 0.0:
        return Standstill()
    salt = sum(
        e.area * e.salt_permeance * float(arrhenius(e.salt_activation, np.array(285.15))) for e in plant.elements
    )
    return Standstill(volume=PRODUCT_SIDE * area, relaxation=PRODUCT_SIDE * area / salt, share=CREEP_SHARE)


def march_year(
    plant: Plant,
    tap: Water,
    demand: DemandInput,
    season: SeasonInput | None,
    standing_pa: float,
    cartridges: tuple[CartridgeOutlook, ...],
    changes: Sequence[tuple[int, Water]] = (),
) -> YearOfPlant:
    """March one calendar year of the plant as proposed.

    ``changes``: another tap water from a day of the year (1–365) on, until the next change or the year's end.
    """
    days = temperatures(season, float(tap.temperature_k[0]))
    grid = temperature_grid(float(days.min()), float(days.max()))
    batch = solve_grid(plant, tap, grid, standing_pa)
    rates, never_trips = rates_of(plant, batch, demand.limit_ppm, demand.meter_factor)
    week, weekday = week_of(demand, plant.tank is None)
    tank = plant.tank
    flush = sum(part.volume for part in plant.drain if isinstance(part, Flush))
    delivery = next((part for part in plant.product if isinstance(part, DeliveryPump)), None)
    per_m3 = delivery.power_w / delivery.flow if delivery and delivery.power_w and delivery.flow else 0.0
    by_day = rates.by_day(grid, days)
    ends = [day for day, _ in changes[1:]] + [climate.DAYS + 1]
    for (day, other), end in zip(changes, ends, strict=False):
        then, trips_not = rates_of(
            plant, solve_grid(plant, other, grid, standing_pa), demand.limit_ppm, demand.meter_factor
        )
        days_of_it = (np.arange(1, climate.DAYS + 1) >= day) & (np.arange(1, climate.DAYS + 1) < end)
        by_day, never_trips = by_day.choose(then.by_day(grid, days), days_of_it), never_trips or trips_not
    inputs = YearInputs(
        rates=by_day,
        week=week,
        demand=demand_by_day(weekday, demand.days_off)[None, :],
        tank=None
        if tank is None
        else TankUse(tank.usable_volume or tank.volume, restart_volume(plant, tank), tank.start_full),
        standstill=standstill(plant),
        resin_behind_tank=_resin_behind_tank(plant),
        resin_fitted=plant.resin is not None,
        limit_conductivity=demand.limit_ppm / demand.meter_factor * US_CM,
        flush_m3=flush,
        cartridges=tuple(CartridgeUse(one.part.name, one.volume, days=_calendar(one)) for one in cartridges),
        delivery_j_per_m3=per_m3,
    )
    try:
        ledger = simulate(inputs)
    except NoWorkingState as reason:  # a float that chatters: say where it stands
        raise NoWorkingState(reason.reason, tank.key if tank is not None else None) from None
    return YearOfPlant(grid, batch, days, ledger, never_trips)


def _calendar(outlook: CartridgeOutlook) -> float:
    return (outlook.part.change_after_months or CHANGE_AFTER_MONTHS.value) * MONTH / DAY


def _resin_behind_tank(plant: Plant) -> bool:
    for part in plant.product:
        if isinstance(part, ResinVessel):
            return False
        if isinstance(part, Tank):
            return plant.resin is not None
    return False
