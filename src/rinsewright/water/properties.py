"""Pure water and NaCl transport properties at about atmospheric pressure. T in K, 0 to 45 °C unless said otherwise."""

from __future__ import annotations

import numpy as np

from rinsewright.quantities import T25, ZERO_C, Array
from rinsewright.water.ions import NACL_DIFFUSIVITY_25


def density(temperature_k: Array | float) -> Array:
    """Density of water [kg/m3], 0 to 100 °C, within 0.003 kg/m3 of IAPWS-95.

    Kell, J. Chem. Eng. Data 20, 97, 1975 (rational polynomial).
    """
    t = np.asarray(temperature_k) - ZERO_C
    numerator = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    return np.asarray(numerator / (1.0 + 16.879850e-3 * t))


def viscosity(temperature_k: Array | float) -> Array:
    """Dynamic viscosity of water [Pa s], 253 to 383 K, within 0.003 % of IAPWS R12-08 at 0.1 MPa.

    IAPWS, revised supplementary release on properties of liquid water at 0.1 MPa (four-term equation).
    """
    log_r = np.log(np.asarray(temperature_k) / 300.0)
    terms = (280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0)
    return np.asarray(1e-6 * sum(a * np.exp(b * log_r) for a, b in terms))


VISCOSITY_25 = float(viscosity(T25))


def permittivity(temperature_k: Array | float) -> Array:
    """Relative permittivity of water, 0 to 100 °C. Malmberg & Maryott, J. Res. NBS 56, 1, 1956 (from memory)."""
    t = np.asarray(temperature_k) - ZERO_C
    return np.asarray(87.740 + t * (-0.40008 + t * (9.398e-4 - t * 1.410e-6)))


def nacl_diffusivity(temperature_k: Array | float) -> Array:
    """Diffusivity of NaCl at infinite dilution [m2/s]: Nernst-Hartley at 25 °C, Stokes-Einstein (D·µ/T constant)."""
    return np.asarray(NACL_DIFFUSIVITY_25 * np.asarray(temperature_k) / T25 * VISCOSITY_25 / viscosity(temperature_k))
