"""The reference itself held against published values, closed forms, limits and finer or other numerics."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace

import fluids
import pytest
from scipy.optimize import brentq

from tests.independent import fluid, ode, sites
from tests.independent.fluid import ELEMENT_VECTOR, STANDARD, Fluid
from tests.independent.ode import BAR, L_H, L_MIN, LMH, MG_L, ZERO_C, Element, Stream, march

WARM = 25 + ZERO_C
ELEMENT = Element(7.6, 0.95, 0.71e-3, 0.89, 8.0 * LMH / BAR, 0.35 * LMH, 2700.0, 2700.0)
INLET = Stream(4.0 * BAR, 800 * L_H, 350 * MG_L)


# --- water and salt -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("celsius", "ratio"), [(0, 0.497), (5, 0.586), (10, 0.681), (15, 0.782), (20, 0.889), (30, 1.116)]
)
def test_viscosity_falls_as_published(celsius: float, ratio: float) -> None:
    # IAPWS 2008, mu(25)/mu(T), three digits; standing: reproduced.
    found = fluid.iapws_viscosity(WARM) / fluid.iapws_viscosity(celsius + ZERO_C)
    assert found == pytest.approx(ratio, abs=6e-4)


@pytest.mark.parametrize(("molality", "phi"), [(0.1, 0.9324), (0.2, 0.9245), (0.5, 0.9209), (1.0, 0.9355)])
def test_osmotic_coefficient_of_nacl(molality: float, phi: float) -> None:
    # Robinson & Stokes, Electrolyte Solutions, appendix; standing: from memory. Pitzer's fit is good to 0.001 or so.
    assert fluid.pitzer_osmotic_coefficient(molality, WARM) == pytest.approx(phi, abs=1.5e-3)


def test_dilute_limit_is_van_t_hoff() -> None:
    nacl = 1e-3
    ideal = 2 * nacl / fluid.NACL_MOLAR_MASS * fluid.GAS_CONSTANT * WARM
    assert fluid.pitzer_osmotic(nacl, WARM) == pytest.approx(ideal, rel=2e-3)


def test_two_osmotic_formulas_agree_where_both_are_meant_to() -> None:
    # ASTM D4516 takes one osmotic coefficient for all strengths: 5.6 % low at 100 mg/L, right near 5 g/L.
    assert fluid.d4516_osmotic(5.0, WARM) == pytest.approx(fluid.pitzer_osmotic(5.0, WARM), rel=5e-3)
    assert fluid.d4516_osmotic(0.1, WARM) == pytest.approx(fluid.pitzer_osmotic(0.1, WARM), rel=0.06)


@pytest.mark.parametrize(
    ("mg_l", "kpa"), [(100, 7.91), (500, 39.58), (1000, 79.21), (2000, 158.58), (5000, 397.6), (10000, 799.3)]
)
def test_d4516_osmotic_pressure(mg_l: float, kpa: float) -> None:
    # ASTM D4516, NaCl at 25 °C; formula from memory, numbers reproduced.
    assert fluid.d4516_osmotic(mg_l * MG_L, WARM) / 1e3 == pytest.approx(kpa, rel=1e-3)


# --- the feed channel -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("area", "length", "m3_h", "celsius", "k", "loss_bar"),
    [
        (7.6, 0.95, 1.0, 25, 3.481e-5, 0.0997),
        (7.6, 0.95, 1.5, 25, 4.963e-5, 0.1986),
        (3.3, 0.46, 0.75, 25, 2.977e-5, 0.0356),
        (2.6, 0.95, 0.4, 25, 3.991e-5, 0.1300),
        (7.6, 0.95, 1.0, 10, 1.991e-5, 0.1116),
    ],
)
def test_channel_vectors(area: float, length: float, m3_h: float, celsius: float, k: float, loss_bar: float) -> None:
    # Constructed vectors on the correlations of Schock & Miquel, Desalination 64 (1987) 339; standing: reproduced.
    element = replace(ELEMENT, area=area, length=length)
    found, gradient = ode.channel_transfer(element, m3_h / 3600, celsius + ZERO_C, ELEMENT_VECTOR)
    assert found == pytest.approx(k, rel=1e-3)
    assert gradient * length / BAR == pytest.approx(loss_bar, rel=2e-3)


def test_slow_flow_falls_back_to_the_slit() -> None:
    k, _ = ode.channel_transfer(ELEMENT, 1e-9, WARM, STANDARD)
    assert k == pytest.approx(7.54 * 1.61e-9 / (2 * 0.71e-3), rel=1e-4)


# --- one element ----------------------------------------------------------------------------------


def test_element_vector() -> None:
    # Constructed 1-D vector, 400 upwind cells, older viscosity formula, spacer correlation alone; its own mesh error is
    # about 1/8 of the stated 50-cell error (0.08 % flow, 0.6 % salt).
    passed = march(ELEMENT, INLET, 0.0, WARM, ELEMENT_VECTOR)
    assert passed.product.flow / L_H == pytest.approx(215.03, rel=2e-4)
    assert passed.product.nacl / MG_L == pytest.approx(6.787, rel=1e-3)
    assert passed.concentrate.pressure / BAR == pytest.approx(3.9465, abs=1e-4)


def test_element_vector_without_film_and_loss() -> None:
    # The same vector without polarisation and pressure loss; standing: constructed.
    plain = replace(ELEMENT_VECTOR, film=False, channel_loss=False)
    passed = march(ELEMENT, INLET, 0.0, WARM, plain)
    assert passed.product.flow / L_H == pytest.approx(223.70, rel=2e-4)
    assert passed.product.nacl / MG_L == pytest.approx(4.817, rel=1e-3)


@pytest.mark.parametrize(
    ("rejection", "recovery", "mean"),
    [(0.98, 0.15, 1.0817), (0.98, 0.25, 1.1474), (0.98, 0.50, 1.3767), (0.98, 0.75, 1.8230), (0.95, 0.50, 1.3625)],
)
def test_feed_mean_at_constant_rejection(rejection: float, recovery: float, mean: float) -> None:
    # Without osmotic pressure, film and loss the flux is the same everywhere: C_fb/C_f = [1-(1-Y)^(1-R)]/[Y(1-R)].
    # Table printed to four decimals; standing: reproduced from the closed form.
    simple = Fluid(osmotic=lambda nacl, t_k: 0.0, film=False, channel_loss=False)
    flux = ELEMENT.water_permeance * INLET.pressure
    element = replace(ELEMENT, salt_permeance=flux * (1 - rejection) / rejection)
    inlet = replace(INLET, flow=flux * element.area / recovery)
    passed = march(element, inlet, 0.0, WARM, simple)
    assert passed.product.flow == pytest.approx(flux * element.area, rel=1e-9)
    assert passed.product.nacl == pytest.approx((1 - rejection) * mean * inlet.nacl, rel=5e-5)


def test_clean_water_through_a_loss_free_channel_is_permeance_times_pressure() -> None:
    passed = march(ELEMENT, replace(INLET, nacl=1e-9), 0.5 * BAR, WARM, replace(STANDARD, channel_loss=False))
    assert passed.product.flow == pytest.approx(ELEMENT.water_permeance * ELEMENT.area * 3.5 * BAR, rel=1e-6)


def test_no_salt_passes_a_tight_membrane_and_all_passes_an_open_one() -> None:
    tight = march(replace(ELEMENT, salt_permeance=1e-15), INLET, 0.0, WARM)
    open_ = march(replace(ELEMENT, salt_permeance=1.0), INLET, 0.0, WARM)
    assert tight.product.nacl / INLET.nacl < 1e-6
    assert open_.product.nacl == pytest.approx(INLET.nacl, rel=1e-4)


@pytest.mark.parametrize(
    ("celsius", "factor"), [(5, 0.521), (10, 0.620), (15, 0.730), (20, 0.857), (30, 1.161), (34, 1.304)]
)
def test_arrhenius_factors(celsius: float, factor: float) -> None:
    # A published table of 2700 K temperature corrections, 5-34 °C, three decimals, itself made with 273 and 298 K
    # (up to 0.0015 apart from any exact form); standing: read.
    water, salt = replace(ELEMENT, salt_activation=3500.0).permeances(celsius + ZERO_C)
    assert water / ELEMENT.water_permeance == pytest.approx(factor, abs=1.5e-3)
    assert salt / ELEMENT.salt_permeance == pytest.approx((water / ELEMENT.water_permeance) ** (3500 / 2700), rel=1e-12)


@pytest.mark.parametrize(("rtol", "method"), [(1e-6, "DOP853"), (1e-10, "RK45"), (1e-10, "LSODA"), (1e-10, "Radau")])
def test_the_integrator_does_not_matter(rtol: float, method: str) -> None:
    slow = replace(INLET, flow=3 * L_MIN)  # half of it becomes product
    fine = march(ELEMENT, slow, 0.0, 278.15, rtol=1e-12)
    other = march(ELEMENT, slow, 0.0, 278.15, rtol=rtol, method=method)
    assert other.product.flow == pytest.approx(fine.product.flow, rel=3 * rtol**0.9)
    assert other.product.nacl == pytest.approx(fine.product.nacl, rel=3e2 * rtol)
    assert other.concentrate.pressure == pytest.approx(fine.concentrate.pressure, rel=3 * rtol)


def test_fixed_cells_converge_to_the_same_element() -> None:
    """Upwind cells at three sizes, extrapolated: a second way of marching, with nothing but the local law shared."""

    def cells(count: int) -> tuple[float, float]:
        a, b = ELEMENT.permeances(WARM)
        pressure, flow, salt, made, carried = INLET.pressure, INLET.flow, INLET.flow * INLET.nacl, 0.0, 0.0
        for _ in range(count):
            k, gradient = ode.channel_transfer(ELEMENT, flow, WARM, STANDARD)
            flux, product, _ = ode.local_product(pressure, salt / flow, k, a, b, WARM, STANDARD)
            across = flux * ELEMENT.area / count
            pressure, flow, salt = pressure - gradient * ELEMENT.length / count, flow - across, salt - across * product
            made, carried = made + across, carried + across * product
        return made, carried / made

    (coarse, coarse_salt), (fine, fine_salt) = cells(400), cells(800)
    passed = march(ELEMENT, INLET, 0.0, WARM)
    assert 2 * fine - coarse == pytest.approx(passed.product.flow, rel=1e-6)
    assert 2 * fine_salt - coarse_salt == pytest.approx(passed.product.nacl, rel=1e-5)


def test_rating_is_reproduced() -> None:
    table = tomllib.loads(sites.LARGE)
    element = ode.read_element(table)
    feed = Stream(6.9 * BAR, 300 * L_H / 0.15, 0.5)
    passed = march(element, feed, 0.0, WARM)
    assert passed.product.flow / L_H == pytest.approx(300, rel=1e-8)
    assert passed.product.nacl == pytest.approx(0.015 * 0.5, rel=1e-8)
    assert element.water_permeance * BAR / LMH == pytest.approx(
        6.7, rel=0.02
    )  # the site file's own example, two digits
    assert element.salt_permeance / LMH == pytest.approx(0.48, rel=0.02)


# --- elements joined ------------------------------------------------------------------------------


def test_two_halves_in_series_are_one_long_element() -> None:
    half = replace(ELEMENT, area=ELEMENT.area / 2, length=ELEMENT.length / 2)
    one = march(ELEMENT, INLET, 0.0, WARM)
    two = ode.train([[half], [half]], INLET, 0.0, WARM, STANDARD)
    assert two.product.flow == pytest.approx(one.product.flow, rel=1e-9)
    assert two.product.nacl == pytest.approx(one.product.nacl, rel=1e-8)
    assert two.concentrate.pressure == pytest.approx(one.concentrate.pressure, rel=1e-9)


def test_side_by_side_of_any_widths_are_one_wide_element() -> None:
    narrow, wide = replace(ELEMENT, area=0.3 * ELEMENT.area), replace(ELEMENT, area=0.7 * ELEMENT.area)
    one = march(ELEMENT, INLET, 0.0, WARM)
    two = ode.stage([narrow, wide], INLET, 0.0, WARM, STANDARD)
    assert two.feed_flows[0] == pytest.approx(0.3 * INLET.flow, rel=1e-5)
    assert two.product.flow == pytest.approx(one.product.flow, rel=1e-7)
    assert two.product.nacl == pytest.approx(one.product.nacl, rel=1e-7)


def test_unlike_elements_share_their_outlet_pressure() -> None:
    pair = [ELEMENT, replace(ELEMENT, area=2.6, channel=0.79e-3)]
    together = ode.stage(pair, INLET, 0.0, WARM, STANDARD)
    for element, flow in zip(pair, together.feed_flows, strict=True):
        alone = march(element, replace(INLET, flow=flow), 0.0, WARM)
        loss = INLET.pressure - together.concentrate.pressure
        assert INLET.pressure - alone.concentrate.pressure == pytest.approx(loss, rel=1e-5)


# --- lines ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("reynolds", [4500.0, 1e4, 1e5, 1e6])
@pytest.mark.parametrize("roughness", [0.0, 1.7e-4, 1e-2])
def test_colebrook(reynolds: float, roughness: float) -> None:
    # The same equation solved by a general library (closed form).
    assert ode.colebrook(reynolds, roughness) == pytest.approx(fluids.friction.Colebrook(reynolds, roughness), rel=1e-9)


def test_friction_is_continuous_and_laminar_at_the_low_end() -> None:
    assert ode.friction_factor(1000, 1e-4) == 0.064
    for edge in (2000, 4000):
        below, above = (ode.friction_factor(edge * f, 1e-4) for f in (1 - 1e-9, 1 + 1e-9))
        assert below == pytest.approx(above, rel=1e-6)


def test_supply_resistance_is_least_squares() -> None:
    one = {"standing_bar": 4.2, "flowing": [{"flow_l_min": 12.0, "pressure_bar": 3.4}]}
    assert ode.supply_resistance(one) * (12 * L_MIN) ** 2 == pytest.approx(0.8 * BAR)
    two = tomllib.loads(sites.TAP)["supply"]
    best = ode.supply_resistance(two)

    def misfit(resistance: float) -> float:
        return sum(
            ((two["standing_bar"] - test["pressure_bar"]) * BAR - resistance * (test["flow_l_min"] * L_MIN) ** 2) ** 2
            for test in two["flowing"]
        )

    assert misfit(best) < min(misfit(best * 0.999), misfit(best * 1.001))


def test_lift_is_weight_of_water() -> None:
    drop = ode.line_drop([{"part": "lift", "height_m": 1.5}], 0.0, 10 + ZERO_C, STANDARD)
    assert drop / BAR == pytest.approx(0.14706, abs=2e-5)  # 999.70 kg/m3 at 10 °C, 9.80665 m/s2


def test_pump_curve_is_linear_between_points() -> None:
    pump = tomllib.loads(sites.PUMP)
    assert ode.pump_rise(pump, 4 * L_MIN) == pytest.approx(4.5 * BAR)
    assert ode.pump_rise(pump, 12 * L_MIN) == pytest.approx(3.0 * BAR)


# --- whole plants ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["one element", "pumped", "two and one"])
def test_nested_bisection_finds_the_same_state(name: str) -> None:
    """Bracketing instead of Newton: an outer search for product pressure, an inner one for tap flow."""
    plant = ode.read_plant(tomllib.loads(sites.named(name, 500.0, 12.0)))
    restrictor = plant.drain[0]

    def at(tap: float, back: float) -> ode.Passed:
        inlet = Stream(plant.membrane_pressure(tap), tap, plant.nacl)
        return ode.train(plant.stages, inlet, back, plant.t_k, plant.fluid)

    def tap_for(back: float) -> float:
        def drain_excess(tap: float) -> float:
            concentrate = at(tap, back).concentrate
            return concentrate.flow - ode.restrictor_flow(restrictor, concentrate.pressure)

        return float(brentq(drain_excess, 1.5 * L_MIN, 12 * L_MIN, xtol=1e-16, rtol=1e-11))

    def back_excess(back: float) -> float:
        return back - ode.line_drop(plant.product, at(tap_for(back), back).product.flow, plant.t_k, plant.fluid)

    back = float(brentq(back_excess, 0.0, 2.0 * BAR, rtol=1e-11))
    answer = ode.solve_plant(plant)
    assert tap_for(back) / L_MIN == pytest.approx(answer.feed_l_min, rel=1e-7)
    assert back / BAR == pytest.approx(answer.back_pressure_bar, rel=1e-7)


@pytest.mark.parametrize("name", sites.PLANTS)
def test_water_and_salt_balance(name: str) -> None:
    answer = ode.solve_site(sites.named(name, 500.0, 12.0))
    assert answer.product_l_min + answer.drain_l_min == pytest.approx(answer.feed_l_min, rel=1e-7)
    salt = answer.product_l_min * answer.product_nacl + answer.drain_l_min * answer.drain_nacl
    assert salt == pytest.approx(500.0 * answer.feed_l_min, rel=1e-6)
    assert sum(answer.element_products_l_min) == pytest.approx(answer.product_l_min, rel=1e-9)


def test_recirculation_equals_a_plain_plant_on_the_mixed_feed() -> None:
    text = sites.named("pumped, recirculating", 500.0, 12.0)
    plant = ode.read_plant(tomllib.loads(text))
    answer = ode.solve_plant(plant)
    feed = answer.feed_l_min + 2.0
    mixed = (answer.feed_l_min * 500.0 + 2.0 * answer.drain_nacl) / feed
    inlet = Stream(answer.membrane_bar * BAR, feed * L_MIN, mixed * MG_L)
    passed = ode.train(plant.stages, inlet, answer.back_pressure_bar * BAR, plant.t_k, plant.fluid)
    assert passed.product.flow / L_MIN == pytest.approx(answer.product_l_min, rel=1e-6)
    assert passed.concentrate.nacl / MG_L == pytest.approx(answer.drain_nacl, rel=1e-6)


def test_a_little_recirculation_changes_little() -> None:
    plain = ode.solve_site(sites.named("pumped", 500.0, 12.0))
    little = ode.solve_site(
        sites.named("pumped", 500.0, 12.0).replace("[plant]", "[plant]\nrecirculation_l_min = 1e-5")
    )
    assert little.product_l_min == pytest.approx(plain.product_l_min, rel=1e-5)
    assert little.product_nacl == pytest.approx(plain.product_nacl, rel=1e-4)


def test_a_flat_pump_is_more_standing_pressure() -> None:
    flat = 'part = "pump"\ncurve = [ { flow_l_min = 0.0, bar = 2.3 }, { flow_l_min = 30.0, bar = 2.3 } ]'
    pumped = ode.solve_site(sites.site(feed=(sites.HOSE, flat)))
    raised = sites.TAP.replace("4.2", "6.5").replace("3.4", "5.7").replace("3.95", "6.25")
    supplied = ode.solve_site(sites.site(feed=(sites.HOSE,), supply=raised))
    assert pumped.product_l_min == pytest.approx(supplied.product_l_min, rel=1e-8)


def test_colder_water_gives_less_and_recovery_falls() -> None:
    """An orifice passes the same flow in the cold: 50 % at 25 °C falls at a nearly held pressure (here it sags)."""
    answers = [ode.solve_site(sites.named("bare tap", 500.0, celsius)) for celsius in (5.0, 10.0, 15.0, 20.0, 25.0)]
    products = [answer.product_l_min for answer in answers]
    recoveries = [answer.recovery for answer in answers]
    assert products == sorted(products)
    assert recoveries == sorted(recoveries)


def test_impossible_plant_is_refused() -> None:
    nothing = sites.TAP.replace("4.2", "0.2").replace("3.4", "0.1").replace("3.95", "0.15")
    with pytest.raises(ArithmeticError):
        ode.solve_site(
            sites.site(supply=nothing, product=(sites.HIGH_LIFT, sites.TANK), drain=(sites.restrictor(1.5, 4.0, 0.0),))
        )


def test_the_reference_refuses_other_water() -> None:
    with pytest.raises(ValueError, match="balance"):
        ode.read_nacl({"ions_mg_l": {"Na": 100.0, "Cl": 100.0}})
    with pytest.raises(NotImplementedError):
        ode.read_nacl({"ions_mg_l": {"Na": 100.0, "Cl": 100.0, "Ca": 1.0}})
    assert math.isclose(ode.read_nacl(tomllib.loads(sites.site(500.0))["water"]), 0.5)
