"""Water and salt through a membrane at one place, and along a channel: textbook examples, closed forms, limits."""

from __future__ import annotations

import math
from functools import partial

import numpy as np
import pytest

from rinsewright.quantities import BAR, LMH, LMH_PER_BAR
from rinsewright.water.osmotic import osmotic_coefficient, osmotic_pressure
from tests.published.agreement import absolute, agree, relative
from tests.published.membrane_cases import ATM, UNLIMITED, cell, in_cell, one, run

WATER = 997.0  # kg/m3, as the textbook has it
agree_film = partial(agree, source="film", standing="reproduced")
agree_textbook = partial(agree, source="geankoplis")


def test_osmotic_pressure_of_tenth_molal_nacl() -> None:
    # Geankoplis, Transport Processes and Separation Process Principles, Ex. 13.9-1 (public transcription, read):
    # 4.88 atm by van 't Hoff; 4.56 atm measured (from memory). 0.2 %, and 0.5 % for three digits read off a table.
    solutes = np.zeros((1, 17))
    solutes[0, [2, 11]] = 0.1 * WATER  # mol/m3 of Na and Cl
    real = osmotic_pressure(solutes, one(298.15))[0]
    ideal = real / osmotic_coefficient(solutes, one(298.15))[0]
    agree_tenth = partial(agree_textbook, unit="atm", model="osmotic pressure")
    agree_tenth(
        quantity="osmotic pressure by van 't Hoff",
        at="NaCl 0.1 mol/kg",
        published=4.88,
        ours=ideal / ATM,
        tolerance=relative(2e-3),
        standing="read",
    )
    agree_tenth(
        quantity="osmotic pressure as measured",
        at="NaCl 0.1 mol/kg",
        published=4.56,
        ours=real / ATM,
        tolerance=relative(5e-3),
        standing="from memory",
    )


def test_cellulose_acetate_cell() -> None:
    # Geankoplis Ex. 13.10-1 (inputs from memory, self-consistent, reproduced): the permeances found there, put
    # back, give its water flux 9.57e-3 kg/(s m2), salt flux 3.744e-6, rejection 0.961 and product 0.39 kg/m3. 0.1 %.
    ch = cell(2.039e-4 / WATER / ATM, 3.896e-7, osmotic=7.80 * ATM)
    flux, product = in_cell(ch, 54.42 * ATM)
    agree_cell = partial(agree_textbook, at="13.10-1", tolerance=relative(1e-3), standing="from memory")
    agree_cell(
        quantity="water flux", unit="1e-3 kg/(s m²)", published=9.57, ours=1e3 * flux * WATER, model="water flux"
    )
    agree_cell(quantity="salt of the product", unit="kg/m³", published=0.39, ours=product * 10.0, model="salt flux")
    agree_cell(
        quantity="salt flux",
        unit="1e-6 kg/(s m²)",
        published=3.744,
        ours=1e6 * flux * product * 10.0,
        model="salt flux",
    )
    agree_cell(quantity="rejection", published=0.961, ours=1.0 - product, tolerance=absolute(5e-4), model="salt flux")


def test_second_cell() -> None:
    # Geankoplis Ex. 13.10-2 (inputs from memory, reproduced): N_w 1.217e-2, R 0.965, c2 0.0875 (0.08733
    # unrounded), N_s 1.066e-6. 0.2 %.
    ch = cell(4.81e-4 / WATER / ATM, 4.42e-7, osmotic=1.97 * ATM)
    flux, product = in_cell(ch, 27.20 * ATM)
    agree_cell = partial(agree_textbook, at="13.10-2", tolerance=relative(2e-3), standing="from memory")
    agree_cell(
        quantity="water flux", unit="1e-3 kg/(s m²)", published=12.17, ours=1e3 * flux * WATER, model="water flux"
    )
    agree_cell(quantity="rejection", published=0.965, ours=1.0 - product, tolerance=absolute(5e-4), model="salt flux")
    agree_cell(quantity="salt of the product", unit="kg/m³", published=0.08733, ours=product * 2.5, model="salt flux")
    agree_cell(
        quantity="salt flux", unit="1e-6 kg/(s m²)", published=1.066, ours=1e6 * flux * product * 2.5, model="salt flux"
    )


G_CM2_S_ATM = 1e4 / 1e6 / ATM  # g/(cm2 s atm) of water at 1000 kg/m3 → m/(s Pa)
FLUX = 0.33e-6  # m/s: 0.33e-4 g/(cm2 s)


@pytest.mark.parametrize(("modulus", "permeability"), [(1.0, 9.4e-7), (3.0, 1.3e-6)])
def test_polarisation_modulus(modulus: float, permeability: float) -> None:
    # Membrane chapter problem D7 of a chemical-engineering separations text (read; reproduced as 9.402e-7 and
    # 1.304e-6): 0.1 N NaCl, 4.9 atm, 40 atm, total rejection. The published permeability must give the flux back: 1
    # %.
    film = UNLIMITED if modulus == 1.0 else FLUX / math.log(modulus)
    flux, product = in_cell(cell(permeability * G_CM2_S_ATM, 1e-18, film, osmotic=4.9 * ATM), 40.0 * ATM)
    agree(
        source="d7",
        quantity="water flux",
        at=f"modulus {modulus:g}, total rejection",
        unit="1e-4 g/(cm² s)",
        published=0.33,
        ours=flux * 1e6,
        tolerance=relative(1e-2),
        standing="read",
        model="wall concentration",
    )
    assert product < 1e-10


@pytest.mark.parametrize(("modulus", "water", "salt"), [(1.0, 9.35e-7, 1.375e-6), (3.0, 1.294e-6, 4.46e-7)])
def test_polarisation_modulus_with_its_leakage(modulus: float, water: float, salt: float) -> None:
    # With the 4 % that passes counted (reproduced); salt permeability in cm/s. Flux and rejection must both come
    # back.
    excess = (modulus - 0.04) / 0.96  # of the film: (c_w − c_p)/(c_b − c_p)
    film = UNLIMITED if modulus == 1.0 else FLUX / math.log(excess)
    flux, product = in_cell(cell(water * G_CM2_S_ATM, salt * 1e-2, film, osmotic=4.9 * ATM), 40.0 * ATM)
    agree_leak = partial(
        agree, source="d7", at=f"modulus {modulus:g}, 4 % passing", standing="reproduced", model="wall concentration"
    )
    agree_leak(quantity="water flux", unit="1e-4 g/(cm² s)", published=0.33, ours=flux * 1e6, tolerance=relative(2e-3))
    agree_leak(quantity="passage", published=0.04, ours=product, tolerance=relative(5e-3))


@pytest.mark.parametrize(
    ("film", "factors"),
    [
        (3e-5, (1.0970, 1.2034, 1.3202, 1.4483)),
        (2e-5, (1.1490, 1.3202, 1.5169, 1.7429)),
        (5e-5, (1.0571, 1.1175, 1.1814, 1.2488)),
    ],
)
def test_film_factors(film: float, factors: tuple[float, ...]) -> None:
    # exp(J/k) at 10, 20, 30, 40 L/(m2 h); standing: reproduced. Read off as wall over bulk where nothing passes.
    salt = 1e-13
    for flux_lmh, factor in zip((10.0, 20.0, 30.0, 40.0), factors, strict=True):
        flux, product = in_cell(cell(LMH_PER_BAR, salt, film), flux_lmh * BAR)
        assert flux / LMH == pytest.approx(flux_lmh, rel=1e-6)
        agree_film(
            quantity="film factor, wall over bulk",
            at=f"{flux_lmh:g} L/(m² h), k = {1e6 * film:g} µm/s",
            published=factor,
            ours=product * (flux + salt) / salt,
            tolerance=absolute(6e-5),
            model="wall concentration",
        )


@pytest.mark.parametrize("flux_lmh", [2.0, 15.0, 40.0])
@pytest.mark.parametrize("film", [8e-6, 3e-5, UNLIMITED])
def test_film_and_solution_diffusion_together(flux_lmh: float, film: float) -> None:
    # C_p/C_b = B e^(J/k)/(J + B e^(J/k)), and R/(1−R) = (J/B) e^(−J/k); reproduced (algebra). No film: R =
    # J/(J+B).
    salt = 0.4 * LMH
    flux, product = in_cell(cell(LMH_PER_BAR, salt, film), flux_lmh * BAR)
    factor = math.exp(flux / film)
    agree_both = partial(
        agree_film,
        at=f"{flux_lmh:g} L/(m² h), " + (f"k = {1e6 * film:g} µm/s" if film < 1.0 else "no film"),
        tolerance=relative(1e-7),
        model="wall concentration",
    )
    agree_both(quantity="product over bulk", published=salt * factor / (flux + salt * factor), ours=product)
    agree_both(quantity="R/(1 − R)", published=flux / salt / factor, ours=(1.0 - product) / product)


def test_limits() -> None:
    # Limits, reproduced: no flux, no rejection; no salt permeance, no salt; no film, no polarisation.
    salt = 0.4 * LMH
    assert in_cell(cell(LMH_PER_BAR, salt, 2e-5), 1e-3 * BAR)[1] == pytest.approx(1.0, abs=3e-3)  # J/B = 0.0025
    assert in_cell(cell(LMH_PER_BAR, 1e-18, 2e-5), 20.0 * BAR)[1] < 1e-10
    bare, thin = (in_cell(cell(LMH_PER_BAR, salt, film), 20.0 * BAR)[1] for film in (UNLIMITED, 1.0))
    assert thin == pytest.approx(bare, rel=1e-4)


def test_water_flux_is_permeance_times_net_pressure() -> None:
    # With the osmotic difference between wall and product, whatever polarisation makes of it; from memory, any
    # text.
    water, salt, film, osmotic = 5.0 * LMH_PER_BAR, 0.5 * LMH, 2e-5, 0.4 * BAR
    flux, product = in_cell(cell(water, salt, film, osmotic), 4.0 * BAR)
    wall = product + (1.0 - product) * math.exp(flux / film)
    agree_film(
        quantity="water flux by the net pressure at the wall",
        at="4 bar",
        unit="L/(m² h)",
        published=water * (4.0 * BAR - osmotic * (wall - product)) / LMH,
        ours=flux / LMH,
        tolerance=relative(1e-7),
        model="water flux",
    )


def mean_on_the_feed_side(recovery: float, salt_share: float) -> float:
    """C_fb/C_f of a channel with the same flux everywhere, from what the channel made: C_p = (1 − R)·C_fb."""
    flux = 20.0 * LMH
    ch = cell(LMH_PER_BAR, flux * salt_share / (1.0 - salt_share), area=1.0)
    out = run(ch, flux / recovery, 20.0 * BAR, steps=64)
    assert out.product[0] == pytest.approx(flux, rel=1e-9)
    return float(out.product_salt[0] / out.product[0] / salt_share)


MEANS = [
    # recovery, total rejection (D4516, from memory; derived), exact at R = 0.98, exact at R = 0.95; standing:
    # reproduced
    (0.15, 1.0835, 1.0817, 1.0791),
    (0.25, 1.1507, 1.1474, 1.1425),
    (0.50, 1.3863, 1.3767, 1.3625),
    (0.75, 1.8484, 1.8230, 1.7858),
]


@pytest.mark.parametrize(("recovery", "total", "at_98", "at_95"), MEANS)
def test_feed_brine_mean(recovery: float, total: float, at_98: float, at_95: float) -> None:
    # ln[1/(1−Y)]/Y for total rejection, [1−(1−Y)^(1−R)]/[Y(1−R)] for constant rejection R. Four printed decimals.
    for name, passing, published in (("total", 1e-9, total), ("0.98", 0.02, at_98), ("0.95", 0.05, at_95)):
        agree(
            source="feed-mean",
            quantity="mean of the feed side over the feed",
            at=f"recovery {recovery:g}, rejection {name}",
            published=published,
            ours=mean_on_the_feed_side(recovery, passing),
            tolerance=absolute(6e-5),
            standing="reproduced",
            model="march along the element",
        )


def test_feed_brine_mean_is_not_the_log_mean() -> None:
    # The two "log means" are up to 17 % apart: at 75 % recovery 1.8484 against 2.1640 (reproduced).
    assert mean_on_the_feed_side(0.75, 1e-9) < 0.86 * 2.1640
