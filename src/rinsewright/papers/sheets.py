"""Where the pages' templates are found and read."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from typing import TYPE_CHECKING

from rinsewright.papers.words import opening, plain

if TYPE_CHECKING:
    from jinja2 import Environment, Template


_mark: ContextVar[str] = ContextVar("mark", default="")


@contextmanager
def marked(mark: str) -> Iterator[None]:
    """Pages made meanwhile, in this thread, carry ``mark`` at their foot: an issued document's number and date."""
    token = _mark.set(mark)
    try:
        yield
    finally:
        _mark.reset(token)


def environment() -> Environment:
    """An environment for templates, with everything escaped that is not marked as ours."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    from rinsewright.papers.drawing.surface import MARKS

    made = Environment(
        loader=PackageLoader("rinsewright.papers"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(MARKS=MARKS, mark_of_issue=_mark.get)
    made.filters.update(plain=plain, opening=opening)
    return made


@cache
def template(name: str) -> Template:
    """A template that needs no words but its own."""
    return environment().get_template(name)


def language(country: str) -> str:
    """The language of a page, by the country of its site (ISO 3166-1 alpha-2)."""
    return "en-GB" if country == "GB" else "en"
