"""What a handheld meter shows: not the water's conductivity but its own idea of it.

It measures at the water's temperature, applies its own compensation to 25 °C, multiplies by its own ppm factor and
rounds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from rinsewright.quantities import T25, US_CM, ZERO_C, Array
from rinsewright.water.state import Water

# ISO 7888:1985 (EN 27888), f25 for 0, 1, … 35 °C, as reprinted in a bench meter's manual (read)
_F25: Final = (
    *(1.918, 1.857, 1.800, 1.745, 1.693, 1.643, 1.596, 1.551, 1.508, 1.467, 1.428, 1.390),
    *(1.354, 1.320, 1.287, 1.256, 1.225, 1.196, 1.168, 1.141, 1.116, 1.091, 1.067, 1.044),
    *(1.021, 1.000, 0.979, 0.959, 0.940, 0.921, 0.903, 0.886, 0.869, 0.853, 0.837, 0.822),
)


def iso7888_factor(temperature_k: Array | float) -> Array:
    """Factor from conductivity at T to that at 25 °C for natural water, 0 to 35 °C (held beyond): κ25 = κ(T)·f25(T).

    Linear between the whole degrees of the table in ISO 7888:1985.
    """
    return np.asarray(np.interp(np.asarray(temperature_k) - ZERO_C, np.arange(len(_F25)), _F25))


@dataclass(frozen=True)
class Meter:
    """A handheld conductivity ("TDS") meter.

    ``factor`` ppm per µS/cm; ``compensation`` to 25 °C: *linear* by ``slope`` per kelvin (the usual 2 %), *iso7888*, or
    *none*; ``resolution_ppm`` the last digit (0: none); ``full_scale_ppm`` where the display ends.
    """

    factor: float = 0.5
    compensation: Literal["linear", "iso7888", "none"] = "linear"
    slope: float = 0.02
    resolution_ppm: float = 1.0
    full_scale_ppm: float = 9990.0

    def compensate(self, conductivity: Array, temperature_k: Array | float) -> Array:
        """Conductivity at T [S/m] → what this meter takes for that at 25 °C [S/m]."""
        if self.compensation == "none":
            return np.asarray(conductivity)
        if self.compensation == "iso7888":
            return np.asarray(conductivity * iso7888_factor(temperature_k))
        return np.asarray(conductivity / (1.0 + self.slope * (np.asarray(temperature_k) - T25)))

    def reading(self, water: Water) -> Array:
        """ppm on the display, shape (...); NaN where the display ends."""
        compensated = self.compensate(water.conductivity_at_temperature, water.temperature_k)
        ppm = compensated / US_CM * self.factor
        if self.resolution_ppm > 0.0:
            ppm = np.round(ppm / self.resolution_ppm) * self.resolution_ppm
        return np.where(ppm > self.full_scale_ppm, np.nan, ppm)


def meter_ppm(conductivity: Array | float, factor: float) -> Array:
    """The plain convention of every answer: conductivity at 25 °C [S/m] × factor [ppm per µS/cm], unrounded."""
    return np.asarray(np.asarray(conductivity) / US_CM * factor)
