"""Year: will the water last? One year at once; many years, drawn by chance, in a run of their own."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.api import Site
from rinsewright.errors import NoWorkingState
from rinsewright.planning import SEED
from rinsewright.planning.year_result import YearResult
from rinsewright.store.rows import Version
from rinsewright.web.drawn_years import DrawnYears
from rinsewright.web.forms import REFUSED, Typed, posted
from rinsewright.web.runs import Asked, Busy, Run, Runs
from rinsewright.web.view import back_to, book_of, engine_of, page, units_of
from rinsewright.web.words import words
from rinsewright.web.year_reading import YearReading, read_year

YEARS = ("20", "100", "500")
MOST_SEED = 2**32 - 1


@dataclass(frozen=True)
class Drawing:
    """The part of the page where more years are asked for, and where it is seen how far they are."""

    slug: str
    typed: Typed
    run: Run | None
    number: int  # of the site's version that is shown
    newest: tuple[int, int] | None  # how many years were drawn last of that version, and with which seed
    lost: bool  # whether years are asked for that are kept no longer

    @property
    def done(self) -> str:
        """The page with the years of the run, if there is one that is done."""
        if self.run is None or self.run.state != "done":
            return ""
        return _address(self.slug, self.run.asked.members, self.run.asked.seed)

    @property
    def look(self) -> str:
        """The page with the years drawn last, if there are any."""
        return _address(self.slug, *self.newest) if self.newest else ""

    @property
    def running(self) -> bool:
        """Whether there is a run that goes on."""
        return self.run is not None and self.run.state == "running"

    @property
    def percent(self) -> int:
        """How much of it is done."""
        return int(100.0 * self.run.share) if self.run is not None else 0

    @property
    def choices(self) -> dict[str, str]:
        """How many years can be drawn."""
        return {years: words()("year.years", years=years) for years in YEARS}


@dataclass(frozen=True)
class Year:
    """A year, and the years that may be drawn."""

    year: YearReading
    drawing: Drawing


@dataclass(frozen=True)
class OnlyDrawing:
    """The drawing of years alone, for the page that looks how far it is."""

    drawing: Drawing


def _address(slug: str, members: int, seed: int) -> str:
    return f"/sites/{slug}/year?years={members}&seed={seed}"


def runs_of(request: Request) -> Runs:
    """The runs of this app."""
    runs: Runs = request.app.state.runs
    return runs


def drawn_of(request: Request) -> DrawnYears:
    """The drawn years that this app keeps."""
    drawn: DrawnYears = request.app.state.drawn_years
    return drawn


def show(request: Request) -> Response:
    """One year without chance, or those that ``?years=100&seed=1`` names, if they have been drawn."""
    return _page(request, Typed(_first_values(request), units_of(request)))


def _page(request: Request, typed: Typed, status: int = 200) -> Response:
    version = book_of(request).current(request.path_params["slug"])
    asked = _asked(request)
    found = _known(request, version, asked) if asked else None
    result = found or engine_of(request).year(version.toml)
    units = units_of(request)
    told = engine_of(request).shelf.get(
        ("year read", version.toml, result.members, result.seed, units),
        lambda: read_year(result, units, _makes(engine_of(request).site(version.toml), result)),
    )
    drawing = _drawing(request, version, typed, lost=asked is not None and found is None)
    return page(request, "year.html", Year(told, drawing), status=status)


def _makes(site: Site, result: YearResult) -> tuple[float, float] | None:
    """What the membranes give into an open tank in the winter week's water and in the summer week's [L/min]."""
    cold, warm = (week.temperature_c for week in result.weeks)
    if not site.plant.stages or not cold < warm:
        return None
    try:
        made = [site.solve(temperature_c=celsius)["product"]["flow_l_min"] for celsius in (cold, warm)]
    except NoWorkingState:
        return None
    return made[0], made[1]


def _first_values(request: Request) -> dict[str, str]:
    years, seed = _asked(request) or (int(YEARS[1]), SEED)
    return {"years": str(years), "seed": str(seed)}


def _asked(request: Request) -> tuple[int, int] | None:
    """How many years and which seed the address names."""
    years, seed = (request.query_params.get(name, "") for name in ("years", "seed"))
    if years not in YEARS or not seed.isdecimal() or int(seed) > MOST_SEED:
        return None
    return int(years), int(seed)


def _known(request: Request, version: Version, asked: tuple[int, int]) -> YearResult | None:
    return drawn_of(request).find(request.path_params["slug"], version.toml, *asked)


def _drawing(request: Request, version: Version, typed: Typed, *, lost: bool) -> Drawing:
    slug = request.path_params["slug"]
    run = runs_of(request).of(slug)
    waiting = run is not None and run.state != "done" and (run.asked.members, run.asked.seed) == _asked(request)
    return Drawing(slug, typed, run, version.number, _newest(request, version, run), lost and not waiting)


def _newest(request: Request, version: Version, run: Run | None) -> tuple[int, int] | None:
    """What there is to look at: the run's years, or what the book has kept from before."""
    if run is not None and run.state == "running":
        return None
    if run is not None and run.state == "done" and run.asked.toml == version.toml:
        return run.asked.members, run.asked.seed
    return drawn_of(request).newest(request.path_params["slug"], version.toml)


def progress(request: Request) -> Response:
    """How far the years are; the page asks again and again."""
    version = book_of(request).current(request.path_params["slug"])
    typed = Typed(_first_values(request), units_of(request))
    return page(request, "year_drawing.html", OnlyDrawing(_drawing(request, version, typed, lost=False)))


@posted
def draw(request: Request, typed: Typed) -> Response:
    """Begin to draw years."""
    slug = request.path_params["slug"]
    years, seed = typed.choice("years", YEARS), typed.number("seed", 0, MOST_SEED)
    if seed is not None and seed != int(seed):
        typed.refuse("seed", words()("year.whole"))
    if not typed.ok or years is None or seed is None:
        return _page(request, typed, REFUSED)
    version = book_of(request).current(slug)
    members, whole = int(years), int(seed)
    address = _address(slug, members, whole)
    if _known(request, version, (members, whole)) is not None:
        return back_to(address)
    try:
        runs_of(request).begin(Asked(slug, version.number, version.toml, members, whole))
    except Busy as busy:
        typed.refuse("years", str(busy))
        return _page(request, typed, REFUSED)
    return back_to(f"{address}#drawing")


@posted
def stop(request: Request, typed: Typed) -> Response:
    """End the drawing of years at once."""
    slug = request.path_params["slug"]
    runs_of(request).stop(slug)
    return back_to(f"/sites/{slug}/year#drawing")


routes = (
    Route("/sites/{slug}/year", show, name="year"),
    Route("/sites/{slug}/year", draw, methods=["POST"], name="year"),
    Route("/sites/{slug}/year/drawing", progress, name="year.drawing"),
    Route("/sites/{slug}/year/stop", stop, methods=["POST"], name="year.stop"),
)
