"""Unpacking: is everything there? What the boxes should hold, what is to be ordered, what is not needed; ticked off."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import uuid4

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.building.result import BuildSheet, Item
from rinsewright.papers.build import TickRow, kit_is_described, order_cost, supplied, to_order
from rinsewright.papers.units import Telling
from rinsewright.papers.words import opening
from rinsewright.site.schema import SiteFile
from rinsewright.web.forms import Typed, posted
from rinsewright.web.keeping import Seen, seen_of
from rinsewright.web.sections import Filled, Section, filled, saved
from rinsewright.web.view import back_to, book_of, engine_of, page
from rinsewright.web.words import words

SHEET = "unpacking"
FIELD = "tick "  # before the key of a row in the form
MORE = 4  # blank rows for what else the boxes hold


@dataclass(frozen=True)
class Row:
    """One row to tick off; ``key`` is unique over the whole sheet."""

    key: str
    what: str
    amount: str
    note: str
    done: bool


@dataclass(frozen=True)
class Unpacking:
    """The three lists, and what of the kit is not needed. ``cost``: the known prices together, None if none is.

    ``kit`` is the form for what the boxes hold.
    """

    slug: str
    boxes: tuple[Row, ...]
    order: tuple[Row, ...]
    tools: tuple[Row, ...]
    extras: tuple[Item, ...]
    described: bool
    cost: str | None
    kit: Filled
    made_from: int

    @property
    def rows(self) -> tuple[Row, ...]:
        """All rows."""
        return (*self.boxes, *self.order, *self.tools)

    @property
    def done(self) -> int:
        """How many rows are ticked."""
        return sum(row.done for row in self.rows)

    @property
    def missing(self) -> int:
        """How many of what the boxes should hold and of what was ordered are not there yet."""
        return sum(not row.done for row in (*self.boxes, *self.order))


def section() -> Section:
    """The list of the site file that is filled in here."""
    aside = {info.alias or name for name, info in SiteFile.model_fields.items()} - {"kit"}
    return Section("kit", words()("unpacking.kit"), SiteFile, (), aside, blank_rows=MORE)


def _lists(seen: Seen, sheet: BuildSheet, ticks: Mapping[str, bool], refused: Filled | None) -> Unpacking:
    telling = Telling.of(seen.units)
    sheet = telling.retold(sheet)
    tools = [TickRow(tool.key, tool.what, "", tool.why) for tool in sheet.tools]
    boxes, order, at_hand = (
        _rows(name, rows, ticks)
        for name, rows in (("box", supplied(sheet, telling)), ("order", to_order(sheet, telling)), ("tool", tools))
    )
    extras = tuple(item for item in sheet.items if not item.needed)
    return Unpacking(
        slug=seen.slug,
        boxes=boxes,
        order=order,
        tools=at_hand,
        extras=extras,
        described=kit_is_described(sheet),
        cost=order_cost(sheet),
        kit=refused or filled(seen, section()),
        made_from=seen.number,
    )


def _rows(name: str, rows: Iterable[TickRow], ticks: Mapping[str, bool]) -> tuple[Row, ...]:
    made = []
    for row in rows:
        key = f"{name}: {row.key}"
        made.append(Row(key, opening(row.what), row.amount, row.note, ticks.get(key, False)))
    return tuple(made)


def _unpacking(request: Request, refused: Filled | None = None) -> Unpacking:
    seen = seen_of(request)
    return _lists(seen, engine_of(request).build(seen.toml), book_of(request).ticks(seen.slug, SHEET), refused)


def show(request: Request) -> Response:
    """The lists."""
    return page(request, "unpacking.html", _unpacking(request))


@posted
def keep(request: Request, typed: Typed) -> Response:
    """Keep every row whose tick was changed."""
    found = _unpacking(request)
    ticked = {name.removeprefix(FIELD) for name in typed.values if name.startswith(FIELD)}
    now = datetime.now(UTC)
    for row in found.rows:
        if row.done != (row.key in ticked):
            book_of(request).keep_tick(found.slug, SHEET, row.key, not row.done, uuid4().hex, now)
    return back_to(str(request.app.url_path_for("unpacking", slug=found.slug)))


@posted
def save_kit(request: Request, typed: Typed) -> Response:
    """Keep what the boxes hold."""
    return saved(request, typed, seen_of(request), section(), "unpacking", lambda at, _, kit: _unpacking(at, kit))


routes = (
    Route("/sites/{slug}/unpacking", show, name="unpacking"),
    Route("/sites/{slug}/unpacking", keep, methods=["POST"], name="unpacking.keep"),
    Route("/sites/{slug}/unpacking/kit", save_kit, methods=["POST"], name="save-kit"),
)
