"""Water and transport properties against published values."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from chemicals.iapws import iapws95_rho
from chemicals.viscosity import mu_IAPWS

from rinsewright.quantities import T25, kelvin
from rinsewright.water.ions import INDEX, SOLUTES, diffusivity, salt_diffusivity
from rinsewright.water.properties import density, nacl_diffusivity, permittivity, viscosity
from tests.published.agreement import absolute, agree, relative

# IAPWS-95 and IAPWS R12-08 at 101.325 kPa: reproduced with a public implementation. Kell and the four-term equation are
# stated to 0.003 kg/m3 and 0.003 %; the viscosities are printed to four digits.
CELSIUS = np.array([0.01, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0])
DENSITY = [999.844, 999.967, 999.703, 999.103, 998.207, 997.048, 995.650]
VISCOSITY = [1.7911e-3, 1.5182e-3, 1.3059e-3, 1.1376e-3, 1.0016e-3, 0.8900e-3, 0.7972e-3]
PERMITTIVITY = [87.90, 85.92, 83.98, 82.08, 80.22, 78.41, 76.63]


def test_density_viscosity_permittivity():
    t = kelvin(CELSIUS)
    at = [f"{celsius:g} °C" for celsius in CELSIUS]
    agree_water = partial(agree, source="iapws", at=at, standing="reproduced")
    agree_water(
        quantity="density",
        unit="kg/m³",
        published=DENSITY,
        ours=density(t),
        tolerance=absolute(0.005),
        model="density",
    )
    agree_water(
        quantity="viscosity",
        unit="mPa s",
        published=[1e3 * each for each in VISCOSITY],
        ours=1e3 * viscosity(t),
        tolerance=relative(1e-4),
        model="viscosity",
    )
    agree_water(
        quantity="relative permittivity",
        published=PERMITTIVITY,
        ours=permittivity(t),
        tolerance=relative(2e-3),
        model="permittivity",
    )


def test_against_iapws_by_a_second_library():
    for celsius in np.arange(0.5, 45.0, 2.5):
        t = float(kelvin(celsius))
        rho = iapws95_rho(t, 101325.0)
        assert float(density(t)) == pytest.approx(rho, abs=0.005)
        assert float(viscosity(t)) == pytest.approx(mu_IAPWS(t, rho), rel=1e-4)


# IAPWS R12-08 table 4, (298.15 K, 998 kg/m3): 889.735100 µPa s (from memory, reproduced): at 997.05 kg/m3 the same
# within 0.05 %
def test_viscosity_verification_point():
    agree(
        source="iapws",
        quantity="viscosity",
        at="25 °C, verification point",
        unit="µPa s",
        published=889.7351,
        ours=1e6 * viscosity(T25),
        tolerance=relative(5e-4),
        standing="from memory",
        model="viscosity",
    )


# From the read λ by Nernst-Einstein (reproduced); the handbook's 1.61e-9 for NaCl is from memory
def test_diffusivities_at_25_degrees():
    agree(
        source="diffusivity",
        quantity="diffusivity, 25 °C",
        at=["Na", "Cl", "NaCl"],
        unit="1e-9 m²/s",
        published=[1.3336, 2.0320, 1.610],
        ours=[1e9 * each for each in (diffusivity("Na"), diffusivity("Cl"), float(nacl_diffusivity(T25)))],
        tolerance=relative(1e-3),
        standing="reproduced",
        model="diffusivity",
    )


# D µ/T constant: reproduced. An assumption, so 0.2 % is the printed digits and says nothing about nature (5 %).
def test_nacl_diffusivity_over_temperature():
    published = {5: 0.881, 10: 1.042, 15: 1.218, 20: 1.407, 30: 1.828}
    agree(
        source="diffusivity",
        quantity="diffusivity of NaCl",
        at=[f"{celsius} °C" for celsius in published],
        unit="1e-9 m²/s",
        published=published.values(),
        ours=1e9 * nacl_diffusivity(kelvin(np.array(list(published)))),
        tolerance=relative(2e-3),
        standing="reproduced",
        model="diffusivity",
    )


# Nernst-Hartley, D = (z+ + |z-|) D+ D- / (z+ D+ + |z-| D-), for single salts (textbook formula)
@pytest.mark.parametrize(
    ("cation", "anion", "p", "q"), [("Na", "Cl", 1, 1), ("Ca", "Cl", 1, 2), ("Na", "SO4", 2, 1), ("Mg", "SO4", 1, 1)]
)
def test_salt_diffusivity_is_nernst_hartley(cation, anion, p, q):
    solutes = np.zeros(len(SOLUTES))
    solutes[INDEX[cation]], solutes[INDEX[anion]] = 3.0 * p, 3.0 * q
    plus, minus = diffusivity(cation), diffusivity(anion)
    z_plus, z_minus = (2 if name in {"Ca", "Mg", "SO4"} else 1 for name in (cation, anion))
    expected = (z_plus + z_minus) * plus * minus / (z_plus * plus + z_minus * minus)
    agree(
        source="diffusivity",
        quantity="diffusivity of a salt, Nernst–Hartley",
        at=f"{cation} and {anion}",
        unit="1e-9 m²/s",
        published=1e9 * expected,
        ours=1e9 * salt_diffusivity(solutes),
        tolerance=relative(1e-12),
        standing="reproduced",
        model="diffusivity",
    )
