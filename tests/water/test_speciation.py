from __future__ import annotations

import threading

import numpy as np
import pytest

from rinsewright.errors import InputError, RinsewrightError
from rinsewright.quantities import kelvin
from rinsewright.water import speciation
from rinsewright.water.ions import INDEX, SOLUTES
from rinsewright.water.speciation import saturation, speciate, versions
from rinsewright.water.state import Water
from tests.water.waters import TYPICAL_MG_L, natural

HARD = {"Ca": 110, "Mg": 5, "Na": 19.3, "K": 2, "HCO3": 300, "SO4": 30, "Cl": 30, "NO3": 25, "SiO2": 12}


def hard() -> Water:
    return Water.from_mg_l(HARD, 7.3, kelvin(10.0))


def test_versions_of_engine_and_database():
    assert versions()["phreeqc"].startswith("3.")
    assert versions()["database"] == "phreeqc.dat"
    assert speciate(hard()).versions == versions()


def test_ph_is_solved_from_carbon_and_alkalinity():
    water = hard()
    assert speciate(water).ph == pytest.approx(7.3, abs=0.01)
    stripped = Water(water.solutes, water.carbon - 0.9 * water.co2, water.temperature_k)
    assert speciate(stripped).ph > 8.0


def test_minerals_without_their_ions_have_no_index():
    found = saturation(hard())
    assert found["barite"] is None
    assert found["fluorite"] is None
    assert found["calcite"] is not None
    assert all(index is not None for index in saturation(natural(1, 1)[0]).values())


def test_every_solute_reaches_the_engine():
    """Concentrating any one of them raises the ionic strength, or for silica its own index."""
    base = natural(1, 2, (0.0, 0.0))[0]
    before = speciate(base)
    for name in TYPICAL_MG_L:
        solutes = base.solutes.copy()
        solutes[INDEX[name]] += 0.5
        after = speciate(Water(solutes, base.carbon + 0.5, base.temperature_k))
        if name == "SiO2":
            indices = before.saturation["silica"], after.saturation["silica"]
            assert indices[0] is not None
            assert indices[1] is not None
            assert indices[0] < indices[1]
        elif name != "B":
            assert after.ionic_strength > before.ionic_strength, name


@pytest.mark.parametrize("carbon", [0.0, 1e-12, 1e-3, 0.6])
def test_waters_without_alkalinity(carbon):
    nothing = Water(np.zeros(len(SOLUTES)), np.array(carbon), kelvin(15.0))
    salt = Water.from_mg_l({"Na": 39.34, "Cl": 60.66}, 7.0, kelvin(15.0))
    for water in (nothing, Water(salt.solutes, np.array(carbon), salt.temperature_k)):
        assert speciate(water).ph == pytest.approx(float(water.ph), abs=0.02)


def test_an_acid_water():
    solutes = np.zeros(len(SOLUTES))
    solutes[INDEX["HCO3"]], solutes[INDEX["Cl"]] = -0.2, 0.2
    water = Water(solutes, np.array(0.5), kelvin(15.0))
    assert speciate(water).ph == pytest.approx(float(water.ph), abs=0.01)


@pytest.mark.parametrize(("name", "amount"), [("Ca", -1.0), ("Ca", np.nan), ("SiO2", np.inf), ("HCO3", np.nan)])
def test_nonsense_never_reaches_the_engine(name, amount):
    solutes = hard().solutes.copy()
    solutes[INDEX[name]] = amount
    with pytest.raises(InputError, match=f"{name}: must be a finite concentration"):
        speciate(Water(solutes, np.array(5.0), kelvin(10.0)))


@pytest.mark.parametrize("celsius", [-5.0, 80.0, np.nan])
def test_temperatures_outside_the_range_are_refused(celsius):
    water = hard()
    with pytest.raises(InputError, match="between 0 and 60 °C"):
        speciate(Water(water.solutes, water.carbon, kelvin(celsius)))


def test_negative_carbon_is_refused():
    with pytest.raises(InputError, match="total inorganic carbon: must be"):
        speciate(Water(hard().solutes, np.array(-1.0), kelvin(10.0)))


def test_a_batch_is_refused():
    with pytest.raises(ValueError, match="one water at a time"):
        speciate(natural(3, 3))


def test_the_engines_complaints_are_passed_on():
    with pytest.raises(RinsewrightError, match="could not speciate"):
        speciation._run("SOLUTION 1\n Xx 1\nEND\n")
    assert speciate(hard()).ph == pytest.approx(7.3, abs=0.01)  # and the instance still works


def test_threads_do_not_share_an_instance():
    waters = natural(40, 4)
    alone = [speciate(waters[lane]).ph for lane in range(40)]
    found: dict[int, float] = {}

    def work(start: int) -> None:
        for lane in range(start, 40, 4):
            found[lane] = speciate(waters[lane]).ph

    threads = [threading.Thread(target=work, args=(start,)) for start in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [found[lane] for lane in range(40)] == pytest.approx(alone, abs=1e-9)  # it starts from its last solution


def test_conductivity_is_at_25_degrees():
    water = hard()
    assert speciate(water).conductivity == pytest.approx(float(water.conductivity), rel=0.03)
