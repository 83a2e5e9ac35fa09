"""Water and NaCl as the independent reference sees them. Shares nothing with the program under test.

SI throughout: K, Pa, Pa s, kg/m3 (also for NaCl concentration), m2/s.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from chemicals import permittivity_IAPWS
from chemicals.iapws import iapws95_rho
from chemicals.viscosity import mu_IAPWS

GAS_CONSTANT = 8.314462618
AVOGADRO = 6.02214076e23
BOLTZMANN = 1.380649e-23
ELEMENTARY_CHARGE = 1.602176634e-19
VACUUM_PERMITTIVITY = 8.8541878128e-12
NACL_MOLAR_MASS = 0.0584428
NACL_APPARENT_VOLUME = 16.6e-6  # m3/mol at infinite dilution, 25 °C; from memory, moves the result by < 0.1 %
ONE_ATMOSPHERE = 101325.0
WARM = 298.15


@lru_cache
def iapws_density(t_k: float) -> float:
    """Density of water at one atmosphere, IAPWS-95, kg/m3."""
    return float(iapws95_rho(t_k, ONE_ATMOSPHERE))


@lru_cache
def iapws_viscosity(t_k: float) -> float:
    """Viscosity of water at one atmosphere, IAPWS 2008, full formulation, Pa s."""
    return float(mu_IAPWS(t_k, iapws_density(t_k)))


@lru_cache
def debye_hueckel_slope(t_k: float) -> float:
    """A_phi of Pitzer's equations, (kg/mol)^0.5, from density and permittivity (IAPWS 1997)."""
    density = iapws_density(t_k)
    bjerrum = ELEMENTARY_CHARGE**2 / (
        4 * math.pi * VACUUM_PERMITTIVITY * permittivity_IAPWS(t_k, density) * BOLTZMANN * t_k
    )
    return math.sqrt(2 * math.pi * AVOGADRO * density) * bjerrum**1.5 / 3


def pitzer_osmotic_coefficient(molality: float, t_k: float) -> float:
    """Osmotic coefficient of NaCl (Pitzer 1973; slopes with temperature Silvester & Pitzer 1977; from memory)."""
    root = math.sqrt(molality)
    beta0 = 0.0765 + 7.159e-4 * (t_k - WARM)
    beta1 = 0.2664 + 7.005e-4 * (t_k - WARM)
    c_phi = 0.00127 - 1.054e-4 * (t_k - WARM)
    debye = -debye_hueckel_slope(t_k) * root / (1 + 1.2 * root)
    return 1 + debye + molality * (beta0 + beta1 * math.exp(-2 * root)) + molality**2 * c_phi


def pitzer_osmotic(nacl: float, t_k: float) -> float:
    """Osmotic pressure of NaCl, Pa: pi = 2 phi m R T rho_water."""
    moles = nacl / NACL_MOLAR_MASS
    density = iapws_density(t_k)
    molality = moles / (density * (1 - moles * NACL_APPARENT_VOLUME))
    return 2 * pitzer_osmotic_coefficient(molality, t_k) * molality * GAS_CONSTANT * t_k * density


def d4516_osmotic(nacl: float, t_k: float) -> float:
    """Osmotic pressure of NaCl as in ASTM D4516 (from memory), Pa: 0.2654 C T / (1000 - C/1000) kPa, C in mg/L."""
    return 1e3 * 0.2654 * (1e3 * nacl) * t_k / (1e3 - nacl)


def old_viscosity(t_k: float) -> float:
    """The short viscosity formula behind the constructed element vector, Pa s."""
    return float(2.414e-5 * 10 ** (247.8 / (t_k - 140)))


@dataclass(frozen=True)
class Fluid:
    """Which formulas the reference uses. The default is the model's convention; the rest are switches for checks."""

    density: Callable[[float], float] = iapws_density
    viscosity: Callable[[float], float] = iapws_viscosity
    osmotic: Callable[[float, float], float] = pitzer_osmotic
    laminar_film: bool = True  # k3 = k_SM3 + k_lam3; otherwise k_SM alone
    film: bool = True  # otherwise no polarisation at all
    channel_loss: bool = True  # otherwise no pressure loss along the feed channel

    def diffusivity(self, t_k: float) -> float:
        """NaCl in water, m2/s: 1.61e-9 at 25 °C, as T over viscosity."""
        return 1.61e-9 * (t_k / WARM) * self.viscosity(WARM) / self.viscosity(t_k)


STANDARD = Fluid()
ELEMENT_VECTOR = Fluid(density=lambda t_k: 997.0, viscosity=old_viscosity, osmotic=d4516_osmotic, laminar_film=False)
