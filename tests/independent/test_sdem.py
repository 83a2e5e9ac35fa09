"""The membrane-transport reference against closed forms and a second integrator.

Closed forms after Yaroshchuk, Bruening and Licon Bernal, J. Membr. Sci. 447 (2013) 463 (citation from memory), numbers
reproduced. Fluxes and permeances in L/(m2 h), concentrations in mmol/L.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.independent.sdem import transmit, transmit_bvp

SALT_P = (0.3, 1.2)
SALT_PASSAGE = 0.0234375  # of a 1:1 salt with these permeances at 20 L/(m2 h)


@pytest.mark.parametrize(
    ("charges", "permeances", "salt_permeance"),
    [((1, -1), (0.3, 1.2), 0.48), ((2, -1), (0.05, 0.4), 0.12), ((1, -2), (0.3, 0.03), 0.075)],
)
@pytest.mark.parametrize("flux", [2.0, 20.0, 60.0])
def test_single_salt(
    charges: tuple[int, int], permeances: tuple[float, float], salt_permeance: float, flux: float
) -> None:
    # P_s = (z+ - z-) P+ P- / (z+ P+ - z- P-), and 1/f = 1 + J/P_s.
    wall = [-charges[1], charges[0]]
    passage = transmit(wall, charges, permeances, flux) / wall
    assert passage == pytest.approx([1 / (1 + flux / salt_permeance)] * 2, rel=1e-8)


def test_single_salt_printed_values() -> None:
    assert transmit([1, 1], [1, -1], SALT_P, 20.0)[0] == pytest.approx(SALT_PASSAGE, rel=1e-9)
    assert transmit([1, 2], [2, -1], (0.05, 0.4), 20.0)[0] == pytest.approx(0.00596421, rel=1e-6)


@pytest.mark.parametrize(
    ("charge", "permeance", "passage"),
    [
        (1, 5.0, 0.376099),
        (1, 50.0, 2.773524),
        (1, 500.0, 7.649928),
        (2, 0.5, 0.053693),
        (-1, 3.0, 0.043916),
        (-2, 0.1, 0.000809),
    ],
)
def test_trace_ion_in_a_dominant_salt(charge: int, permeance: float, passage: float) -> None:
    # 1/f_t = f_s^(z b) + (P_s/P_t)(1 - f_s^(1+z b)) / [(1+z b) f_s], b = (P- - P+)/(P- + P+) = 0.6. Up to 2.77: more of
    # the ion in the product than in the feed. The trace is finite here, hence 1e-3.
    trace = 1e-7
    wall = [1.0 + max(-charge, 0) * trace, 1.0 + max(charge, 0) * trace, trace]
    found = transmit(wall, [1, -1, charge], [*SALT_P, permeance], 20.0)[2] / trace
    assert found == pytest.approx(passage, rel=1e-3)


def test_trace_ion_second_salt() -> None:
    found = transmit([1.0, 1.0 + 1e-7, 1e-7], [1, -1, 1], [0.1, 1.0, 10.0], 2.0)[2] / 1e-7
    assert found == pytest.approx(4.006105, rel=1e-3)


def test_a_trace_ion_that_passes_freely_follows_the_potential() -> None:
    # P_t -> infinity: f_t -> f_s^(-z b) = 9.5072.
    trace = 1e-9
    found = transmit([1.0, 1.0 + trace, trace], [1, -1, 1], [*SALT_P, 1e7], 20.0)[2] / trace
    assert found == pytest.approx(9.5072, rel=1e-3)


def test_equal_permeances_make_no_field() -> None:
    # P+ = P-: b = 0, and a trace obeys 1/f = 1 + J/P_t, whatever its charge.
    trace = 1e-7
    for charge in (1, 2, -1, -2):
        wall = [1.0 + max(-charge, 0) * trace, 1.0 + max(charge, 0) * trace, trace]
        found = transmit(wall, [1, -1, charge], [0.5, 0.5, 2.0], 10.0)[2] / trace
        assert found == pytest.approx(1 / (1 + 10.0 / 2.0), rel=1e-4)


def test_an_uncharged_species_rides_alone() -> None:
    found = transmit([2.0, 1.5, 5.0, 0.3], [1, 2, -1, 0], [0.3, 0.05, 1.2, 4.0], 5.0)
    assert found[3] / 0.3 == pytest.approx(1 / (1 + 5.0 / 4.0), rel=1e-8)
    assert found[:3] == pytest.approx(transmit([2.0, 1.5, 5.0], [1, 2, -1], [0.3, 0.05, 1.2], 5.0), rel=1e-8)


def test_mixed_feed_vector() -> None:
    # Constructed: Na 2.0, Ca 1.5, Cl 5.0 mmol/L; P 0.3, 0.05, 1.2; flux 5.
    found = transmit([2.0, 1.5, 5.0], [1, 2, -1], [0.3, 0.05, 1.2], 5.0)
    assert found == pytest.approx([0.1983841, 0.0356608, 0.2697056], abs=1e-7)


@pytest.mark.parametrize("flux", [1.0, 3.0, 8.0])
def test_two_integrators_agree(flux: float) -> None:
    wall, charges = [3.0, 2.5, 0.5, 0.2, 4.9, 1.5, 1.3, 0.2], [1, 2, 2, 1, -1, -1, -2, -1]
    wall[4] += sum(z * c for z, c in zip(charges, wall, strict=True))  # chloride closes the balance
    permeances = [0.5, 0.1, 0.08, 0.6, 0.9, 0.6, 0.04, 1.5]
    shot, collocated = (solve(wall, charges, permeances, flux) for solve in (transmit, transmit_bvp))
    assert shot == pytest.approx(collocated, rel=1e-6)
    assert np.dot(charges, shot) == pytest.approx(0.0, abs=1e-9)


def test_little_flux_lets_all_pass() -> None:
    wall = np.array([2.0, 1.5, 5.0])
    assert transmit(wall, [1, 2, -1], [0.3, 0.05, 1.2], 1e-6) == pytest.approx(wall, rel=1e-4)


def test_scaling_flux_and_permeances_together_changes_nothing() -> None:
    one = transmit([2.0, 1.5, 5.0], [1, 2, -1], [0.3, 0.05, 1.2], 5.0)
    ten = transmit([20.0, 15.0, 50.0], [1, 2, -1], [3.0, 0.5, 12.0], 50.0)
    assert ten == pytest.approx(10 * one, rel=1e-8)


def test_charged_water_is_refused() -> None:
    with pytest.raises(ValueError, match="neutral"):
        transmit([2.0, 1.5, 5.1], [1, 2, -1], [0.3, 0.05, 1.2], 5.0)
