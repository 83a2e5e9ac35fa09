"""What moves the answer most: one uncertain input at a time, from one end to the other, everything else in the middle.

All ends at all temperatures that matter are one batch. What they give is put in proportion to the plan's own numbers,
so that the middle is exactly what stands elsewhere in the answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import exp
from typing import Any

import numpy as np

from rinsewright.costs.prices import Costs
from rinsewright.planning import ensemble
from rinsewright.planning.situation import Situation
from rinsewright.planning.tap import Tap
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.channel import Spread
from rinsewright.plant.membrane.restrictor import Restrictor
from rinsewright.plant.product import resin
from rinsewright.quantities import BAR, US_CM, Array, celsius, kelvin
from rinsewright.seasons.ledger import Ledger
from rinsewright.solve.result import Batch, solve_batch
from rinsewright.water.state import Water

WINTER, SUMMER = "winter product, L/min", "summer reading, ppm"
RESIN, COST = "resin to its limit, L", "cost of a year"
LEAST = 0.01  # an input that moves a target by less than this share of it gets no line

BAND = 1.645  # from a standard deviation to the ends of a 90 % band
FILM = 0.30  # mass transfer in the channel: the ensemble's 90 % band, as its source states it
RESTRICTOR = 0.20  # drain restrictors against their stamp (assumed)
DEGREES = 2.0  # K: a winter or summer unlike the usual one (assumed)
PRESSURE = 0.5 * BAR  # mains pressure through the seasons (assumed)
PH = 0.3  # a strip's or an old report's error (common practice); wider where the tap's own band is wider
IONS = 0.10  # dissolved matter through the seasons (assumed)
USABLE = 0.10  # usable share of the resin, either way: the range stated for it
CAPACITY = 0.10  # capacity of the resin between makes (from memory)
PRICE = 0.20  # a plausible change of any price

COLDEST, BETWEEN, WARMEST = range(3)
YEAR = np.array([0.25, 0.5, 0.25])  # weights of the three in the mean of a cosine year

Row = dict[str, Any]


@dataclass(frozen=True)
class End:
    """The plant with one input at one of its ends."""

    water: Water | None = None  # (1,), today's; None: the tap's own
    degrees: float = 0.0
    pressure_pa: float = 0.0
    permeance: float = 1.0
    salt: float = 1.0
    film: float = 1.0
    restrictor: float = 1.0
    usable: float = 0.0  # added to the usable share
    capacity: float = 1.0
    prices: Mapping[str, float] = field(default_factory=dict)  # factors on lines of the cost


@dataclass(frozen=True)
class Input:
    """An uncertain input: its name, and its two ends in words and in numbers."""

    what: str
    low_text: str
    high_text: str
    low: End
    high: End


@dataclass(frozen=True)
class Middle:
    """The plan that the inputs are varied about; temperatures in K."""

    plant: Plant
    tap: Tap
    standing_pa: float
    coldest_k: float
    between_k: float
    warmest_k: float
    resin_k: float  # at which the resin is judged: one of the last two
    limit_ppm: float
    meter_factor: float


def sensitivities(middle: Middle, s: Situation, costs: Costs, ledger: Ledger) -> list[Row]:
    """Rows of what, target, low_text, low, central, high_text and high: by target, what moves it most first.

    ``low`` and ``high`` belong to the input's two ends; null where the plant has no working state there or the resin
    is not needed. Targets are :data:`WINTER`, :data:`SUMMER`, :data:`RESIN` and :data:`COST`; one that the plan itself
    does not know is left out. Costs are the year's lines scaled by flows, resin and prices; the year is not marched
    anew: changes of cartridges and membranes stay as they are, and resin not needed in the middle costs nothing at an
    end.
    """
    inputs = list(_inputs(middle, s))
    ends = [End()] + [end for one in inputs for end in (one.low, one.high)]
    effects = _effects(middle, ends, costs, ledger)
    rows = []
    for target, central in _centrals(s, costs).items():
        if central is None:
            continue
        values = central * effects[target]
        moved = [_row(one, target, central, *values[1 + 2 * n : 3 + 2 * n]) for n, one in enumerate(inputs)]
        rows += sorted((row for row in moved if _size(row) >= LEAST), key=_size, reverse=True)
    return rows


def _row(one: Input, target: str, central: float, low: float, high: float) -> Row:
    return {
        "what": one.what,
        "target": target,
        "low_text": one.low_text,
        "low": float(low) if np.isfinite(low) else None,
        "central": central,
        "high_text": one.high_text,
        "high": float(high) if np.isfinite(high) else None,
    }


def _size(row: Row) -> float:
    """How far the target moves, as a share of it; more than anything where there is no answer at an end."""
    ends = (row["low"], row["high"])
    return max(np.inf if end is None else abs(end - row["central"]) / abs(row["central"]) for end in ends)


def _centrals(s: Situation, costs: Costs) -> dict[str, float | None]:
    """The plan's own numbers; None where there is none, or nothing to move."""
    cold, warm = s.coldest.solved, s.warmest.solved
    reading = None
    if warm is not None and s.has_membranes:
        reading = float(warm.batch.waters.product.conductivity[0] / US_CM) * warm.meter_factor
    centrals = {
        WINTER: None if cold is None else cold.product_l_min,
        SUMMER: reading,
        RESIN: s.resin["litres_to_limit"]["value"] if s.resin is not None else None,
        COST: None if costs.total is None else float(costs.total[0]),
    }
    return {target: central or None for target, central in centrals.items()}


def _inputs(m: Middle, s: Situation) -> Iterator[Input]:
    if m.plant.stages:
        yield from _membranes(m.plant)
    yield from _supply(m)
    yield from _tap(m.tap)
    if m.plant.resin is not None:
        yield from _resin(m.plant.resin.usable_share)
    yield from _prices()


def _by_share(what: str, less: float, more: float, end: Callable[[float], End]) -> Input:
    """An input that is a factor; ``end`` makes the plant with it."""
    low, high = f"{100 * (1.0 - less):.0f} % lower", f"{100 * (more - 1.0):.0f} % higher"
    return Input(what, low, high, end(less), end(more))


def _membranes(plant: Plant) -> Iterator[Input]:
    tolerance = max(element.tolerance for element in plant.elements)
    salt = exp(BAND * ensemble.SALT_SPREAD)
    if tolerance > 0.0:
        yield _by_share(
            "water permeance of the membranes", 1.0 - tolerance, 1.0 + tolerance, lambda x: End(permeance=x)
        )
    yield _by_share("salt permeance of the membranes", 1.0 / salt, salt, lambda x: End(salt=x))
    yield _by_share("mass transfer in the feed channel", 1.0 - FILM, 1.0 + FILM, lambda x: End(film=x))
    if any(isinstance(part, Restrictor) for part in plant.drain):
        yield _by_share("flow of the drain restrictor", 1.0 - RESTRICTOR, 1.0 + RESTRICTOR, lambda x: End(restrictor=x))


def _supply(m: Middle) -> Iterator[Input]:
    colder = min(DEGREES, float(celsius(m.coldest_k)))  # not below freezing
    if colder > 0.0:
        low, high = End(degrees=-colder), End(degrees=DEGREES)
        yield Input("water temperature", f"{colder:.2g} °C colder", f"{DEGREES:.2g} °C warmer", low, high)
    if m.plant.supply.kind != "break-tank":
        bar = PRESSURE / BAR
        low, high = End(pressure_pa=-min(PRESSURE, m.standing_pa)), End(pressure_pa=PRESSURE)
        yield Input("standing pressure", f"{bar:g} bar lower", f"{bar:g} bar higher", low, high)


def _tap(tap: Tap) -> Iterator[Input]:
    water, ph = tap.water, float(tap.water.ph[0])
    likely = np.quantile(tap.members.ph, [ensemble.LOW, ensemble.HIGH])
    ends = float(max(min(ph - PH, likely[0]), 3.0)), float(min(max(ph + PH, likely[1]), 11.0))
    acid, alkaline = (End(Water.from_ph(water.solutes, end, water.temperature_k)) for end in ends)
    yield Input("pH of the tap water", f"pH {ends[0]:.1f}", f"pH {ends[1]:.1f}", acid, alkaline)
    thin, thick = (End(Water.from_ph(water.solutes * (1.0 + x), ph, water.temperature_k)) for x in (-IONS, IONS))
    share = f"{100 * IONS:.0f} %"
    yield Input("everything dissolved in the tap water", f"{share} less", f"{share} more", thin, thick)


def _resin(usable: float) -> Iterator[Input]:
    low, high = max(usable - USABLE, 0.05), min(usable + USABLE, 1.0)
    ends = End(usable=low - usable), End(usable=high - usable)
    yield Input("usable share of the resin", f"{100 * low:.0f} %", f"{100 * high:.0f} %", *ends)
    yield _by_share("capacity of the resin", 1.0 - CAPACITY, 1.0 + CAPACITY, lambda x: End(capacity=x))


def _prices() -> Iterator[Input]:
    for what, lines in (("water and sewerage", ("water", "sewerage")), ("resin", ("resin",)), ("labour", ("labour",))):
        low, high = (End(prices=dict.fromkeys(lines, factor)) for factor in (1.0 - PRICE, 1.0 + PRICE))
        yield Input(f"price of {what}", f"{100 * PRICE:.0f} % lower", f"{100 * PRICE:.0f} % higher", low, high)


def _effects(m: Middle, ends: list[End], costs: Costs, ledger: Ledger) -> dict[str, Array]:
    """Each target at each end, over its value at the first, central one; not-a-number where there is none."""
    batch = _solve(m, ends)
    works = batch.works
    by_day = (3, len(ends))
    product = np.where(works, batch.state.product_flow, np.nan).reshape(by_day)
    reading = np.where(works, batch.waters.product.conductivity, np.nan).reshape(by_day)
    litres = np.full(by_day, np.nan)
    if m.plant.resin is not None:
        litres = np.where(works, _to_limit(m, ends, batch), np.nan).reshape(by_day)
    lasts = litres[WARMEST if m.resin_k == m.warmest_k else BETWEEN]
    return {
        WINTER: product[COLDEST] / product[COLDEST, 0],
        SUMMER: reading[WARMEST] / reading[WARMEST, 0],
        RESIN: lasts / lasts[0],
        COST: _cost(ends, _Use.of(batch, works, litres), costs, ledger, m.plant),
    }


def _solve(m: Middle, ends: list[End]) -> Batch:
    """All ends on the coldest day, then half-way, then on the warmest, in one batch."""
    waters = [m.tap.water if end.water is None else end.water for end in ends]
    degrees = np.array([end.degrees for end in ends])
    temperature = np.concatenate([k + degrees for k in (m.coldest_k, m.between_k, m.warmest_k)])
    solutes = np.tile(np.concatenate([water.solutes for water in waters]), (3, 1))
    carbon = np.tile(np.concatenate([water.carbon for water in waters]), 3)
    water = Water(solutes, carbon, np.clip(temperature, kelvin(0.0), kelvin(45.0)))
    standing = np.tile(m.standing_pa + np.array([end.pressure_pa for end in ends]), 3)
    permeance, salt, film, restrictor = (
        np.tile([getattr(end, name) for end in ends], 3) for name in ("permeance", "salt", "film", "restrictor")
    )
    return solve_batch(m.plant, water, standing, spread=Spread(permeance, salt, film, restrictor))


def _to_limit(m: Middle, ends: list[End], batch: Batch) -> Array:
    """Water [m3] to the resin's limit at every condition; not-a-number where the resin is not needed."""
    assert m.plant.resin is not None
    inlet, co2 = ensemble.resin_inlet(m.plant, batch)
    capacity = np.tile([end.capacity for end in ends], 3)
    bed = ensemble.bed_of(m.plant.resin, 1, np.random.default_rng(0))
    bed = replace(
        bed,
        cation_capacity=bed.cation_capacity * capacity,
        anion_capacity=bed.anion_capacity * capacity,
        usable_share=bed.usable_share + np.tile([end.usable for end in ends], 3),
    )
    run = resin.exhaustion(bed, inlet.solutes, co2, m.limit_ppm / m.meter_factor * US_CM)
    return run.m3_to_limit


@dataclass(frozen=True)
class _Use:
    """What a litre of product uses over the year at each end, over what it uses at the first."""

    water: Array
    drain: Array
    time: Array
    resin: Array

    @classmethod
    def of(cls, batch: Batch, works: Array, litres: Array) -> _Use:
        """``litres``: water to the resin's limit, shape (days, ends); not-a-number where the resin is not needed."""
        works = works.reshape(litres.shape)
        flows = batch.state.tap_flow, batch.state.drain_flow, np.ones_like(batch.state.tap_flow)
        made = batch.state.product_flow + batch.state.blend_flow
        water, drain, time = (np.reshape(flow / made, litres.shape) for flow in flows)
        changes = np.where(np.isfinite(litres), 1.0 / litres, 0.0)
        return cls(*(_over_year(use, works) for use in (water, drain, time, changes)))


def _over_year(use: Array, works: Array) -> Array:
    """Mean over a year at each end over that at the first; exact for a cosine year and a use quadratic in temperature.

    Days on which the plant does not even work as planned are left out.
    """
    weights = YEAR[works[:, 0]]
    mean = weights @ np.where(works, use, np.nan)[works[:, 0]] / weights.sum()
    return mean / mean[0] if mean[0] > 0.0 else np.where(np.isfinite(mean), 1.0, np.nan)


def _cost(ends: list[End], use: _Use, costs: Costs, ledger: Ledger, plant: Plant) -> Array:
    """A year's cost at each end over that at the first: every line by what drives it and by its price."""
    pumping = _share(_pump_energy(ledger, plant), float(ledger.energy.sum()))
    visiting = _share(float((ledger.resin_changes[0] > 0).sum()), float(ledger.visits[0]))
    driven = {
        "water": use.water,
        "sewerage": use.drain,
        "energy": 1.0 + pumping * (use.time - 1.0),
        "resin": use.resin,
        "labour": 1.0 + visiting * (use.resin - 1.0),
    }
    total = np.zeros(len(ends))
    for name, amount in costs.split.items():
        price = np.array([end.prices.get(name, 1.0) for end in ends])
        total = total + float(amount[0]) * price * driven.get(name, np.ones(len(ends)))
    return total / total[0] if total[0] > 0.0 else total


def _pump_energy(ledger: Ledger, plant: Plant) -> float:
    """What the booster pump uses in a year [J]."""
    return (plant.pump.power_w or 0.0) * float(ledger.running.sum()) if plant.pump else 0.0


def _share(part: float, whole: float) -> float:
    return min(part / whole, 1.0) if whole > 0.0 else 0.0
