"""Tables of the site file that are filled in on a page: each is a section of it with a form of its own."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from rinsewright.web.forms import REFUSED, Typed
from rinsewright.web.keeping import Seen, keep, made_from_of, table_of, what_changed
from rinsewright.web.lines import Path, write
from rinsewright.web.tables import BLANK_ROWS, TableForm, form_of, read
from rinsewright.web.view import back_to, page

if TYPE_CHECKING:
    from tomlkit import TOMLDocument


@dataclass(frozen=True)
class Section:
    """A table: its model, where it stands, which of its keys are shown elsewhere, how something is measured."""

    name: str
    title: str
    model: type[BaseModel]
    path: Path
    leave_out: Collection[str] = ()
    hows: Mapping[str, str] = field(default_factory=dict)
    blank_rows: int = BLANK_ROWS
    goes_when_empty: bool = False


@dataclass(frozen=True)
class Filled:
    """A section with its form, and what was wrong with it."""

    name: str
    title: str
    form: TableForm
    typed: Typed
    alarm: str = ""

    @property
    def is_wrong(self) -> bool:
        """Whether something was refused."""
        return bool(self.alarm or self.typed.errors)


def filled(seen: Seen, section: Section) -> Filled:
    """A section as the site has it."""
    form = _form(seen, section)
    return Filled(section.name, section.title, form, Typed(form.values(), seen.units))


def _form(seen: Seen, section: Section) -> TableForm:
    return form_of(
        section.model,
        table_of(seen.toml, section.path),
        seen.units,
        leave_out=section.leave_out,
        hows=section.hows,
        blank_rows=section.blank_rows,
        money=seen.currency,
    )


def saved(
    request: Request,
    typed: Typed,
    seen: Seen,
    section: Section | None,
    home: str,
    content: Callable[[Request, Seen, Filled], Any],
) -> Response:
    """Keep what was typed into a section of the page ``home``, and go back there; the page again where it was refused.

    ``section`` None is one that the page does not have: 404.
    """
    if section is None:
        raise HTTPException(404)
    form = _form(seen, section)
    changed = read(form, typed)
    alarm, status = "", REFUSED

    def change(document: TOMLDocument) -> None:
        write(document, section.path, changed, goes_when_empty=section.goes_when_empty)

    if typed.ok:
        alarm, status = keep(
            request,
            seen,
            made_from_of(typed, seen),
            change,
            lambda text: what_changed(section.title, seen.toml, text),
            typed,
            ".".join(map(str, section.path)),
        )
    if typed.ok and not alarm:
        return back_to(str(request.app.url_path_for(home, slug=seen.slug)))
    typed.values = {**form.values(), **typed.values}
    refused = Filled(section.name, section.title, form, typed, alarm)
    return page(request, f"{home}.html", content(request, seen, refused), status=status)
