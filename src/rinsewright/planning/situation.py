"""All that is known about a site when it is judged: what was given, and what was computed from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from rinsewright.errors import NoWorkingState
from rinsewright.planning.resin_alone import ResinAlone
from rinsewright.planning.resin_year import ResinYear
from rinsewright.plant.layout import Plant
from rinsewright.plant.part import Part
from rinsewright.quantities import DAY, HOUR, LITRE
from rinsewright.site.build import DemandInput, WaterInput
from rinsewright.solve.result import Solved
from rinsewright.water.state import Water

TODAY, COLDEST, WARMEST = "today", "on the coldest day", "on the warmest day"
LIKE_THIS = "like this"  # at a temperature and pressure that somebody chose


@dataclass(frozen=True)
class Operating:
    """The plant at one water temperature: its working state, or why it has none. ``when`` says it in a sentence."""

    temperature_c: float
    state: Solved | NoWorkingState
    when: str

    @property
    def solved(self) -> Solved | None:
        """The working state, if there is one."""
        return self.state if isinstance(self.state, Solved) else None

    def fill_hours(self, volume: float) -> float | None:
        """Hours to make a volume [m3]; not known without a working state."""
        if self.solved is None:
            return None
        state = self.solved.batch.state
        return volume / float(state.product_flow[0] + state.blend_flow[0]) / HOUR


@dataclass(frozen=True)
class Situation:
    """The site, the plant and its three operating points, with what a year does to them."""

    plant: Plant
    tap: Water  # one condition
    water: WaterInput
    charge_balance_pct: float | None
    demand: DemandInput | None
    frost_protected: bool
    country: str | None
    vans: tuple[Any, ...]
    today: Operating
    coldest: Operating
    warmest: Operating
    season_known: bool
    resin: Mapping[str, Any] | None
    cartridges: tuple[Mapping[str, Any], ...]
    membranes: Mapping[str, Any] | None
    year: Mapping[str, Any] | None
    resin_alone: ResinAlone | None  # the same year with the same resin and no membranes
    currency: str
    resin_year: ResinYear | None = None  # the resin as the year runs; ``resin`` is for full flow

    @property
    def has_membranes(self) -> bool:
        """Whether this is a reverse-osmosis plant at all."""
        return bool(self.plant.stages)

    @cached_property
    def working_day_litres(self) -> float | None:
        """Litres of an average working day, if a demand is given."""
        volume = self.demand.working_day if self.demand else 0.0
        return volume / LITRE if volume > 0.0 else None

    @cached_property
    def fill_window_hours(self) -> float:
        """Hours a day in which the tap is open."""
        demand = self.demand
        if demand is None or demand.fill_from is None or demand.fill_until is None:
            return 24.0
        return (demand.fill_until - demand.fill_from) % DAY / 3600.0 or 24.0

    def points(self) -> Iterator[tuple[str, Operating]]:
        """Today, the coldest and the warmest water, by name."""
        yield "today", self.today
        yield "coldest", self.coldest
        yield "warmest", self.warmest

    def states(self) -> tuple[Solved, ...]:
        """Their working states, each once: a single point stands for all three."""
        return tuple({id(point.solved): point.solved for _, point in self.points() if point.solved}.values())

    @property
    def cold(self) -> Operating:
        """The coldest water, or today's where the plant does not work in that."""
        return self.coldest if self.coldest.solved else self.today

    @property
    def warm(self) -> Operating:
        """The warmest water, or today's where the plant does not work in that."""
        return self.warmest if self.warmest.solved else self.today

    def told(self, point: Operating) -> dict[str, Any] | None:
        """One of the points as the contract's object, with the hours that an average working day's water takes."""
        if point.solved is None:
            return None
        answer, day = point.solved.answer(), self.working_day_litres
        hours = None if day is None else point.fill_hours(day * LITRE)
        flows = answer["drain"]["flow_l_min"] / answer["product"]["flow_l_min"]
        return {"temperature_c": point.temperature_c, **answer, "fill_hours": hours, "drain_l_per_product_l": flows}

    def first(self, kind: type[Part]) -> Part | None:
        """The first part of a kind on any line."""
        lines = (self.plant.feed, self.plant.drain, self.plant.product)
        return next((part for line in lines for part in line if isinstance(part, kind)), None)

    def cartridge(self, media: str) -> Part | None:
        """The first cartridge of a medium, "sediment" or "carbon"."""
        return next((part for part in self.plant.feed if getattr(part, "media", None) == media), None)
