"""The handover pack: what the customer should know of this plant, in plain words, and of nothing that it has not.

What is said of weeks, months and spots is common practice and has no published source; numbers are this plant's own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from rinsewright.firstrun.record import FirstRun
from rinsewright.firstrun.wording import band_in_words
from rinsewright.planning.cautions import cautions
from rinsewright.planning.plan import Plan
from rinsewright.planning.resin_year import two
from rinsewright.planning.situation import Situation
from rinsewright.planning.wording import THROTTLED
from rinsewright.planning.year import tank_use
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.treatment import Cartridge, Inhibitor, Softener
from rinsewright.plant.layout import Plant
from rinsewright.plant.product.line import DeliveryPump
from rinsewright.quantities import LITRE

Band = dict[str, float | None]


@dataclass(frozen=True)
class Handover:
    """The pack's sections, as sentences."""

    site_name: str
    country: str
    does: tuple[str, ...]
    rounds: tuple[tuple[str, tuple[str, ...]], ...]  # title, what to do
    meter: tuple[tuple[str, str], ...]  # reading, what it means
    spots: tuple[str, ...]
    call: tuple[str, ...]
    tell: tuple[str, ...]
    cautions: tuple[str, ...]


def handover_of(plan: Plan, run: FirstRun) -> Handover:
    """The pack of a planned plant, with its first run's bands."""
    s, answer = plan.situation, plan.answer()
    plant = s.plant
    every = (("Each week", _week(plant)), ("Each month", _month(s)), ("Through the year", _season(s, answer)))
    return Handover(
        site_name=plan.site_name,
        country=s.country or "",
        does=tuple(_does(plant, answer)),
        rounds=tuple((title, texts) for title, found in every if (texts := tuple(found))),
        meter=tuple(_meter(s, answer, plan.limit_ppm, run)) if plant.resin is not None else (),
        spots=tuple(_spots(plant, bool(s.vans))),
        call=tuple(_call(s, run, plan.limit_ppm)),
        tell=tuple(_tell(s)),
        cautions=tuple(cautions(s)),
    )


def _does(plant: Plant, answer: dict[str, Any]) -> Iterator[str]:
    today, coldest = answer["today"], answer["coldest"]
    if plant.elements:
        count = len(plant.elements)
        membranes = "a membrane" if count == 1 else f"{count} membranes"
        polish = " A little resin takes out the rest." if plant.resin is not None else ""
        yield (
            f"Tap water is pressed through {membranes}: pure water passes, and what it leaves behind runs to the "
            f"drain.{polish}"
        )
    else:
        yield "Tap water passes a bed of resin, which takes out what would leave spots."
    before = [f"a {part.media} filter" for part in plant.feed if isinstance(part, Cartridge)]
    before += ["a softener" for part in plant.feed if isinstance(part, Softener)]
    before += ["a doser against scale" for part in plant.feed if isinstance(part, Inhibitor)]
    before += ["a booster pump" for part in plant.feed if isinstance(part, Pump)]
    if before:
        yield f"On the way there: {', '.join(before)}."
    made = today["product"]["flow_l_min"]
    winter = "" if coldest is None else f", {coldest['product']['flow_l_min']:.1f} in the coldest"
    yield (
        f"From a tap that reads {today['feed']['meter_ppm']:.0f} ppm it makes {made:.1f} L/min with the water of the "
        f"first day{winter}."
    )
    if plant.elements:
        yield f"For each litre made, {_wasted(answer)}. That is how it stays clean."
    if plant.tank is not None:
        fills = (
            "fills and stops by itself"
            if plant.tank.float_valve
            else "has no float valve: shut the tap when it is full"
        )
        yield f"The tank holds {plant.tank.volume / LITRE:.0f} L; it {fills}."


def _wasted(answer: dict[str, Any]) -> str:
    at_full, year = answer["today"]["drain_l_per_product_l"], answer["year"]
    made, wasted = year["product_m3"]["value"], year["drain_m3"]["value"]
    if not made or wasted / made < THROTTLED * at_full:
        return f"{at_full:.1f} L go to the drain"
    return f"{at_full:.1f} L go to the drain at full flow, over the year {wasted / made:.1f}"


def _week(plant: Plant) -> Iterator[str]:
    yield "Read the meter" + (" before and after the resin" if plant.resin and plant.elements else "") + ", note it."
    yield "Look under every joint for drips."
    if plant.elements and plant.shutoff is not None:
        when = "With the tank full" if plant.tank is not None else "With the brush shut"
        yield f"{when}, the drain must be still. If it runs, it runs day and night: call."
    elif plant.elements:
        yield "Shut the tap when you stop: while it is open, water runs to the drain."
    if plant.tank is not None:
        yield "Look into the tank: clear, no slime, lid on."


def _month(s: Situation) -> Iterator[str]:
    plant = s.plant
    if plant.elements:
        yield (
            "Catch product and drain in a bucket for a minute each, read the thermometer, and note all three: "
            f"{_full_flow(s)}."
        )
    if plant.elements and any(isinstance(part, Cartridge) for part in plant.feed):
        yield "Read the gauge before the membranes while it runs; a fall means that a filter is filling up."
    if any(isinstance(part, Softener) for part in plant.feed):
        yield "Look whether the softener has salt."
    if any(isinstance(part, Inhibitor) for part in plant.feed):
        yield "Look whether the doser has inhibitor."
    if any(isinstance(part, Pump | DeliveryPump) for part in (*plant.feed, *plant.product)):
        yield "Press the test button of the residual-current device that feeds the pump."
    if plant.tank is not None or s.vans:
        yield "Empty and clean what holds water, on the schedule of your own risk assessment."


def _season(s: Situation, answer: dict[str, Any]) -> Iterator[str]:
    plant, coldest = s.plant, answer["coldest"]
    if not s.frost_protected:
        yield "Before the first frost: empty everything that holds water, or keep it warm. Frost bursts it."
    if plant.elements and coldest is not None:
        slow = coldest["product"]["flow_l_min"] / answer["today"]["product"]["flow_l_min"]
        if slow < 0.95:
            yield f"In the coldest water it makes {100 * slow:.0f} % of what it makes today: start filling earlier."
    for row in answer["cartridges"]:
        if row["days"] is not None:
            yield f"Change the {row['media']} cartridge about every {row['days'] / 30.4:.0f} months."
    membranes = answer["membranes"]
    if membranes is not None and membranes["years"] is not None:
        yield f"Expect new membranes after about {membranes['years']:.0f} years."
    if plant.elements:
        yield "If it is to stand for more than a week, ask how to lay it up: do not just leave it."


def _meter(s: Situation, answer: dict[str, Any], limit: float, run: FirstRun) -> Iterator[tuple[str, str]]:
    plant, resin = s.plant, answer["resin"] or {}
    plateau = resin.get("plateau_meter_ppm", {}).get("value")
    yield "000 or 001", "The resin is fresh."
    if plateau is not None and 1.5 <= plateau < limit:
        yield (
            f"about {plateau:.0f} ppm, for weeks",
            "Carbonic acid that the membranes let through. It leaves nothing on the glass: keep the resin."
            if plant.elements
            else "Carbonic acid. It leaves nothing on the glass: keep the resin.",
        )
    yield "climbing from day to day", "The resin is coming to its end: order now."
    yield f"{limit:.0f} ppm", f"Change the resin.{_fillings(s, resin.get('litres_to_limit', {}))}"
    if plant.elements:
        yield from _before_resin(s, answer, run)


def _fillings(s: Situation, at_full: Band) -> str:
    """How long a filling lasts as the year runs; at full flow, where that is all that is known or much more."""
    year = s.resin_year
    if year is None or not year.told():
        return _litres(at_full)
    value = at_full.get("value")
    if not year.saltier or value is None:
        return f" {year.told()}"
    return f" {year.told()} {year.always_at_full_flow}, it may last {two(value)} L."


def _litres(band: Band) -> str:
    value, low, high = (band.get(key) for key in ("value", "low", "high"))
    if value is None:
        return ""
    if low is None or high is None or high > 5.0 * low:
        return " How long a filling lasts is not well known beforehand: note the litres."
    return f" One filling lasts about {two(value)} L ({two(low)} to {two(high)})."


def _before_resin(s: Situation, answer: dict[str, Any], run: FirstRun) -> Iterator[tuple[str, str]]:
    """What the membranes should give; a throttled plant reads more every day, and nobody is to call for that."""
    year, band = s.resin_year, run.narrowed["product_meter_ppm"]
    told = band_in_words(band, "product_meter_ppm")
    if year is None or year.ordinary is None or not year.saltier or band.value is None:
        yield (
            f"before the resin: {told}",
            "What the membranes should give. If it rises and stays up, call: the resin pays for it.",
        )
        return
    as_found = band.value / answer["today"]["product"]["meter_ppm"]
    low, high = (as_found * value for value in year.ordinary)
    yield (
        f"before the resin, at full flow: {told}",
        f"What the membranes should give, read {_full_flow(s)}. If that rises and stays up, call: the resin pays for "
        "it.",
    )
    when = (
        "while the float valve lets little through, as when somebody draws from a nearly full tank"
        if s.plant.tank is not None
        else "while the brush lets little through"
    )
    yield (
        f"before the resin, day by day: about {low:.0f} to {high:.0f} ppm through the year",
        f"Ordinary: it reads most in the first minutes after a start, {when}, and in warm water.",
    )


def _full_flow(s: Situation) -> str:
    """When the plant runs at full flow, for somebody who is to read it then."""
    if s.plant.tank is None:
        return "ten minutes after it started, with the brush wide open"
    use = tank_use(s.plant.tank)
    if use is None or not use.floats:
        return "ten minutes after it started"
    down = 10 * math.ceil(use.band / LITRE / 10)
    return f"ten minutes after it started, with the tank at least {down:.0f} L down and nobody drawing"


def _spots(plant: Plant, vans: bool) -> Iterator[str]:
    yield "Is it the first clean of these windows? Dirt from frames and vents runs for two or three cleans."
    yield "Rinse the brush out: is detergent or old dirt in it?"
    yield "Rinse the top frame first, let it run off, then the glass, with more water."
    if vans:
        yield "Was the van's tank ever topped up from a tap? Read it."
    if plant.tank is not None:
        yield "Read the meter at the tank, then at the brush. If they differ, it is hose or brush, not the plant."
    else:
        yield "Read the meter at the plant, then at the brush. If they differ, it is hose or brush, not the plant."
    yield "Is it silica? The meter does not see it. Let a drop dry on clean glass: look for a haze that stays."


def _call(s: Situation, run: FirstRun, limit: float) -> Iterator[str]:
    plant = s.plant
    yield "Anything drips or bulges: shut the tap first."
    made = run.narrowed["product_l_min"]
    if plant.elements and made.low is not None:
        yield f"With water as warm as on the first day it makes less than {0.85 * made.low:.1f} L/min at full flow."
    reading = run.narrowed["product_meter_ppm"]
    if plant.elements and reading.high is not None:
        much = f"more than {1.5 * reading.high:.0f} ppm before the resin"
        if s.resin_year is not None and s.resin_year.saltier:
            yield f"At full flow the product reads {much}, on two days running. Read it {_full_flow(s)}."
        else:
            yield f"The product reads {much} for more than a day."
    if plant.resin is not None:
        yield f"New resin reads {limit:.0f} ppm again within days."
    if plant.elements and plant.shutoff is not None:
        yield "The drain runs with the product shut."
    if any(isinstance(part, Pump) for part in plant.feed):
        yield "The pump is loud, hot, or starts and stops every few seconds."
    if plant.elements:
        yield "It has frozen: do not open the tap."


def _tell(s: Situation) -> Iterator[str]:
    if s.plant.supply.kind == "mains":
        if s.country == "GB" and s.has_membranes:
            yield (
                "The water supplier: in Great Britain reverse-osmosis units, and pumps drawing more than 12 L/min, "
                "are to be notified before they are installed."
            )
        else:
            yield "The water supplier: ask whether the plant must be notified, and which back-flow protection it needs."
    else:
        yield "Whoever is responsible for the source: ask what may be drawn from it."
    if s.has_membranes:
        yield "Whoever is responsible for the sewer or the ground: where the drain water may go is for local rules."
    yield "Your insurer, and your landlord if the building is not yours."
    yield "In a dry season: ask whether a ban on hoses touches filling a tank."
