"""Loss of pressure in a round tube with fittings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rinsewright.plant.part import Fluid, Part
from rinsewright.quantities import Array

LAMINAR_UP_TO = 2000.0  # Reynolds number
TURBULENT_FROM = 4000.0


def colebrook(reynolds: Array, relative_roughness: float | Array) -> Array:
    """Darcy friction factor of turbulent flow (Colebrook 1939), within 0.02 % of the exact root.

    Haaland's explicit form is the start, three fixed-point steps the answer. Valid for Re > 2000.
    """
    x = -1.8 * np.log10((relative_roughness / 3.7) ** 1.11 + 6.9 / reynolds)
    for _ in range(3):
        x = -2.0 * np.log10(relative_roughness / 3.7 + 2.51 * x / reynolds)
    return 1.0 / (x * x)


def friction_factor(reynolds: Array, relative_roughness: float | Array) -> Array:
    """Darcy friction factor over all regimes, smooth in between.

    64/Re below Re 2000, Colebrook above 4000; between them a smooth blend of our own, because a real tube is
    undecided there and a jump would make the solver cycle.
    """
    laminar = 64.0 / np.maximum(reynolds, 1e-6)
    turbulent = colebrook(np.maximum(reynolds, LAMINAR_UP_TO), relative_roughness)
    t = np.clip((reynolds - LAMINAR_UP_TO) / (TURBULENT_FROM - LAMINAR_UP_TO), 0.0, 1.0)
    share = t * t * (3.0 - 2.0 * t)
    return (1.0 - share) * laminar + share * turbulent


@dataclass(frozen=True, kw_only=True)
class Tube(Part):
    """A tube: Darcy–Weisbach with Colebrook, and the loss coefficients of its fittings on the same velocity."""

    bore: float  # m
    length: float  # m
    fittings_k: float = 0.0
    roughness: float = 1.5e-6  # m, drawn plastic
    outside: str | None = None  # its diameter as spoken, "12 mm"
    hose: bool = False  # goes over tails, called by its bore

    def drop(self, flow: Array, fluid: Fluid) -> Array:
        """Loss [Pa] at a flow [m3/s], either way."""
        velocity = flow / (np.pi / 4.0 * self.bore**2)
        reynolds = fluid.density * np.abs(velocity) * self.bore / fluid.viscosity
        coefficient = friction_factor(reynolds, self.roughness / self.bore) * (self.length / self.bore)
        return (coefficient + self.fittings_k) * fluid.density * velocity * np.abs(velocity) / 2.0
