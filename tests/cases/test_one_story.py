"""The sentences, verdicts and handover of a plan tell one story: no number there contradicts another or the answer."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import asdict
from functools import cache
from pathlib import Path

import pytest

from rinsewright.api import Site
from rinsewright.firstrun.handover import handover_of
from rinsewright.planning.plan import Plan

from .running import DEMO, SITES, numbers, plan_of

QUICK = ("tern-quay", "direct-to-the-pole")
ALL = [DEMO, *sorted(SITES.glob("*.toml"))]
PLACES = [pytest.param(at, id=at.stem, marks=() if at.stem in QUICK else pytest.mark.longer) for at in ALL]
NUMBER = r"(?<![\w.,])\d[\d,]*(?:\.\d+)?"
QUANTITY = re.compile(rf"({NUMBER})(?: \(({NUMBER}) to ({NUMBER})\))? (L/min|L|ppm|days|hours|°C|m³)(?![\w/])")
FILLING = re.compile(rf"lasts about ({NUMBER}) L(?: \(({NUMBER}) to ({NUMBER})\))?, ({NUMBER}) days")


@cache
def texts_of(at: Path) -> dict[str, str]:
    """Where something is said, and what."""
    plan = plan_of(at)
    told = {"sentences": " ".join(plan.sentences())}
    told |= {f"verdict on {one.what}": f"{one.why} {one.do}" for one in plan.verdicts}
    pack = handover_of(plan, Site.load(at).first_run())
    told["handover"] = " ".join([*pack.does, *(" ".join(pair) for pair in pack.meter), *pack.call])
    return told


def value(text: str) -> float:
    return float(text.replace(",", ""))


def is_rounded(said: str, exact: float) -> bool:
    """Whether the digits written can stand for the exact number; up to one of the last, as some are rounded twice."""
    step = 10.0 ** -len(said.partition(".")[2]) if "." in said else 10.0 ** (len(said) - len(said.rstrip("0")))
    return abs(value(said) - exact) <= 0.51 * step * (1.0 if "," not in said else 1.02)


@pytest.mark.parametrize("at", PLACES)
def test_the_resin_is_told_alike_everywhere(at: Path) -> None:
    plan, texts = plan_of(at), texts_of(at)
    changes = plan.answer()["year"]["resin_changes"]["value"]
    told = {place: FILLING.findall(text) for place, text in texts.items() if FILLING.search(text)}
    assert len({found for every in told.values() for found in every}) <= 1, told
    assert bool(told) == (changes > 0)
    if not changes:
        return
    assert {"sentences", "verdict on resin", "handover"} <= set(told)
    for text in (texts[place] for place in told):
        times = re.search(r"changed (once|twice|\d+ times)", text)
        assert times is not None
        assert {"once": 1, "twice": 2}.get(times[1], int("0" + re.sub(r"\D", "", times[1]))) == changes
    litres, days = value(told["sentences"][0][0]), value(told["sentences"][0][3])
    assert changes * days <= 1.05 * 365.0
    assert changes * litres <= 1.05e3 * plan.answer()["year"]["product_m3"]["value"]
    assert (changes + 1) * days >= 0.85 * 365.0  # what is left of the year is less than about one more


@pytest.mark.parametrize("at", PLACES)
def test_every_quantity_of_the_sentences_stands_in_the_answer(at: Path) -> None:
    plan = plan_of(at)
    known = [number for _, number in numbers(plan.answer()) if math.isfinite(number)]
    known += list(_year_numbers(plan))
    strange = [
        f"{said} {found[4]}"
        for found in QUANTITY.finditer(" ".join(plan.sentences()))
        for said in found.groups()[:3]
        if said is not None and not any(is_rounded(said, one) for one in known)
    ]
    assert not strange


def _year_numbers(plan: Plan) -> Iterator[float]:
    """What the year says of the resin, and the limit itself."""
    yield plan.limit_ppm
    if plan.situation.resin_year is not None:
        for _, number in numbers(asdict(plan.situation.resin_year)):
            yield number
        yield from (
            each for each in (plan.situation.resin_year.litres_each, plan.situation.resin_year.days_each) if each
        )


@pytest.mark.parametrize("at", PLACES)
def test_what_goes_to_drain_is_told_for_full_flow_or_for_the_year(at: Path) -> None:
    answer, said = plan_of(at).answer(), texts_of(at)["sentences"]
    year = answer["year"]["drain_m3"]["value"] / answer["year"]["product_m3"]["value"]
    full = answer["today"]["drain_l_per_product_l"]
    if not answer["today"]["elements"]:
        assert "to drain" not in said
        return
    assert f"{full:.1f} L go to drain for each litre made" in said
    assert (f"over the year {year:.1f}." in said) == (year >= 1.3 * full)
    assert ("at full flow: " in said) == (year >= 1.3 * full)


def test_a_contradiction_would_be_found() -> None:
    assert FILLING.findall("each filling lasts about 7,100 L (6,100 to 9,300), 31 days (25 to 40).") != FILLING.findall(
        "each filling lasts about 14,000 L, 61 days."
    )
    assert is_rounded("7,100", 7068.9)
    assert not is_rounded("14,000", 7068.9)
    assert not is_rounded("2.4", 2.31)
