"""A column of mixed resin in PHREEQC: two exchangers in each cell, full speciation, the selectivities of `resin.py`.

PHREEQC measures a divalent ion on the resin as an equivalent fraction (Gaines–Thomas) in water of molality m, the
package in equivalents per m3 of bed and of water. q/c = K·μ for z = 1 is then the same constant; for z = 2, K·μ²
becomes 2·K·capacity [eq/L of bed]. Nitrate is an element of its own, so that no redox reaction touches it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log10

import numpy as np

from rinsewright.plant.product.resin import ANION_SELECTIVITY, CATION_SELECTIVITY, DIVALENT, Bed
from rinsewright.quantities import US_CM
from rinsewright.water.ions import INDEX

CATIONS = {"H": "H+", "Na": "Na+", "K": "K+", "Mg": "Mg+2", "Ca": "Ca+2"}
ANIONS = {"OH": "OH-", "SiO2": "H3SiO4-", "CO2": "HCO3-", "Cl": "Cl-", "NO3": "Ntr-", "SO4": "SO4-2"}
ELEMENTS = {"Na": "Na", "K": "K", "Mg": "Mg", "Ca": "Ca", "Cl": "Cl", "NO3": "Ntr", "SO4": "S(6)", "SiO2": "Si"}
HEAD = """SOLUTION_MASTER_SPECIES
 Ntr Ntr- 0 62.0049 62.0049
SOLUTION_SPECIES
 Ntr- = Ntr-
  log_k 0
  -gamma 3.0 0
  -dw 1.902e-9
EXCHANGE_MASTER_SPECIES
 Cation Cation-
 Anion Anion+
EXCHANGE_SPECIES
 Cation- = Cation-
  log_k 0
 Anion+ = Anion+
  log_k 0
"""


@dataclass(frozen=True)
class Column:
    """Behind the last cell, portion by portion; volumes in m3, S/m at 25 °C, mol/m3."""

    volume: np.ndarray  # passed until the middle of the portion
    reading: np.ndarray
    carbonic: np.ndarray
    silica: np.ndarray

    def first_above(self, values: np.ndarray, level: float) -> float:
        """Volume at which ``values`` pass ``level``, straight between portions."""
        after = int(np.argmax(values > level))
        assert after > 0, "never passed"
        x0, x1, y0, y1 = *self.volume[after - 1 : after + 1], *values[after - 1 : after + 1]
        return float(x0 + (level - y0) / (y1 - y0) * (x1 - x0))


def column(bed: Bed, solutes: np.ndarray, co2: float, portion: float, portions: int, cells: int) -> Column:
    """March fresh resin in PHREEQC on one water: ``solutes`` (17) and ``co2`` in mol/m3, ``portion`` in m3."""
    from phreeqc import Phreeqc

    engine = Phreeqc()
    assert engine.LoadBuiltInDatabase("phreeqc.dat") == 0
    text = HEAD + _species(bed) + "END\n" + _water(solutes, co2, cells) + _resin(bed, portion, cells)
    march = f"ADVECTION\n -cells {cells}\n -shifts {portions + cells - 1}\n -punch_cells {cells}\n"
    failed = engine.RunString(text + march)
    assert not failed, engine.GetErrorString()
    assert not engine.GetWarningString(), engine.GetWarningString()
    rows = engine.GetSelectedOutput()
    kappa, carbonic, silica = (
        np.array(rows[name][-portions:], dtype=float) for name in ("kappa", "carbonic", "silica")
    )
    volume = (np.arange(portions) + 0.5) * portion
    return Column(volume, kappa * US_CM, carbonic * 1e3, silica * 1e3)


def _species(bed: Bed) -> str:
    lines = []
    for resin, ions, selectivity, held in (
        ("Cation", CATIONS, CATION_SELECTIVITY, bed.cation_eq),
        ("Anion", ANIONS, ANION_SELECTIVITY, bed.anion_eq),
    ):
        site = resin + ("-" if resin == "Cation" else "+")
        for name, ion in ions.items():
            twice = name in DIVALENT
            constant = selectivity[name] * (2.0 * float(held / bed.volume) / 1e3 if twice else 1.0)
            formula, number = ion.rstrip("+-2"), 2 if twice else ""
            lines.append(f" {ion} + {number}{site} = {formula}{resin}{number}")
            lines.append(f"  log_k {log10(constant):.12f}")
    return "\n".join(lines) + "\n"


def _water(solutes: np.ndarray, co2: float, cells: int) -> str:
    amounts = "".join(f" {element} {solutes[INDEX[name]]:.12g}\n" for name, element in ELEMENTS.items())
    carbon = solutes[INDEX["HCO3"]] + co2
    # Oxygen holds the redox state, so that sulphate stays sulphate.
    inlet = f"SOLUTION 0\n temp 25\n units mmol/kgw\n pH 7 charge\n O(0) 0.2\n C(4) {carbon:.12g}\n{amounts}"
    return f"{inlet}SOLUTION 1-{cells}\n temp 25\n units mmol/kgw\n pH 7\n O(0) 0.2\nEND\n"


def _resin(bed: Bed, portion: float, cells: int) -> str:
    """Fresh resin: what a cell holds beside one kg of water instead of a whole portion."""
    per_kg = 1.0 / cells / (portion * 1e3)
    held = f" HCation {float(bed.cation_eq) * per_kg:.12g}\n OHAnion {float(bed.anion_eq) * per_kg:.12g}\n"
    punch = ' 10 PUNCH SC, TOT("C(4)"), TOT("Si")\n'
    report = f"SELECTED_OUTPUT 1\n -reset false\nUSER_PUNCH 1\n -headings kappa carbonic silica\n{punch}END\n"
    return f"EXCHANGE 1-{cells}\n{held}END\n{report}"
