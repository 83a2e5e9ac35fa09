"""Equilibrium constants and pH against published values."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from scipy.optimize import brentq

from rinsewright.quantities import T25, kelvin
from rinsewright.water import carbonate
from rinsewright.water.ions import SOLUTES
from rinsewright.water.speciation import Speciation, speciate
from rinsewright.water.state import Water
from tests.published.agreement import absolute, agree, relative

CELSIUS = [0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0]

# Plummer & Busenberg, Geochim. Cosmochim. Acta 46, 1011, 1982: equations read (primary abstract), this table reproduced
# from them
PLUMMER_BUSENBERG = {
    "CO2(g)": [-1.1084, -1.1921, -1.2694, -1.3408, -1.4069, -1.4679, -1.5244],
    "CO2": [-6.5786, -6.5163, -6.4633, -6.4188, -6.3819, -6.3519, -6.3281],
    "HCO3": [-10.6286, -10.5544, -10.4879, -10.4284, -10.3756, -10.3289, -10.2879],
    "calcite": [-8.3814, -8.3942, -8.4105, -8.4302, -8.4533, -8.4798, -8.5098],
    "aragonite": [-8.2180, -8.2350, -8.2553, -8.2790, -8.3059, -8.3361, -8.3695],
}


@pytest.mark.parametrize("name", PLUMMER_BUSENBERG)
def test_carbonate_constants(name):
    computed = np.log10(carbonate.constants(kelvin(np.array(CELSIUS)))[name])
    agree(
        source="plummer-busenberg",
        quantity=f"log K of {name}",
        at=[f"{celsius:g} °C" for celsius in CELSIUS],
        published=PLUMMER_BUSENBERG[name],
        ours=computed,
        tolerance=absolute(5e-4),
        standing="reproduced",
        model="carbonate constants",
    )


# the same paper at 25 °C with its own uncertainties: calcite −8.480 ± 0.020, aragonite −8.336 ± 0.020, CaCO3° 3.22 ±
# 0.14 (read)
def test_carbonate_constants_as_stated_at_25_degrees():
    constants = {name: float(np.log10(value)) for name, value in carbonate.constants(T25).items()}
    stated = {"calcite": (-8.480, 0.020), "aragonite": (-8.336, 0.020), "CaCO3": (3.22, 0.14)}
    for name, (published, uncertainty) in stated.items():
        agree(
            source="plummer-busenberg",
            quantity=f"log K of {name}",
            at="25 °C, as stated",
            published=published,
            ours=constants[name],
            tolerance=absolute(uncertainty),
            standing="read",
            model="carbonate constants",
        )


# IAPWS R11-07 at the density of water at 0.1 MPa: reproduced with a public implementation. Last digit.
def test_ion_product_of_water():
    published = {0: 14.946, 5: 14.734, 10: 14.534, 15: 14.344, 20: 14.165, 25: 13.995}
    computed = -np.log10(carbonate.constants(kelvin(np.array(list(published))))["H2O"])
    agree(
        source="iapws-kw",
        quantity="pKw",
        at=[f"{celsius} °C" for celsius in published],
        published=published.values(),
        ours=computed,
        tolerance=absolute(1e-3),
        standing="reproduced",
        model="carbonate constants",
    )


# PHREEQC 3.8.6, pure water: reproduced; its own fit of Kw differs from IAPWS by up to 0.003
def test_ph_of_pure_water():
    published = {0: 7.469, 5: 7.365, 10: 7.266, 15: 7.172, 20: 7.082, 25: 6.997, 30: 6.917}
    water = Water(np.zeros((7, len(SOLUTES))), np.array(0.0), kelvin(np.array(list(published))))
    agree(
        source="phreeqc-kw",
        quantity="pH",
        at=[f"{celsius} °C" for celsius in published],
        published=published.values(),
        ours=water.ph,
        tolerance=absolute(5e-3),
        standing="reproduced",
        model="pH",
    )


# Air-equilibrated water at 25 °C by hand from the read constants: pH 5.598 (420 ppm), 5.609 (400 ppm), 5.659 (10^-3.5
# atm)
@pytest.mark.parametrize(("atm", "ph"), [(420e-6, 5.598), (400e-6, 5.609), (10**-3.5, 5.659)])
def test_ph_under_air(atm, ph):
    bare = np.zeros(len(SOLUTES))
    carbon = carbonate.carbon_at_co2(bare, carbonate.co2_in_equilibrium(T25, atm), np.array(T25))
    agree(
        source="carbonate-by-hand",
        quantity="pH of pure water under air, 25 °C",
        at=f"{atm * 1e6:.0f} ppm CO2",
        published=ph,
        ours=Water(bare, carbon, np.array(T25)).ph,
        tolerance=absolute(2e-3),
        standing="reproduced",
        model="carbon dioxide of the air",
    )


# Debye-Hückel A at 25 °C is 0.509 in every textbook (from memory)
def test_debye_huckel_slope():
    agree(
        source="debye-huckel",
        quantity="A",
        at="25 °C",
        published=0.509,
        ours=carbonate.debye_huckel(T25),
        tolerance=absolute(3e-3),
        standing="from memory",
        model="activity",
    )


# PHREEQC example 1, seawater: input (ppm) read in the manual; SI calcite 0.75, aragonite 0.61, ionic strength 0.6747
# read in its printed output, made with an older phreeqc.dat. 0.05 covers the databases' differences (today's: 0.785,
# 0.641). Gypsum is tested against today's phreeqc.dat (−0.802, reproduced), whose sulphate pairs have changed (printed:
# −0.64).
SEAWATER_PPM = {
    "Ca": 412.3, "Mg": 1291.8, "Na": 10768.0, "K": 399.1, "SiO2": 4.28, "Cl": 19353.0, "HCO3": 141.682, "SO4": 2712.0,
}  # fmt: skip


def test_seawater_through_phreeqc():
    per_kg_water = 1.0 / (1.0 - sum(SEAWATER_PPM.values()) * 1e-6)
    guess = Water.from_mg_l({name: value * per_kg_water for name, value in SEAWATER_PPM.items()}, 8.22, T25)

    def at(carbon: float) -> Speciation:
        return speciate(Water(guess.solutes, np.array(carbon), guess.temperature_k))

    result = at(float(brentq(lambda carbon: at(carbon).ph - 8.22, 1.9, 2.5, xtol=1e-6)))
    agree_sea = partial(agree, source="seawater", at="25 °C")
    for mineral, index in {"calcite": 0.75, "aragonite": 0.61}.items():
        agree_sea(
            quantity=f"saturation index of {mineral}",
            model="saturation index",
            published=index,
            ours=result.saturation[mineral],
            tolerance=absolute(0.05),
            standing="read",
        )
    agree_sea(
        quantity="saturation index of gypsum",
        model="saturation index",
        published=-0.802,
        ours=result.saturation["gypsum"],
        tolerance=absolute(0.01),
        standing="reproduced",
    )
    agree_sea(
        quantity="ionic strength",
        model="activity",
        unit="mol/L",
        published=0.6747,
        ours=result.ionic_strength,
        tolerance=relative(1e-2),
        standing="read",
    )
    # practical salinity 35 at 25 °C is 5.3071 S/m (reproduced); another sea salt than this, and not this program's
    # range
    agree_sea(
        quantity="conductivity",
        model="conductivity of ions",
        unit="S/m",
        published=5.3071,
        ours=result.conductivity,
        tolerance=relative(1e-2),
        standing="reproduced",
    )
