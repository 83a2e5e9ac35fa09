"""Work: what does the work need? Litres by day or rounds, the vans, the hours, and the limit at the brush."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.papers.units import Units
from rinsewright.planning.verdicts.word import Verdict
from rinsewright.quantities import LITRE
from rinsewright.site import build
from rinsewright.site.schema import WEEKDAYS, Demand
from rinsewright.web.forms import Typed, posted
from rinsewright.web.keeping import Seen, seen_of
from rinsewright.web.keys import told
from rinsewright.web.pages.entries import Entries, entries_of
from rinsewright.web.pages.plant import findings_of, plant_of
from rinsewright.web.sections import Filled, Section, filled, saved
from rinsewright.web.view import back_to, engine_of, page
from rinsewright.web.words import words


@dataclass(frozen=True)
class Day:
    """A day of the week and the water it takes."""

    name: str
    said: str


@dataclass(frozen=True)
class WorkPage:
    """The page; ``number`` is the busiest day's water, empty where none is told."""

    address: str
    number: str
    unit: str
    caption: str
    first: str
    more: tuple[str, ...]
    findings: tuple[Verdict, ...]
    days: tuple[Day, ...]
    rounds: Entries
    vans: Entries
    form: Filled
    made_from: int


def section(seen: Seen) -> Section:
    """The table of the site file that is filled in here; litres by day only where no rounds tell them."""
    demand = seen.site.document.model.demand
    aside = ("rounds", "vans", *(("litres_per_day",) if demand is not None and demand.rounds else ()))
    return Section("demand", words()("work.form"), Demand, ("demand",), aside)


def show(request: Request) -> Response:
    """The page."""
    return page(request, "work.html", _content(request, seen_of(request)))


def _content(request: Request, seen: Seen, refused: Filled | None = None) -> WorkPage:
    units = seen.units
    litres = _litres(seen)
    busiest = max(litres.values(), default=0.0)
    return WorkPage(
        address=str(request.app.url_path_for("work", slug=seen.slug)),
        number=units.number("volume", busiest) if busiest else "",
        unit=units.unit("volume").word,
        caption=_caption(litres),
        first=_first(litres, seen),
        more=tuple(_more(seen, busiest)),
        findings=_findings(request, seen),
        days=tuple(_days(litres, units)) if busiest else (),
        rounds=entries_of(request, seen, "rounds"),
        vans=entries_of(request, seen, "vans"),
        form=refused or filled(seen, section(seen)),
        made_from=seen.number,
    )


def _litres(seen: Seen) -> dict[str, float]:
    """The water of each day of the week; nothing where the work is not described."""
    if seen.site.document.model.demand is None:
        return {}
    by_weekday = build.demand_input(seen.site.document).by_weekday
    return {day: volume / LITRE for day, volume in zip(WEEKDAYS, by_weekday, strict=True)}


def _caption(litres: dict[str, float]) -> str:
    working = {day: volume for day, volume in litres.items() if volume > 0.0}
    if not working:
        return ""
    busiest = [day for day, volume in working.items() if volume == max(working.values())]
    if len(busiest) > 1:
        return words()("work.each_day" if len(busiest) == len(working) else "work.busiest_days")
    return words()("work.busiest", day=told(busiest[0]))


def _first(litres: dict[str, float], seen: Seen) -> str:
    t, demand = words(), seen.site.document.model.demand
    days = sum(volume > 0.0 for volume in litres.values())
    if demand is None or not days:
        return t("work.not_described")
    return t(
        "work.first",
        week=seen.units.say("volume", sum(litres.values())),
        days=t("work.one_day" if days == 1 else "work.days", number=days),
        start=demand.draw_from,
        end=demand.draw_until,
    )


def _more(seen: Seen, busiest: float) -> Iterator[str]:
    """What the vans carry, and when the tap is open."""
    t, demand, units = words(), seen.site.document.model.demand, seen.units
    if demand is None:
        return
    carried = sum(van.tank_litres for van in demand.vans)
    if carried:
        name = "work.van_carries" if len(demand.vans) == 1 else "work.vans_carry"
        yield t(name, carried=units.say("volume", carried))
    if carried and busiest > carried:
        yield t("work.vans_short", short=units.say("volume", busiest - carried))
    if demand.fill_from is not None and demand.fill_until is not None:
        yield t("work.fills", start=demand.fill_from, end=demand.fill_until)


def _findings(request: Request, seen: Seen) -> tuple[Verdict, ...]:
    """What the plan, if it is made, finds wrong with the work."""
    plan = engine_of(request).plan_if_known(seen.toml)
    if plan is None:
        return ()

    def said(text: str) -> str:
        return seen.units.retell(text, plan.situation_factor)

    found = findings_of(plan.verdicts, plant_of(seen.site)).get("brush", ())
    return tuple(replace(one, why=said(one.why), do=said(one.do)) for one in found)


def _days(litres: dict[str, float], units: Units) -> Iterator[Day]:
    for day, volume in litres.items():
        yield Day(told(day), units.say("volume", volume) if volume else words()("work.none"))


@posted
def save(request: Request, typed: Typed) -> Response:
    """Keep the hours, the limit and the litres."""
    seen = seen_of(request)
    return saved(request, typed, seen, section(seen), "work", _content)


def from_drawing(request: Request) -> Response:
    """The brush at the end of the plant's drawing leads here."""
    return back_to(str(request.app.url_path_for("work", slug=request.path_params["slug"])))


routes = (
    Route("/sites/{slug}/work", show, name="work"),
    Route("/sites/{slug}/work", save, methods=["POST"], name="save-work"),
    Route("/sites/{slug}/plant/brush", from_drawing),
)
