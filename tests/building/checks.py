"""What must hold for any build sheet, each rule a function that yields a complaint for everything that breaks it.

The rules know the plant and the joints, not how the sheet is made: facts are counted again from the plant's parts.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import pytest

from rinsewright.building.bill import make_bill
from rinsewright.building.connections import DRAIN, TAP
from rinsewright.building.result import BuildSheet, Weights
from rinsewright.catalogue.loader import load_catalogue
from rinsewright.papers.places import PLACES
from rinsewright.plant.check import Check
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.treatment import Cartridge, Inhibitor, Softener, Solenoid
from rinsewright.plant.joints import KINDS, End, joint
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.membrane.restrictor import Flush, Restrictor
from rinsewright.plant.part import Part
from rinsewright.plant.product.line import Blend, DeliveryPump, Lift, ResinVessel, Tank
from rinsewright.plant.tube import Tube
from rinsewright.quantities import LITRE
from rinsewright.site.build import build_plant
from rinsewright.site.document import SiteDocument
from rinsewright.site.reading import read_text

STAGES = ("prepare", "tap", "feed", "membranes", "drain", "product", "power", "rinse", "finish")
KINDS_OF_ROW = {"part", "housing", "connection", "tube", "consumable", "forgotten", "extra"}
Complaints = Iterator[str]


@dataclass(frozen=True)
class Case:
    """A site file, its plant and the sheet that was made of it."""

    document: SiteDocument
    plant: Plant
    sheet: BuildSheet

    @classmethod
    def of(cls, text: str) -> Case:
        document = read_text(text, "yard.toml")
        plant = build_plant(document, load_catalogue())
        from rinsewright.building.sheet import make_build

        return cls(document, plant, make_build(document, plant))

    @classmethod
    def of_list(cls, text: str) -> Case:
        """The parts list and the joints alone, in a sheet without steps and weights."""
        document = read_text(text, "yard.toml")
        plant = build_plant(document, load_catalogue())
        bill = make_bill(document, plant)
        items, tools, way = bill.items, bill.tools, bill.way
        notes = tuple(f"No one fitting joins {fit.a} to {fit.b}." for fit in way.no_way)
        empty = Weights(0.0, 0.0, ())
        return cls(
            document,
            plant,
            BuildSheet("", "", "", "", plant, items, tools, way.fits, way.cuts, (), empty, (), (), notes),
        )

    @property
    def parts(self) -> tuple[Part, ...]:
        """Every part in the order of the water."""
        return (*self.plant.feed, *self.plant.elements, *self.plant.drain, *self.plant.product)

    def of_kind(self, *kinds: type) -> list[Any]:
        return [part for part in self.parts if isinstance(part, kinds)]

    @property
    def rows(self) -> dict[str, Any]:
        return {item.key: item for item in (*self.sheet.items, *self.sheet.tools)}

    @property
    def breaks(self) -> list[str]:
        """The names of the rules that are broken."""
        return [rule.__name__ for rule in RULES if any(True for _ in rule(self))]


# ---- the parts list ----


def every_row_once(case: Case) -> Complaints:
    rows = (*case.sheet.items, *case.sheet.tools)
    yield from (f"{key} stands {n} times" for key, n in Counter(row.key for row in rows).items() if n > 1)
    pieces = Counter((row.what, row.size) for row in rows if row.kind == "connection")
    yield from (f"{piece} stands {n} times" for piece, n in pieces.items() if n > 1)


def every_part_once(case: Case) -> Complaints:
    own = [row for row in case.sheet.items if row.kind in {"part", "tube"} and row.what != "float valve"]
    for part in case.parts:
        rows = [row for row in own if part.key in row.serves]
        if len(rows) != 1:
            yield f"{part.key}, {part.name}, has {len(rows)} rows"
    for row in own:
        vessels = sum(getattr(part, "vessels", 1) for part in case.parts if part.key in row.serves)
        if row.kind == "part" and row.quantity != vessels:
            yield f"{row.key}: {row.quantity:g} of it, and the plant has {vessels}"


def rows_are_whole(case: Case) -> Complaints:
    keys = {part.key for part in case.parts}
    for row in (*case.sheet.items, *case.sheet.tools):
        if row.kind not in KINDS_OF_ROW | {"tool"} or row.unit not in {"piece", "m", "L", "set"}:
            yield f"{row.key}: kind {row.kind}, unit {row.unit}"
        if not row.quantity > 0.0 or not row.what or row.origin not in {"site file", "derived", "assumed"}:
            yield f"{row.key}: {row.quantity} {row.what!r} {row.origin}"
        if not re.fullmatch(r"[A-Z0-9].*[.]", row.why):
            yield f"{row.key}: the why is no sentence: {row.why!r}"
        if row.needed == (row.kind == "extra"):
            yield f"{row.key}: needed {row.needed} as {row.kind}"
        if absent := set(row.serves) - keys:
            yield f"{row.key} serves {absent}, which the plant has not"
        if row.kind in {"part", "housing"} and not row.serves:
            yield f"{row.key} belongs to no part"


def consumables_follow(case: Case) -> Complaints:
    """As many housings, cartridges, litres of resin and elements as the plant has."""
    media = Counter(part.media for part in case.of_kind(Cartridge))
    wanted: Counter[str] = Counter({f"{name} cartridge": n for name, n in media.items()})
    wanted |= Counter({"cartridge housing": media.total(), "membrane housing": len(case.plant.elements)})
    wanted |= Counter({"softener": len(case.of_kind(Softener)), "drain restrictor": len(case.of_kind(Restrictor))})
    wanted |= Counter({"scale inhibitor": len(case.of_kind(Inhibitor))})
    wanted |= Counter({"float valve": sum(tank.float_valve for tank in case.of_kind(Tank))})
    needed = [row for row in case.sheet.items if row.needed]
    for what in {*wanted, "sediment cartridge", "carbon cartridge"}:
        if (found := sum(row.quantity for row in needed if row.what == what)) != wanted[what]:
            yield f"{found:g} of {what}, and the plant has {wanted[what]}"
    litres = sum(bed.volume / LITRE * bed.vessels for bed in case.of_kind(ResinVessel))
    if sum(row.quantity for row in needed if row.unit == "L" and "resin" in row.what) != pytest.approx(litres):
        yield f"resin for {litres:g} L is not in the list"


def _ends(case: Case) -> list[End]:
    """Every end to be made tight: those that meet, and the ends of the fittings between."""
    met = [end for fit in case.sheet.fits for end in (fit.a, fit.b)]
    fittings = [fit.joint.adapter or "" for fit in case.sheet.fits]
    words = [end for text in fittings if text.startswith("fitting: ") for end in text[9:].split(" to ")]
    return [*met, *map(End.parse, words)]


def forgotten_when_called_for(case: Case) -> Complaints:
    plant, ends = case.plant, _ends(case)
    taper = any(KINDS[end.kind].taper and end.gender == "male" for end in ends)
    face = any(KINDS[end.kind].seals_on == "face" and end.gender == "female" for end in ends)
    housings = bool(case.of_kind(Cartridge, Element))
    shutoff, membranes, tank, kind = plant.shutoff, bool(plant.elements), plant.tank, plant.supply.kind
    before = plant.product[: plant.product.index(shutoff)] if shutoff else ()
    wanted = {
        "tape": taper,
        "washers": face,
        "clips": any(end.kind == "push-fit" for end in ends),
        "hose_clips": any(end.kind == "tail" for end in ends),
        "grease": housings,
        "o_rings": housings,
        "gauge": True,
        "stop": True,
        "drain_gap": membranes,
        "bypass": membranes and bool(tank or plant.resin),
        "overflow": tank is not None,
        "outlet": tank is not None,
        "tank_gap": tank is not None,
        "vent": tank is not None and tank.vented,
        "relief": plant.pump is not None,
        "cut_out": plant.pump is not None and plant.pump.cut_out_pa is None,
        "dry_run": plant.pump is not None and plant.pump.min_inlet_pa is None,
        "rcd": bool(case.of_kind(Pump, Solenoid, DeliveryPump)),
        "check": shutoff is not None and not any(isinstance(part, Check) for part in before),
        "recirculation": plant.recirculation > 0.0,
        "salt": bool(case.of_kind(Softener)),
        "backflow": kind == "mains",
        "non_return": kind == "well",
        "inlet_gap": kind == "break-tank",
    }
    found = {key.removeprefix("also.").split()[0] for key in case.rows if key.startswith("also.")}
    for name, called_for in wanted.items():
        if (name in found) != called_for:
            yield f"{name} is {'missing' if called_for else 'in the list, and nothing calls for it'}"


# ---- the joints and the tube ----


def every_joint_is_judged(case: Case) -> Complaints:
    """Neighbours meet, everything hangs together, and each verdict is that of the joint's own rules."""
    met = {frozenset(fit.at) for fit in case.sheet.fits}
    if any(fit.joint != joint(fit.a, fit.b) for fit in case.sheet.fits):
        yield "a joint is judged otherwise than by its rules"
    for line in (case.plant.feed, case.plant.drain, case.plant.product):
        if any(isinstance(part, Flush) for part in line):  # side by side with the restrictor, between tees
            continue
        keys = [part.key for part in line if part.key not in _risen(case)]
        yield from (f"{a} and {b} are not joined" for a, b in pairwise(keys) if b not in _reached(met, a, "also."))
    inside = {f"{part.key}.housing" for part in case.of_kind(Cartridge, Element)}
    wanted = {part.key for part in case.parts} - _risen(case) | ({DRAIN} if case.plant.elements else set())
    drain_tube = case.plant.drain and isinstance(case.plant.drain[-1], Tube)
    yield from (f"{key} is not joined to the tap" for key in wanted - _reached(met) if key != DRAIN or not drain_tube)
    for element in case.plant.elements:
        ports = sum(element.key in fit.at and not inside & set(fit.at) for fit in case.sheet.fits)
        if ports < 3:
            yield f"{element.key} has {ports} joints, and three ports"


def _risen(case: Case) -> set[str]:
    """Heights that a tube beside them rises."""
    return {
        part.key
        for line in (case.plant.feed, case.plant.drain, case.plant.product)
        for at, part in enumerate(line)
        if isinstance(part, Lift) and any(isinstance(beside, Tube) for beside in line[max(0, at - 1) : at + 2])
    }


def _reached(met: set[frozenset[str]], start: str = TAP, through: str = "") -> set[str]:
    """What hangs together with ``start``, on the way through parts whose key begins with ``through``."""
    beside: dict[str, set[str]] = defaultdict(set)
    for pair in met:
        for key in pair:
            beside[key] |= pair
    reached, front = {start}, {start}
    while front:
        ways = {at for at in front if at == start or at.startswith(through)}
        front = {key for at in ways for key in beside[at]} - reached
        reached |= front
    return reached


ON_THE_WAY = (
    *("stop", "backflow", "non_return", "dry_run", "relief", "cut_out", "gauge", "restrictor", "recirculation"),
    *("check", "bypass", "outlet"),
)


def what_is_added_is_joined(case: Case) -> Complaints:
    """What the water passes and the site file leaves out has a row, and as many joints as it has ways."""
    tank = case.plant.tank
    ways = {f"also.{name}": 2 for name in ON_THE_WAY if f"also.{name}" in case.rows}
    ways |= {"also.bypass": 3} if "also.bypass" in ways else {}
    ways |= {"also.tank_gap": 2} if tank and tank.inlet == "bottom" else {}
    ways |= {"also.outlet": 1} if case.parts[-1] is tank else {}
    met = Counter(key for pair in {fit.at for fit in case.sheet.fits} for key in pair if key.startswith("also."))
    for key in {*ways, *met}:
        if met[key] != ways.get(key, 0):
            yield f"{key} has {met[key]} joints, and {ways.get(key, 0)} ways"
        if key not in case.rows or case.rows[key].origin != "assumed" or not case.rows[key].size:
            yield f"{key} is joined, and its ends are not said to be taken"


def every_misfit_is_answered(case: Case) -> Complaints:
    adapters = Counter(fit.joint.adapter for fit in case.sheet.fits if not fit.joint.fits)
    listed = Counter({row.key: row.quantity for row in case.sheet.items if row.key.startswith("fitting: ")})
    for adapter, many in adapters.items():
        if adapter and adapter.startswith("fitting: ") and listed.pop(adapter, 0) != many:
            yield f"{many} of {adapter} are needed"
        if adapter is None and not any("No one fitting" in note for note in case.sheet.notes):
            yield "a joint that nothing makes fit is not in the notes"
        if (
            adapter
            and adapter.startswith("piece of ")
            and not any(row.kind == "tube" and row.size in adapter for row in case.sheet.items)
        ):
            yield f"{adapter} is not in the list"
    yield from (f"nothing calls for {key}" for key in listed)


def tube_is_enough(case: Case) -> Complaints:
    """As much tube as is cut, of every size, and not half as much again plus a few metres."""
    cut: Counter[str] = Counter()
    for piece in case.sheet.cuts:
        cut[piece.size] += piece.length_m * piece.count  # type: ignore[assignment]
    bought: Counter[str] = Counter()
    for row in case.sheet.items:
        if row.kind == "tube":
            bought[f"hose {row.size}" if row.what == "hose" else row.size] += row.quantity  # type: ignore[assignment]
    for size in cut | bought:
        if not cut[size] <= bought[size] + 1e-9 <= 1.5 * cut[size] + 5.0:
            yield f"{size}: {cut[size]:g} m are cut from {bought[size]:g} m"


# ---- the steps ----

WORDS: dict[str, Callable[[Case], bool]] = {
    r"cartridges?": lambda case: bool(case.of_kind(Cartridge)),
    r"carbon": lambda case: any(part.media == "carbon" for part in case.of_kind(Cartridge)),
    r"sediment": lambda case: any(part.media == "sediment" for part in case.of_kind(Cartridge)),
    r"booster": lambda case: case.plant.pump is not None,
    r"pumps?": lambda case: bool(case.of_kind(Pump, DeliveryPump)),
    r"delivery": lambda case: bool(case.of_kind(DeliveryPump)),
    r"softener": lambda case: bool(case.of_kind(Softener)),
    r"inhibitor|doser": lambda case: bool(case.of_kind(Inhibitor)),
    r"solenoid|electric valve": lambda case: bool(case.of_kind(Solenoid)),
    r"membranes?|elements?|preservative|brine": lambda case: bool(case.plant.elements),
    r"restrictor": lambda case: bool(case.plant.elements),
    r"flush valve": lambda case: bool(case.of_kind(Flush)),
    r"shut-off valve|automatic shut-off": lambda case: case.plant.shutoff is not None,
    r"resin|beads": lambda case: case.plant.resin is not None,
    r"lag": lambda case: any(bed.vessels > 1 for bed in case.of_kind(ResinVessel)),
    r"float valve|float": lambda case: any(tank.float_valve for tank in case.of_kind(Tank)),
    r"product tank|overflow": lambda case: case.plant.tank is not None or case.plant.supply.kind == "break-tank",
    r"break tank": lambda case: case.plant.supply.kind == "break-tank",
    r"blend(ing)?": lambda case: bool(case.of_kind(Blend)),
    r"recirculat\w+": lambda case: case.plant.recirculation > 0.0,
    r"vans?": lambda case: bool(case.document.model.demand and case.document.model.demand.vans),
    r"in series": lambda case: len(case.plant.stages) > 1,
    r"side by side": lambda case: (
        any(len(stage) > 1 for stage in case.plant.stages) or any(isinstance(part, Flush) for part in case.plant.drain)
    ),
}
DRAWN: dict[str, Callable[[Case], bool]] = {
    "cartridge": WORDS["cartridges?"],
    "membrane-in": WORDS[r"restrictor"],
    "element-series": WORDS["in series"],
    "element-parallel": lambda case: any(len(stage) > 1 for stage in case.plant.stages),
    "drain-gap": WORDS["restrictor"],
    "shutoff": lambda case: case.plant.shutoff is not None,
    "resin": WORDS["resin|beads"],
    "tank": lambda case: case.plant.tank is not None or case.plant.supply.kind == "break-tank",
    "pump": WORDS["pumps?"],
    "bypass": WORDS["restrictor"],
    "bring-in": WORDS["restrictor"],
    "rinse": WORDS["restrictor"],
    "return": WORDS[r"recirculat\w+"],
    "power": lambda case: bool(case.of_kind(Pump, DeliveryPump, Solenoid)),
    "delivery": WORDS["delivery"],
    "softener": WORDS["softener"],
    "inhibitor": WORDS["inhibitor|doser"],
    "solenoid": WORDS["solenoid|electric valve"],
    "restrictor": WORDS["restrictor"],
    "flush": lambda case: bool(case.of_kind(Flush)),
    "lift": lambda case: bool(case.of_kind(Lift)),
    "blend": lambda case: bool(case.of_kind(Blend)),
    "van": WORDS["vans?"],
}


def steps_are_whole(case: Case) -> Complaints:
    for n, step in enumerate(case.sheet.steps, 1):
        if step.stage not in STAGES or step.drawing not in PLACES:
            yield f"step {n}: {step.stage}, {step.drawing}"
        if not all((step.title, step.why, step.do, step.check)):
            yield f"step {n} has no title, why, do or check"
        if absent := set(step.items) - set(case.rows):
            yield f"step {n} uses {absent}, not in the list"


def no_step_for_what_is_absent(case: Case) -> Complaints:
    keys = {part.key for part in case.parts}
    for n, step in enumerate(case.sheet.steps, 1):
        if absent := set(step.parts) - keys:
            yield f"step {n} is about {absent}"
        if step.drawing in DRAWN and not DRAWN[step.drawing](case):
            yield f"step {n} draws {step.drawing}"
        words = " ".join((step.title, step.do, step.check)).lower()
        for word, present in WORDS.items():
            if re.search(rf"\b({word})\b", words) and not present(case):
                yield f"step {n} speaks of {word}: {words}"
        if step.stage in {"membranes", "drain"} and not case.plant.elements:
            yield f"step {n} is at the {step.stage}"


def every_part_has_a_step(case: Case) -> Complaints:
    built = {key for step in case.sheet.steps for key in step.parts}
    yield from (f"{part.key}, {part.name}, has no step" for part in case.parts if part.key not in built)


def steps_follow_the_water(case: Case) -> Complaints:
    order = [STAGES.index(step.stage) for step in case.sheet.steps if step.stage in STAGES]
    yield from (f"{STAGES[a]} before {STAGES[b]}" for a, b in pairwise(order) if a > b)
    present = {step.stage for step in case.sheet.steps}
    wanted = {"prepare", "tap", "rinse", "finish", *(["membranes", "drain"] if case.plant.elements else [])}
    yield from (f"no step of the stage {stage}" for stage in wanted - present)
    lines = {"feed": case.plant.feed, "membranes": case.plant.elements, "drain": case.plant.drain}
    for stage, line in {**lines, "product": case.plant.product}.items():
        steps = [step for step in case.sheet.steps if step.stage == stage]
        first = {part.key: n for part in line for n, step in reversed([*enumerate(steps)]) if part.key in step.parts}
        own = [first[part.key] for part in line if part.key in first and not isinstance(part, Lift | Flush)]
        if own != sorted(own):
            yield f"the parts of the {stage} are built out of their order: {own}"


def elements_have_steps_of_their_own(case: Case) -> Complaints:
    """Elements in series are not put in all in one step, and each is put in once."""
    put_in = Counter(key for step in case.sheet.steps if step.drawing == "membrane-in" for key in step.parts)
    for element in case.plant.elements:
        if put_in[element.key] != 1:
            yield f"{element.key} is put in {put_in[element.key]} times"
    if len(case.plant.stages) > 1 and not any(step.drawing == "element-series" for step in case.sheet.steps):
        yield "no step joins the stages"


# ---- weights and vans ----


def weights_add_up(case: Case) -> Complaints:
    weights = case.sheet.weights
    for said, rows in ((weights.dry_kg, "dry_kg"), (weights.full_kg, "full_kg")):
        if said != pytest.approx(total := sum(getattr(row, rows) for row in weights.rows), rel=1e-6):
            yield f"{rows} is {said:g}, and its rows {total:g}"
    yield from (f"{row.what} is lighter full than dry" for row in weights.rows if row.full_kg < row.dry_kg)
    if not 0.0 < weights.dry_kg < weights.full_kg:
        yield f"{weights.dry_kg:g} kg dry, {weights.full_kg:g} kg full"
    tank = sum(tank.volume / LITRE for tank in case.of_kind(Tank))
    rest = 2.0 * sum(bed.vessels * bed.volume / LITRE for bed in case.of_kind(ResinVessel)) + 15.0 * len(case.parts)
    if not 0.98 * tank <= (water := weights.full_kg - weights.dry_kg) <= 1.02 * tank + rest:
        yield f"{water:g} kg of water, and a tank of {tank:g} L"


def vans_add_up(case: Case) -> Complaints:
    demand = case.document.model.demand
    vans = demand.vans if demand else []
    if [van.name for van in vans] != [load.name for load in case.sheet.vans]:
        yield "the vans are not those of the site file"
    for van, load in zip(vans, case.sheet.vans, strict=False):
        if load.tank_kg != pytest.approx(van.tank_litres, rel=0.01):
            yield f"{van.name}: {load.tank_kg:g} kg for {van.tank_litres:g} L"
        known = van.kit_kg is not None and van.payload_kg is not None
        if known and van.payload_kg is not None and van.kit_kg is not None:
            left = van.payload_kg - van.kit_kg - load.tank_kg
            if load.left_kg != pytest.approx(left, abs=1.0):
                yield f"{van.name}: {load.left_kg} kg left, not {left:g}"
            if (load.verdict == "stop") != (left < 0.0):
                yield f"{van.name}: {load.verdict} with {left:g} kg left"
        elif load.left_kg is not None:
            yield f"{van.name}: {load.left_kg:g} kg left of what is not known"
        if load.verdict not in {"fine", "look", "stop"} or not load.why:
            yield f"{van.name}: {load.verdict}, {load.why!r}"


# ---- the kit and what is ordered ----


def kit_adds_up(case: Case) -> Complaints:
    kit, rows = case.document.model.kit, (*case.sheet.items, *case.sheet.tools)
    if kit is None:
        yield from (f"{row.key} is said of a kit that is not there" for row in rows if row.kit_quantity is not None)
        yield from (f"{row.key} is extra to no kit" for row in rows if row.kind == "extra")
        return
    packed = sum(entry.quantity or 1.0 for entry in kit)
    if sum(row.kit_quantity or 0.0 for row in rows) != pytest.approx(packed):
        yield f"{packed:g} things are in the boxes, and not in the list"
    for row in rows:
        if row.kit_quantity is None:
            yield f"{row.key}: nothing is said of the kit"
        elif row.needed and row.missing != pytest.approx(max(0.0, row.quantity - row.kit_quantity)):
            yield f"{row.key}: {row.missing:g} missing"
        elif row.needed and row.in_kit != (row.missing <= 1e-9):
            yield f"{row.key}: in the kit {row.in_kit}, missing {row.missing:g}"
    for entry in kit:
        if entry.what in {"taste filter", "mineral cartridge", "garden gnome"} and not any(
            row.kind == "extra" and row.what == entry.what for row in rows
        ):
            yield f"{entry.what} is not said to be extra"


def order_is_what_is_missing(case: Case) -> Complaints:
    ordered = Counter((row["what"], row["size"], row["missing"]) for row in case.sheet.answer()["order"])
    missing = Counter((row.what, row.size, row.missing) for row in case.sheet.items if row.missing > 0.0)
    yield from (f"{row} is not ordered" for row in missing - ordered)
    yield from (f"{row} is ordered in vain" for row in ordered - missing)


# ---- the answer ----

TEXT, NUMBER, YES = (str,), (int, float), (bool,)
NONE = type(None)
KEYS: dict[str, dict[str, tuple[type, ...]]] = {
    "parts": {
        "what": TEXT,
        "size": TEXT,
        "quantity": NUMBER,
        "unit": TEXT,
        "in_kit": (bool, NONE),
        "needed": YES,
        "price": (int, float, NONE),
        "lead_days": (int, float, NONE),
        "missing": NUMBER,
    },
    "joints": {"from": TEXT, "to": TEXT, "fits": YES, "adapter": (str, NONE), "why": TEXT, "line": TEXT},
    "steps": dict.fromkeys(("title", "why", "do", "check", "caution", "stage"), TEXT) | {"parts": (list,)},
    "vans": {"name": TEXT, "tank_kg": NUMBER, "left_kg": (int, float, NONE), "verdict": TEXT},
    "notes": {},
    "cautions": {},
    "order": {"what": TEXT, "missing": NUMBER},
}


def the_answer_keeps_the_contract(case: Case) -> Complaints:
    answer = case.sheet.answer()
    for key in ("weight_dry_kg", "weight_full_kg"):
        if type(answer.get(key)) not in NUMBER:
            yield f"{key} is {answer.get(key)!r}"
    for name, keys in KEYS.items():
        if type(answer.get(name)) is not list:
            yield f"{name} is no list"
            continue
        for row in answer[name]:
            yield from (
                f"{name}: {key} is {row.get(key, 'missing')!r}"
                for key, types in keys.items()
                if key not in row or type(row[key]) not in types
            )
    for name in ("schema", "program", "phreeqc", "data"):
        if name not in answer:
            yield f"{name} is missing"


LIST_RULES: tuple[Callable[[Case], Complaints], ...] = (
    every_row_once,
    every_part_once,
    rows_are_whole,
    consumables_follow,
    forgotten_when_called_for,
    every_joint_is_judged,
    what_is_added_is_joined,
    every_misfit_is_answered,
    tube_is_enough,
    kit_adds_up,
    order_is_what_is_missing,
    the_answer_keeps_the_contract,
)
SHEET_RULES: tuple[Callable[[Case], Complaints], ...] = (
    steps_are_whole,
    no_step_for_what_is_absent,
    every_part_has_a_step,
    steps_follow_the_water,
    elements_have_steps_of_their_own,
    weights_add_up,
    vans_add_up,
)
RULES = (*LIST_RULES, *SHEET_RULES)
