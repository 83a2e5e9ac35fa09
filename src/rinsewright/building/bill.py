"""The parts list: what stands in the site file, what holds and joins it, what is used up, and what people forget.

Every part of the plant is one use under its own key, but a height that a neighbouring tube rises has that tube's. What
belongs to a part (a housing, the first resin, a float valve) is a use beside it; fittings and links are counted from
the connections. Alike uses are one row of the list: they are bought together. What is forgotten and which tools are
wanted is common practice, no source.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from hashlib import blake2s

from rinsewright.building.connections import Connections, cartridge_size, connect, nominal
from rinsewright.building.kit import packed
from rinsewright.building.result import Item, Step, Want
from rinsewright.plant.check import Check
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.treatment import Cartridge, Inhibitor, Softener, Solenoid
from rinsewright.plant.joints import KINDS, THREADS, End
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.membrane.restrictor import Restrictor
from rinsewright.plant.part import Part
from rinsewright.plant.product.line import Blend, DeliveryPump, Lift, ResinVessel, ShutOff, Tank
from rinsewright.plant.tube import Tube
from rinsewright.quantities import L_MIN, LITRE
from rinsewright.site.document import SiteDocument

CUTTING = 0.10  # share of tube lost to square cuts, bends and second tries (common practice, no source)
SOLD_BY = 0.5  # m, tube is bought in halves of a metre (assumed)
TAPE_ROLL = 20  # taper joints to one roll of tape (assumed)
SPARE_FITTINGS = 20  # fittings to one spare (assumed)


@dataclass(frozen=True)
class Bill:
    """What is bought, and what for. ``items`` is the parts list, one row for each article, ``tools`` those of its kind.

    ``uses`` are the same, tools too, part by part before alike ones are put together; of tube each has the length that
    is laid. ``article`` maps the key of a use to that of its row.
    """

    items: tuple[Item, ...]
    tools: tuple[Item, ...]
    way: Connections
    uses: tuple[Item, ...]
    article: dict[str, str]

    def by_article(self, step: Step) -> Step:
        """A step that names uses, naming the rows of the list instead, alike ones counted together."""
        wanted: dict[str, float] = {}
        for want in step.wants:
            key = self.article[want.key]
            wanted[key] = wanted.get(key, 0.0) + want.quantity
        return replace(step, wants=tuple(Want(key, round(quantity, 6)) for key, quantity in wanted.items()))


def make_bill(document: SiteDocument, plant: Plant) -> Bill:
    """The parts list, the tools, and the connections they come from; the kit's content and its extras entered."""
    way = connect(document, plant)
    rows = _Rows(document, plant, way)
    uses = (*rows.parts(), *rows.connections(), *rows.forgotten(), *rows.tools())
    articles = _articles(uses, plant)
    items = packed([_bought(key, alike) for key, alike in articles.items()], document.model.kit)
    return Bill(
        items=tuple(item for item in items if item.kind != "tool"),
        tools=tuple(item for item in items if item.kind == "tool"),
        way=way,
        uses=uses,
        article={use.key: key for key, alike in articles.items() for use in alike},
    )


@dataclass(frozen=True)
class _Rows:
    """The rows of one plant's list, in the order of the water."""

    document: SiteDocument
    plant: Plant
    way: Connections

    # ---- the plant's own parts ----

    def parts(self) -> Iterator[Item]:
        """One row for each part of the plant, and what belongs to it."""
        for part in (part for line in _lines(self.plant) for part in line):
            if part.key not in self.way.covered:
                yield from self._part(part)

    def _part(self, part: Part) -> Iterator[Item]:
        prices = self.document.model.prices
        if isinstance(part, Tube | Lift):
            yield self._tube(part)
        elif isinstance(part, Cartridge):
            size, assumed = cartridge_size(self.document, part)
            price = {"sediment": prices.sediment_cartridge, "carbon": prices.carbon_cartridge}[part.media]
            yield _of(part, size, "The first one is in use from the first day.", price, assumed=assumed)
            yield _belongs(part, "housing", "cartridge housing", size, "housing", "It holds the cartridge.")
        elif isinstance(part, Element):
            digits = nominal(part)
            yield _of(part, digits, "It makes the product.", prices.membrane)
            yield _belongs(
                part,
                "housing",
                "membrane housing",
                digits,
                "housing",
                "It holds one element, with both end caps and their O-rings.",
                assumed=True,
            )
        elif isinstance(part, ResinVessel):
            yield from self._resin(part)
        elif isinstance(part, Tank):
            yield from self._tank(part)
        else:
            yield _of(part, _size(part, self.way), _WHY.get(type(part), "It stands in the site file."))
            yield from _used_up(part)

    def _tube(self, part: Tube | Lift) -> Item:
        end, length = self.way.tubes[part.key]
        risen = tuple(lift for lift, tube in self.way.covered.items() if tube == part.key)
        row = _of(part, end.size, "It carries the water; the length is with the allowance for cutting.")
        return replace(
            row,
            what="hose" if end.kind == "hose" else "tube",
            quantity=length,
            unit="m",
            kind="tube",
            origin="site file" if isinstance(part, Tube) else "derived",
            serves=(part.key, *risen),
        )

    def _resin(self, part: ResinVessel) -> Iterator[Item]:
        litres = part.volume / LITRE
        vessel = _of(part, f"{litres:g} L", "It takes out what is left in the water.")
        yield replace(vessel, quantity=float(part.vessels))
        first = _belongs(
            part,
            "resin",
            "mixed-bed resin",
            "",
            "consumable",
            "The first filling; keep it wet and closed until it goes in.",
        )
        price = self.document.model.prices.resin_per_l
        yield replace(first, quantity=litres * part.vessels, unit="L", price=price)

    def _tank(self, part: Tank) -> Iterator[Item]:
        yield _of(part, f"{part.volume / LITRE:g} L", "It holds the product until it is drawn.")
        if part.float_valve:
            yield _belongs(part, "float", "float valve", "", "part", "It shuts the inlet when the tank is full.")

    # ---- what joins them ----

    def connections(self) -> Iterator[Item]:
        """Fittings, tees and links, merged by size, then the small things that make them tight."""
        for piece in self.way.pieces:
            why = "It joins two ends that do not fit." if piece.what == "fitting" else "It splits or joins the flow."
            yield _row(
                f"{piece.what}: {piece.size}", piece.what, piece.size, why, "connection", piece.count, piece.serves
            )
        for end, length in self.way.links.items():
            what = "hose" if end.kind == "hose" else "tube"
            yield _row(
                f"{what}: {end.size}",
                what,
                end.size,
                "Links between neighbouring parts, lengths assumed.",
                "tube",
                length,
                unit="m",
                origin="assumed",
            )
        yield from self._sealing()

    def _sealing(self) -> Iterator[Item]:
        ends = self.way.ends
        tapers = sum(KINDS[end.kind].taper and end.gender == "male" for end in ends)
        faces = Counter(
            f"{end.kind} {end.size}" for end in ends if KINDS[end.kind].seals_on == "face" and end.gender == "female"
        )
        why = "A clip under the collet keeps a push-fit port from letting go of its tube."
        for size, count in _sizes(ends, "push-fit"):
            yield _also(f"clips {size}", "locking clip", why, count, kind="connection", size=size)
        for size, count in _sizes(ends, "tail"):
            why = "A hose on a tail holds only under a clip."
            yield _also(f"hose_clips {size}", "hose clip", why, count, kind="connection", size=size)
        for size, count in faces.items():
            why = "A parallel thread is made tight by a washer on its face, not by tape."
            yield _also(f"washers {size}", "flat washer", why, count, kind="connection", size=size)
        if tapers:
            yield _also(
                "tape",
                "thread tape",
                f"{tapers} taper threads are made tight on the thread; G threads take none.",
                math.ceil(tapers / TAPE_ROLL),
                kind="consumable",
            )

    # ---- what people forget ----

    def forgotten(self) -> Iterator[Item]:
        """What the layout needs and a list of parts leaves out, each with its reason."""
        yield from self._on_the_way()
        yield from self._at_the_tap()
        yield from self._at_the_power()
        yield from self._at_the_membranes()
        yield from self._at_the_tank()
        yield from self._spares()

    def _on_the_way(self) -> Iterator[Item]:
        """What the water passes: its ends are taken as usual."""
        for part in self.way.added:
            size = " to ".join(dict.fromkeys(map(str, part.ends)))
            yield _row(part.key, part.name, size, part.why, "forgotten", 1, part.serves, origin="assumed")

    def _at_the_tap(self) -> Iterator[Item]:
        if self.plant.supply.kind == "break-tank":
            yield _also("inlet_gap", "air gap for the break tank's inlet", "The supply ends above the highest level.")
            yield _also("inlet_screen", "screened vent and overflow", "The break tank stays free of insects and dirt.")

    def _at_the_power(self) -> Iterator[Item]:
        powered = tuple(
            part.key
            for line in (self.plant.feed, self.plant.product)
            for part in line
            if isinstance(part, Pump | Solenoid | DeliveryPump)
        )
        if powered:
            yield _also(
                "rcd",
                "socket with a residual-current device",
                "Power beside water: it cuts off before a shock kills. A licensed electrician fits it.",
                serves=powered,
            )

    def _at_the_membranes(self) -> Iterator[Item]:
        if self.plant.elements:
            yield _also(
                "drain_gap",
                "air gap for the drain",
                "The drain line ends above the drain, so that nothing is drawn back.",
                serves=tuple(element.key for element in self.plant.elements),
            )

    def _at_the_tank(self) -> Iterator[Item]:
        tank = self.plant.tank
        if tank:
            own = (tank.key,)
            yield _also(
                "overflow",
                "overflow with screen",
                "When the tank runs over, the water goes where it does no harm.",
                serves=own,
            )
            if tank.vented:
                yield _also("vent", "vent screen", "The tank breathes; dust and insects stay out.", serves=own)
            if tank.inlet == "top":
                yield _also("tank_gap", "air gap for the tank's inlet", "Tank water is never drawn back.", serves=own)

    def _spares(self) -> Iterator[Item]:
        cartridges = tuple(part.key for part in self.plant.feed if isinstance(part, Cartridge))
        elements = tuple(element.key for element in self.plant.elements)
        housings = (*cartridges, *elements)
        if housings:
            yield _also(
                "o_rings",
                "spare O-rings for the housings",
                "A housing that is opened may need a new one; a set for each.",
                len(housings),
                unit="set",
                serves=housings,
            )
            yield _also(
                "grease",
                "silicone grease",
                "A smear lets O-rings seal; mineral grease swells them.",
                kind="consumable",
                serves=housings,
            )
        fittings = sum(piece.count for piece in self.way.pieces)
        if fittings:
            most = max(self.way.pieces, key=lambda piece: piece.count)
            spare, why = f"spare {most.what}", "One is always missing on the day."
            yield _also("spare_fitting", spare, why, math.ceil(fittings / SPARE_FITTINGS), size=most.size)
        for part in self.plant.feed:
            if isinstance(part, Softener):
                yield _also(
                    "salt",
                    "softener salt",
                    "It regenerates the softener; a bag of 25 kg to begin with.",
                    kind="consumable",
                    serves=(part.key,),
                )

    # ---- tools ----

    def tools(self) -> Iterator[Item]:
        """What is needed to build and to try this plant."""
        plant, kinds = self.plant, {end.kind for end in self.way.ends}
        cartridges = tuple(part.key for part in plant.feed if isinstance(part, Cartridge))
        elements = tuple(element.key for element in plant.elements)
        if kinds & {"tube", "hose"}:
            yield _tool("cutter", "tube cutter", "A square cut lets the O-ring seal; a saw leaves burrs.")
        if cartridges:
            yield _tool(
                "spanner", "housing spanner", "It opens the cartridge housings; close them by hand.", cartridges
            )
        if kinds & set(THREADS):
            yield _tool(
                "wrench", "adjustable spanner", "For the threads; plastic takes a quarter turn after hand-tight."
            )
        if "tail" in kinds or "hose" in kinds:
            yield _tool("screwdriver", "screwdriver", "It tightens the hose clips.")
        yield _tool("tape_measure", "tape measure", "For the cuts.")
        yield _tool("meter", "conductivity or ppm meter", "It shows whether the plant does what it should.")
        yield _tool("thermometer", "thermometer", "What the plant gives depends on the water's temperature.")
        yield _tool("bucket", "bucket of known volume", "With a watch it measures every flow.")
        yield _tool("watch", "watch", "With the bucket it measures every flow.")
        yield _tool("cloth", "dry cloth", "A drop shows on a dry joint.")
        if elements:
            yield _tool("gloves", "clean gloves", "Elements come in preservative: keep it off the skin.", elements)
        if plant.resin:
            yield _tool(
                "funnel",
                "wide funnel",
                "The resin goes in without being spilt; spilt beads are slippery.",
                (plant.resin.key,),
            )


_WHY: dict[type[Part], str] = {
    Check: "It lets the water one way only.",
    Pump: "It raises the pressure.",
    Softener: "It keeps hardness off what follows.",
    Inhibitor: "It keeps scale away.",
    Solenoid: "It shuts the feed.",
    Restrictor: "It holds the pressure on the membranes and sets the waste.",
    ShutOff: "It shuts the feed when the product is shut.",
    DeliveryPump: "It brings the water from the tank to the brush.",
    Blend: "It adds feed water to the product.",
}


def _used_up(part: Part) -> Iterator[Item]:
    if isinstance(part, Inhibitor):
        yield _belongs(part, "dose", "scale inhibitor", "", "consumable", "The first filling of the doser.")


def _size(part: Part, way: Connections) -> str:
    """What tells such a part from others of its name."""
    if isinstance(part, Restrictor):
        return f"{part.flow / L_MIN:g} L/min"
    if isinstance(part, DeliveryPump) and part.flow:
        return f"{part.flow / L_MIN:g} L/min"
    met = [end for fit in way.fits for key, end in zip(fit.at, (fit.a, fit.b), strict=True) if key == part.key]
    sizes = {end.size for end in met if end.kind == "push-fit"}
    return sizes.pop() if len(sizes) == 1 else ""


def _plain(name: str) -> str:
    """A part's name without its number."""
    return name.rstrip("0123456789 ")


def _of(part: Part, size: str, why: str, price: float | None = None, *, assumed: bool = False) -> Item:
    """The row of a part of the plant: its own price first."""
    row = _row(part.key, _plain(part.name), size, why, "part", 1, (part.key,))
    own = part.price if part.price is not None else price
    return replace(row, price=own, lead_days=part.lead_days, origin="assumed" if assumed else "site file")


def _belongs(part: Part, name: str, what: str, size: str, kind: str, why: str, *, assumed: bool = False) -> Item:
    origin = "assumed" if assumed else "derived"
    return _row(f"{part.key}.{name}", what, size, why, kind, 1, (part.key,), origin=origin)


def _also(
    name: str,
    what: str,
    why: str,
    quantity: float = 1,
    *,
    size: str = "",
    unit: str = "piece",
    kind: str = "forgotten",
    serves: tuple[str, ...] = (),
) -> Item:
    return _row(f"also.{name}", what, size, why, kind, quantity, serves, unit=unit)


def _tool(name: str, what: str, why: str, serves: tuple[str, ...] = ()) -> Item:
    return _row(f"tool.{name}", what, "", why, "tool", 1, serves)


def _row(
    key: str,
    what: str,
    size: str,
    why: str,
    kind: str,
    quantity: float,
    serves: tuple[str, ...] = (),
    *,
    unit: str = "piece",
    origin: str = "derived",
) -> Item:
    return Item(key, what, size, float(quantity), unit, kind, why, True, None, None, None, origin, serves)


# ---- from uses to articles ----

# What says how a part is used and not what it is; beside these its days and limits of change.
OF_ITS_USE = {"key", "name", "price", "lead_days", "stage", "installed", "start_full", "usable_share"}


def _articles(uses: Sequence[Item], plant: Plant) -> dict[str, list[Item]]:
    """The uses of each article under its key: what it is and its size, and a mark of each where two share these."""
    parts = {part.key: part for line in _lines(plant) for part in line}
    sold = {(u.what, u.size): u for u in reversed(uses) if u.kind == "tube" and u.origin == "site file"}
    alike: dict[tuple[str, str, str], list[Item]] = {}  # by name, and by what tells it from others of that name
    for use in uses:
        own = use.kind == "tube" or any(use.key.startswith(key) for key in use.serves)
        name = f"{use.what}: {use.size}".removesuffix(": ") if own else use.key
        priced = sold.get((use.what, use.size), use) if use.kind == "tube" and use.origin != "site file" else use
        mark = (use.unit, priced.price, priced.lead_days, _made(use, parts) if own else "")
        alike.setdefault((use.kind, name, repr(mark)), []).append(use)
    shared = Counter(name for _, name, _ in alike)
    return {name if shared[name] == 1 else f"{name} ({_short(mark)})": same for (_, name, mark), same in alike.items()}


def _lines(plant: Plant) -> tuple[Sequence[Part], ...]:
    return plant.feed, plant.elements, plant.drain, plant.product


def _made(use: Item, parts: Mapping[str, Part]) -> list[tuple[str, object]]:
    """What an article is beyond its size, by the part that it is or belongs to."""
    if use.kind == "tube":
        return []
    part = parts[use.serves[0]]
    inside = isinstance(part, Cartridge | Element)  # their ends are those of the housing
    if use.kind == "housing":
        return [("ends", part.ends)]
    if use.key != part.key:
        return [(name, getattr(part, name)) for name in ("cation_eq_per_l", "anion_eq_per_l") if hasattr(part, name)]
    names = [field.name for field in fields(part) if field.name not in OF_ITS_USE and "change_" not in field.name]
    return [(name, getattr(part, name)) for name in names if not (inside and name == "ends")]


def _short(mark: str) -> str:
    """A few signs that stand for a text."""
    return blake2s(mark.encode(), digest_size=3).hexdigest()


def _bought(key: str, alike: Sequence[Item]) -> Item:
    """The one row of alike uses: their quantities together, of tube what is bought for them."""
    first = next((use for use in alike if use.origin == "site file"), alike[0])  # what it is sold for stands there
    total = sum(use.quantity for use in alike)
    if first.kind == "tube":
        total = math.ceil(round(total * (1.0 + CUTTING) / SOLD_BY, 6)) * SOLD_BY
    why = " ".join(dict.fromkeys(use.why for use in alike))
    serves = tuple(dict.fromkeys(key for use in alike for key in use.serves))
    is_assumed = first.kind != "tube" and any(use.origin == "assumed" for use in alike)
    origin = "assumed" if is_assumed else first.origin
    return replace(first, key=key, quantity=total, why=why, serves=serves, origin=origin)


def _sizes(ends: tuple[End, ...], kind: str) -> Iterator[tuple[str, int]]:
    """The sizes of all ends of a kind, with how many there are of each."""
    yield from Counter(end.size for end in ends if end.kind == kind).items()
