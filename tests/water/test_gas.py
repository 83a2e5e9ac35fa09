"""CO2 out of a vented tank."""

import numpy as np
import pytest

from rinsewright.quantities import HOUR
from rinsewright.water.gas import GAS_VELOCITY, co2_behind_tank

AIR = 0.02  # mol/m3


def test_velocity_is_of_the_order_of_still_lakes():
    # 0.35 to 0.74 m/d on small lakes with little wind: Cole et al. 2010 (abstract read); a lid does not add wind.
    assert 0.35 / 24.0 <= GAS_VELOCITY.value * HOUR <= 0.74 / 24.0


def test_one_exchange_takes_half_of_the_excess():
    assert co2_behind_tank(0.42, AIR, 50.0 * HOUR, 1.0) == pytest.approx(AIR + 0.2)


def test_limits():
    assert co2_behind_tank(0.42, AIR, 0.0, 1.0) == pytest.approx(0.42)
    assert co2_behind_tank(0.42, AIR, 1e12, 1.0) == pytest.approx(AIR, rel=1e-5)
    assert co2_behind_tank(0.01, AIR, 1e6, 1.0) == 0.01  # nothing is taken up


def test_a_stirred_tank_marched_in_small_steps_comes_to_the_same():
    """dC/dt = (inlet − C)/residence − velocity/depth·(C − air), to its end."""
    inlet, residence, depth = 0.42, 20.0 * HOUR, 0.8
    c, step = 0.3, 100.0
    for _ in range(20000):
        c += step * ((inlet - c) / residence - GAS_VELOCITY.value / depth * (c - AIR))
    assert co2_behind_tank(inlet, AIR, residence, depth) == pytest.approx(c, rel=1e-6)


def test_lanes_go_through_side_by_side():
    many = co2_behind_tank(np.array([0.1, 0.42]), AIR, np.array([10.0, 20.0]) * HOUR, 0.8, np.array([1e-6, 1e-5]))
    assert many[1] == co2_behind_tank(0.42, AIR, 20.0 * HOUR, 0.8, 1e-5)
    assert many.shape == (2,)
