"""Parts on a line, each by itself: loss of pressure against flow, temperature and stated point."""

from __future__ import annotations

import fluids
import numpy as np
import pytest

from rinsewright.plant.check import Check
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.supply import Supply, fit_supply
from rinsewright.plant.feed.treatment import Cartridge, Inhibitor, Softener, Solenoid
from rinsewright.plant.membrane.restrictor import Restrictor
from rinsewright.plant.part import Fluid, Part
from rinsewright.plant.product.line import Lift, ResinVessel, Tank
from rinsewright.plant.tube import Tube, colebrook, friction_factor
from rinsewright.quantities import BAR, GRAVITY, L_MIN, MM, Array, kelvin
from rinsewright.water.properties import density, viscosity


def one(value: float) -> Array:
    return np.array([float(value)])


def fluid(celsius: float = 20.0) -> Fluid:
    return Fluid.at(kelvin(one(celsius)))


@pytest.mark.parametrize("roughness", [0.0, 1e-5, 1e-4, 1e-3, 0.03])
@pytest.mark.parametrize(("lowest", "highest", "tolerance"), [(2000.0, 4000.0, 2.5e-4), (4000.0, 1e7, 7e-5)])
def test_friction_solves_colebrook(roughness: float, lowest: float, highest: float, tolerance: float) -> None:
    # Colebrook (1939) as an independent library solves it exactly; the equation itself is good to some per cent.
    reynolds = np.geomspace(lowest, highest, 40)
    expected = [fluids.friction.Colebrook(float(re), roughness) for re in reynolds]
    assert colebrook(reynolds, roughness) == pytest.approx(expected, rel=tolerance)


def test_friction_is_laminar_below_two_thousand() -> None:
    # Hagen–Poiseuille, 64/Re.
    reynolds = np.array([1.0, 50.0, 700.0, 1999.0])
    assert friction_factor(reynolds, 1e-4) == pytest.approx(64.0 / reynolds, rel=1e-12)


def test_loss_of_a_tube_rises_steadily_through_the_change_of_regime() -> None:
    # A drop that fell with the flow anywhere would give the solver two answers.
    flow = np.linspace(0.05, 4.0, 800) * L_MIN
    for bore in (4.0, 6.0, 9.0):
        drop = Tube(bore=bore * MM, length=5.0).drop(flow, fluid())
        assert np.all(np.diff(drop) > 0.0)
        steepness = np.diff(np.log(drop)) / np.diff(np.log(flow))
        assert np.max(np.abs(np.diff(steepness))) < 0.1  # no kink


def test_tube_against_an_independent_library() -> None:
    # Darcy–Weisbach with fittings, 10 mm bore, 8 L/min: Re well above 4000.
    tube = Tube(bore=10.0 * MM, length=12.0, fittings_k=3.5)
    water, flow = fluid(12.0), 8.0 * L_MIN
    rho, mu = float(water.density[0]), float(water.viscosity[0])
    velocity = flow / (np.pi / 4.0 * 0.010**2)
    factor = fluids.friction.Colebrook(rho * velocity * 0.010 / mu, 1.5e-6 / 0.010)
    expected = (factor * 12.0 / 0.010 + 3.5) * rho * velocity**2 / 2.0
    assert tube.drop(one(flow), water)[0] == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    "part",
    [
        Tube(bore=6.0 * MM, length=3.0, fittings_k=1.0),
        Cartridge(media="carbon", clean_drop_pa=0.2 * BAR, at_flow=8.0 * L_MIN),
        Solenoid(drop_pa=0.1 * BAR, at_flow=10.0 * L_MIN),
        Restrictor(flow=1.5 * L_MIN, at_pa=4.0 * BAR),
        Restrictor(flow=1.5 * L_MIN, at_pa=4.0 * BAR, exponent=1.0),
        Tank(volume=0.65, float_open_flow=12.0 * L_MIN),
    ],
)
def test_loss_is_odd_in_the_flow(part: Part) -> None:
    # Trial states of the solver may run backwards: the loss must change its sign and nothing else.
    flow = np.array([0.3, 1.0, 4.0]) * L_MIN
    assert part.drop(-flow, fluid()) == pytest.approx(-part.drop(flow, fluid()), rel=1e-12)
    assert np.all(np.diff(part.drop(flow, fluid())) > 0.0)


@pytest.mark.parametrize(
    "part",
    [
        Cartridge(media="sediment", clean_drop_pa=0.12 * BAR, at_flow=8.0 * L_MIN),
        Softener(clean_drop_pa=0.12 * BAR, at_flow=8.0 * L_MIN),
        ResinVessel(volume=0.007, clean_drop_pa=0.12 * BAR, at_flow=8.0 * L_MIN),
    ],
)
def test_beds_lose_what_is_stated_at_twenty_degrees(part: Part) -> None:
    # Darcy's law: linear in flow and viscosity.
    assert part.drop(one(8.0 * L_MIN), fluid())[0] == pytest.approx(0.12 * BAR, rel=1e-12)
    assert part.drop(one(2.0 * L_MIN), fluid())[0] == pytest.approx(0.03 * BAR, rel=1e-12)
    ratio = float(viscosity(kelvin(5.0)) / viscosity(kelvin(20.0)))
    assert part.drop(one(8.0 * L_MIN), fluid(5.0))[0] == pytest.approx(0.12 * BAR * ratio, rel=1e-12)


def test_valves_are_orifices_whatever_the_temperature() -> None:
    valve = Solenoid(drop_pa=0.1 * BAR, at_flow=10.0 * L_MIN)
    assert valve.drop(one(20.0 * L_MIN), fluid(5.0))[0] == pytest.approx(0.4 * BAR, rel=1e-12)
    tank = Tank(volume=0.65, float_open_flow=12.0 * L_MIN)
    assert tank.drop(one(12.0 * L_MIN), fluid())[0] == pytest.approx(1.0 * BAR, rel=1e-12)


def test_parts_without_a_law_lose_nothing() -> None:
    flow = one(5.0 * L_MIN)
    for part in (Part(), Inhibitor(), Check(), Tank(volume=0.65), Cartridge(media="carbon")):
        assert part.drop(flow, fluid())[0] == 0.0


def test_check_valve_keeps_its_cracking_pressure() -> None:
    assert Check(crack_pa=0.05 * BAR).drop(one(2.0 * L_MIN), fluid())[0] == pytest.approx(0.05 * BAR)


def test_lift_is_a_column_of_water() -> None:
    expected = float(density(kelvin(12.0))) * GRAVITY * 1.5
    drop = Lift(height=1.5).drop(np.array([0.0, 3.0 * L_MIN]), fluid(12.0))
    assert drop == pytest.approx([expected] * 2, rel=1e-12)


@pytest.mark.parametrize("exponent", [0.4, 0.5, 0.57, 1.0])
def test_restrictor_and_its_inverse(exponent: float) -> None:
    law = Restrictor(flow=1.5 * L_MIN, at_pa=4.0 * BAR, exponent=exponent)
    assert law.flow_at(one(4.0 * BAR))[0] == pytest.approx(1.5 * L_MIN, rel=1e-12)
    pressure = np.array([-2.0, 0.1, 1.0, 4.0, 9.0]) * BAR
    assert law.drop(law.flow_at(pressure), fluid()) == pytest.approx(pressure, rel=1e-9)
    assert law.flow_at(one(16.0 * BAR))[0] == pytest.approx(1.5 * L_MIN * 4.0**exponent, rel=1e-12)


def test_flow_control_rubber_holds_its_flow() -> None:
    law = Restrictor(flow=1.5 * L_MIN, at_pa=4.0 * BAR, exponent=0.0)
    assert law.flow_at(np.array([0.5, 4.0, 8.0]) * BAR) == pytest.approx([1.5 * L_MIN] * 3)


CURVE = Pump(flows=(0.0, 8.0 * L_MIN, 16.0 * L_MIN), pressures=(5.0 * BAR, 4.0 * BAR, 2.0 * BAR))


def test_pump_curve_is_linear_between_and_beyond_its_points() -> None:
    flow = np.array([0.0, 4.0, 8.0, 12.0, 16.0, 20.0]) * L_MIN
    assert CURVE.added(flow) / BAR == pytest.approx([5.0, 4.5, 4.0, 3.0, 2.0, 1.0])
    assert CURVE.drop(flow, fluid()) == pytest.approx(-CURVE.added(flow))
    assert CURVE.dead_head_pa == pytest.approx(5.0 * BAR)


def test_pump_curve_that_starts_late_goes_back_to_no_flow() -> None:
    late = Pump(flows=(4.0 * L_MIN, 8.0 * L_MIN), pressures=(4.5 * BAR, 4.0 * BAR))
    assert late.added(one(0.0))[0] == pytest.approx(5.0 * BAR)
    assert late.dead_head_pa == pytest.approx(5.0 * BAR)
    flat = Pump(flows=(5.0 * L_MIN,), pressures=(3.0 * BAR,))
    assert flat.added(np.array([0.0, 9.0 * L_MIN])) == pytest.approx([3.0 * BAR] * 2)


def test_supply_passes_through_its_tests() -> None:
    # P = standing − R·Q²: two exact tests are met exactly, with or without a standing pressure.
    true = Supply(4.2 * BAR, 0.8 * BAR / (12.0 * L_MIN) ** 2)
    tests = [(flow * L_MIN, float(true.pressure(one(flow * L_MIN))[0])) for flow in (6.0, 12.0)]
    for standing in (4.2 * BAR, None):
        fitted = fit_supply(standing, tests)
        assert fitted.standing_pa == pytest.approx(true.standing_pa, rel=1e-9)
        assert fitted.resistance == pytest.approx(true.resistance, rel=1e-9)
        assert fitted.standing_estimated is (standing is None)


def test_supply_is_a_least_squares_fit() -> None:
    # Tests that disagree: the sum of squared misses must not fall for any other resistance.
    tests = [(5.0 * L_MIN, 4.0 * BAR), (9.0 * L_MIN, 3.5 * BAR), (12.0 * L_MIN, 3.4 * BAR)]
    fitted = fit_supply(4.2 * BAR, tests)

    def misses(resistance: float) -> float:
        return sum((4.2 * BAR - resistance * flow**2 - pressure) ** 2 for flow, pressure in tests)

    assert misses(fitted.resistance) < min(misses(fitted.resistance * factor) for factor in (0.99, 1.01))


def test_one_test_without_a_standing_pressure_is_marked_as_a_guess() -> None:
    fitted = fit_supply(None, [(10.0 * L_MIN, 3.2 * BAR)])
    assert fitted.standing_estimated
    assert fitted.standing_pa > 3.2 * BAR
    assert fitted.pressure(one(10.0 * L_MIN))[0] == pytest.approx(3.2 * BAR, rel=1e-12)


def test_a_tap_that_rises_when_opened_is_taken_as_stiff() -> None:
    # A running reading above the standing one is the gauge's error: no negative resistance.
    assert fit_supply(4.0 * BAR, [(10.0 * L_MIN, 4.1 * BAR)]).resistance == 0.0
    assert fit_supply(None, [(5.0 * L_MIN, 3.9 * BAR), (10.0 * L_MIN, 4.0 * BAR)]).resistance == 0.0


def test_another_standing_pressure_keeps_the_resistance() -> None:
    tap = Supply(4.2 * BAR, 0.8 * BAR / (12.0 * L_MIN) ** 2)
    assert tap.pressure(one(12.0 * L_MIN), 3.0 * BAR)[0] == pytest.approx(2.2 * BAR, rel=1e-12)
