"""Small cells and elements that the published membrane examples are played on. Single conditions, SI."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from rinsewright.plant.membrane.channel import Channel, Outlet, Salt, Spread, channel, march
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.membrane.rating import nacl_solutes, osmotic_law
from rinsewright.plant.part import Fluid
from rinsewright.quantities import LMH, LMH_PER_BAR, Array, kelvin

PSI = 6894.757293168  # Pa
ATM = 101325.0  # Pa
GPD = 3.785411784e-3 / 86400.0  # m3/s, US gallons a day
UNLIMITED = 1e6  # m/s, a film that resists nothing
STILL = 1e-3  # m2 of cell under a flow so great that the cell changes nothing along its way


def one(value: float) -> Array:
    """A batch of one."""
    return np.array([float(value)])


def cell(water: float, salt: float, film: float = UNLIMITED, osmotic: float = 0.0, area: float = STILL) -> Channel:
    """A test cell with its coefficients given outright: no pressure loss, one film coefficient all along."""
    return Channel(
        area=one(area),
        water=one(water),
        salt=one(salt),
        nacl=one(salt),
        osmotic=one(osmotic),
        curvature=one(0.0),
        mass_turbulent=one(0.0),
        mass_laminar=one(film),
        friction=one(0.0),
    )


def run(ch: Channel, flow: float, pressure: float, steps: int = 12) -> Outlet:
    """March one channel with feed of relative strength 1 and an open product side."""
    return march(ch, one(flow), one(flow), one(pressure), one(0.0), steps)


def in_cell(ch: Channel, pressure: float) -> tuple[float, float]:
    """Flux [m/s] and product concentration (feed 1) where the feed hardly changes on its way."""
    out = run(ch, 1.0, pressure, steps=1)
    return float(out.product[0] / ch.area[0]), float(out.product_salt[0] / out.product[0])


def short_viscosity(temperature_k: Array) -> Array:
    """Viscosity of water [Pa s] by the short formula that some of the vectors were made with."""
    return np.asarray(2.414e-5 * 10.0 ** (247.8 / (temperature_k - 140.0)))


def d4516_osmotic(mg_l: float, temperature_k: float) -> float:
    """Osmotic pressure of NaCl [Pa], 0.2654 C T/(1000 − C/1000) kPa. ASTM D4516, from memory."""
    return 1e3 * 0.2654 * mg_l * temperature_k / (1e3 - mg_l / 1e3)


def promoter_only(element: Element, celsius: float, salt: Salt, fluid: Fluid | None = None) -> Channel:
    """An element whose film is the turbulent-promoter correlation alone, as in the older vectors."""
    temperature = kelvin(one(celsius))
    ch = channel(element, temperature, fluid or Fluid.at(temperature), salt)
    return replace(ch, mass_laminar=one(0.0))


def on_nacl(element: Element, nacl: float, celsius: float, film: float = 1.0) -> Channel:
    """An element on NaCl [kg/m3], everything as the program has it; ``film`` multiplies k."""
    temperature = kelvin(one(celsius))
    salt = Salt(*osmotic_law(nacl_solutes(one(nacl)), temperature), one(1.0))
    return channel(element, temperature, Fluid.at(temperature), salt, Spread(film=film))


VECTOR = Element(
    area=7.6,
    length=0.95,
    water_permeance=8.0 * LMH_PER_BAR,
    salt_permeance=0.35 * LMH,
    water_activation=2700.0,
    salt_activation=2700.0,
)
