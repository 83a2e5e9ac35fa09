from __future__ import annotations

import numpy as np
import pytest

from rinsewright.quantities import GAS_CONSTANT, kelvin
from rinsewright.water.carbonate import debye_huckel
from rinsewright.water.ions import INDEX, SOLUTES
from rinsewright.water.osmotic import osmotic_coefficient, osmotic_pressure
from tests.water.waters import natural


def test_pure_water_has_none():
    nothing = np.zeros((3, len(SOLUTES)))
    assert osmotic_pressure(nothing, kelvin(10.0)).tolist() == [0.0, 0.0, 0.0]
    assert osmotic_coefficient(nothing, kelvin(10.0)).tolist() == [1.0, 1.0, 1.0]


def test_silica_alone_follows_van_t_hoff():
    solutes = np.zeros(len(SOLUTES))
    solutes[INDEX["SiO2"]] = 0.2
    assert float(osmotic_pressure(solutes, kelvin(20.0))) == pytest.approx(0.2 * GAS_CONSTANT * float(kelvin(20.0)))


def test_series_and_closed_form_meet():
    """The coefficient is smooth where the branch for dilute waters ends (√I = 0.02)."""
    solutes = np.zeros((400, len(SOLUTES)))
    solutes[:, INDEX["Na"]] = solutes[:, INDEX["Cl"]] = np.linspace(0.39, 0.41, 400)
    steps = np.diff(osmotic_coefficient(solutes, kelvin(20.0)))
    assert steps == pytest.approx(np.full(399, steps.mean()), rel=0.05)


def test_gibbs_duhem():
    """φ goes with the activity coefficient that it was integrated from: d(φ m)/dm = 1 + m dlnγ/dm for one salt."""
    m = np.linspace(0.01, 0.3, 4000)
    solutes = np.zeros((m.size, len(SOLUTES)))
    solutes[:, INDEX["Na"]] = solutes[:, INDEX["Cl"]] = m * 1e3
    root = np.sqrt(m)
    ln_gamma = -np.log(10.0) * float(debye_huckel(298.15)) * (root / (1.0 + root) - 0.2 * m)
    left = np.gradient(osmotic_coefficient(solutes, 298.15) * m, m)[5:-5]
    right = (1.0 + m * np.gradient(ln_gamma, m))[5:-5]
    assert left == pytest.approx(right, abs=1e-4)


def test_grows_with_concentration():
    water = natural(200, 31)
    double = osmotic_pressure(2.0 * water.solutes, water.temperature_k)
    assert (double > 1.9 * water.osmotic).all()
    assert (double < 2.02 * water.osmotic).all()
