"""A solved plant obeys every part's own law, and nothing is made or lost on the water's way."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from rinsewright.plant.feed.treatment import Softener
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.restrictor import Restrictor
from rinsewright.plant.product.line import Blend
from rinsewright.quantities import BAR, L_MIN, Array
from rinsewright.solve.result import Batch
from rinsewright.water.ions import CHARGE, INDEX
from tests.solve.plants import (
    BRACKISH,
    CHALK,
    HOSE,
    NACL,
    PLANTS,
    PRODUCT,
    PUMP,
    SEDIMENT,
    SOFT,
    WIDE_HOSE,
    plant,
    restrictor,
    small,
    solve,
    water,
)

CELSIUS = np.array([4.0, 12.0, 20.0, 27.0])
WATERS = {"chalk": CHALK, "soft": SOFT, "brackish": BRACKISH, "salt": NACL}
MORE = PLANTS | {
    "blending": plant(product=(PRODUCT[0], Blend(share=0.1), *PRODUCT[1:])),
    "blending, returning drain water": plant(
        feed=(WIDE_HOSE, SEDIMENT, PUMP),
        drain=(restrictor(1.5, 6.0),),
        recirculation=2.0 * L_MIN,
        product=(PRODUCT[0], Blend(share=0.1), *PRODUCT[1:]),
    ),
    "returning nearly all of its drain water": plant(
        (small(area=0.45, length=0.25),),
        feed=(WIDE_HOSE, PUMP),
        drain=(restrictor(0.06, exponent=0.0),),
        recirculation=2.0 * L_MIN,
    ),
    "softened": plant(feed=(HOSE, Softener(clean_drop_pa=0.1 * BAR, at_flow=8.0 * L_MIN))),
}
everywhere = pytest.mark.parametrize("name", MORE)
on_every_water = pytest.mark.parametrize("tap", WATERS)


@cache
def solved(name: str, tap: str) -> Batch:
    batch = solve(MORE[name], water(WATERS[tap], CELSIUS))
    assert batch.state.solved.all()
    return batch


def drop(parts: tuple, flow: Array, batch: Batch) -> Array:
    return sum((part.drop(flow, batch.state.fluid) for part in parts), start=np.zeros_like(flow))


@everywhere
@on_every_water
def test_residual(name: str, tap: str) -> None:
    assert np.max(solved(name, tap).state.residual) < 1e-9


@everywhere
def test_feed_line_ends_at_the_membranes_pressure(name: str) -> None:
    a_plant, batch = MORE[name], solved(name, "chalk")
    state = batch.state
    at = a_plant.feed.index(a_plant.pump) if a_plant.pump else len(a_plant.feed)
    pressure = a_plant.supply.pressure(state.tap_flow, batch.conditions.standing_pa)
    pressure = pressure - drop(a_plant.feed[:at], state.tap_flow, batch)
    pressure = pressure - drop(a_plant.feed[at:], state.membrane_flow, batch)
    assert state.membrane_pa == pytest.approx(pressure, rel=1e-9)
    assert state.membrane_flow == pytest.approx(state.tap_flow - state.blend_flow + a_plant.recirculation, rel=1e-9)


@everywhere
def test_drain_line_uses_up_the_pressure_left(name: str) -> None:
    a_plant, batch = MORE[name], solved(name, "chalk")
    state = batch.state
    laws = [part for part in a_plant.drain if isinstance(part, Restrictor)]
    others = tuple(part for part in a_plant.drain if part not in laws)
    left = state.drain_pa - drop(others, state.drain_flow, batch)
    if laws:
        assert state.drain_flow == pytest.approx(laws[0].flow_at(left), rel=1e-8)
    else:
        assert left == pytest.approx(np.zeros(4), abs=1e-8 * BAR)


@everywhere
def test_product_line_makes_the_back_pressure(name: str) -> None:
    a_plant, batch = MORE[name], solved(name, "chalk")
    state = batch.state
    expected = drop(a_plant.to_tank, state.product_flow + state.blend_flow, batch)
    assert state.product_pa == pytest.approx(expected, rel=1e-8)


@everywhere
def test_elements_side_by_side_share_their_pressures(name: str) -> None:
    state = solved(name, "chalk").state
    for stage in {branch.stage for branch in state.branches}:
        branches = [branch for branch in state.branches if branch.stage == stage]
        for other in branches[1:]:
            assert other.inlet_pa == pytest.approx(branches[0].inlet_pa, rel=1e-12)
            assert other.outlet.pressure == pytest.approx(branches[0].outlet.pressure, rel=1e-8)
    last = [branch for branch in state.branches if branch.stage == len({b.stage for b in state.branches})]
    assert last[0].outlet.pressure == pytest.approx(state.drain_pa, rel=1e-12)


@everywhere
@on_every_water
def test_water_balance(name: str, tap: str) -> None:
    state = solved(name, tap).state
    out = state.product_flow + state.drain_flow + state.blend_flow
    assert out == pytest.approx(state.tap_flow, rel=1e-9)
    made = sum(branch.group.count * branch.outlet.product for branch in state.branches)
    assert made == pytest.approx(state.product_flow, rel=1e-12)


@everywhere
@on_every_water
def test_every_solute_balances(name: str, tap: str) -> None:
    # Every ion, alkalinity (the HCO3 column), silica and boron: in by the feed = out by product and drain.
    batch = solved(name, tap)
    state, waters = batch.state, batch.waters
    assert waters.drain is not None
    fed = (state.tap_flow - state.blend_flow)[:, None] * waters.feed.solutes
    left = state.product_flow[:, None] * waters.product.solutes + state.drain_flow[:, None] * waters.drain.solutes
    assert np.all(np.abs(fed - left) <= 1e-9 * fed)


@everywhere
@on_every_water
def test_carbon_balances(name: str, tap: str) -> None:
    batch = solved(name, tap)
    state, waters = batch.state, batch.waters
    assert waters.drain is not None
    fed = (state.tap_flow - state.blend_flow) * waters.feed.carbon
    left = state.product_flow * waters.product.carbon + state.drain_flow * waters.drain.carbon
    assert np.all(np.abs(fed - left) <= 1e-9 * fed)


@everywhere
@on_every_water
def test_product_and_drain_are_neutral(name: str, tap: str) -> None:
    waters = solved(name, tap).waters
    assert waters.drain is not None
    for part in (waters.feed, waters.product, waters.drain, waters.delivered, *waters.branch_product):
        size = np.abs(part.solutes) @ np.abs(CHARGE)
        assert np.all(np.abs(part.solutes @ CHARGE) < 1e-9 * size)


@everywhere
def test_what_the_elements_make_adds_up_to_the_product(name: str) -> None:
    batch = solved(name, "chalk")
    state, waters = batch.state, batch.waters
    branches = list(zip(state.branches, waters.branch_product, strict=True))
    solutes = sum((b.group.count * b.outlet.product)[:, None] * made.solutes for b, made in branches)
    assert solutes == pytest.approx(state.product_flow[:, None] * waters.product.solutes, rel=1e-9)
    carbon = sum(b.group.count * b.outlet.product * made.carbon for b, made in branches)
    assert carbon == pytest.approx(state.product_flow * waters.product.carbon, rel=1e-9)


@everywhere
def test_product_is_weaker_and_drain_stronger_ion_by_ion(name: str) -> None:
    waters = solved(name, "chalk").waters
    assert waters.drain is not None
    present = waters.feed.solutes > 0.0
    assert np.all(waters.product.solutes[present] < waters.feed.solutes[present])
    assert np.all(waters.drain.solutes[present] > waters.feed.solutes[present])


@everywhere
def test_carbon_dioxide_passes_and_the_product_turns_acid(name: str) -> None:
    # CO2 has nearly the same strength on both sides (read in general texts); bicarbonate stays behind, so pH falls.
    waters = solved(name, "chalk").waters
    assert waters.drain is not None
    assert waters.product.co2 == pytest.approx(waters.feed.co2, rel=0.08)
    assert np.all(waters.product.ph < waters.feed.ph - 0.8)
    assert np.all(waters.drain.ph > waters.feed.ph)


def test_the_mix_agrees_with_the_lumped_salt_where_it_must() -> None:
    # On NaCl alone the lumped salt of the hydraulics and the ions' own march are the same thing.
    batch = solve(PLANTS["two and one"], water(NACL, CELSIUS), steps=24)
    ions = batch.waters.product.solutes / batch.waters.tap.solutes.max(axis=-1, keepdims=True)
    assert ions[:, INDEX["Na"]] == pytest.approx(batch.state.product_strength, rel=1e-3)
    drain = batch.waters.drain
    assert drain is not None
    strength = drain.solutes[:, INDEX["Cl"]] / batch.waters.tap.solutes[:, INDEX["Cl"]]
    assert strength == pytest.approx(batch.state.drain_strength, rel=1e-4)


def test_a_softener_exchanges_by_equivalents() -> None:
    a_plant: Plant = MORE["softened"]
    waters = solve(a_plant).waters
    hard = [INDEX[name] for name in ("Ca", "Mg", "Sr", "Ba", "Fe", "Mn")]
    assert waters.feed.solutes[0, hard] == pytest.approx(0.01 * waters.tap.solutes[0, hard])
    gained = waters.feed.solutes[0, INDEX["Na"]] - waters.tap.solutes[0, INDEX["Na"]]
    assert gained == pytest.approx(2.0 * 0.99 * waters.tap.solutes[0, hard].sum(), rel=1e-12)
    assert waters.feed.carbon == pytest.approx(waters.tap.carbon)
