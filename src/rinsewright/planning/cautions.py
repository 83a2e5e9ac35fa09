"""The usual cautions, where this plant calls for them. They never replace local codes and licensed practice."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from rinsewright.planning.situation import Situation
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.product.line import DeliveryPump
from rinsewright.quantities import LITRE

Rule = Callable[[Situation], str | None]


def cautions(situation: Situation) -> list[str]:
    """Sentences for the person who builds and runs this plant, in the order of the water's way."""
    return list(_said(situation))


def _said(situation: Situation) -> Iterator[str]:
    for rule in RULES:
        text = rule(situation)
        if text:
            yield text


def _back_flow(s: Situation) -> str | None:
    if s.plant.supply.kind != "mains":
        return None
    text = (
        "Drinking water must not be contaminated by back-flow: fit the back-flow protection that local water "
        "regulations "
        "ask for, and ask the water supplier whether the plant must be notified before it is installed."
    )
    if s.country == "GB" and s.has_membranes:
        text += " In Great Britain the notice covers reverse-osmosis units, and pumps drawing more than 12 L/min."
    return text


def _gap(s: Situation) -> str | None:
    if not s.has_membranes:
        return None
    return "Product and drain lines end above an air gap. Where the drain may go is for local rules."


def _well(s: Situation) -> str | None:
    if s.plant.supply.kind != "well":
        return None
    return "Well water is not disinfected and its analysis drifts: have it tested, and tested again each season."


def _bans(s: Situation) -> str | None:
    return "Hosepipe bans can touch filling a tank: ask before the dry season."


def _drinking(s: Situation) -> str | None:
    tanks = " and tanks" if s.plant.tank or s.vans else ""
    return f"The water made is not drinking water: mark taps{tanks}, and neither sell nor hand it out as such."


def _pressure(s: Situation) -> str | None:
    return "Release the pressure before opening a housing, and stay below the rating of the weakest part."


def _preservative(s: Situation) -> str | None:
    if not s.has_membranes:
        return None
    text = "New membranes carry preservative: wear gloves and rinse to drain for an hour or more"
    behind = " and ".join(name for name, part in (("resin", s.plant.resin), ("tank", s.plant.tank)) if part)
    text += f", with {behind} by-passed." if behind else "."
    return text + " Bleach ruins membranes and resin; for cleaning chemicals follow the supplier's safety data sheet."


def _electricity(s: Situation) -> str | None:
    if s.first(Pump) is None and s.first(DeliveryPump) is None:
        return None
    return (
        "Electricity and water: pumps behind a residual-current device, wired by someone licensed to. A pump "
        "needs a cut-out "
        "or relief valve."
    )


def _copper(s: Situation) -> str | None:
    if not s.has_membranes:
        return None
    return "Product water is slightly acid: no copper or brass behind the membranes."


def _resin_weight(s: Situation) -> str | None:
    vessel = s.plant.resin
    if vessel is None:
        return None
    kilos = 0.76 * vessel.volume / LITRE
    text = f"The resin of one vessel weighs about {kilos:.0f} kg wet, housing and water not counted"
    if kilos > 12.0:
        return text + ": near or above what one person should lift; lift it in two, or wheel it."
    return text + "."


def _tank(s: Situation) -> str | None:
    if s.plant.tank is None:
        return None
    return (
        f"A full tank of {s.plant.tank.volume / LITRE:,.0f} L is {s.plant.tank.volume / LITRE:,.0f} kg of water: "
        "see that floor "
        "or vehicle carries it. It needs an overflow that can take the full inflow."
    )


def _vans(s: Situation) -> str | None:
    if not s.vans:
        return None
    return (
        "A van's tank must be restrained to survive a crash and have baffles; never guess payload and axle "
        "loads: weigh "
        "them. Hot-water vans: scalding."
    )


def _legionella(s: Situation) -> str | None:
    if s.plant.tank is None and not s.vans:
        return None
    text = (
        "Water standing between about 20 and 45 °C can grow legionella, and a brush makes spray: keep it cold "
        "and moving, empty "
        "and disinfect on a schedule. The risk assessment is the owner's duty."
    )
    warm = s.warmest.temperature_c
    return text + (f" Your tap alone reaches {warm:.0f} °C." if warm >= 20.0 else "")


def _idle(s: Situation) -> str | None:
    if not s.has_membranes:
        return None
    return "A plant idle for more than about a week needs a lay-up; behind carbon nothing protects it against slime."


def _frost(s: Situation) -> str | None:
    if s.frost_protected:
        return None
    ruins = " and ruins membranes" if s.has_membranes else ""
    return f"Frost bursts housings{ruins}: water grows by 9 % when it freezes."


def _poles(s: Situation) -> str | None:
    return (
        "Poles and overhead power lines: stay clear by the distance the network operator asks for. Pure water "
        "conducts once it "
        "touches a dirty pole."
    )


RULES: tuple[Rule, ...] = (
    *(_back_flow, _well, _gap, _bans, _pressure, _preservative, _electricity, _copper, _resin_weight),
    *(_tank, _vans, _legionella, _idle, _frost, _drinking, _poles),
)
