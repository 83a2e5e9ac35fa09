"""Sites: who needs me? A list by urgency; a site file brought in; the example copied; what was removed."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.api import Site
from rinsewright.errors import InputError, RinsewrightError
from rinsewright.papers.content import VERDICTS
from rinsewright.planning.plan import Plan
from rinsewright.store.rows import SiteRow
from rinsewright.web.engine import NAME
from rinsewright.web.forms import REFUSED, Typed, posted
from rinsewright.web.pages.refusal import sentences
from rinsewright.web.view import back_to, book_of, engine_of, home_of, page, units_of
from rinsewright.web.words import words


@dataclass(frozen=True)
class SiteLine:
    """One site in the list; ``verdict`` and ``sentence`` are None where its plan is still to be made."""

    row: SiteRow
    address: str
    verdict: str | None = None
    sentence: str | None = None


@dataclass(frozen=True)
class Sites:
    """The list, what was removed, and the form for a site file."""

    lines: tuple[SiteLine, ...]
    removed: tuple[SiteRow, ...]
    typed: Typed


@dataclass(frozen=True)
class OneLine:
    """The same for one site, sent after the list."""

    line: SiteLine


def _list(request: Request, typed: Typed) -> Sites:
    book, engine = book_of(request), engine_of(request)
    lines = []
    for row in book.sites():
        plan = engine.plan_if_known(book.current(row.slug).toml)
        lines.append(_line(request, row, plan) if plan else SiteLine(row, home_of(request, row.slug)))
    return Sites(tuple(sorted(lines, key=_urgency)), tuple(book.removed()), typed)


def _urgency(line: SiteLine) -> tuple[int, str]:
    order: tuple[str | None, ...] = (*VERDICTS[:2], None, VERDICTS[2])
    return order.index(line.verdict), line.row.name.casefold()


def _line(request: Request, row: SiteRow, plan: Plan) -> SiteLine:
    sentence = units_of(request).retell(plan.sentences()[0], plan.situation_factor)
    return SiteLine(row, home_of(request, row.slug), worst(plan), sentence)


def worst(plan: Plan) -> str:
    """The most urgent word of a plan's verdicts."""
    found = {verdict.verdict for verdict in plan.verdicts}
    return next((word for word in VERDICTS if word in found), VERDICTS[-1])


def show(request: Request) -> Response:
    """The list."""
    return page(request, "sites.html", _list(request, Typed()))


def line(request: Request) -> Response:
    """One site's word and sentence, for which its plan is made."""
    book = book_of(request)
    row = book.site(request.path_params["slug"])
    try:
        found = _line(request, row, engine_of(request).plan(book.current(row.slug).toml))
    except RinsewrightError as refusal:  # a site that cannot run says so in its own line
        found = SiteLine(row, home_of(request, row.slug), VERDICTS[0], sentences(refusal)[0])
    return page(request, "site_line.html", OneLine(found))


@posted
def add(request: Request, typed: Typed) -> Response:
    """Bring a site file in, from a file or pasted; what is wrong with it is said and the text stays."""
    text = typed.values.get("file") or typed.values.get("text", "")
    typed.values["text"] = text
    if not text.strip():
        typed.refuse("text", words()("sites.import_empty"))
    else:
        try:
            name = Site.loads(text, typed.values.get("file_name") or NAME).name
        except InputError as refusal:
            typed.refuse("text", str(refusal))
    if not typed.ok:
        return page(request, "sites.html", _list(request, typed), status=REFUSED)
    row = book_of(request).add_site(text, name, words()("sites.was_imported"))
    return back_to(home_of(request, row.slug))


@posted
def add_example(request: Request, typed: Typed) -> Response:
    """Copy the example, to look round in."""
    text = files("rinsewright.web").joinpath("example.toml").read_text(encoding="utf-8")
    row = book_of(request).add_site(text, Site.loads(text, NAME).name, words()("sites.was_example"))
    return back_to(home_of(request, row.slug))


def home(request: Request) -> Response:
    """A site's own address leads to its first page."""
    return back_to(home_of(request, book_of(request).site(request.path_params["slug"]).slug))


@posted
def remove(request: Request, typed: Typed) -> Response:
    """Take a site off the list; it stays in the book."""
    book_of(request).remove_site(request.path_params["slug"])
    return back_to("/")


@posted
def bring_back(request: Request, typed: Typed) -> Response:
    """Put a removed site on the list again."""
    book_of(request).bring_back(request.path_params["slug"])
    return back_to("/")


def download(request: Request) -> Response:
    """The site file as it stands."""
    slug = request.path_params["slug"]
    return as_file(book_of(request).current(slug).toml, slug)


def as_file(text: str, name: str) -> Response:
    """A site file to be kept under a name."""
    headers = {"Content-Disposition": f'attachment; filename="{name}.toml"'}
    return Response(text.encode(), media_type="application/toml", headers=headers)


routes = (
    Route("/", show, name="sites"),
    Route("/sites", add, methods=["POST"], name="add-site"),
    Route("/sites/example", add_example, methods=["POST"], name="add-example"),
    Route("/sites/{slug}/", home, name="site"),
    Route("/sites/{slug}/line", line, name="site-line"),
    Route("/sites/{slug}/file", download, name="site-file"),
    Route("/sites/{slug}/remove", remove, methods=["POST"], name="remove-site"),
    Route("/sites/{slug}/bring-back", bring_back, methods=["POST"], name="bring-back"),
)
