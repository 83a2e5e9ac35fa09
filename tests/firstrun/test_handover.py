"""What the customer is told: nobody is sent to call for what the plant does every day."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

from rinsewright.api import Site
from rinsewright.firstrun.handover import Handover, handover_of
from rinsewright.firstrun.record import FirstRun
from rinsewright.planning.plan import Plan
from tests.cases.running import DEMO, plan_of


@cache
def run() -> FirstRun:
    return Site.load(DEMO).first_run()


def plan() -> Plan:
    return plan_of(DEMO)


def pack(of: Plan) -> Handover:
    return handover_of(of, run())


def test_the_resin_lasts_as_long_as_the_year_says() -> None:
    year = plan().situation.resin_year
    assert year is not None
    told = dict(pack(plan()).meter)["10 ppm"]
    assert year.told() in told
    assert told.endswith("Filled always at full flow, as by night, it may last 14,000 L.")


def test_no_day_of_the_year_sends_the_customer_to_call() -> None:
    handed = pack(plan())
    day_by_day = next(reading for reading, _ in handed.meter if "day by day" in reading)
    low, high = (float(number) for number in re.findall(r"(\d+) to (\d+) ppm", day_by_day)[0])
    ledger = plan().year.ledger
    ppm = ledger.before[0][ledger.product[0] > 0.005] * 0.5e4
    assert low <= ppm.min() + 0.5
    assert ppm.max() - 0.5 <= high
    call = next(text for text in handed.call if "ppm before the resin" in text)
    assert call.startswith("At full flow the product reads more than 30 ppm")
    assert "at least 40 L down and nobody drawing" in call  # 60 of 1,100 mm of 650 L are 35 L
    assert any("at full flow" in text for text in handed.call if "makes less than" in text)


def test_a_plant_that_is_never_throttled_is_told_one_band() -> None:
    year = plan().situation.resin_year
    assert year is not None
    even = replace(plan().situation, resin_year=replace(year, before_ppm=year.full_flow_ppm))
    handed = pack(replace(plan(), situation=even))
    assert not any("day by day" in reading for reading, _ in handed.meter)
    assert any(text.startswith("The product reads more than") for text in handed.call)
