"""The main job: from a site file to what the plant will do, what is wrong with it and what it costs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from rinsewright.costs.prices import Costs
from rinsewright.dates import DAYS
from rinsewright.planning import assumptions, cautions, citations, wording
from rinsewright.planning.consumables import cartridge_outlook, membrane_outlook
from rinsewright.planning.ensemble import resin_outlook, solve_members
from rinsewright.planning.points import at_its_points
from rinsewright.planning.pricing import priced
from rinsewright.planning.resin_alone import resin_alone
from rinsewright.planning.resin_year import ResinYear
from rinsewright.planning.sensitivity import Middle, sensitivities
from rinsewright.planning.situation import Situation
from rinsewright.planning.tap import Tap
from rinsewright.planning.verdicts import judge
from rinsewright.planning.verdicts.word import Verdict
from rinsewright.planning.versions import stamped
from rinsewright.planning.year import MarchedYear, march_year, notes_of
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.layout import Plant
from rinsewright.quantities import LITRE, Array, celsius, kelvin
from rinsewright.seasons.filling import latest_fill_start
from rinsewright.seasons.ledger import year_answer
from rinsewright.site import build
from rinsewright.site.document import SiteDocument
from rinsewright.solve.result import Batch, solve_batch
from rinsewright.water.scaling import calcite_index

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Plan:
    """A finished plan."""

    site_name: str
    planned_on: str
    situation: Situation
    limit_ppm: float
    grid_k: Array  # water temperatures from cold to warm
    batch: Batch  # the plant at each of them
    year: MarchedYear
    costs: Costs
    verdicts: tuple[Verdict, ...]
    sensitivities: tuple[dict[str, Any], ...]
    water: dict[str, Any]  # the answer `water`
    notes: tuple[str, ...]
    defaults: tuple[tuple[str, Any], ...]  # keys of the site file left to their defaults

    def answer(self) -> dict[str, Any]:
        """The contract's ``plan`` object."""
        return self._answer

    @cached_property
    def _answer(self) -> dict[str, Any]:
        s = self.situation
        return stamped(
            {
                **{name: s.told(point) for name, point in s.points()},
                "resin": dict(s.resin) if s.resin is not None else None,
                "cartridges": [dict(row) for row in s.cartridges],
                "membranes": dict(s.membranes) if s.membranes is not None else None,
                "year": s.year,
                "cost_split": self.costs.per_year(),
                "resin_alone": s.resin_alone.answer() if s.resin_alone is not None else None,
                "sensitivities": [dict(row) for row in self.sensitivities],
                "verdicts": [verdict.answer() for verdict in self.verdicts],
                "cautions": cautions.cautions(s),
                "assumptions": assumptions.assumptions(s, self.notes, self.defaults),
                "sources": citations.sources(s),
            }
        )

    @cached_property
    def cold_to_warm(self) -> list[dict[str, Any]]:
        """The plant at each water temperature from cold to warm, in trade units."""
        batch, factor = self.batch, self.situation_factor
        columns = batch.columns(factor)
        wall = batch.waters.wall
        with np.errstate(all="ignore"):
            index = np.full(len(batch), np.nan) if wall is None else calcite_index(wall)
        day = self.situation.working_day_litres
        rows = []
        for n, kelvins in enumerate(self.grid_k):
            made = float(columns["product_l_min"][n])
            rows.append(
                {
                    "temperature_c": float(celsius(kelvins)),
                    "product_l_min": _known(made),
                    "drain_l_min": _known(columns["drain_l_min"][n]) if wall is not None else None,
                    "membrane_bar": _known(columns["membrane_bar"][n]),
                    "product_meter_ppm": _known(columns["product_meter_ppm"][n]),
                    "delivered_meter_ppm": _known(columns["delivered_meter_ppm"][n]),
                    "fill_hours": None if day is None else _known(day / made / 60.0),
                    "calcite_si_wall": _known(index[n]),
                }
            )
        return rows

    @property
    def situation_factor(self) -> float:
        """The meter's factor."""
        today = self.situation.today.solved
        return today.meter_factor if today is not None else 0.5

    def sentences(self) -> tuple[str, ...]:
        """The answer as a person would say it, the most important first."""
        return tuple(
            wording.plan_sentences(self.answer(), self.situation.currency, self.limit_ppm, self.situation.resin_year)
        )

    def text(self) -> str:
        """The plan for a person in a terminal."""
        return wording.plan_text(self.site_name, self.answer(), self.sentences(), self.situation.currency)


def _known(value: Any) -> float | None:
    number = float(value)
    return number if np.isfinite(number) else None


def make_plan(document: SiteDocument, plant: Plant, tap: Tap, progress: Progress | None = None) -> Plan:
    """Work the plan out. Raises :class:`NoWorkingState` where the plant does not even work today."""
    say = progress or (lambda what, share: None)
    water, demand = build.water_input(document), build.demand_input(document)
    season, factor = build.season_input(document), build.meter_factor(document)
    standing = plant.supply.standing_pa

    say("solving the plant today, on the coldest and on the warmest day", 0.0)
    today_k = float(tap.water.temperature_k[0])
    cold_k, warm_k = (season.coldest_k, season.warmest_k) if season else (today_k, today_k)
    start = at_its_points(document, plant, tap)

    say("spreading water, membranes and resin over what they may really be", 0.2)
    middle_k = resin_k = 0.5 * (cold_k + warm_k)
    members = solve_members(plant, tap.water, tap.members, middle_k, standing)
    outlook = resin_outlook(plant, plant.resin, members, demand.limit_ppm, factor) if plant.resin else None
    if plant.resin and outlook and not outlook.needed:  # then perhaps in the warmest water, the saltiest product
        summer = solve_members(plant, tap.water, tap.members, warm_k, standing)
        outlook = resin_outlook(plant, plant.resin, summer, demand.limit_ppm, factor)
        resin_k = warm_k

    say("marching the year", 0.5)
    yearly = _per_year(demand)
    drawn_in = float(members.batch.state.tap_flow[0])
    grid = temperature_grid(cold_k, warm_k)
    batch = solve_batch(
        plant,
        tap.water[np.zeros(len(grid), dtype=np.intp)].with_temperature(grid),
        np.full(len(grid), standing),
    )
    year = march_year(document, plant, tap)
    # What wears by litres and by hours goes by the year's: a throttled plant takes more of both than at full flow.
    taken_in, running = float(year.ledger.feed.sum()), float(year.ledger.running.sum())
    cartridges = tuple(
        cartridge_outlook(part, water, taken_in / DAYS, drawn_in, cold_k, second=n > 0)
        for n, part in enumerate(part for part in plant.feed if isinstance(part, Cartridge))
    )
    membranes = membrane_outlook(plant, water, drawn_in, running)

    say("pricing it", 0.9)
    costs = priced(document, plant, year.ledger)
    total = costs.total
    notes = [f"Not counted, for want of a price: {', '.join(costs.not_counted)}."] if costs.not_counted else []
    notes += notes_of(year.case, year.ledger)
    capital = costs.split.get("capital")
    to_run = None if total is None else float(total[0] - (capital[0] if capital is not None else 0.0))
    situation = replace(
        start,
        resin=outlook.answer(yearly / DAYS / LITRE) if outlook is not None else None,
        cartridges=tuple(one.answer() for one in cartridges),
        membranes=membranes,
        year=year_answer(year.ledger, factor, latest_fill_start(year.inputs, year.ledger), total, notes),
        resin_alone=resin_alone(
            plant,
            tap.water.with_temperature(np.full(1, middle_k)),
            demand,
            document.model.prices,
            float(year.ledger.delivered.sum()),
            to_run,
            start.currency,
        ),
        resin_year=ResinYear.of(year.ledger, plant, factor) if plant.resin is not None else None,
    )
    say("finding what moves it most", 0.95)
    middle = Middle(plant, tap, standing, cold_k, middle_k, warm_k, resin_k, demand.limit_ppm, factor)
    return Plan(
        site_name=document.model.site.name,
        planned_on=document.model.site.planned_on or "",
        situation=situation,
        limit_ppm=demand.limit_ppm,
        grid_k=grid,
        batch=batch,
        year=year,
        costs=costs,
        verdicts=judge(situation),
        sensitivities=tuple(sensitivities(middle, situation, costs, year.ledger)),
        water=stamped(tap.answer()),
        notes=tap.notes,
        defaults=tuple(build.assumed(document)),
    )


def temperature_grid(coldest_k: float, warmest_k: float) -> Array:
    """Water temperatures [K] from cold to warm: the two ends, and even whole degrees Celsius between them."""
    cold, warm = float(celsius(coldest_k)), float(celsius(warmest_k))
    if warm - cold < 0.5:
        return kelvin(np.array([cold, cold + 0.5]))
    between = np.arange(2.0 * np.ceil(0.5 * cold + 0.25), warm - 0.4, 2.0)
    return kelvin(np.concatenate([[cold], between, [warm]]))


def _per_year(demand: build.DemandInput) -> float:
    """Water wanted in a year [m3]: whole weeks less the days off."""
    off = sum(demand.by_weekday[(day - 1) % 7] for day in demand.days_off)
    return demand.week * DAYS / 7.0 - off
