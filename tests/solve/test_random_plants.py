"""Plausible plants drawn at random: what solves obeys the balances, what does not says why, and most solve."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rinsewright.plant.check import Check
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.product.line import Blend, Lift, Tank
from rinsewright.plant.tube import Tube
from rinsewright.quantities import BAR, L_MIN, LMH, LMH_PER_BAR, MM
from rinsewright.solve.result import Batch
from rinsewright.water.ions import CHARGE
from tests.solve.plants import BRACKISH, CHALK, NACL, PUMP, SOFT, restrictor, solve, tap, water

LANES = 6  # conditions for each plant


def within(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


@st.composite
def elements(draw: st.DrawFn) -> Element:
    area, length = draw(
        st.sampled_from([(0.45, 0.25), (1.2, 0.46), (2.6, 0.92), (3.2, 0.46), (7.2, 0.92), (8.2, 0.95)])
    )
    return Element(
        area=area,
        length=length,
        channel=draw(within(0.66, 0.86)) * MM,
        porosity=draw(within(0.85, 0.92)),
        water_permeance=draw(within(3.0, 9.0)) * LMH_PER_BAR,
        salt_permeance=draw(within(0.1, 1.2)) * LMH,
        water_activation=draw(within(2500.0, 3100.0)),
        salt_activation=draw(within(2700.0, 4000.0)),
    )


@st.composite
def plants(draw: st.DrawFn) -> Plant:
    """One to four elements side by side, in a row or in two stages, with a drain set for some sensible recovery."""
    chosen = draw(st.lists(elements(), min_size=1, max_size=4))
    kind = draw(st.sampled_from(["side by side", "in a row", "staged"]))
    stages: tuple[tuple[Element, ...], ...]
    if kind == "in a row":
        stages = tuple((each,) for each in chosen)
    elif kind == "staged" and len(chosen) > 2:
        stages = (tuple(chosen[:-1]), (chosen[-1],))
    else:
        stages = (tuple(chosen),)
    pumped = draw(st.booleans())
    at_4_bar = sum(each.area * each.water_permeance for each in chosen) * 4.0 * BAR * 0.7 / L_MIN
    drain = restrictor(at_4_bar * draw(within(0.4, 2.5)), 4.0, draw(st.sampled_from([0.0, 0.5, 0.5, 0.57, 1.0])))
    wide = at_4_bar > 4.0
    feed = (
        Tube(bore=(15.0 if wide else 9.0) * MM, length=draw(within(1.0, 20.0)), fittings_k=3.0),
        Cartridge(media="sediment", clean_drop_pa=draw(within(0.02, 0.3)) * BAR, at_flow=8.0 * L_MIN),
        *((PUMP,) if pumped else ()),
    )
    blend = draw(st.sampled_from([0.0, 0.0, 0.05, 0.15]))
    product = (
        Check(),
        *((Blend(share=blend),) if blend else ()),
        Lift(height=draw(within(-1.0, 3.0))),
        Tank(volume=0.5, float_open_flow=12.0 * L_MIN),
    )
    returned = draw(st.sampled_from([0.0, 0.0, 0.5, 2.0])) * L_MIN if pumped else 0.0
    standing = draw(within(2.0, 6.0))
    return Plant(tap(standing, 12.0, draw(within(0.1, 1.2))), feed, stages, (drain,), product, returned)


@dataclass
class Tally:
    solved: int = 0
    drawn: int = 0
    reasons: list[str] = field(default_factory=list)


def hold(batch: Batch) -> None:
    """Balances and neutrality of the lanes that solved."""
    state, waters = batch.state, batch.waters
    works = state.solved
    drain = waters.drain
    assert drain is not None
    assert np.all(state.residual[works] < 1e-8)
    for branch in state.branches:  # no channel runs dry
        assert np.all(branch.outlet.flow[works] > 0.0)
    out = state.product_flow + state.drain_flow + state.blend_flow
    assert out[works] == pytest.approx(state.tap_flow[works], rel=1e-8)
    fed = (state.tap_flow - state.blend_flow)[works]
    made, wasted = state.product_flow[works], state.drain_flow[works]
    for ours in ("solutes", "carbon"):
        into, good, waste = (getattr(each, ours)[works].T for each in (waters.feed, waters.product, drain))
        assert np.all(np.abs(fed * into - made * good - wasted * waste) <= 1e-8 * np.abs(fed * into))
    for each in (waters.product, drain):
        size = np.abs(each.solutes[works]) @ np.abs(CHARGE)
        assert np.all(np.abs(each.solutes[works] @ CHARGE) <= 1e-9 * size)
    assert np.all(waters.product.tds[works] < waters.feed.tds[works])
    assert np.all(drain.tds[works] >= waters.feed.tds[works])
    assert np.all(waters.product.tds[works] >= 0.0)


def test_random_plants(record_property: Callable[[str, object], None]) -> None:
    tally = Tally()

    @settings(max_examples=90, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None)
    @given(
        a_plant=plants(),
        ions=st.sampled_from([CHALK, SOFT, NACL, BRACKISH]),
        celsius=st.lists(within(2.0, 28.0), min_size=LANES, max_size=LANES),
        share=st.lists(within(0.7, 1.0), min_size=LANES, max_size=LANES),
    )
    def check(a_plant: Plant, ions: dict[str, float], celsius: list[float], share: list[float]) -> None:
        standing = np.maximum(a_plant.supply.standing_pa / BAR * np.array(share), 2.0)
        batch = solve(a_plant, water(ions, np.array(celsius)), standing)
        hold(batch)
        for lane in range(LANES):
            reason = batch.refusal(lane)
            assert (reason is None) == bool(batch.state.solved[lane])
            if reason is not None:
                tally.reasons.append(reason.reason)
        tally.solved += int(batch.state.solved.sum())
        tally.drawn += LANES

    check()
    solved = tally.solved / tally.drawn
    record_property("random plants", f"{tally.solved} of {tally.drawn} conditions solved ({solved:.1%})")
    assert tally.drawn >= 400
    assert solved >= 0.95  # all of them when this was written
    # what does not solve must say more than that it does not
    unexplained = sum("no steady state was found" in reason for reason in tally.reasons)
    record_property("random plants refused", f"{len(tally.reasons)}, {unexplained} of them without a cause")
    assert unexplained <= 0.02 * tally.drawn
