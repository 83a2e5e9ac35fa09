"""Electrical conductivity from the ions in solution, water's own included."""

from __future__ import annotations

from typing import Final

import numpy as np

from rinsewright.quantities import T25, Array
from rinsewright.water.carbonate import Equilibrium
from rinsewright.water.ions import INDEX, SOLUTES, SPECIES
from rinsewright.water.properties import VISCOSITY_25, permittivity, viscosity

PURE_WATER: Final = 5.512e-6  # S/m at 25 °C, of its own H+ and OH-, by the equation here; handbooks: 0.055 µS/cm

_CONSERVED: Final = [name for name in SOLUTES if SPECIES[name].charge]
_CARRIERS: Final = [*_CONSERVED, "CO3", "H", "OH", "CaHCO3", "MgHCO3", "weak anions"]
_COLUMNS: Final = [INDEX[name] for name in _CONSERVED]
_ROW: Final = {name: row for row, name in enumerate(_CARRIERS)}
_Z: Final = np.array([abs(SPECIES[name].charge) for name in _CARRIERS], dtype=np.float64)
_LAMBDA: Final = np.array([SPECIES[name].mobility.value * 1e-4 for name in _CARRIERS])  # S m2/mol per equivalent
_WALDEN: Final = np.array([SPECIES[name].walden for name in _CARRIERS])
_LAWS, _LAW_OF = np.unique(_WALDEN, return_inverse=True)

# Onsager's limiting law at 25 °C for a 1-1 salt: Λ = Λ0 − (60.58 + 0.2289 Λ0) √c (from memory); half the first per ion
_ELECTROPHORESIS_25: Final = 30.29e-4  # S m2/mol per (mol/L)^½, per charge
_RELAXATION_25: Final = 0.2289  # per (mol/L)^½
_SIZE: Final = 1.38  # (L/mol)^½: fitted here to KCl and NaCl, 0.0005 to 0.1 mol/L, at 25 °C


def conductivity(solutes: Array, equilibrium: Equilibrium, temperature_k: Array) -> Array:
    """Conductivity at the water's temperature [S/m], shape (...).

    ``κ = Σ z c (λ − (E z + R z λ) √I/(1 + 1.38 √I))`` with λ per equivalent: Debye-Hückel-Onsager, its range widened by
    a Falkenhagen-like denominator, the relaxation term weighted by the ion's own charge. λ follows (µ25/µ)^p with p per
    ion (:mod:`~rinsewright.water.ions`), E follows 1/(µ √(ε T)), R (ε T)^−1.5. To 0.1 mol/L, 0 to 35 °C: KCl and
    NaCl within 0.8 %, pure and air-equilibrated water within 1.3 %, other single salts and natural waters within 3 %
    (``tests/published/test_chemistry_conductivity.py``).
    """
    t = np.asarray(temperature_k)
    fluidity = VISCOSITY_25 / viscosity(t)
    laws = np.exp(np.multiply.outer(_LAWS, np.log(fluidity)))
    equivalents = _equivalents(solutes, equilibrium)
    carried = equivalents * laws[_LAW_OF] * _LAMBDA.reshape(-1, *[1] * t.ndim)
    dielectric = permittivity(T25) * T25 / (permittivity(t) * t)
    root = np.sqrt(equilibrium.medium.ionic_strength)
    damped = root / (1.0 + _SIZE * root)
    electrophoresis = _ELECTROPHORESIS_25 * fluidity * np.sqrt(dielectric) * damped
    relaxation = _RELAXATION_25 * dielectric**1.5 * damped
    ideal = carried.sum(0)
    slowed = electrophoresis * np.tensordot(_Z, equivalents, 1) + relaxation * np.tensordot(_Z, carried, 1)
    return np.asarray(ideal - slowed)


def _equivalents(solutes: Array, equilibrium: Equilibrium) -> Array:
    """Charge concentration of every carrier [eq/m3], (carriers, ...)."""
    medium = equilibrium.medium
    amounts = np.empty((len(_CARRIERS), *solutes.shape[:-1]))
    amounts[: len(_COLUMNS)] = np.moveaxis(solutes, -1, 0)[_COLUMNS]
    speciated = {
        "Ca": medium.calcium,
        "Mg": medium.magnesium,
        "SO4": medium.sulphate,
        "HCO3": equilibrium.bicarbonate,
        "CO3": equilibrium.carbonate,
        "H": equilibrium.h,
        "OH": equilibrium.hydroxide,
        "CaHCO3": medium.calcium_bicarbonate * equilibrium.bicarbonate,
        "MgHCO3": medium.magnesium_bicarbonate * equilibrium.bicarbonate,
        "weak anions": equilibrium.weak_anions,
    }
    for name, amount in speciated.items():
        amounts[_ROW[name]] = amount
    return np.asarray(amounts * _Z.reshape(-1, *[1] * (solutes.ndim - 1)))
