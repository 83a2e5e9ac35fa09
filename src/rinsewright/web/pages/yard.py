"""Yard: where does it stand, and what do things cost there? The site's own data, and the prices."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.site.schema import About, Prices
from rinsewright.web.forms import Typed, posted
from rinsewright.web.keeping import Seen, seen_of
from rinsewright.web.sections import Filled, Section, filled, saved
from rinsewright.web.view import page
from rinsewright.web.words import words


@dataclass(frozen=True)
class YardPage:
    """The page."""

    address: str
    said: tuple[str, ...]
    forms: tuple[Filled, ...]
    made_from: int


def sections() -> dict[str, Section]:
    """The tables of the site file that are filled in here."""
    t = words()
    found = (
        Section("site", t("yard.form.site"), About, ("site",), goes_when_empty=True),
        Section("prices", t("yard.form.prices"), Prices, ("prices",), goes_when_empty=True),
    )
    return {section.name: section for section in found}


def show(request: Request) -> Response:
    """The page."""
    return page(request, "yard.html", _content(request, seen_of(request)))


def _content(request: Request, seen: Seen, refused: Filled | None = None) -> YardPage:
    forms = (filled(seen, section) for section in sections().values())
    return YardPage(
        address=str(request.app.url_path_for("yard", slug=seen.slug)),
        said=tuple(_said(seen)),
        forms=tuple(refused if refused and refused.name == form.name else form for form in forms),
        made_from=seen.number,
    )


def _said(seen: Seen) -> Iterator[str]:
    """Frost, and which prices are known."""
    t, model = words(), seen.site.document.model
    yield t("yard.no_frost" if model.site.frost_protected else "yard.frost")
    costs = {name: info for name, info in Prices.model_fields.items() if name not in ("currency", "years")}
    missing = [(info.title or name) for name, info in costs.items() if getattr(model.prices, name) is None]
    if len(missing) == len(costs):
        yield t("yard.no_prices")
    elif missing:
        yield t("yard.missing", missing=", ".join(missing))
    else:
        yield t("yard.all_prices")


@posted
def save(request: Request, typed: Typed) -> Response:
    """Keep one of the forms."""
    section = sections().get(request.path_params["table"])
    return saved(request, typed, seen_of(request), section, "yard", _content)


AT = "/sites/{slug}/yard"
routes = (
    Route(AT, show, name="yard"),
    Route(f"{AT}/{{table}}", save, methods=["POST"], name="save-yard"),
)
