"""The numbered steps in which this plant is built and first run: one rule for each kind of part, in the water's order.

Order and handling are common practice, no source. A step is made by the part that it is about, so that what a plant
does not have is not spoken of.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from rinsewright.building.connections import nominal
from rinsewright.building.result import Cut, Item, Step, Want, Weights
from rinsewright.building.weights import RESIN, WATER
from rinsewright.plant.check import Check
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.treatment import Cartridge, Inhibitor, Softener, Solenoid
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.membrane.restrictor import Flush, Restrictor
from rinsewright.plant.part import Part
from rinsewright.plant.product.line import Blend, DeliveryPump, Lift, ResinVessel, ShutOff, Tank
from rinsewright.plant.tube import Tube
from rinsewright.quantities import BAR, L_MIN, LITRE
from rinsewright.site.document import SiteDocument

POWER = (
    "Electricity and water: only behind a residual-current device, wired by someone licensed to, as local codes ask."
)
PRESSURE = "Release the pressure before you open anything."
BACKFLOW = (
    "Drinking water must not be contaminated by back-flow: fit what local water regulations ask for, and ask the water "
    "supplier whether the plant must be notified first."
)
HEAVY = 12.0  # kg, from which two should lift (common practice, no source; guidelines depend on who lifts)
GLOVES = "New membranes carry preservative: wear gloves, keep it off skin and out of eyes."

Say = tuple[str, str, str, str, str, str]  # title, why, do, check, caution, drawing


def build_steps(
    plant: Plant, items: Sequence[Item], cuts: Sequence[Cut], weights: Weights, document: SiteDocument
) -> tuple[Step, ...]:
    """The steps of a plant in building order; every part of it stands in at least one.

    ``items`` are the uses of a :class:`~rinsewright.building.bill.Bill` and its tools.
    """
    return tuple(_Steps(plant, items, cuts, weights, document).all())


@dataclass(frozen=True)
class _Steps:
    plant: Plant
    items: Sequence[Item]
    cuts: Sequence[Cut]
    weights: Weights
    document: SiteDocument

    def all(self) -> Iterator[Step]:
        yield from self._prepare()
        yield from self._tap()
        yield from self._line("feed", self.plant.feed)
        if self.plant.elements:
            yield from self._membranes()
            yield from self._drain()
        yield from self._line("product", self.plant.product, self._before_product)
        yield from self._power()
        yield from self._rinse()
        yield from self._finish()

    def _step(self, stage: str, say: Say, parts: Sequence[Part] = (), also: Sequence[str] = ()) -> Step:
        keys = tuple(part.key for part in parts)
        own = [item.key for item in self.items if item.kind in {"part", "housing", "consumable", "tube"}]
        used = [key for key in own if any(key == k or key.startswith(f"{k}.") for k in keys)]
        listed = {item.key: item.quantity for item in self.items}
        title, why, do, check, caution, drawing = say
        extra = tuple(key for key in also if key in listed and key not in used)
        sets = {"also.o_rings": float(len(keys))}  # one for each housing that is opened
        wants = tuple(Want(key, sets.get(key, listed[key])) for key in (*used, *extra))
        return Step(title, why, do, check, caution, stage, drawing, keys, wants)

    def _has(self, key: str) -> bool:
        return any(item.key == key for item in self.items)

    # ---- before water ----

    def _prepare(self) -> Iterator[Step]:
        yield self._step(
            "prepare",
            (
                "Unpack and tick off",
                "What is missing is better found now than half way.",
                "Lay everything out and tick it off against the parts list. Order what is missing before you begin.",
                "Every row is ticked; nothing is cracked or scratched where it seals.",
                "",
                "unpack",
            ),
        )
        yield self._step("prepare", self._place())
        if self.cuts:
            yield self._step("prepare", self._cutting(), (), ("tool.cutter", "tool.tape_measure", *self._joining()))

    def _place(self) -> Say:
        full = self.weights.full_kg
        tank = f", {WATER.value * self.plant.tank.volume:,.0f} kg of it in the tank" if self.plant.tank else ""
        return (
            "Choose where it stands",
            "Frost bursts parts, and leaks happen: a floor drain and room to work save the day.",
            "Find a level, frost-free place near tap and drain, out of the sun, with room to open every part. "
            f"Full of water the plant weighs about {full:,.0f} kg{tank}: floor and wall must carry it.",
            "You can reach every part, and spilt water runs where it does no harm.",
            "Never guess what a floor or wall carries: ask the builder. Lift heavy parts with two." * (full > HEAVY),
            "stand",
        )

    def _joining(self) -> tuple[str, ...]:
        """What every joint is made of: tube bought by the metre, fittings, clips, washers."""
        made_of = {"tube", "connection"}
        return tuple(i.key for i in self.items if i.kind in made_of or i.key in {"also.spare_fitting", "also.tape"})

    def _cutting(self) -> Say:
        alike: Counter[tuple[float, str, bool]] = Counter()
        for cut in self.cuts:
            alike[cut.length_m, cut.size, cut.assumed] += cut.count
        cuts = "; ".join(
            f"{count} × {length:.2f} m of {size}{' (measure first)' if assumed else ''}"
            for (length, size, assumed), count in alike.items()
        )
        return (
            "Cut the tube",
            "Only a square, clean end seals on the O-ring.",
            f"Cut square and take off burrs: {cuts}. In a push-fit, push the tube fully home and lock the collet.",
            "Pull each tube: it does not move. A mark at the depth of the port has gone in up to the mark.",
            "Cut away from your hand.",
            "joint-push-fit",
        )

    def _tap(self) -> Iterator[Step]:
        kind = self.plant.supply.kind
        also = ("also.stop", "also.backflow", "also.non_return", "also.inlet_gap", "also.inlet_screen")
        sealing = () if self.cuts else self._joining()
        gauge = () if self.plant.elements else ("also.gauge",)
        do = {
            "mains": "Fit the stop valve and behind it the back-flow protection, its arrow with the flow.",
            "well": "Fit the stop valve and behind it the non-return valve, its arrow with the flow.",
        }.get(kind, "Fit the air gap at the break tank's inlet, the screens, and the stop valve at its outlet.")
        do += " Add the gauge with its tee." if gauge else ""
        caution = BACKFLOW if kind != "well" else "Well water is not disinfected: have it tested; local rules apply."
        say = (
            "Connect the supply",
            "It must be possible to shut the plant off, and nothing may flow back.",
            f"{do} Leave the stop valve shut.",
            "The arrows point away from the supply, and the stop valve is shut.",
            caution,
            "tap",
        )
        yield self._step("tap", say, (), (*also, *gauge, *sealing))

    # ---- along the lines ----

    def _line(
        self, stage: str, parts: Sequence[Part], before: Callable[[Part], Iterator[Step]] | None = None
    ) -> Iterator[Step]:
        for part in parts:
            if before:
                yield from before(part)
            rule = next(rule for kind, rule in RULES.items() if isinstance(part, kind))
            yield self._step(stage, _rated(part, rule(part)), (part,), ALSO.get(type(part), ()))
        if stage == "feed" and self.plant.recirculation > 0.0:
            yield self._step("feed", _recirculation(self.plant.recirculation / L_MIN), (), ("also.recirculation",))

    def _before_product(self, part: Part) -> Iterator[Step]:
        if isinstance(part, ShutOff) and self._has("also.check"):
            yield self._step("product", _check(part), (), ("also.check",))
        first = next((p for p in self.plant.product if isinstance(p, ResinVessel | Tank)), None)
        if part is first and self._has("also.bypass"):
            yield self._step("product", _bypass(), (), ("also.bypass",))

    def _membranes(self) -> Iterator[Step]:
        stages, count = self.plant.stages, 0
        for at, stage in enumerate(stages):
            for element in stage:
                count += 1
                also = ("also.grease", "also.o_rings", "tool.gloves")
                yield self._step("membranes", _rated(element, _membrane(element, count)), (element,), also)
            if len(stage) > 1:
                yield self._step("membranes", _side_by_side(len(stage)), stage, self._tees())
            if at:
                yield self._step("membranes", _in_series(at), (*stages[at - 1], *stage))
        yield self._step("membranes", _gauge(), self.plant.elements, ("also.gauge",))

    def _tees(self) -> tuple[str, ...]:
        return tuple(item.key for item in self.items if item.what == "tee")

    def _drain(self) -> Iterator[Step]:
        if self._has("also.restrictor"):
            say = (
                "Fit the drain restrictor",
                "Without it no pressure stands on the membranes.",
                "Put the restrictor into the drain line.",
                "Its arrow points to the drain.",
                "",
                "restrictor",
            )
            yield self._step("drain", say, (), ("also.restrictor",))
        yield from self._line("drain", self.plant.drain)
        say = (
            "End the drain above an air gap",
            "Nothing may be drawn back from the drain.",
            "Fix the end of the drain line above the drain so that it cannot slip in.",
            "You can see the gap, and the end cannot move.",
            "Where the drain may go is for local rules.",
            "drain-gap",
        )
        yield self._step("drain", say, (), ("also.drain_gap",))

    # ---- power, water, handing over ----

    def _power(self) -> Iterator[Step]:
        powered = [p for p in (*self.plant.feed, *self.plant.product) if isinstance(p, Pump | Solenoid | DeliveryPump)]
        if powered:
            names = ", ".join(part.name for part in powered)
            say = (
                "Have the power connected",
                "Wet hands and mains do not go together.",
                f"Have the socket with a residual-current device fitted above splash height, for: {names}. "
                "Leave it off.",
                "Its test button cuts off the power.",
                POWER,
                "power",
            )
            yield self._step("power", say, powered, ("also.rcd",))

    def _rinse(self) -> Iterator[Step]:
        yield self._step("rinse", self._open())
        past = self._has("also.bypass")
        if self.plant.elements:
            keep = " Keep the by-pass to the bucket: nothing goes on to what stands behind it." if past else ""
            say = (
                "Rinse to drain for an hour or more",
                "New membranes carry preservative, which must not stay in the plant.",
                f"Let product and drain run to waste for at least an hour.{keep}",
                "The product's reading has come down and stays, and there is no foam.",
                "Neither drink nor use this water; where it may go is for local rules.",
                "bypass" if past else "rinse",
            )
            yield self._step("rinse", say, self.plant.elements, ("also.bypass",))
        if self.plant.shutoff:
            yield self._step("rinse", self._shut_off_test(self.plant.shutoff), (self.plant.shutoff,))
        behind = [part for part in self.plant.product if isinstance(part, ResinVessel | Tank)]
        if behind:
            yield self._step("rinse", _bring_in(behind) if past else _first_water(behind), behind)

    def _open(self) -> Say:
        pump = any(isinstance(part, Pump) for part in self.plant.feed)
        solenoid = any(isinstance(part, Solenoid) for part in self.plant.feed)
        start = " Switch on the electric valve first: without power it stays shut." if solenoid else ""
        start += " Start the pump only once water comes without air." if pump else ""
        return (
            "Open slowly, let the air out, look for leaks",
            "Air that is shut in hammers, and a leak shows best at a low pressure.",
            f"Open the stop valve a quarter and wait until water runs without air, then open it.{start} "
            "Go along every joint with a dry cloth.",
            "Every joint stays dry for ten minutes at full pressure.",
            f"Stay below the rating of the weakest part. {PRESSURE}",
            "open-slowly",
        )

    def _shut_off_test(self, valve: ShutOff) -> Say:
        return (
            "Test the automatic shut-off",
            "If it does not close, water runs to waste day and night.",
            f"Shut the product. At about {100.0 * valve.closes_at_ratio:.0f} % of the feed pressure the drain stops. "
            "Open the product again.",
            "With the product shut the drain stops within minutes; with it open the plant starts again.",
            "",
            "shutoff",
        )

    def _finish(self) -> Iterator[Step]:
        vans = self.document.model.demand.vans if self.document.model.demand else []
        if vans:
            say = (
                "Weigh each van with its tank full",
                "A litre weighs a kilo.",
                "Weigh " + ", ".join(f"{van.name} with {van.tank_litres:g} L" for van in vans) + ", axle by axle.",
                "Payload and axle limits hold; the tank is restrained and has baffles.",
                "Never guess the payload; the tank must be held to survive a crash.",
                "van",
            )
            yield self._step("finish", say)
        say = (
            "Mark it, record it, hand it over",
            "Whoever comes next must know what it is and how it ran when new.",
            "Mark taps and outlets “not drinking water”. Fill in the first-run record and sign it. Explain the plant.",
            "The record is signed, and the customer has shown that they can shut it off.",
            "The water is not drinking water and is not handed out as such.",
            "record",
        )
        yield self._step("finish", say, (), ("tool.meter", "tool.thermometer", "tool.bucket", "tool.watch"))


# ---- one rule for each kind of part ----

ALSO: dict[type[Part], tuple[str, ...]] = {
    Cartridge: ("also.grease", "also.o_rings", "tool.spanner"),
    Softener: ("also.salt",),
    Pump: ("also.relief", "also.cut_out", "also.dry_run"),
    ResinVessel: ("tool.funnel",),
    Tank: ("also.overflow", "also.vent", "also.tank_gap", "also.outlet"),
}


def _rated(part: Part, say: Say) -> Say:
    """The rule's words with the highest pressure that the part may see."""
    if part.rated_pa is None:
        return say
    title, why, do, check, caution, drawing = say
    return title, why, do, check, f"{caution} Rated for {part.rated_pa / BAR:g} bar: never above.".strip(), drawing


def _tube(part: Tube) -> Say:
    do = f"Lay {part.length:g} m without kinks, away from heat and sun. "
    do += "Push it over the barbs and tighten the clips." if part.hose else "Push both ends home; lock the collets."
    drawing = "joint-hose" if part.hose else "joint-push-fit"
    return f"Lay the {part.name}", "A kink or a loose end costs pressure.", do, "Pulling moves no end.", "", drawing


def _cartridge(part: Cartridge) -> Say:
    do = f"Grease the housing's O-ring, put the {part.media} cartridge in, and tighten the housing by hand to the stop."
    if part.media == "carbon":
        do += (
            " With the stop valve a quarter open flush it to a bucket until clear, then shut it and join what follows."
        )
    why = "Carbon takes out chlorine; its dust must not go on." if part.media == "carbon" else "It holds back grit."
    check = "The O-ring lies in its groove; the inlet is the side marked in."
    return f"Fit the {part.name}", why, do, check, PRESSURE, "cartridge"


def _softener(part: Softener) -> Say:
    do = "Connect inlet and outlet by their arrows, fill in salt, and let it regenerate once to drain."
    return f"Fit the {part.name}", "It keeps hardness off what follows.", do, "What leaves it is soft.", "", "softener"


def _pump(part: Pump) -> Say:
    limits = f" Set the cut-out to {part.cut_out_pa / BAR:g} bar." if part.cut_out_pa else ""
    do = (
        "Fix the pump on rubber, its arrow with the flow; fit the relief valve and the switches of the parts list."
        + limits
    )
    return (
        f"Fit the {part.name}",
        "It raises the pressure.",
        do,
        "It stands level and is not plugged in.",
        POWER,
        "pump",
    )


def _solenoid(part: Solenoid) -> Say:
    do = "Put the electric valve into the line, its arrow with the flow, the coil on top."
    return (
        f"Fit the {part.name}",
        "It shuts the feed.",
        do,
        "The arrow points along the water's way.",
        POWER,
        "solenoid",
    )


def _inhibitor(part: Inhibitor) -> Say:
    do = "Fit the doser into the line and fill in the scale inhibitor as its label says."
    caution = "Follow the supplier's safety data sheet."
    return f"Fit the {part.name}", "It keeps scale away.", do, "The doser is full and closed.", caution, "inhibitor"


def _check(part: Part) -> Say:
    name = part.name if isinstance(part, Check) else "check valve before the shut-off"
    do = "Put the valve in, its arrow with the flow."
    return f"Fit the {name}", "Water goes one way only.", do, "You can blow through one way only.", "", "check"


def _membrane(part: Element, number: int) -> Say:
    size = nominal(part)
    into = f"the {size} housing" if size else "its housing"
    do = (
        f"With gloves, grease the O-rings. Slide the element into {into} from the feed end, along its arrow, so that "
        "the brine seal goes in last. Close the cap to the stop."
    )
    check = "The brine seal is at the feed end; the cap sits fully; its port is free."
    why = "The wrong way round the feed goes past it; a dry O-ring lets salt through."
    return f"Put in membrane {number}", why, do, check, GLOVES, "membrane-in"


def _side_by_side(count: int) -> Say:
    do = f"With tees join the {count} feeds, the {count} drains and the {count} products, links of equal length."
    why = "Each must get the same share of the water."
    check = "Feed goes to feed, drain to drain, product to product."
    return f"Join {count} membranes side by side", why, do, check, "", "element-parallel"


def _in_series(at: int) -> Say:
    do = f"Lead the drain of stage {at} to the feed of stage {at + 1}; join their products with a tee."
    why = "The second stage works on what the first leaves."
    check = "Only the last stage's drain goes on to the drain line."
    return f"Join stages {at} and {at + 1} in series", why, do, check, "", "element-series"


def _gauge() -> Say:
    do = "Put the gauge with its tee into the feed, right before the membranes."
    why = "It is the first thing to read when there is less product."
    return "Fit the gauge", why, do, "You can read it from where you stand.", "", "gauge"


def _recirculation(flow: float) -> Say:
    do = (
        f"Lead the recirculating line over its needle valve to the pump's inlet; set {flow:.2g} L/min on the first run."
    )
    return (
        "Join the return line",
        "It keeps the water fast.",
        do,
        "Its non-return valve points to the pump.",
        "",
        "return",
    )


def _restrictor(part: Restrictor) -> Say:
    do = f"Put the restrictor for {part.flow / L_MIN:.3g} L/min at {part.at_pa / BAR:.3g} bar into the drain line."
    why = "It holds the pressure on the membranes and sets the waste."
    return f"Fit the {part.name}", why, do, "Its label says this flow, its arrow points to the drain.", "", "restrictor"


def _flush(part: Flush) -> Say:
    do = f"Fit the flush valve past the restrictor; it passes {part.volume / LITRE:.3g} L each stop."
    return f"Fit the {part.name}", "It rinses the drain end.", do, "Its arrow points to the drain.", "", "flush"


def _shutoff(part: ShutOff) -> Say:
    do = "Lead feed and product through the shut-off by its marks; the check valve stands before it on the product."
    return f"Fit the {part.name}", "It stops the feed when the product is shut.", do, "In and out agree.", "", "shutoff"


def _lift(part: Lift) -> Say:
    way = "up" if part.height >= 0.0 else "down"
    do = f"Lead the line {abs(part.height):g} m {way} and clip it to the wall every half metre."
    return f"Lead the line {way}", "Height costs or gives pressure.", do, "It neither sags nor pulls.", "", "lift"


def _resin(part: ResinVessel) -> Say:
    litres = part.volume / LITRE
    more = f" Do the same for all {part.vessels} vessels." if part.vessels > 1 else ""
    do = f"Fill in {litres:g} L of resin, close the vessel by its O-ring, in and out by their marks.{more}"
    kilos = RESIN.value * part.volume
    heavy = ": lift it with two" if kilos > HEAVY else ""
    caution = f"The resin of one vessel is about {kilos:.0f} kg wet{heavy}. Spilt beads are slippery."
    check = "No bead lies on the seal."
    return f"Fill the {part.name}", "It takes out the rest.", do, check, caution, "resin"


def _bypass() -> Say:
    do = "Fit the three-way valve, its third way to a bucket, and turn it to the bucket."
    why = "While the preservative rinses out nothing of it may go further."
    return "Fit the by-pass", why, do, "It is turned to the bucket.", "", "bypass"


def _tank(part: Tank) -> Say:
    do = f"Stand the {part.volume / LITRE:,.0f} L tank level on its whole base. "
    fitted = ["the float valve"] * part.float_valve + ["the overflow"] + ["the vent screen"] * part.vented
    fitted += ["the non-return valve at the inlet"] * (part.inlet != "top")
    do += f"Fit {', '.join(fitted)} and the outlet valve."
    check = "The overflow takes the full inflow and leads where it does no harm."
    check += " The float moves freely and shuts the inlet." if part.float_valve else ""
    caution = (
        f"Full it holds {part.volume:.2g} t of water. Keep it cold and moving: warm standing water grows legionella."
    )
    why = "It holds the product until it is drawn."
    return f"Set up the {part.name}", why, do, check, caution, "tank"


def _delivery(part: DeliveryPump) -> Say:
    do = "Fix the delivery pump below the water's level, its arrow to the brush."
    return f"Fit the {part.name}", "It brings water to the brush.", do, "It is not plugged in yet.", POWER, "delivery"


def _bring_in(behind: Sequence[Part]) -> Say:
    names = " and ".join(part.name for part in behind)
    return (
        f"Bring in {names}",
        "Only clean product may go in.",
        f"Turn the water to {names}; let the air out; throw the first bucket away.",
        "It holds tight, and what comes out reads as the first-run record says.",
        "",
        "bring-in",
    )


def _first_water(behind: Sequence[Part]) -> Say:
    """Where no membranes are rinsed past them the water has reached them as soon as the stop valve was opened."""
    return (
        "Throw the first water away",
        "The first water through new parts carries dust and air.",
        f"Let the air out, and throw away the first bucket that comes out of the {behind[-1].name}.",
        "What comes out then is clear and reads as the first-run record says.",
        "",
        _vessel(behind),
    )


def _vessel(behind: Sequence[Part]) -> str:
    """The drawing of what stands behind."""
    return "resin" if any(isinstance(part, ResinVessel) for part in behind) else "tank"


def _blend(part: Blend) -> Say:
    do = f"Fit the blending valve and set it to {100.0 * part.share:.2g} % of feed water."
    return f"Fit the {part.name}", "It adds feed water.", do, "Its arrow points to the product.", "", "blend"


RULES: dict[type[Part], Callable[..., Say]] = {
    Tube: _tube,
    Cartridge: _cartridge,
    Softener: _softener,
    Pump: _pump,
    Solenoid: _solenoid,
    Inhibitor: _inhibitor,
    Check: _check,
    Restrictor: _restrictor,
    Flush: _flush,
    ShutOff: _shutoff,
    Lift: _lift,
    ResinVessel: _resin,
    Tank: _tank,
    DeliveryPump: _delivery,
    Blend: _blend,
}
