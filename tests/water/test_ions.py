from __future__ import annotations

import numpy as np
import pytest

from rinsewright.sources import Sourced
from rinsewright.water.ions import CHARGE, INDEX, NACL_DIFFUSIVITY_25, SOLUTES, SPECIES, salt_diffusivity


def test_columns_are_in_the_published_order():
    assert SOLUTES == (
        "Ca", "Mg", "Na", "K", "NH4", "Fe", "Mn", "Sr", "Ba",
        "HCO3", "SO4", "Cl", "NO3", "F", "PO4", "SiO2", "B",
    )  # fmt: skip
    assert [INDEX[name] for name in SOLUTES] == list(range(17))


def test_conserved_charges():
    assert CHARGE.tolist() == [2, 2, 1, 1, 1, 2, 2, 2, 2, -1, -2, -1, -1, -1, -1, 0, 0]


def test_every_value_names_its_source():
    for species in SPECIES.values():
        assert species.mobility.reference
        assert species.mobility.standing


def test_a_value_without_a_source_is_refused():
    with pytest.raises(ValueError, match="needs a reference"):
        Sourced(1.0, "m", "1 %", "always", " ", "read")
    with pytest.raises(ValueError, match="unknown standing"):
        Sourced(1.0, "m", "1 %", "always", "a book", "hearsay")  # type: ignore[arg-type]


def test_salt_diffusivity_in_lanes():
    solutes = np.zeros((2, 3, 17))
    solutes[..., INDEX["Na"]] = solutes[..., INDEX["Cl"]] = 5.0
    solutes[1] = 0.0
    assert salt_diffusivity(solutes) == pytest.approx(np.full((2, 3), NACL_DIFFUSIVITY_25))


def test_salt_diffusivity_does_not_depend_on_strength():
    solutes = np.abs(np.random.default_rng(1).normal(size=17))
    assert float(salt_diffusivity(4.0 * solutes)) == pytest.approx(float(salt_diffusivity(solutes)))
