"""Parts of the product line, from the membranes to the tank or the pole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rinsewright.plant.part import Fluid, Part, ViscousPart
from rinsewright.quantities import BAR, GRAVITY, Array


@dataclass(frozen=True, kw_only=True)
class ShutOff(Part):
    """Automatic shut-off: closes the feed when product pressure reaches a share of the feed pressure at its inlet.

    Closing at about two thirds, opening again a little lower (two trade articles; neither is a standard).
    """

    closes_at_ratio: float = 0.66
    reopens_at_ratio: float = 0.45


@dataclass(frozen=True, kw_only=True)
class Lift(Part):
    """Height that the product is pushed up: costs its static head, at any flow."""

    height: float  # m, negative downhill

    def drop(self, flow: Array, fluid: Fluid) -> Array:
        """Static head ρ g h [Pa]."""
        return fluid.density * GRAVITY * self.height + np.zeros_like(flow)


@dataclass(frozen=True, kw_only=True)
class ResinVessel(ViscousPart):
    """A vessel of mixed-bed resin on the product line. Its exchange is in :mod:`rinsewright.plant.product.resin`."""

    volume: float  # m3 of resin in each vessel
    vessels: int = 1
    cation_eq_per_l: float | None = None
    anion_eq_per_l: float | None = None
    usable_share: float = 0.6
    change_on: tuple[int, ...] = ()  # days of the year, 1–365
    change_after_months: float | None = None


@dataclass(frozen=True, kw_only=True)
class Tank(Part):
    """A tank behind a float valve: full open below the band, shut at the top; an orifice when full open."""

    volume: float  # m3
    height: float | None = None  # m
    float_band: float | None = None  # m
    float_open_flow: float | None = None  # m3/s at 1 bar, full open; without one the inlet loses nothing
    float_valve: bool = True  # without one nothing shuts the inlet: the tank overflows
    vented: bool = True
    usable_volume: float | None = None
    start_full: float = 1.0
    inlet: str = "top"

    def drop(self, flow: Array, fluid: Fluid) -> Array:
        """Loss of the full-open float valve [Pa]."""
        if self.float_open_flow is None:
            return np.zeros_like(flow)
        return BAR * flow * np.abs(flow) / self.float_open_flow**2


@dataclass(frozen=True, kw_only=True)
class DeliveryPump(Part):
    """The pump between tank and brush; it does not load the membranes."""

    flow: float | None = None
    power_w: float | None = None


@dataclass(frozen=True, kw_only=True)
class Blend(Part):
    """A bypass that adds feed water to the product: ``share`` of what is delivered."""

    share: float
