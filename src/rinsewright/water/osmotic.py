"""Osmotic pressure of mixed dilute waters."""

from __future__ import annotations

from typing import Final

import numpy as np

from rinsewright.quantities import GAS_CONSTANT, Array
from rinsewright.water.carbonate import debye_huckel, total_ionic_strength

_LINEAR: Final = 0.2  # Davies' first value; with 0.3 the osmotic coefficient of NaCl is 4 % high at 0.5 mol/L


def osmotic_coefficient(solutes: Array, temperature_k: Array | float) -> Array:
    """Osmotic coefficient φ of a mixture (1 for pure water). ``solutes`` (..., 17) mol/m3, temperature (...) K.

    Gibbs-Duhem integral of the Davies equation, log γ = −A z² (√I/(1+√I) − 0.2 I): ``φ − 1 = A ln10 (−(2/3) σ(√I) I^1.5
    + 0.2 I²)/Σm``, with σ(y) = (3/y³)(1 + y − 1/(1+y) − 2 ln(1+y)) (Robinson & Stokes, Electrolyte Solutions). NaCl
    within 0.5 % to 0.2 mol/L, 1.5 % to 0.5 mol/L. Ion pairs are left out.
    """
    strength = total_ionic_strength(solutes)
    total = np.abs(solutes).sum(-1) * 1e-3
    y = np.sqrt(strength)
    # (2/3) σ I^1.5 without cancellation where y is small: 2 (1 + y − 1/(1+y) − 2 ln(1+y)) → (2/3) y³ − y⁴ + (6/5) y⁵
    series = y**3 * (2.0 / 3.0 - y * (1.0 - y * (1.2 - y * 4.0 / 3.0)))
    closed = 2.0 * (1.0 + y - 1.0 / (1.0 + y) - 2.0 * np.log1p(y))
    screening = np.where(y < 0.02, series, closed)
    excess = np.log(10.0) * debye_huckel(temperature_k) * (_LINEAR * strength**2 - screening)
    return np.asarray(1.0 + excess / np.where(total > 0.0, total, 1.0))


def osmotic_pressure(solutes: Array, temperature_k: Array | float) -> Array:
    """Osmotic pressure [Pa], shape (...): π = φ R T Σc over all solutes, silica and boron included.

    ``solutes`` (..., 17) mol/m3. CO2 is left out: it stands at nearly the same concentration on both sides of a
    membrane.
    """
    total = np.abs(solutes).sum(-1)
    return np.asarray(osmotic_coefficient(solutes, temperature_k) * GAS_CONSTANT * np.asarray(temperature_k) * total)
