"""Earlier versions of a site: what was changed when, two of them compared, the last change undone."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.store.rows import Version
from rinsewright.web.changes import Change, changes
from rinsewright.web.forms import Typed, posted
from rinsewright.web.view import back_to, book_of, home_of, page


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


routes = (
    Route("/sites/{slug}/versions", show, name="versions"),
    Route("/sites/{slug}/undo", undo, methods=["POST"], name="undo"),
)
