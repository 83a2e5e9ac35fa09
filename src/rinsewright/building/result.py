"""What a build sheet holds: the parts list, the joints, the cuts, the steps and the weights, as plain data."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from rinsewright.planning.versions import stamped
from rinsewright.plant.joints import End, Joint
from rinsewright.plant.layout import Plant


@dataclass(frozen=True)
class Item:
    """One row of the parts list: one article, however many parts of the plant it serves.

    ``key`` is unique and the article's own ("membrane element: 4040", "tube: 12 mm", "also.grease"), so that a row
    ticked off stays ticked where parts are added or change places, and no other article gets its tick. ``kind`` is
    "part", "housing", "connection", "tube", "consumable", "forgotten", "tool" or "extra"; only an extra of a kit is not
    ``needed``. ``quantity`` is what the plant needs, for an extra what is in the kit, in ``unit`` ("piece", "m", "L" or
    "set"). ``kit_quantity`` is None where no kit is described. ``price`` is that of one, or of one metre or litre.
    ``origin`` is "site file", "derived" or "assumed"; ``serves`` are the keys of the plant's parts that it belongs to.
    """

    key: str
    what: str
    size: str
    quantity: float
    unit: str
    kind: str
    why: str
    needed: bool
    kit_quantity: float | None
    price: float | None
    lead_days: float | None
    origin: str
    serves: tuple[str, ...] = ()

    @property
    def missing(self) -> float:
        """What is still to be bought; nothing of an extra."""
        if not self.needed:
            return 0.0
        return max(0.0, self.quantity - (self.kit_quantity or 0.0))

    @property
    def in_kit(self) -> bool | None:
        """Whether the kit holds all that is needed of it; None where no kit is described."""
        if self.kit_quantity is None:
            return None
        return self.kit_quantity > 0.0 and self.kit_quantity >= self.quantity - 1e-9


@dataclass(frozen=True)
class Fit:
    """One joint on the water's way: between which parts, on which line, the two ends and whether they go together.

    ``line`` is "feed", "membranes", "drain" or "product".
    """

    at: tuple[str, str]
    line: str
    a: End
    b: End
    joint: Joint


@dataclass(frozen=True)
class Cut:
    """``count`` pieces of tube of one length [m]: ``where`` in words; ``assumed`` where no length is given."""

    line: str
    size: str
    length_m: float
    count: int
    where: str
    assumed: bool


@dataclass(frozen=True)
class Want:
    """So much of a row of the parts list, in the row's unit; of tube the length that is laid."""

    key: str
    quantity: float


@dataclass(frozen=True)
class Step:
    """One step of the work. ``parts`` are keys of the plant, ``wants`` what is used of the list; caution "" for none.

    ``stage`` is "prepare", "tap", "feed", "membranes", "drain", "product", "power", "rinse" or "finish"; ``drawing``
    names the drawing of the place. ``joints`` are those that are made in it.
    """

    title: str
    why: str
    do: str
    check: str
    caution: str
    stage: str
    drawing: str
    parts: tuple[str, ...]
    wants: tuple[Want, ...]
    joints: tuple[Fit, ...] = ()

    @property
    def items(self) -> tuple[str, ...]:
        """Keys of the parts list that it uses."""
        return tuple(want.key for want in self.wants)

    @property
    def adapters(self) -> dict[str, int]:
        """What goes here between ends that do not fit each other, and how many of it."""
        return dict(Counter(fit.joint.adapter for fit in self.joints if fit.joint.adapter))


@dataclass(frozen=True)
class VanLoad:
    """A van with its tank full: weights [kg], what is left of its payload, and what follows from it."""

    name: str
    tank_kg: float
    kit_kg: float | None
    payload_kg: float | None
    load_kg: float | None
    left_kg: float | None
    verdict: str
    why: str
    do: str


@dataclass(frozen=True)
class WeightRow:
    """One row of the weights [kg], dry and full of water."""

    what: str
    dry_kg: float
    full_kg: float
    origin: str


@dataclass(frozen=True)
class Weights:
    """The plant's weight [kg], dry and full of water, row by row."""

    dry_kg: float
    full_kg: float
    rows: tuple[WeightRow, ...]


@dataclass(frozen=True)
class BuildSheet:
    """All that is needed to build one plant. ``items`` are the parts list, ``tools`` the items of kind "tool"."""

    site_name: str
    planned_on: str
    country: str
    currency: str
    plant: Plant
    items: tuple[Item, ...]
    tools: tuple[Item, ...]
    fits: tuple[Fit, ...]
    cuts: tuple[Cut, ...]
    steps: tuple[Step, ...]
    weights: Weights
    vans: tuple[VanLoad, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def order(self) -> tuple[Item, ...]:
        """What is still to be bought."""
        return tuple(item for item in self.items if item.missing > 0.0)

    def answer(self) -> dict[str, Any]:
        """The contract's ``build`` object."""
        return stamped(
            {
                "parts": [_row(item) for item in self.items],
                "joints": [_joint(fit) for fit in self.fits],
                "steps": [_step(step) for step in self.steps],
                "weight_dry_kg": self.weights.dry_kg,
                "weight_full_kg": self.weights.full_kg,
                "vans": [vars(van) for van in self.vans],
                "tools": [{"what": tool.what, "size": tool.size, "why": tool.why} for tool in self.tools],
                "cuts": [vars(cut) for cut in self.cuts],
                "order": [
                    {key: row[key] for key in ("what", "size", "missing", "unit", "price", "lead_days")}
                    for row in map(_row, self.order)
                ],
                "cautions": list(self.cautions),
                "notes": list(self.notes),
            }
        )

    def text(self) -> str:
        """The build sheet for a terminal."""
        from rinsewright.building.wording import build_text

        return build_text(self)

    def __getitem__(self, key: str) -> Any:
        """A part of the answer: ``site.build()["parts"]``."""
        return self.answer()[key]


def _row(item: Item) -> dict[str, Any]:
    keys = ("key", "what", "size", "quantity", "unit", "kind", "why", "needed")
    more = ("kit_quantity", "price", "lead_days", "origin")
    row = {key: getattr(item, key) for key in (*keys, *more)}
    return {**row, "in_kit": item.in_kit, "missing": item.missing, "serves": list(item.serves)}


def _joint(fit: Fit) -> dict[str, Any]:
    return {
        "from": str(fit.a),
        "to": str(fit.b),
        "fits": fit.joint.fits,
        "adapter": fit.joint.adapter,
        "why": fit.joint.why,
        "line": fit.line,
        "between": list(fit.at),
    }


def _step(step: Step) -> dict[str, Any]:
    row = {key: getattr(step, key) for key in ("title", "why", "do", "check", "caution", "stage", "drawing")}
    fittings = [{"adapter": adapter, "count": count} for adapter, count in step.adapters.items()]
    wants = {"items": list(step.items), "quantities": [want.quantity for want in step.wants]}
    return {**row, "parts": list(step.parts), **wants, "fittings": fittings}
