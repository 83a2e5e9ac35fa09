"""Build: what do I do next? One step at a time, large, with its drawing, check and caution; what is done is kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import uuid4

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.building.result import Step, VanLoad, Weights
from rinsewright.papers.build import Shown, steps_shown
from rinsewright.papers.units import Telling
from rinsewright.web.forms import Typed, posted
from rinsewright.web.view import back_to, book_of, engine_of, page, units_of

SHEET = "build"


@dataclass(frozen=True)
class Line:
    """One step in the list: its number, its title, the key under which it is ticked, whether it is done."""

    number: int
    title: str
    key: str
    done: bool


@dataclass(frozen=True)
class Build:
    """The step that is shown, and all of them; ``next`` and ``before`` are numbers, None at the ends."""

    slug: str
    shown: Shown
    here: Line
    lines: tuple[Line, ...]
    weights: Weights
    vans: tuple[VanLoad, ...]
    notes: tuple[str, ...]

    @property
    def done(self) -> int:
        """How many steps are done."""
        return sum(line.done for line in self.lines)

    @property
    def before(self) -> int | None:
        """The step before the one that is shown."""
        return self.here.number - 1 or None

    @property
    def next(self) -> int | None:
        """The step after it."""
        return self.here.number + 1 if self.here.number < len(self.lines) else None


def step_keys(steps: Sequence[Step]) -> list[str]:
    """A key for each step that stays the same as long as the plant has what the step is about."""
    keys: list[str] = []
    for step in steps:
        key = f"{step.title} {' '.join(step.parts)}".strip()
        keys.append(f"{key} #{keys.count(key) + 1}" if key in keys else key)
    return keys


def lines_of(steps: Sequence[Step], ticks: Mapping[str, bool]) -> tuple[Line, ...]:
    """The steps with what is done."""
    keys = step_keys(steps)
    return tuple(
        Line(number, step.title, key, ticks.get(key, False))
        for number, (step, key) in enumerate(zip(steps, keys, strict=True), 1)
    )


def show(request: Request) -> Response:
    """The first step that is not done, or the one that ``?step=`` asks for."""
    slug = request.path_params["slug"]
    book = book_of(request)
    sheet = engine_of(request).build(book.current(slug).toml)
    lines = lines_of(sheet.steps, book.ticks(slug, SHEET))
    here = _asked(lines, request.query_params.get("step", ""))
    telling = Telling.of(units_of(request))
    told = telling.retold(sheet)
    shown = steps_shown(told, telling)[here.number - 1]
    return page(request, "build.html", Build(slug, shown, here, lines, told.weights, told.vans, told.notes))


def _asked(lines: Sequence[Line], number: str) -> Line:
    if number.isdecimal() and 1 <= int(number) <= len(lines):
        return lines[int(number) - 1]
    return next((line for line in lines if not line.done), lines[-1])


@posted
def tick(request: Request, typed: Typed) -> Response:
    """Keep that a step is done, or not after all; then the next one that is not done, or the same again."""
    slug, book = request.path_params["slug"], book_of(request)
    done, key = typed.values.get("done") == "yes", typed.values.get("key", "")
    if key in step_keys(engine_of(request).build(book.current(slug).toml).steps):  # else the plant was changed since
        book.keep_tick(slug, SHEET, key, done, uuid4().hex, datetime.now(UTC))
    address = str(request.app.url_path_for("build", slug=slug))
    here = typed.values.get("step", "")
    return back_to(address if done or not here.isdecimal() else f"{address}?step={here}")


routes = (
    Route("/sites/{slug}/build", show, name="build"),
    Route("/sites/{slug}/build", tick, methods=["POST"], name="build.tick"),
)
