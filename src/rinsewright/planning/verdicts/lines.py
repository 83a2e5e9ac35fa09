"""Pressures: what the supply, the feed line, the pump, the shut-off and the product line do to the membranes."""

from __future__ import annotations

import math

from rinsewright.planning.situation import Situation
from rinsewright.planning.verdicts.word import About, Rule, Verdict, Word, graded
from rinsewright.plant.check import Check
from rinsewright.plant.part import Fluid
from rinsewright.plant.product.line import Lift
from rinsewright.plant.tube import Tube
from rinsewright.quantities import BAR, DAY, GRAVITY, L_MIN, Array
from rinsewright.solve.result import Solved
from rinsewright.solve.steady import drain_with_product_shut
from rinsewright.water.conductivity import PURE_WATER

LEAST_BAR = 1.5  # at the membranes; below it pressure is what has to be mended (common practice, no source)


def running_pressure(s: Situation) -> Verdict | None:
    """Below about 3 bar an unpumped unit disappoints (common practice, no source)."""
    point = s.cold
    state = point.solved
    if state is None or not s.has_membranes:
        return None
    bar = float(state.batch.state.membrane_pa[0]) / BAR
    word: Word = "stop" if bar < LEAST_BAR else "look" if bar < 3.0 and s.plant.pump is None else "fine"
    do = {
        "fine": "Nothing.",
        "look": "A booster pump would make the plant independent of the tap; or shorten hose and filters.",
        "stop": "Fit a booster pump, or find what eats the pressure: stop tap, hose, blocked filter.",
    }[word]
    why = f"They get {bar:.1f} bar while running {point.when}."
    return Verdict("pressure at the membranes", word, why, do, s.plant.elements[0].key)


def keeps_back(s: Situation) -> Verdict | None:
    """Membranes in good order let 2 to 5 % of the reading through (common practice); far more says little flux."""
    point = s.warm
    state = point.solved
    if state is None or not s.has_membranes:
        return None
    waters = state.batch.waters
    product, tap = (float(water.conductivity[0]) - PURE_WATER for water in (waters.product, waters.tap))
    if tap < PURE_WATER:
        why = "The tap's reading is hardly above pure water's own: there is nothing for the membranes to keep back."
        return Verdict("what passes the membranes", "fine", why, "Nothing.", s.plant.elements[0].key)
    share = max(product, 0.0) / tap
    word = graded(share, 0.1, 0.3)
    why = f"{point.when.capitalize()} {100 * share:.1f} % of the tap's reading passes the membranes; 2 to 5 % is usual."
    do = (
        ("Nothing.")
        if word == "fine"
        else "More pressure, less recovery or a tighter membrane: little flux means salty product."
    )
    return Verdict("what passes the membranes", word, why, do, s.plant.elements[0].key)


def supply_sags(s: Situation) -> Verdict | None:
    """A tap that loses much of its pressure when it runs: stop tap half shut, thin pipe, long hose."""
    state = s.today.solved
    if state is None or s.plant.supply.kind == "break-tank":
        return None
    standing = float(state.batch.conditions.standing_pa[0])
    running = float(s.plant.supply.pressure(state.batch.state.tap_flow, standing)[0])
    lost = (standing - running) / standing
    word = graded(lost, 0.25, 0.6)
    why = f"The tap stands at {standing / BAR:.1f} bar and runs at {running / BAR:.1f} bar with this plant."
    if s.plant.supply.standing_estimated:
        why += " The standing pressure is not measured but estimated."
    do = "Nothing." if word == "fine" else "See that every stop tap is full open; measure at a tap nearer the main."
    return Verdict("the tap under load", word, why, do, "supply.flowing")


def feed_line_loss(s: Situation) -> Verdict | None:
    """What tubes and clean filters lose; the worst part is named. Resin alone needs no pressure: a look at most."""
    state = s.today.solved
    if state is None or not s.plant.feed:
        return None
    fluid = Fluid.at(state.batch.conditions.temperature_k)
    drops = [(float(part.drop(state.batch.state.tap_flow, fluid)[0]), part) for part in s.plant.feed]
    lost = sum(drop for drop, _ in drops if drop > 0.0)
    worst, part = max(drops, key=lambda item: item[0])
    word = graded(lost / BAR, 0.7, 1.5 if s.has_membranes else math.inf)
    why = (
        f"Hoses and clean filters lose {lost / BAR:.2f} bar {s.today.when}, most of it in the {part.name} "
        f"({worst / BAR:.2f} bar)."
    )
    mended = f"Give the {part.name} a wider bore, or make it shorter."
    if not isinstance(part, Tube):
        mended = f"Fit a larger {part.name}, or two side by side."
    do = "Nothing." if word == "fine" else mended
    return Verdict(f"loss before the {'membranes' if s.has_membranes else 'resin'}", word, why, do, part.key)


def pump_cycles(s: Situation) -> Verdict | None:
    """A pressure switch that cuts out below the running pressure makes the pump stop and start."""
    pump, state = s.plant.pump, s.warmest.solved or s.today.solved
    if pump is None or state is None:
        return None
    if pump.cut_out_pa is None:
        return Verdict(
            "pump and pressure switch",
            "look",
            "The pump has no cut-out: with the product shut it runs on against a closed line.",
            "Fit a pressure switch or a relief valve, and dry-run protection.",
            pump.key,
        )
    highest = max(float(one.batch.state.membrane_pa[0]) for one in s.states())
    word: Word = "look" if highest > 0.95 * pump.cut_out_pa else "fine"
    why = f"It runs at up to {highest / BAR:.1f} bar and cuts out at {pump.cut_out_pa / BAR:.1f} bar."
    do = (
        "Nothing."
        if word == "fine"
        else "Set the cut-out higher, within every part's rating, or the pump will stutter."
    )
    return Verdict("pump and pressure switch", word, why, do, pump.key)


def shutoff_trips(s: Situation) -> Verdict | None:
    """Whether the automatic shut-off ever closes: product pressure can only rise to feed less osmotic pressure."""
    valve, tank, state = s.plant.shutoff, s.plant.tank, s.today.solved
    if state is None or not s.has_membranes:
        return None
    if valve is None:
        if tank is None or s.plant.pump is not None:
            return None
        flow, _ = drain_with_product_shut(s.plant, *_at(state))
        return Verdict(
            "stopping when the tank is full",
            "look",
            "There is no automatic shut-off: when the float valve closes, the drain runs on at about "
            f"{float(flow[0]) / L_MIN:.1f} L/min, {float(flow[0]) * DAY:.1f} m³ a day.",
            "Fit an automatic shut-off with a check valve before it, or shut the tap by hand or by timer.",
            tank.key,
        )
    reached = min(_highest_ratio(s, one) for one in s.states())
    if reached < valve.closes_at_ratio:
        return Verdict(
            "automatic shut-off",
            "look",
            f"With the product shut its pressure rises to {reached:.2f} of the feed's at most; the valve closes at "
            f"{valve.closes_at_ratio:.2f}. It may never trip, and the drain then runs on.",
            "Raise the running pressure or lower the drain flow; else shut the tap when the tank is full.",
            valve.key,
        )
    head = sum(part.height for part in s.plant.to_tank if isinstance(part, Lift))
    highest = float(state.batch.conditions.standing_pa[0]) + (s.plant.pump.dead_head_pa if s.plant.pump else 0.0)
    stuck = 1000.0 * GRAVITY * head / highest
    if stuck > valve.reopens_at_ratio:
        return Verdict(
            "automatic shut-off",
            "stop",
            f"The water standing in the {head:.0f} m riser holds the valve at {stuck:.2f} of the feed's pressure; it "
            f"opens again only below {valve.reopens_at_ratio:.2f}. Once shut it stays shut.",
            "Put the shut-off control at the tank (float switch and solenoid), or the plant higher up.",
            valve.key,
        )
    why = f"With the product shut its pressure rises to {reached:.2f} of the feed's; the valve closes at "
    return Verdict(
        "automatic shut-off", "fine", f"{why}{valve.closes_at_ratio:.2f}.", "Try it at the first run.", valve.key
    )


def _at(state: Solved) -> tuple[Array, Array]:
    return state.batch.conditions.temperature_k, state.batch.conditions.standing_pa


def _highest_ratio(s: Situation, state: Solved) -> float:
    """Product over feed pressure when no product flows: the feed side then holds tap water, a little concentrated."""
    osmotic = float(state.batch.conditions.salt.osmotic[0])
    _, pressure = drain_with_product_shut(s.plant, *_at(state))
    return 1.0 - 1.1 * osmotic / float(pressure[0])


def check_valve(s: Situation) -> Verdict | None:
    """Without a check valve product runs back, the shut-off chatters and a high tank can tear the membrane."""
    if not s.has_membranes or (s.plant.tank is None and s.plant.shutoff is None):
        return None
    if any(isinstance(part, Check) for part in s.plant.to_tank):
        return Verdict("check valve behind the membranes", "fine", "There is one.", "Nothing.")
    head = sum(part.height for part in s.plant.to_tank if isinstance(part, Lift)) * 1000.0 * GRAVITY / BAR
    if head > 0.3:
        return Verdict(
            "check valve behind the membranes",
            "stop",
            f"There is none, and {head:.2f} bar of water stand above the membranes when the feed stops; more than "
            "about 0.3 bar from behind can tear them.",
            "Fit a check valve in the product line before the riser.",
            "plant.product",
        )
    why = "There is none: product runs back when the unit stops, and each restart sends salty water to the tank."
    do = "Fit one in the product line, next to the membranes."
    if s.plant.shutoff is not None:
        why += " The automatic shut-off will chatter."
        do = "Fit one between the membranes and the shut-off."
    return Verdict("check valve behind the membranes", "look", why, do, "plant.product")


RULES: dict[Rule, About] = {
    running_pressure: "state",
    keeps_back: "state",
    supply_sags: "state",
    feed_line_loss: "state",
    pump_cycles: "state",
    shutoff_trips: "state",
    check_valve: "site",
}
