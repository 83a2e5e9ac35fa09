"""The year's march of resin against the same column in PHREEQC, which knows nothing of our shortcuts.

PHREEQC solves each cell's whole water: pH, ion pairs, activities, both resins at once. Ours solves each side by itself,
with the shares of weak acids at one pH.
"""

from functools import partial

import numpy as np
import pytest

from rinsewright.plant.product.resin import Bed, Load, plateau_reading
from rinsewright.seasons.beds import Inflow, march_beds
from rinsewright.water.ions import CHARGE, INDEX, MOLAR_MASS
from tests.published.agreement import agree, relative
from tests.published.exchange_column import Column, column

BED = Bed(7e-3)
CELLS = 16
# mg/L and mmol/L of CO2, our own: a chalk water, what membranes make of it, and a soft water
WATERS: dict[str, tuple[dict[str, float], float]] = {
    "behind membranes on chalk": ({
        "Ca": 3.3, "Mg": 0.14, "Na": 1.2, "K": 0.17, "HCO3": 10.5, "SO4": 0.13, "Cl": 1.06, "NO3": 1.8, "SiO2": 1.2,
    }, 0.45),
    "chalk water from the tap": ({
        "Ca": 110, "Mg": 5, "Na": 15, "K": 2, "HCO3": 300, "SO4": 30, "Cl": 30, "NO3": 25, "SiO2": 12,
    }, 0.45),
    "soft water from the tap": ({
        "Ca": 15, "Mg": 2, "Na": 8, "HCO3": 40, "SO4": 12, "Cl": 10, "NO3": 1, "SiO2": 4,
    }, 0.05),
}  # fmt: skip


def composition(name):
    mg_l, co2 = WATERS[name]
    solutes = np.zeros(17)
    for ion, amount in mg_l.items():
        solutes[INDEX[ion]] = amount * 1e-3 / MOLAR_MASS[INDEX[ion]]
    excess = float(CHARGE @ solutes)
    solutes[INDEX["Cl" if excess > 0 else "Na"]] += abs(excess)
    return solutes, co2


def ours(solutes, co2, portion, portions, cells):
    """A portion a day through fresh resin that nobody changes."""
    load = Load.of(solutes[None], np.array([co2]))
    amount = np.full((1, portions), portion)
    came = Inflow(
        amount,
        load.cations[:, :, None] * amount,
        load.anions[:, :, None] * amount,
        load.carbonic[:, None] * amount,
        load.silica[:, None] * amount,
    )
    run = march_beds(BED, came, np.inf, cells=cells)
    return Column(
        (np.arange(portions) + 0.5) * portion, run.reading[0], run.leaving[7, 0] / portion, run.silica[0] / portion
    )


def both(name, lives, cells, theirs_cells):
    """Ours and PHREEQC's column, fed with portions of half a cell; ``lives`` of the anion side long."""
    solutes, co2 = composition(name)
    life = float(BED.anion_eq) / Load.of(solutes[None], np.array([co2])).total[0]
    cut = [(life / (2 * each), int(2 * each * lives), each) for each in (cells, theirs_cells)]
    return ours(solutes, co2, *cut[0]), column(BED, solutes, co2, *cut[1])


@pytest.mark.parametrize(("name", "lives", "limits"), [
    ("behind membranes on chalk", 4.0, {3e-4: 0.005, 10e-4: 0.01, 15e-4: 0.01}),
    ("chalk water from the tap", 1.5, {5e-4: 0.005, 20e-4: 0.005, 100e-4: 0.01}),
    ("soft water from the tap", 1.5, {5e-4: 0.005, 20e-4: 0.01}),
])  # fmt: skip
def test_the_same_cells_in_phreeqc_let_go_at_the_same_water(name, lives, limits):
    solutes, co2 = composition(name)
    load = Load.of(solutes[None], np.array([co2]))
    mine, theirs = both(name, lives, CELLS, CELLS)
    litres = partial(agree, source="phreeqc-column", at=name, unit="L", standing="reproduced", model="breakthrough")
    for limit, tolerance in limits.items():
        litres(
            quantity=f"water until {limit * 1e4:g} µS/cm",
            published=theirs.first_above(theirs.reading, limit) * 1e3,
            ours=mine.first_above(mine.reading, limit) * 1e3,
            tolerance=relative(tolerance),
        )
    slip = 0.5 * load.carbonic[0]
    litres(
        quantity="water until half of the carbonic acid passes",
        published=theirs.first_above(theirs.carbonic, slip) * 1e3,
        ours=mine.first_above(mine.carbonic, slip) * 1e3,
        tolerance=relative(0.005),
    )
    litres(
        quantity="water until half of the silica passes",
        published=theirs.first_above(theirs.silica, 0.5 * load.silica[0]) * 1e3,
        ours=mine.first_above(mine.silica, 0.5 * load.silica[0]) * 1e3,
        tolerance=relative(0.005),
    )
    if name == "behind membranes on chalk":
        level = int(np.searchsorted(theirs.volume, 2.0 * theirs.first_above(theirs.carbonic, slip)))
        agree(
            source="phreeqc-column", at=name, unit="µS/cm", standing="reproduced", model="breakthrough",
            quantity="plateau of carbonic acid", published=theirs.reading[level] * 1e4, ours=mine.reading[level] * 1e4,
            tolerance=relative(0.01),
        )  # fmt: skip
        assert mine.reading[level] == pytest.approx(plateau_reading(load)[0], rel=1e-4)


@pytest.mark.parametrize(("name", "lives", "limit"), [
    ("chalk water from the tap", 1.5, 20e-4), ("soft water from the tap", 1.5, 20e-4),
])  # fmt: skip
def test_sixteen_cells_are_as_good_as_three_times_as_many_in_phreeqc(name, lives, limit):
    mine, theirs = both(name, lives, CELLS, 3 * CELLS)
    agree(
        source="phreeqc-column",
        quantity=f"water until {limit * 1e4:g} µS/cm, 48 cells there and 16 here",
        at=name,
        unit="L",
        published=theirs.first_above(theirs.reading, limit) * 1e3,
        ours=mine.first_above(mine.reading, limit) * 1e3,
        tolerance=relative(0.03),
        standing="reproduced",
        model="breakthrough",
    )
