"""A blend adds tap water where it stands: what reaches resin, tank and brush goes by the product line's order."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from rinsewright.api import Site
from rinsewright.errors import InputError
from rinsewright.planning.plan import Plan
from rinsewright.planning.year import central_resin
from rinsewright.seasons.quality import inflow

SITE = """
[water]
temperature_c = 12
ph = 7.4
ions_mg_l = {{ Ca = 104, Na = 18, HCO3 = 285, Cl = 60, SO4 = 28 }}
[supply]
standing_bar = 4.2
[demand]
litres_per_day = {{ mon = 320, tue = 320, wed = 320, thu = 320, fri = 320 }}
[plant]
membranes = [ {{ part = "4040 low pressure" }} ]
drain = [ {{ part = "restrictor", flow_l_min = 1.5, at_bar = 4 }} ]
product = [ {{ part = "check" }}, {{ part = "shutoff" }}, {} ]
"""
PARTS = {
    "B": '{ part = "blend", share = 0.5 }',
    "R": '{ part = "resin", litres = 7 }',
    "T": '{ part = "tank", litres = 650 }',
}
USABLE = 7.0 * 0.76 * 0.6  # eq of cations


def site(order: str) -> Site:
    return Site.loads(SITE.format(", ".join(PARTS[part] for part in order)))


@cache
def planned(order: str) -> Plan:
    return site(order).plan()


def tap_cations() -> float:
    """eq/m3 by hand: as many as anions (285 mg/L HCO3, 60 Cl, 28 SO4), with which sodium closes the analysis."""
    return 285.0 / 61.02 + 60.0 / 35.45 + 28.0 / 48.03


@pytest.mark.parametrize("order", ["BRT", pytest.param("TBR", marks=pytest.mark.longer)])
def test_a_blend_before_the_resin_loads_it_with_tap_water(order: str) -> None:
    plan = planned(order)
    answer, ledger = plan.answer(), plan.year.ledger
    # Half of what reaches the resin is tap water: the other half brings a few per cent of as much.
    at_most = USABLE / (0.5 * tap_cations()) * 1e3
    assert 0.9 * at_most < answer["resin"]["litres_to_limit"]["value"] < at_most
    resin = central_resin(plan.year.case)
    assert resin is not None
    by_tap = 0.5 * ledger.product.sum() * tap_cations()
    brought = inflow(plan.year.inputs, ledger, resin).cations.sum()
    assert by_tap < brought < 1.08 * by_tap
    assert brought / USABLE < ledger.resin_spent.sum() < 1.2 * brought / USABLE  # a change leaves some of it unused
    assert np.median(ledger.before[ledger.product > 0.1]) * 1e4 * 0.5 == pytest.approx(180.0, rel=0.05)
    assert answer["year"]["days_over_limit"]["value"] == 0
    purity = next(verdict for verdict in answer["verdicts"] if verdict["what"] == "purity")
    assert purity["verdict"] == "look"
    assert "before the resin" in purity["why"]
    assert "Take the blend out" in purity["do"]


@pytest.mark.parametrize("order", ["RBT", *(pytest.param(one, marks=pytest.mark.longer) for one in ("TRB", "RB"))])
def test_a_blend_behind_the_resin_is_delivered_and_spares_it(order: str) -> None:
    plan, alone = planned(order), planned(order.replace("B", ""))
    answer, year = plan.answer(), plan.answer()["year"]
    delivered = answer["today"]["delivered"]["meter_ppm"]
    assert delivered == pytest.approx(178.8, abs=0.5)
    assert delivered < year["worst_meter_ppm"]["value"] < delivered + 10.0  # a spent resin reads 10 ppm at most
    assert year["days_over_limit"]["value"] == 261
    # The resin sees half of the water, at the strength it has without a blend.
    whole = alone.answer()["resin"]
    assert answer["resin"]["litres_to_limit"]["value"] == pytest.approx(whole["litres_to_limit"]["value"], rel=0.01)
    assert answer["resin"]["days_to_limit"]["value"] == pytest.approx(2.0 * whole["days_to_limit"]["value"], rel=0.01)
    assert plan.situation.resin_year is not None
    assert plan.situation.resin_year.through_litres == pytest.approx(
        0.5 * plan.year.ledger.product.sum() * 1e3, rel=0.01
    )
    purity = next(verdict for verdict in answer["verdicts"] if verdict["what"] == "purity")
    assert (purity["verdict"], "brings the water back to 179 ppm" in purity["why"]) == ("stop", True)


def test_the_members_have_the_blend_behind_the_resin_too() -> None:
    behind = site("RBT").year(members=2, seed=1).answer()
    assert behind["worst_meter_ppm"]["low"] > 150.0
    assert behind["days_over_limit"]["value"] > 250
    assert behind["resin_changes"]["high"] < 12


@pytest.mark.longer
def test_the_members_have_the_blend_before_the_resin_too() -> None:
    before = site("BRT").year(members=2, seed=1).answer()
    assert before["resin_changes"]["low"] > 70
    assert before["worst_meter_ppm"]["high"] <= 10.0


def test_worn_membranes_do_not_strengthen_the_tap_water_of_a_blend() -> None:
    """Five years old they pass half as much salt again; the tap's half of the water stays what it is."""
    new = site("BT")
    old = Site.loads(
        SITE.format(", ".join(PARTS[part] for part in "BT")).replace(
            '"4040 low pressure"', '"4040 low pressure", installed = "2021-01-01"'
        )
        + '[site]\nplanned_on = "2026-01-01"\n'
    )
    worst = [one.year().answer()["worst_meter_ppm"]["value"] for one in (new, old)]
    assert worst[0] < worst[1] < 1.1 * worst[0]


def test_without_resin_the_days_above_the_limit_are_counted() -> None:
    year = planned("T").answer()["year"]
    assert year["worst_meter_ppm"]["value"] > 10.0
    assert year["days_over_limit"]["value"] == 261  # all days of work of the year


def test_a_second_blend_is_refused() -> None:
    with pytest.raises(InputError, match=r"a plant has one blend; give one with the share of both"):
        site("BRBT")
