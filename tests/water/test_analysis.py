from __future__ import annotations

import numpy as np
import pytest

from rinsewright.errors import InputError
from rinsewright.quantities import kelvin
from rinsewright.water.analysis import PH_SPREAD, complete
from rinsewright.water.ions import CHARGE, MOLAR_MASS, SOLUTES

T = float(kelvin(12.0))
FULL = {"Ca": 110, "Mg": 5, "Na": 15, "K": 2, "HCO3": 300, "SO4": 30, "Cl": 30, "NO3": 25, "SiO2": 12}


def neutral(water) -> bool:
    return abs(float(water.solutes @ CHARGE)) < 1e-12


def test_a_full_analysis_is_closed_and_says_so():
    done = complete(FULL, 7.3, T, "report")
    assert done.charge_balance_pct == pytest.approx(-1.4, abs=0.05)  # anions exceed
    assert done.closed_on == "Na"
    assert neutral(done.water)
    assert any("Na is raised" in note and "-1.4 %" in note for note in done.notes)
    assert float(done.water.ph) == pytest.approx(7.3, abs=1e-6)
    assert done.ph_spread == PH_SPREAD["report"]


@pytest.mark.parametrize(("left_out", "closed_on"), [("HCO3", "HCO3"), ("Cl", "Cl"), ("Na", "Na")])
def test_a_missing_ion_is_completed(left_out, closed_on):
    balanced = {name: float(value) for name, value in complete(FULL, 7.3, T).water.ions_mg_l().items() if name in FULL}
    rest = {name: value for name, value in balanced.items() if name != left_out}
    done = complete(rest, 7.3, T)
    assert done.closed_on == closed_on
    assert float(done.water.ions_mg_l()[left_out]) == pytest.approx(balanced[left_out], rel=1e-9)
    assert any("was not given" in note for note in done.notes)


def test_a_doubtful_balance_is_flagged():
    done = complete({**FULL, "Ca": 160.0}, 7.3, T)
    assert done.charge_balance_pct > 10.0
    assert any("beyond ±10 %" in note for note in done.notes)
    assert neutral(done.water)


def test_a_balanced_single_salt_stays_as_it_is():
    mol = 500e-3 / (MOLAR_MASS[2] + MOLAR_MASS[11])
    salt = {"Na": mol * MOLAR_MASS[2] * 1e3, "Cl": mol * MOLAR_MASS[11] * 1e3}
    done = complete(salt, None, T)
    found = done.water.ions_mg_l()
    assert (float(found["Na"]), float(found["Cl"])) == pytest.approx((salt["Na"], salt["Cl"]), rel=1e-14)
    assert sum(float(value) > 0.0 for value in found.values()) == 2
    assert done.closed_on == ""
    assert done.notes == []
    assert float(done.water.carbon) == 0.0


def test_a_rounded_single_salt_gets_no_alkalinity():
    done = complete({"Na": 196.7, "Cl": 303.3}, None, T)
    assert float(done.water.ions_mg_l()["HCO3"]) == 0.0
    assert neutral(done.water)
    assert done.notes == []


def test_a_salt_with_a_ph_has_the_carbon_that_gives_it():
    done = complete({"Na": 196.7, "Cl": 303.4}, 5.6, T)
    assert float(done.water.ph) == pytest.approx(5.6, abs=1e-6)
    assert float(done.water.carbon) > 0.0


def test_an_impossible_ph_is_reported():
    done = complete({"Na": 196.7, "Cl": 303.4}, 8.5, T)
    assert float(done.water.carbon) == 0.0
    assert any("pH 8.50 does not go with" in note for note in done.notes)


def test_a_missing_ph_is_an_assumption():
    done = complete(FULL, None, T)
    assert 7.0 < float(done.water.ph) < 8.0
    assert done.ph_spread == 0.5
    assert any("No pH given" in note for note in done.notes)


def test_all_problems_are_told_at_once():
    with pytest.raises(InputError) as caught:
        complete({"CA": 5.0, "Na": -1.0, "Cl": float("nan"), "Qq": 1.0}, 7.0, T)
    text = str(caught.value)
    assert "did you mean Ca?" in text
    assert "water.ions_mg_l.Na: must be a number of at least 0 mg/L, not -1.0" in text
    assert "water.ions_mg_l.Cl" in text
    assert len(caught.value.problems) == 4


def test_nothing_gets_negative_whatever_comes_in():
    rng = np.random.default_rng(8)
    for _ in range(300):
        names = rng.choice(SOLUTES, rng.integers(1, 12), replace=False)
        done = complete({str(name): float(10.0 ** rng.uniform(-2, 2.5)) for name in names}, 7.5, T)
        assert (done.water.solutes >= 0.0).all()
        assert abs(float(done.water.solutes @ CHARGE)) < 1e-11
        assert np.isfinite(done.water.conductivity)


def test_deionised_water():
    done = complete({}, None, T)
    assert done.charge_balance_pct == 0.0
    assert float(done.water.tds) == 0.0
