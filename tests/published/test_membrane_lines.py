"""The lines around the membranes: cartridge, orifice in the cold, automatic shut-off."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from rinsewright.plant.check import Check
from rinsewright.plant.feed.supply import Supply
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.membrane.restrictor import Restrictor
from rinsewright.plant.part import Fluid
from rinsewright.plant.product.line import Lift, ShutOff
from rinsewright.quantities import BAR, GRAVITY, LMH, LMH_PER_BAR, Array, kelvin
from rinsewright.solve.result import Batch, solve_batch
from rinsewright.water.properties import density, viscosity
from rinsewright.water.state import Water
from tests.published.agreement import absolute, agree, relative
from tests.published.membrane_cases import PSI, one

GALLON_MIN = 3.785411784e-3 / 60.0  # m3/s


def test_clean_cartridge_is_linear_in_flow() -> None:
    # A cartridge maker's page (read): 0.73 psi at 6.6 gallons a minute, "about 1 psi" at 8.8; linear: 0.973
    # (reproduced).
    filter_10_inch = Cartridge(media="sediment", clean_drop_pa=0.73 * PSI, at_flow=6.6 * GALLON_MIN)
    drop = filter_10_inch.drop(one(8.8 * GALLON_MIN), Fluid.at(kelvin(one(20.0)))) / PSI
    agree_cartridge = partial(
        agree,
        source="cartridge",
        quantity="clean loss",
        at="8.8 gallons a minute",
        unit="psi",
        ours=drop,
        model="clean cartridge",
    )
    agree_cartridge(published=0.973, tolerance=absolute(5e-4), standing="reproduced")
    agree_cartridge(published=1.0, tolerance=absolute(0.05), standing="read")


def test_clean_cartridge_follows_viscosity() -> None:
    # Clean dP = Q × viscosity × factor, laminar (a filter maker, read).
    part = Cartridge(media="carbon", clean_drop_pa=0.2 * BAR, at_flow=1e-4)
    cold, warm = (float(part.drop(one(1e-4), Fluid.at(kelvin(one(c))))[0]) for c in (5.0, 25.0))
    agree(
        source="cartridge",
        quantity="clean loss at 5 °C over 25 °C, as the viscosities",
        published=float(viscosity(kelvin(5.0)) / viscosity(kelvin(25.0))),
        ours=cold / warm,
        tolerance=relative(1e-12),
        standing="read",
        model="clean cartridge",
    )


PURE = {"Na": 1e-3, "Cl": 1e-3 * 35.453 / 22.98977}  # mg/L: no osmotic pressure worth the name


def wide_element(water_activation: float = 2700.0) -> Element:
    """So high a channel that no pressure is lost along it."""
    return Element(
        area=7.0,
        length=0.9,
        channel=20e-3,
        water_permeance=6.0 * LMH_PER_BAR,
        salt_permeance=0.4 * LMH,
        water_activation=water_activation,
    )


def at_held_pressure(exponent: float, celsius: Array) -> Array:
    """Recovery at 4 bar behind a restrictor that gives 50 % at 25 °C; 3020 K below 25 °C."""
    element = wide_element(3020.0)
    half = element.water_permeance * element.area * 4.0 * BAR
    drain = (Restrictor(flow=half, at_pa=4.0 * BAR, exponent=exponent),)
    held = Plant(Supply(4.0 * BAR, 0.0), stages=((element,),), drain=drain)
    water = Water.from_mg_l(PURE, 7.0, kelvin(celsius))
    state = solve_batch(held, water, np.full(celsius.size, 4.0 * BAR)).state
    assert state.solved.all()
    return np.asarray(state.product_flow / state.tap_flow)


@pytest.mark.parametrize("exponent", [0.0, 0.5, 1.0])
def test_recovery_falls_in_the_cold_at_held_pressure(exponent: float) -> None:
    # Reproduced: 50 % at 25 °C behind an orifice becomes 0.457, 0.413, 0.369, 0.325 at 20, 15, 10, 5 °C. At a
    # pressure that is held, a law without a temperature term gives the same whatever its exponent. Printed to three
    # digits.
    celsius = [25.0, 20.0, 15.0, 10.0, 5.0]
    found = at_held_pressure(exponent, np.array(celsius))
    agree(
        source="orifice-cold",
        quantity=f"recovery, exponent {exponent:g}",
        at=[f"{c:g} °C" for c in celsius],
        published=[0.500, 0.457, 0.413, 0.369, 0.325],
        ours=found,
        tolerance=absolute(1e-3),
        standing="reproduced",
        model="restrictor",
    )
    assert np.all(np.diff(found) < 0.0)


def test_shut_off_at_two_thirds() -> None:
    # Closes at about 2/3 of line pressure (trade article, read). Reproduced: line 4 bar → tank 2.67 bar, net
    # driving pressure 1.33 bar, a third of the line. Raised by a lift until the valve would not open again.
    element = wide_element()
    water = Water.from_mg_l(PURE, 7.0, kelvin(one(15.0)))
    metre = float(density(kelvin(15.0))) * GRAVITY

    def raised(bar: float) -> Batch:
        parts = (Check(), ShutOff(closes_at_ratio=2.0 / 3.0, key="plant.product[1]"), Lift(height=bar * BAR / metre))
        drain = (Restrictor(flow=2e-5, at_pa=4.0 * BAR),)
        unit = Plant(Supply(4.0 * BAR, 0.0), stages=((element,),), drain=drain, product=parts)
        return solve_batch(unit, water, one(4.0 * BAR))

    low, high = 2.0, 3.0
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if raised(middle).refusal(0) is None else (low, middle)
    closing = raised(low)
    tank = float(closing.state.product_pa[0]) / BAR
    agree_closing = partial(
        agree,
        source="shut-off",
        at="line 4 bar",
        unit="bar",
        tolerance=absolute(5e-3),
        standing="reproduced",
        model="shut-off",
    )
    agree_closing(quantity="tank at closing", published=2.67, ours=tank)
    agree_closing(
        quantity="net driving pressure at closing",
        published=1.33,
        ours=float(closing.state.membrane_pa[0]) / BAR - tank,
    )
    reason = raised(high).refusal(0)
    assert reason is not None
    assert reason.part == "plant.product[1]"
