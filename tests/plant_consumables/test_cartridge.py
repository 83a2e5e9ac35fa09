"""Cartridges: the clean law, loading, the first rule to call, chlorine."""

import numpy as np
import pytest

from rinsewright.plant.feed.cartridge import CartridgeLaw, ChangeRules, chlorine_left, life
from rinsewright.quantities import BAR, L_MIN, kelvin

LAW = CartridgeLaw(0.12 * BAR, 8.0 * L_MIN, dirt_m3_to_double=20.0)


def test_clean_drop_is_linear_in_flow():
    # 10 inch, 10 µm: 0.73 psi at 6.6 gpm, "about 1 psi" at 8.8 gpm (a filter maker's table, read).
    law = CartridgeLaw(0.73, 6.6)
    assert law.drop(8.8, kelvin(20.0)) == pytest.approx(0.973, abs=0.001)


def test_cold_water_costs_more():
    # viscosity 1.3059 and 1.0016 mPa s at 10 and 20 °C (IAPWS R12-08)
    assert LAW.drop(8.0 * L_MIN, kelvin(10.0)) == pytest.approx(0.12 * BAR * 1.3059 / 1.0016, rel=1e-3)


def test_dirt_doubles_the_drop():
    clean = LAW.drop(8.0 * L_MIN, kelvin(20.0))
    assert LAW.drop(8.0 * L_MIN, kelvin(20.0), 40.0) == pytest.approx(4.0 * clean)
    volume = LAW.volume_at_rise(8.0 * L_MIN, kelvin(20.0), 0.6 * BAR)
    rise = LAW.drop(8.0 * L_MIN, kelvin(20.0), volume) - clean
    assert rise == pytest.approx(0.6 * BAR)


@pytest.mark.parametrize(("feed", "rules", "days", "why"), [
    (1.0, ChangeRules(after_m3=30.0), 30.0, "volume"),
    (1.0, ChangeRules(), 20.0 * np.log2(6.0), "drop"),
    (0.01, ChangeRules(), 182.5, "months"),
    (1.0, ChangeRules(chlorine_kg=0.006), 20.0, "chlorine"),
])  # fmt: skip
def test_the_first_rule_calls(feed, rules, days, why):
    result = life(LAW, rules, feed, 8.0 * L_MIN, kelvin(20.0), chlorine=0.3e-3)
    assert result.days == pytest.approx([days])
    assert result.limited_by == (why,)


def test_without_any_rule_nothing_calls():
    result = life(None, ChangeRules(at_rise_pa=None, after_s=None), 1.0, L_MIN, kelvin(20.0))
    assert np.isinf(result.days[0])
    assert result.limited_by == ("",)


def test_doubling_contact_squares_what_is_left():
    # First order in contact time: Meng et al., Water Pract. Technol. 13, 19, 2018 (abstract, read).
    once, slow = chlorine_left(1.0, 1.5, 1e-3, 1e-4)
    twice, slower = chlorine_left(1.0, 1.5, 2e-3, 1e-4)
    assert twice == pytest.approx(once**2)
    assert slower / 0.5 == pytest.approx((slow / 0.5) ** 2)
    assert slow / 0.5 > once  # chloramine is the slower of the two
