"""What the water passes and the site file leaves out: where it stands, its usual ends, and why.

Which parts a plant needs is common practice, no source. Where one is screwed to a thread it takes that thread and gives
it again; everywhere else it is taken with the ports of its line's tube.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rinsewright.plant.check import Check
from rinsewright.plant.joints import THREADS, End, counterpart
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.restrictor import Restrictor
from rinsewright.plant.part import Part
from rinsewright.plant.product.line import ResinVessel, Tank

USUAL_OUTLET = "G 3/4 male"  # of a tank that says no ends (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class Added(Part):
    """A part that the site file does not have: why it is needed, and the keys of the parts that it serves."""

    why: str
    serves: tuple[str, ...] = ()


@dataclass(frozen=True)
class Lines:
    """The lines of a plant in the water's order with what is added; ``at_tap`` comes before ``feed``.

    ``gauge`` stands right before the membranes, behind everything on the feed; ``returned`` in the line that returns
    drain water to the pump.
    """

    at_tap: tuple[Added, ...]
    feed: tuple[Part, ...]
    gauge: tuple[Added, ...]
    drain: tuple[Part, ...]
    returned: tuple[Added, ...]
    product: tuple[Part, ...]

    @property
    def added(self) -> tuple[Added, ...]:
        """All that is added."""
        lines = (self.at_tap, self.feed, self.gauge, self.drain, self.returned, self.product)
        return tuple(part for line in lines for part in line if isinstance(part, Added))


def with_added(plant: Plant, tap: End, tubes: Mapping[str, End]) -> Lines:
    """The lines of a plant whose supply ends in ``tap``; ``tubes`` is the tube of the feed, drain and product line."""
    feed, drain, product = (_Adding(counterpart(tubes[line])) for line in ("feed", "drain", "product"))
    return Lines(
        at_tap=tuple(feed.at_tap(plant, tap)),
        feed=tuple(feed.feed(plant)),
        gauge=tuple(feed.gauge(plant)) if plant.elements else (),
        drain=tuple(drain.drain(plant)),
        returned=tuple(drain.returned(plant)),
        product=tuple(product.product(plant)),
    )


@dataclass(frozen=True)
class _Adding:
    """Adds to a line whose tube goes into ``port``."""

    port: End

    def _part(self, name: str, what: str, why: str, *serves: Part, at: End | None = None) -> Added:
        """At an end ``at`` the part is screwed on if that is a thread, else tube leads to it."""
        screwed = at is not None and at.kind in THREADS
        ends = (counterpart(at), at) if at is not None and screwed else (self.port, self.port)
        return Added(key=f"also.{name}", name=what, why=why, serves=tuple(part.key for part in serves), ends=ends)

    def at_tap(self, plant: Plant, tap: End) -> Iterator[Added]:
        yield self._part("stop", "stop valve", "It shuts the plant off from the supply for every change.", at=tap)
        if plant.supply.kind == "mains":
            why = "Water from the plant must not return into drinking water; local rules say which device, often a "
            yield self._part("backflow", "back-flow protection", f"{why}double check valve.", at=tap)
        elif plant.supply.kind == "well":
            yield self._part("non_return", "non-return valve", "The plant must not drain back into the well.", at=tap)
        if not plant.elements:
            yield from self.gauge(plant)

    def feed(self, plant: Plant) -> Iterator[Part]:
        for part in plant.feed:
            pump = part if part is plant.pump else None
            if pump and pump.min_inlet_pa is None:
                why = "It stops the pump before it runs dry."
                yield self._part("dry_run", "low-pressure switch with tee", why, part)
            yield part
            if pump:
                why = "If a switch fails, the pump must not burst what is behind it."
                yield self._part("relief", "relief valve with tee", why, part)
            if pump and pump.cut_out_pa is None:
                why = "It stops the pump when nothing is drawn."
                yield self._part("cut_out", "pressure switch with tee", why, part)

    def gauge(self, plant: Plant) -> Iterator[Added]:
        why = "It shows what the tap gives while water runs."
        if plant.elements:
            why = "It shows the pressure on the membranes, the first thing to read when there is less product."
        yield self._part("gauge", "pressure gauge with tee", why, *plant.elements)

    def drain(self, plant: Plant) -> Iterator[Part]:
        if plant.elements and not any(isinstance(part, Restrictor) for part in plant.drain):
            why = "Without one no pressure stands on the membranes."
            yield self._part("restrictor", "drain restrictor", why, *plant.elements)
        yield from plant.drain

    def returned(self, plant: Plant) -> Iterator[Added]:
        if plant.elements and plant.pump and plant.recirculation > 0.0:
            why = "It sets how much drain water returns to the pump."
            yield self._part("recirculation", "needle valve with non-return valve", why, plant.pump)

    def product(self, plant: Plant) -> Iterator[Part]:
        past = [part for part in (plant.resin, plant.tank) if part]
        first = next((part for part in plant.product if isinstance(part, ResinVessel | Tank)), None)
        valve = plant.shutoff
        for place, part in enumerate(plant.product):
            if part is valve and not any(isinstance(before, Check) for before in plant.product[:place]):
                why = "Before the shut-off it holds the product's pressure; without it the valve opens again at once."
                yield self._part("check", "check valve", why, part)
            if part is first and plant.elements:
                why = (
                    "While the membranes' preservative rinses out, the product goes past resin and tank into a bucket."
                )
                yield self._part("bypass", "three-way by-pass valve", why, *past)
            if not isinstance(part, Tank):
                yield part
                continue
            if part.inlet != "top":
                why = "A bottom inlet has no air gap, and tank water must not be drawn back."
                yield self._part("tank_gap", "non-return valve for the tank's inlet", why, part)
            yield part
            outlet = part.ends[-1] if part.ends else End.parse(USUAL_OUTLET)
            why = "It shuts the tank for every change behind it."
            yield self._part("outlet", "tank outlet valve", why, part, at=outlet)
