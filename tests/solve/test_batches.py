"""Conditions are solved side by side: company, order, number and chunks of them must not matter."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from rinsewright.quantities import Array
from rinsewright.solve import steady
from rinsewright.solve.result import Batch, solve_batch
from rinsewright.solve.steady import Conditions
from rinsewright.water.state import Water
from tests.solve.plants import CHALK, NACL, PLANTS, SOFT, solve, water

COUNT = 24
RANDOM = np.random.default_rng(20)
CELSIUS = RANDOM.uniform(3.0, 27.0, COUNT)
BAR = RANDOM.uniform(2.5, 6.0, COUNT)
NAMES = ["one element", "two unlike side by side", "drain tube alone", "pumped, stages, returning drain water"]
everywhere = pytest.mark.parametrize("name", NAMES)
# The solver stops at 1e-10 of its scaled residuals; flows can differ by about ten times that.
SETTLED = 1e-8
# Ions go by a table against the flux that spans the batch's own range: its interpolation is good to this.
TABLE = 2e-4
FLOWS = ("tap_flow", "membrane_pa", "product_flow", "product_pa", "drain_flow", "drain_pa")


def ions(batch: Batch) -> Array:
    assert batch.waters.drain is not None
    return np.concatenate([batch.waters.product.solutes, batch.waters.drain.solutes], axis=-1)


def flows(batch: Batch) -> Array:
    return np.array([getattr(batch.state, name) for name in FLOWS])


@cache
def together(name: str, steps: int | None = 6) -> Batch:
    batch = solve(PLANTS[name], water(CHALK, CELSIUS), BAR, steps=steps)
    assert batch.state.solved.all()
    return batch


@everywhere
def test_a_batch_is_as_many_singles(name: str) -> None:
    tap = water(CHALK, CELSIUS)
    singles = [solve(PLANTS[name], tap[i : i + 1], BAR[i : i + 1], steps=6) for i in range(COUNT)]
    batch = together(name)
    assert np.column_stack([flows(single) for single in singles]) == pytest.approx(flows(batch), rel=SETTLED)
    assert np.concatenate([ions(single) for single in singles]) == pytest.approx(ions(batch), rel=TABLE)


@everywhere
def test_singles_with_steps_of_their_own_choice(name: str) -> None:
    # A batch takes the steps that its hardest condition needs, a single those it needs itself: 0.1 % apart at most.
    tap = water(CHALK, CELSIUS)
    singles = [solve(PLANTS[name], tap[i : i + 1], BAR[i : i + 1]) for i in range(COUNT)]
    batch = together(name, None)
    assert np.column_stack([flows(single) for single in singles]) == pytest.approx(flows(batch), rel=1e-3)
    assert np.concatenate([ions(single) for single in singles]) == pytest.approx(ions(batch), rel=1e-3)


@everywhere
def test_order_does_not_matter(name: str) -> None:
    order = np.random.default_rng(3).permutation(COUNT)
    mixed = solve(PLANTS[name], water(CHALK, CELSIUS)[order], BAR[order], steps=6)
    assert flows(mixed) == pytest.approx(flows(together(name))[:, order], rel=SETTLED)
    assert ions(mixed) == pytest.approx(ions(together(name))[order], rel=TABLE)


@everywhere
@pytest.mark.parametrize("size", [1, 7, 23])
def test_chunks_do_not_matter(name: str, size: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(steady, "CHUNK", size)
    chunked = solve(PLANTS[name], water(CHALK, CELSIUS), BAR, steps=6)
    assert flows(chunked) == pytest.approx(flows(together(name)), rel=SETTLED)
    assert ions(chunked) == pytest.approx(ions(together(name)), rel=TABLE)
    assert chunked.waters.product.tds == pytest.approx(together(name).waters.product.tds, rel=TABLE)


def test_chunks_may_need_different_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    # The first chunk runs at half the recovery of the second, so that they choose different numbers of steps.
    celsius, bar = np.repeat([4.0, 27.0], 5), np.repeat([2.5, 6.0], 5)
    whole = solve(PLANTS["one element"], water(CHALK, celsius), bar)
    monkeypatch.setattr(steady, "CHUNK", 5)
    chunked = solve(PLANTS["one element"], water(CHALK, celsius), bar)
    assert flows(chunked) == pytest.approx(flows(whole), rel=1e-3)
    assert ions(chunked) == pytest.approx(ions(whole), rel=1e-3)


def test_a_hopeless_lane_harms_no_other() -> None:
    # Pressures below the osmotic pressure and below nothing at all among working ones.
    bar = BAR.copy()
    bar[[2, 9, 17]] = [0.0, 0.05, -0.5]
    mixed = solve(PLANTS["one element"], water(CHALK, CELSIUS), bar, steps=6)
    good = np.delete(np.arange(COUNT), [2, 9, 17])
    assert not mixed.state.solved[[2, 9, 17]].any()
    assert mixed.state.solved[good].all()
    assert flows(mixed)[:, good] == pytest.approx(flows(together("one element"))[:, good], rel=SETTLED)
    assert ions(mixed)[good] == pytest.approx(ions(together("one element"))[good], rel=TABLE)
    assert list(mixed.works) == list(mixed.state.solved)


def test_waters_of_different_kinds_side_by_side() -> None:
    kinds = [water(each, celsius) for each in (CHALK, SOFT, NACL) for celsius in (5.0, 20.0)]
    mixed = Water(
        np.concatenate([each.solutes for each in kinds]),
        np.concatenate([each.carbon for each in kinds]),
        np.concatenate([each.temperature_k for each in kinds]),
    )
    batch = solve(PLANTS["one element"], mixed, steps=6)
    for i, each in enumerate(kinds):
        single = solve(PLANTS["one element"], each, steps=6)
        assert flows(batch)[:, i] == pytest.approx(flows(single)[:, 0], rel=1e-4)  # the lumped salt's permeance
        assert ions(batch)[i] == pytest.approx(ions(single)[0], rel=5e-3)  # two points of the table instead of 14
        assert batch.waters.product.ph[i] == pytest.approx(single.waters.product.ph[0], abs=5e-3)


def test_taking_some_conditions() -> None:
    conditions: Conditions = together("one element").conditions
    some = conditions.take(slice(3, 8))
    assert some.temperature_k == pytest.approx(conditions.temperature_k[3:8])
    assert some.salt.osmotic == pytest.approx(conditions.salt.osmotic[3:8])
    alone = solve_batch(PLANTS["one element"], water(CHALK, CELSIUS)[3:8], some.standing_pa, steps=6)
    assert flows(alone) == pytest.approx(flows(together("one element"))[:, 3:8], rel=SETTLED)
