"""The handover pack: what the customer should know of this plant, in plain words, and of nothing that it has not.

What is said of weeks, months and spots is common practice and has no published source; numbers are this plant's own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from rinsewright.firstrun.record import FirstRun
from rinsewright.firstrun.wording import band_in_words
from rinsewright.planning.cautions import cautions
from rinsewright.planning.plan import Plan
from rinsewright.planning.situation import Situation
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
        meter=tuple(_meter(plant, answer, plan.limit_ppm, run)) if plant.resin is not None else (),
        spots=tuple(_spots(plant, bool(s.vans))),
        call=tuple(_call(plant, run, plan.limit_ppm)),
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
        wasted = today["drain_l_per_product_l"]
        yield f"For each litre made, {wasted:.1f} L go to the drain. That is how it stays clean."
    if plant.tank is not None:
        fills = (
            "fills and stops by itself"
            if plant.tank.float_valve
            else "has no float valve: shut the tap when it is full"
        )
        yield f"The tank holds {plant.tank.volume / LITRE:.0f} L; it {fills}."


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
        yield "Catch product and drain in a bucket for a minute each, read the thermometer, and note all three."
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


def _meter(plant: Plant, answer: dict[str, Any], limit: float, run: FirstRun) -> Iterator[tuple[str, str]]:
    resin = answer["resin"] or {}
    plateau, litres = resin.get("plateau_meter_ppm", {}).get("value"), resin.get("litres_to_limit", {})
    yield "000 or 001", "The resin is fresh."
    if plateau is not None and 1.5 <= plateau < limit:
        yield (
            f"about {plateau:.0f} ppm, for weeks",
            "Carbonic acid that the membranes let through. It leaves nothing on the glass: keep the resin."
            if plant.elements
            else "Carbonic acid. It leaves nothing on the glass: keep the resin.",
        )
    yield "climbing from day to day", "The resin is coming to its end: order now."
    much = _litres(litres)
    yield f"{limit:.0f} ppm", f"Change the resin{much}."
    if plant.elements:
        yield (
            f"before the resin: {band_in_words(run.narrowed['product_meter_ppm'], 'product_meter_ppm')}",
            ("What the membranes should give. If it rises and stays up, call: the resin pays for it."),
        )


def _litres(band: Band) -> str:
    value, low, high = (band.get(key) for key in ("value", "low", "high"))
    if value is None:
        return ""
    if low is None or high is None or high > 5.0 * low:
        return ". How long a filling lasts is not well known beforehand: note the litres"
    about, least, most = (f"{float(f'{litres:.2g}'):,.0f}" for litres in (value, low, high))
    return f". One filling lasts about {about} L ({least} to {most})"


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


def _call(plant: Plant, run: FirstRun, limit: float) -> Iterator[str]:
    yield "Anything drips or bulges: shut the tap first."
    made = run.narrowed["product_l_min"]
    if plant.elements and made.low is not None:
        yield f"With water as warm as on the first day it makes less than {0.85 * made.low:.1f} L/min."
    reading = run.narrowed["product_meter_ppm"]
    if plant.elements and reading.high is not None:
        yield f"The product reads more than {1.5 * reading.high:.0f} ppm before the resin for more than a day."
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
