"""The program's steady state against the independent reference, through the public interface alone.

Wanted: flows within 0.5 %, salt within 1 %. What remains is the osmotic formula (Pitzer's here), water's properties
(IAPWS-95 here), the blend of friction between Re 2000 and 4000, and the program's own discretisation.
"""

from __future__ import annotations

import tomllib
from functools import lru_cache
from typing import Any

import pytest

from rinsewright import Element, Site
from tests.independent import laws, ode, sites
from tests.independent.ode import BAR, L_H, LMH, MG_L, ZERO_C, Stream

FLOW = 2e-3
SALT = 2e-3
EXACT = 1e-6

EVERYDAY = (15.0, 500.0)  # °C, mg/L
CORNERS = [(5.0, 100.0), (25.0, 2000.0)]
GRID = [(celsius, nacl) for celsius in (5.0, 10.0, 15.0, 20.0, 25.0) for nacl in (100.0, 350.0, 1000.0, 2000.0)]
CASES = [(name, *EVERYDAY) for name in sites.PLANTS] + [("one element", *place) for place in GRID]
MORE_CASES = [(name, *place) for name in sites.PLANTS for place in CORNERS] + [("two and one", *p) for p in GRID[1:-1]]
LONGER = [pytest.param(*case, marks=pytest.mark.longer) for case in MORE_CASES]


@lru_cache
def answer_of(text: str, celsius: float) -> dict[str, Any]:
    return dict(Site.loads(text).solve(temperature_c=celsius).answer())


def nacl_of(stream: dict[str, Any]) -> float:
    return float(stream["ions_mg_l"]["Na"] + stream["ions_mg_l"]["Cl"])


@pytest.mark.parametrize(("name", "celsius", "nacl"), [*CASES, *LONGER])
def test_steady_state(name: str, celsius: float, nacl: float) -> None:
    text = sites.named(name, nacl, 12.0)  # the temperature asked for overrides the file's
    answer, wanted = answer_of(text, celsius), ode.solve_site(text, celsius)
    assert answer["feed"]["flow_l_min"] == pytest.approx(wanted.feed_l_min, rel=FLOW)
    assert answer["product"]["flow_l_min"] == pytest.approx(wanted.product_l_min, rel=FLOW)
    assert answer["drain"]["flow_l_min"] == pytest.approx(wanted.drain_l_min, rel=FLOW)
    assert answer["recovery"] == pytest.approx(wanted.recovery, rel=FLOW)
    assert answer["feed"]["membrane_bar"] == pytest.approx(wanted.membrane_bar, rel=FLOW)
    assert answer["drain"]["pressure_bar"] == pytest.approx(wanted.drain_bar, rel=FLOW)
    assert answer["product"]["back_pressure_bar"] == pytest.approx(wanted.back_pressure_bar, rel=2 * FLOW, abs=2e-3)
    assert nacl_of(answer["product"]) == pytest.approx(wanted.product_nacl, rel=SALT)
    assert nacl_of(answer["drain"]) == pytest.approx(wanted.drain_nacl, rel=FLOW)
    assert [row["feed_l_min"] for row in answer["elements"]] == pytest.approx(wanted.element_feeds_l_min, rel=FLOW)
    assert [row["product_l_min"] for row in answer["elements"]] == pytest.approx(
        wanted.element_products_l_min, rel=FLOW
    )


def test_only_salt_is_in_it() -> None:
    answer = answer_of(sites.named("one element", 500.0, 12.0), 12.0)
    for place in ("feed", "product", "drain"):
        assert answer[place]["tds_mg_l"] == pytest.approx(nacl_of(answer[place]), rel=1e-3)
        assert answer[place]["ions_mg_l"]["Na"] / nacl_of(answer[place]) == pytest.approx(sites.SODIUM_SHARE, abs=1e-4)


TUBELESS = {
    "tap, cartridge, lift, float": {"feed": (sites.SEDIMENT,)},
    "two cartridges and resin": {
        "feed": (sites.SEDIMENT, sites.CARBON),
        "product": (sites.CHECK, sites.SHUTOFF, sites.LIFT, sites.RESIN, sites.SMALL_FLOAT_TANK),
    },
    "held drain flow": {"feed": (sites.SEDIMENT,), "drain": (sites.restrictor(1.5, exponent=0.0),)},
    "laminar restrictor": {"feed": (sites.SEDIMENT,), "drain": (sites.restrictor(1.5, exponent=1.0),)},
    "pumped, recirculating": {
        "feed": (sites.SEDIMENT, sites.PUMP),
        "drain": (sites.restrictor(1.5, 6.0),),
        "plant": "recirculation_l_min = 2.0",
    },
    "unlike in parallel": {
        "feed": (sites.CARBON,),
        "elements": (sites.LARGE, sites.SMALL),
        "drain": (sites.restrictor(2.5),),
    },
    "two and one": {
        "feed": (sites.SEDIMENT,),
        "elements": (sites.staged(sites.SMALL, 1), sites.staged(sites.SMALL, 1), sites.staged(sites.SMALL, 2)),
        "supply": sites.STRONG_TAP,
    },
}


@pytest.mark.parametrize("celsius", [5.0, 20.0])
@pytest.mark.parametrize("name", TUBELESS)
def test_each_part_obeys_its_own_law(name: str, celsius: float) -> None:
    text = sites.site(**TUBELESS[name])  # type: ignore[arg-type]
    found = laws.residuals(tomllib.loads(text), answer_of(text, celsius), celsius)
    law, size = laws.worst(found)
    assert size < EXACT, (law, found)


@pytest.mark.parametrize("name", sites.PLANTS)
def test_laws_with_tubes_in_the_lines(name: str) -> None:
    text = sites.named(name, 500.0, 12.0)
    found = laws.residuals(tomllib.loads(text), answer_of(text, 12.0), 12.0)
    tubes = {law: abs(found.pop(law)) for law in ("supply and feed line", "product line")}
    assert max(tubes.values()) < FLOW, tubes
    law, size = laws.worst(found)
    assert size < EXACT, (law, found)


@pytest.mark.parametrize("name", sites.PLANTS)
def test_each_element_from_its_printed_inlet(name: str) -> None:
    text = sites.named(name, 500.0, 12.0)
    found = laws.element_deviations(tomllib.loads(text), answer_of(text, 12.0), 12.0)
    assert abs(found.pop("product salt")) < SALT
    for what, deviation in found.items():
        assert abs(deviation) < (2 * FLOW if what.startswith("channel loss") else FLOW), what


RATINGS = [
    {
        "product_l_h": 300,
        "rejection_pct": 98.5,
        "pressure_bar": 6.9,
        "nacl_mg_l": 500,
        "temperature_c": 25,
        "recovery_pct": 15,
    },
    {
        "product_l_h": 330,
        "rejection_pct": 99.5,
        "pressure_bar": 15.5,
        "nacl_mg_l": 2000,
        "temperature_c": 25,
        "recovery_pct": 15,
    },
    {
        "product_l_h": 250,
        "rejection_pct": 97.0,
        "pressure_bar": 5.5,
        "nacl_mg_l": 250,
        "temperature_c": 20,
        "recovery_pct": 30,
    },
]


def rated_element(rating: dict[str, float]) -> dict[str, Any]:
    return {"nominal": "4040", "area_m2": 7.2, "length_m": 0.92, "channel_mm": 0.71, "porosity": 0.89, "rated": rating}


@pytest.mark.parametrize("rating", RATINGS)
def test_permeances_from_a_rating(rating: dict[str, float]) -> None:
    found = Element.from_rated(rated_element(rating))
    wanted = ode.read_element(rated_element(rating))
    assert found.water_permeance_l_m2_h_bar == pytest.approx(wanted.water_permeance * BAR / LMH, rel=2e-3)
    assert found.salt_permeance_l_m2_h == pytest.approx(wanted.salt_permeance / LMH, rel=5e-3)


@pytest.mark.parametrize("rating", RATINGS)
def test_the_reference_on_these_permeances_meets_the_rating(rating: dict[str, float]) -> None:
    found = Element.from_rated(rated_element(rating))
    keys = {k: v for k, v in rated_element(rating).items() if k != "rated"}
    keys["water_permeance_l_m2_h_bar"] = found.water_permeance_l_m2_h_bar
    keys["salt_permeance_l_m2_h"] = found.salt_permeance_l_m2_h
    flow = rating["product_l_h"] * L_H
    inlet = Stream(rating["pressure_bar"] * BAR, 100 * flow / rating["recovery_pct"], rating["nacl_mg_l"] * MG_L)
    passed = ode.march(ode.read_element(keys), inlet, 0.0, rating["temperature_c"] + ZERO_C)
    assert passed.product.flow == pytest.approx(flow, rel=1e-3)
    assert 1 - passed.product.nacl / inlet.nacl == pytest.approx(rating["rejection_pct"] / 100, rel=1e-3)
    assert passed.product.nacl / inlet.nacl == pytest.approx(1 - rating["rejection_pct"] / 100, rel=5e-3)


@pytest.mark.parametrize("rating", RATINGS)
def test_a_plant_at_rating_conditions_gives_the_rating_back(rating: dict[str, float]) -> None:
    product = rating["product_l_h"] / 60
    drain = product * (100 / rating["recovery_pct"] - 1)
    stiff = f"""
[supply]
kind = "mains"
standing_bar = {rating["pressure_bar"]}
flowing = [ {{ flow_l_min = 1000.0, pressure_bar = {rating["pressure_bar"] - 1e-3} }} ]
"""
    rated = ", ".join(f"{key} = {value}" for key, value in rating.items())
    element = sites.LARGE[: sites.LARGE.index("rated")] + f"rated = {{ {rated} }}"
    text = sites.site(
        nacl_mg_l=rating["nacl_mg_l"],
        temperature_c=rating["temperature_c"],
        supply=stiff,
        feed=(sites.CHECK,),
        elements=(element,),
        drain=(sites.restrictor(drain, exponent=0.0),),
        product=(sites.TANK.replace("12.0", "1e5"),),
    )
    answer = answer_of(text, rating["temperature_c"])
    assert answer["product"]["flow_l_min"] == pytest.approx(product, rel=1e-3)
    assert answer["rejection"] == pytest.approx(rating["rejection_pct"] / 100, rel=1e-3)
    assert 1 - answer["rejection"] == pytest.approx(1 - rating["rejection_pct"] / 100, rel=1e-3)
