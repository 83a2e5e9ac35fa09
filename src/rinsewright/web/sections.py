"""Tables of the site file that are filled in on a page: each is a section of it with a form of its own."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from pydantic import BaseModel
from starlette.requests import Request

from rinsewright.web.forms import REFUSED, Typed
from rinsewright.web.keeping import Seen, keep, made_from_of, table_of, what_changed
from rinsewright.web.lines import Path, write
from rinsewright.web.tables import BLANK_ROWS, TableForm, form_of, read

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


def save_section(request: Request, seen: Seen, section: Section, typed: Typed) -> tuple[Filled, int] | None:
    """Keep what was typed into a section; the section and a status where it was refused."""
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
        return None
    typed.values = {**form.values(), **typed.values}
    return Filled(section.name, section.title, form, typed, alarm), status
