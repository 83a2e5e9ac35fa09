"""The units a person has chosen. Everything else speaks the site file's: °C, bar, L, L/min, ppm on a stated meter."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from rinsewright.papers.words import NOT_KNOWN, fixed, number, pressure, reading

if TYPE_CHECKING:
    from rinsewright.store.book import Book

Quantity = Literal["temperature", "pressure", "volume", "flow", "reading"]

PSI_OF_ONE_BAR = 1e5 / 6894.757293168  # pound-force per square inch: NIST SP 811, appendix B (from memory)
LITRE_IN_GALLONS = 1.0 / 3.785411784  # US gallon of 231 cubic inches: NIST SP 811, appendix B (from memory)


@dataclass(frozen=True)
class Unit:
    """What is shown is ``scale`` times the site file's value, plus ``offset``."""

    word: str
    scale: float = 1.0
    offset: float = 0.0

    def show(self, value: float) -> float:
        """A value of the site file in this unit."""
        return value * self.scale + self.offset

    def read(self, shown: float) -> float:
        """What was typed in this unit, as the site file's value."""
        return (shown - self.offset) / self.scale

    def difference(self, value: float) -> float:
        """A difference of two values in this unit: a rise of 10 °C is one of 18 °F, not of 50."""
        return value * self.scale

    def typed(self, value: float | None) -> str:
        """A value as it stands in a field; empty where it is not known."""
        if value is None:
            return ""
        shown = self.show(value)
        return f"{shown:.4g}" if abs(shown) < 1e4 else f"{shown:.0f}"


TEMPERATURES = {"c": Unit("°C"), "f": Unit("°F", 1.8, 32.0)}
PRESSURES = {"bar": Unit("bar"), "psi": Unit("psi", PSI_OF_ONE_BAR)}
VOLUMES = {"l": Unit("L"), "gal": Unit("US gal", LITRE_IN_GALLONS)}
FLOWS = {"l": Unit("L/min"), "gal": Unit("US gal/min", LITRE_IN_GALLONS)}
FACTORS = (0.5, 0.64, 0.7)  # ppm per µS/cm of the meters in use: common practice, no source


# How the engine's sentences write a quantity, with its band; "more" tells a difference from a temperature.
NUMBER = "\N{MINUS SIGN}?" r"\d[\d,]*(?:\.\d+)?"
SAID = re.compile(
    rf"(?P<value>{NUMBER})(?P<space>[ \u00a0])(?P<unit>°C|bar|ppm|L/min|L)(?![\w/])"
    rf"(?P<more> (?:warmer|colder|more|less|above|below|higher|lower))?"
    rf"(?: \((?P<low>{NUMBER}) to (?P<high>{NUMBER})\))?"
)
TOLD: dict[str, Quantity] = {
    "°C": "temperature",
    "bar": "pressure",
    "ppm": "reading",
    "L/min": "flow",
    "L": "volume",
}


@dataclass(frozen=True)
class Units:
    """The units chosen; ``ppm_factor`` is the user's meter's, in ppm per µS/cm at 25 °C."""

    temperature: str = "c"
    pressure: str = "bar"
    volume: str = "l"
    ppm_factor: float = 0.5

    @classmethod
    def of(cls, book: Book) -> Units:
        """As they are set in the book."""
        return cls(
            book.setting("units.temperature", "c") or "c",
            book.setting("units.pressure", "bar") or "bar",
            book.setting("units.volume", "l") or "l",
            float(book.setting("units.ppm_factor", "0.5") or 0.5),
        )

    def unit(self, quantity: Quantity, factor: float | None = None) -> Unit:
        """The unit of a quantity. ``factor``: of the meter on which a reading in the site's answers is told."""
        if quantity == "temperature":
            return TEMPERATURES[self.temperature]
        if quantity == "pressure":
            return PRESSURES[self.pressure]
        if quantity == "volume":
            return VOLUMES[self.volume]
        if quantity == "flow":
            return FLOWS[self.volume]
        return Unit("ppm", self.ppm_factor / (factor or self.ppm_factor))

    def number(self, quantity: Quantity, value: float, factor: float | None = None) -> str:
        """A value rounded for people, without its unit."""
        shown = self.unit(quantity, factor).show(value)
        if quantity == "reading":
            return reading(shown)
        if quantity == "temperature":
            return fixed(shown, 0 if round(shown, 1).is_integer() else 1)
        return pressure(shown) if quantity == "pressure" else number(shown)

    def retell(self, text: str, factor: float | None = None) -> str:
        """A sentence of the engine's, which speaks the site file's units, in the user's.

        One that counts something for each litre stays as it is: it is about litres.
        """

        def told(found: re.Match[str]) -> str:
            quantity = TOLD[found["unit"]]
            if quantity == "volume" and "litre" in text:
                return found[0]
            unit = self.unit(quantity, factor)
            show = unit.difference if found["more"] else unit.show
            first = self._same_digits(found["value"], show)
            band = (
                found["low"]
                and f" ({self._same_digits(found['low'], show)} to {self._same_digits(found['high'], show)})"
            )
            return f"{first}{found['space']}{unit.word}{found['more'] or ''}{band or ''}"

        return SAID.sub(told, text)

    @staticmethod
    def _same_digits(text: str, show: Callable[[float], float]) -> str:
        """A number as it was written, or another to as many significant digits."""
        value = float(text.replace(",", "").replace("\N{MINUS SIGN}", "-"))
        if (shown := show(value)) == value:
            return text
        return number(shown, max(2, len(text.replace(",", "").replace(".", "").strip("0\N{MINUS SIGN}"))))

    def say(self, quantity: Quantity, value: float | None, factor: float | None = None) -> str:
        """A value rounded for people, with its unit; "not known" where there is none."""
        if value is None:
            return NOT_KNOWN
        return f"{self.number(quantity, value, factor)}\N{NO-BREAK SPACE}{self.unit(quantity, factor).word}"
