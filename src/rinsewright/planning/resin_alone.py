"""The same year's water with resin and no membranes: what it would take, what it would cost, and until when."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from rinsewright.costs.prices import break_even_days
from rinsewright.planning.ensemble import bed_of, outlook_of
from rinsewright.plant.layout import Plant
from rinsewright.plant.part import Part
from rinsewright.plant.product.line import Blend, ShutOff
from rinsewright.quantities import LITRE
from rinsewright.site.build import DemandInput
from rinsewright.site.schema import Prices
from rinsewright.water.state import Water

ONLY_WITH_MEMBRANES = (ShutOff, Blend)


@dataclass(frozen=True)
class ResinAlone:
    """Resin and no membranes, at the same prices, beside the plant as planned.

    Costs are of running, without capital, of what has a price; None: resin, or everything, has none.
    ``break_even_days``: days after which the membranes and what belongs to them have paid for themselves; None where
    the elements have no price or they never do.
    """

    cost_per_year: float | None
    plant_cost_per_year: float | None
    resin_litres_per_year: float
    changes_per_year: float
    break_even_days: float | None
    currency: str

    def answer(self) -> dict[str, Any]:
        """The object as it stands in the plan's answer."""
        return asdict(self)


def resin_alone(
    plant: Plant,
    tap: Water,
    demand: DemandInput,
    prices: Prices,
    delivered_m3: float,
    plant_cost: float | None,
    currency: str,
) -> ResinAlone | None:
    """The plant's resin on ``tap`` (1,), for the water ``delivered_m3`` in a year.

    None where there are no membranes to do without, or no resin. Resin alone costs its water, its resin and a visit at
    each change.
    """
    vessel = plant.resin
    if not plant.stages or vessel is None:
        return None
    bed = bed_of(vessel, 1, np.random.default_rng(0))
    outlook = outlook_of(bed, tap, np.asarray(tap.co2), np.ones(1, dtype=bool), demand.limit_ppm, demand.meter_factor)
    changes = delivered_m3 / outlook.to_limit.value if outlook.to_limit.value else 0.0
    litres = changes * vessel.volume / LITRE
    cost = None
    if prices.resin_per_l is not None:
        visit = (prices.labour_per_hour or 0.0) * (prices.visit_hours or 0.0)
        cost = delivered_m3 * (prices.water_per_m3 or 0.0) + litres * prices.resin_per_l + changes * visit
    return ResinAlone(
        cost_per_year=cost,
        plant_cost_per_year=plant_cost,
        resin_litres_per_year=litres,
        changes_per_year=changes,
        break_even_days=_break_even(membranes_price(plant, prices.membrane), cost, plant_cost),
        currency=currency,
    )


def membranes_price(plant: Plant, membrane: float | None) -> float | None:
    """Price of all that a plant of resin alone would not have: feed line, elements, drain line, shut-off and blend.

    Parts without a price are not counted, elements at the price of a new ``membrane``; None if that too is not given.
    """
    each = [element.price if element.price is not None else membrane for element in plant.elements]
    if not each or None in each:
        return None
    others: list[Part] = [*plant.feed, *plant.drain, *(p for p in plant.product if isinstance(p, ONLY_WITH_MEMBRANES))]
    return sum(price for price in each if price is not None) + sum(part.price or 0.0 for part in others)


def _break_even(capital: float | None, alone: float | None, plant: float | None) -> float | None:
    if capital is None or alone is None or plant is None:
        return None
    return break_even_days(capital, alone - plant)
