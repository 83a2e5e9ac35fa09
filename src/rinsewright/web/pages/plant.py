"""Plant: what will it do? The water's way as a drawing that moves with the water's temperature and the tap's pressure.

What is wrong is the plan's while the sliders stand as the site file has them. Elsewhere the rules that look at one
working state judge the one that is there, and what is about the year stays the plan's.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from urllib.parse import quote, urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.api import Site, SolveReport
from rinsewright.errors import InputError, NoWorkingState, RinsewrightError
from rinsewright.jobs.water_path import still_path, verdict_words, water_path
from rinsewright.papers.content import Reading, Tag, WaterPath
from rinsewright.papers.content import Verdict as Word
from rinsewright.papers.drawing import WIDEST, draw_tall, draw_wide
from rinsewright.papers.drawing.lettering import describe
from rinsewright.papers.units import Quantity, Telling, Units
from rinsewright.papers.words import number, opening
from rinsewright.planning.points import at_one_point
from rinsewright.planning.verdicts import ORDER, judge
from rinsewright.planning.verdicts.word import Verdict
from rinsewright.plant.layout import Plant
from rinsewright.quantities import BAR, celsius
from rinsewright.site import build
from rinsewright.web.forms import Typed
from rinsewright.web.view import book_of, engine_of, page, units_of
from rinsewright.web.words import words

COLDEST_C, WARMEST_C = 1.0, 30.0  # the sliders reach at least so far
LOWEST_BAR, HIGHEST_BAR = 0.5, 8.0
BREAK_TANK_BAR = 1.0  # ten metres of water are no low tank above its pump
STEPS = {"°C": 0.5, "°F": 1.0, "bar": 0.1, "psi": 1.0}
MOST_C, MOST_BAR = 45.0, 25.0  # what the engine takes
PLACE = ("temperature", "pressure")  # names of the sliders in an address


@dataclass(frozen=True)
class Slider:
    """One thing to be moved: as numbers in the user's unit, and the site file's value said in words."""

    name: str
    low: str
    high: str
    step: str
    value: str
    said: str


@dataclass(frozen=True)
class PartLine:
    """A part in the list below the drawing, with what is wrong there."""

    key: str
    address: str
    name: str
    size: str
    readings: str
    word: Word | None
    findings: tuple[Verdict, ...]


@dataclass(frozen=True)
class Worst:
    """The worst of what is wrong, in a line at the sliders; ``more`` of it is in the list."""

    what: str
    verdict: Word
    key: str
    more: int


@dataclass(frozen=True)
class PlantPage:
    """The page.

    ``refusal`` says why it does not work where the sliders are, ``moved`` in words where they are unless that is as the
    site file has it, ``judged`` whether the plan is made.
    """

    slug: str
    address: str
    first: str
    rest: tuple[str, ...]
    refusal: str | None
    path: WaterPath
    links: Mapping[str, str]
    title: str
    sliders: tuple[Slider, ...]
    moved: str
    judge: str
    worst: Worst | None
    parts: tuple[PartLine, ...]
    whole: tuple[Verdict, ...]
    judged: bool

    @cached_property
    def tall(self) -> str:
        """The drawing for a phone. Drawn when the template asks: moving a slider asks for one drawing alone."""
        return draw_tall(self.path).svg("path-tall", self.title, describe(self.path), self.links)

    @cached_property
    def wide(self) -> str | None:
        """The drawing for a wide screen; None where the plant is too long for one."""
        drawn = draw_wide(self.path)
        return drawn.svg("path-wide", self.title, describe(self.path), self.links) if drawn.width <= WIDEST else None


@dataclass(frozen=True)
class State:
    """A plant where the sliders are: solved, or why not."""

    plant: Plant
    temperature_c: float
    standing_bar: float
    outcome: SolveReport | NoWorkingState
    moved: bool = False  # from where the site file has it


# ---- the working state ----


def plant_of(site: Site) -> Plant:
    """The plant, also where it passes a rating (which is then shown at its part)."""
    try:
        return site.plant
    except NoWorkingState:
        return build.build_plant(site.document, site.catalogue)


def state_of(site: Site, temperature_c: float | None, standing_bar: float | None) -> State:
    """Solve a site where the sliders are; None: as the site file has it."""
    plant = plant_of(site)
    stated_c, stated_bar = stated(site, plant)
    temperature = stated_c if temperature_c is None else temperature_c
    standing = stated_bar if standing_bar is None else standing_bar
    outcome: SolveReport | NoWorkingState
    try:
        outcome = site.solve(temperature_c, standing_bar)
    except NoWorkingState as reason:
        outcome = reason
    return State(plant, temperature, standing, outcome, moved=temperature_c is not None or standing_bar is not None)


def stated(site: Site, plant: Plant) -> tuple[float, float]:
    """The water's temperature [°C] and the tap's standing pressure [bar] as the site file has them."""
    return float(celsius(site.tap.water.temperature_k[0])), plant.supply.standing_pa / BAR


def moved_to(units: Units, quantity: Quantity, asked: float | None, value: float) -> float | None:
    """Where a slider was moved to; None where it is as near to the stated ``value`` as its steps let it come."""
    unit = units.unit(quantity)
    if asked is None or abs(unit.show(asked) - unit.show(value)) <= 0.5 * STEPS[unit.word] + 1e-9:
        return None
    return asked


def tags_in(units: Units, factor: float) -> Callable[..., Tag]:
    """Tags as :meth:`Tag.of` makes them, in the user's units, briefly; ``factor`` is the meter's of the numbers."""
    names: dict[str, Quantity] = {"pressure_bar": "pressure", "flow_l_min": "flow", "meter_ppm": "reading"}

    def tag_of(verdict: Word | None = None, **values: float | None) -> Tag:
        readings = [
            Reading(units.number(quantity, value, factor), units.unit(quantity, factor).word.removeprefix("US "))
            for name, quantity in names.items()
            if (value := values.get(name)) is not None
        ]
        return Tag(tuple(readings), verdict)

    return tag_of


def path_of(state: State, units: Units, marks: dict[str, Word]) -> WaterPath:
    """What is drawn: with its numbers where there is a working state, else the bare parts with the one that stops."""
    if isinstance(state.outcome, NoWorkingState):
        return Telling.of(units).retold(still_path(state.plant, marks))
    solved = state.outcome.solved
    return Telling.of(units).retold(water_path(state.plant, solved, marks, tags_in(units, solved.meter_factor)))


# ---- what is wrong, and where ----


def place_of(key: str, plant: Plant) -> str:
    """The part of the drawing at which a verdict's key is shown; empty for none in particular."""
    line, _, _ = key.partition("[")
    if line in ("plant.feed", "plant.product", "plant.drain", "plant.membranes") and "[" in key:
        return key
    if key == "plant.drain" and plant.drain:
        return plant.drain[-1].key
    if key == "plant.feed":
        return plant.feed[-1].key if plant.feed else "supply"
    if key == "plant.product" and plant.product:
        return plant.product[0].key
    if key.startswith(("supply", "water")):
        return "supply"
    return "brush" if key.startswith("demand") else ""


def judged_at(site: Site, state: State, plan: Sequence[Verdict]) -> tuple[Verdict, ...]:
    """What is said where the sliders are: all of the plan as the site file has them, else only what is not of a state.

    The working state itself is judged anew; where there is none, the reason for that says it all.
    """
    if not state.moved:
        return tuple(plan)
    kept = (verdict for verdict in plan if verdict.about != "state")
    if isinstance(state.outcome, NoWorkingState):
        return tuple(kept)
    return (*judge(at_one_point(site.document, site.tap, state.outcome.solved), ["state"]), *kept)


def worst_of(findings: Mapping[str, Sequence[Verdict]], *, moved: bool) -> Worst | None:
    """The worst finding with its place, or None; where the sliders were moved, of what moves with them."""
    found = [(place, one) for place, those in findings.items() for one in those if not moved or one.about == "state"]
    if not found:
        return None
    place, worst = min(found, key=lambda item: ORDER.index(item[1].verdict))
    return Worst(opening(worst.what), worst.verdict, place, len(found) - 1)


def findings_of(verdicts: Sequence[Verdict], plant: Plant) -> dict[str, tuple[Verdict, ...]]:
    """Verdicts other than *fine* by the part at which they are shown; under "" those of the whole plant."""
    found: dict[str, tuple[Verdict, ...]] = {}
    for verdict in verdicts:
        if verdict.verdict != "fine":
            place = place_of(verdict.key, plant)
            found[place] = (*found.get(place, ()), verdict)
    return found


def marks_of(findings: dict[str, tuple[Verdict, ...]]) -> dict[str, Word]:
    """The worst word by part, as the drawing takes it."""
    marks = verdict_words([(place, one.verdict) for place, those in findings.items() for one in those])
    return {**marks, **({"supply.flowing": marks["supply"]} if "supply" in marks else {})}


def refusal_of(reason: NoWorkingState, plant: Plant) -> Verdict:
    """Why there is no working state, as a verdict at the part that forbids it."""
    do = words()("plant.refused_do")
    at = place_of(reason.part or "", plant)
    return Verdict(words()("plant.refused"), "stop", plainly(reason), do, at, "state")


def plainly(reason: NoWorkingState) -> str:
    """The reason as a sentence, without its place in the site file."""
    told = re.sub(rf"^.*?{re.escape(reason.part)}[.\w]*: ", "", reason.reason) if reason.part else reason.reason
    text = re.sub(r" ?\((?:supply|plant)\.[^)]*\)", "", told)
    return f"{opening(text)}." if not text.endswith(".") else opening(text)


# ---- the page ----


def show(request: Request) -> Response:
    """The page, or the fragments of it that moving a slider asks for (``?temperature=…&pressure=…``)."""
    slug = request.path_params["slug"]
    toml = book_of(request).current(slug).toml
    engine, units = engine_of(request), units_of(request)
    plan, judged = _verdicts(request, toml)
    typed = Typed(dict(request.query_params), units)
    temperature = typed.quantity("temperature", "temperature", 0.0, MOST_C, optional=True)
    standing = typed.quantity("pressure", "pressure", 0.0, MOST_BAR, optional=True)
    if not typed.ok:
        temperature = standing = None
    site = engine.site(toml)
    stated_c, stated_bar = stated(site, plant_of(site))
    temperature = moved_to(units, "temperature", temperature, stated_c)
    standing = moved_to(units, "pressure", standing, stated_bar)
    state = state_of(site, temperature, standing)
    return page(request, "plant.html", content(request, units, site, state, plan, judged=judged))


def _verdicts(request: Request, toml: str) -> tuple[tuple[Verdict, ...], bool]:
    """The plan's verdicts if it is made already, or asked for with ``?judged=yes``."""
    engine = engine_of(request)
    if "judged" not in request.query_params:
        plan = engine.plan_if_known(toml)
        return (plan.verdicts, True) if plan else ((), False)
    try:
        return engine.plan(toml).verdicts, True
    except NoWorkingState:  # the drawing says so
        return (), True
    except RinsewrightError as refusal:
        lacks = refusal.problems[0].message if isinstance(refusal, InputError) else str(refusal)
        why, do = f"{opening(lacks)}.", words()("plant.no_plan_do")
        return (Verdict(words()("plant.no_plan"), "look", why, do, about="year"),), True


def content(
    request: Request,
    units: Units,
    site: Site,
    state: State,
    plan: Sequence[Verdict],
    *,
    judged: bool,
) -> PlantPage:
    """Everything on the page."""
    slug = request.path_params["slug"]
    address = str(request.app.url_path_for("plant", slug=slug))
    place = {slider: request.query_params[slider] for slider in PLACE if slider in request.query_params}
    factor = build.meter_factor(site.document)
    findings = findings_of(
        [
            replace(one, why=units.retell(one.why, factor), do=units.retell(one.do, factor))
            for one in judged_at(site, state, plan)
        ],
        state.plant,
    )
    refusal = None
    if isinstance(state.outcome, NoWorkingState):
        stopped = refusal_of(state.outcome, state.plant)
        findings[stopped.key] = (stopped, *findings.get(stopped.key, ()))
        refusal = stopped.why
    path = path_of(state, units, marks_of(findings))
    links = {part.key: part_address(request, slug, part.key) for part in path.parts()}
    first, *rest = _sentences(site, state, units)
    return PlantPage(
        slug=slug,
        address=address,
        first=first,
        rest=tuple(rest),
        refusal=refusal,
        path=path,
        links=links,
        title=words()("plant.drawing", site=site.name),
        sliders=_sliders(site, state, units),
        moved=_where(state, units) if state.moved else "",
        judge=f"{address}?{urlencode({'judged': 'yes', **place})}",
        worst=worst_of(findings, moved=state.moved),
        parts=tuple(_lines(path, links, findings)),
        whole=findings.get("", ()),
        judged=judged,
    )


def part_address(request: Request, slug: str, key: str) -> str:
    """Where a part can be seen and changed."""
    return f"{request.app.url_path_for('plant', slug=slug)}/{quote(key)}"


def _lines(path: WaterPath, links: dict[str, str], findings: dict[str, tuple[Verdict, ...]]) -> Iterator[PartLine]:
    for part in path.parts():
        tag = part.tag or Tag()
        readings = ", ".join(f"{reading.number}\N{NO-BREAK SPACE}{reading.unit}" for reading in tag.readings)
        here = findings.get(part.key, ())
        yield PartLine(part.key, links[part.key], opening(part.name), part.size_text, readings, tag.verdict, here)


def _where(state: State, units: Units) -> str:
    temperature, pressure = units.say("temperature", state.temperature_c), units.say("pressure", state.standing_bar)
    return words()("plant.place", temperature=temperature, pressure=pressure)


def _sentences(site: Site, state: State, units: Units) -> Iterator[str]:
    t = words()
    if isinstance(state.outcome, NoWorkingState):
        yield t("plant.makes_none")
        return
    answer, factor = state.outcome.answer(), state.outcome.solved.meter_factor
    made = answer["product"]["flow_l_min"]
    product = {
        "product": units.say("flow", made),
        "after": units.say("reading", answer["delivered"]["meter_ppm"], factor),
    }
    litres = _busiest_day(site)
    if litres:
        day = units.say("volume", litres)
        yield t("plant.makes_day", **product, litres=day, time=_time(litres / made))
    else:
        yield t("plant.makes", **product)
    if state.plant.stages:
        before = units.say("reading", answer["product"]["meter_ppm"], factor)
        yield t("plant.drains", drain=units.say("flow", answer["drain"]["flow_l_min"]), before=before)


def _time(minutes: float) -> str:
    if minutes < 60.0:
        return words()("plant.minutes", minutes=number(minutes))
    return words()("plant.hours", hours=number(minutes / 60.0))


def _busiest_day(site: Site) -> float:
    """Litres of the busiest day of the week; 0 where no demand by days is given."""
    demand = site.document.model.demand
    by_day = demand.litres_per_day if demand else None
    return max(by_day.model_dump().values()) if by_day else 0.0


def _sliders(site: Site, state: State, units: Units) -> tuple[Slider, ...]:
    water = site.document.model.water
    season = water.season if water else None
    seasonal = [season.coldest_c, season.warmest_c] if season else []
    known = [state.temperature_c, *(each for each in seasonal if each is not None)]
    supply = state.plant.supply
    known_bar = [state.standing_bar, supply.standing_pa / BAR]
    highest = BREAK_TANK_BAR if supply.kind == "break-tank" else HIGHEST_BAR
    return (
        _slider(units, "temperature", min(COLDEST_C, *known), max(WARMEST_C, *known), state.temperature_c),
        _slider(units, "pressure", min(LOWEST_BAR, *known_bar), max(highest, *known_bar), state.standing_bar),
    )


def _slider(units: Units, quantity: Quantity, low: float, high: float, value: float) -> Slider:
    unit = units.unit(quantity)
    step = STEPS[unit.word]
    start = step * (unit.show(low) // step)
    return Slider(
        quantity,
        f"{start:.6g}",
        f"{unit.show(high):.4g}",
        f"{step:g}",
        unit.typed(value),
        units.say(quantity, value),  # as the tag at the tap says it
    )


routes = (Route("/sites/{slug}/plant", show, name="plant"),)
