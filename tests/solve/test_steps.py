"""The steps along an element: chosen by the program, they must not show in the answer."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from rinsewright.solve.result import Batch
from tests.solve.plants import BRACKISH, CHALK, NACL, PLANTS, plant, restrictor, small, solve, tap, water

DRAINS = [6.0, 3.0, 2.0, 1.5, 1.2, 1.0, 0.8, 0.6, 0.45, 0.36]  # L/min: from 17 to 85 % of the element's feed


def recovery(batch: Batch) -> float:
    return max(float(branch.outlet.product[0] / branch.inlet_flow[0]) for branch in batch.state.branches)


def steps_taken(batch: Batch) -> int:
    places = batch.state.branches[0].outlet.places
    assert places is not None
    return (len(places.flow) - 1) // 2


def every_case(check: Callable[..., None]) -> Callable[..., None]:
    """Play a check on three waters and from little to high recovery."""
    waters = pytest.mark.parametrize("ions", [CHALK, NACL, BRACKISH], ids=["chalk", "salt", "brackish"])
    return pytest.mark.parametrize("drain", DRAINS)(waters(check))


@every_case
def test_automatic_steps(drain: float, ions: dict[str, float]) -> None:
    """Flows and pressures within 0.1 % of 32 steps, up to 85 % recovery of the element."""
    a_plant, tap_water = plant(drain=(restrictor(drain),), supply=tap(5.0)), water(ions, 15.0)
    chosen, fine = solve(a_plant, tap_water), solve(a_plant, tap_water, steps=32)
    assert recovery(fine) < 0.85
    for name in ("product_flow", "drain_flow", "membrane_pa", "drain_pa"):
        assert getattr(chosen.state, name) == pytest.approx(getattr(fine.state, name), rel=1e-3), name


@every_case
def test_automatic_steps_and_the_salt(drain: float, ions: dict[str, float]) -> None:
    """What is dissolved, within 0.1 % of 32 steps, up to 85 % recovery of the element."""
    a_plant, tap_water = plant(drain=(restrictor(drain),), supply=tap(5.0)), water(ions, 15.0)
    chosen, fine = solve(a_plant, tap_water), solve(a_plant, tap_water, steps=32)
    assert chosen.state.product_strength == pytest.approx(fine.state.product_strength, rel=1e-3)
    assert chosen.waters.drain is not None
    assert fine.waters.drain is not None
    assert chosen.waters.drain.tds == pytest.approx(fine.waters.drain.tds, rel=1e-3)
    assert chosen.waters.product.tds == pytest.approx(fine.waters.product.tds, rel=1e-3)
    assert chosen.waters.product.conductivity == pytest.approx(fine.waters.product.conductivity, rel=1e-3)


@pytest.mark.parametrize("name", PLANTS)
def test_automatic_steps_on_every_arrangement(name: str) -> None:
    tap_water = water(CHALK, np.array([5.0, 15.0, 25.0]))
    chosen, fine = solve(PLANTS[name], tap_water), solve(PLANTS[name], tap_water, steps=32)
    assert chosen.state.product_flow == pytest.approx(fine.state.product_flow, rel=1e-3)
    assert chosen.state.drain_flow == pytest.approx(fine.state.drain_flow, rel=1e-3)
    assert chosen.waters.product.tds == pytest.approx(fine.waters.product.tds, rel=1e-3)


def test_steps_grow_with_the_recovery() -> None:
    taken = [steps_taken(solve(plant(drain=(restrictor(drain),), supply=tap(5.0)))) for drain in DRAINS]
    assert taken == sorted(taken)
    assert taken[0] < taken[-1]


def test_given_steps_are_taken() -> None:
    assert steps_taken(solve(plant((small(),)), steps=5)) == 5


def test_ions_converge_as_fast_as_the_flow() -> None:
    # The ions' march is of the same order as the water's: twice the steps leave a sixteenth of the miss, or nearly.
    a_plant, tap_water = plant(), water(NACL, 15.0)
    fine = solve(a_plant, tap_water, steps=96).waters.product.tds[0]
    misses = [abs(solve(a_plant, tap_water, steps=n).waters.product.tds[0] / fine - 1.0) for n in (2, 4, 8)]
    assert misses[1] < misses[0] / 8.0
    assert misses[2] < misses[1] / 8.0
