"""Resin through a year against the single-inlet theory, mass balance and what a practitioner does."""

import numpy as np
import pytest

from rinsewright.plant.product.resin import Bed, Load, exhaustion, reading
from rinsewright.seasons.beds import BY_DATE, BY_READING, MOST_PORTIONS, Inflow, march_beds
from rinsewright.water.ions import CHARGE, INDEX, MOLAR_MASS

CHALK = {"Ca": 110, "Mg": 5, "Na": 15, "K": 2, "HCO3": 300, "SO4": 30, "Cl": 30, "NO3": 25, "SiO2": 12}  # mg/L, our own
SOFT = {"Ca": 15, "Mg": 2, "Na": 8, "HCO3": 40, "SO4": 12, "Cl": 10, "NO3": 1, "SiO2": 4}
DAYS = 365
BED = Bed(7e-3)


def water(mg_l, share, ph):
    """Solutes [mol/m3] closed on Cl or Na, and CO2 at about 12 °C by Henderson-Hasselbalch; one lane."""
    solutes = np.zeros(17)
    for name, value in mg_l.items():
        solutes[INDEX[name]] = value * 1e-3 / MOLAR_MASS[INDEX[name]]
    excess = float(CHARGE @ solutes)
    solutes[INDEX["Cl" if excess > 0 else "Na"]] += abs(excess)
    return share * solutes[None], np.array([mg_l["HCO3"] / 61.017 / 10 ** (ph - 6.40)])


def inflow(solutes, co2, volume, strength=1.0):
    """Water of one composition; ``volume`` (members, days), its strength (members, days) or the same every day."""
    load = Load.of(solutes, co2)
    amount = volume * strength
    return Inflow(
        volume,
        load.cations[:, :, None] * amount,
        load.anions[:, :, None] * amount,
        load.carbonic[:, None] * amount,
        load.silica[:, None] * amount,
    )


def every_day(m3, days=DAYS):
    return np.full((1, days), float(m3))


def working_days(members=1, m3=0.25, seed=3):
    """Five days a week, no two alike."""
    chance = np.random.default_rng(seed)
    return m3 * chance.uniform(0.3, 1.7, (members, DAYS)) * (np.arange(DAYS) % 7 < 5)


def swinging(members=1, seed=5):
    """Strength over the year, member by member."""
    chance = np.random.default_rng(seed)
    phase = chance.uniform(0.0, 2.0 * np.pi, (members, 1))
    return 1.0 + 0.4 * np.sin(2.0 * np.pi * np.arange(DAYS) / DAYS + phase)


def not_booked(run, came):
    """What is neither held nor left nor taken away, as a share of what came."""
    rest = came.amounts.sum(axis=-1) - run.leaving.sum(axis=-1) - run.held - run.taken_away
    return np.abs(rest).max() / came.amounts.sum(axis=-1).max()


CASES = [
    (CHALK, 0.03, 7.3, 10e-4), (CHALK, 0.03, 7.3, 4e-4), (CHALK, 0.06, 7.8, 20e-4),
    (SOFT, 0.1, 8.5, 10e-4), (CHALK, 1.0, 7.3, 20e-4), (SOFT, 1.0, 8.5, 20e-4),
]  # fmt: skip


@pytest.mark.parametrize(("mg_l", "share", "ph", "limit"), CASES)
def test_even_days_end_where_the_single_inlet_says(mg_l, share, ph, limit):
    solutes, co2 = water(mg_l, share, ph)
    alone = exhaustion(BED, solutes, co2, limit)
    day = alone.m3_to_limit[0] / 100.0
    run = march_beds(BED, inflow(solutes, co2, every_day(day)), limit)
    changed = np.flatnonzero(run.changes[0])
    assert len(changed) == 3
    assert changed * day == pytest.approx(np.arange(1, 4) * alone.m3_to_limit, rel=0.03)
    if alone.limited_by != ("carbonic acid",):
        slip = np.argmax(run.slipped[0]) + 0.5
        assert slip * day == pytest.approx(alone.m3_to_first_slip[0], rel=0.03, abs=0.5 * day)


@pytest.mark.parametrize(("mg_l", "share", "ph", "limit"), CASES)
def test_twice_the_cells_move_the_changes_by_less_than_three_percent(mg_l, share, ph, limit):
    solutes, co2 = water(mg_l, share, ph)
    day = exhaustion(BED, solutes, co2, limit).m3_to_limit[0] / 170.0
    came = inflow(solutes, co2, every_day(day))
    coarse, fine = march_beds(BED, came, limit), march_beds(BED, came, limit, cells=32)
    assert coarse.changes.sum() == fine.changes.sum() == 2
    assert np.flatnonzero(coarse.changes[0]) == pytest.approx(np.flatnonzero(fine.changes[0]), rel=0.03)


@pytest.mark.parametrize("bed", [Bed(7e-3), Bed(4e-3, vessels=2)])
@pytest.mark.parametrize("dates", [{}, {"change_on": (40, 200)}, {"change_after_days": 90}])
def test_every_equivalent_is_booked(bed, dates):
    solutes, co2 = water(CHALK, 0.05, 7.3)
    came = inflow(solutes, co2, working_days(3), swinging(3))
    run = march_beds(bed, came, 10e-4, **dates)
    assert run.changes.sum() > 6
    assert not_booked(run, came) < 1e-9
    assert (run.held >= 0.0).all()
    assert (run.taken_away > -1e-12).all()
    assert (run.leaving > -1e-12).all()
    room = bed.vessels * np.array([float(bed.cation_eq), float(bed.anion_eq)])
    assert (run.held[:4].sum(axis=0) <= room[0] * (1.0 + 1e-9)).all()
    assert (run.held[4:].sum(axis=0) <= room[1] * (1.0 + 1e-9)).all()
    # No vessel goes away with more than it can hold.
    changes = run.changes.sum(axis=1)
    assert (run.taken_away[:4].sum(axis=0) <= changes * room[0] / bed.vessels * (1.0 + 1e-9)).all()
    assert (run.taken_away[4:].sum(axis=0) <= changes * room[1] / bed.vessels * (1.0 + 1e-9)).all()


def test_members_marched_together_or_alone_give_the_same_numbers():
    solutes, co2 = water(CHALK, 0.04, 7.3)
    volume, strength = working_days(5), swinging(5)
    volume[3, 200:] = 0.0
    sizes = np.array([7e-3, 4e-3, 9e-3, 5e-3, 3e-3])
    limits = np.array([10e-4, 10e-4, 4e-4, 10e-4, 20e-4])
    together = march_beds(Bed(sizes), inflow(solutes, co2, volume, strength), limits)
    for member in range(5):
        one = slice(member, member + 1)
        came = inflow(solutes, co2, volume[one], strength[one])
        alone = march_beds(Bed(sizes[member]), came, limits[member])
        for name in ("reading", "worst", "silica", "changes", "reasons", "spent", "slipped"):
            np.testing.assert_array_equal(getattr(together, name)[one], getattr(alone, name), err_msg=name)


def test_a_lag_keeps_the_water_pure_while_its_lead_slips():
    solutes, co2 = water(CHALK, 0.03, 7.3)
    limit = 10e-4
    lead = exhaustion(Bed(4e-3, vessels=2), solutes, co2, limit)
    day = lead.m3_to_limit[0] / 60.0
    came = inflow(solutes, co2, every_day(day))
    single, double = march_beds(Bed(4e-3), came, limit), march_beds(Bed(4e-3, vessels=2), came, limit)
    # The first lead is changed where a vessel by itself would be, and its lag has let no salt through.
    first = np.argmax(double.changes[0])
    assert first == pytest.approx(np.argmax(single.changes[0]), abs=1)
    assert np.nanmax(single.worst) == limit
    assert np.nanmax(double.worst) == pytest.approx(lead.plateau[0], rel=1e-6)
    # The carbonic acid that leads let go fills the lags until one day it passes.
    slip = np.argmax(double.slipped[0]) + 0.5
    assert slip * day == pytest.approx(lead.m3_to_first_slip[0], rel=0.05)
    assert slip > 1.7 * (np.argmax(single.slipped[0]) + 0.5)
    # A lag that comes forward has carbonic acid on it, which salts push off: it lasts about as long as a new one.
    assert np.diff(np.flatnonzero(double.changes[0])) == pytest.approx(60.0, rel=0.05)


def test_where_the_water_meets_the_limit_nothing_is_changed():
    solutes, co2 = water(SOFT, 0.03, 8.5)
    came = inflow(solutes, co2, every_day(1.0))
    load = Load.of(solutes, co2)
    inlet = reading(load.cations, load.anions, load.carbonic)[0]
    run = march_beds(Bed(1e-3), came, 1.01 * inlet)
    assert run.changes.sum() == 0
    assert run.spent.sum() == 0.0
    assert (run.reasons == -1).all()
    assert run.reading[0, 0] < 0.1e-4
    assert run.reading[0, -1] == pytest.approx(inlet, rel=1e-6)  # exhausted, and never missed


def test_changes_by_date_come_before_the_water_of_that_day():
    solutes, co2 = water(CHALK, 0.03, 7.3)
    day = exhaustion(BED, solutes, co2, 10e-4).m3_to_first_slip[0] / 20.0
    volume = every_day(day, 100)
    volume[0, 59:70] = 0.0
    run = march_beds(BED, inflow(solutes, co2, volume), 10e-4, change_on=(31, 61, 101))
    assert np.flatnonzero(run.changes[0]).tolist() == [30, 60]  # on the day itself, wet or dry; day 101 does not come
    assert set(run.reasons[0][[30, 60]]) == {BY_DATE}
    assert run.slipped[0, 29]
    assert not run.slipped[0, 30]
    assert run.slipped[0, 58]
    assert np.isnan(run.reading[0, 59:70]).all()
    assert np.isnan(run.worst[0, 59:70]).all()
    assert not run.slipped[0, 70]
    # The unused part of a vessel changed by date is spent on that day.
    assert run.spent[0, :30].sum() < 0.5
    assert run.spent[0, 30] > 0.5
    assert run.spent.sum() == pytest.approx(2.0 + run.spent[0, 70:].sum())


def test_an_interval_counts_from_the_last_change_of_either_kind():
    solutes, co2 = water(CHALK, 0.03, 7.3)
    day = exhaustion(BED, solutes, co2, 10e-4).m3_to_limit[0] / 100.0
    volume = every_day(day)
    volume[0, 150:] *= 0.01
    run = march_beds(BED, inflow(solutes, co2, volume), 10e-4, change_after_days=120)
    changed = np.flatnonzero(run.changes[0])
    assert changed[0] == pytest.approx(100, abs=3)
    assert run.reasons[0, changed[0]] == BY_READING
    assert changed[1:].tolist() == [changed[0] + 120, changed[0] + 240]
    assert (run.reasons[0, changed[1:]] == BY_DATE).all()


def test_part_of_a_year_keeps_the_calendar():
    solutes, co2 = water(CHALK, 0.03, 7.3)
    run = march_beds(BED, inflow(solutes, co2, every_day(0.01, 20)), 10e-4, change_on=(5, 105, 300), first_day=100)
    assert np.flatnonzero(run.changes[0]).tolist() == [4]


def test_spent_adds_up_to_the_changes_and_the_part_in_use():
    solutes, co2 = water(CHALK, 0.03, 7.3)
    limit = 10e-4
    alone = exhaustion(BED, solutes, co2, limit)
    run = march_beds(BED, inflow(solutes, co2, every_day(alone.m3_to_limit[0] * 2.5 / DAYS)), limit)
    assert run.changes.sum() == 2
    assert run.spent.sum() == pytest.approx(2.5, abs=0.06)
    assert (run.spent >= 0.0).all()
    assert run.spent[0, :30].sum() == pytest.approx(30 * 2.5 / DAYS, rel=0.1)


def test_stronger_water_in_summer_wears_resin_in_step():
    solutes, co2 = water(CHALK, 0.03, 7.3)
    strength = 1.0 + 0.5 * np.cos(2.0 * np.pi * (np.arange(DAYS) - 200) / DAYS)[None]
    day = exhaustion(BED, solutes, co2, 10e-4).m3_to_limit[0] / 20.0
    came = inflow(solutes, co2, every_day(day), strength)
    run = march_beds(BED, came, 10e-4)
    changed = np.flatnonzero(run.changes[0])
    gaps = np.diff(changed)
    assert gaps.min() < 15
    assert gaps.max() > 30
    # A life is a matter of equivalents: each vessel took the same cations, whatever the season.
    cations = came.cations[:, 0].sum(axis=0).cumsum()
    lives = np.diff(cations[changed])
    assert lives == pytest.approx(np.full_like(lives, lives.mean()), rel=0.07)
    assert lives.mean() == pytest.approx(float(BED.cation_eq), rel=0.1)


def test_silica_passes_long_before_the_meter_shows_anything():
    solutes, co2 = water(CHALK, 0.03, 7.3)
    came = inflow(solutes, co2, every_day(exhaustion(BED, solutes, co2, 10e-4).m3_to_limit[0] / 300.0))
    run = march_beds(BED, came, 10e-4)
    change, slip = np.argmax(run.changes[0]), np.argmax(run.slipped[0])
    assert slip < 0.3 * change
    assert run.silica[0, : slip // 2].max() < 1e-3 * came.silica[0, 0]
    assert run.silica[0, slip + 20 : change - 1].min() > 0.95 * came.silica[0, 0]
    assert np.nanmax(run.worst[0, :change]) < 10e-4


@pytest.mark.parametrize("litres", [0.5, 0.05])
def test_a_vessel_too_small_for_a_day_is_changed_many_times(litres):
    solutes, co2 = water(CHALK, 1.0, 7.3)
    came = inflow(solutes, co2, every_day(0.2, 6))
    run = march_beds(Bed(litres * 1e-3), came, 20e-4)
    assert (run.changes[0, 1:] > 1).all()
    assert (run.changes[0] <= MOST_PORTIONS).all()
    assert np.nanmax(run.worst) == 20e-4  # changed in time, in the midst of a portion if it must be
    assert np.nanmax(run.reading) <= 20e-4
    assert not_booked(run, came) < 1e-9


def test_no_water_no_change():
    solutes, co2 = water(CHALK, 0.03, 7.3)
    volume = np.stack([np.zeros(DAYS), np.full(DAYS, 0.2)])
    run = march_beds(BED, inflow(solutes, co2, volume), 10e-4)
    assert np.isnan(run.reading[0]).all()
    assert run.changes[0].sum() == run.spent[0].sum() == run.held[:, 0].sum() == 0.0
    assert np.isfinite(run.reading[1]).all()


def test_pure_water_leaves_resin_as_it_is():
    empty = np.zeros((1, 30))
    run = march_beds(BED, Inflow(every_day(0.2, 30), np.stack([empty] * 4), np.stack([empty] * 3), empty, empty), 10e-4)
    assert run.changes.sum() == 0
    assert run.worst.max() == pytest.approx(0.055e-4, rel=0.01)


def test_a_few_drops_wait_for_the_next_water():
    solutes, co2 = water(CHALK, 0.03, 7.3)
    volume = every_day(0.05, 60)
    came = inflow(solutes, co2, volume)  # each day carries its whole salt
    volume[0, [20, 21, 40, 58, 59]] = [1e-9, 1e-9, 0.0, 1e-9, 1e-9]
    run = march_beds(BED, came, 10e-4)
    assert not_booked(run, came) < 1e-9
    assert np.flatnonzero(np.isnan(run.reading[0])).tolist() == [20, 21, 40, 58, 59]
    assert run.changes.sum() == 0
    assert np.nanmax(run.worst) < 0.1e-4
