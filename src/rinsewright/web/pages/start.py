"""Start: what should I tell this customer? Five questions, the answer, and what to measure next to be surer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.api import Site
from rinsewright.errors import InputError, NoWorkingState
from rinsewright.papers.units import Quantity, Unit, Units
from rinsewright.planning.first_look import first_look
from rinsewright.planning.plan import Plan
from rinsewright.planning.situation import Situation
from rinsewright.planning.starting import SIZES, Answers, next_to_measure, start_site
from rinsewright.planning.verdicts.tap import LEAST_APART
from rinsewright.planning.verdicts.word import Verdict
from rinsewright.quantities import US_CM
from rinsewright.site.build import meter_factor
from rinsewright.store.errors import ChangedMeanwhile
from rinsewright.web.editing import save_edit
from rinsewright.web.engine import NAME
from rinsewright.web.forms import CHANGED, FORM, REFUSED, Typed, posted
from rinsewright.web.pages.refusal import sentences
from rinsewright.web.refining import Known, known, refine
from rinsewright.web.view import back_to, book_of, engine_of, page, units_of
from rinsewright.web.words import words


@dataclass(frozen=True)
class Question:
    """One number that is asked for: its quantity and what is plausible, in the site file's units."""

    name: str
    low: float
    high: float
    quantity: Quantity | None = None
    optional: bool = False
    whole: bool = False

    def unit(self, units: Units, factor: float | None = None) -> Unit:
        """The unit it is typed in; ``factor`` is that of the meter in the site file."""
        return units.unit(self.quantity, factor) if self.quantity else Unit("")


QUESTIONS = (
    Question("meter", 1.0, 15000.0, "reading"),
    Question("pressure", 0.1, 25.0, "pressure"),
    Question("flow", 0.5, 200.0, "flow", optional=True),
    Question("litres", 1.0, 100000.0, "volume"),
    Question("coldest", 0.1, 40.0, "temperature", optional=True),
)
THERE = {
    "elements": Question("elements", 1, 12, whole=True),
    "resin": Question("resin", 0.5, 500.0, "volume"),
    "tank": Question("tank", 20.0, 20000.0, "volume"),
}
FIELDS = {
    "water.field.meter_ppm": "meter",
    "supply.flowing[0].pressure_bar": "pressure",
    "supply.flowing[0].flow_l_min": "flow",
    "water.season.coldest_c": "coldest",
}
MOST_TO_MEASURE = 3
MOST_PROPOSED = 20000.0  # litres a day for which a plant is proposed; a larger one is no small plant any more
HAS = ("nothing", "elements", "resin", "tank")


@dataclass(frozen=True)
class Asked:
    """A question as it stands on the page."""

    question: Question
    unit: str


@dataclass(frozen=True)
class Answer:
    """The one number, the sentences, the verdicts, and what to measure next."""

    number: str
    unit: str
    caption: str
    sentences: tuple[str, ...]
    urgent: tuple[Verdict, ...]
    fine: tuple[Verdict, ...]
    measure: tuple[str, ...]
    whole: bool  # whether it rests on the whole plan, or on the first look


@dataclass(frozen=True)
class NewStart:
    """The five questions for a new site."""

    typed: Typed
    asked: tuple[Asked, ...]
    there: dict[str, Asked]
    has: tuple[str, ...]
    sizes: tuple[str, ...]


@dataclass(frozen=True)
class Start:
    """The answer for a site and its questions, to be refined."""

    slug: str
    made_from: int
    answer: Answer | None
    refusal: str | None
    typed: Typed
    asked: tuple[Asked, ...]
    hints: Mapping[str, str]  # by question


def new(request: Request) -> Response:
    """The five questions."""
    return _ask_new(request, Typed({"has": "nothing", "size": SIZES[0], "elements": "1"}, units_of(request)))


def _ask_new(request: Request, typed: Typed, *, status: int = 200) -> Response:
    asked = tuple(Asked(question, question.unit(typed.units).word) for question in QUESTIONS)
    there = {name: Asked(question, question.unit(typed.units).word) for name, question in THERE.items()}
    return page(request, "start_new.html", NewStart(typed, asked, there, HAS, SIZES), status=status)


@posted
def make(request: Request, typed: Typed) -> Response:
    """Make the site, and show its answer."""
    answers = _read_new(typed)
    if answers is None:
        return _ask_new(request, typed, status=REFUSED)
    try:
        text = start_site(answers)
        name = Site.loads(text, NAME).name
    except InputError as refusal:  # answers that no site file takes together; what was typed stands
        typed.refuse_problems(refusal, FIELDS)
        return _ask_new(request, typed, status=REFUSED)
    row = book_of(request).add_site(text, name, words()("start.was_made"))
    return back_to(f"/sites/{row.slug}/start")


def _read_new(typed: Typed) -> Answers | None:
    """The answers that were typed; None where one of them was refused."""
    asked = [replace(one, high=MOST_PROPOSED) if one.name == "litres" else one for one in QUESTIONS]
    found = {question.name: _read(typed, question) for question in asked}
    has = typed.choice("has", HAS)
    if has in THERE:
        found[has] = _read(typed, THERE[has])
    size = typed.choice("size", SIZES) if has == "elements" else SIZES[0]
    name = typed.text("name", optional=True, longest=80)
    meter, pressure, litres = found["meter"], found["pressure"], found["litres"]
    if not typed.ok or has is None or size is None or meter is None or pressure is None or litres is None:
        return None
    return Answers(
        meter_ppm=meter,
        meter_factor=typed.units.ppm_factor,
        running_bar=pressure,
        running_l_min=found["flow"],
        litres_a_day=litres,
        coldest_c=found["coldest"],
        has=has,  # type: ignore[arg-type]  # one of HAS
        size=size,
        elements=int(found.get("elements") or 1),
        resin_litres=found.get("resin") or 7.0,
        tank_litres=found.get("tank"),
        name=name or words()("start.new_name"),
    )


def _read(typed: Typed, question: Question, factor: float | None = None, *, optional: bool = False) -> float | None:
    value = typed.number(
        question.name,
        question.low,
        question.high,
        optional=question.optional or optional,
        unit=question.unit(typed.units, factor),
        whole=question.whole,
    )
    return None if value is None else float(f"{value:.6g}")


def show(request: Request) -> Response:
    """The answer for a site as it stands, and its questions."""
    return _show(request, None)


def whole(request: Request) -> Response:
    """The same answer from the whole plan, for the page to fetch when it is shown already."""
    slug = request.path_params["slug"]
    toml = book_of(request).current(slug).toml
    engine_of(request).plan(toml)
    return _show(request, None)


def _show(request: Request, typed: Typed | None, *, status: int = 200) -> Response:
    slug = request.path_params["slug"]
    current = book_of(request).current(slug)
    site, units = engine_of(request).site(current.toml), units_of(request)
    held = known(site.document, current.toml)
    questions = _questions(held)
    factor = _factor(site)
    shown = typed or Typed({one.name: one.unit(units, factor).typed(held.get(one.name)) for one in questions}, units)
    answer: Answer | None = None
    refusal = None
    try:
        answer = _answer(request, current.toml)
    except (NoWorkingState, InputError) as reason:
        refusal = " ".join(sentences(reason))
    asked = tuple(Asked(one, one.unit(units, factor).word) for one in questions)
    made_from = int(shown.values.get("made_from") or current.number)
    content = Start(slug, made_from, answer, refusal, shown, asked, _hints(site, units))
    return page(request, "start.html", content, status=status)


def _hints(site: Site, units: Units) -> dict[str, str]:
    """Where an analysis rules, that it does, and how far the meter is from it."""
    water = site.document.model.water
    if water is None or water.ions_mg_l is None:
        return {}
    factor = _factor(site)
    given = float(site.tap.water.conductivity[0]) / US_CM * factor
    said = [words()("start.analysis_rules", given=units.say("reading", given, factor))]
    apart = abs(water.field.meter_ppm - given) if water.field else 0.0
    if apart >= LEAST_APART:
        said.append(words()("start.analysis_differs", apart=units.say("reading", apart, factor)))
    return {"meter": " ".join(said)}


def _questions(held: Known) -> tuple[Question, ...]:
    """Those that fit the site."""
    return tuple(one for one in (*QUESTIONS, *THERE.values()) if one.name in held)


def _factor(site: Site) -> float:
    """Of the meter on which the site's reading was taken."""
    water = site.document.model.water
    return water.field.meter_factor if water is not None and water.field is not None else 0.5


@posted
def save(request: Request, typed: Typed) -> Response:
    """Put the answers that changed into the site."""
    slug, book = request.path_params["slug"], book_of(request)
    made_from = typed.values.get("made_from", "")
    number = int(made_from) if made_from.isdecimal() else book.current(slug).number
    before = book.version(slug, number).toml
    site = engine_of(request).site(before)
    held, factor = known(site.document, before), _factor(site)
    now: Known = {}
    for question in _questions(held):
        unit, old = question.unit(typed.units, factor), held[question.name]
        value = _read(typed, question, factor, optional=old is None)
        untouched = typed.values.get(question.name, "").strip() == unit.typed(old)
        now[question.name] = old if untouched else value
    if not typed.ok:
        return _show(request, typed, status=REFUSED)
    changed = [name for name, value in now.items() if value is not None and value != held[name]]
    what = words()("start.was_refined", what=", ".join(_short(name, site) for name in changed))
    try:
        save_edit(book, slug, number, what, lambda document: refine(document, held, now))
    except ChangedMeanwhile as refusal:  # what was typed stands; sent again, it goes into the version that came between
        typed.refuse(FORM, str(refusal))
        typed.values["made_from"] = str(refusal.current)
        return _show(request, typed, status=CHANGED)
    except InputError as refusal:
        typed.refuse_problems(refusal, FIELDS)
        return _show(request, typed, status=REFUSED)
    return back_to(f"/sites/{slug}/start")


def _short(name: str, site: Site) -> str:
    """What was answered, in a few words; a reading beside an analysis changes no number."""
    water = site.document.model.water
    if name == "meter" and water is not None and water.ions_mg_l is not None:
        return words()("start.held_against")
    return words()(f"start.short.{name}")


def _answer(request: Request, toml: str) -> Answer:
    """From the plan if it was made already, else from the first look; with resin alone the plan is the answer."""
    engine, units = engine_of(request), units_of(request)
    site = engine.site(toml)
    plan = engine.plan_if_known(toml) if site.plant.stages else engine.plan(toml)
    if plan is not None:
        situation, verdicts, said = plan.situation, plan.verdicts, plan.sentences()
    else:
        look = first_look(site.document, site.plant, site.tap)
        # That nothing stops it only the plan can say.
        situation, verdicts, said = look.situation, look.verdicts, look.sentences
        said = said if said[0].startswith("Stop") else said[:-1]
    factor = meter_factor(site.document)
    number, unit, caption = _headline(situation, plan, units)
    return Answer(
        number=number,
        unit=unit,
        caption=caption,
        sentences=tuple(units.retell(sentence, factor) for sentence in said),
        urgent=_told(verdicts, units, factor, fine=False),
        fine=_told(verdicts, units, factor, fine=True),
        measure=next_to_measure(toml)[:MOST_TO_MEASURE],
        whole=plan is not None,
    )


def _headline(situation: Situation, plan: Plan | None, units: Units) -> tuple[str, str, str]:
    """What the plant is chosen by: product on the coldest day; with resin alone, what one fill of it cleans."""
    t = words()
    if plan is not None and not situation.has_membranes:
        litres = plan.answer()["resin"]["litres_to_limit"]["value"] if situation.resin else None
        if litres is None:
            return t("start.not_known"), "", t("start.one_fill")
        return units.number("volume", litres), units.unit("volume").word, t("start.one_fill")
    point = situation.coldest if situation.coldest.solved else situation.today
    assert point.solved is not None  # without a working state today there is no answer
    name = "start.coldest_day" if point is situation.coldest else "start.today_only"
    caption = t(name, temperature=units.say("temperature", point.temperature_c))
    return units.number("flow", point.solved.product_l_min), units.unit("flow").word, caption


def _told(verdicts: Iterable[Verdict], units: Units, factor: float, *, fine: bool) -> tuple[Verdict, ...]:
    """The verdicts in the user's units: those that are fine, or the others."""
    return tuple(
        replace(one, why=units.retell(one.why, factor), do=units.retell(one.do, factor))
        for one in verdicts
        if (one.verdict == "fine") is fine
    )


routes = (
    Route("/start", new, name="new-site"),
    Route("/start", make, methods=["POST"]),
    Route("/sites/{slug}/start", show, name="start"),
    Route("/sites/{slug}/start", save, methods=["POST"]),
    Route("/sites/{slug}/start/whole", whole, name="start-whole"),
)
