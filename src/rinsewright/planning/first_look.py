"""The first look at a plant, in a fraction of a second: its three operating points and what they alone can judge.

The plan has the rest: resin, year and cost.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from rinsewright.dates import DAYS
from rinsewright.errors import NoWorkingState
from rinsewright.planning.consumables import membrane_outlook
from rinsewright.planning.situation import Operating, Situation
from rinsewright.planning.tap import Tap
from rinsewright.planning.verdicts import judge
from rinsewright.planning.verdicts.word import Verdict
from rinsewright.planning.wording import plan_sentences
from rinsewright.plant.layout import Plant
from rinsewright.quantities import celsius
from rinsewright.site import build
from rinsewright.site.document import SiteDocument
from rinsewright.solve.result import solve_one


@dataclass(frozen=True)
class FirstLook:
    """The points, what is judged by them alone, and the answer as a person would say it."""

    situation: Situation
    verdicts: tuple[Verdict, ...]
    sentences: tuple[str, ...]


def first_look(document: SiteDocument, plant: Plant, tap: Tap) -> FirstLook:
    """Look at a plant; raises :class:`NoWorkingState` where it does not even work today."""
    situation = _situation(document, plant, tap)
    verdicts = judge(situation)
    answer: dict[str, Any] = {
        **{name: situation.told(point) for name, point in situation.points()},
        "resin": None,
        "year": {"cost": {"value": None}},
        "verdicts": [verdict.answer() for verdict in verdicts],
    }
    limit = build.demand_input(document).limit_ppm
    return FirstLook(situation, verdicts, tuple(plan_sentences(answer, situation.currency, limit)))


def _situation(document: SiteDocument, plant: Plant, tap: Tap) -> Situation:
    water, demand, season = build.water_input(document), build.demand_input(document), build.season_input(document)
    factor, standing = build.meter_factor(document), plant.supply.standing_pa
    today_k = float(tap.water.temperature_k[0])
    cold_k, warm_k = (season.coldest_k, season.warmest_k) if season else (today_k, today_k)

    def at(kelvins: float) -> Operating:
        condition = tap.water.with_temperature(np.full(1, kelvins))
        degrees = round(float(celsius(kelvins)), 6)
        try:
            return Operating(degrees, solve_one(plant, condition, standing, factor))
        except NoWorkingState as reason:
            return Operating(degrees, reason)

    today = Operating(round(float(celsius(today_k)), 6), solve_one(plant, tap.water, standing, factor, tap.notes))
    assert today.solved is not None  # else it was refused
    state = today.solved.batch.state
    running = demand.week / 7.0 * DAYS / float(state.product_flow[0] + state.blend_flow[0])  # seconds a year
    return Situation(
        plant=plant,
        tap=tap.water,
        water=water,
        charge_balance_pct=tap.charge_balance_pct,
        demand=demand,
        frost_protected=document.model.site.frost_protected,
        country=document.model.site.country,
        vans=tuple(document.model.demand.vans if document.model.demand else ()),
        today=today,
        coldest=at(cold_k),
        warmest=at(warm_k),
        season_known=season is not None,
        resin=None,
        cartridges=(),
        membranes=membrane_outlook(plant, water, float(state.tap_flow[0]), running),
        year=None,
        resin_alone=None,
        currency=build.currency(document) or "",
    )
