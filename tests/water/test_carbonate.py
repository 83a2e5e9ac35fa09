from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rinsewright.water import carbonate
from rinsewright.water.ions import INDEX, SOLUTES
from rinsewright.water.speciation import speciate
from rinsewright.water.state import Water
from tests.water.waters import natural


def lanes(alkalinity: np.ndarray) -> np.ndarray:
    """Solutes of these alkalinities, made neutral with Na and Cl."""
    solutes = np.zeros((*alkalinity.shape, len(SOLUTES)))
    solutes[..., INDEX["HCO3"]] = alkalinity
    solutes[..., INDEX["Na"]] = np.maximum(alkalinity, 0.0)
    solutes[..., INDEX["Cl"]] = np.maximum(-alkalinity, 0.0)
    return solutes


def residual(solutes: np.ndarray, carbon: np.ndarray, temperature_k: np.ndarray) -> np.ndarray:
    """Alkalinity put together again from the species, less that given [eq/m3]."""
    e = carbonate.equilibrium(solutes, carbon, temperature_k)
    bicarbonate = e.bicarbonate * e.medium.bicarbonate_pairs
    carbonates = e.carbonate * e.medium.carbonate_pairs
    return np.asarray(bicarbonate + 2 * carbonates + e.hydroxide - e.h + e.weak_anions - e.medium.alkalinity)


def test_alkalinity_and_carbon_come_back_from_any_water():
    """Deionised to sea, acid to caustic, with and without carbon and other weak acids, in one batch."""
    rng = np.random.default_rng(3)
    n = 50_000
    alkalinity = np.where(rng.random(n) < 0.3, -1.0, 1.0) * 10.0 ** rng.uniform(-6.0, 1.5, n)
    solutes = lanes(alkalinity)
    for name in ("SiO2", "PO4", "B", "NH4", "Ca", "SO4"):
        solutes[:, INDEX[name]] = 10.0 ** rng.uniform(-6.0, 0.5, n) * (rng.random(n) < 0.5)
    carbon = 10.0 ** rng.uniform(-6.0, 1.7, n) * (rng.random(n) < 0.95)
    t = rng.uniform(273.15, 333.15, n)
    e = carbonate.equilibrium(solutes, carbon, t)
    assert np.isfinite(e.ph).all()
    total = e.co2 + e.bicarbonate * e.medium.bicarbonate_pairs + e.carbonate * e.medium.carbonate_pairs
    assert total == pytest.approx(carbon, rel=1e-9, abs=1e-15)
    scale = np.abs(alkalinity) + carbon + e.h + e.hydroxide
    assert (np.abs(residual(solutes, carbon, t)) / scale).max() < 1e-7


@given(st.floats(-1.0, 20.0), st.floats(0.0, 20.0), st.floats(273.15, 333.15), st.floats(0.0, 0.5), st.floats(0.0, 0.3))
def test_ph_solves_the_charge_balance(alkalinity, carbon, temperature, silica, phosphate):
    solutes = lanes(np.array(alkalinity))
    solutes[INDEX["SiO2"]], solutes[INDEX["PO4"]] = silica, phosphate
    left = residual(solutes, np.array(carbon), np.array(temperature))
    assert abs(float(left)) < 1e-7 * (abs(alkalinity) + carbon + 1.0)


def test_ph_and_carbon_are_each_others_inverse():
    water = natural(2000, 5)
    again = Water.from_ph(water.solutes, water.ph, water.temperature_k)
    assert again.carbon == pytest.approx(water.carbon, rel=1e-6)


def test_carbon_for_a_held_co2():
    water = natural(2000, 6)
    carbon = carbonate.carbon_at_co2(water.solutes, water.co2, water.temperature_k)
    assert carbon == pytest.approx(water.carbon, rel=1e-8)
    acid = lanes(np.array([-0.5, -1e-4, 0.0, 1e-4]))
    t = np.full(4, 288.15)
    carbon = carbonate.carbon_at_co2(acid, 0.02, t)
    assert carbonate.equilibrium(acid, carbon, t).co2 == pytest.approx(np.full(4, 0.02), rel=1e-8)


def test_more_carbon_never_raises_ph_and_more_alkalinity_never_lowers_it():
    t = np.full(400, 285.0)
    carbon = np.geomspace(1e-6, 50.0, 400)
    assert (np.diff(carbonate.equilibrium(lanes(np.full(400, 2.0)), carbon, t).ph) <= 1e-9).all()
    alkalinity = np.linspace(-1.0, 10.0, 400)
    assert (np.diff(carbonate.equilibrium(lanes(alkalinity), np.full(400, 3.0), t).ph) >= -1e-9).all()


def test_without_alkalinity():
    t = np.array(298.15)
    nothing = lanes(np.array(0.0))
    assert float(carbonate.carbon_at_ph(nothing, 8.0, t)) == 0.0  # only water: the pH cannot be met
    carbon = carbonate.carbon_at_ph(nothing, 5.0, t)  # carbonic acid alone
    assert float(carbonate.equilibrium(nothing, carbon, t).ph) == pytest.approx(5.0, abs=1e-6)


def test_strong_acid():
    acid = lanes(np.array(-1.0))
    e = carbonate.equilibrium(acid, np.array(0.0), np.array(298.15))
    assert float(e.h) == pytest.approx(1.0, rel=1e-6)
    assert float(e.ph) == pytest.approx(3.0 - np.log10(0.965), abs=2e-3)  # γ of H+ at 1 mmol/L by Davies


def test_lanes_do_not_touch_one_another():
    water = natural(60, 7)
    alone = [float(water[lane].ph) for lane in range(60)]
    assert water.ph == pytest.approx(np.array(alone), rel=1e-12)
    grid = Water(water.solutes.reshape(5, 12, 17), water.carbon.reshape(5, 12), water.temperature_k.reshape(5, 12))
    assert grid.ph.reshape(-1) == pytest.approx(water.ph, rel=1e-12)


# Against PHREEQC 3.8.6 (phreeqc.dat), from total carbon and alkalinity. It has more ion pairs and per-ion activity
# coefficients: the difference grows with strength. Root mean squares, and the worst of 250 waters.
@pytest.mark.parametrize(("dilution", "rms", "worst"), [((-2.0, -0.5), 0.003, 0.02), ((-0.5, 0.2), 0.01, 0.08)])
def test_ph_and_co2_against_phreeqc(dilution, rms, worst):
    water = natural(250, 11, dilution)
    reference = [speciate(water[lane]) for lane in range(250)]
    ph = water.ph - np.array([each.ph for each in reference])
    co2 = np.log10(water.co2 / np.array([each.co2 for each in reference]))
    strength = water.ionic_strength / np.array([each.ionic_strength for each in reference]) - 1.0
    for difference in (ph, co2):
        assert np.sqrt((difference**2).mean()) < rms
        assert np.abs(difference).max() < worst
    assert np.abs(strength).max() < 0.08  # carbonate pairs near pH 8.8
