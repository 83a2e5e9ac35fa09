"""What must come out of the equations without having been put in: cold, pressure, salt, size."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rinsewright.api import Site
from rinsewright.errors import NoWorkingState
from rinsewright.plant.feed.supply import Supply
from rinsewright.plant.product.line import Lift
from rinsewright.plant.tube import Tube
from rinsewright.quantities import BAR, L_MIN, LMH, LMH_PER_BAR, MM
from tests.solve.plants import (
    BRACKISH,
    CHALK,
    NACL,
    PLANTS,
    PRODUCT,
    PUMP,
    SEDIMENT,
    SOFT,
    WIDE_HOSE,
    element,
    plant,
    restrictor,
    small,
    solve,
    tap,
    water,
)

everywhere = pytest.mark.parametrize("name", PLANTS)
COLD_TO_WARM = np.array([5.0, 10.0, 15.0, 20.0, 25.0])


@everywhere
@pytest.mark.parametrize("ions", [CHALK, SOFT, NACL], ids=["chalk", "soft", "salt"])
def test_about_three_per_cent_less_product_for_every_degree(name: str, ions: dict[str, float]) -> None:
    # "About 3 % per degree" (read in a trade-association education text). A sagging supply and, at high recovery, the
    # drain's own salt soften it; nothing may steepen it.
    product = solve(PLANTS[name], water(ions, COLD_TO_WARM)).state.product_flow
    per_degree = np.log(product[-1] / product[0]) / 20.0
    assert 0.022 < per_degree < 0.034


@everywhere
@pytest.mark.parametrize("ions", [CHALK, SOFT, NACL, BRACKISH], ids=["chalk", "soft", "salt", "brackish"])
def test_summer_product_is_the_saltier(name: str, ions: dict[str, float]) -> None:
    # Salt permeance rises faster than water permeance, and recovery rises too.
    batch = solve(PLANTS[name], water(ions, COLD_TO_WARM))
    assert batch.state.solved.all()
    assert np.all(np.diff(batch.waters.product.tds) > 0.0)


@pytest.mark.parametrize("exponent", [0.0, 0.5, 1.0])
def test_recovery_falls_in_the_cold_at_held_pressure(exponent: float) -> None:
    # An orifice passes the same whatever the temperature, the membranes do not: 50 % becomes about 37 % from 25 to 10
    # °C.
    stiff = Supply(4.0 * BAR, 0.0)
    held = plant(supply=stiff, feed=(), product=(), drain=(restrictor(3.13, 4.0, exponent),))
    state = solve(held, water(SOFT, np.array([10.0, 25.0]))).state
    recovery = state.product_flow / state.tap_flow
    assert recovery[1] == pytest.approx(0.50, abs=0.02)
    assert recovery[0] == pytest.approx(0.37, abs=0.03)


def test_a_sagging_supply_softens_the_fall() -> None:
    temperatures = water(SOFT, np.array([10.0, 25.0]))
    stiff = plant(supply=Supply(4.0 * BAR, 0.0), feed=())
    sagging = replace(stiff, supply=tap(4.8, 6.0, 1.2))
    fall = []
    for each in (stiff, sagging):
        state = solve(each, temperatures).state
        recovery = state.product_flow / state.tap_flow
        fall.append(recovery[0] / recovery[1])
    assert fall[0] < fall[1] < 1.0


@everywhere
@pytest.mark.parametrize("celsius", [4.0, 22.0])
def test_never_more_product_with_less_pressure(name: str, celsius: float) -> None:
    bar = np.linspace(1.0, 7.0, 49)
    state = solve(PLANTS[name], water(CHALK, np.full(bar.size, celsius)), bar).state
    works = state.solved
    assert works.sum() > 40
    assert np.all(np.diff(works.astype(int)) >= 0)  # once it works, it works at every higher pressure
    assert np.all(np.diff(state.product_flow[works]) > 0.0)
    assert np.all(np.diff(state.tap_flow[works]) > 0.0)
    assert np.all(np.diff(state.membrane_pa[works]) > 0.0)


def test_saltier_water_makes_less_product() -> None:
    strengths = [0.2, 1.0, 2.0, 4.0]
    products = [
        float(solve(plant(), water({name: value * factor for name, value in CHALK.items()})).state.product_flow[0])
        for factor in strengths
    ]
    assert np.all(np.diff(products) < 0.0)


def test_another_element_raises_the_product() -> None:
    # Side by side and in a row, with the same drain restrictor.
    for make in (lambda n: plant((element(),) * n), lambda n: plant(*((element(),),) * n)):
        products = [float(solve(make(n)).state.product_flow[0]) for n in (1, 2, 3, 4)]
        assert np.all(np.diff(products) > 0.0)
        assert products[1] < 2.0 * products[0]  # the tap sags, and the drain gets saltier


def test_a_tighter_restrictor_makes_saltier_product_and_at_first_more() -> None:
    batches = [solve(plant(drain=(restrictor(flow),))) for flow in (8.0, 4.0, 2.0, 1.0, 0.5)]
    product = [batch.state.product_flow[0] for batch in batches]
    assert product[0] < product[1] < product[2]
    # beyond some recovery the drain's own salt takes more pressure than the tap gives back
    assert product[4] < product[3] < product[2]
    assert np.all(np.diff([batch.state.membrane_pa[0] for batch in batches]) > 0.0)
    assert np.all(np.diff([batch.waters.product.tds[0] for batch in batches]) > 0.0)


def test_each_hindrance_costs_product() -> None:
    usual = float(solve(plant()).state.product_flow[0])
    worse = {
        "a long thin hose": plant(feed=(Tube(bore=6 * MM, length=30.0), SEDIMENT)),
        "a raised tank": plant(product=(PRODUCT[0], Lift(height=6.0), PRODUCT[2])),
        "a thin product tube": plant(product=(Tube(bore=2.5 * MM, length=6.0), *PRODUCT)),
        "a tired tap": plant(supply=tap(4.2, 6.0, 0.8)),
        "a dense membrane": plant((element(water_permeance=5.0 * LMH_PER_BAR),)),
    }
    for what, hindered in worse.items():
        assert float(solve(hindered).state.product_flow[0]) < usual, what


def test_a_leakier_membrane_leaks_in_proportion() -> None:
    tight, leaky = (solve(plant((element(salt_permeance=b * LMH),))).waters.product.tds[0] for b in (0.2, 0.4))
    assert leaky / tight == pytest.approx(2.0, rel=0.03)


def test_a_pump_makes_more_and_purer_product() -> None:
    drain = (restrictor(3.0, 6.0),)
    bare = solve(plant(feed=(WIDE_HOSE, SEDIMENT), drain=drain))
    pumped = solve(plant(feed=(WIDE_HOSE, SEDIMENT, PUMP), drain=drain))
    assert pumped.state.product_flow[0] > 1.5 * bare.state.product_flow[0]
    assert pumped.waters.product.tds[0] < bare.waters.product.tds[0]


def test_returned_drain_water_saves_water_and_costs_purity() -> None:
    feed = (WIDE_HOSE, SEDIMENT, PUMP)
    drain = (restrictor(1.5, 6.0),)
    batches = [solve(plant(feed=feed, drain=drain, recirculation=flow * L_MIN)) for flow in (0.0, 1.0, 2.0, 4.0)]
    strength = [batch.state.inlet_strength[0] for batch in batches]
    assert strength[0] == pytest.approx(1.0, rel=1e-9)
    assert np.all(np.diff(strength) > 0.0)
    # more flow along the channel against more salt: with so little drain water, the first return helps
    assert batches[-1].state.membrane_flow[0] > batches[0].state.membrane_flow[0] + 3.0 * L_MIN
    drain_water = batches[-1].waters.drain
    assert drain_water is not None
    # what returns is what drains: the inlet is the flow-weighted mean of tap and drain water
    state = batches[-1].state
    mixed = (state.tap_flow + 4.0 * L_MIN * state.drain_strength) / (state.tap_flow + 4.0 * L_MIN)
    assert state.inlet_strength == pytest.approx(mixed, rel=1e-8)


def test_unlike_elements_share_by_what_they_pass() -> None:
    # Two unlike elements side by side: pressures equal at both ends, the larger takes more; each alone on the same
    # pressures and inlet flow makes the same.
    both = solve(plant((element(), small()), feed=(WIDE_HOSE,), drain=(restrictor(2.5),))).state
    first, second = both.branches
    assert first.inlet_flow[0] + second.inlet_flow[0] == pytest.approx(both.membrane_flow[0], rel=1e-9)
    assert first.inlet_flow[0] > 1.5 * second.inlet_flow[0]
    assert first.outlet.pressure == pytest.approx(second.outlet.pressure, rel=1e-9)
    assert first.outlet.product[0] / element().area > 0.8 * second.outlet.product[0] / small().area


def test_a_channel_run_dry_is_no_working_state() -> None:
    # Short elements beside a long one lose so little pressure that the long one gets hardly more than it passes.
    # Where the equations close on an element that makes more than it is fed, that is no state of the plant.
    long, short = small(water_permeance=4.3 * LMH_PER_BAR), element(area=0.45, length=0.25)
    uneven = plant(
        (long, short, short), feed=(WIDE_HOSE, SEDIMENT, PUMP), drain=(restrictor(0.38, 4.0, 0.57),), supply=tap(3.7)
    )
    state = solve(uneven, water(CHALK, np.linspace(4.0, 28.0, 13))).state
    for branch in state.branches:
        assert np.all(branch.outlet.product[state.solved] < branch.inlet_flow[state.solved])


def test_an_element_that_keeps_a_thousandth_of_its_water_is_no_working_state() -> None:
    # So little drain that the salt of what is left at an element's end is lost in the steps: that is no number to tell.
    rated = "product_l_h = 300, pressure_bar = 6.9, nacl_mg_l = 500"
    elements = [
        f'{{ nominal = "x", area_m2 = 7.2, length_m = 0.92, rated = {{ {rated}, rejection_pct = {share} }} }}'
        for share in (90, 90, 99.5, 99.5)
    ]
    drain = 'part = "restrictor", flow_l_min = 0.05, at_bar = 2.3, exponent = 1'
    site = Site.loads(
        f"""schema = 1
        water = {{ temperature_c = 11.3, ph = 7.0, ph_from = "report", ions_mg_l = {{ Na = 1.0, Cl = 1.54 }} }}
        supply = {{ standing_bar = 0.2 }}
        plant = {{ arrangement = "parallel", membranes = [{", ".join(elements)}], drain = [{{ {drain} }}] }}"""
    )
    with pytest.raises(NoWorkingState, match="runs dry"):
        site.solve()


def test_order_in_a_stage_does_not_matter() -> None:
    one = solve(plant((element(), small(), small()), drain=(restrictor(2.5),)))
    other = solve(plant((small(), element(), small()), drain=(restrictor(2.5),)))
    assert one.state.product_flow == pytest.approx(other.state.product_flow, rel=1e-8)
    assert one.waters.product.tds == pytest.approx(other.waters.product.tds, rel=1e-6)


def test_two_alike_are_one_of_twice_the_width() -> None:
    two = solve(plant((element(), element()), drain=(restrictor(2.5),)))
    wide = solve(plant((element(area=14.4),), drain=(restrictor(2.5),)))
    assert two.state.product_flow == pytest.approx(wide.state.product_flow, rel=1e-8)
    assert two.waters.product.solutes == pytest.approx(wide.waters.product.solutes, rel=1e-8)


def test_restrictors_agree_where_they_are_rated() -> None:
    # A restrictor of any exponent passes its rated flow at its rated pressure; set to the pressure found, all agree.
    found = solve(plant(drain=(restrictor(1.5),)), steps=8).state
    rated = float(found.drain_pa[0] / BAR)
    flow = float(found.drain_flow[0] / L_MIN)
    for exponent in (0.0, 0.3, 0.57, 1.0):
        other = solve(plant(drain=(restrictor(flow, rated, exponent),)), steps=8).state
        assert other.product_flow == pytest.approx(found.product_flow, rel=1e-7)
        assert other.drain_flow == pytest.approx(found.drain_flow, rel=1e-7)


def test_two_restrictors_in_a_row_pass_less_than_either() -> None:
    single = solve(plant(drain=(restrictor(1.5),))).state
    double = solve(plant(drain=(restrictor(1.5), restrictor(1.5)))).state
    # two orifices in a row: each takes half of the pressure, so the flow falls by √2 at the same pressure
    left = double.drain_pa / single.drain_pa
    assert double.drain_flow / single.drain_flow == pytest.approx(np.sqrt(left / 2.0), rel=1e-6)


def test_a_drain_without_a_restrictor_wastes_nearly_all() -> None:
    open_drain = solve(plant(drain=(Tube(bore=6 * MM, length=2.0),))).state
    assert open_drain.solved.all()
    assert open_drain.product_flow[0] < 0.2 * open_drain.tap_flow[0]
    assert open_drain.drain_pa[0] < open_drain.membrane_pa[0]


def test_stage_two_is_fed_by_the_drain_of_stage_one() -> None:
    state = solve(PLANTS["two and one"]).state
    first, second = state.branches
    assert second.inlet_flow == pytest.approx(2.0 * first.outlet.flow, rel=1e-9)
    assert second.inlet_salt == pytest.approx(2.0 * first.outlet.salt, rel=1e-9)
    assert second.inlet_pa == pytest.approx(first.outlet.pressure, rel=1e-12)


def test_resin_only_plant_passes_the_tap_water_on() -> None:
    bare = plant(stages=(), drain=(), product=PRODUCT)
    batch = solve(bare, water(CHALK, COLD_TO_WARM))
    assert batch.state.solved.all()
    assert batch.waters.drain is None
    assert batch.waters.product.solutes == pytest.approx(batch.waters.tap.solutes)
    state = batch.state
    left = bare.supply.pressure(state.tap_flow) - sum(
        part.drop(state.tap_flow, state.fluid) for part in (*bare.feed, *bare.product)
    )
    assert left == pytest.approx(np.zeros(5), abs=1.0)  # Pa
    assert state.product_flow == pytest.approx(state.tap_flow)
