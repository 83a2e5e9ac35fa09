"""The dissolved species: charge, molar mass, limiting conductivity, diffusivity.

One column per name in :data:`SOLUTES`, everywhere and always in that order. The columns are *conserved* totals: they
add up on mixing and concentration whatever the pH does. ``HCO3`` is total alkalinity in equivalents, written as HCO3;
``PO4`` carries the charge of H2PO4- (the rest of phosphate's charge is part of alkalinity); ``B`` and ``SiO2`` are
uncharged. So ``(CHARGE * solutes).sum(-1)`` is zero for a balanced analysis, at any pH.

The exponents of the temperature law were fitted here: K and Cl to the KCl standards (CRC), Ca, HCO3 and SO4 together to
the slope of natural water (ISO 7888), H and OH to pure water from 0 to 30 °C; the other ions follow their kin.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from rinsewright.quantities import FARADAY, GAS_CONSTANT, T25, Array
from rinsewright.sources import Sourced, Standing

_CRC = "CRC Handbook of Chemistry and Physics, Ionic conductivity and diffusion at infinite dilution (Vanysek)"


@dataclass(frozen=True)
class Species:
    """One dissolved species.

    ``mobility`` is the limiting conductivity per equivalent at 25 °C [S cm2/mol] or, for uncharged species, the
    diffusivity [1e-9 m2/s]; ``walden`` is the exponent p of the temperature law λ(T) = λ25·(µ25/µ(T))^p.
    """

    charge: int
    molar_mass: float  # g/mol
    mobility: Sourced
    walden: float = 0.0


def _ion(charge: int, molar_mass: float, value: float, walden: float, standing: Standing = "read") -> Species:
    mobility = Sourced(value, "S cm2/mol per equivalent", "last digit", "25 °C, infinite dilution", _CRC, standing)
    return Species(charge, molar_mass, mobility, walden)


def _molecule(molar_mass: float, value: float) -> Species:
    reference = "handbook order of magnitude for small uncharged molecules"
    return Species(0, molar_mass, Sourced(value, "1e-9 m2/s", "20 %", "25 °C", reference, "from memory"))


def _pair(charge: int, value: float) -> Species:
    reference = "D of the ion pair as in the database phreeqc.dat, by Nernst-Einstein"
    return Species(charge, 0.0, Sourced(value, "S cm2/mol per equivalent", "20 %", "25 °C", reference, "read"), 0.98)


SPECIES: Final[dict[str, Species]] = {
    "Ca": _ion(2, 40.078, 59.47, 0.94),
    "Mg": _ion(2, 24.305, 53.0, 0.94),
    "Na": _ion(1, 22.98977, 50.08, 0.92),
    "K": _ion(1, 39.0983, 73.48, 0.86),
    "NH4": _ion(1, 18.0385, 73.5, 0.86),
    "Fe": _ion(2, 55.845, 54.0, 0.94, "from memory"),
    "Mn": _ion(2, 54.938, 53.5, 0.94, "from memory"),
    "Sr": _ion(2, 87.62, 59.4, 0.94, "from memory"),
    "Ba": _ion(2, 137.327, 63.6, 0.94),
    "HCO3": _ion(-1, 61.0168, 44.5, 0.98),
    "SO4": _ion(-2, 96.06, 80.0, 0.98),
    "Cl": _ion(-1, 35.453, 76.31, 0.885),
    "NO3": _ion(-1, 62.0049, 71.42, 0.84),
    "F": _ion(-1, 18.9984, 55.4, 0.94, "from memory"),
    "PO4": _ion(-1, 94.9714, 36.0, 0.98, "from memory"),  # H2PO4-
    "SiO2": _molecule(60.0843, 1.1),
    "B": _molecule(10.81, 1.1),  # B(OH)3, by mass of boron
    # speciated, not conserved: computed from the columns above
    "CO3": _ion(-2, 60.0089, 69.3, 0.98),
    "H": _ion(1, 1.00794, 349.65, 0.635),
    "OH": _ion(-1, 17.00734, 198.0, 0.73),
    "CaHCO3": _pair(1, 19.0),
    "MgHCO3": _pair(1, 18.0),
    "weak anions": _ion(-1, 0.0, 33.0, 0.98, "from memory"),  # HPO4--, B(OH)4-, H3SiO4-: ½HPO4-- stands for all
}

SOLUTES: Final = (
    *("Ca", "Mg", "Na", "K", "NH4", "Fe", "Mn", "Sr", "Ba"),
    *("HCO3", "SO4", "Cl", "NO3", "F", "PO4", "SiO2", "B"),
)
INDEX: Final[dict[str, int]] = {name: column for column, name in enumerate(SOLUTES)}


CHARGE: Final[Array] = np.array([float(SPECIES[name].charge) for name in SOLUTES])
MOLAR_MASS: Final[Array] = np.array([SPECIES[name].molar_mass for name in SOLUTES]) * 1e-3  # kg/mol
CO2_MOLAR_MASS: Final = 44.0095e-3  # kg/mol


def limiting_conductivity(name: str) -> float:
    """Molar conductivity at infinite dilution and 25 °C [S m2/mol, per mole]; 0 for uncharged species."""
    species = SPECIES[name]
    return abs(species.charge) * species.mobility.value * 1e-4


def diffusivity(name: str) -> float:
    """Diffusivity at infinite dilution and 25 °C [m2/s]; Nernst-Einstein, D = R T λ/(F² |z|) with λ per equivalent."""
    species = SPECIES[name]
    if species.charge == 0:
        return species.mobility.value * 1e-9
    return GAS_CONSTANT * T25 * species.mobility.value * 1e-4 / (FARADAY**2 * abs(species.charge))


LAMBDA_25: Final[Array] = np.array([limiting_conductivity(name) for name in SOLUTES])  # S m2/mol, per mole
DIFFUSIVITY_25: Final[Array] = np.array([diffusivity(name) for name in SOLUTES])  # m2/s


def salt_diffusivity(solutes: Array) -> Array:
    """Diffusivity of the dissolved salt as a whole at 25 °C [m2/s], shape (...).

    All ions' gradients are taken proportional to their concentrations and the current as zero, so that the electric
    field slows the fast ions and hastens the slow ones: D_i,eff = D_i·(1 − z_i·s), s = Σ z D c / Σ z² D c, averaged by
    equivalents. For a single salt this is the Nernst-Hartley equation. ``solutes``: (..., 17) mol/m3. Without ions:
    that of NaCl.
    """
    amount = np.abs(solutes) * DIFFUSIVITY_25
    field_sum = amount @ CHARGE**2
    charged = field_sum > 0.0
    slowing = amount @ CHARGE / np.where(charged, field_sum, 1.0)
    equivalents = np.where(charged, np.abs(solutes) @ np.abs(CHARGE), 1.0)
    mean = (amount @ np.abs(CHARGE) - slowing * (amount @ (CHARGE * np.abs(CHARGE)))) / equivalents
    return np.where(charged, mean, NACL_DIFFUSIVITY_25)


_NA, _CL = diffusivity("Na"), diffusivity("Cl")
NACL_DIFFUSIVITY_25: Final = 2.0 * _NA * _CL / (_NA + _CL)  # m2/s, 1.610e-9
