from __future__ import annotations

import numpy as np
import pytest

from rinsewright.quantities import kelvin
from rinsewright.water.carbonate import constants
from rinsewright.water.ions import INDEX
from rinsewright.water.scaling import THRESHOLDS, calcite_index, langelier_index, verdict, worst
from rinsewright.water.speciation import speciate
from rinsewright.water.state import Water
from tests.water.waters import natural


def test_verdict_words():
    assert [verdict("calcite", index) for index in (0.4, 1.2, 2.1)] == ["fine", "look", "stop"]
    assert [verdict("calcite", index, inhibitor=True) for index in (1.1, 2.2, 3.1)] == ["fine", "look", "stop"]
    assert verdict("calcite", None) == "fine"
    assert verdict("aragonite", 5.0) == "fine"


def test_the_worst_mineral_is_named():
    assert worst({"calcite": 1.2, "gypsum": 0.5, "barite": None}) == ("gypsum", "stop")
    assert worst({"calcite": 0.1, "silica": None}) == (None, "fine")
    assert worst({}) == (None, "fine")


def test_thresholds_are_ordered_and_say_where_they_come_from():
    for limit in THRESHOLDS.values():
        assert limit.look.value < limit.stop.value
        assert limit.inhibitor_credit.value >= 0.0
        assert limit.look.standing in ("read", "assumed", "from memory")
        assert limit.look.reference


# PHREEQC 3.8.6 phreeqc.dat; its calcite differs from Plummer & Busenberg by up to 0.009, its pairs by some more
def test_calcite_index_against_phreeqc():
    water = natural(200, 41, (-1.0, 0.3))
    reference = np.array([speciate(water[lane]).saturation["calcite"] for lane in range(200)], dtype=np.float64)
    difference = calcite_index(water) - reference
    assert np.sqrt((difference**2).mean()) < 0.015
    assert np.abs(difference).max() < 0.05


def test_no_calcium_no_index():
    water = Water.from_mg_l({"Na": 40.0, "HCO3": 106.0}, 7.5, kelvin(12.0))
    assert np.isneginf(calcite_index(water))


def test_calcite_index_is_ph_less_saturation_ph():
    """Langelier's definition with our own activities, pairs and constants: an identity, and so a test of them all."""
    water = natural(200, 42)
    medium, k = water.equilibrium.medium, constants(water.temperature_k)
    calcium, bicarbonate = medium.calcium * 1e-3 * medium.gamma**4, water.bicarbonate * 1e-3 * medium.gamma
    saturation_ph = -np.log10(k["HCO3"] * calcium * bicarbonate / k["calcite"])
    assert calcite_index(water) == pytest.approx(water.ph - saturation_ph, abs=1e-6)


def test_the_short_form_reads_low():
    water = natural(200, 42, (-0.7, 0.2))
    calcium = water.solutes[:, INDEX["Ca"]] * 100.0869e-3
    short = langelier_index(water.ph, water.temperature_k, water.tds, calcium, water.alkalinity_caco3)
    below = (calcite_index(water) - short)[(water.ph < 8.5) & (water.temperature_k < kelvin(30.0))]
    assert below.min() > 0.05
    assert below.max() < 0.4
