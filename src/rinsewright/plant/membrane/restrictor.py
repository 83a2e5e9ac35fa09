"""The drain restrictor: what holds the pressure on the membranes and sets the waste."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rinsewright.plant.part import Fluid, Part
from rinsewright.quantities import Array

RUBBER_NEEDS = 0.02  # share of its stated pressure below which a flow-control rubber no longer holds the flow (assumed)


@dataclass(frozen=True, kw_only=True)
class Restrictor(Part):
    """Q = flow·(ΔP/at)^exponent: 0.5 an orifice, 1 a laminar capillary, 0 a flow-control rubber. No temperature term.

    A measured partly open valve gave exponents of 0.44 to 0.51 over 8 to 69 bar (open raw data, one 2.5 in element).
    """

    flow: float  # m3/s
    at_pa: float
    exponent: float = 0.5

    def flow_at(self, difference_pa: Array) -> Array:
        """Flow [m3/s] at a pressure difference [Pa]; backwards below zero, so that a solver finds a slope."""
        ratio = difference_pa / self.at_pa
        if self.exponent == 0.0:
            return self.flow * np.minimum(ratio / RUBBER_NEEDS, 1.0)
        return self.flow * np.sign(ratio) * np.abs(ratio) ** self.exponent

    def drop(self, flow: Array, fluid: Fluid) -> Array:
        """Pressure difference [Pa] that passes a flow; a flow-control rubber takes whatever is left (zero here)."""
        if self.exponent == 0.0:
            return np.zeros_like(flow)
        ratio = flow / self.flow
        return self.at_pa * np.sign(ratio) * np.abs(ratio) ** (1.0 / self.exponent)


@dataclass(frozen=True, kw_only=True)
class Flush(Part):
    """A flush at stop: so many litres of feed rinse the drain end whenever the unit stops."""

    volume: float = 0.0  # m3 a stop
