"""The resin as the year runs it: counted from made-up ledgers by hand, and said by the plan of the demo."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rinsewright.planning.plan import Plan
from rinsewright.planning.resin_year import ResinYear, Span
from rinsewright.planning.verdicts.keeping import resin_lasts
from tests.cases.running import DEMO, plan_of


def demo() -> Plan:
    return plan_of(DEMO)


def changed_on(days: dict[int, int], by_date: bool = False) -> ResinYear:
    """The demo's year, 320 L each day, with the resin changed on these days (from 0) so many times."""
    plan = demo()
    ledger, shape = plan.year.ledger, (1, 365)
    changes = np.zeros(shape)
    changes[0, list(days)] = list(days.values())
    reasons = np.where(changes > 0, int(by_date), -1)
    return ResinYear.of(
        replace(ledger, product=np.full(shape, 0.32), resin_changes=changes, resin_reasons=reasons),
        plan.situation.plant,
        0.5,
    )


def test_fillings_by_hand() -> None:
    # Changed at the end of the 30th and the 80th day: 30 and 50 days, 9,600 and 16,000 L.
    year = changed_on({29: 1, 79: 1})
    assert year.days == Span(40.0, 30.0, 50.0)
    assert year.litres is not None
    assert year.litres.least == pytest.approx(9600.0)
    assert year.litres.most == pytest.approx(16000.0)
    assert year.told() == (
        "In the year the resin is changed twice: each filling lasts about 13,000 L (9,600 to 16,000), "
        "40 days (30 to 50)."
    )
    assert changed_on({9: 2}).days == Span(5.0, 0.5, 9.5)
    assert changed_on({29: 1}, by_date=True).told() == "In the year the resin is changed once, by date."


def test_a_filling_that_outlasts_the_year_is_told_from_the_part_used() -> None:
    year = replace(changed_on({}), used=0.5, through_litres=80_000.0)
    assert year.told().endswith(
        "not changed within the year: at this pace one filling takes about 160,000 L, 730 days."
    )
    assert replace(year, used=0.0).sentences() == ()


def test_the_demos_fillings_by_a_balance_of_equivalents() -> None:
    # 7 L at 60 % hold 3.19 eq of cations. A product of 24 ppm is 48 µS/cm, about 0.46 eq/m³ at 105 S cm²/eq.
    year = demo().situation.resin_year
    assert year is not None
    by_hand = year.through_litres * 1e-3 * year.before_ppm / 0.5 / 105.0 / 3.19
    assert year.used == pytest.approx(by_hand, rel=0.15)
    assert year.changes == int(year.used)


def test_the_plan_speaks_from_the_year_and_judges_by_the_worse() -> None:
    plan = demo()
    said, year = " ".join(plan.sentences()), plan.situation.resin_year
    assert year is not None
    assert year.told() in said
    assert said.index(year.told()) < said.index("Filled always at full flow, as by night, it takes about 14,000 L")
    verdict = next(one for one in plan.verdicts if one.what == "resin")
    assert verdict.why.startswith(year.told())
    assert verdict.verdict == "look"  # 25 days in summer, though 61 at full flow
    long = replace(plan.situation, resin_year=replace(year, days=Span(90.0, 80.0, 100.0), before_ppm=13.0))
    better = resin_lasts(long)
    assert better is not None
    assert (better.verdict, "throttles" in better.why) == ("fine", False)


def test_filters_and_chlorine_go_by_the_years_litres_and_hours() -> None:
    plan = demo()
    ledger, ends = plan.year.ledger, plan.answer()["membranes"]
    at_full_flow = float(ledger.product.sum() / np.median(ledger.full_product))
    assert float(ledger.running.sum()) > 2.0 * at_full_flow
    shown = 1000.0 / ends["chlorine_mg_h_l_per_year"]
    assert shown == pytest.approx(19.7, rel=0.05)  # years; 47 if it always ran at full flow
