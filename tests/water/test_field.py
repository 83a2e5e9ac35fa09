from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rinsewright.errors import InputError
from rinsewright.quantities import US_CM, kelvin
from rinsewright.water.analysis import complete
from rinsewright.water.field import Readings, disagreements, from_analysis, from_readings
from rinsewright.water.ions import CHARGE, INDEX

T = float(kelvin(12.0))


def build(readings: Readings, seed: int = 1, **more):
    return from_readings(readings, T, rng=np.random.default_rng(seed), **more)


def shown(water, factor: float):
    return water.conductivity / US_CM * factor


CASES = [
    Readings(285.0, 0.5, 260.0, 235.0),
    Readings(285.0, 0.5, 260.0),
    Readings(285.0, 0.5, None, 235.0),
    Readings(285.0),
    Readings(400.0, 0.7, 0.0, 300.0),  # softened
    Readings(35.0, 0.64),
    Readings(2.0),
    Readings(1500.0, 0.5, 300.0, 200.0),
]


@pytest.mark.parametrize("readings", CASES)
@pytest.mark.parametrize("source", ["ground", "surface", "mixed"])
def test_every_member_is_neutral_and_gives_the_reading(readings, source):
    ensemble = build(readings, source=source, ph=7.4)
    for water in (ensemble.waters, ensemble.central):
        assert (water.solutes >= 0.0).all()
        assert np.abs(water.solutes @ CHARGE).max() < 1e-12
        assert shown(water, readings.meter_factor) == pytest.approx(readings.meter_ppm, rel=1e-9)
    assert ensemble.waters.lanes == (200,)
    assert ensemble.central.lanes == ()


@given(
    st.floats(20.0, 1000.0),
    st.sampled_from([0.5, 0.64, 0.7]),
    st.floats(0.0, 0.85),
    st.floats(0.0, 0.85),
    st.floats(6.5, 8.5),
)
def test_any_plausible_readings_are_met(ppm, factor, hardness, alkalinity, ph):
    room = 0.4 * ppm / factor  # mg/L as CaCO3 that the conductivity can carry
    readings = Readings(ppm, factor, hardness * room, alkalinity * room)
    ensemble = build(readings, ph=ph, members=20)
    assert shown(ensemble.waters, factor) == pytest.approx(ppm, rel=1e-9)
    assert float(ensemble.central.hardness) * 1e3 == pytest.approx(hardness * room, rel=1e-9, abs=1e-9)
    assert float(ensemble.central.alkalinity_caco3) * 1e3 == pytest.approx(alkalinity * room, rel=1e-9, abs=1e-9)


def test_measured_values_hold_within_their_error():
    ensemble = build(Readings(300.0, 0.5, 220.0, 200.0), ph=7.4, members=2000)
    assert (ensemble.waters.hardness.mean() * 1e3, ensemble.waters.hardness.std() * 1e3) == pytest.approx(
        (220.0, 11.0), rel=0.05
    )
    assert ensemble.waters.alkalinity_caco3.std() / ensemble.waters.alkalinity_caco3.mean() == pytest.approx(
        0.05, rel=0.1
    )


def test_fewer_readings_spread_wider():
    narrow = build(Readings(285.0, 0.5, 200.0, 180.0), ph=7.4).waters.alkalinity_caco3
    wide = build(Readings(285.0), ph=7.4).waters.alkalinity_caco3
    assert wide.std() > 2.0 * narrow.std()


@pytest.mark.parametrize(("ph_from", "spread"), [("meter", 0.1), ("report", 0.15), ("strip", 0.4)])
def test_ph_is_as_uncertain_as_its_origin(ph_from, spread):
    ensemble = build(CASES[0], ph=7.4, ph_from=ph_from, members=3000)
    assert ensemble.waters.ph.std() == pytest.approx(spread, rel=0.1)
    assert float(ensemble.central.ph) == pytest.approx(7.4, abs=1e-6)


def test_no_ph_is_said_and_wide():
    ensemble = build(CASES[0])
    assert any("No pH given" in note for note in ensemble.notes)
    assert ensemble.waters.ph.std() > 0.4


def test_the_seed_decides():
    same = [build(CASES[3], seed=7).waters.solutes for _ in range(2)]
    assert np.array_equal(*same)
    assert not np.array_equal(same[0], build(CASES[3], seed=8).waters.solutes)


@pytest.mark.parametrize(
    ("readings", "keys"),
    [
        (Readings(100.0, 0.5, 300.0), ["hardness_mg_l_caco3"]),
        (Readings(100.0, 0.5, None, 300.0), ["alkalinity_mg_l_caco3"]),
        (Readings(100.0, 0.5, 300.0, 250.0), ["hardness_mg_l_caco3", "alkalinity_mg_l_caco3"]),
    ],
)
def test_impossible_readings_name_the_keys(readings, keys):
    with pytest.raises(InputError) as caught:
        build(readings, ph=7.4)
    assert [problem.key for problem in caught.value.problems] == [f"water.field.{key}" for key in keys]
    assert all("water.field.meter_ppm 100" in problem.message for problem in caught.value.problems)


# From memory: at infinite dilution H+ carries 350 S cm2/mol at 25 °C, so that pH 3 alone reads 175 ppm at factor 0.5.
@pytest.mark.parametrize("ppm", [0.5, 30.0, 150.0])
def test_a_ph_that_reads_more_than_the_meter_is_refused(ppm):
    with pytest.raises(InputError, match=rf"water.ph: pH 3 does not go with water.field.meter_ppm {ppm:g}"):
        build(Readings(ppm), ph=3.0)


def test_a_ph_that_the_alkalinity_does_not_hold_gives_way_and_says_so():
    ensemble = build(Readings(2.0, 0.5, None, 0.0), ph=9.5)
    assert float(ensemble.central.ph) < 8.0
    assert any("pH 9.50 does not go with an alkalinity of 0 mg/L" in note for note in ensemble.notes)


@pytest.mark.parametrize(
    ("readings", "key"),
    [
        (Readings(0.0), "meter_ppm"),
        (Readings(float("nan")), "meter_ppm"),
        (Readings(100.0, 0.0), "meter_factor"),
        (Readings(100.0, 0.5, -5.0), "hardness_mg_l_caco3"),
    ],
)
def test_bad_numbers_are_refused(readings, key):
    with pytest.raises(InputError, match=f"water.field.{key}: must be a number"):
        build(readings)


def test_around_an_analysis():
    full = {"Ca": 110, "Mg": 5, "Na": 15, "K": 2, "HCO3": 300, "SO4": 30, "Cl": 30, "NO3": 25, "SiO2": 12}
    done = complete(full, 7.3, T, "strip")
    ensemble = from_analysis(done, members=3000, rng=np.random.default_rng(2))
    waters = ensemble.waters
    assert np.abs(waters.solutes @ CHARGE).max() < 1e-12
    assert (waters.solutes >= 0.0).all()
    spread = waters.solutes.std(0) / np.where(waters.solutes.mean(0) > 0.0, waters.solutes.mean(0), 1.0)
    assert spread[INDEX["SiO2"]] == pytest.approx(0.05, rel=0.1)
    assert 0.03 < spread[INDEX["Ca"]] < spread[INDEX["NO3"]] < 0.07  # neutrality holds the main ions together
    assert waters.solutes.mean(0) == pytest.approx(done.water.solutes, rel=0.01)
    assert waters.ph.std() == pytest.approx(0.4, rel=0.1)
    assert ensemble.central is done.water


def test_around_a_pure_salt_and_around_nothing():
    for ions in ({"Na": 196.7, "Cl": 303.4}, {}):
        waters = from_analysis(complete(ions, None, T), members=50, rng=np.random.default_rng(3)).waters
        assert np.isfinite(waters.conductivity).all()
        assert (waters.carbon == 0.0).all()
        assert np.abs(waters.solutes @ CHARGE).max() < 1e-12


def test_field_readings_check_an_analysis():
    water = complete({"Ca": 100, "HCO3": 304.5}, 7.4, T).water
    ppm = float(shown(water, 0.5))
    assert disagreements(water, Readings(ppm, 0.5, 250.0, 250.0)) == []
    told = disagreements(water, Readings(1.5 * ppm, 0.5, 100.0, None))
    assert len(told) == 2
    assert "water.field.meter_ppm" in told[0]
    assert "water.field.hardness_mg_l_caco3" in told[1]
