"""What every part on a water line has in common: a place in the site file, a rating, a loss of pressure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rinsewright.plant.joints import End
from rinsewright.quantities import Array, kelvin
from rinsewright.water.properties import density, viscosity

VISCOSITY_20 = float(viscosity(kelvin(20.0)))  # Pa s, where losses of filters and resin beds are stated


@dataclass(frozen=True)
class Fluid:
    """Density [kg/m3] and dynamic viscosity [Pa s] of the water on a line, one value per condition."""

    density: Array
    viscosity: Array

    @classmethod
    def at(cls, temperature_k: Array) -> Fluid:
        """Pure-water properties at a temperature [K], 0–45 °C."""
        return cls(np.asarray(density(temperature_k)), np.asarray(viscosity(temperature_k)))


@dataclass(frozen=True, kw_only=True)
class Part:
    """A part on a line. Without a law of its own it loses no pressure."""

    key: str = ""  # its place in the site file, for messages
    name: str = ""  # what a person calls it
    rated_pa: float | None = None  # highest gauge pressure it may see
    price: float | None = None
    lead_days: float | None = None
    ends: tuple[End, ...] = ()  # in flow order, as given; of a membrane its housing's: feed, drain, product

    def drop(self, flow: Array, fluid: Fluid) -> Array:
        """Loss of pressure [Pa] at a flow [m3/s]; shape of ``flow``."""
        return np.zeros_like(flow)


@dataclass(frozen=True, kw_only=True)
class ViscousPart(Part):
    """Laminar loss, as of a filter or a resin bed: linear in flow and in viscosity (Darcy's law).

    ``clean_drop_pa`` is stated at ``at_flow`` and 20 °C; zero where nothing is stated.
    """

    clean_drop_pa: float = 0.0
    at_flow: float = 1.0

    def drop(self, flow: Array, fluid: Fluid) -> Array:
        """Loss [Pa] at a flow [m3/s], clean."""
        return self.clean_drop_pa * flow / self.at_flow * (fluid.viscosity / VISCOSITY_20)


@dataclass(frozen=True, kw_only=True)
class OrificePart(Part):
    """Square-root loss, as of a valve: drop grows with the square of the flow, whatever the temperature."""

    drop_pa: float = 0.0
    at_flow: float = 1.0

    def drop(self, flow: Array, fluid: Fluid) -> Array:
        """Loss [Pa] at a flow [m3/s]."""
        return self.drop_pa * flow * np.abs(flow) / self.at_flow**2
