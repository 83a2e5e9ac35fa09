"""Pricing a ledger."""

import numpy as np
import pytest

from rinsewright.costs.prices import Equipment, Prices, break_even_days, price_year
from rinsewright.quantities import HOUR, KWH, L_MIN, LITRE
from rinsewright.seasons.inputs import CartridgeUse, Rates, TankUse, YearInputs, demand_by_day, even_week
from rinsewright.seasons.year import simulate

DEMAND = demand_by_day(np.full(7, 0.3))


def year():
    flat = np.full((1, 365), 1.0)
    rates = Rates.plain(flat * L_MIN, 2 * flat * L_MIN, 1e-3 * flat, 0.06 * flat, 150.0 * flat)
    rates = rates.with_resin(20.0 * flat, 4.0 * flat, 1e-5, 6e-4 * flat)
    tank = TankUse(0.65, 0.05)
    cartridges = CartridgeUse("sediment", volume=100.0), CartridgeUse("carbon", days=182.5)
    return simulate(YearInputs(rates, even_week(8 * HOUR, 16 * HOUR), DEMAND, tank, cartridges=cartridges))


EQUIPMENT = Equipment(resin_m3=7 * LITRE, cartridges=("sediment", "carbon"), membranes=2, membrane_years=4.0)
PRICES = Prices(
    water_per_m3=2.0, sewerage_per_m3=2.2, energy_per_j=0.28 / KWH, resin_per_m3=6.5 / LITRE,
    cartridges={"sediment": 9.0, "carbon": 14.0}, membrane=180.0, labour_per_s=30.0 / HOUR, visit_s=HOUR,
    capital=1500.0, years=5,
)  # fmt: skip


def test_each_line_by_hand():
    ledger = year()
    costs = price_year(ledger, PRICES, EQUIPMENT)
    product, drain = ledger.product.sum(), ledger.drain.sum()
    split = costs.per_year()
    assert split["water"] == pytest.approx(2.0 * (product + drain))
    assert split["sewerage"] == pytest.approx(2.2 * drain)
    assert split["energy"] == pytest.approx(0.28 * 150.0 * ledger.running.sum() / KWH)
    assert split["resin"] == pytest.approx(6.5 * 7.0 * product / 20.0)
    assert split["cartridges"] == pytest.approx(9.0 * (product + drain) / 100.0 + 14.0 * 2.0, rel=0.01)
    assert split["membranes"] == pytest.approx(2 * 180.0 / 4.0)
    assert split["labour"] == pytest.approx(30.0 * ledger.visits[0])
    assert split["capital"] == pytest.approx(300.0)
    assert costs.not_counted == ()
    assert costs.total == pytest.approx([sum(split.values())])
    assert costs.per_m3 == pytest.approx(costs.total / DEMAND.sum())


def test_what_has_no_price_is_named_and_never_free():
    costs = price_year(year(), Prices(water_per_m3=2.0, capital=1000.0), EQUIPMENT)
    assert list(costs.split) == ["water"]
    assert costs.not_counted == (
        "sewerage", "energy", "resin", "sediment cartridges", "carbon cartridges", "membranes", "labour", "capital",
    )  # fmt: skip


def test_no_prices_no_total():
    costs = price_year(year(), Prices(), EQUIPMENT)
    assert costs.total is None
    assert costs.per_m3 is None


def test_what_is_not_used_needs_no_price():
    costs = price_year(year(), PRICES, Equipment(cartridges=("sediment", "carbon")))
    assert "membranes" not in costs.split
    assert "membranes" not in costs.not_counted


@pytest.mark.parametrize(("capital", "saving", "days"), [(730.0, 365.0, 730.0), (500.0, 0.0, None), (-10.0, 5.0, 0.0)])
def test_break_even(capital, saving, days):
    assert break_even_days(capital, saving) == days
