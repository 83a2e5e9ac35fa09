"""From a frozen dataclass to a page: template, words, units and navigation, or one fragment of it alone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from rinsewright import __version__
from rinsewright.papers.units import Units
from rinsewright.store.book import Book
from rinsewright.web.engine import Engine
from rinsewright.web.units import units_in
from rinsewright.web.words import words

if TYPE_CHECKING:
    from jinja2 import Environment, Template

# The order in which pages stand in the navigation; one is linked as soon as it has a route of this name.
GROUPS = (
    ("plan", ("start", "tap", "work", "yard", "plant", "year")),
    ("build", ("build", "unpacking", "firstrun")),
    ("keep", ("papers",)),
)
HOMES = ("plant", "start", "versions")
LIGHTS = ("auto", "day", "night")


@dataclass(frozen=True)
class Link:
    """One page in the navigation."""

    name: str
    address: str
    here: bool


@dataclass(frozen=True)
class Group:
    """Pages that belong together."""

    name: str
    links: tuple[Link, ...]

    @property
    def here(self) -> bool:
        """Whether the page shown is one of them."""
        return any(link.here for link in self.links)


@dataclass(frozen=True)
class SiteBar:
    """What stands at the head of every page of a site."""

    slug: str
    name: str
    number: int
    what: str
    changed_at: datetime
    can_undo: bool


def book_of(request: Request) -> Book:
    """The book that this app keeps."""
    book: Book = request.app.state.book
    return book


def engine_of(request: Request) -> Engine:
    """The engine with what it remembers."""
    engine: Engine = request.app.state.engine
    return engine


def units_of(request: Request) -> Units:
    """The units the user has chosen, asked of the book once for each request."""
    if not hasattr(request.state, "units"):
        request.state.units = units_in(book_of(request))
    units: Units = request.state.units
    return units


def has_page(request: Request, name: str) -> bool:
    """Whether there is a page of this name."""
    return any(getattr(route, "name", None) == name for route in request.app.routes)


def home_of(request: Request, slug: str) -> str:
    """The first page of a site."""
    name = next(name for name in HOMES if has_page(request, name))
    return str(request.app.url_path_for(name, slug=slug))


def page(request: Request, template: str, content: Any, *, status: int = 200) -> Response:
    """A page from ``content`` (in the template: ``page``), or of it the fragments that ``X-Fragment`` names.

    A fragment is a block of the template; its element carries the same name as its id.
    """
    found = environment().get_template(template)
    context = {"page": content, **_surroundings(request)}
    html = _blocks(found, request.headers.get("x-fragment", "").split(), context) or found.render(context)
    return HTMLResponse(html, status, headers={"Vary": "X-Fragment, Cookie"})


def back_to(address: str) -> Response:
    """After something was changed: go and look at it (303, so that a reload sends nothing again)."""
    return RedirectResponse(address, 303)


@cache
def environment() -> Environment:
    """Templates of ours, and beside them those of the papers, of which pages share marks, drawings and inks."""
    from jinja2 import ChoiceLoader, PackageLoader

    from rinsewright.papers.sheets import environment as papers
    from rinsewright.web.assets import asset

    made = papers()
    assert made.loader is not None
    made.loader = ChoiceLoader([PackageLoader("rinsewright.web"), made.loader])
    made.globals.update(t=words(), asset=lambda name: asset(name).address, program=__version__)
    made.filters.update(day=_day, moment=_moment)
    return made


def _blocks(template: Template, names: list[str], values: dict[str, Any]) -> str:
    """Some blocks of a template alone, its own or inherited; those that it does not have are left out."""
    if not names:
        return ""
    context = template.new_context(values)
    next(template.root_render_func(context))  # as far as the first output: imports and inherited blocks are there then
    return "".join("".join(context.blocks[name][0](context)) for name in names if name in context.blocks)


def _surroundings(request: Request) -> dict[str, Any]:
    slug = request.path_params.get("slug")
    light = request.cookies.get("light", "auto")
    return {
        "units": units_of(request),
        "bar": _bar(request, slug) if slug else None,
        "groups": _groups(request, slug) if slug else (),
        "light": light if light in LIGHTS else "auto",
        "path": request.url.path,
    }


def _bar(request: Request, slug: str) -> SiteBar | None:
    from rinsewright.store.errors import NotInBook

    try:
        current = book_of(request).current(slug)
    except NotInBook:  # the page says so
        return None
    can_undo = (current.copy_of or current.number) > 1  # else it stands as it was first made
    return SiteBar(slug, current.name, current.number, current.what, current.made_at, can_undo)


def _groups(request: Request, slug: str) -> tuple[Group, ...]:
    found = [
        Group(group, tuple(_link(request, slug, name) for name in names if has_page(request, name)))
        for group, names in GROUPS
    ]
    return tuple(group for group in found if group.links)


def _link(request: Request, slug: str, name: str) -> Link:
    """A page in the navigation; one is also there on what belongs to it, and where a form of it was refused."""
    address = str(request.app.url_path_for(name, slug=slug))
    return Link(name, address, f"{request.url.path}/".startswith(f"{address}/"))


def _day(when: datetime) -> str:
    """A day as people write it, by this machine's clock."""
    local = when.astimezone()
    return f"{local.day} {local:%b %Y}"


def _moment(when: datetime) -> str:
    """A day and its time."""
    return f"{_day(when)}, {when.astimezone():%H:%M}"
