"""The situation at its start: what was given, and the plant at its three water temperatures or at a single point."""

from __future__ import annotations

import numpy as np

from rinsewright.errors import NoWorkingState
from rinsewright.planning.situation import COLDEST, LIKE_THIS, TODAY, WARMEST, Operating, Situation
from rinsewright.planning.tap import Tap
from rinsewright.plant.layout import Plant
from rinsewright.quantities import celsius
from rinsewright.site import build
from rinsewright.site.document import SiteDocument
from rinsewright.solve.result import Solved, solve_one
from rinsewright.water.state import Water


def at_its_points(document: SiteDocument, plant: Plant, tap: Tap) -> Situation:
    """Today, the coldest and the warmest water solved; what a year does is left open.

    Raises :class:`NoWorkingState` where the plant does not even work today.
    """
    season, factor, standing = build.season_input(document), build.meter_factor(document), plant.supply.standing_pa
    today_k = float(tap.water.temperature_k[0])
    cold_k, warm_k = (season.coldest_k, season.warmest_k) if season else (today_k, today_k)
    today = Operating(_c(today_k), solve_one(plant, tap.water, standing, factor, tap.notes), TODAY)
    coldest = _operating(plant, tap.water, cold_k, standing, factor, COLDEST)
    warmest = _operating(plant, tap.water, warm_k, standing, factor, WARMEST)
    return _situation(document, plant, tap, today, coldest, warmest, season_known=season is not None)


def at_one_point(document: SiteDocument, tap: Tap, solved: Solved, when: str = LIKE_THIS) -> Situation:
    """One working state as if it held today and all year, for the rules that look at a single state.

    ``when`` says in their sentences which state it is.
    """
    here = Operating(_c(float(solved.batch.conditions.temperature_k[0])), solved, when)
    return _situation(document, solved.batch.plant, tap, here, here, here, season_known=False)


def _situation(
    document: SiteDocument,
    plant: Plant,
    tap: Tap,
    today: Operating,
    coldest: Operating,
    warmest: Operating,
    *,
    season_known: bool,
) -> Situation:
    return Situation(
        plant=plant,
        tap=tap.water,
        water=build.water_input(document),
        charge_balance_pct=tap.charge_balance_pct,
        demand=build.demand_input(document),
        frost_protected=document.model.site.frost_protected,
        country=document.model.site.country,
        vans=tuple(document.model.demand.vans if document.model.demand else ()),
        today=today,
        coldest=coldest,
        warmest=warmest,
        season_known=season_known,
        resin=None,
        cartridges=(),
        membranes=None,
        year=None,
        resin_alone=None,
        currency=build.currency(document) or "",
    )


def _c(kelvins: float) -> float:
    return round(float(celsius(kelvins)), 6)


def _operating(
    plant: Plant, tap: Water, temperature_k: float, standing_pa: float, factor: float, when: str
) -> Operating:
    try:
        water = tap.with_temperature(np.full(1, temperature_k))
        return Operating(_c(temperature_k), solve_one(plant, water, standing_pa, factor), when)
    except NoWorkingState as reason:
        return Operating(_c(temperature_k), reason, when)
