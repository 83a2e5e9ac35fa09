"""Earlier versions of a site: what was changed when, two of them compared, the last change undone, one brought back."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.store.rows import Version
from rinsewright.web.changes import Change, changes
from rinsewright.web.forms import Typed, posted
from rinsewright.web.pages.sites import as_file
from rinsewright.web.view import back_to, book_of, home_of, page
from rinsewright.web.words import words


@dataclass(frozen=True)
class Compared:
    """Two versions and what differs, as lines in words."""

    before: Version
    after: Version
    changes: tuple[Change, ...]


@dataclass(frozen=True)
class Versions:
    """All versions, the newest first, and the comparison if one is asked for."""

    slug: str
    versions: tuple[Version, ...]
    compared: Compared | None


def show(request: Request) -> Response:
    """The list; ``?compare=3`` with the version before it, ``&with=1`` with another."""
    slug = request.path_params["slug"]
    versions = tuple(sorted(book_of(request).versions(slug), key=lambda version: -version.number))
    return page(request, "versions.html", Versions(slug, versions, _compared(request, slug)))


def _compared(request: Request, slug: str) -> Compared | None:
    asked = request.query_params.get("compare", "")
    if not asked.isdecimal():
        return None
    against = request.query_params.get("with", "")
    other = int(against) if against.isdecimal() else int(asked) - 1
    book = book_of(request)
    before, after = (book.version(slug, number) for number in sorted((other, int(asked))))
    return Compared(before, after, tuple(changes(before.toml, after.toml)))


@posted
def undo(request: Request, typed: Typed) -> Response:
    """Bring the state before the current one back, as a new version; back to the page it came from."""
    slug = request.path_params["slug"]
    book_of(request).undo(slug)
    here = typed.values.get("from", "")
    return back_to(here if here.startswith(f"/sites/{slug}/") else home_of(request, slug))


@posted
def bring_back(request: Request, typed: Typed) -> Response:
    """Make a version the current one again, as a new version that can be undone."""
    slug, number, book = request.path_params["slug"], request.path_params["number"], book_of(request)
    old, current = book.version(slug, number), book.current(slug)
    book.save(slug, old.toml, old.name, words()("versions.was_brought_back", number=number), current.number)
    return back_to(str(request.app.url_path_for("versions", slug=slug)))


def file(request: Request) -> Response:
    """The site file as a version had it."""
    slug, number = request.path_params["slug"], request.path_params["number"]
    return as_file(book_of(request).version(slug, number).toml, f"{slug}-version-{number}")


routes = (
    Route("/sites/{slug}/versions", show, name="versions"),
    Route("/sites/{slug}/versions/{number:int}/file", file, name="version-file"),
    Route("/sites/{slug}/versions/{number:int}/back", bring_back, methods=["POST"], name="version-back"),
    Route("/sites/{slug}/undo", undo, methods=["POST"], name="undo"),
)
