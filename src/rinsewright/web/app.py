"""The app, put together: routes, the guard before them, and what is shown where something is refused."""

from __future__ import annotations

from collections.abc import Collection

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import BaseRoute, Route

from rinsewright.errors import InputError, NoWorkingState, RinsewrightError
from rinsewright.store.book import Book
from rinsewright.store.errors import ChangedMeanwhile, NotInBook
from rinsewright.web import assets
from rinsewright.web.drawn_years import DrawnYears
from rinsewright.web.engine import Engine
from rinsewright.web.guard import Guard
from rinsewright.web.pages import PAGES
from rinsewright.web.pages.refusal import Refusal, refusal_of
from rinsewright.web.runs import Runs
from rinsewright.web.view import page
from rinsewright.web.words import words


def make_app(book: Book, *, hosts: Collection[str], engine: Engine | None = None) -> Starlette:
    """The app over a book. ``hosts``: what the Host header of a request may be, with the port; ``engine``: one that
    already remembers something.
    """
    routes: list[BaseRoute] = [Route("/healthz", healthy), *assets.routes]
    for module in PAGES:
        routes += module.routes
    app = Starlette(
        routes=routes,
        middleware=[Middleware(Guard, hosts=hosts)],
        exception_handlers={RinsewrightError: refused, HTTPException: not_served},
    )
    app.state.book = book
    engine = app.state.engine = engine or Engine()
    drawn = app.state.drawn_years = DrawnYears(book, engine)
    app.state.runs = Runs(drawn.keep)
    return app


def healthy(request: Request) -> Response:
    """Whether the app answers, and its book with it."""
    book: Book = request.app.state.book
    book.setting("healthz")
    return PlainTextResponse("ok")


def refused(request: Request, refusal: Exception) -> Response:
    """What the engine or the book refused, as a page with its sentences."""
    assert isinstance(refusal, RinsewrightError)
    if isinstance(refusal, NotInBook):
        status = 404
    elif isinstance(refusal, ChangedMeanwhile):
        status = 409
    else:
        status = 422 if isinstance(refusal, InputError | NoWorkingState) else 500
    return page(request, "refusal.html", refusal_of(refusal), status=status)


def not_served(request: Request, refusal: Exception) -> Response:
    """No such page, or not in this way."""
    assert isinstance(refusal, HTTPException)
    known = {404: "refusal.no_page", 405: "refusal.no_method"}
    name = known.get(refusal.status_code)
    sentence = words()(name) if name else str(refusal.detail)
    answer = page(request, "refusal.html", Refusal((sentence,)), status=refusal.status_code)
    answer.headers.update(refusal.headers or {})
    return answer
