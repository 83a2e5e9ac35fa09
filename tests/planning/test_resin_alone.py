"""Resin and no membranes beside the plant: litres, changes, costs and the day on which the dearer one has paid."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from rinsewright import Site
from tests.cases.running import ROOT, SITES

DEMO = (ROOT / "examples" / "tern-quay.toml").read_text(encoding="utf-8")


@cache
def planned(text: str) -> dict[str, Any]:
    return Site.loads(text).plan().answer()


def alone(text: str = DEMO) -> dict[str, Any]:
    found = planned(text)["resin_alone"]
    assert found is not None
    return dict(found)


def priced(text: str, key: str, value: str | None) -> str:
    """The demo with another price, or without it."""
    lines = text.splitlines()
    place = next(place for place, line in enumerate(lines) if line.startswith(f"{key} ="))
    lines[place] = f"{key} = {value}" if value else ""
    return "\n".join(lines)


def test_litres_are_changes_of_the_vessel_and_lie_where_the_trade_finds_them() -> None:
    """Litres × ppm over litres of resin: 15,000 to 30,000 at a factor of 0.5 (common practice, no source)."""
    found, plan = alone(), planned(DEMO)
    assert found["resin_litres_per_year"] == pytest.approx(7.0 * found["changes_per_year"])
    delivered = 1e3 * plan["year"]["cost"]["value"] / plan["year"]["cost_per_m3"]["value"]
    per_litre = delivered * plan["today"]["feed"]["meter_ppm"] / found["resin_litres_per_year"]
    assert 15_000 < per_litre < 30_000


def test_cost_is_water_resin_and_visits() -> None:
    found, plan = alone(), planned(DEMO)
    prices = {key: price(key) for key in ("water_per_m3", "resin_per_l", "labour_per_hour", "visit_hours")}
    delivered = plan["year"]["cost"]["value"] / plan["year"]["cost_per_m3"]["value"]
    expected = delivered * prices["water_per_m3"] + found["resin_litres_per_year"] * prices["resin_per_l"]
    expected += found["changes_per_year"] * prices["labour_per_hour"] * prices["visit_hours"]
    assert found["cost_per_year"] == pytest.approx(expected)
    running = sum(amount for name, amount in plan["cost_split"].items() if name != "capital")
    assert found["plant_cost_per_year"] == pytest.approx(running)


def price(key: str) -> float:
    line = next(line for line in DEMO.splitlines() if line.startswith(f"{key} ="))
    return float(line.split("=")[1].split("#")[0])


def test_the_membranes_have_paid_after_their_price_over_the_saving() -> None:
    """Two elements at the price of new ones; nothing else of the demo has a price of its own."""
    found = alone()
    saving = found["cost_per_year"] - found["plant_cost_per_year"]
    assert found["break_even_days"] == pytest.approx(2 * price("membrane") / saving * 365.0)


def test_without_a_price_of_membranes_the_day_is_not_known() -> None:
    assert alone(priced(DEMO, "membrane", None))["break_even_days"] is None


def test_without_a_price_of_resin_the_cost_is_not_known() -> None:
    found = alone(priced(DEMO, "resin_per_l", None))
    assert found["cost_per_year"] is None
    assert found["break_even_days"] is None
    assert found["changes_per_year"] > 0


def test_where_resin_is_all_but_free_membranes_never_pay() -> None:
    found = alone(priced(priced(DEMO, "resin_per_l", "0.01"), "labour_per_hour", "0.0"))
    assert found["cost_per_year"] < found["plant_cost_per_year"]
    assert found["break_even_days"] is None


def test_there_is_nothing_to_compare_without_membranes_or_without_resin() -> None:
    assert Site.load(SITES / "soft-resin-alone.toml").plan().answer()["resin_alone"] is None
    without = "[[plant.product]]".join(
        part for part in DEMO.split("[[plant.product]]") if 'part = "resin"' not in part.split("[")[0]
    )
    assert Site.loads(without).plan().answer()["resin_alone"] is None
