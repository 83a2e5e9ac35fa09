"""How long filters and membranes last at this site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from rinsewright.plant.feed import cartridge as filters
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane import ageing
from rinsewright.quantities import LITRE
from rinsewright.site.build import WaterInput

CARBON_IN_CARTRIDGE = 0.6 * LITRE  # m3 of carbon in a 10 in cartridge (assumed)
CARBON_DENSITY = 450.0  # kg/m3 of granular carbon (from memory)
BEHIND_SEDIMENT = 3.0  # a carbon cartridge behind a sediment one sees a third of the dirt (assumed)
# Loss of flow a year, loss allowed, growth of salt passage a year: the ends of their stated ranges.
SLOW_AGEING = (0.03, ageing.FLUX_LOSS_ALLOWED.value, 0.05)
FAST_AGEING = (0.10, ageing.FLUX_LOSS_ALLOWED.value, 0.15)
DIRT_SPREAD = 3.0  # dirt on mains water: threefold either way (assumed)


@dataclass(frozen=True)
class CartridgeOutlook:
    """When one cartridge is changed."""

    part: Cartridge
    days: float | None
    low: float | None
    high: float | None
    limited_by: str | None
    volume: float  # m3 of water after which it is due

    def answer(self) -> dict[str, Any]:
        """The contract's keys, with the band beside them."""
        return {
            "media": self.part.media,
            "days": self.days,
            "limited_by": self.limited_by,
            "days_low": self.low,
            "days_high": self.high,
        }


def cartridge_outlook(
    part: Cartridge, water: WaterInput, feed_m3_per_day: float, flow: float, coldest_k: float, second: bool = False
) -> CartridgeOutlook:
    """Life of a cartridge that filters so much a day, judged by its loss at the coldest water.

    ``second``: it stands behind another one, which takes most of the dirt.
    """
    chlorine, rules, to_double = chlorine_of(part, water), rules_of(part), dirt_to_double(part, second)

    def life(dirt: float) -> filters.CartridgeLife:
        law = None
        if part.clean_drop_pa > 0.0:
            law = filters.CartridgeLaw(part.clean_drop_pa, part.at_flow, dirt)
        return filters.life(law, rules, feed_m3_per_day, flow, coldest_k, chlorine)

    usual, dirty, clean = (life(to_double * factor) for factor in (1.0, 1.0 / DIRT_SPREAD, DIRT_SPREAD))
    days = [float(one.days[0]) for one in (usual, dirty, clean)]
    known = [value if np.isfinite(value) else None for value in days]
    return CartridgeOutlook(part, known[0], known[1], known[2], usual.limited_by[0] or None, float(usual.volume_m3[0]))


def rules_of(part: Cartridge) -> filters.ChangeRules:
    """When a cartridge is changed: as stated, else as is usual."""
    capacity = part.chlorine_capacity_kg
    if part.media == "carbon" and capacity is None:
        capacity = filters.CHLORINE_CAPACITY.value * CARBON_IN_CARTRIDGE * CARBON_DENSITY
    return filters.ChangeRules(
        after_m3=part.change_after_m3,
        at_rise_pa=part.change_at_drop_pa or filters.CHANGE_AT_RISE.value,
        after_s=(part.change_after_months or filters.CHANGE_AFTER_MONTHS.value) * filters.MONTH,
        chlorine_kg=capacity,
    )


def dirt_to_double(part: Cartridge, second: bool) -> float:
    """Water [m3] that doubles a cartridge's loss; one behind another sees less dirt."""
    return part.dirt_m3_to_double or filters.DIRT_M3_TO_DOUBLE.value * (BEHIND_SEDIMENT if second else 1.0)


def chlorine_of(part: Cartridge, water: WaterInput) -> float:
    """Chlorine [kg/m3] that a cartridge takes up from each cubic metre: carbon alone does."""
    return (water.total_chlorine or 0.0) if part.media == "carbon" else 0.0


def chlorine_at_membranes(plant: Plant, water: WaterInput, flow: float) -> tuple[float, float]:
    """Free and bound chlorine [kg/m3] behind the carbon, at a feed of ``flow`` [m3/s]."""
    free, total = water.free_chlorine or 0.0, water.total_chlorine or 0.0
    carbons = sum(1 for part in plant.feed if isinstance(part, Cartridge) and part.media == "carbon")
    if not (carbons and total > 0.0 and flow > 0.0):
        return free, max(total - free, 0.0)
    left = filters.chlorine_left(free, total, carbons * CARBON_IN_CARTRIDGE, flow)
    return float(left[0]), float(left[1])


def membrane_outlook(plant: Plant, water: WaterInput, flow: float, running_s_per_year: float) -> dict[str, Any] | None:
    """Years of the membranes and what ends them; ``flow`` [m3/s] through the carbon while running."""
    if not plant.stages:
        return None
    free, bound = chlorine_at_membranes(plant, water, flow)
    life = ageing.membrane_life(free, running_s_per_year)
    slow, fast = (ageing.membrane_life(free, running_s_per_year, *rates) for rates in (SLOW_AGEING, FAST_AGEING))
    return {
        "years": float(life.years[0]),
        "limited_by": life.limited_by[0],
        "chlorine_mg_h_l_per_year": float(life.chlorine_mg_h_l_per_year[0]),
        "chloramine_mg_h_l_per_year": bound * running_s_per_year / ageing.MG_H_L,
        "years_low": float(fast.low[0]),
        "years_high": float(slow.high[0]),
    }
