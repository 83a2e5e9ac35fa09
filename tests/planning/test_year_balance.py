"""What the year's days say of the water closes: made, delivered, run back, spilt and left in the tank."""

from __future__ import annotations

import pytest

from rinsewright.api import Site

SITE = """
[water]
temperature_c = 12
ions_mg_l = { Ca = 104, HCO3 = 285, Cl = 60 }
[supply]
standing_bar = 4.2
[demand]
litres_per_day = { mon = 150, wed = 250, sat = 100 }
fill_from = "20:00"
fill_until = "22:00"
[plant]
membranes = [ { part = "4040 low pressure" } ]
drain = [ { part = "restrictor", flow_l_min = 1.5, at_bar = 4 } ]
product = [ { part = "tube", bore_mm = 9, length_m = 6 }, { part = "tank", litres = 200, %s } ]
"""


@pytest.mark.parametrize("tank", ['inlet = "bottom"', "float_valve = false", "start_full = 0.5"])
def test_the_days_close_without_a_check_valve(tank: str) -> None:
    year = Site.loads(SITE % tank).year()
    days = {key: rows[1] for key, rows in year.days.items()}
    gone = days["delivered_l"] + days["back_l"] + days["overflow_l"]
    start = 100.0 if "start_full" in tank else 200.0
    assert start + (days["product_l"] - gone).sum() == pytest.approx(days["level_end_l"][-1], abs=1e-6)
    assert (days["back_l"].sum() > 100.0) or (days["overflow_l"].sum() > 100.0)
    litres = f"{days['back_l'].sum():,.0f} L"
    told = [note for note in year.notes if note.startswith("Without a check valve about")]
    assert told == [
        f"Without a check valve about {litres} of product a year run back through the membranes to "
        "the drain; they count as made and as drained."
    ]
