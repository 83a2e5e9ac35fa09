"""Settings: which units are shown and typed, which meter, light or dark."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.papers.units import CHOICES, FACTORS, Units
from rinsewright.web.forms import REFUSED, Typed, posted
from rinsewright.web.view import LIGHTS, back_to, book_of, page, units_of

A_YEAR = 31_536_000


@dataclass(frozen=True)
class Settings:
    """The form, and what can be chosen in it."""

    typed: Typed
    choices: dict[str, dict[str, str]]
    factors: tuple[str, ...]
    saved: bool


def _settings(typed: Typed, *, saved: bool = False) -> Settings:
    choices = {name: {key: unit.word for key, unit in table.items()} for name, table in CHOICES.items()}
    return Settings(typed, choices, tuple(f"{factor:g}" for factor in FACTORS), saved)


def show(request: Request) -> Response:
    """The form with what is set."""
    units = units_of(request)
    typed = Typed(_values(units), units)
    return page(request, "settings.html", _settings(typed, saved="saved" in request.query_params))


def _values(units: Units) -> dict[str, str]:
    return {**{name: getattr(units, name) for name in CHOICES}, "ppm_factor": f"{units.ppm_factor:g}"}


@posted
def save(request: Request, typed: Typed) -> Response:
    """Keep the units."""
    chosen = {name: typed.choice(name, among) for name, among in CHOICES.items()}
    factor = typed.number("ppm_factor", 0.3, 1.0)
    if not typed.ok or factor is None:
        return page(request, "settings.html", _settings(typed), status=REFUSED)
    book = book_of(request)
    for name, value in chosen.items():
        book.set_setting(f"units.{name}", str(value))
    book.set_setting("units.ppm_factor", f"{factor:g}")
    return back_to("/settings?saved=1")


@posted
def set_light(request: Request, typed: Typed) -> Response:
    """Light or dark for this browser, kept in a cookie; back to the page it came from."""
    light = typed.choice("light", LIGHTS) or "auto"
    here = typed.values.get("from", "/")
    answer = back_to(here if here.startswith("/") and here[1:2] not in ("/", "\\") else "/")
    answer.set_cookie("light", light, max_age=A_YEAR, samesite="lax", httponly=True)
    return answer


routes = (
    Route("/settings", show, name="settings"),
    Route("/settings", save, methods=["POST"]),
    Route("/settings/light", set_light, methods=["POST"], name="light"),
)
