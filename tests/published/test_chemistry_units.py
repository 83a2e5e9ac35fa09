"""Conversions of water analysis against published factors."""

from __future__ import annotations

from functools import partial

import numpy as np

from rinsewright.quantities import MG_L, T25
from rinsewright.water.ions import INDEX, MOLAR_MASS
from rinsewright.water.state import Water
from tests.published.agreement import absolute, agree

agree_masses = partial(agree, source="atomic-masses", standing="reproduced")


# Hardness factors 2.497 Ca + 4.118 Mg, mg/L as CaCO3: arithmetic on atomic masses (reproduced); their use in Standard
# Methods 2340 B is from memory
def test_hardness_factors():
    cases: list[tuple[dict[str, float], float, float]] = [
        ({"Ca": 1.0}, 2.497, 5e-4),
        ({"Mg": 1.0}, 4.118, 5e-4),
        ({"Ca": 30.46, "Mg": 3.62}, 91.0, 0.05),
    ]
    for ions, published, digits in cases:
        agree_masses(
            quantity="hardness as CaCO3",
            at=" and ".join(f"{name} {value:g} mg/L" for name, value in ions.items()),
            unit="mg/L",
            published=published,
            ours=Water.from_mg_l(ions, 7.0, T25).hardness / MG_L,
            tolerance=absolute(digits),
            model="hardness",
        )


# Alkalinity: 61.0168/50.0435 = 1.219 mg HCO3 per mg CaCO3 (arithmetic on atomic masses)
def test_alkalinity_factor():
    agree_masses(
        quantity="alkalinity as CaCO3",
        at="HCO3 1.2193 mg/L",
        unit="mg/L",
        published=1.0,
        ours=Water.from_mg_l({"HCO3": 1.2193}, 7.0, T25).alkalinity_caco3 / MG_L,
        tolerance=absolute(2e-4),
        model="alkalinity",
    )


# On drying bicarbonate ends as carbonate: factor 0.4917 (Standard Methods 1030 E gives 0.4917 for HCO3 in TDS sums;
# from memory)
def test_residue_of_bicarbonate():
    water = Water.from_mg_l({"HCO3": 100.0}, 7.0, T25)
    agree_masses(
        quantity="residue of bicarbonate over its mass",
        standing="from memory",
        published=0.4917,
        ours=water.residue / water.tds,
        tolerance=absolute(1e-4),
        model="residue",
    )


# Molar masses in the CRC Handbook (from memory), g/mol to the digits used
def test_molar_masses():
    published = {"Ca": 40.078, "HCO3": 61.017, "SO4": 96.06, "NO3": 62.005, "SiO2": 60.084, "NH4": 18.04, "PO4": 94.97}
    agree(
        source="crc-masses",
        quantity="molar mass",
        at=list(published),
        unit="g/mol",
        published=published.values(),
        ours=[float(MOLAR_MASS[INDEX[name]]) * 1e3 for name in published],
        tolerance=absolute(5e-3),
        standing="from memory",
        model="molar masses",
    )
    assert np.all(MOLAR_MASS > 0.0)
