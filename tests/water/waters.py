"""Random neutral waters for the tests of this folder."""

from __future__ import annotations

import numpy as np

from rinsewright.water.ions import CHARGE, INDEX, MOLAR_MASS, SOLUTES
from rinsewright.water.state import Water

TYPICAL_MG_L = {
    "Ca": 80, "Mg": 6, "Na": 15, "K": 2, "NH4": 0.1, "Fe": 0.05, "Mn": 0.02, "Sr": 0.4, "Ba": 0.05,
    "HCO3": 250, "SO4": 30, "Cl": 25, "NO3": 15, "F": 0.3, "PO4": 1.5, "SiO2": 12, "B": 0.05,
}  # fmt: skip


def natural(count: int, seed: int, dilution: tuple[float, float] = (-2.0, 0.5)) -> Water:
    """Waters of every strength, 0.5 to 35 °C, pH 6 to 8.8, each ion off by a factor of about 1.6 either way."""
    rng = np.random.default_rng(seed)
    typical = np.array([TYPICAL_MG_L[name] for name in SOLUTES]) * 1e-3 / MOLAR_MASS
    strength = 10.0 ** rng.uniform(*dilution, (count, 1))
    solutes = typical * strength * 10.0 ** rng.normal(0.0, 0.2, (count, len(SOLUTES)))
    charge = solutes @ CHARGE
    solutes[:, INDEX["Cl"]] += np.maximum(charge, 0.0)
    solutes[:, INDEX["Na"]] += np.maximum(-charge, 0.0)
    return Water.from_ph(solutes, rng.uniform(6.0, 8.8, count), 273.15 + rng.uniform(0.5, 35.0, count))
