"""Conversions of water analysis against published factors."""

from __future__ import annotations

import numpy as np
import pytest

from rinsewright.quantities import MG_L, T25
from rinsewright.water.ions import INDEX, MOLAR_MASS
from rinsewright.water.state import Water


# Hardness factors 2.497 Ca + 4.118 Mg, mg/L as CaCO3: arithmetic on atomic masses (reproduced); their use in Standard
# Methods 2340 B is from memory
def test_hardness_factors():
    assert float(Water.from_mg_l({"Ca": 1.0}, 7.0, T25).hardness) / MG_L == pytest.approx(2.497, abs=5e-4)
    assert float(Water.from_mg_l({"Mg": 1.0}, 7.0, T25).hardness) / MG_L == pytest.approx(4.118, abs=5e-4)
    both = Water.from_mg_l({"Ca": 30.46, "Mg": 3.62}, 7.0, T25)
    assert float(both.hardness) / MG_L == pytest.approx(91.0, abs=0.05)


# Alkalinity: 61.0168/50.0435 = 1.219 mg HCO3 per mg CaCO3 (arithmetic on atomic masses)
def test_alkalinity_factor():
    assert float(Water.from_mg_l({"HCO3": 1.2193}, 7.0, T25).alkalinity_caco3) / MG_L == pytest.approx(1.0, abs=2e-4)


# On drying bicarbonate ends as carbonate: factor 0.4917 (Standard Methods 1030 E gives 0.4917 for HCO3 in TDS sums;
# from memory)
def test_residue_of_bicarbonate():
    water = Water.from_mg_l({"HCO3": 100.0}, 7.0, T25)
    assert float(water.residue / water.tds) == pytest.approx(0.4917, abs=1e-4)


# Molar masses in the CRC Handbook (from memory), g/mol to the digits used
def test_molar_masses():
    published = {"Ca": 40.078, "HCO3": 61.017, "SO4": 96.06, "NO3": 62.005, "SiO2": 60.084, "NH4": 18.04, "PO4": 94.97}
    found = {name: float(MOLAR_MASS[INDEX[name]]) * 1e3 for name in published}
    assert found == pytest.approx(published, abs=5e-3)
    assert np.all(MOLAR_MASS > 0.0)
