"""Units: SI inside, trade units only at the edges.

``value_in_trade_unit * CONSTANT`` is SI, ``si / CONSTANT`` is the trade unit again. Every factor is exact or derived
from an exact definition. Temperatures are offsets, not factors: use :func:`kelvin` and :func:`celsius`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

BAR = 1e5  # Pa
LITRE = 1e-3  # m3
MINUTE = 60.0  # s
HOUR = 3600.0  # s
DAY = 86400.0  # s
L_MIN = LITRE / MINUTE  # m3/s
L_H = LITRE / HOUR  # m3/s
LMH = LITRE / HOUR  # L/(m2 h) -> m/s
LMH_PER_BAR = LMH / BAR  # m/(s Pa)
MM = 1e-3  # m
MG_L = 1e-3  # kg/m3
US_CM = 1e-4  # S/m
KWH = 3.6e6  # J

ZERO_C = 273.15  # K
T25 = 298.15  # K, the reference temperature of permeances and conductivities
GAS_CONSTANT = 8.31446261815324  # J/(mol K), exact since 2019
FARADAY = 96485.33212331  # C/mol, exact since 2019
GRAVITY = 9.80665  # m/s2, standard


def kelvin(celsius_value: Array | float) -> Array:
    """Absolute temperature [K] of a temperature in °C (not of a difference)."""
    return np.asarray(celsius_value, dtype=np.float64) + ZERO_C


def celsius(kelvin_value: Array | float) -> Array:
    """Temperature in °C of an absolute temperature [K] (not of a difference)."""
    return np.asarray(kelvin_value, dtype=np.float64) - ZERO_C
