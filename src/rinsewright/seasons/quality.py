"""What reaches resin, tank and brush, day by day, once the litres are known.

The flows do not depend on the resin, so it comes second: each day's salts and gases go through its cells, and the tank
is mixed again with what comes out of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rinsewright.dates import DAYS
from rinsewright.plant.product import resin
from rinsewright.quantities import DAY, Array
from rinsewright.seasons.beds import Inflow, march_beds
from rinsewright.seasons.inputs import YearInputs
from rinsewright.seasons.ledger import Ledger
from rinsewright.seasons.table import Response
from rinsewright.water.carbonate import co2_in_equilibrium
from rinsewright.water.gas import co2_behind_tank

SPECIES = 9  # Na, K, Mg, Ca; Cl, NO3, SO4; carbonic (without the dissolved gas); silica


@dataclass(frozen=True)
class ResinUse:
    """The resin of a year. ``limit`` [S/m] where it is changed; ``on`` days of the year, ``days`` since the last.

    ``composition`` (members, 9): each member's product over the central one's, per unit of conductivity, in the order
    of :data:`SPECIES`; ``co2`` (members) likewise, per volume. ``tap`` (members, 10): each member's feed water, which a
    blend adds, over the central one's, per volume, in the same order and CO2 behind it. ``gas_velocity`` [m/s]
    (members) and ``depth`` [m] of a vented tank before the resin, ``None`` without one.
    """

    bed: resin.Bed
    limit: float
    behind_tank: bool
    composition: Array
    co2: Array
    tap: Array | None = None
    on: tuple[int, ...] = ()
    days: float = np.inf
    gas_velocity: Array | None = None
    depth: float = 1.0

    def part(self, chosen: slice) -> ResinUse:
        """The same for some members."""

        def some(value: Array | float) -> Array | float:
            return value[chosen] if isinstance(value, np.ndarray) and value.ndim else value

        bed = self.bed
        return replace(
            self,
            bed=resin.Bed(
                some(bed.volume),
                some(bed.cation_capacity),
                some(bed.anion_capacity),
                some(bed.usable_share),
                bed.vessels,
            ),
            composition=self.composition[chosen],
            co2=self.co2[chosen],
            tap=None if self.tap is None else self.tap[chosen],
            gas_velocity=None if self.gas_velocity is None else self.gas_velocity[chosen],
        )


def through_resin(
    inputs: YearInputs, ledger: Ledger, use: ResinUse, progress: Callable[[float], None] | None = None
) -> Ledger:
    """The ledger with the resin's part: changes, readings behind it, and the worst reading at the brush.

    ``progress`` is told the share of the water that has gone through.
    """
    run = march_beds(
        use.bed,
        inflow(inputs, ledger, use),
        use.limit,
        change_on=use.on,
        change_after_days=use.days,
        first_day=ledger.first_day,
        progress=progress,
    )
    ledger = replace(
        ledger,
        resin_changes=run.changes.astype(np.float64),
        resin_reasons=run.reasons,
        resin_spent=run.spent,
        silica_slipped=run.silica,
        after=run.reading,
        limit_conductivity=use.limit,
    )
    drawn = ledger.delivered > 0.0
    thinned, added = _behind_resin(inputs, ledger)
    if inputs.tank is None or use.behind_tank:
        return replace(ledger, worst=np.where(drawn, np.nan_to_num(run.worst * thinned + added), 0.0))
    reading = np.where(np.isnan(run.reading), 0.0, run.reading * thinned + added)
    tank = np.zeros(len(reading))
    worst = np.zeros_like(reading)
    tank[:] = reading[np.arange(len(reading)), np.argmax(reading > 0.0, axis=1)]
    at_night = np.zeros_like(reading)
    for day in range(reading.shape[1]):
        after = np.where(
            np.isnan(run.reading[:, day]), tank, reading[:, day] + (tank - reading[:, day]) * ledger.keep[:, day]
        )
        worst[:, day] = np.maximum(tank, after)
        tank = at_night[:, day] = after
    return replace(ledger, worst=np.where(drawn, worst, 0.0), tank_reading=at_night)


def inflow(inputs: YearInputs, ledger: Ledger, use: ResinUse) -> Inflow:
    """Equivalents that reach the resin each day: the membranes' own, what crept through with the feed's mix, and what a
    blend before the resin adds. A blend behind it leaves its share of the water out.
    """
    days, temperature = _days_and_temperature(inputs, ledger)
    per_salt = np.zeros((SPECIES, *ledger.product.shape))  # eq/m3 for each S/m behind the membranes
    crept = np.zeros_like(per_salt)
    co2 = np.zeros_like(ledger.product)
    for here, response in _in_turn(inputs, days):
        own = species_of(response.load) / response.product_conductivity
        feed = species_of(response.feed_load) / response.feed_conductivity
        per_salt[:, :, here] = response.along_temperature(own, temperature[:, here])
        crept[:, :, here] = feed[:, :, None]
        co2[:, here] = response.along_temperature(response.load.co2, temperature[:, here])
    per_salt *= use.composition.T[:, :, None]
    co2 = co2 * use.co2[:, None]
    share = np.divide(ledger.creep, ledger.salt, out=np.zeros_like(ledger.salt), where=ledger.salt > 0.0)
    volume, salt = ledger.product, ledger.salt
    if use.behind_tank:
        volume, salt = ledger.delivered, np.maximum(ledger.salt_drawn, 0.0)
    bypass = inputs.responses[0][1].bypass
    if bypass is None:
        amounts = salt * ((1.0 - share) * per_salt + share * crept)
    elif bypass.behind_resin:
        volume = (1.0 - bypass.share) * volume
        amounts = salt * ((1.0 - bypass.share) * (1.0 - share) * per_salt + share * crept)
    else:
        tap, tap_co2, by_tap = _by_tap(inputs, ledger, use, bypass.share)
        amounts = salt * ((1.0 - share - by_tap) * per_salt + share * crept + by_tap * tap)
        co2 = (1.0 - bypass.share) * co2 + bypass.share * tap_co2
    if use.gas_velocity is not None and inputs.tank is not None:
        air = np.asarray(co2_in_equilibrium(temperature))
        through = np.maximum(ledger.product.mean(axis=1, keepdims=True) / DAY, 1e-12)
        co2 = co2_behind_tank(co2, air, inputs.tank.volume / through, use.depth, use.gas_velocity[:, None])
    return Inflow(volume, amounts[:4], amounts[4:7], amounts[7] + volume * co2, amounts[8])


def _days_and_temperature(inputs: YearInputs, ledger: Ledger) -> tuple[NDArray[np.intp], Array]:
    """The ledger's days of the year from 0, and the water's temperature (members, days)."""
    days = (ledger.first_day + np.arange(ledger.product.shape[1])) % DAYS
    return days, np.broadcast_to(inputs.temperature_k[:, days], ledger.product.shape)


def _in_turn(inputs: YearInputs, days: NDArray[np.intp]) -> Iterator[tuple[NDArray[np.bool_], Response]]:
    """The responses and the days on which each holds."""
    starts = [start for start, _ in inputs.responses] + [DAYS]
    for (start, response), end in zip(inputs.responses, starts[1:], strict=True):
        yield (days >= start) & (days < end), response


def _blend_adds(inputs: YearInputs, ledger: Ledger) -> Array:
    """What the blend adds to the reading of what it is mixed into, S/m: (members, days); 0 without one."""
    days, temperature = _days_and_temperature(inputs, ledger)
    adds = np.zeros(ledger.product.shape)
    for here, response in _in_turn(inputs, days):
        if response.bypass is not None:
            adds[:, here] = response.along_temperature(response.bypass.adds, temperature[:, here])
    return np.asarray(adds * np.reshape(inputs.tap_factor, (-1, 1)))


def _behind_resin(inputs: YearInputs, ledger: Ledger) -> tuple[float, Array | float]:
    """What a blend behind the resin makes of a reading: the factor on it, and what is added [S/m]."""
    bypass = inputs.responses[0][1].bypass
    if bypass is None or not bypass.behind_resin:
        return 1.0, 0.0
    return 1.0 - bypass.share, _blend_adds(inputs, ledger)


def _by_tap(inputs: YearInputs, ledger: Ledger, use: ResinUse, share: float) -> tuple[Array, Array, Array]:
    """A blend before the resin: its ions, eq/m3 for each S/m it adds (9, members, days), the CO2 of the water it adds
    [mol/m3], and its share of the salt. On days without product that is as at full flow.
    """
    days, _ = _days_and_temperature(inputs, ledger)
    adds = _blend_adds(inputs, ledger)
    per_volume = np.zeros((SPECIES + 1, *ledger.product.shape))
    for here, response in _in_turn(inputs, days):
        fed = np.concatenate([species_of(response.feed_load), response.feed_load.co2[None]])
        per_volume[:, :, here] = fed[:, :, None]
    if use.tap is not None:
        per_volume *= use.tap.T[:, :, None]
    ions = per_volume[:SPECIES] * share / np.maximum(adds, 1e-30)
    at_full = np.divide(ledger.full_product, ledger.full_salt, out=np.zeros_like(adds), where=ledger.full_salt > 0.0)
    by_tap = np.divide(adds * ledger.product, ledger.salt, out=adds * at_full, where=ledger.salt > 0.0)
    return ions, per_volume[SPECIES], by_tap


def species_of(load: resin.Load) -> Array:
    """A load as one array, (9, lanes): cations, strong anions, alkalinity, silica [eq/m3]."""
    return np.concatenate([load.cations, load.anions, (load.carbonic - load.co2)[None], load.silica[None]])
