"""The plant: parts joined in the order the water meets them, and whether they can be a plant at all."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.supply import Supply
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.part import Part
from rinsewright.plant.product.line import Blend, ResinVessel, ShutOff, Tank


@dataclass(frozen=True)
class Plant:
    """A water path. ``stages``: one tuple of elements side by side for each stage, in the order the drain meets them.

    No stages make a resin-only plant. ``recirculation`` [m3/s] of drain water returns to the pump's inlet.
    """

    supply: Supply
    feed: tuple[Part, ...] = ()
    stages: tuple[tuple[Element, ...], ...] = ()
    drain: tuple[Part, ...] = ()
    product: tuple[Part, ...] = ()
    recirculation: float = 0.0

    @cached_property
    def pump(self) -> Pump | None:
        """The booster pump of the feed line, if there is one."""
        return next((part for part in self.feed if isinstance(part, Pump)), None)

    @cached_property
    def tank(self) -> Tank | None:
        """The product tank, if there is one."""
        return next((part for part in self.product if isinstance(part, Tank)), None)

    @cached_property
    def shutoff(self) -> ShutOff | None:
        """The automatic shut-off, if there is one."""
        return next((part for part in self.product if isinstance(part, ShutOff)), None)

    @cached_property
    def to_tank(self) -> tuple[Part, ...]:
        """The product line that loads the membranes: up to and with the tank, all of it where there is none."""
        end = next((i for i, part in enumerate(self.product) if isinstance(part, Tank)), len(self.product))
        return self.product[: end + 1]

    @cached_property
    def resin(self) -> ResinVessel | None:
        """The resin vessel, before or behind the tank, if there is one."""
        return next((part for part in self.product if isinstance(part, ResinVessel)), None)

    @cached_property
    def resin_behind_tank(self) -> bool:
        """Whether the resin stands between tank and brush."""
        if self.tank is None or self.resin is None:
            return False
        return self.product.index(self.tank) < self.product.index(self.resin)

    @cached_property
    def blend_share(self) -> float:
        """Share of the delivered water that by-passes the membranes."""
        return sum(part.share for part in self.product if isinstance(part, Blend))

    @cached_property
    def blend_behind_resin(self) -> float:
        """Share of the delivered water that by-passes the resin too: a blend between it and the brush."""
        if self.resin is None:
            return 0.0
        behind = self.product[self.product.index(self.resin) :]
        return sum(part.share for part in behind if isinstance(part, Blend))

    @cached_property
    def blend_before_resin(self) -> float:
        """Share of by-passed water in what reaches the resin, or the tank and the brush where there is none."""
        return self.blend_share - self.blend_behind_resin

    @property
    def elements(self) -> tuple[Element, ...]:
        """All membrane elements, stage by stage."""
        return tuple(element for stage in self.stages for element in stage)
