"""A booster pump, as its curve of added pressure against flow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rinsewright.plant.part import Fluid, Part
from rinsewright.quantities import Array


@dataclass(frozen=True, kw_only=True)
class Pump(Part):
    """Added pressure, linear between the points of the curve; beyond the ends the end slopes go on."""

    flows: tuple[float, ...]  # m3/s, rising
    pressures: tuple[float, ...]  # Pa added
    power_w: float | None = None
    cut_in_pa: float | None = None
    cut_out_pa: float | None = None
    min_inlet_pa: float | None = None

    def added(self, flow: Array) -> Array:
        """Pressure [Pa] added at a flow [m3/s]."""
        flows, pressures = np.array(self.flows), np.array(self.pressures)
        inside: Array = np.asarray(np.interp(flow, flows, pressures))
        if len(flows) == 1:
            return inside
        first = (pressures[1] - pressures[0]) / (flows[1] - flows[0])
        last = (pressures[-1] - pressures[-2]) / (flows[-1] - flows[-2])
        below, above = np.minimum(flow - flows[0], 0.0), np.maximum(flow - flows[-1], 0.0)
        return np.asarray(inside + below * first + above * last)

    @property
    def dead_head_pa(self) -> float:
        """Most pressure the pump can add, at no flow or at the top of its curve; a cut-out switch does not limit it."""
        return float(max(max(self.pressures), float(self.added(np.zeros(1))[0])))

    def drop(self, flow: Array, fluid: Fluid) -> Array:
        """Minus what the pump adds [Pa]."""
        return -self.added(flow)
