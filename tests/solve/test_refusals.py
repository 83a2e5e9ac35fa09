"""A plant that cannot run says why, in one sentence that names the part."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rinsewright.errors import NoWorkingState
from rinsewright.plant.feed.supply import Supply
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.layout import Plant
from rinsewright.plant.product.line import Lift, ShutOff
from rinsewright.plant.tube import Tube
from rinsewright.quantities import BAR, L_MIN, MM, kelvin
from rinsewright.solve.result import Solved, solve_one
from rinsewright.water.state import Water
from tests.solve.plants import BRACKISH, CHALK, HOSE, PRODUCT, PUMP, SEDIMENT, element, plant, restrictor, solve, water

SHUTOFF = ShutOff(closes_at_ratio=0.66, key="plant.product[1]", name="shut-off")


def raised(height: float, *before: ShutOff) -> tuple:
    return (PRODUCT[0], *before, Lift(height=height, key="plant.product[1]", name="lift"), PRODUCT[2])


def refused(a_plant: Plant, tap_water: Water | None = None, bar: float | None = None) -> NoWorkingState:
    """The refusal, seen alike through a batch and through a single solve."""
    tap_water = water(CHALK) if tap_water is None else tap_water
    reason = solve(a_plant, tap_water, bar).refusal(0)
    assert reason is not None
    standing = a_plant.supply.standing_pa if bar is None else bar * BAR
    with pytest.raises(NoWorkingState) as also:
        solve_one(a_plant, tap_water, standing, 0.5)
    assert str(also.value) == str(reason)
    assert also.value.exit_status == 3
    assert "\n" not in reason.reason
    assert "nan" not in reason.reason
    assert not reason.reason.endswith(".")
    return reason


def test_a_working_plant_is_not_refused() -> None:
    found = solve_one(plant(), water(CHALK), 4.2 * BAR, 0.5)
    assert isinstance(found, Solved)
    assert found.batch.refusal(0) is None
    assert found.batch.works.all()


def test_lift_too_high() -> None:
    reason = refused(plant(product=raised(60.0)))
    assert reason.part == "plant.product[1]"
    assert "lift" in reason.reason
    assert "5.9 bar" in reason.reason  # 60 m of water
    assert "4.2 bar" in reason.reason


def test_lift_too_high_even_for_the_pump() -> None:
    reason = refused(plant(feed=(HOSE, SEDIMENT, PUMP), product=raised(120.0)))
    assert reason.part == "plant.product[1]"
    assert "5.0 bar of the pump" in reason.reason


def test_supply_too_weak_for_the_water() -> None:
    # Osmotic pressure of this brackish water: 1.4 bar. A whiff of water as salty as the feed would still pass at 0.5
    # bar, but nothing that has to be lifted to a tank.
    reason = refused(plant(), water(BRACKISH), 0.1)
    assert reason.part == "supply.standing_bar"
    assert "stands at 0.1 bar" in reason.reason
    assert "make no water" in reason.reason


def test_feed_line_eats_the_pressure() -> None:
    # A thin hose before an open drain: what is left at the membranes does not lift the product.
    throttled = plant(
        feed=(Tube(bore=4 * MM, length=60.0, key="plant.feed[0]", name="hose"),),
        drain=(restrictor(40.0, 4.0),),
        product=raised(15.0),
    )
    reason = refused(throttled)
    assert reason.part == "plant.feed[0]"
    assert "hose" in reason.reason
    assert "at the membranes" in reason.reason


def test_clogged_cartridge() -> None:
    clogged = Cartridge(
        media="sediment", clean_drop_pa=12.0 * BAR, at_flow=8.0 * L_MIN, key="plant.feed[1]", name="sediment filter"
    )
    reason = refused(plant(feed=(HOSE, clogged), drain=(restrictor(30.0, 4.0),), product=raised(12.0)))
    assert reason.part == "plant.feed[1]"
    assert "sediment filter" in reason.reason


def test_shut_off_held_closed() -> None:
    # A tank so high that the product line stands above two thirds of the feed pressure even while running.
    reason = refused(plant(product=raised(30.0, SHUTOFF)))
    assert reason.part == "plant.product[1]"
    assert "stays closed" in reason.reason
    assert "0.66" in reason.reason


def test_shut_off_opens_below_its_ratio() -> None:
    assert solve(plant(product=raised(15.0, SHUTOFF))).refusal(0) is None


def test_pump_starved() -> None:
    thirsty = replace(PUMP, min_inlet_pa=3.5 * BAR)
    starved = plant(feed=(HOSE, SEDIMENT, thirsty), drain=(restrictor(8.0, 6.0),))
    reason = refused(starved)
    assert reason.part == "plant.feed[2]"
    assert "booster" in reason.reason
    assert "3.50 bar" in reason.reason
    content = replace(PUMP, min_inlet_pa=0.2 * BAR)
    assert solve(plant(feed=(HOSE, SEDIMENT, content), drain=(restrictor(3.0, 6.0),))).refusal(0) is None


def test_membrane_over_its_pressure() -> None:
    weak = element(max_pa=6.0 * BAR, name="membrane")
    reason = refused(plant((weak,), feed=(HOSE, SEDIMENT, PUMP), drain=(restrictor(1.5, 6.0),)))
    assert reason.part == "plant.membranes[0]"
    assert "6.0 bar at most" in reason.reason
    assert solve(plant((weak,))).refusal(0) is None


def test_the_second_element_may_be_the_weak_one() -> None:
    weak = element(max_pa=3.0 * BAR, key="plant.membranes[1]")
    assert refused(plant((element(), weak))).part == "plant.membranes[1]"


def test_housing_over_its_rating() -> None:
    assert refused(plant((element(rated_pa=3.0 * BAR),))).part == "plant.membranes[0]"


def test_water_too_warm() -> None:
    tender = element(max_k=float(kelvin(45.0)) - 20.0, name="membrane")
    reason = refused(plant((tender,)), water(CHALK, 28.0))
    assert reason.part == "plant.membranes[0]"
    assert "25 °C at most" in reason.reason
    assert "28 °C" in reason.reason
    assert solve(plant((tender,)), water(CHALK, 20.0)).refusal(0) is None


def test_refusals_are_told_lane_by_lane() -> None:
    batch = solve(plant(product=raised(30.0)), water(CHALK, np.full(3, 12.0)), np.array([2.5, 4.2, 6.0]))
    assert list(batch.works) == [False, True, True]
    assert batch.refusal(0) is not None
    assert batch.refusal(1) is None


def test_no_pressure_at_all() -> None:
    reason = refused(plant(supply=Supply(0.0, 0.0)))
    assert "0.0 bar" in reason.reason


def test_a_recovery_above_what_an_element_allows_is_said() -> None:
    mild, strict = (element(key=f"plant.membranes[{n}]", name=f"membrane {n + 1}") for n in range(2))
    strict = replace(strict, max_recovery=0.1)
    found = solve_one(plant(stages=((mild, strict),)), water(CHALK), 4.2 * BAR, 0.5, ("Said before.",)).answer()
    share = f"{100.0 * found['elements'][1]['recovery']:.0f} %"
    before, note = found["notes"]
    assert before == "Said before."
    assert note.startswith(f"Membrane 2 turns {share} of the water")
    assert "above the 10 % allowed (plant.membranes[1].max_recovery)" in note
    assert note.endswith(".")
    kept = plant(stages=((mild, replace(strict, max_recovery=0.99)),))
    assert solve_one(kept, water(CHALK), 4.2 * BAR, 0.5).answer()["notes"] == []
