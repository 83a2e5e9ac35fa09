"""Ticks: that something on a sheet is done, or not after all; each kept exactly once, told in JSON."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import uuid4

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from rinsewright.web.forms import REFUSED, Typed, posted
from rinsewright.web.pages.firstrun import taken_at
from rinsewright.web.view import back_to, book_of

LONGEST = 400


def show(request: Request) -> Response:
    """The ticks of one sheet, ``?sheet=build``: key and whether it is done."""
    slug, sheet = request.path_params["slug"], request.query_params.get("sheet", "")
    return JSONResponse(book_of(request).ticks(slug, sheet))


@posted
def keep(request: Request, typed: Typed) -> Response:
    """Keep one. With a ``client_id`` it comes from a phone's own list, which is told; else from a form."""
    slug = request.path_params["slug"]
    sheet, key = typed.text("sheet", longest=80), typed.text("key", longest=LONGEST)
    done = typed.values.get("done") == "yes"
    if "client_id" not in typed.values:
        if typed.ok:
            book_of(request).keep_tick(slug, sheet, key, done, uuid4().hex, datetime.now(UTC))
        here = typed.values.get("from", "")
        return back_to(here if here.startswith(f"/sites/{slug}/") else f"/sites/{slug}/{sheet}")
    client_id = typed.text("client_id", longest=80)
    if not typed.ok:
        return JSONResponse({"refused": next(iter(typed.errors.values()))}, REFUSED)
    kept = book_of(request).keep_tick(slug, sheet, key, done, client_id, taken_at(typed.values.get("taken_at", "")))
    return JSONResponse({"client_id": client_id, "kept": kept})


routes = (
    Route("/sites/{slug}/ticks", show, name="ticks"),
    Route("/sites/{slug}/ticks", keep, methods=["POST"]),
)
