"""Pricing a ledger."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from rinsewright import Site
from rinsewright.costs.prices import Equipment, Prices, break_even_days, price_year
from rinsewright.planning.pricing import priced
from rinsewright.planning.year import march_year
from rinsewright.quantities import HOUR, KWH, LITRE
from rinsewright.seasons.inputs import CartridgeUse, MembraneUse
from rinsewright.seasons.ledger import Ledger
from rinsewright.seasons.march import march
from rinsewright.seasons.quality import through_resin
from tests.seasons.plants import bed, plant, response

DEMO = Path(__file__).parents[2] / "examples" / "tern-quay.toml"
DEMAND = 365 * 0.3


@cache
def year() -> Ledger:
    inputs = plant(
        response(1.0, 2.0), demand=np.full(7, 0.3), pump_w=150.0, membranes=MembraneUse(change_after_days=1460.0),
        cartridges=(CartridgeUse("sediment", volume=100.0), CartridgeUse("carbon", days=182.5)),
    )  # fmt: skip
    return through_resin(inputs, march(inputs), bed())


EQUIPMENT = Equipment(resin_m3=7 * LITRE, cartridges=("sediment", "carbon"), membranes=2)
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
    assert split["resin"] == pytest.approx(6.5 * 7.0 * ledger.resin_spent.sum())
    assert ledger.resin_spent.sum() > 1.0
    # At 0.9 m3 a day the one is due every 112 days; the other is changed at midnight of day 183.
    sediment, carbon = 3.0 + 29 * 0.9 / 100.0, 1.0 + 182 / 182.5
    assert split["cartridges"] == pytest.approx(9.0 * sediment + 14.0 * carbon, rel=1e-3)
    assert split["membranes"] == pytest.approx(2 * 180.0 / 4.0)
    assert split["labour"] == pytest.approx(30.0 * ledger.visits[0])
    assert split["capital"] == pytest.approx(300.0)
    assert costs.not_counted == ()
    assert costs.total == pytest.approx([sum(split.values())], rel=1e-12)
    assert costs.per_m3 == pytest.approx(costs.total / DEMAND)


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


def test_water_that_ran_back_is_not_bought_twice():
    """It was bought as it was made; it is paid for as sewerage when it goes."""
    ledger = replace(year(), back=np.full((1, 365), 0.01))
    split = price_year(ledger, PRICES, EQUIPMENT).per_year()
    assert split["water"] == pytest.approx(2.0 * (ledger.product.sum() + ledger.drain.sum() - 3.65))
    assert split["sewerage"] == pytest.approx(2.2 * ledger.drain.sum())


def test_the_demos_bill_adds_up():
    """Each line is its price times what the ledger says was used, to rounding; the total is their sum."""
    site = Site.load(DEMO)
    ledger = march_year(site.document, site.plant, site.tap).ledger
    costs = priced(site.document, site.plant, ledger)
    used = {
        "water": 2.0 * (ledger.product + ledger.drain - ledger.back).sum(),
        "sewerage": 2.2 * ledger.drain.sum(),
        "resin": 6.5 * 7.0 * ledger.resin_spent.sum(),
        "cartridges": 9.0 * ledger.cartridge_spent[0, 0] + 14.0 * ledger.cartridge_spent[1, 0],
        "membranes": 2 * 180.0 * ledger.membrane_spent[0],
        "labour": 30.0 * ledger.visits[0],
    }
    assert costs.per_year() == pytest.approx(used, rel=1e-9)
    assert costs.not_counted == ()
    assert costs.total == pytest.approx([sum(used.values())], rel=1e-9)
    # Lives used up are the changes and what the parts in place have had.
    for spent, changes in (
        (ledger.resin_spent.sum(), ledger.resin_changes.sum()),
        (ledger.cartridge_spent[0, 0], ledger.cartridge_changes[0].sum()),
        (ledger.cartridge_spent[1, 0], ledger.cartridge_changes[1].sum()),
        (ledger.membrane_spent[0], ledger.membrane_changes.sum()),
    ):
        assert 0.0 <= spent - changes < 1.0


@pytest.mark.parametrize(("capital", "saving", "days"), [(730.0, 365.0, 730.0), (500.0, 0.0, None), (-10.0, 5.0, 0.0)])
def test_break_even(capital, saving, days):
    assert break_even_days(capital, saving) == days
