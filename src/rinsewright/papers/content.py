"""What a plan sheet says, before anything is drawn: plain dataclasses, no HTML.

The caller fills these from the answer of the job ``plan``; :func:`rinsewright.papers.plan_page` turns them into a page.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from rinsewright.papers.units import AS_FILED, Telling, Units

Verdict = Literal["fine", "look", "stop"]
VERDICTS: tuple[Verdict, ...] = ("stop", "look", "fine")  # in the order in which they are read

Kind = Literal[
    "tap",
    "break-tank",
    "well",
    "tube",
    "cartridge-sediment",
    "cartridge-carbon",
    "pump",
    "softener",
    "inhibitor",
    "check",
    "solenoid",
    "membrane",
    "restrictor",
    "flush",
    "shutoff",
    "lift",
    "resin",
    "tank",
    "delivery-pump",
    "blend",
    "brush",
    "gully",  # the end of the drain; drawn by itself, never given
]


@dataclass(frozen=True)
class Reading:
    """One number on a tag, as it is to be printed: ``Reading("3.4", "bar")``."""

    number: str
    unit: str


@dataclass(frozen=True)
class Tag:
    """What is read at the joint after a part: up to three readings, and a verdict word if there is something to say."""

    readings: tuple[Reading, ...] = ()
    verdict: Verdict | None = None

    @classmethod
    def of(
        cls,
        *,
        pressure_bar: float | None = None,
        flow_l_min: float | None = None,
        meter_ppm: float | None = None,
        verdict: Verdict | None = None,
        telling: Telling = AS_FILED,
    ) -> Tag:
        """A tag from plain numbers, rounded for people, their units brief; what is None is left out."""
        given = ((pressure_bar, "bar", "bar"), (flow_l_min, "2", "L/min"), (meter_ppm, "ppm", "ppm"))
        told = (
            Reading(telling.say(value, say, unit), telling.word(unit).removeprefix("US "))
            for value, say, unit in given
            if value is not None
        )
        return cls(tuple(told), verdict)


@dataclass(frozen=True)
class PathPart:
    """One part on the water's way. ``key`` is its place in the site file (``plant.feed[1]``), unique within a path."""

    kind: Kind
    name: str
    size_text: str = ""
    tag: Tag | None = None
    key: str = ""


@dataclass(frozen=True)
class WaterPath:
    """The water's way in flow order.

    ``feed`` starts at the tap (or well, or break tank) and ends before the membranes; ``membranes`` holds the stages,
    each with its elements side by side, and is empty where there is resin alone; ``drain`` runs from the last membrane
    to the gully (which is drawn by itself); ``product`` runs from the membranes to tank or brush.
    """

    feed: tuple[PathPart, ...]
    membranes: tuple[tuple[PathPart, ...], ...] = ()
    drain: tuple[PathPart, ...] = ()
    product: tuple[PathPart, ...] = ()

    def parts(self) -> Iterator[PathPart]:
        """Every part, in flow order (drain before product)."""
        yield from self.feed
        for stage in self.membranes:
            yield from stage
        yield from self.drain
        yield from self.product


@dataclass(frozen=True)
class TemperatureRow:
    """The plant at one water temperature. None: not known; flow and pressure both None: it makes no water there."""

    temperature_c: float
    product_l_min: float | None
    drain_l_min: float | None
    membrane_bar: float | None
    product_meter_ppm: float | None
    delivered_meter_ppm: float | None
    fill_hours: float | None
    calcite_si_wall: float | None = None


@dataclass(frozen=True)
class PlanPaper:
    """Everything on a plan sheet.

    ``answer`` is the answer of the job ``plan``, ``water`` (if at hand) that of the job ``water``; both as the commands
    print them. ``sentences`` is the answer as a person would say it, the most important first.
    """

    site_name: str
    country: str
    currency: str
    answer: Mapping[str, Any]
    path: WaterPath
    cold_to_warm: tuple[TemperatureRow, ...]
    sentences: tuple[str, ...]
    coldest_c: float
    today_c: float
    warmest_c: float
    product_limit_ppm: float
    meter_factor: float = 0.5
    calcite_limit: float = 2.0  # index at the membrane above which scale is sure, the credit counted
    inhibitor_credit: float | None = None  # that a scale inhibitor adds to the limit; None without one
    water: Mapping[str, Any] | None = None
    resin_in_year: tuple[str, ...] = ()  # how the resin fares as the year runs; ``answer``'s is for full flow
    always_open: bool = False  # no filling hours: the latest starts are for a tap shut while water is drawn
    made_on: str = ""
    units: Units | None = None  # in which it is told; None: the site file's. The path's numbers are text already

    @property
    def telling(self) -> Telling:
        """How its numbers are told."""
        return Telling.of(self.units, self.meter_factor)
