"""One part of the plant: what it is, what is wrong with it, its keys as a form; a part put in or taken out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, get_args

from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.api import Site
from rinsewright.catalogue import parts as models
from rinsewright.catalogue.loader import load_catalogue
from rinsewright.papers.words import opening
from rinsewright.planning.verdicts.word import Verdict
from rinsewright.plant.layout import Plant
from rinsewright.site.checks import path_of
from rinsewright.site.schema import PlantTable, SupplyTable
from rinsewright.web.forms import REFUSED, Typed, posted
from rinsewright.web.keeping import CONFLICT, Seen, index_now, keep, made_from_of, seen_of, table_of, what_changed
from rinsewright.web.lines import LINES, Path, put_in, repeat, take_out, write
from rinsewright.web.pages.plant import findings_of, part_address, plant_of
from rinsewright.web.tables import TableForm, form_of, read
from rinsewright.web.view import back_to, engine_of, page
from rinsewright.web.words import words

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

MEMBRANE = "membrane"
UNIONS = {"feed": models.FeedPart, "drain": models.DrainPart, "product": models.ProductPart}
TABLES: dict[str, tuple[type[BaseModel], tuple[str | int, ...]]] = {
    "supply": (SupplyTable, ("supply",)),
    "plant": (PlantTable, ("plant",)),
}
BESIDE = ("feed", "membranes", "drain", "product")  # the lines, whose parts have a page each


@dataclass(frozen=True)
class Place:
    """Where something stands in the site file, and what model checks it."""

    key: str
    path: tuple[str | int, ...]
    model: type[BaseModel]

    @property
    def line(self) -> str | None:
        """The line of a part; None for a table that is no part."""
        return str(self.path[1]) if len(self.path) == 3 else None

    @property
    def index(self) -> int:
        """Where on its line a part stands."""
        return int(self.path[2])


@dataclass(frozen=True)
class Start:
    """The beginning of a line, where a part can be put in too; ``kinds`` in words."""

    line: str
    address: str
    kinds: Mapping[str, str]


@dataclass(frozen=True)
class PartPage:
    """A part and its form; ``can_add`` are the kinds of part that can follow it, in words."""

    key: str
    address: str
    plant_address: str
    name: str
    size: str
    findings: tuple[Verdict, ...]
    form: TableForm
    typed: Typed
    made_from: int
    alarm: str
    can_add: Mapping[str, str]
    can_repeat: bool
    can_take_out: bool
    starts: tuple[Start, ...] = ()
    is_new: bool = False
    kind: str = ""


# ---- kinds of part ----


def kinds(line: str) -> dict[str, type[models.Stocked]]:
    """The kinds of part that a line can have, by the word of the site file."""
    if line not in UNIONS:
        return {}
    members = get_args(get_args(UNIONS[line])[0])
    return {str(get_args(member.model_fields["part"].annotation)[0]): member for member in members}


def said(kind: str) -> str:
    """A kind of part in words."""
    return words()(f"plant.kind.{kind}")


def place_at(site: Site, key: str) -> Place:
    """The place of a key in a site; raises 404 where there is none."""
    if key in TABLES:
        model, path = TABLES[key]
        return Place(key, path, model)
    table = site.document.model.plant
    try:
        head, line, index = path_of(key)
        part = getattr(table, str(line))[int(index)] if head == "plant" and line in LINES else None
    except (ValueError, IndexError, AttributeError):
        part = None
    if part is None:
        raise HTTPException(404)
    return Place(key, (head, line, int(index)), type(part))


def key_now(request: Request, seen: Seen, typed: Typed) -> str:
    """The key of the part that the editor saw: others may have come or gone before it since."""
    key = str(request.path_params["key"])
    path = path_of(key)
    if len(path) != 3 or path[1] not in LINES or not isinstance(path[2], int):
        return key
    line = (path[0], path[1])
    return f"{path[0]}.{path[1]}[{index_now(request, seen, typed, line, path[2])}]"


def start_of(site: Site, key: str) -> tuple[str, int]:
    """Where a part goes that is put in after a key: its line, and its place on it."""
    if key == "supply":
        return "feed", 0
    line = key.removeprefix("plant.")
    if line in LINES:
        return line, 0
    place = place_at(site, key)
    if place.line is None:
        raise HTTPException(404)
    return place.line, place.index + 1


# ---- the page ----


def show(request: Request) -> Response:
    """A part with its form."""
    seen = seen_of(request)
    return page(request, "part.html", _content(request, seen, place_at(seen.site, request.path_params["key"])))


def _content(
    request: Request,
    seen: Seen,
    place: Place,
    typed: Typed | None = None,
    alarm: str = "",
    made_from: int | None = None,
) -> PartPage:
    form = _form(seen, place)
    plant = plant_of(seen.site)
    name, size = _called(plant, place, seen.site)
    size = seen.units.retell(size)
    plan = engine_of(request).plan_if_known(seen.toml)
    after = {kind: said(kind) for kind in kinds(start_of(seen.site, place.key)[0])} if _adds(place) else {}
    line = place.line
    return PartPage(
        key=place.key,
        address=part_address(request, seen.slug, place.key),
        plant_address=str(request.app.url_path_for("plant", slug=seen.slug)),
        name=name,
        size=size,
        findings=findings_of(plan.verdicts, plant).get(place.key, ()) if plan else (),
        form=form,
        typed=typed or Typed(form.values(), seen.units),
        made_from=made_from or seen.number,
        alarm=alarm,
        can_add=after,
        can_repeat=line == "membranes",
        can_take_out=line is not None,
        starts=tuple(_starts(request, seen.slug)) if place.key == "plant" else (),
    )


def _starts(request: Request, slug: str) -> Iterator[Start]:
    for line in LINES:
        those = {kind: said(kind) for kind in kinds(line)} or {MEMBRANE: said(MEMBRANE)}
        yield Start(line, f"{part_address(request, slug, f'plant.{line}')}/after", those)


def _adds(place: Place) -> bool:
    return place.key == "supply" or place.line is not None


def _called(plant: Plant, place: Place, site: Site) -> tuple[str, str]:
    """A part's name and size in words."""
    from rinsewright.jobs.water_path import size_text

    found = {part.key: part for part in (*plant.feed, *plant.elements, *plant.drain, *plant.product)}.get(place.key)
    if found is not None:
        return opening(found.name), size_text(found)
    return words()(f"plant.table.{place.key}"), ""


def _form(seen: Seen, place: Place) -> TableForm:
    given: Any = table_of(seen.toml, place.path)
    return _form_of(place.model, given, seen)


def _form_of(model: type[BaseModel], given: Mapping[str, Any], seen: Seen) -> TableForm:
    reference = "part" if model is models.Membrane else "size"
    kind = next((kind for kind, known in models.KINDS.items() if known is model), None)
    entries = load_catalogue().entries[kind] if kind else {}
    entry = entries.get(str(given.get(reference)))
    return form_of(
        model,
        given,
        seen.units,
        catalogue=entry.values if entry else None,
        choices={reference: ("", *entries)} if entries else None,
        leave_out=BESIDE,
        money=seen.currency,
    )


# ---- changing it ----


@posted
def save(request: Request, typed: Typed) -> Response:
    """Keep what was typed, if the site is right with it."""
    seen = seen_of(request)
    place = place_at(seen.site, key_now(request, seen, typed))
    made_from = made_from_of(typed, seen)
    form = _form(seen, place)
    changed = read(form, typed)

    def change(document: TOMLDocument) -> None:
        write(document, place.path, changed)

    name, _ = _called(plant_of(seen.site), place, seen.site)
    alarm, status = "", REFUSED
    if typed.ok:
        alarm, status = keep(
            request, seen, made_from, change, lambda text: what_changed(name, seen.toml, text), typed, place.key
        )
    if typed.ok and not alarm:
        return back_to(part_address(request, seen.slug, place.key))
    typed.values = {**form.values(), **typed.values}
    made_from = seen.number if status == CONFLICT else made_from  # whoever sends it once more has been told
    return page(request, "part.html", _content(request, seen, place, typed, alarm, made_from), status=status)


# ---- parts that come and go ----


def new(request: Request) -> Response:
    """The form of a part that is to be put in after another one (``?kind=tube``)."""
    seen = seen_of(request)
    kind = request.query_params.get("kind", "")
    return page(request, "part.html", _new_content(request, seen, kind, Typed(units=seen.units)))


def _new_content(
    request: Request,
    seen: Seen,
    kind: str,
    typed: Typed,
    alarm: str = "",
    made_from: int | None = None,
    key: str = "",
) -> PartPage:
    key = key or request.path_params["key"]
    line, _ = start_of(seen.site, key)
    model = models.Membrane if line == "membranes" else kinds(line).get(kind)
    if model is None:
        raise HTTPException(404)
    form = _form_of(model, {}, seen)
    return PartPage(
        key=key,
        address=f"{part_address(request, seen.slug, key)}/after",
        plant_address=str(request.app.url_path_for("plant", slug=seen.slug)),
        name=opening(said(MEMBRANE if line == "membranes" else kind)),
        size="",
        findings=(),
        form=form,
        typed=replace_values(typed, form),
        made_from=made_from or seen.number,
        alarm=alarm,
        can_add={},
        can_repeat=False,
        can_take_out=False,
        is_new=True,
        kind=kind,
    )


def replace_values(typed: Typed, form: TableForm) -> Typed:
    """The same, with what stands in the fields that were not sent."""
    typed.values = {**form.values(), **typed.values}
    return typed


@posted
def put(request: Request, typed: Typed) -> Response:
    """Put a new part in."""
    seen = seen_of(request)
    key, kind = key_now(request, seen, typed), typed.values.get("kind", "")
    line, index = start_of(seen.site, key)
    model = models.Membrane if line == "membranes" else kinds(line).get(kind)
    if model is None:
        raise HTTPException(404)
    changed = read(_form_of(model, {}, seen), typed)
    made_from = made_from_of(typed, seen)

    def change(document: TOMLDocument) -> None:
        put_in(document, ("plant", line), index, {} if line == "membranes" else {"part": kind})
        write(document, ("plant", line, index), changed)

    alarm, status = "", REFUSED
    if typed.ok:
        what = words()("plant.was_put_in", part=said(MEMBRANE if line == "membranes" else kind))
        alarm, status = keep(request, seen, made_from, change, lambda text: what, typed, f"plant.{line}[{index}]")
    if typed.ok and not alarm:
        return back_to(part_address(request, seen.slug, f"plant.{line}[{index}]"))
    made_from = seen.number if status == CONFLICT else made_from
    content = _new_content(request, seen, kind, typed, alarm, made_from, key)
    return page(request, "part.html", content, status=status)


@posted
def take(request: Request, typed: Typed) -> Response:
    """Take a part out."""
    return _deed(request, typed, take_out, "plant.was_taken_out")


@posted
def again(request: Request, typed: Typed) -> Response:
    """Put another membrane element like this one beside or behind it."""
    return _deed(request, typed, repeat, "plant.was_repeated")


def _deed(request: Request, typed: Typed, deed: Callable[[TOMLDocument, Path, int], None], what: str) -> Response:
    seen = seen_of(request)
    place = place_at(seen.site, key_now(request, seen, typed))
    if place.line is None:
        raise HTTPException(404)
    line, index = place.line, place.index
    name, _ = _called(plant_of(seen.site), place, seen.site)
    told = words()(what, part=name)
    made_from = made_from_of(typed, seen)
    alarm, status = keep(
        request, seen, made_from, lambda document: deed(document, ("plant", line), index), lambda _: told, typed, ""
    )
    if alarm:
        return page(request, "part.html", _content(request, seen, place, None, alarm), status=status)
    return back_to(str(request.app.url_path_for("plant", slug=seen.slug)))


AT = "/sites/{slug}/plant/{key}"
routes = (
    Route(AT, show, name="plant"),
    Route(AT, save, methods=["POST"], name="save-part"),
    Route(f"{AT}/after", new, name="plant"),
    Route(f"{AT}/after", put, methods=["POST"], name="put-part"),
    Route(f"{AT}/take-out", take, methods=["POST"], name="take-part"),
    Route(f"{AT}/again", again, methods=["POST"], name="repeat-part"),
)
