"""At which step each joint of the water's way is made: as soon as both of its parts stand in their places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rinsewright.building.connections import BUCKET, DRAIN, TAP
from rinsewright.building.result import Fit, Step

WATERLESS = ("tap", "feed", "membranes", "drain", "product")  # the stages in which the water's way is put together
JOINS = ("element-series", "element-parallel")


def with_joints(steps: Sequence[Step], fits: Sequence[Fit]) -> tuple[Step, ...]:
    """The same steps, each with the joints that are made in it; every joint stands in one step.

    What the site file leaves out stands where its row of the parts list is first used.
    """
    left, placed, out = list(fits), {TAP, BUCKET}, []
    joined_later = any(step.drawing in JOINS for step in steps)
    last = max((place for place, step in enumerate(steps) if step.stage in WATERLESS), default=0)
    for place, step in enumerate(steps):
        made: list[Fit] = []
        if step.stage in WATERLESS:
            placed |= {*step.parts, *step.items, *([DRAIN] if step.drawing == "drain-gap" else ())}
            waits = joined_later and step.drawing not in JOINS
            made = [fit for fit in left if place == last or (_ends(fit) <= placed and not (waits and _between(fit)))]
            left = [fit for fit in left if fit not in made]
        out.append(replace(step, joints=tuple(made)))
    return tuple(out)


def _ends(fit: Fit) -> set[str]:
    return {key.removesuffix(".housing") for key in fit.at}


def _between(fit: Fit) -> bool:
    """Whether it is one of the joints by which membranes are joined to each other."""
    return all(key.startswith("plant.membranes[") and not key.endswith(".housing") for key in fit.at)
