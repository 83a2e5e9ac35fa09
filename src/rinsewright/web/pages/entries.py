"""Lists of the site file whose entries have a page each: vans and rounds of the work, other waters of the year."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.papers.units import Units
from rinsewright.papers.words import number
from rinsewright.site.schema import Change, Round, Van
from rinsewright.web.forms import REFUSED, Typed, posted
from rinsewright.web.keeping import Seen, index_now, keep, made_from_of, seen_of, table_of, what_changed
from rinsewright.web.keys import told
from rinsewright.web.lines import put_in, take_out, write
from rinsewright.web.tables import TableForm, form_of, read
from rinsewright.web.view import back_to, page
from rinsewright.web.words import words

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

JOBS_MORE = 6  # blank rows for jobs: a day has several
MOST_IONS = 5  # told in a line

Given = Mapping[str, Any]


@dataclass(frozen=True)
class Listed:
    """A list: what checks an entry, where the list stands, and the page on which it is shown."""

    name: str
    model: type[BaseModel]
    path: tuple[str, ...]
    home: str
    called: Callable[[Given], str]
    told: Callable[[Given, Units], str]

    def key(self, index: int) -> str:
        """The key of an entry, as problems name it."""
        return f"{'.'.join(self.path)}[{index}]"


# ---- entries in words ----


def day_said(month_day: str) -> str:
    """A day of every year in words: 11-01 is 1 November."""
    month, day = (int(piece) for piece in month_day.split("-"))
    return f"{day} {date(2001, month, day):%B}"


def _van(van: Given, units: Units) -> str:
    filled = units.say("volume", van["tank_litres"])
    at = van.get("refill_at", Van.model_fields["refill_at"].default)
    return words()("entry.told.vans", filled=filled, at=at)


def _round(day: Given, units: Units) -> str:
    jobs = day["jobs"]
    litres = units.say("volume", sum(job["litres"] for job in jobs))
    minutes = number(sum(job["minutes"] for job in jobs))
    return words()("entry.told.rounds", jobs=len(jobs), litres=litres, minutes=minutes)


def _change(change: Given, units: Units) -> str:
    ions = [f"{ion} {number(value)}" for ion, value in change["ions_mg_l"].items()]
    return ", ".join(ions[:MOST_IONS]) + " mg/L" + (", …" if len(ions) > MOST_IONS else "")


LISTS = {
    listed.name: listed
    for listed in (
        Listed("vans", Van, ("demand", "vans"), "work", lambda van: van["name"], _van),
        Listed("rounds", Round, ("demand", "rounds"), "work", lambda day: told(day["day"]), _round),
        Listed("changes", Change, ("water", "changes"), "tap", lambda change: day_said(change["from"]), _change),
    )
}


# ---- a list as a page shows it ----


@dataclass(frozen=True)
class Line:
    """An entry in a list."""

    address: str
    name: str
    told: str


@dataclass(frozen=True)
class Entries:
    """A list with its entries, and where one is added."""

    name: str
    lines: tuple[Line, ...]
    new: str


def entries_of(request: Request, seen: Seen, name: str) -> Entries:
    """A list of the site."""
    listed = LISTS[name]
    at = f"{request.app.url_path_for(listed.home, slug=seen.slug)}/{name}"
    lines = (
        Line(f"{at}/{n}", _called(listed, entry), listed.told(entry, seen.units))
        for n, entry in enumerate(_given(seen, listed))
    )
    return Entries(name, tuple(lines), f"{at}/new")


def _called(listed: Listed, entry: Given) -> str:
    return words()(f"entry.name.{listed.name}", what=listed.called(entry))


def _given(seen: Seen, listed: Listed) -> list[Given]:
    return list(table_of(seen.toml, listed.path))


# ---- the page of an entry ----


@dataclass(frozen=True)
class EntryPage:
    """An entry and its form; ``note`` is what is good to know before it is put in, ``caution`` what can hurt."""

    name: str
    list: str
    home: str
    address: str
    back: str
    form: TableForm
    typed: Typed
    made_from: int
    note: str = ""
    alarm: str = ""
    like: str | None = None  # where another one like it is begun; None for one that is new itself


@dataclass(frozen=True)
class _At:
    """The entry that is asked for; ``index`` None for a new one."""

    seen: Seen
    listed: Listed
    index: int | None

    @property
    def entry(self) -> Given:
        return {} if self.index is None else _given(self.seen, self.listed)[self.index]

    @property
    def form(self) -> TableForm:
        return form_of(self.listed.model, self.entry, self.seen.units, blank_rows=JOBS_MORE)

    @property
    def name(self) -> str:
        if self.index is None:
            return words()(f"entry.new.{self.listed.name}")
        return _called(self.listed, self.entry)


def _at(request: Request, typed: Typed | None = None) -> _At:
    """Raises 404 where there is no such list, or no such entry in it.

    ``typed`` is a form that may have been made from an older version; the entry is then the one that it showed.
    """
    listed = LISTS.get(request.path_params["list"])
    index = request.path_params.get("index")
    home = request.url.path.split("/")[3]
    if listed is None or listed.home != home:
        raise HTTPException(404)
    seen = seen_of(request)
    if index is not None and typed is not None:
        index = index_now(request, seen, typed, listed.path, index)
    if index is not None and index >= len(_given(seen, listed)):
        raise HTTPException(404)
    return _At(seen, listed, index)


def _content(request: Request, at: _At, typed: Typed, alarm: str = "") -> EntryPage:
    home = str(request.app.url_path_for(at.listed.home, slug=at.seen.slug))
    address = f"{home}/{at.listed.name}"
    return EntryPage(
        name=at.name,
        list=at.listed.name,
        home=at.listed.home,
        address=f"{address}/{'new' if at.index is None else at.index}",
        back=f"{home}#{at.listed.name}",
        form=at.form,
        typed=typed,
        made_from=at.seen.number,
        note=words()("entry.litres_go") if _takes_litres(at) else "",
        alarm=alarm,
        like=None if at.index is None else f"{address}/new?like={at.index}",
    )


def _takes_litres(at: _At) -> bool:
    """Whether this is a round put in where litres by day stand, which then go: the file takes one of the two."""
    return at.index is None and at.listed.name == "rounds" and bool(_litres(at.seen))


def _litres(seen: Seen) -> Any:
    return table_of(seen.toml, ("demand", "litres_per_day"))


def show(request: Request) -> Response:
    """An entry; or the form for a new one, filled like another one where that is asked for (``?like=0``)."""
    at = _at(request)
    form = at.form
    like = request.query_params.get("like", "")
    if at.index is None and like.isdecimal() and int(like) < len(_given(at.seen, at.listed)):
        form = _At(at.seen, at.listed, int(like)).form
    return page(request, "entry.html", _content(request, at, Typed(form.values(), at.seen.units)))


@posted
def save(request: Request, typed: Typed) -> Response:
    """Keep an entry, or put a new one in."""
    at = _at(request, typed)
    form = at.form
    changed = read(form, typed)
    path, end = at.listed.path, len(_given(at.seen, at.listed))
    index = end if at.index is None else at.index

    def change(document: TOMLDocument) -> None:
        if at.index is None:
            put_in(document, path, index, {})
        write(document, (*path, index), changed)
        if _takes_litres(at):
            write(document, path[:-1], {("litres_per_day",): None})

    def what(text: str) -> str:
        if at.index is not None:
            return what_changed(at.name, at.seen.toml, text)
        entry = table_of(text, path)[index]
        name = "entry.was_put_in_for_litres" if _takes_litres(at) else "plant.was_put_in"
        return words()(name, part=_called(at.listed, entry))

    return _kept(request, at, typed, change, what, form)


@posted
def take(request: Request, typed: Typed) -> Response:
    """Take an entry out."""
    at = _at(request, typed)
    index = at.index
    assert index is not None  # by its route
    what = words()("plant.was_taken_out", part=at.name)
    return _kept(
        request, at, typed, lambda document: take_out(document, at.listed.path, index), lambda _: what, at.form
    )


def _kept(
    request: Request,
    at: _At,
    typed: Typed,
    change: Callable[[TOMLDocument], None],
    what: Callable[[str], str],
    form: TableForm,
) -> Response:
    """Keep a change and go back to the list; the page with what was refused where it is not kept."""
    alarm, status = "", REFUSED
    index = len(_given(at.seen, at.listed)) if at.index is None else at.index
    if typed.ok:
        made_from = made_from_of(typed, at.seen)
        alarm, status = keep(request, at.seen, made_from, change, what, typed, at.listed.key(index))
    content = _content(request, at, typed, alarm)
    if typed.ok and not alarm:
        return back_to(content.back)
    typed.values = {**form.values(), **typed.values}
    return page(request, "entry.html", content, status=status)


routes = tuple(
    route
    for home in dict.fromkeys(listed.home for listed in LISTS.values())
    for route in (
        Route(f"/sites/{{slug}}/{home}/{{list}}/new", show, name=home),
        Route(f"/sites/{{slug}}/{home}/{{list}}/new", save, methods=["POST"], name=f"add-to-{home}"),
        Route(f"/sites/{{slug}}/{home}/{{list}}/{{index:int}}", show, name=home),
        Route(f"/sites/{{slug}}/{home}/{{list}}/{{index:int}}", save, methods=["POST"], name=f"save-in-{home}"),
        Route(
            f"/sites/{{slug}}/{home}/{{list}}/{{index:int}}/take-out", take, methods=["POST"], name=f"take-from-{home}"
        ),
    )
)
