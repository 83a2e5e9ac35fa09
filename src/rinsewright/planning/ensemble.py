"""The same plant many times over: waters, elements, mass transfer and resin as they may really be.

What an answer's band rests on stands here. Every spread is a statement of ours, with its origin beside it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.channel import Spread
from rinsewright.plant.product import resin
from rinsewright.plant.product.line import ResinVessel
from rinsewright.quantities import T25, US_CM, Array
from rinsewright.solve.result import Batch, solve_batch
from rinsewright.water.carbonate import carbon_at_co2, co2_in_equilibrium
from rinsewright.water.state import Water

SEED = 20262
LOW, HIGH = 0.05, 0.95
SALT_SPREAD = 0.20  # sd of ln B: data sheets state a least rejection beside the nominal one (assumed)
FILM_SPREAD = 0.18  # sd of ln k: ±30 % as a 90 % band (mass-transfer correlations far below their range; assumed)
COLD_SPREAD = 0.06  # sd of ln A at 5 °C: published temperature forms span 0.48 to 0.58 there (read)
USABLE_SPREAD = 0.06  # sd of the usable share of the resin: 0.5 to 0.7 as a 90 % band (from memory)
CAPACITY_SPREAD = 0.08  # sd of ln of the resin's capacities (from memory: 10 to 15 % between makes)
GAS_LOST = (0.2, 0.8)  # share of the CO2 above the air's level that a vented tank loses before the resin (assumed)
USUAL_GAS_LOST = 0.5 * (GAS_LOST[0] + GAS_LOST[1])


@dataclass(frozen=True)
class Band:
    """A central value with a 90 % band; not known where ``value`` is None."""

    value: float | None
    low: float | None = None
    high: float | None = None

    @classmethod
    def of(cls, central: float, members: Array, scale: float = 1.0) -> Band:
        """The central value and the 5 % and 95 % quantiles of the members, widened to hold the central value."""
        if not np.isfinite(central):
            return cls(None)
        finite = members[np.isfinite(members)]
        if finite.size < 2:
            return cls(central / scale)
        low, high = np.quantile(finite, [LOW, HIGH]) / scale
        value = float(central / scale)
        return cls(value, float(min(low, value)), float(max(high, value)))

    def answer(self) -> dict[str, float | None]:
        """The contract's banded value."""
        return {"value": self.value, "low": self.low, "high": self.high}


@dataclass(frozen=True)
class Members:
    """The plant solved for all members at one temperature; lane 0 is the central one."""

    batch: Batch
    works: Array

    def inlet(self, plant: Plant, rng: np.random.Generator) -> tuple[Water, Array]:
        """The water that reaches the resin and its CO2(aq) [mol/m3], with the loss of gas spread over the members."""
        if not breathes_first(plant):
            return resin_inlet(plant, self.batch)
        lost = rng.uniform(*GAS_LOST, len(self.batch))
        lost[0] = USUAL_GAS_LOST
        return resin_inlet(plant, self.batch, lost)


def resin_inlet(plant: Plant, batch: Batch, lost: Array | float = USUAL_GAS_LOST) -> tuple[Water, Array]:
    """The water that reaches the resin and its CO2(aq) [mol/m3], shape (conditions,): a blend before it is mixed in.

    ``lost``: share of the CO2 above the air's level that a vented tank before the resin lets out.
    """
    product = batch.waters.product
    if plant.blend_before_resin > 0.0:
        product = product.mixed(batch.waters.feed, plant.blend_before_resin)
    co2 = np.asarray(product.co2)
    if breathes_first(plant):
        air = co2_in_equilibrium(product.temperature_k)
        co2 = np.minimum(co2, air + (co2 - air) * (1.0 - lost))
        carbon = carbon_at_co2(product.solutes, co2, product.temperature_k)
        product = Water(product.solutes, carbon, product.temperature_k)
    return product, co2


def breathes_first(plant: Plant) -> bool:
    """Whether a vented tank stands before the resin."""
    return plant.resin_behind_tank and plant.tank is not None and plant.tank.vented


def solve_members(plant: Plant, central: Water, members: Water, temperature_k: float, standing_pa: float) -> Members:
    """Solve the plant for the central water (1,) and all members (n,) at one temperature."""
    waters = Water(
        np.concatenate([central.solutes, members.solutes]),
        np.concatenate([central.carbon, members.carbon]),
        np.asarray(temperature_k),
    )
    n = len(waters.solutes)
    rng = np.random.default_rng(SEED)
    tolerance = max((element.tolerance for element in plant.elements), default=0.0)
    cold = COLD_SPREAD * max(0.0, (T25 - temperature_k) / 20.0)
    water = np.exp(np.hypot(tolerance / 1.645, cold) * rng.standard_normal(n))
    salt, film = (np.exp(sd * rng.standard_normal(n)) for sd in (SALT_SPREAD, FILM_SPREAD))
    for factor in (water, salt, film):
        factor[0] = 1.0
    spread = Spread(water=water, salt=salt, film=film)
    batch = solve_batch(plant, waters, np.full(n, standing_pa), spread=spread)
    return Members(batch, np.asarray(batch.state.solved))


@dataclass(frozen=True)
class ResinOutlook:
    """How far the resin goes, with bands; litres and ppm. Two ends: first slip, and the limit."""

    needed: bool
    to_first_slip: Band  # m3
    to_limit: Band  # m3
    plateau_ppm: Band
    co2_share: Band
    limited_by: str
    passing: float = 1.0  # share of the delivered water that goes through the resin; a blend behind it by-passes it

    def answer(self, litres_per_day: float | None) -> dict[str, object]:
        """The contract's ``resin`` object."""
        days = Band(None)
        if litres_per_day and self.to_limit.value is not None:
            days = _scaled(self.to_limit, 1e3 / (litres_per_day * self.passing))
        return {
            "needed": self.needed,
            "litres_to_first_slip": _scaled(self.to_first_slip, 1e3).answer(),
            "litres_to_limit": _scaled(self.to_limit, 1e3).answer(),
            "plateau_meter_ppm": self.plateau_ppm.answer(),
            "co2_share": self.co2_share.answer(),
            "limited_by": self.limited_by,
            "days_to_limit": days.answer(),
        }


def _scaled(band: Band, factor: float) -> Band:
    return Band(*(None if value is None else value * factor for value in (band.value, band.low, band.high)))


def spread_bed(vessel: ResinVessel, cation: Array, anion: Array, usable_share: Array) -> resin.Bed:
    """The vessel's bed for members; factors on its two capacities, and the usable share itself."""
    stated = [None if eq is None else eq * 1e3 for eq in (vessel.cation_eq_per_l, vessel.anion_eq_per_l)]
    return resin.Bed(
        volume=vessel.volume,
        cation_capacity=cation * (resin.CATION_CAPACITY.value if stated[0] is None else stated[0]),
        anion_capacity=anion * (resin.ANION_CAPACITY.value if stated[1] is None else stated[1]),
        usable_share=usable_share,
        vessels=vessel.vessels,
    )


def bed_of(vessel: ResinVessel, n: int, rng: np.random.Generator) -> resin.Bed:
    """The vessel's bed for n members, the first as stated."""
    capacity = np.exp(CAPACITY_SPREAD * rng.standard_normal((2, n)))
    usable = np.clip(vessel.usable_share + USABLE_SPREAD * rng.standard_normal(n), 0.1, 1.0)
    capacity[:, 0], usable[0] = 1.0, vessel.usable_share
    return spread_bed(vessel, capacity[0], capacity[1], usable)


def resin_outlook(plant: Plant, vessel: ResinVessel, members: Members, limit_ppm: float, factor: float) -> ResinOutlook:
    """Exhaust the resin of every member with its own water."""
    rng = np.random.default_rng(SEED + 1)
    inlet, co2 = members.inlet(plant, rng)
    outlook = outlook_of(bed_of(vessel, len(co2), rng), inlet, co2, members.works, limit_ppm, factor)
    return replace(outlook, passing=1.0 - plant.blend_behind_resin)


def outlook_of(bed: resin.Bed, inlet: Water, co2: Array, works: Array, limit_ppm: float, factor: float) -> ResinOutlook:
    """Exhaust a bed with its members' waters; the first member is the central one."""
    run = resin.exhaustion(bed, inlet.solutes, co2, limit_ppm / factor * US_CM)

    def band(values: Array, scale: float = 1.0) -> Band:
        return Band.of(float(values[0]), values[works], scale)

    needed = run.limited_by[0] != "not needed"
    return ResinOutlook(
        needed=needed,
        to_first_slip=band(run.m3_to_first_slip),
        to_limit=band(run.m3_to_limit),
        plateau_ppm=band(run.plateau / US_CM * factor) if needed else Band(None),
        co2_share=band(run.co2_share) if needed else Band(None),
        limited_by=run.limited_by[0],
    )
