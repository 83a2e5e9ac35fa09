"""From five answers to a first site file: what is not known is guessed, and every guess says so in its own line.

Where there is nothing yet, the smallest of a few generic layouts is taken that makes the day's water in time on the
coldest day; each is really solved. The guesses are common practice without a published source.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from rinsewright.catalogue.loader import Catalogue, load_catalogue
from rinsewright.errors import InputError, Problem
from rinsewright.planning.ensemble import bed_of, outlook_of
from rinsewright.planning.tap import tap_of
from rinsewright.plant.part import Fluid
from rinsewright.quantities import BAR
from rinsewright.site import build
from rinsewright.site.document import SiteDocument
from rinsewright.site.reading import read_text
from rinsewright.site.schema import WEEKDAYS
from rinsewright.solve.result import solve_batch

Has = Literal["nothing", "elements", "resin", "tank"]
SIZES = ("4040", "4021", "2540", "2521")

FILL_HOURS = 10.0  # in which a day's water should be made in the cold: overnight
DAYS_IN_TANK = 1.5
COLDEST_C, WARMER_C = 5.0, 14.0  # mains in a cold month, and how much warmer it gets
FLOW_L_MIN = 10.0  # of a running test whose flow nobody measured
SOFT_US_CM = 200.0  # below it resin alone is often the cheapest: about 100 ppm on a cheap meter
DRAIN_AT_BAR = 4.0  # at which restrictors are stamped
PUMP = "centrifugal booster"
MOST_SAG = 0.55  # of the tap's standing pressure that may go while it runs: a little below where the plan stops
STRONG_BAR = 4.0  # of a tap at which more elements come before a pump
CUT_IN = 0.7  # of the pressure at which the switch cuts out
MUCH_L_A_DAY = 2000.0  # above it the largest vessel of resin
CLEAR = 1.06  # of the pressure at which the pump runs, so that its switch leaves it alone
LEAST_BAR = 1.6  # at the membranes: a little above where the plan stops
LEAST_FILLING_DAYS = 10.0  # of resin alone; where it lasts for less membranes come first
MOST_LOSS_BAR = 0.6  # in hose and clean filters of what is proposed: a little below what the plan looks at
GUESS = "guessed: "
NOT_PRINTED = re.compile(r"[\x00-\x1f\x7f]")


@dataclass(frozen=True)
class Answers:
    """The five answers: meter reading, running pressure, litres a working day, coldest water, what there is already.

    ``running_l_min`` and ``coldest_c`` are None where not known. What there is: nothing, so many ``elements`` of a
    ``size``, ``resin_litres`` of resin and nothing before it, or a tank of ``tank_litres``.
    """

    meter_ppm: float
    running_bar: float
    litres_a_day: float
    coldest_c: float | None = None
    running_l_min: float | None = None
    meter_factor: float = 0.5
    has: Has = "nothing"
    size: str = "4040"
    elements: int = 1
    resin_litres: float = 7.0
    tank_litres: float | None = None
    name: str = "New site"


@dataclass(frozen=True)
class FeedLine:
    """What stands between the tap and the plant, by its names in the catalogue."""

    tube: str
    sediment: str
    carbon: str


FEED_LINES = (
    FeedLine("12 mm tube", "10 in fine sediment", "10 in carbon"),
    FeedLine("15 mm tube", "20 in fine sediment", "20 in carbon"),
    FeedLine("22 mm copper pipe", "20 in wide fine sediment", "20 in wide carbon"),
)
"""From the narrowest to the widest; the first is taken that loses little at the plant's flow."""


FLOATS = (12.0, 6.0, 3.0)
"""Flows of float valves [L/min]. Resin alone holds nothing back, so it gets the smallest that fills in time."""


@dataclass(frozen=True)
class Layout:
    """A plant in a few words: so many elements of a size side by side (none: resin alone), with a booster or not."""

    elements: int
    size: str = ""
    pump: bool = False
    drain_l_min: float = 0.0
    resin_litres: float = 25.0
    feed: FeedLine = FEED_LINES[0]
    cut_out_bar: float | None = None
    float_l_min: float = FLOATS[0]
    enough: bool = True  # whether it makes the day's water in time


LAYOUTS = (
    Layout(1, "4021"),
    Layout(1, "4040"),
    Layout(2, "4040"),
    Layout(1, "4040", pump=True),
    Layout(2, "4040", pump=True),
    Layout(3, "4040"),
    Layout(4, "4040"),
    Layout(3, "4040", pump=True),
    Layout(4, "4040", pump=True),
)
"""From the smallest to the largest; a pump wants power and care, so it comes after the second element."""


def start_site(answers: Answers) -> str:
    """A whole site file from five answers.

    Raises :class:`InputError` for answers that no site file takes. A plant that cannot make the water in time is
    still written down, the largest of the layouts: the plan then says what is wrong.
    """
    if answers.has == "elements":
        if answers.size not in SIZES:
            raise InputError(Problem(f'"{answers.size}" is not a size of element; known are {", ".join(SIZES)}'))
        return _text(answers, _fitted(answers, Layout(answers.elements, answers.size), load_catalogue())[0])
    if answers.has == "resin":
        alone = Layout(0, resin_litres=answers.resin_litres, float_l_min=_slow_float(answers))
        return _text(answers, _fitted(answers, alone, load_catalogue())[0])
    alone = Layout(0, resin_litres=25.0, float_l_min=_slow_float(answers))
    if answers.meter_ppm / answers.meter_factor < SOFT_US_CM and _filling_days(answers, alone) >= LEAST_FILLING_DAYS:
        return _text(answers, _fitted(answers, alone, load_catalogue())[0])
    return _text(answers, _smallest(answers))


def next_to_measure(text: str) -> tuple[str, ...]:
    """What would make the answer of a site file surer, the most telling first, by the key in which it goes."""
    return tuple(key for key, missing in _unknown(text, read_text(text)) if missing)


def _unknown(text: str, document: SiteDocument) -> Iterator[tuple[str, bool]]:
    water, supply = document.model.water, document.model.supply
    if supply is not None:
        yield "flow", not supply.flowing or is_guess(text, "flowing")
        yield "standing", supply.standing_bar is None
    if water is not None:
        field, analysed = water.field, water.ions_mg_l is not None
        yield "hardness", not analysed and (field is None or field.hardness_mg_l_caco3 is None)
        yield "coldest", water.season is None or is_guess(text, "coldest_c")
        yield "temperature", is_guess(text, "temperature_c")
        yield "ph", water.ph is None
        yield "report", not analysed


def is_guess(text: str, key: str) -> bool:
    """Whether a line of the text gives this key and says that it is a guess."""
    return re.search(rf"^{key} *=.*# {GUESS}", text, re.MULTILINE) is not None


def _smallest(answers: Answers) -> Layout:
    """The first layout that makes the day's water in time; where none does, the one that makes most."""
    catalogue, found = load_catalogue(), []
    strong = answers.running_bar >= STRONG_BAR
    for layout in sorted(LAYOUTS, key=lambda one: one.pump) if strong else LAYOUTS:
        fitted, made = _fitted(answers, layout, catalogue)
        if made * FILL_HOURS * 60.0 >= answers.litres_a_day:
            return fitted
        found.append((made, fitted))
    return replace(max(found, key=lambda one: one[0])[1], enough=False)


def _slow_float(answers: Answers) -> float:
    """The smallest float valve that makes the day's water in half the time there is."""
    return next((flow for flow in FLOATS[::-1] if 0.5 * flow * FILL_HOURS * 60.0 >= answers.litres_a_day), FLOATS[0])


def _filling_days(answers: Answers, layout: Layout) -> float:
    """Working days that one filling of resin lasts on the tap's own water."""
    document = read_text(_text(answers, layout), "the new site")
    plant, demand = build.build_plant(document, load_catalogue()), build.demand_input(document)
    assert plant.resin is not None  # _text writes both
    assert demand is not None
    tap = tap_of(document).water[np.zeros(1, dtype=np.intp)]
    bed = bed_of(plant.resin, 1, np.random.default_rng(0))
    one = np.ones(1, dtype=bool)
    to_limit = outlook_of(bed, tap, np.asarray(tap.co2), one, demand.limit_ppm, demand.meter_factor).to_limit
    return math.inf if to_limit.value is None else 1e3 * to_limit.value / answers.litres_a_day


def _fitted(answers: Answers, layout: Layout, catalogue: Catalogue) -> tuple[Layout, float]:
    """The layout with a drain, a feed line and a cut-out that suit its flow, and what it makes when cold [L/min].

    That product is 0 where it does not work, or asks too much of the tap, in the coldest or in the warmest water.
    """
    for feed in FEED_LINES:
        fitted = replace(layout, feed=feed, drain_l_min=2.0 * layout.elements)
        warm = _ends(answers, fitted, catalogue)[1]
        if layout.elements and warm.made > 0.0 and warm.drain_bar > 0.0:
            # An orifice: flow with the square root of the pressure.
            wanted = warm.made * (DRAIN_AT_BAR / warm.drain_bar) ** 0.5
            fitted = replace(fitted, drain_l_min=_orifice(wanted, _stock(catalogue)))
        ends = _ends(answers, fitted, catalogue)
        works = all(end.made > 0.0 for end in ends)
        if works and max(end.lost_bar for end in ends) <= MOST_LOSS_BAR:
            break
    smaller = next((flow for flow in FLOATS if flow < layout.float_l_min), None)
    if not works and not layout.elements and smaller is not None:
        return _fitted(answers, replace(layout, float_l_min=smaller), catalogue)
    if layout.pump and works:
        fitted = replace(fitted, cut_out_bar=_cut_out(ends))
    return fitted, ends[0].made if works else 0.0


def _cut_out(ends: Sequence[End]) -> float:
    """Pressure [bar] for the pump's switch: half way from the most it runs at to what it reaches shut."""
    highest = max(end.membrane_bar for end in ends)
    return round(max(0.5 * (highest + ends[0].shut_bar), CLEAR * highest), 1)


def _orifice(wanted: float, stock: Sequence[float]) -> float:
    """The smallest in ``stock`` for a flow [L/min]; for more than the largest passes, several of it beside another."""
    beside = stock[-1] * max(0, math.ceil(wanted / stock[-1]) - 1)
    return beside + next(flow for flow in stock if flow >= wanted - beside)


def _stock(catalogue: Catalogue) -> list[float]:
    """Orifices in the catalogue by their flow [L/min] at :data:`DRAIN_AT_BAR`."""
    known = [entry.values for entry in catalogue.entries["restrictors"].values()]
    return sorted(one["flow_l_min"] for one in known if one["exponent"] > 0.0 and one["at_bar"] == DRAIN_AT_BAR)


@dataclass(frozen=True)
class End:
    """A layout at one end of the year: product [L/min], 0 if it fails, and pressures [bar].

    They stand at the drain end and at the membranes; ``lost_bar`` goes in the feed line, and ``shut_bar`` is what
    tap and pump give together where nothing flows.
    """

    made: float
    drain_bar: float
    membrane_bar: float
    lost_bar: float
    shut_bar: float


def _ends(answers: Answers, layout: Layout, catalogue: Catalogue) -> tuple[End, ...]:
    """The layout in the coldest and in the warmest water."""
    document = read_text(_text(answers, layout), "the new site")
    plant, season = build.build_plant(document, catalogue), build.season_input(document)
    assert season is not None  # _text writes one
    water = tap_of(document).water[np.zeros(2, dtype=np.intp)]
    water = water.with_temperature(np.array([season.coldest_k, season.warmest_k]))
    standing = np.full(2, plant.supply.standing_pa)
    batch = solve_batch(plant, water, standing)
    columns, fluid, flow = batch.columns(), Fluid.at(water.temperature_k), batch.state.tap_flow
    lost = sum((np.maximum(part.drop(flow, fluid), 0.0) for part in plant.feed), start=np.zeros(2)) / BAR
    shut = (plant.supply.standing_pa + (plant.pump.dead_head_pa if plant.pump else 0.0)) / BAR
    sag = 1.0 - plant.supply.pressure(flow, standing) / standing
    works = batch.works & (sag <= MOST_SAG)
    if layout.elements:
        works &= columns["membrane_bar"] >= LEAST_BAR
    return tuple(
        End(float(made), float(drain), float(membrane), float(loss), shut) if ok else End(0.0, 0.0, 0.0, 0.0, shut)
        for made, drain, membrane, loss, ok in zip(
            columns["product_l_min"], columns["drain_bar"], columns["membrane_bar"], lost, works, strict=True
        )
    )


def _text(answers: Answers, layout: Layout) -> str:
    """The site file."""
    return "\n\n".join((*_given(answers), *_plant(answers, layout))) + "\n"


def _given(answers: Answers) -> Iterator[str]:
    """What was answered, and what is guessed with it."""
    name = NOT_PRINTED.sub("", answers.name).strip() or "New site"
    yield (
        "# Made from five answers. A line that says so is a guess, common practice without a published source:\n"
        "# put what is measured in its place and take the remark away."
    )
    yield "schema = 1"
    yield f"[site]\nname = {json.dumps(name, ensure_ascii=False)}"
    coldest = COLDEST_C if answers.coldest_c is None else answers.coldest_c
    warmest = min(45.0, coldest + WARMER_C)
    yield (
        f"[water]\ntemperature_c = {0.5 * (coldest + warmest):g}  # {GUESS}between the coldest and the warmest water"
    )
    yield f"[water.field]\nmeter_ppm = {answers.meter_ppm:g}\nmeter_factor = {answers.meter_factor:g}"
    remark = f"  # {GUESS}mains in a cold month" if answers.coldest_c is None else ""
    yield (
        f"[water.season]\ncoldest_c = {coldest:g}{remark}\n"
        f"warmest_c = {warmest:g}  # {GUESS}{WARMER_C:g} °C above the coldest"
    )
    flow = FLOW_L_MIN if answers.running_l_min is None else answers.running_l_min
    remark = f"  # {GUESS}the flow, of a tap well open" if answers.running_l_min is None else ""
    yield (
        '[supply]\nkind = "mains"\n'
        f"flowing = [{{ flow_l_min = {flow:g}, pressure_bar = {answers.running_bar:g} }}]{remark}"
    )
    days = ", ".join(f"{day} = {answers.litres_a_day:g}" for day in WEEKDAYS[:5])
    yield (
        f"[demand]\nlitres_per_day = {{ {days}, sat = 0, sun = 0 }}  # {GUESS}Monday to Friday alike\n"
        f"product_limit_ppm = 10  # {GUESS}where resin is usually changed\nmeter_factor = {answers.meter_factor:g}"
    )


def _vessel(answers: Answers, layout: Layout) -> float:
    """Litres of resin behind membranes."""
    if answers.litres_a_day > MUCH_L_A_DAY:
        return 25.0
    return 11.0 if layout.elements > 1 else 7.0


def _pump(cut_out_bar: float | None) -> Iterator[str]:
    """The pump with its pressure switch; that it stops itself before it runs dry the catalogue says."""
    yield f'[[plant.feed]]\npart = "pump"\nsize = "{PUMP}"  # {GUESS}the tap alone is too weak'
    if cut_out_bar is not None:
        yield f"cut_out_bar = {cut_out_bar:g}  # {GUESS}half way from what it runs at to what it reaches shut"
        yield f"cut_in_bar = {CUT_IN * cut_out_bar:.1f}  # {GUESS}seven tenths of the cut-out"


def _plant(answers: Answers, layout: Layout) -> Iterator[str]:
    """The plant in flow order; parts are generic sizes of the catalogue."""
    yield (
        '[plant]\narrangement = "parallel"\n\n'
        f'[[plant.feed]]\npart = "tube"\nsize = "{layout.feed.tube}"  # {GUESS}wide enough for the flow\n'
        f"length_m = 6.0  # {GUESS}from the tap to the plant\nfittings_k = 3.0  # {GUESS}a few elbows"
    )
    yield (
        f'[[plant.feed]]\npart = "cartridge"\nmedia = "sediment"\nsize = "{layout.feed.sediment}"'
        f"  # {GUESS}large enough for the flow"
    )
    if layout.elements:
        yield (
            f'[[plant.feed]]\npart = "cartridge"\nmedia = "carbon"\nsize = "{layout.feed.carbon}"'
            f"  # {GUESS}large enough for the flow"
        )
        if layout.pump:  # behind the cartridges, whose housings then see the tap's pressure alone
            yield "\n".join(_pump(layout.cut_out_bar))
        why = "the smallest that makes the water in time" if layout.enough else "the most that this tap feeds"
        remark = "" if answers.has == "elements" else f"  # {GUESS}{why}"
        for _ in range(layout.elements):
            yield f'[[plant.membranes]]\npart = "{layout.size} low pressure"{remark}'
        yield (
            f'[[plant.drain]]\npart = "restrictor"\nflow_l_min = {layout.drain_l_min:g}  # {GUESS}about as much to '
            f"drain as is made\nat_bar = {DRAIN_AT_BAR:g}\nexponent = 0.5"
        )
        yield '[[plant.product]]\npart = "check"\n\n[[plant.product]]\npart = "shutoff"'
    litres = layout.resin_litres if not layout.elements else _vessel(answers, layout)
    remark = "" if answers.has == "resin" else f"  # {GUESS}a usual vessel"
    yield f'[[plant.product]]\npart = "resin"\nlitres = {litres:g}{remark}'
    given = answers.tank_litres is not None
    tank = answers.tank_litres or max(100.0, 50.0 * math.ceil(DAYS_IN_TANK * answers.litres_a_day / 50.0))
    remark = "" if given else f"  # {GUESS}about a day and a half"
    yield (
        f'[[plant.product]]\npart = "tank"\nlitres = {tank:g}{remark}\n'
        f"height_mm = 1000  # {GUESS}a usual height\nfloat_band_mm = 60  # {GUESS}a usual float valve\n"
        f"float_open_l_min = {layout.float_l_min:g}  # {GUESS}"
        f"{'a half-inch float valve' if layout.float_l_min == FLOATS[0] else 'a small float valve'}"
    )
