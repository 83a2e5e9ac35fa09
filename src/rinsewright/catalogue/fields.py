"""How a key of an input file is declared: its quantity, unit, plausible range, default and description.

One declaration feeds the checks, the messages, the reference page and the JSON Schema.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic.fields import FieldInfo

UNIT_WORDS = {
    "": "a number",
    "%": "per cent",
    "L": "litres",
    "L/h": "litres per hour",
    "L/min": "litres per minute",
    "L/(m² h)": "litres per square metre and hour",
    "L/(m² h bar)": "litres per square metre, hour and bar",
    "W": "watts",
    "bar": "a pressure in bar",
    "days": "days",
    "eq/L": "equivalents per litre",
    "g": "grams",
    "h": "hours",
    "K": "kelvin",
    "kg": "kilograms",
    "m": "metres",
    "m²": "square metres",
    "m³": "cubic metres",
    "mg/L": "milligrams per litre",
    "mg/L as CaCO3": "milligrams per litre as CaCO3",
    "minutes": "minutes",
    "mm": "millimetres",
    "money": "an amount of money",
    "months": "months",
    "ppm": "parts per million on the meter",
    "share": "a share",
    "years": "years",
    "°C": "degrees Celsius",
}


class Keys(BaseModel):
    """A table of an input file. Unknown keys are refused, and so are text and truth for numbers, NaN and infinity."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, frozen=True)


def number(
    what: str,
    unit: str,
    low: float,
    high: float,
    *,
    default: Any = ...,
    above: bool = False,
    needed: bool = False,
    note: str = "",
) -> Any:
    """A number in a plausible range.

    ``what`` is the quantity in words, ``unit`` a key of :data:`UNIT_WORDS`. ``above`` leaves the lower bound itself
    out. ``needed`` marks a key that must be given unless a catalogue part gives it.
    """
    extra: dict[str, Any] = {"unit": unit}
    if needed:
        default, extra["needed"] = None, True
    return Field(
        default,
        title=what,
        description=note or sentence(what),
        ge=None if above else low,
        gt=low if above else None,
        le=high,
        json_schema_extra=extra,
    )


def entry(what: str, *, default: Any = ..., note: str = "", needed: bool = False, **limits: Any) -> Any:
    """A key that is not a number: text, a choice, a list or a table."""
    extra: dict[str, Any] | None = None
    if needed:
        default, extra = None, {"needed": True}
    return Field(default, title=what, description=note or sentence(what), json_schema_extra=extra, **limits)


def sentence(words: str) -> str:
    """The words with a capital and a full stop."""
    return words[:1].upper() + words[1:] + "."


def needed(field: FieldInfo) -> bool:
    """Whether the key must be given, in the file or by the catalogue."""
    return isinstance(field.json_schema_extra, dict) and bool(field.json_schema_extra.get("needed"))


def wanted(field: FieldInfo) -> str:
    """What would be right for a number, in words: "millimetres between 1 and 100"."""
    extra = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
    words = UNIT_WORDS[str(extra.get("unit", ""))]
    bounds = {name: value for item in field.metadata for name in ("ge", "gt", "le") if (value := _bound(item, name))}
    low = bounds.get("ge") or bounds.get("gt")
    if low is None or "le" not in bounds:
        return words
    if "gt" in bounds:
        return f"{words} above {low} and up to {bounds['le']}"
    return f"{words} between {low} and {bounds['le']}"


def _bound(item: object, name: str) -> str | None:
    value = getattr(item, name, None)
    return None if value is None else f"{value:g}"


def _month_day(text: str) -> str:
    days = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
    month, dash, day = text.partition("-")
    well_formed = len(text) == 5 and dash and _digits(month) and _digits(day)
    if not (well_formed and 1 <= int(month) <= 12 and 1 <= int(day) <= days[int(month) - 1]):
        raise ValueError(f'"{short(text)}" is not a day of every year; give month and day, as "02-10"')
    return text


def _clock(text: str) -> str:
    hours, colon, minutes = text.partition(":")
    well_formed = len(text) == 5 and colon and _digits(hours) and _digits(minutes)
    if not (well_formed and int(hours) <= 23 and int(minutes) <= 59):
        raise ValueError(f'"{short(text)}" is not a time of day; give hours and minutes between "00:00" and "23:59"')
    return text


def _date(text: str) -> str:
    try:
        if len(text) != 10:
            raise ValueError
        date.fromisoformat(text)
    except ValueError:
        raise ValueError(f'"{short(text)}" is not a date; give year, month and day, as "2025-03-01"') from None
    return text


def _country(text: str) -> str:
    if not (len(text) == 2 and text.isascii() and text.isalpha() and text.isupper()):
        raise ValueError(f'"{short(text)}" is not a country code; give two capital letters, as "GB"')
    return text


def _currency(text: str) -> str:
    if not (len(text) == 3 and text.isascii() and text.isalpha() and text.isupper()):
        raise ValueError(f'"{short(text)}" is not a currency code; give three capital letters, as "GBP"')
    return text


def short(text: str, most: int = 40) -> str:
    """Text of a file, fit to stand in a message of one line."""
    flat = "".join(character if character.isprintable() else " " for character in text)
    return flat if len(flat) <= most else f"{flat[: most - 1]}…"


def _digits(text: str) -> bool:
    return text.isascii() and text.isdigit()


MonthDay = Annotated[str, AfterValidator(_month_day)]
Clock = Annotated[str, AfterValidator(_clock)]
Date = Annotated[str, AfterValidator(_date)]
Country = Annotated[str, AfterValidator(_country)]
Currency = Annotated[str, AfterValidator(_currency)]
