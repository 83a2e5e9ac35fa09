from __future__ import annotations

import numpy as np
import pytest

from rinsewright.quantities import US_CM, kelvin
from rinsewright.water.ions import INDEX, SOLUTES
from rinsewright.water.meter import Meter, meter_ppm
from rinsewright.water.speciation import speciate
from rinsewright.water.state import Water
from tests.water.waters import natural


# PHREEQC 3.8.6 (phreeqc.dat) at 25 °C; it treats sulphate in mixed waters oddly, see
# tests/published/test_chemistry_conductivity.py
def test_natural_waters_against_phreeqc():
    water = natural(250, 21, (-1.5, 0.3))
    reference = np.array([speciate(water[lane]).conductivity for lane in range(250)])
    difference = water.conductivity / reference - 1.0
    assert np.sqrt((difference**2).mean()) < 0.02
    assert np.abs(difference).max() < 0.05


# PHREEQC again, single salts at 25 °C (CRC agrees with it within 0.9 %): 1.5 %, sulphates of Na and K without their
# pairs 3.5 %
@pytest.mark.parametrize(
    ("cation", "anion", "tolerance"),
    [("Ca", "Cl", 0.015), ("Mg", "Cl", 0.015), ("Ca", "NO3", 0.015), ("Ca", "HCO3", 0.015), ("Na", "HCO3", 0.015),
     ("Mg", "HCO3", 0.03), ("Na", "SO4", 0.035), ("K", "SO4", 0.035), ("Mg", "SO4", 0.035), ("Ca", "SO4", 0.025)],
)  # fmt: skip
def test_single_salts_against_phreeqc(cation, anion, tolerance):
    for mol_m3 in (0.5, 2.0, 8.0):
        solutes = np.zeros(len(SOLUTES))
        z_cation, z_anion = (2 if name in {"Ca", "Mg", "SO4"} else 1 for name in (cation, anion))
        solutes[INDEX[cation]], solutes[INDEX[anion]] = mol_m3 * z_anion / z_cation, mol_m3
        carbon = 1.05 * mol_m3 if anion == "HCO3" else 0.0
        water = Water(solutes, np.array(carbon), kelvin(25.0))
        assert float(water.conductivity) == pytest.approx(speciate(water).conductivity, rel=tolerance), mol_m3


def test_carbonic_acid_is_seen_by_the_meter_and_leaves_no_residue():
    solutes = np.zeros(len(SOLUTES))
    acid = Water(solutes, np.array(27e-3 / 44.0095e-3), kelvin(25.0))  # 27 mg/L CO2
    assert 2.0 < float(meter_ppm(acid.conductivity, 0.5)) < 4.0
    assert float(acid.residue) == 0.0
    silica = solutes.copy()
    silica[INDEX["SiO2"]] = 0.2
    glass = Water(silica, np.array(0.0), kelvin(25.0))
    assert float(meter_ppm(glass.conductivity, 0.5)) < 0.1
    assert float(glass.residue) == pytest.approx(0.2 * 60.0843e-3)


def test_conductivity_rises_with_temperature_and_strength():
    ions = {"Ca": 80.0, "HCO3": 200.0, "Cl": 25.6}
    warm = Water.from_mg_l(ions, 7.4, kelvin(np.linspace(1.0, 35.0, 30)))
    assert (np.diff(warm.conductivity_at_temperature) > 0.0).all()
    strength = np.linspace(0.01, 5.0, 30)
    strong = Water.from_mg_l({name: value * strength for name, value in ions.items()}, 7.4, kelvin(12.0))
    assert (np.diff(strong.conductivity) > 0.0).all()


def test_meter_rounds_and_ends():
    water = Water.from_mg_l({"Na": np.array([40.0, 9000.0]), "Cl": np.array([61.7, 13878.0])}, 7.0, kelvin(25.0))
    shown = Meter().reading(water)
    exact = meter_ppm(water.conductivity, 0.5)
    assert float(shown[0]) == round(float(exact[0]))
    assert np.isnan(shown[1])
    coarse = Meter(factor=0.7, resolution_ppm=10.0)
    assert float(coarse.reading(water)[0]) == round(1.4 * float(exact[0]) / 10.0) * 10.0


def test_meter_compensations_agree_at_25_degrees_and_differ_in_the_cold():
    kinds = [Meter(compensation=kind, resolution_ppm=0.0) for kind in ("linear", "iso7888", "none")]
    warm = Water.from_mg_l({"Na": 40.0, "Cl": 61.7}, 7.0, kelvin(25.0))
    assert np.ptp([float(meter.reading(warm)) for meter in kinds]) == pytest.approx(0.0, abs=1e-9)
    cold = [float(meter.reading(warm.with_temperature(kelvin(2.0)))) for meter in kinds]
    assert cold[0] > cold[1] > cold[2]
    assert float(warm.conductivity) / US_CM == pytest.approx(2.0 * float(kinds[2].reading(warm)))
