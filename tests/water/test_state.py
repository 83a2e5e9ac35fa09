from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from rinsewright.quantities import kelvin
from rinsewright.water.ions import SOLUTES
from rinsewright.water.state import Water
from tests.water.waters import TYPICAL_MG_L, natural


def test_mg_l_round_trip():
    water = Water.from_mg_l(TYPICAL_MG_L, 7.4, kelvin(12.0))
    assert {name: float(value) for name, value in water.ions_mg_l().items()} == pytest.approx(TYPICAL_MG_L)
    assert float(water.ph) == pytest.approx(7.4, abs=1e-6)
    assert float(water.tds) * 1e3 == pytest.approx(sum(TYPICAL_MG_L.values()))


def test_lanes_broadcast():
    water = Water.from_mg_l({"Na": np.array([10.0, 20.0, 30.0]), "Cl": 15.0}, 7.0, kelvin(np.array([[5.0], [25.0]])))
    assert water.lanes == (2, 3)
    assert water.ph.shape == water.conductivity.shape == water.osmotic.shape == water.tds.shape == (2, 3)
    assert water[1].lanes == (3,)
    assert water[0, 2].lanes == ()


def test_unknown_ions_are_refused():
    with pytest.raises(KeyError):
        Water.from_mg_l({"Xx": 1.0}, 7.0, 290.0)


def test_warming_conserves_totals_and_lowers_ph():
    cold = Water.from_mg_l(TYPICAL_MG_L, 7.4, kelvin(5.0))
    warm = cold.with_temperature(kelvin(25.0))
    assert warm.solutes is cold.solutes
    assert float(warm.carbon) == float(cold.carbon)
    assert float(warm.ph) < 7.4


def test_mixing_conserves_everything():
    a, b = natural(50, 1), natural(50, 2)
    share = np.linspace(0.0, 1.0, 50)
    mixed = a.mixed(b, share)
    assert mixed.solutes == pytest.approx((1 - share)[:, None] * a.solutes + share[:, None] * b.solutes)
    assert mixed.carbon == pytest.approx((1 - share) * a.carbon + share * b.carbon)
    assert mixed.temperature_k == pytest.approx((1 - share) * a.temperature_k + share * b.temperature_k)
    assert float(mixed.tds[0]) == pytest.approx(float(a.tds[0]))


def test_residue_is_less_than_tds_by_the_carbonic_acid_that_leaves():
    water = Water.from_mg_l({"Ca": 40.0, "HCO3": 122.0, "SiO2": 10.0}, 7.5, 285.0)
    assert float(water.residue) * 1e3 == pytest.approx(40.0 + 0.4917 * 122.0 + 10.0, abs=0.01)
    assert float(water.tds) * 1e3 == pytest.approx(172.0)


def test_every_number_a_user_sees_is_finite_for_deionised_water():
    water = Water(np.zeros(len(SOLUTES)), np.array(0.0), np.array(283.15))
    for name in (
        "ph",
        "co2",
        "conductivity",
        "tds",
        "residue",
        "hardness",
        "alkalinity_caco3",
        "osmotic",
        "ionic_strength",
    ):
        assert np.isfinite(getattr(water, name)), name
    assert float(water.conductivity) * 1e4 == pytest.approx(0.055, rel=0.02)


def test_importing_water_does_not_import_the_engine():
    code = (
        "import sys, rinsewright.water.speciation, rinsewright.water.field;"
        "sys.exit('phreeqc' in sys.modules or 'scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
