"""What the plant weighs, dry and full of water, and what a full tank leaves of a van's payload."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from rinsewright.building.connections import nominal
from rinsewright.building.result import Item, VanLoad, WeightRow, Weights
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.treatment import Cartridge, Inhibitor, Softener
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.part import Part
from rinsewright.plant.product.line import DeliveryPump, Lift, ResinVessel, Tank
from rinsewright.plant.tube import Tube
from rinsewright.quantities import LITRE
from rinsewright.site.document import SiteDocument
from rinsewright.site.schema import Van
from rinsewright.sources import Sourced


def _assumed(value: float, unit: str, what: str) -> Sourced:
    return Sourced(value, unit, "30 %", "plants of this size", f"assumed: {what}; weigh your own", "assumed")


WATER = Sourced(1000.0, "kg/m3", "0.5 %", "0–30 °C, round value", "density of water", "from memory")
RESIN = Sourced(760.0, "kg/m3", "10 %", "mixed bed, wet and drained", "bulk density of mixed-bed resin", "from memory")
RESIN_VOIDS = Sourced(0.35, "", "0.05", "packed beds of beads", "share of a bed between its beads", "from memory")
TUBE = Sourced(950.0, "kg/m3", "5 %", "polyethylene", "density of polyethylene", "from memory")
TUBE_WALL = _assumed(0.25, "of the bore", "wall of a pressure tube")
CARTRIDGE = _assumed(1.5, "kg", "cartridge with its housing, 10 in slim")
CARTRIDGE_WATER = _assumed(1.0, "L", "water in a 10 in slim housing")
ELEMENT = _assumed(0.6, "kg/m2 of membrane", "element with its housing")
ELEMENT_WATER = _assumed(0.9, "L/m2 of membrane", "water in an element and its housing")
VESSEL = _assumed(0.25, "kg/L of resin", "empty resin vessel")
TANK = _assumed(0.04, "kg/L", "empty plastic tank")
PUMP = _assumed(6.0, "kg", "pump with motor")
SOFTENER = _assumed(25.0, "kg", "softener with its resin, without salt")
SOFTENER_WATER = _assumed(20.0, "L", "water in a softener")
DOSER = _assumed(2.0, "kg", "doser with its first filling")
SMALL = _assumed(0.3, "kg", "valve or other small part")
FITTING = _assumed(0.05, "kg", "push-fit fitting")
TIGHT = 0.10  # of the payload: with less left, look (assumed; driver and fuel are easily misjudged)


def weigh(plant: Plant, items: Sequence[Item]) -> Weights:
    """The weight of a plant [kg], row by row: the water from its volumes, the parts by assumed or remembered masses."""
    rows = tuple(_rows(plant, items))
    return Weights(sum(row.dry_kg for row in rows), sum(row.full_kg for row in rows), rows)


def _rows(plant: Plant, items: Sequence[Item]) -> Iterator[WeightRow]:
    for part in (*plant.feed, *plant.elements, *plant.drain, *plant.product):
        if isinstance(part, Lift):  # a height weighs nothing
            continue
        weight = next((law for kind, law in LAWS.items() if isinstance(part, kind)), _small)
        yield weight(part)
    joints = sum(item.quantity for item in items if item.kind == "connection" and item.unit == "piece")
    if joints:
        kilos = FITTING.value * joints
        yield WeightRow("fittings, tees and clips", kilos, kilos, "assumed")


def _row(part: Part, dry: float, water_m3: float, origin: str = "assumed", size: str = "") -> WeightRow:
    return WeightRow(f"{part.name or part.key} {size}".strip(), dry, dry + WATER.value * water_m3, origin)


def _small(part: Part) -> WeightRow:
    return _row(part, SMALL.value, 0.0)


def _tube(part: Tube) -> WeightRow:
    """The water in the bore, π/4·d²·l, and a round wall of polyethylene about it."""
    wall = TUBE_WALL.value * part.bore
    plastic = math.pi * (part.bore + wall) * wall * part.length
    return _row(part, TUBE.value * plastic, math.pi / 4.0 * part.bore**2 * part.length)


def _cartridge(part: Cartridge) -> WeightRow:
    return _row(part, CARTRIDGE.value, CARTRIDGE_WATER.value * LITRE)


def _element(part: Element) -> WeightRow:
    return _row(part, ELEMENT.value * part.area, ELEMENT_WATER.value * part.area * LITRE, size=nominal(part))


def _resin(part: ResinVessel) -> WeightRow:
    """The bed weighs wet and drained as remembered; full, the water between the beads comes on top."""
    volume = part.volume * part.vessels
    dry = RESIN.value * volume + VESSEL.value * volume / LITRE
    return _row(part, dry, RESIN_VOIDS.value * volume, "from memory")


def _tank(part: Tank) -> WeightRow:
    return _row(part, TANK.value * part.volume / LITRE, part.volume)


def _pump(part: Part) -> WeightRow:
    return _row(part, PUMP.value, 0.0)


def _softener(part: Part) -> WeightRow:
    return _row(part, SOFTENER.value, SOFTENER_WATER.value * LITRE)


def _doser(part: Part) -> WeightRow:
    return _row(part, DOSER.value, 0.0)


LAWS: dict[type[Part], Callable[..., WeightRow]] = {
    Tube: _tube,
    Cartridge: _cartridge,
    Element: _element,
    ResinVessel: _resin,
    Tank: _tank,
    Pump: _pump,
    DeliveryPump: _pump,
    Softener: _softener,
    Inhibitor: _doser,
}


def van_loads(document: SiteDocument) -> tuple[VanLoad, ...]:
    """Each van of the site with its tank full, against its payload."""
    demand = document.model.demand
    return tuple(_load(van) for van in (demand.vans if demand else ()))


def _load(van: Van) -> VanLoad:
    tank = WATER.value * van.tank_litres * LITRE
    load = None if van.kit_kg is None else tank + van.kit_kg
    left = None if load is None or van.payload_kg is None else van.payload_kg - load
    verdict, why, do = _judged(tank, load, left, van.payload_kg)
    return VanLoad(van.name, tank, van.kit_kg, van.payload_kg, load, left, verdict, why, do)


def _judged(tank: float, load: float | None, left: float | None, payload: float | None) -> tuple[str, str, str]:
    weigh = "Weigh the van with a full tank, all the kit and whoever rides in it, each axle too; local law decides."
    if payload is None:
        return "look", f"The full tank holds {tank:.0f} kg of water; the payload is not known.", weigh
    if tank > payload or (left is not None and left < 0.0):
        over = (tank if load is None else load) - payload
        lighter = f"Do not drive it so: fill at least {over:.0f} L less, or carry less. {weigh}"
        return "stop", f"The load is {over:.0f} kg over the payload of {payload:.0f} kg.", lighter
    if left is None:
        return "look", f"Of {payload:.0f} kg the water takes {tank:.0f} kg; the kit's weight is not known.", weigh
    if left < TIGHT * payload:
        return "look", f"Only {left:.0f} kg of {payload:.0f} kg are left for people and all else.", weigh
    restrained = "Have the tank restrained to survive a crash, with baffles; keep to the axle limits."
    return "fine", f"{left:.0f} kg of {payload:.0f} kg are left for people and all else.", restrained
