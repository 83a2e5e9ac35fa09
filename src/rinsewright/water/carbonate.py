"""pH and the carbonate system of a batch of waters, fast.

Every weak acid in water is a set of one-proton *sites* j with total amount T_j and acidity K_j, so that alkalinity
reads ``A = Σ T_j K_j/(h + K_j) + Kw/h − h`` with h = [H+]. Carbonic acid is two such sites (the roots of its own
polynomial); water is a site with K = 0 and T·K = Kw. Over the common denominator this is a polynomial in h with real
roots only (one between each two neighbouring poles), of which the largest alone is positive. Laguerre's method, started
above it, comes down to it from any water, deionised or sea, acid or alkaline, in three steps, unguarded.

Activities by Davies; ion pairs of Ca and Mg with HCO3, CO3 and SO4 enter as conditional constants. A molality is taken
for a molarity (0.3 % at 25 °C). Valid 0 to 60 °C, pH 3 to 11, ionic strength to about 0.5 mol/L.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from rinsewright.quantities import Array
from rinsewright.water.ions import CHARGE, INDEX
from rinsewright.water.properties import density, permittivity

_PB = "Plummer & Busenberg, Geochim. Cosmochim. Acta 46, 1011, 1982"
_NORDSTROM = "Nordstrom et al., ACS Symp. Ser. 416, 398, 1990, as in the database wateq4f.dat"
_KW = "fitted here to IAPWS R11-07 at 0.1 MPa, 0 to 60 °C, within 0.0003"
_PHREEQC = "database phreeqc.dat of PHREEQC 3.8.6; Plummer & Busenberg's CaHCO3+ is stronger, log K 1.11 at 25 °C"

# log10 K = a + b·T + c/T + d·log10 T + e/T², molal, T in K: acids dissociate, pairs associate, solids dissolve
LOG_K: Final[dict[str, tuple[tuple[float, float, float, float, float], str]]] = {
    "CO2(g)": ((108.3865, 0.01985076, -6919.53, -40.45154, 669365.0), _PB),  # mol/(kg atm)
    "CO2": ((-356.3094, -0.06091964, 21834.37, 126.8339, -1684915.0), _PB),
    "HCO3": ((-107.8871, -0.03252849, 5151.79, 38.92561, -563713.9), _PB),
    "H2O": (
        (187.615353, 0.033879621, -9368.09822, -72.861169, 0.0),
        _KW,
    ),
    "H2PO4": ((-6.4813, 0.0, -216.36, 0.0, 0.0), _NORDSTROM),
    "B": ((-6.8768, 0.0, -704.59, 0.0, 0.0), _NORDSTROM),
    "SiO2": ((-302.3724, -0.050698, 15669.69, 108.18466, -1119669.0), _NORDSTROM),
    "NH4": ((0.6322, -0.001225, -2835.76, 0.0, 0.0), _NORDSTROM),
    "CaHCO3": ((-113.8961, 0.00124151, 7195.79, 38.92561, -563713.9), _PHREEQC),
    "CaCO3": ((-1228.732, -0.299444, 35512.75, 485.818, 0.0), _PB),
    "CaSO4": ((3.2213, 0.0, -289.57, 0.0, 0.0), _PHREEQC),
    "MgHCO3": ((-59.215, 0.0, 2537.455, 20.92298, 0.0), _NORDSTROM),
    "MgCO3": ((0.991, 0.00667, 0.0, 0.0, 0.0), _NORDSTROM),
    "MgSO4": ((5.7052, 0.0, -994.38, 0.0, 0.0), _NORDSTROM),
    "calcite": ((-171.9065, -0.077993, 2839.319, 71.595, 0.0), _PB),
    "aragonite": ((-171.9773, -0.077993, 2903.293, 71.595, 0.0), _PB),
}
_COEFFICIENTS: Final = np.array([coefficients for coefficients, _ in LOG_K.values()])
_WEAK: Final = [INDEX[name] for name in ("PO4", "NH4", "B", "SiO2")]
_CA, _MG, _SO4, _ALK = (INDEX[name] for name in ("Ca", "Mg", "SO4", "HCO3"))
_MOL_L: Final = 1000.0  # mol/L -> mol/m3
_LAGUERRE_STEPS: Final = 3


def constants(temperature_k: Array | float) -> dict[str, Array]:
    """Equilibrium constants at zero ionic strength (molal, atm), by the names in :data:`LOG_K`. T in K, shape (...)."""
    t = np.asarray(temperature_k, dtype=np.float64)
    basis = np.stack((np.ones_like(t), t, 1.0 / t, np.log10(t), 1.0 / t**2))
    values = np.exp(np.log(10.0) * np.tensordot(_COEFFICIENTS, basis, 1))
    return dict(zip(LOG_K, values, strict=True))


def debye_huckel(temperature_k: Array | float) -> Array:
    """Debye-Hückel slope A [(kg/mol)^½, for log10 γ]: 1.8248e6·(ρ/1000)^½·(ε T)^−1.5; 0.511 at 25 °C."""
    t = np.asarray(temperature_k)
    return np.asarray(1.8248e6 * np.sqrt(density(t) / 1000.0) * (permittivity(t) * t) ** -1.5)


def davies(ionic_strength: Array, slope: Array) -> Array:
    """Activity coefficient of a univalent ion; that of a divalent one is its fourth power. Davies 1962, I in mol/L."""
    root = np.sqrt(ionic_strength)
    return np.asarray(np.exp(-np.log(10.0) * slope * (root / (1.0 + root) - 0.3 * ionic_strength)))


def total_ionic_strength(solutes: Array) -> Array:
    """Ionic strength [mol/L] as if nothing were paired; alkalinity counts as HCO3-, acidity as H+. Shape (...)."""
    return np.asarray(0.5 / _MOL_L * (np.abs(solutes) @ CHARGE**2))


@dataclass(frozen=True, eq=False)
class Medium:
    """What pH depends on beside total carbon: activities, pairs, acid sites. Shapes (...), mol/m3."""

    alkalinity: Array
    ionic_strength: Array  # mol/L, ion pairs taken off
    gamma: Array  # of a univalent ion
    calcium: Array  # free
    magnesium: Array
    sulphate: Array
    calcium_bicarbonate: Array  # pairs as a multiple of free HCO3
    magnesium_bicarbonate: Array
    carbonate_pairs: Array  # total CO3 over free CO3
    acidity: Array  # (7, ...) K of the sites: carbonic acid, H2PO4, NH4, B(OH)3, H4SiO4, carbonic acid again, water (0)
    weak: Array  # (4, ...) totals of the four between carbonic acid's two
    kw: Array

    @property
    def bicarbonate_pairs(self) -> Array:
        """Total HCO3 (with pairs) over free HCO3."""
        return 1.0 + self.calcium_bicarbonate + self.magnesium_bicarbonate

    def amounts(self, carbon: Array) -> Array:
        """Total T of every site but water's, (6, ...), for a total inorganic carbon [mol/m3]."""
        return np.concatenate((carbon[None], self.weak, carbon[None]))

    def strengths(self, carbon: Array) -> Array:
        """T·K of every site, (7, ...)."""
        return np.concatenate((self.amounts(carbon) * self.acidity[:-1], self.kw[None]))


def medium(solutes: Array, temperature_k: Array) -> Medium:
    """Activities, ion pairs and conditional constants. ``solutes`` (..., 17) mol/m3, temperature (...) K."""
    k = constants(temperature_k)
    slope = debye_huckel(temperature_k)
    columns = np.moveaxis(solutes, -1, 0)
    alkalinity, sulphate = columns[_ALK], columns[_SO4]
    bicarbonate = np.maximum(alkalinity, 0.0)
    strength = total_ionic_strength(solutes)
    gamma2 = davies(strength, slope) ** 4
    free_ca, free_mg, free_so4 = columns[_CA], columns[_MG], sulphate
    ca_so4, mg_so4 = k["CaSO4"] * gamma2**2 / _MOL_L, k["MgSO4"] * gamma2**2 / _MOL_L
    ca_hco3, mg_hco3 = k["CaHCO3"] * gamma2 / _MOL_L, k["MgHCO3"] * gamma2 / _MOL_L
    for _ in range(3):
        free_so4 = sulphate / (1.0 + ca_so4 * free_ca + mg_so4 * free_mg)
        free_ca = columns[_CA] / (1.0 + ca_so4 * free_so4 + ca_hco3 * bicarbonate)
        free_mg = columns[_MG] / (1.0 + mg_so4 * free_so4 + mg_hco3 * bicarbonate)
    ca_pair, mg_pair = ca_hco3 * free_ca, mg_hco3 * free_mg
    lost = 4.0 * (sulphate - free_so4) + 2.0 * bicarbonate * (ca_pair + mg_pair) / (1.0 + ca_pair + mg_pair)
    strength = np.maximum(strength - lost / _MOL_L, 0.0)
    gamma = davies(strength, slope)
    gamma2 = gamma**4
    carbonate_pairs = 1.0 + (k["CaCO3"] * free_ca + k["MgCO3"] * free_mg) * gamma2**2 / _MOL_L
    acidity = _acidity(k, strength, gamma, 1.0 + ca_pair + mg_pair, carbonate_pairs)
    kw = k["H2O"] / gamma**2 * _MOL_L**2
    return Medium(
        alkalinity, strength, gamma, free_ca, free_mg, free_so4, ca_pair, mg_pair, carbonate_pairs, acidity,
        columns[_WEAK], kw,
    )  # fmt: skip


def _acidity(k: dict[str, Array], strength: Array, gamma: Array, hco3_pairs: Array, co3_pairs: Array) -> Array:
    """Conditional K of the seven sites [mol/m3]."""
    neutral = np.exp(np.log(10.0) * 0.1 * strength)  # activity coefficient of an uncharged species
    k1 = k["CO2"] * neutral / gamma**2 * hco3_pairs
    k2 = k["HCO3"] / gamma**4 * co3_pairs / hco3_pairs
    first = 0.5 * k1 * (1.0 + np.sqrt(np.maximum(1.0 - 4.0 * k2 / k1, 0.0)))
    weak = k["H2PO4"] / gamma**4, k["NH4"], k["B"] / gamma**2, k["SiO2"] / gamma**2
    return np.stack((first, *weak, k1 * k2 / first, np.zeros_like(first))) * _MOL_L


def _upper_bound(alkalinity: Array, amounts: Array, strengths: Array, acidity: Array) -> Array:
    """A value that [H+] cannot exceed, and mostly comes near: the least of seven, found twice.

    For any n, with the first n sites taken as bare and the others as nearly full, ``A + h < Σ_first T + Σ_others
    T·K/h``; and once h < b is known, bare may be sharpened to ``T (1 − h/(K + b))``. Each is a quadratic in h.
    """
    bare = np.concatenate((np.zeros_like(amounts[:1]), np.cumsum(amounts, 0)))
    others = np.cumsum(strengths[::-1], 0)[::-1]
    half = 0.5 * (alkalinity - bare)
    square = half**2
    with np.errstate(divide="ignore"):  # where a sum is lost beside a far larger one it bounds nothing
        bound = (others / (half + np.sqrt(square + others))).min(0)
    buffer = np.ones_like(bare)
    np.cumsum(amounts / (acidity[:-1] + bound), 0, out=buffer[1:])
    buffer[1:] += 1.0
    return np.asarray((others / (half + np.sqrt(square + buffer * others))).min(0))


def hydrogen(alkalinity: Array, amounts: Array, strengths: Array, acidity: Array) -> Array:
    """[H+] in mol/m3, shape (...), from alkalinity (...) and the sites' T (6, ...), T·K and K (7, ...), water last.

    Laguerre's method on the polynomial described at the head of this module. Within 1e-7 of itself after three steps.
    """
    h = _upper_bound(alkalinity, amounts, strengths, acidity)
    degree = len(acidity) + 1
    for _ in range(_LAGUERRE_STEPS):
        inverse = 1.0 / (h + acidity)
        term = strengths * inverse
        f = term.sum(0) - h - alkalinity
        term *= inverse
        slope = -term.sum(0) - 1.0
        term *= inverse
        curvature = 2.0 * term.sum(0)
        g = slope + f * inverse.sum(0)
        inverse *= inverse
        discriminant = degree * (slope**2 - f * curvature + f**2 * inverse.sum(0)) - g**2
        h = h - degree * f / (g - np.sqrt(np.maximum((degree - 1) * discriminant, 0.0)))
    return h


@dataclass(frozen=True, eq=False)
class Equilibrium:
    """A speciated batch of waters: concentrations in mol/m3, shapes (...); ``bicarbonate``, ``carbonate`` unpaired."""

    medium: Medium
    h: Array
    co2: Array
    bicarbonate: Array
    carbonate: Array
    hydroxide: Array

    @property
    def ph(self) -> Array:
        """−log10 of the activity of H+."""
        return np.asarray(-np.log10(self.h * self.medium.gamma / _MOL_L))

    @property
    def weak_anions(self) -> Array:
        """Charge of phosphate, borate, silicate beyond their conserved charge, and that lost by NH4 [eq/m3]."""
        acidity = self.medium.acidity[1:-2]
        return np.asarray((self.medium.weak * acidity / (self.h + acidity)).sum(0))


def equilibrium(solutes: Array, carbon: Array, temperature_k: Array) -> Equilibrium:
    """Speciate waters of known alkalinity and total inorganic carbon: (..., 17), (...), (...) in mol/m3 and K."""
    state = medium(solutes, temperature_k)
    carbon = np.maximum(carbon, 0.0)
    h = hydrogen(state.alkalinity, state.amounts(carbon), state.strengths(carbon), state.acidity)
    first, second = state.acidity[0], state.acidity[-2]
    over = carbon / ((h + first) * (h + second))
    bicarbonate = over * (first + second) * h / state.bicarbonate_pairs
    carbonate = over * first * second / state.carbonate_pairs
    return Equilibrium(state, h, over * h * h, bicarbonate, carbonate, state.kw / h)


def carbon_at_ph(solutes: Array, ph: Array | float, temperature_k: Array) -> Array:
    """Total inorganic carbon [mol/m3] of waters of known alkalinity and pH. Never below 0.

    Where alkalinity and pH contradict one another (a pH above what water and the other weak acids give without
    any carbon) the answer is 0, and the water's pH is then not the one given: compare them if it matters.
    """
    state = medium(solutes, temperature_k)
    h = 10.0 ** -np.asarray(ph, dtype=np.float64) * _MOL_L / state.gamma
    carbonic = state.acidity[[0, -2]]
    others = (state.strengths(np.zeros_like(h)) / (h + state.acidity)).sum(0) - h
    return np.asarray(np.maximum(state.alkalinity - others, 0.0) / (carbonic / (h + carbonic)).sum(0))


def carbon_at_co2(solutes: Array, co2: Array | float, temperature_k: Array) -> Array:
    """Total inorganic carbon [mol/m3] of waters of known alkalinity in which CO2(aq) is held at ``co2`` [mol/m3].

    Newton on the logarithm of both sides of the charge balance, each side a sum of positive terms, so that it converges
    from anywhere.
    """
    state = medium(solutes, temperature_k)
    first, second = state.acidity[0], state.acidity[-2]
    single, double = co2 * (first + second), co2 * first * second
    strengths = state.strengths(np.zeros_like(first))
    base, acid = np.maximum(state.alkalinity, 0.0), np.maximum(-state.alkalinity, 0.0)
    h = np.sqrt(0.25 * state.alkalinity**2 + single + state.kw) + 0.5 * np.abs(state.alkalinity)
    h = np.where(base > 0.0, (single + state.kw) / h, h)
    for _ in range(8):
        term = strengths / (h + state.acidity)
        left = acid + term.sum(0) + single / h + 2.0 * double / h**2
        slope = -(term * h / (h + state.acidity)).sum(0) - single / h - 4.0 * double / h**2
        step = np.log(left / (base + h)) / (slope / left - h / (base + h))
        h = h * np.exp(-np.clip(step, -3.0, 3.0))
    return np.asarray(co2 + single / h + double / h**2)


def co2_in_equilibrium(temperature_k: Array | float, partial_pressure_atm: float = 420e-6) -> Array:
    """CO2(aq) [mol/m3] under a CO2 partial pressure in atm (open air: 420e-6). Henry's law, Plummer & Busenberg."""
    return np.asarray(constants(temperature_k)["CO2(g)"] * partial_pressure_atm * _MOL_L)
