"""How a form's change of a site is kept: what the editor saw, what is wrong put at its field, what was changed said."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.requests import Request

from rinsewright.api import Site
from rinsewright.errors import InputError
from rinsewright.papers.units import Units
from rinsewright.papers.words import opening
from rinsewright.planning.tap import changed_taps
from rinsewright.planning.year import week_of
from rinsewright.site import build
from rinsewright.store.errors import ChangedMeanwhile
from rinsewright.web.changes import Change, changes
from rinsewright.web.editing import edited, save_edit
from rinsewright.web.engine import NAME
from rinsewright.web.forms import REFUSED, Typed
from rinsewright.web.keys import plainly
from rinsewright.web.lines import Path
from rinsewright.web.view import book_of, engine_of, units_of
from rinsewright.web.words import words

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

CONFLICT = 409
LONGEST_WHAT = 160
MOST_SAID = 3  # changes told one by one
ROW = re.compile(r"(\w+)\[(\d+)\](.*)")


@dataclass(frozen=True)
class Seen:
    """What every handler here starts from."""

    slug: str
    number: int
    toml: str
    site: Site
    units: Units

    @property
    def currency(self) -> str:
        """Of the site's prices; empty where neither they nor the country tell it."""
        return build.currency(self.site.document) or ""


def seen_of(request: Request) -> Seen:
    """The site as it stands."""
    slug = request.path_params["slug"]
    version = book_of(request).current(slug)
    return Seen(slug, version.number, version.toml, engine_of(request).site(version.toml), units_of(request))


def table_of(toml: str, path: Path) -> Any:
    """What stands at a path of a text; an empty table where nothing does."""
    import tomllib

    table: Any = tomllib.loads(toml)
    for item in path:
        table = table.get(item, {}) if isinstance(table, dict) else table[item]
    return table


def index_now(request: Request, seen: Seen, typed: Typed, path: Path, index: int) -> int:
    """Where in its list something stands now that the editor may have seen, at ``index``, in an older version.

    Raises 409 where it is gone, or was changed there by somebody else.
    """
    number = made_from_of(typed, seen)
    if number == seen.number:
        return index
    old = table_of(book_of(request).version(seen.slug, number).toml, path) or []
    now = table_of(seen.toml, path) or []
    same = [place for place, one in enumerate(now) if index < len(old) and one == old[index]]
    if not same:
        raise HTTPException(CONFLICT, words()("refusal.gone"))
    return min(same, key=lambda place: abs(place - index))


def keep(
    request: Request,
    seen: Seen,
    made_from: int,
    change: Callable[[TOMLDocument], None],
    what: Callable[[str], str],
    typed: Typed,
    key: str,
) -> tuple[str, int]:
    """Save a change of the site; what is wrong goes to its field in ``typed``, else it is given back, with a status."""
    try:
        if made_from != seen.number:  # places in lists are those of the version that stands now
            raise ChangedMeanwhile(seen.site.name, made_from, seen.number)
        text = edited(seen.toml, change)
        _check(text)
        save_edit(book_of(request), seen.slug, made_from, what(text), change)
    except InputError as refusal:
        if isinstance(refusal, ChangedMeanwhile):
            return str(refusal), CONFLICT
        return place_problems(refusal, typed, key), REFUSED
    return "", 200


def _check(text: str) -> None:
    """Refuse a text that makes no plant, no water or no week.

    A plant without a working state may be kept: the drawing says at which part and why.
    """
    site = Site.loads(text, NAME)
    model = site.document.model
    if model.plant is not None and model.supply is not None:
        build.build_plant(site.document, site.catalogue)
    if model.water is not None:
        _ = changed_taps(site.document, site.tap.water)  # refuses a pH and an alkalinity that contradict each other
    if model.demand is not None:
        week_of(build.demand_input(site.document), direct=False)  # refuses jobs that last beyond midnight


def place_problems(refusal: InputError, typed: Typed, key: str) -> str:
    """Put every problem at the field that it names; gives back, as one text, those that name none of them."""
    rest = []
    for problem in refusal.problems:
        where = problem.key or ""
        told = f"{opening(plainly(typed.units.retell(problem.message)))}."
        inside = not key or where == key or where.startswith((f"{key}.", f"{key}["))
        name = _field_at(where.removeprefix(key).lstrip("."), typed) if inside else ""
        if name:
            typed.refuse(name, told)
        elif inside or not where or key.startswith(where):
            rest.append(told)
        else:
            rest.append(f"{where}: {told}")
    return " ".join(rest)


def _field_at(where: str, typed: Typed) -> str:
    """The field of a key, or the group or list of fields that it stands in; empty where there is none."""
    head = where.partition(".")[0]
    if found := ROW.fullmatch(where):  # rows left empty do not count in the file
        head, n, rest = found.groups()
        rows = sorted({int(name.split(".")[1]) for name, text in typed.values.items() if _in_row(head, name) and text})
        where = f"{head}.{rows[int(n)]}{rest}" if int(n) < len(rows) else head
    if where in typed.values:
        return where
    return head if any(name.startswith(f"{head}.") for name in typed.values) else ""


def _in_row(head: str, name: str) -> bool:
    return name.startswith(f"{head}.") and name.split(".")[1].isdecimal()


def made_from_of(typed: Typed, seen: Seen) -> int:
    """The version that the editor saw."""
    text = typed.values.get("made_from", "")
    return int(text) if text.isdecimal() and len(text) < 9 else seen.number


def what_changed(name: str, before: str, after: str) -> str:
    """What was changed, in a line."""
    told = [_change_said(change) for change in changes(before, after)]
    listed = "; ".join(told[:MOST_SAID]) + ("; …" if len(told) > MOST_SAID else "")
    return _cut(f"{name}: {listed}")


def _change_said(change: Change) -> str:
    t, what = words(), change.where.rpartition(": ")[2]
    if change.after is None:
        return t("plant.was_left_out", what=what)
    if change.before is None:
        return t("plant.was_given", what=what, after=change.after)
    return t("plant.was_changed", what=what, before=change.before, after=change.after)


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST_WHAT else f"{text[: LONGEST_WHAT - 1]}…"
