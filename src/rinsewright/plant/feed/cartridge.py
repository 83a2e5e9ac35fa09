"""How a filter cartridge loads, when it is changed, and how much chlorine a carbon one lets through.

The clean loss of pressure is the part's own (:class:`rinsewright.plant.part.ViscousPart`). Dirt raises it with the
water filtered; nobody publishes a law for mains water, so the usual reading of "faster than linear" is taken: it
doubles with every further ``dirt_m3_to_double``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rinsewright.plant.part import VISCOSITY_20
from rinsewright.quantities import BAR, DAY, Array
from rinsewright.sources import Sourced
from rinsewright.water.properties import viscosity

CHANGE_AFTER_MONTHS = Sourced(
    6.0, "months", "3 to 6", "cartridges on mains water", "the trade's habit", "common practice"
)
CHANGE_AT_RISE = Sourced(
    0.6 * BAR, "Pa", "0.5 to 0.7 bar", "rise over the clean cartridge at like flow and temperature",
    "the trade's habit", "common practice",
)  # fmt: skip
DIRT_M3_TO_DOUBLE = Sourced(
    40.0, "m3 of water for each doubling of the loss", "threefold either way", "10 inch, mains water",
    "assumed; the shape is read (filter literature, qualitative), the number is not", "assumed",
)  # fmt: skip
FREE_CHLORINE_RATE = Sourced(
    0.3, "1/s of empty-bed contact", "twofold", "fresh granular carbon",
    "assumed so that 90 % goes in about 8 s; first order is read (Meng et al., Water Pract. Technol. 13, 19, 2018)",
    "assumed",
)  # fmt: skip
CHLORAMINE_RATE = Sourced(
    0.02,
    "1/s of empty-bed contact",
    "threefold",
    "fresh plain carbon",
    "assumed, an order below free chlorine",
    "assumed",
)
CHLORINE_CAPACITY = Sourced(
    0.5, "kg of chlorine for each kg of carbon", "twofold", "free chlorine",
    "assumed, a quarter of the 2 g/g up to which no side products were found (Snoeyink et al., Environ. Sci. Technol. "
    "15, 188, 1981, abstract)", "assumed",
)  # fmt: skip
MONTH = 365.0 / 12.0 * DAY  # s

LIMITED_BY = ("volume", "drop", "months", "chlorine")


@dataclass(frozen=True)
class CartridgeLaw:
    """Loss of pressure of one cartridge, clean and dirty: ``clean_drop_pa`` at ``at_flow`` [m3/s] and 20 °C."""

    clean_drop_pa: float
    at_flow: float
    dirt_m3_to_double: Array | float = DIRT_M3_TO_DOUBLE.value  # plain, or per lane

    def drop(self, flow: Array | float, temperature_k: Array | float, filtered_m3: Array | float = 0.0) -> Array:
        """Loss [Pa] at a flow [m3/s], temperature [K] and volume filtered [m3]; shapes broadcast.

        Linear in flow and viscosity (Darcy's law; a filter maker's table and law, read), doubling with the volume.
        """
        return np.asarray(self.clean_drop(flow, temperature_k) * self.dirt_factor(filtered_m3))

    def clean_drop(self, flow: Array | float, temperature_k: Array | float) -> Array:
        """Loss when new [Pa]."""
        unit = viscosity(temperature_k) / VISCOSITY_20 / self.at_flow
        return np.asarray(self.clean_drop_pa * np.asarray(flow) * unit)

    def dirt_factor(self, filtered_m3: Array | float) -> Array:
        """Loss over the clean one after so much water."""
        return np.asarray(2.0 ** (np.asarray(filtered_m3) / self.dirt_m3_to_double))

    def volume_at_rise(self, flow: Array | float, temperature_k: Array | float, rise_pa: Array | float) -> Array:
        """Volume [m3] after which the loss has risen by ``rise_pa`` over the clean one."""
        return self.volume_at_rise_over(self.clean_drop(flow, temperature_k), rise_pa)

    def volume_at_rise_over(self, clean_pa: Array, rise_pa: Array | float) -> Array:
        """The same where the clean loss is known."""
        with np.errstate(divide="ignore"):
            return np.asarray(self.dirt_m3_to_double * np.log2(1.0 + np.asarray(rise_pa) / clean_pa))


@dataclass(frozen=True)
class ChangeRules:
    """When a cartridge is changed; ``None`` leaves a rule out. SI: m3, Pa (rise over clean), s, kg of chlorine."""

    after_m3: float | None = None
    at_rise_pa: float | None = CHANGE_AT_RISE.value
    after_s: float | None = CHANGE_AFTER_MONTHS.value * MONTH
    chlorine_kg: float | None = None


@dataclass(frozen=True)
class CartridgeLife:
    """Arrays over lanes: days until the change and what calls for it; the volume that the cartridge could filter."""

    days: Array
    limited_by: tuple[str, ...]
    volume_m3: Array  # at which volume, drop or chlorine would call for a change, whatever the calendar says
    calendar_days: float  # inf without that rule


def life(
    law: CartridgeLaw | None,
    rules: ChangeRules,
    feed_m3_per_day: Array | float,
    flow: Array | float,
    temperature_k: Array | float,
    chlorine: Array | float = 0.0,
) -> CartridgeLife:
    """Days until the first of the rules calls for a change.

    ``feed_m3_per_day``, ``flow`` [m3/s] while running, ``temperature_k`` and ``chlorine`` [kg/m3, total] per lane.
    Use the coldest water's viscosity to be safe: it shows the greatest loss. Without a law the pressure rule is left
    out.
    """
    feed, flow, temperature, chlorine = np.broadcast_arrays(
        np.atleast_1d(np.asarray(feed_m3_per_day, dtype=np.float64)), flow, temperature_k, chlorine
    )
    never = np.full(feed.shape, np.inf)
    volume = never if rules.after_m3 is None else np.full(feed.shape, rules.after_m3)
    by_drop = never
    if law is not None and rules.at_rise_pa is not None:
        by_drop = law.volume_at_rise(flow, temperature, rules.at_rise_pa)
    by_chlorine = never
    if rules.chlorine_kg is not None:
        by_chlorine = np.divide(rules.chlorine_kg, chlorine, out=never.copy(), where=chlorine > 0.0)
    calendar = np.inf if rules.after_s is None else rules.after_s / DAY
    per_day = [np.divide(m3, feed, out=never.copy(), where=feed > 0.0) for m3 in (volume, by_drop, by_chlorine)]
    days = np.stack([per_day[0], per_day[1], np.full(feed.shape, calendar), per_day[2]])
    first = days.argmin(axis=0)
    names = tuple(LIMITED_BY[i] if np.isfinite(days[i, lane]) else "" for lane, i in enumerate(first))
    return CartridgeLife(days.min(axis=0), names, np.minimum(np.minimum(volume, by_drop), by_chlorine), calendar)


def chlorine_left(
    free: Array | float, total: Array | float, carbon_m3: Array | float, flow: Array | float
) -> tuple[Array, Array]:
    """Free and combined chlorine [kg/m3] behind fresh carbon, from free and total chlorine before it.

    First order in the empty-bed contact time ``carbon_m3``/``flow``; combined chlorine (chloramine) reacts much more
    slowly.
    """
    contact = np.asarray(carbon_m3) / np.asarray(flow)
    combined = np.maximum(np.asarray(total) - np.asarray(free), 0.0)
    return (
        np.asarray(np.asarray(free) * np.exp(-FREE_CHLORINE_RATE.value * contact)),
        np.asarray(combined * np.exp(-CHLORAMINE_RATE.value * contact)),
    )
