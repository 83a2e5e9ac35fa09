"""Waters and plants for the checks of the solver: round, made-up values, in SI."""

from __future__ import annotations

from typing import Any

import numpy as np

from rinsewright.plant.check import Check
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.supply import Supply
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.membrane.restrictor import Restrictor
from rinsewright.plant.product.line import Lift, Tank
from rinsewright.plant.tube import Tube
from rinsewright.quantities import BAR, L_MIN, LITRE, LMH, LMH_PER_BAR, MG_L, MM, Array, kelvin
from rinsewright.solve.result import Batch, solve_batch
from rinsewright.water.ions import CHARGE, INDEX, MOLAR_MASS, SOLUTES
from rinsewright.water.state import Water

CHALK = {
    "Ca": 104.0, "Mg": 5.0, "Na": 12.0, "K": 2.0, "HCO3": 285.0, "SO4": 30.0, "NO3": 25.0, "F": 0.2,
    "SiO2": 12.0, "B": 0.03,
}  # fmt: skip
SOFT = {"Ca": 12.0, "Mg": 1.5, "Na": 8.0, "K": 0.8, "HCO3": 30.0, "SO4": 12.0, "NO3": 2.0, "SiO2": 4.0}
BRACKISH = {"Ca": 120.0, "Mg": 40.0, "Na": 600.0, "K": 15.0, "HCO3": 250.0, "SO4": 200.0, "SiO2": 15.0, "B": 0.3}
NACL = {"Na": 500.0 * 22.98977 / (22.98977 + 35.453)}

HOSE = Tube(bore=9 * MM, length=6.0, fittings_k=3.0, key="plant.feed[0]", name="hose")
WIDE_HOSE = Tube(bore=15 * MM, length=20.0, fittings_k=4.0)
SEDIMENT = Cartridge(media="sediment", clean_drop_pa=0.12 * BAR, at_flow=8.0 * L_MIN)
PUMP = Pump(
    flows=(0.0, 8.0 * L_MIN, 16.0 * L_MIN),
    pressures=(5.0 * BAR, 4.0 * BAR, 2.0 * BAR),
    key="plant.feed[2]",
    name="booster",
)
TANK = Tank(volume=650 * LITRE, float_open_flow=12.0 * L_MIN, key="plant.product[2]")
PRODUCT = (Check(), Lift(height=1.5, key="plant.product[1]", name="lift"), TANK)


def element(**change: Any) -> Element:
    """A four-inch element, 40 inches long."""
    values: dict[str, Any] = {
        "area": 7.2,
        "length": 0.92,
        "water_permeance": 6.7 * LMH_PER_BAR,
        "salt_permeance": 0.45 * LMH,
        "key": "plant.membranes[0]",
    }
    return Element(**values | change)


def small(**change: Any) -> Element:
    """A two-and-a-half-inch element, 40 inches long."""
    values: dict[str, Any] = {
        "area": 2.6,
        "channel": 0.79 * MM,
        "porosity": 0.88,
        "water_permeance": 5.5 * LMH_PER_BAR,
        "salt_permeance": 0.6 * LMH,
        "water_activation": 2900.0,
        "salt_activation": 3200.0,
    }
    return element(**values | change)


def restrictor(flow_l_min: float, at_bar: float = 4.0, exponent: float = 0.5) -> Restrictor:
    return Restrictor(flow=flow_l_min * L_MIN, at_pa=at_bar * BAR, exponent=exponent, key="plant.drain[0]")


def tap(standing_bar: float = 4.2, flow_l_min: float = 12.0, loss_bar: float = 0.8) -> Supply:
    """A tap that loses so much pressure at such a flow."""
    return Supply(standing_bar * BAR, loss_bar * BAR / (flow_l_min * L_MIN) ** 2)


def plant(*stages: tuple[Element, ...], **change: Any) -> Plant:
    """A plant on a usual tap; one element unless stages are given."""
    values: dict[str, Any] = {
        "supply": tap(),
        "feed": (HOSE, SEDIMENT),
        "stages": stages or ((element(),),),
        "drain": (restrictor(1.5),),
        "product": PRODUCT,
    }
    return Plant(**values | change)


def water(ions_mg_l: dict[str, float], celsius: Array | float = 12.0, ph: float = 7.4) -> Water:
    """A batch of one water at some temperatures: closed on chloride at the first, then warmed in a closed vessel."""
    temperatures = np.atleast_1d(np.asarray(kelvin(celsius)))
    solutes = np.zeros((temperatures.size, len(SOLUTES)))
    for name, value in ions_mg_l.items():
        solutes[:, INDEX[name]] = value * MG_L / MOLAR_MASS[INDEX[name]]
    solutes[:, INDEX["Cl"]] += solutes @ CHARGE
    at_12 = Water.from_ph(solutes, ph, np.full(temperatures.size, kelvin(12.0)))
    return at_12.with_temperature(temperatures)


def solve(a_plant: Plant, tap_water: Water | None = None, bar: Array | float | None = None, **more: Any) -> Batch:
    """Solve a plant for a batch; at its own standing pressure unless pressures [bar] are given."""
    tap_water = water(CHALK) if tap_water is None else tap_water
    standing = a_plant.supply.standing_pa / BAR if bar is None else bar
    return solve_batch(a_plant, tap_water, standing * BAR * np.ones(tap_water.lanes), **more)


PLANTS: dict[str, Plant] = {
    "one element": plant(),
    "flow-control rubber": plant(drain=(restrictor(1.5, exponent=0.0),)),
    "capillary": plant(drain=(restrictor(1.5, exponent=1.0),)),
    "drain tube alone": plant(drain=(Tube(bore=2 * MM, length=3.0, fittings_k=2.0),)),
    "two alike side by side": plant((element(), element()), feed=(WIDE_HOSE, SEDIMENT), drain=(restrictor(2.5),)),
    "two unlike side by side": plant((element(), small()), feed=(WIDE_HOSE,), drain=(restrictor(2.5),)),
    "three unlike side by side": plant(
        (small(), element(), element(length=0.46, area=3.2)), supply=tap(6.5, 20.0, 1.0), feed=(WIDE_HOSE,),
        drain=(restrictor(3.0),),
    ),
    "two in a row": plant((small(),), (small(),), drain=(restrictor(1.2),)),
    "four in a row": plant(*((small(),),) * 4, supply=tap(6.5, 20.0, 1.0), drain=(restrictor(3.0),)),
    "two and one": plant(
        (element(), element()), (small(),), supply=tap(6.5, 20.0, 1.0), feed=(WIDE_HOSE,), drain=(restrictor(3.0),)
    ),
    "pumped": plant(feed=(WIDE_HOSE, SEDIMENT, PUMP), drain=(restrictor(3.0, 6.0),)),
    "pumped, returning drain water": plant(
        feed=(WIDE_HOSE, SEDIMENT, PUMP), drain=(restrictor(1.5, 6.0),), recirculation=2.0 * L_MIN
    ),
    "pumped, stages, returning drain water": plant(
        (small(), small()), (small(),), feed=(WIDE_HOSE, PUMP), drain=(restrictor(1.0, 6.0),), recirculation=1.5 * L_MIN
    ),
}  # fmt: skip
