"""The tap: pressure falls with the square of the flow drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rinsewright.quantities import Array


@dataclass(frozen=True)
class Supply:
    """P = standing − R·Q² (gauge, at the tap)."""

    standing_pa: float
    resistance: float  # Pa s2/m6
    kind: str = "mains"  # or "break-tank", "well"
    standing_estimated: bool = False
    tank_volume: float | None = None  # m3, of a break tank
    refill_flow: float | None = None  # m3/s, into the break tank

    def pressure(self, flow: Array, standing_pa: Array | float | None = None) -> Array:
        """Gauge pressure [Pa] at a flow [m3/s]; ``standing_pa`` overrides the standing pressure and keeps R."""
        standing = self.standing_pa if standing_pa is None else standing_pa
        return standing - self.resistance * flow * np.abs(flow)


def fit_supply(
    standing_pa: float | None, tests: Sequence[tuple[float, float]], kind: str = "mains", fallback_ratio: float = 1.25
) -> Supply:
    """Supply curve by least squares through running tests of (flow [m3/s], pressure [Pa]).

    With a standing pressure only R is fitted; without one both are, from two tests or more. A single test without a
    standing pressure leaves R unknown: standing is then taken as ``fallback_ratio`` times the running pressure (an
    assumption, marked as estimated).
    """
    estimated = standing_pa is None
    if standing_pa is None:
        if len({flow for flow, _ in tests}) >= 2:
            squares = np.array([flow**2 for flow, _ in tests])
            slope, standing_pa = np.polyfit(squares, [pressure for _, pressure in tests], 1)
            return Supply(float(standing_pa), max(0.0, -float(slope)), kind, estimated)
        standing_pa = fallback_ratio * tests[0][1]
    below = sum((standing_pa - pressure) * flow**2 for flow, pressure in tests)
    weight = sum(flow**4 for flow, _ in tests)
    return Supply(float(standing_pa), max(0.0, below / weight) if weight else 0.0, kind, estimated)
