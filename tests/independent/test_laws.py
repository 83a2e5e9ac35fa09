"""The law-by-law check itself: silent on a state that obeys every law, loud when any one number is off."""

from __future__ import annotations

import copy
import tomllib
from typing import Any

import pytest

from tests.independent import laws, ode, sites
from tests.independent.laws import ANSWER_FLUID

CELSIUS = 12.0
TEXT = sites.site(
    feed=(sites.SEDIMENT, sites.PUMP),
    elements=(sites.staged(sites.SMALL, 1), sites.staged(sites.SMALL, 1), sites.staged(sites.SMALL, 2)),
    drain=(sites.restrictor(1.5, 6.0),),
    product=(sites.CHECK, sites.LIFT, sites.RESIN, sites.TANK),
    plant="recirculation_l_min = 1.0",
)


def ions(nacl: float) -> dict[str, float]:
    return {"Na": nacl * sites.SODIUM_SHARE, "Cl": nacl * (1 - sites.SODIUM_SHARE)}


@pytest.fixture(scope="module")
def sound() -> dict[str, Any]:
    """The reference's own state in the shape of a printed answer."""
    state = ode.solve_site(TEXT, CELSIUS, ANSWER_FLUID)
    rows = zip(state.element_feeds_l_min, state.element_products_l_min, strict=True)
    return {
        "feed": {
            "flow_l_min": state.feed_l_min,
            "membrane_bar": state.membrane_bar,
            "tds_mg_l": 500.0,
            "ions_mg_l": ions(500.0),
        },
        "product": {
            "flow_l_min": state.product_l_min,
            "back_pressure_bar": state.back_pressure_bar,
            "tds_mg_l": state.product_nacl,
            "ions_mg_l": ions(state.product_nacl),
        },
        "drain": {
            "flow_l_min": state.drain_l_min,
            "pressure_bar": state.drain_bar,
            "tds_mg_l": state.drain_nacl,
            "ions_mg_l": ions(state.drain_nacl),
        },
        "recovery": state.recovery,
        "rejection": 1 - state.product_nacl / 500.0,
        "elements": [
            {"feed_l_min": feed, "product_l_min": made, "recovery": made / feed, "flux_l_m2_h": 60 * made / 2.6}
            for feed, made in rows
        ],
    }


def test_a_sound_state_leaves_nothing_over(sound: dict[str, Any]) -> None:
    found = laws.residuals(tomllib.loads(TEXT), sound, CELSIUS)
    assert laws.worst(found)[1] < 1e-8
    deviations = laws.element_deviations(tomllib.loads(TEXT), sound, CELSIUS)
    assert max(map(abs, deviations.values())) < 1e-3  # IAPWS-95 against the short formulas


@pytest.mark.parametrize(
    ("place", "key", "law"),
    [
        ("feed", "membrane_bar", "supply and feed line"),
        ("feed", "flow_l_min", "water"),
        ("product", "flow_l_min", "recovery"),
        ("product", "back_pressure_bar", "product line"),
        ("product", "tds_mg_l", "rejection"),
        ("drain", "flow_l_min", "restrictor"),
        ("drain", "pressure_bar", "restrictor"),
    ],
)
def test_one_number_off_is_seen(sound: dict[str, Any], place: str, key: str, law: str) -> None:
    wrong = copy.deepcopy(sound)
    wrong[place][key] *= 1.001
    found = laws.residuals(tomllib.loads(TEXT), wrong, CELSIUS)
    assert abs(found[law]) > 1e-6


@pytest.mark.parametrize("ion", ["Na", "Cl"])
def test_a_lost_ion_is_seen(sound: dict[str, Any], ion: str) -> None:
    wrong = copy.deepcopy(sound)
    wrong["drain"]["ions_mg_l"][ion] *= 0.999
    assert laws.residuals(tomllib.loads(TEXT), wrong, CELSIUS)[f"balance of {ion}"] < -1e-4


def test_an_element_that_makes_too_much_is_seen(sound: dict[str, Any]) -> None:
    wrong = copy.deepcopy(sound)
    wrong["elements"][2]["product_l_min"] *= 1.02
    assert laws.element_deviations(tomllib.loads(TEXT), wrong, CELSIUS)["product of 2.1"] < -0.015
    assert abs(laws.residuals(tomllib.loads(TEXT), wrong, CELSIUS)["elements' product"]) > 1e-3
