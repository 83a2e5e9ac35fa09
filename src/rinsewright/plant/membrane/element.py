"""A spiral-wound membrane element: its geometry, its two permeances, and where they come from."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rinsewright.plant.membrane.ageing import FLUX_LOSS_ALLOWED, SALT_PASSAGE_ALLOWED
from rinsewright.plant.part import Part
from rinsewright.quantities import T25, Array


@dataclass(frozen=True, kw_only=True)
class Rating:
    """A data sheet's test point: NaCl in water, product side open."""

    product: float  # m3/s
    rejection: float  # share of the feed's NaCl kept back, 0–1
    pressure_pa: float  # at the element's inlet
    nacl: float  # kg/m3
    temperature_k: float
    recovery: float  # product over feed, 0–1


@dataclass(frozen=True, kw_only=True)
class Element(Part):
    """One membrane element. Permeances are those at 25 °C."""

    area: float  # m2
    length: float  # m, of the leaves
    channel: float = 0.71e-3  # m, height of the feed channel
    porosity: float = 0.89
    water_permeance: float  # m/(s Pa)
    salt_permeance: float  # m/s, of NaCl
    water_activation: float = 2700.0  # K
    salt_activation: float = 3500.0  # K
    stage: int = 1
    max_pa: float | None = None
    max_k: float | None = None
    max_recovery: float | None = None
    tolerance: float = 0.15  # share by which elements differ in flow, makers' own statement
    change_at_flow_loss: float = FLUX_LOSS_ALLOWED.value  # share of the flow when new
    change_at_passage_times: float = SALT_PASSAGE_ALLOWED.value  # times the salt passage when new
    change_after_years: float | None = None
    installed: str | None = None
    nominal: str = ""

    @property
    def flow_area(self) -> float:
        """Open cross-section of the feed channel [m2]: leaf width area/(2·length) × height × porosity."""
        return self.area / (2.0 * self.length) * self.channel * self.porosity

    @property
    def hydraulic_diameter(self) -> float:
        """d_h = 4ε/(2/h + 8(1−ε)/h) [m], spacer of round filaments half the channel high."""
        return 4.0 * self.porosity / ((2.0 + 8.0 * (1.0 - self.porosity)) / self.channel)


def arrhenius(activation_k: float | Array, temperature_k: Array) -> Array:
    """Factor on a permeance against 25 °C: exp(E·(1/298.15 − 1/T)). 2700 K reproduces a published 5–34 °C table."""
    return np.exp(activation_k * (1.0 / T25 - 1.0 / np.asarray(temperature_k)))


def with_permeances(element: Element, water_permeance: float, salt_permeance: float) -> Element:
    """The same element with other permeances at 25 °C."""
    return replace(element, water_permeance=water_permeance, salt_permeance=salt_permeance)
