"""What was typed into a form: read, judged field by field, and kept as it was typed where something is wrong."""

from __future__ import annotations

import math
import re
from calendar import month_name
from collections.abc import Callable, Collection, Mapping
from functools import wraps
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from rinsewright.errors import InputError
from rinsewright.papers.units import Quantity, Unit, Units
from rinsewright.web.view import units_of
from rinsewright.web.words import words

REFUSED = 422
CHANGED = 409
FORM = "form"  # the name under which stands what is wrong with a form as a whole
POINTED = re.compile(r"-?[1-9]\d{0,2}\.\d\d0")  # 1.200: nobody who writes a decimal point writes such zeros
THOUSANDS = re.compile(r"-?\d{1,3}(,\d{3})+(\.\d+)?")


class Typed:
    """A form's fields as they were typed (``values``), and what is wrong with them (``errors``), by name."""

    def __init__(self, values: Mapping[str, str] | None = None, units: Units | None = None) -> None:
        self.values = dict(values or {})
        self.errors: dict[str, str] = {}
        self.units = units or Units()

    @property
    def ok(self) -> bool:
        """Whether nothing was refused so far."""
        return not self.errors

    def refuse(self, name: str, message: str) -> None:
        """Say what is wrong with a field; the first thing said stays."""
        self.errors.setdefault(name, message)

    def refuse_problems(self, refusal: InputError, fields: Mapping[str, str]) -> None:
        """Say what is wrong with the site at the field that gives it (``fields``: by key), else above the form."""
        for problem in refusal.problems:
            self.refuse(fields.get(problem.key or "", FORM), problem.message)

    def text(self, name: str, *, optional: bool = False, longest: int = 200) -> str:
        """A line of text without blanks around it."""
        text = self.values.get(name, "").strip()
        if not text and not optional:
            self.refuse(name, words()("forms.missing"))
        if len(text) > longest:
            self.refuse(name, words()("forms.too_long", longest=longest))
        return text

    def choice(self, name: str, among: Collection[str]) -> str | None:
        """One of several; None, and refused, where it is none of them."""
        chosen = self.values.get(name, "")
        if chosen in among:
            return chosen
        self.refuse(name, words()("forms.choose"))
        return None

    def number(
        self,
        name: str,
        low: float,
        high: float,
        *,
        optional: bool = False,
        unit: Unit | None = None,
        whole: bool = False,
    ) -> float | None:
        """A number from ``low`` to ``high`` in the site file's unit, typed in ``unit``; None if empty or refused."""
        unit = unit or Unit("")
        text = self.values.get(name, "").strip()
        if not text:
            if not optional:
                self.refuse(name, words()("forms.missing"))
            return None
        shown = _number(text)
        if shown is not None and POINTED.fullmatch(text):
            point, thousand = f"{shown:g}", text.replace(".", "")
            self.refuse(name, words()("forms.thousands", typed=text, point=point, thousand=thousand))
            return None
        if shown is None:
            self.refuse(name, words()("forms.not_a_number", typed=text[:40]))
            return None
        value = unit.read(shown)
        if not low - 1e-9 <= value <= high + 1e-9:
            unit_word = f" {unit.word}" if unit.word else ""
            self.refuse(
                name,
                words()("forms.out_of_range", low=unit.typed(low), high=f"{unit.typed(high)}{unit_word}"),
            )
            return None
        if whole and not value.is_integer():
            self.refuse(name, words()("forms.not_whole", typed=text[:40], low=f"{low:g}", high=f"{high:g}"))
            return None
        return value

    def quantity(
        self, name: str, quantity: Quantity, low: float, high: float, *, optional: bool = False
    ) -> float | None:
        """The same, typed in the user's unit of a quantity."""
        return self.number(name, low, high, optional=optional, unit=self.units.unit(quantity))


def _number(text: str) -> float | None:
    """A number as people type it: 1,200 is a thousand and more, 3,4 and 3.4 are the same; None if it is none."""
    plain = text.replace("\N{MINUS SIGN}", "-").replace("\N{NO-BREAK SPACE}", "").replace(" ", "")
    plain = plain.replace(",", "") if THOUSANDS.fullmatch(plain) else plain.replace(",", ".")
    try:
        value = float(plain)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def clock(text: str) -> str:
    """A time of day as the site file writes it, HH:MM, from 7, 7:30, 7.30 or 0730; anything else as it is."""
    found = re.fullmatch(r"(\d{1,2})(?:[:. h]?(\d{2}))?", text.strip())
    return f"{int(found[1]):02}:{found[2] or '00'}" if found else text


def month_day(text: str) -> str:
    """A day of every year as the site file writes it, MM-DD, from 11-1, 1 Nov or November 1; anything else as it is."""
    if found := re.fullmatch(r"(\d{1,2})-(\d{1,2})", text.strip()):
        return f"{int(found[1]):02}-{int(found[2]):02}"
    found = re.fullmatch(r"(\d{1,2})\.? +([a-z]{3,})|([a-z]{3,})\.? +(\d{1,2})", text.strip().rstrip(".").casefold())
    if found is None:
        return text
    named, day = found[2] or found[3], int(found[1] or found[4])
    months = [n for n, month in enumerate(month_name) if n and month.casefold().startswith(named)]
    return f"{months[0]:02}-{day:02}" if len(months) == 1 else text


Handler = Callable[[Request, Typed], Response]


def posted(handler: Handler) -> Callable[[Request], Any]:
    """Make a route of ``handler(request, typed)``: the form is read first, the handler then runs in a thread.

    A file's text stands under its field's name, and its own name under that of the field and ``_name``.
    """

    @wraps(handler)
    async def route(request: Request) -> Response:
        values: dict[str, str] = {}
        async with request.form(max_files=2, max_fields=500) as form:
            for name, value in form.multi_items():
                if isinstance(value, str):
                    values[name] = value.replace("\r\n", "\n")
                elif value.filename:
                    from rinsewright.catalogue.reading import decode

                    values[name] = decode(await value.read(), value.filename)
                    values[f"{name}_name"] = value.filename
        typed = Typed(values, await run_in_threadpool(units_of, request))
        return await run_in_threadpool(handler, request, typed)

    return route
