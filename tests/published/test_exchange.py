"""Ion exchange against published numbers: each check names its source and its standing."""

from functools import partial

import numpy as np
import pytest

from rinsewright.plant.product.resin import ANION_CAPACITY, CATION_CAPACITY, Bed, Load, exhaustion, reading
from rinsewright.seasons.beds import Inflow, march_beds
from rinsewright.water.ions import INDEX, MOLAR_MASS
from tests.published.agreement import Range, absolute, agree, relative


def test_a_litre_of_resin_holds_39_grams_of_calcium():
    # 1.95 eq/L × 20 g/eq = 39 g Ca per litre of resin: Michaud, Water Conditioning & Purification, March 2011 (read).
    calcium, chloride = 0.1, 0.2  # mol/m3
    solutes = np.zeros((1, 17))
    solutes[0, INDEX["Ca"]], solutes[0, INDEX["Cl"]] = calcium, chloride
    # a cation vessel of 1.95 eq/L, all of it usable, with anion resin to spare
    bed = Bed(1e-3, cation_capacity=1950.0, anion_capacity=5000.0, usable_share=1.0)
    result = exhaustion(bed, solutes, np.zeros(1), 1e-4, cells=64)
    grams = result.m3_to_limit[0] * calcium * MOLAR_MASS[INDEX["Ca"]] * 1e3
    assert result.limited_by == ("cation",)
    agree_grams = partial(agree, source="michaud", unit="g", published=39.0, standing="read", model="capacity of resin")
    agree_grams(
        quantity="calcium until the cation vessel breaks through",
        at="1 L of 1.95 eq/L",
        ours=grams,
        tolerance=relative(0.02),  # 0.5 % of the source and the width of a cell
    )
    agree_grams(
        quantity="calcium that resin holds",
        at="1 L of 1.95 eq/L",
        ours=1.95 * MOLAR_MASS[INDEX["Ca"]] * 1e3 / 2,
        tolerance=relative(0.005),
    )


def test_kilograins_per_cubic_foot():
    # 1 eq/L = 21.87 kgr/ft3 as CaCO3: same source (read); grain 64.79891 mg, cubic foot 28.3168 L (exact definitions).
    caco3 = (MOLAR_MASS[INDEX["Ca"]] * 1e3 + 12.011 + 3 * 15.999) / 2  # g/eq
    agree(
        source="michaud",
        quantity="kilograins as CaCO3 in a cubic foot",
        at="1 eq/L",
        unit="kgr/ft³",
        published=21.87,
        ours=caco3 * 28.316846592 / 64.79891,
        tolerance=absolute(0.01),
        standing="read",
        model="capacity of resin",
    )


def test_mixed_bed_capacity_follows_from_its_two_resins():
    # 2 parts cation to 3 parts anion: DOE-HDBK-1015/2-93 (read). Cation resin 1.8-2.0 eq/L: Water and Wastewater
    # Engineering p. 8-5 (read). Anion resin 1.0-1.4 eq/L (from memory).
    agree_bed = partial(
        agree, source="mixed-bed", quantity="capacity of mixed bed", unit="eq/L", model="capacity of resin"
    )
    agree_bed(
        at="cation side", published=Range(0.4 * 1.8, 0.4 * 2.0), ours=CATION_CAPACITY.value / 1e3, standing="read"
    )
    agree_bed(
        at="anion side", published=Range(0.6 * 1.0, 0.6 * 1.4), ours=ANION_CAPACITY.value / 1e3, standing="from memory"
    )


@pytest.mark.parametrize(("co2_mg_l", "silica_mg_l", "as_caco3"), [(10.0, 0.0, 11.37), (0.0, 10.0, 8.33)])
def test_weak_acids_load_the_resin_one_equivalent_for_each_mole(co2_mg_l, silica_mg_l, as_caco3):
    # Load as CaCO3: CO2 × 1.137, SiO2 × 0.833 (arithmetic on molar masses, reproduced). 0.1 %.
    solutes = np.zeros((1, 17))
    solutes[0, INDEX["SiO2"]] = silica_mg_l * 1e-3 / MOLAR_MASS[INDEX["SiO2"]]
    load = Load.of(solutes, np.array([co2_mg_l / 44.0095]))
    agree(
        source="weak-acids",
        quantity="load as CaCO3",
        at="CO2 10 mg/L" if co2_mg_l else "SiO2 10 mg/L",
        unit="mg/L",
        published=as_caco3,
        ours=load.total[0] * 50.0435,
        tolerance=relative(1e-3),
        standing="reproduced",
        model="load of the resin",
    )


def thomas(time, rate, capacity, mass, flow, feed):
    """C/C0 of the Thomas equation in its logistic form."""
    return 1.0 / (1.0 + np.exp(rate * capacity * mass / flow - rate * feed * time))


@pytest.mark.parametrize(("flow", "feed", "q_max", "rate", "tau", "yoon_nelson"), [
    (1.0, 0.100, 3.854, 0.410, 173.4, 0.041), (2.0, 0.100, 5.122, 0.511, 115.26, 0.050),
    (1.0, 0.075, 2.034, 0.650, 121.46, 0.049),
])  # fmt: skip
def test_thomas_half_time_is_the_stoichiometric_one(flow, feed, q_max, rate, tau, yoon_nelson):
    # J. Chem. Eng. Process Technol. 5:200, table 2, rows 1, 2, 4 (read): mL/min, mg/mL, mg/g, mL/(min mg), min, 1/min.
    mass = tau * flow * feed / q_max  # g
    assert rate * feed == pytest.approx(yoon_nelson, rel=0.025)
    assert thomas(tau, rate, q_max, mass, flow, feed) == pytest.approx(0.5)
    # The cells break through at the same place: what the bed holds over what comes in.
    per_litre = 1000.0 * tau * flow * feed / 1000.0 / 100.0  # eq/m3 of a bed of 1 L that holds as much, at 100 g/eq
    solutes = np.zeros((1, 17))
    solutes[0, INDEX["Na"]] = solutes[0, INDEX["Cl"]] = feed * 1000.0 / 100.0  # eq/m3
    bed = Bed(1e-6, cation_capacity=per_litre * 1e3, anion_capacity=per_litre * 1e4, usable_share=1.0)
    load = Load.of(solutes, np.zeros(1))
    half = 0.5 * reading(load.cations, load.anions, load.carbonic)[0]
    result = exhaustion(bed, solutes, np.zeros(1), half, cells=48)
    agree_time = partial(
        agree,
        source="thomas",
        at=f"{flow:g} mL/min, {feed:g} mg/mL",
        unit="min",
        published=tau,
        tolerance=relative(0.025),
        standing="read",
        model="breakthrough",
    )
    agree_time(quantity="time to half breakthrough", ours=result.m3_to_limit[0] / (flow * 1e-6))
    # And the year's march, a hundredth of it a day: the reading passes half of what comes in.
    daily = np.full((1, 150), tau * flow * 1e-6 / 100.0)
    nothing = np.zeros_like(daily)
    came = Inflow(daily, load.cations[:, :, None] * daily, load.anions[:, :, None] * daily, nothing, nothing)
    run = march_beds(bed, came, np.inf, cells=48)
    after = int(np.argmax(run.reading[0] > half))
    below, above = run.reading[0, after - 1 : after + 1]
    middle = after - 0.5 + (half - below) / (above - below)
    agree_time(quantity="time to half breakthrough, day by day", ours=middle * daily[0, 0] / (flow * 1e-6))
