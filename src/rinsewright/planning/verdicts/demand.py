"""Will there be enough water, and is it pure enough?"""

from __future__ import annotations

from rinsewright.errors import NoWorkingState
from rinsewright.planning.ensemble import resin_inlet
from rinsewright.planning.situation import COLDEST, Situation
from rinsewright.planning.verdicts.word import About, Rule, Verdict, Word
from rinsewright.plant.product.line import Blend
from rinsewright.quantities import L_MIN, US_CM


def works_all_year(s: Situation) -> Verdict | None:
    """A plant that stands still on the coldest or the warmest day is no plant."""
    for name, point in (("coldest", s.coldest), ("warmest", s.warmest)):
        if isinstance(point.state, NoWorkingState):
            return Verdict(
                f"the {name} day",
                "stop",
                f"At {point.temperature_c:.0f} °C the plant has no working state: {point.state.reason}.",
                "Mend that part first; the other answers are for today's water.",
                point.state.part or "",
            )
    return None


def enough_in_winter(s: Situation) -> Verdict | None:
    """Time to make an average working day's water, against the hours in which the tap is open."""
    litres, point = s.working_day_litres, s.coldest
    hours = point.fill_hours(litres * 1e-3) if litres else None
    if s.plant.tank is None or litres is None or hours is None:
        return None
    window = s.fill_window_hours
    word: Word = "stop" if hours > window else "look" if hours > 0.75 * window else "fine"
    if hours <= 0.2:
        taken = f"{hours * 60:.0f} minutes"
    else:
        taken = f"{hours:.1f} hours"
    why = (
        f"A working day's {litres:,.0f} L take {taken} at {point.temperature_c:.0f} °C, "
        f"and the tap is open {window:.0f} hours a day."
    )
    more = "another membrane" if s.plant.pump else "another membrane or a booster pump"
    longer = ", or open the tap for longer" if window < 24.0 else ""
    mended = f"add {more}{longer}"
    if s.plant.pump and s.has_membranes:
        mended += "; where the tap gives no more, a stronger tap or several plants at several taps"
    do = {
        "fine": "Nothing.",
        "look": f"Little is left for a busy day: a larger tank or {more} gives room.",
        "stop": f"It cannot keep up {point.when}: {mended}.",
    }[word]
    season = "in the cold" if point.when == COLDEST else "for a day"
    return Verdict(f"water enough {season}", word, why, do, s.plant.tank.key)


def tank_holds_a_day(s: Situation) -> Verdict | None:
    """What the tank holds against what a day draws beyond what is made meanwhile."""
    tank, litres = s.plant.tank, s.working_day_litres
    if tank is None or litres is None or s.demand is None:
        return None
    usable = (tank.usable_volume or tank.volume) * 1e3
    made = s.coldest.solved.product_l_min if s.coldest.solved else 0.0
    drawn_for = (s.demand.draw_until - s.demand.draw_from) / 60.0
    open_then = s.demand.fill_from is None
    busiest = max(s.demand.by_weekday) * 1e3
    short = busiest - usable - (made * drawn_for if open_then else 0.0)
    word: Word = "look" if short > 0.0 else "fine"
    why = f"The busiest day draws {busiest:,.0f} L; the tank holds {usable:,.0f} L" + (
        f" and {made * drawn_for:,.0f} L more can be made while it is drawn, at {s.coldest.temperature_c:.0f} °C."
        if open_then
        else "."
    )
    do = "Nothing." if word == "fine" else "A larger tank, or refill between jobs."
    return Verdict("tank against the busiest day", word, why, do, tank.key)


def enough_at_the_brush(s: Situation) -> Verdict | None:
    """Direct to the pole there is no tank to help: the plant must make what the brushes use."""
    if s.plant.tank is not None or s.demand is None or s.demand.brush_flow is None or s.coldest.solved is None:
        return None
    wanted = s.demand.brushes * s.demand.brush_flow / L_MIN
    verb = "wants" if s.demand.brushes == 1 else "want"
    made = s.coldest.solved.product_l_min
    word: Word = "stop" if made < 0.7 * wanted else "look" if made < wanted else "fine"
    brushes = "one brush" if s.demand.brushes == 1 else f"{s.demand.brushes} brushes"
    why = f"At {s.coldest.temperature_c:.0f} °C the plant makes {made:.1f} L/min; {brushes} {verb} {wanted:.1f} L/min."
    do = "Nothing." if word == "fine" else "Put a tank between plant and pole, or add a membrane or a booster pump."
    return Verdict("water enough at the brush", word, why, do, "demand.brush_l_min")


def pure_enough(s: Situation) -> Verdict | None:
    """What is delivered against the limit, on the warmest day: salt passes easiest in warm water."""
    point, blend = s.warm, s.first(Blend)
    state = point.solved
    if state is None or s.demand is None:
        return None
    reading = float(state.answer()["delivered"]["meter_ppm"])
    limit = s.demand.limit_ppm
    if s.plant.resin is not None:
        if s.plant.blend_behind_resin and reading > limit:
            why = f"The blend brings the water back to {reading:.0f} ppm, above the limit of {limit:.0f} ppm."
            do = "Take the blend out, or make its share smaller."
            return Verdict("purity", "stop", why, do, blend.key if blend else "")
        product = float(state.answer()["product"]["meter_ppm"])
        if blend and s.plant.blend_before_resin:
            before = float(resin_inlet(s.plant, state.batch)[0].conductivity[0]) / US_CM * state.meter_factor
            why = (
                f"The blend raises the {product:.0f} ppm behind the membranes to {before:.0f} ppm before the resin, "
                "which takes it all out again."
            )
            return Verdict("purity", "look", why, "Take the blend out: it only uses up resin.", blend.key)
        what = "{:.0f} ppm behind the membranes" if s.has_membranes else "tap's {:.0f} ppm"
        why = f"Fresh resin takes the {what.format(product)} to below 1 ppm."
        return Verdict("purity", "fine", why, "Watch the reading after the resin.", s.plant.resin.key)
    word: Word = "fine" if reading <= limit else "stop"
    why = f"Without resin the water delivered reads {reading:.0f} ppm {point.when}; the limit is {limit:.0f} ppm."
    mended = "Take the blend out, or make its share smaller." if blend else "Add resin behind the membranes."
    do = "Nothing." if word == "fine" else mended
    return Verdict("purity", word, why, do, blend.key if blend else "demand.product_limit_ppm")


RULES: dict[Rule, About] = {
    works_all_year: "year",
    enough_in_winter: "state",
    tank_holds_a_day: "year",
    enough_at_the_brush: "state",
    pure_enough: "state",
}
