"""First run: is it right? One reading at a time, judged as it is typed; each is kept exactly once."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from uuid import uuid4

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from rinsewright.errors import RinsewrightError
from rinsewright.firstrun.judging import Line
from rinsewright.firstrun.measured import MAY_NEVER, NEVER, UNITS
from rinsewright.firstrun.record import FirstRun, absent, first_run_of
from rinsewright.firstrun.rinse import Rinse
from rinsewright.firstrun.wording import HOW
from rinsewright.papers.units import Quantity, Unit, Units
from rinsewright.planning.ensemble import Band
from rinsewright.site import build
from rinsewright.store.errors import NotInBook
from rinsewright.store.rows import FirstRunRow, Version
from rinsewright.web.forms import REFUSED, Typed, posted
from rinsewright.web.view import back_to, book_of, engine_of, has_page, page, units_of
from rinsewright.web.words import words

# On the water's way from cause to effect, and so that what is measured together stands together.
ORDER = (
    "tap_meter_ppm",
    "membrane_bar",
    "product_l_min",
    "drain_l_min",
    "product_meter_ppm",
    "after_resin_meter_ppm",
    "shutoff_closes_bar",
    "reopens_bar",
)
QUANTITIES: dict[str, Quantity] = {"ppm": "reading", "l_min": "flow", "bar": "pressure"}
CAUTIONS = ("tap_meter_ppm", "membrane_bar", "product_meter_ppm", "after_resin_meter_ppm", *MAY_NEVER, "reopens_bar")
WATER_C = (0.0, 45.0)
AT_TAP_BAR = (0.1, 25.0)
NOTHING = "Nothing."  # what there is to do about a line that is fine

SHEET = "first run"  # under which the rinse is ticked


@dataclass(frozen=True)
class Scale:
    """How a line is shown and typed: the user's unit, its decimals, and the plausible range in the key's unit."""

    unit: Unit
    decimals: int
    least: float
    most: float

    def show(self, value: float) -> str:
        """A value in the user's unit."""
        return f"{self.unit.show(value):.{self.decimals}f}"


@dataclass(frozen=True)
class Card:
    """One line: its band before anything was read, what was read, and the judgement on it, if any."""

    key: str
    number: int
    scale: Scale
    band: Band
    how: str
    read: str | None  # in the user's unit, or "never"
    line: Line | None
    here: bool
    form_id: str

    @property
    def band_in_words(self) -> str:
        """What it should read."""
        if self.band.value is None or self.band.low is None or self.band.high is None:
            return words()("firstrun.band_unknown")
        low, high, value = (self.scale.show(edge) for edge in (self.band.low, self.band.high, self.band.value))
        return words()("firstrun.band", low=low, high=high, value=value, unit=self.scale.unit.word)

    @property
    def read_in_words(self) -> str:
        """What was read."""
        if self.read is None:
            return words()("firstrun.unread")
        return words()("firstrun.never_did") if self.read == NEVER else f"{self.read} {self.scale.unit.word}"

    @property
    def may_never(self) -> bool:
        """Whether it can be that it never comes."""
        return self.key in MAY_NEVER

    @property
    def caution(self) -> bool:
        """Whether there is something to mind."""
        return self.key in CAUTIONS

    @property
    def place(self) -> float | None:
        """Where the reading stands on the drawn scale of 0 to 180, whose middle third is the band."""
        return None if self.line is None else _place(self.band, self.line.measured)


@dataclass(frozen=True)
class RunLine:
    """A first run in the list."""

    row: FirstRunRow
    read: int
    lines: int


@dataclass(frozen=True)
class Begin:
    """The first runs so far, the rinse before one, and what is asked to begin; the cards are for want of signal."""

    slug: str
    runs: tuple[RunLine, ...]
    rinse: Rinse | None
    rinsed: bool
    cards: tuple[Card, ...]
    typed: Typed
    usual_c: float
    form_id: str

    @property
    def open(self) -> RunLine | None:
        """The newest, if it is not closed."""
        newest = next(iter(self.runs), None)
        return newest if newest is not None and newest.row.closed_at is None else None


@dataclass(frozen=True)
class Run:
    """One first run: its cards and the sheet as a whole."""

    slug: str
    run: FirstRunRow
    cards: tuple[Card, ...]
    typed: Typed
    verdict: str | None
    why: str
    do: str
    cannot_tell: tuple[str, ...]
    papers: bool

    @property
    def read(self) -> int:
        """How many lines were read."""
        return sum(card.read is not None for card in self.cards)

    @property
    def off(self) -> tuple[Card, ...]:
        """Those that are not fine."""
        return tuple(card for card in self.cards if card.line is not None and card.line.verdict != "fine")

    @property
    def unread(self) -> int:
        """How many were not."""
        return len(self.cards) - self.read


@dataclass(frozen=True)
class Judged:
    """One line's judgement, for the card that asks while it is typed."""

    key: str
    line: Line | None
    place: float | None = None


def _place(band: Band, value: float | None) -> float | None:
    if value is None or band.low is None or band.high is None or band.high <= band.low:
        return None
    return min(max(60.0 + 60.0 * (value - band.low) / (band.high - band.low), 4.0), 176.0)


# ---- what the engine says ----


def _expected(request: Request, version: Version, run: FirstRunRow | None) -> FirstRun:
    """The bands under a first run's conditions, or under the site file's."""
    conditions = (run.temperature_c, run.running_bar, run.running_l_min) if run else (None, None, None)
    return engine_of(request).first_run(version.toml, *conditions)


def _judged(request: Request, run: FirstRunRow, readings: dict[str, float | None]) -> FirstRun:
    """The same with what was read."""
    version = book_of(request).version(run.slug, run.version_number)
    expected, site = _expected(request, version, run), engine_of(request).site(version.toml)
    lines = _lines(request, version)
    measured = {key: NEVER if value is None else value for key, value in readings.items() if key in lines}
    return first_run_of(site.document, site.plant, expected.prediction, measured or None)


def _lines(request: Request, version: Version) -> tuple[str, ...]:
    """The lines that the plant has, in the order in which they are read."""
    missing = absent(engine_of(request).site(version.toml).plant)
    return tuple(key for key in ORDER if key not in missing)


def _factor(request: Request, version: Version) -> float:
    """Of the meter on which the site's readings are told."""
    return build.meter_factor(engine_of(request).site(version.toml).document)


def _scale(units: Units, factor: float, key: str, band: Band) -> Scale:
    end = next(end for end in UNITS if key.endswith(end))
    unit = units.unit(QUANTITIES[end], factor)
    decimals = {"reading": 0, "pressure": 0 if unit.scale > 5.0 else 1, "flow": 1}[QUANTITIES[end]]
    if end == "l_min" and band.value is not None and unit.show(band.value) < 1.0:
        decimals = 2
    return Scale(unit, decimals, *UNITS[end])


def _cards(
    request: Request, version: Version, record: FirstRun, here: str, readings: dict[str, float | None]
) -> tuple[Card, ...]:
    units, factor = units_of(request), _factor(request, version)
    told = {line.what: _told(line, units, factor) for line in record.lines}
    cards = []
    for number, key in enumerate(_lines(request, version), 1):
        band = record.expected[key]
        scale = _scale(units, factor, key, band)
        read = None
        if key in readings:
            value = readings[key]
            read = NEVER if value is None else scale.unit.typed(value)
        cards.append(Card(key, number, scale, band, units.retell(HOW[key]), read, told.get(key), False, uuid4().hex))
    unread = next((card.key for card in cards if card.read is None), "")
    shown = here if here in {card.key for card in cards} else unread
    return tuple(replace(card, here=card.key == shown) for card in cards)


def _told(line: Line, units: Units, factor: float) -> Line:
    """The same in the user's units; nothing to do where it says so."""
    do = "" if line.do == NOTHING else units.retell(line.do, factor)
    return replace(line, why=units.retell(line.why, factor), do=do)


# ---- the list, and how a first run begins ----


def show(request: Request) -> Response:
    """The first runs of the site, and the question for today's water."""
    return _begin_page(request, Typed(units=units_of(request)))


def _begin_page(request: Request, typed: Typed, *, status: int = 200) -> Response:
    slug, book = request.path_params["slug"], book_of(request)
    version = book.current(slug)
    record = _expected(request, version, None)
    runs = [
        RunLine(run, len(book.readings(run.id)), len(_lines(request, book.version(slug, run.version_number))))
        for run in reversed(book.first_runs(slug))
    ]
    content = Begin(
        slug, tuple(runs), record.rinse, book.ticks(slug, SHEET).get("rinsed", False),
        _cards(request, version, record, "", {}), typed, record.conditions.temperature_c, uuid4().hex,
    )  # fmt: skip
    return page(request, "firstrun_begin.html", content, status=status)


@posted
def begin(request: Request, typed: Typed) -> Response:
    """Begin one under today's conditions."""
    slug = request.path_params["slug"]
    temperature = typed.quantity("temperature", "temperature", *WATER_C)
    running = typed.quantity("running", "pressure", *AT_TAP_BAR, optional=True)
    if typed.ok:
        try:
            # Whether the plant works so: its prediction, which is wanted next anyway, says it.
            engine_of(request).first_run(book_of(request).current(slug).toml, temperature, running, None)
        except RinsewrightError as refusal:
            typed.refuse("running" if running is not None else "temperature", str(refusal))
    if not typed.ok:
        return _begin_page(request, typed, status=REFUSED)
    form_id = _form_id(typed, (temperature, running))
    run = book_of(request).begin_first_run(slug, temperature, running, None, client_id=form_id)
    return back_to(_address(request, run))


def _address(request: Request, run: FirstRunRow) -> str:
    return str(request.app.url_path_for("firstrun", slug=run.slug, run=run.id))


def table(request: Request) -> Response:
    """The bands over temperature and pressure, for a phone without signal."""
    toml = book_of(request).current(request.path_params["slug"]).toml
    return JSONResponse(engine_of(request).first_run_table(toml).answer())


# ---- one first run ----


def _run(request: Request) -> FirstRunRow:
    run = book_of(request).first_run(request.path_params["run"])
    if run.slug != request.path_params["slug"]:
        raise NotInBook(f"this site has no first run {run.id}")
    return run


def show_run(request: Request) -> Response:
    """The first line that was not read, or the one that ``?line=`` asks for; and the sheet."""
    return _run_page(request, _run(request), Typed(units=units_of(request)), request.query_params.get("line", ""))


def _run_page(request: Request, run: FirstRunRow, typed: Typed, here: str, *, status: int = 200) -> Response:
    book = book_of(request)
    readings = book.readings(run.id)
    version = book.version(run.slug, run.version_number)
    record = _judged(request, run, readings)
    units, factor = units_of(request), _factor(request, version)
    content = Run(
        slug=run.slug,
        run=run,
        cards=_cards(request, version, record, here, readings),
        typed=typed,
        verdict=record.verdict,
        why=units.retell(record.why, factor),
        do="" if record.do == NOTHING else units.retell(record.do, factor),
        cannot_tell=tuple(units.retell(text, factor) for text in record.cannot_tell),
        papers=has_page(request, "papers"),
    )
    return page(request, "firstrun_run.html", content, status=status)


def judge(request: Request) -> Response:
    """What a reading would be worth beside those that are kept: asked while it is typed, keeps nothing."""
    run, query = _run(request), request.query_params
    key = query.get("key", "")
    typed = Typed(dict(query), units_of(request))
    version = book_of(request).version(run.slug, run.version_number)
    line, place = None, None
    if key in _lines(request, version):
        value = _value(typed, key, Unit(""))
        if typed.ok:
            record = _judged(request, run, {**book_of(request).readings(run.id), key: value})
            found = next(line for line in record.lines if line.what == key)
            line = _told(found, units_of(request), _factor(request, version))
            place = _place(record.expected[key], value)
    return page(request, "firstrun_judged.html", Judged(key, line, place))


def _value(typed: Typed, key: str, unit: Unit) -> float | None:
    """What was read, in the key's unit: ``value``, told in ``unit``, or never. Refused where it is not plausible."""
    if typed.values.get("never") and key in MAY_NEVER:
        return None
    least, most = UNITS[next(end for end in UNITS if key.endswith(end))]
    return typed.number("value", least, most, unit=unit)


@posted
def keep(request: Request, typed: Typed) -> Response:
    """Keep one reading. From a form it is in the user's units; from the phone's own list in the key's."""
    return _keep(request, typed, _run(request))


def _keep(request: Request, typed: Typed, run: FirstRunRow) -> Response:
    book, key = book_of(request), typed.values.get("key", "")
    version = book.version(run.slug, run.version_number)
    if key not in _lines(request, version):
        typed.refuse("key", words()("firstrun.no_such_line"))
        return _refused(request, run, typed)
    from_phone = "client_id" in typed.values
    scale = _scale(typed.units, _factor(request, version), key, Band(None))
    value = _value(typed, key, Unit("") if from_phone else scale.unit)
    client_id = typed.text("client_id", longest=80) if from_phone else _form_id(typed, value)
    if not typed.ok:
        return _refused(request, run, typed)
    kept = book.keep_reading(run.id, key, value, client_id, taken_at(typed.values.get("taken_at", "")))
    if from_phone:
        return JSONResponse({"client_id": client_id, "kept": kept, "at": _address(request, run)})
    unread = [line for line in _lines(request, version) if line not in book.readings(run.id)]
    return back_to(f"{_address(request, run)}#{f'r-{unread[0]}' if unread else 'sheet'}")


def _form_id(typed: Typed, value: object) -> str:
    """A form that is sent twice is kept once; sent again with another value it is another reading, or another run."""
    return f"{typed.values.get('form_id', '')[:40] or uuid4().hex} {value!r}"


def _refused(request: Request, run: FirstRunRow, typed: Typed) -> Response:
    if "client_id" in typed.values:
        return JSONResponse({"refused": next(iter(typed.errors.values()))}, REFUSED)
    return _run_page(request, run, typed, typed.values.get("key", ""), status=REFUSED)


def taken_at(text: str) -> datetime:
    """When something was read, ticked or begun, by the phone's clock; now where that is not told or lies ahead."""
    now = datetime.now(UTC)
    with contextlib.suppress(ValueError):
        told = datetime.fromisoformat(text)
        if told.tzinfo is not None:
            return min(told, now)
    return now


@posted
def keep_begun_without_signal(request: Request, typed: Typed) -> Response:
    """Keep a reading of a first run that was begun on the phone: the first to arrive begins it in the book."""
    slug, begun = request.path_params["slug"], typed.text("begun", longest=80)
    temperature = typed.number("temperature_c", *WATER_C)
    running = typed.number("running_bar", *AT_TAP_BAR, optional=True)
    if not typed.ok:
        return JSONResponse({"refused": next(iter(typed.errors.values()))}, REFUSED)
    at = taken_at(typed.values.get("begun_at", ""))
    run = book_of(request).begin_first_run(slug, temperature, running, None, client_id=begun, begun_at=at)
    return _keep(request, typed, run)


@posted
def close(request: Request, typed: Typed) -> Response:
    """Close it; a reading that comes late is kept all the same."""
    run = _run(request)
    book_of(request).close_first_run(run.id)
    return back_to(_address(request, run))


routes = (
    Route("/sites/{slug}/first-run", show, name="firstrun"),
    Route("/sites/{slug}/first-run", begin, methods=["POST"]),
    Route("/sites/{slug}/first-run/table", table, name="firstrun.table"),
    Route("/sites/{slug}/first-run/begun", keep_begun_without_signal, methods=["POST"]),
    Route("/sites/{slug}/first-run/{run:int}", show_run, name="firstrun"),
    Route("/sites/{slug}/first-run/{run:int}", keep, methods=["POST"]),
    Route("/sites/{slug}/first-run/{run:int}/judged", judge),
    Route("/sites/{slug}/first-run/{run:int}/close", close, methods=["POST"]),
)
