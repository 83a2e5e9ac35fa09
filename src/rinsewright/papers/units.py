"""The units a person has chosen. Everything else speaks the site file's: °C, bar, L, L/min, ppm on a stated meter."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, Literal, TypeVar

from rinsewright.errors import InputError, Problem
from rinsewright.papers.words import NOT_KNOWN, fixed, number, pressure, reading, spoken

Quantity = Literal["temperature", "pressure", "volume", "flow", "reading"]
Sheet = TypeVar("Sheet")
Known = Mapping[str, Collection[float]]

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
BULKS = {"l": Unit("m³"), "gal": Unit("US gal", 1e3 * LITRE_IN_GALLONS)}
FACTORS = (0.5, 0.64, 0.7)  # ppm per µS/cm of the meters in use: common practice, no source


# How the engine's sentences write a quantity, with its band or the other end of its range; "more" tells a difference
# from a temperature.
NUMBER = "\N{MINUS SIGN}?" r"\d[\d,]*(?:\.\d+)?"
SAID = re.compile(
    rf"(?P<about>about )?(?:(?<![\w.])(?P<first>{NUMBER})(?P<join> to | and |–))?"
    rf"(?<![\w.])(?P<value>{NUMBER})(?P<space>[ \u00a0])(?P<unit>°C|bar|ppm|L/min|L|m³)(?![\w/])"
    r"(?P<more> (?:warmer|colder|more|less|above|below|higher|lower)|(?<=°C)(?= is \d))?"
    rf"(?: \((?P<low>{NUMBER}) to (?P<high>{NUMBER})\))?"
    r"(?:(?P<tail>(?: with the water of the first day)?, | of the product's )"
    rf"(?P<last>{NUMBER})(?P<end> in the coldest| through))?"
)
TOLD: dict[str, Quantity] = {
    "°C": "temperature",
    "bar": "pressure",
    "ppm": "reading",
    "L/min": "flow",
    "L": "volume",
    "m³": "volume",
}
SENTENCES = re.compile(r"(?<=\.) ")
A_LITRE = re.compile(rf"({NUMBER}) a litre")
LITRES = {"ten litres": "three US gallons", "A litre weighs a kilo": "A US gallon weighs 3.8 kilos"}
LAW = "Great Britain"  # a limit of law stays as the law has it


@dataclass(frozen=True)
class Units:
    """The units chosen; ``ppm_factor`` is the user's meter's, in ppm per µS/cm at 25 °C."""

    temperature: str = "c"
    pressure: str = "bar"
    volume: str = "l"
    ppm_factor: float = 0.5

    @classmethod
    def named(cls, names: str, ppm_factor: float = 0.5) -> Units:
        """Units by their names with commas between: "us", "f,psi"; the site file's where none is named.

        Raises :class:`InputError` for a name that is none.
        """
        chosen: dict[str, str] = {}
        for name in names.lower().split(","):
            for one in SETS.get(name.strip(), (name.strip(),)):
                quantity = next((quantity for quantity, table in CHOICES.items() if one in table), None)
                if quantity is None:
                    raise InputError(Problem(f"there are no units {names!r}; give us, or some of f,psi,gal"))
                chosen[quantity] = one
        return cls(**chosen, ppm_factor=ppm_factor)

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
        return _gauge(shown, self.pressure) if quantity == "pressure" else number(shown)

    def say(self, quantity: Quantity, value: float | None, factor: float | None = None) -> str:
        """A value rounded for people, with its unit; "not known" where there is none."""
        if value is None:
            return NOT_KNOWN
        return f"{self.number(quantity, value, factor)}\N{NO-BREAK SPACE}{self.unit(quantity, factor).word}"

    def retell(self, text: str, factor: float | None = None, known: Known | None = None) -> str:
        """Sentences of the engine's, which speaks the site file's units, in the user's.

        Where something is counted for each litre it is counted for each gallon: the number stays. ``known``: by their
        units the numbers that the sentences round, so that one told there is not rounded twice.
        """
        return " ".join(self._retold(sentence, factor, known or {}) for sentence in SENTENCES.split(text))

    def _retold(self, sentence: str, factor: float | None, known: Known) -> str:
        for_each = "for each litre" in sentence.lower()

        def told(found: re.Match[str]) -> str:
            word, low, high = found.group("unit", "low", "high")
            if word == "L/min" and LAW in sentence:
                return found[0]
            unit = self._unit_said(word, factor)
            if for_each and word == "L":
                unit = Unit(unit.word)
            elif found["more"] is not None:  # a difference: 10 °C more are 18 °F more, not 50
                unit = Unit(unit.word, unit.scale)
            rough = bool(found["about"] or low)
            most = max(_digits(low, rough=True), _digits(high, rough=True)) if low else 3

            def same(text: str, most: int = 3) -> str:
                exact = {value for value in known.get(word, ()) if _is_said(text, value)}
                ways = {_same(text, value, unit, rough=rough, most=most) for value in exact}
                return ways.pop() if len(ways) == 1 else _same(text, _value(text), unit, rough=rough, most=most)

            first = f"{same(found['first'])}{found['join']}" if found["first"] else ""
            value = f"{same(found['value'], most)}{found['space']}{unit.word}{found['more'] or ''}"
            band = f" ({same(low)} to {same(high)})" if low else ""
            last = f"{found['tail']}{same(found['last'])}{found['end']}" if found["last"] else ""
            return f"{found['about'] or ''}{first}{value}{band}{last}"

        return self._gallons(SAID.sub(told, sentence))

    def _unit_said(self, word: str, factor: float | None) -> Unit:
        return BULKS[self.volume] if word == "m³" else self.unit(TOLD[word], factor)

    def _gallons(self, text: str) -> str:
        """The word "litre", and the price of one, where volumes are told in gallons."""
        if self.volume == "l" or "litre" not in text.lower():
            return text
        for litres, gallons in LITRES.items():
            text = text.replace(litres, gallons)

        def price(found: re.Match[str]) -> str:
            decimals = len(found[1].partition(".")[2])
            return f"{_value(found[1]) / LITRE_IN_GALLONS:,.{decimals}f} a US gallon"

        return re.sub("litre", "US gallon", A_LITRE.sub(price, text))


CHOICES = {"temperature": TEMPERATURES, "pressure": PRESSURES, "volume": VOLUMES}
SETS = {"us": ("f", "psi", "gal"), "metric": ("c", "bar", "l")}


def _gauge(shown: float, word: str) -> str:
    """A pressure as a gauge in bar or psi shows it."""
    return fixed(shown, 0 if abs(shown) >= 9.95 else 1) if word == "psi" else pressure(shown)


def _value(text: str) -> float:
    return float(text.replace(",", "").replace("\N{MINUS SIGN}", "-"))


def _is_said(text: str, value: float) -> bool:
    """Whether a sentence may write ``value`` so."""
    return text in (fixed(value, len(text.partition(".")[2])), number(value))


def _digits(text: str, *, rough: bool) -> int:
    """Significant digits, two at least; of a rough number the noughts at its end tell nothing."""
    digits = text.replace(",", "").replace(".", "").lstrip("0\N{MINUS SIGN}")
    return max(2, len(digits.rstrip("0") if rough or "." in text else digits))


def _same(text: str, value: float, unit: Unit, *, rough: bool, most: int) -> str:
    """``value``, which was written as ``text``: so where that is the same in ``unit``, else told as closely there.

    Temperatures and readings have as many decimals, others as many significant digits, up to ``most``. Of a pressure in
    psi every whole one is told: it may be a limit.
    """
    if unit.scale == 1.0:
        return text
    shown = unit.show(value)
    if unit.offset or unit.word == "ppm":
        return fixed(shown, len(text.partition(".")[2]))
    digits = min(most, _digits(text, rough=rough))
    return number(shown, max(digits, len(f"{abs(shown):.0f}")) if unit.word == "psi" else digits)


@dataclass(frozen=True)
class Telling:
    """How one paper tells its numbers: in ``units``, readings from a meter of ``factor``; as they are without one."""

    units: Units = Units()
    factor: float | None = None

    @classmethod
    def of(cls, units: Units | None, factor: float | None = None) -> Telling:
        """In these units, or without any in the site file's."""
        return cls() if units is None else cls(units, factor)

    def unit(self, word: str) -> Unit:
        """The unit that stands for one of the site file's, "L a day" and "L/L" too; any other stays."""
        if word.endswith(" a day"):
            unit = self.unit(word.removesuffix(" a day"))
            return replace(unit, word=f"{unit.word} a day")
        if word == "L/L":  # of one for each of another
            return Unit(VOLUMES[self.units.volume].word)
        if word == "m³":
            return BULKS[self.units.volume]
        return self.units.unit(TOLD[word], self.factor) if word in TOLD else Unit(word)

    def word(self, word: str) -> str:
        """What such a unit is called."""
        return self.unit(word).word

    def say(self, value: float, say: str, word: str) -> str:
        """A value in ``word``, the site file's unit, rounded for people as :func:`spoken` does, without its unit.

        A degree Fahrenheit is told whole, and so is a psi from ten up: thermometers and gauges show no more.
        """
        unit = self.unit(word)
        shown = unit.show(value)
        if unit.word == "°F" and say != "ph":
            return fixed(shown, 0)
        if say == "bar":
            return _gauge(shown, unit.word)
        return spoken(shown, say)

    def measured(self, value: float, word: str) -> str:
        """A value as it was typed, with its unit."""
        unit = self.unit(word)
        return f"{unit.typed(value)} {unit.word}"

    @property
    def is_plain(self) -> bool:
        """Whether it tells everything as the site file does."""
        return all(self.unit(word) == Unit(word) for word in TOLD)

    @property
    def names(self) -> str:
        """The units, to be stated on a record."""
        units = [self.word(word) for word in ("°C", "bar", "L", "L/min")]
        return f"{', '.join(units)} and ppm"

    @property
    def bulk(self) -> tuple[str, float]:
        """What water is priced by, and how many m³ that is."""
        return ("m³", 1.0) if self.units.volume == "l" else ("1,000 US gal", 1.0 / LITRE_IN_GALLONS)

    def retell(self, text: str) -> str:
        """A sentence of the engine's."""
        return self.units.retell(text, self.factor)

    def summary(self, sentences: Iterable[str], answer: Mapping[str, Any]) -> list[str]:
        """Sentences that tell nothing but numbers of ``answer``: each is rounded once, from there."""
        known = _known(answer)
        return [self.units.retell(sentence, self.factor, known) for sentence in sentences]

    def retold(self, sheet: Sheet) -> Sheet:
        """Every sentence in tables, lists and dataclasses; names stay, which are no words of the engine's."""
        return sheet if self.is_plain else self._retold(sheet)

    def _retold(self, sheet: Any) -> Any:
        if isinstance(sheet, str):
            return self.retell(sheet)
        if isinstance(sheet, dict):
            return {key: value if key in GIVEN else self._retold(value) for key, value in sheet.items()}
        if isinstance(sheet, list | tuple):
            return type(sheet)(self._retold(value) for value in sheet)
        if is_dataclass(sheet) and not isinstance(sheet, type):
            mine: Iterable[str] = (one.name for one in fields(sheet) if one.name not in GIVEN)
            return replace(sheet, **{name: self._retold(getattr(sheet, name)) for name in mine})
        return sheet


ENDS = {"_l_min": "L/min", "_c": "°C", "_m3": "m³"}


def _known(answer: Mapping[str, Any]) -> Known:
    """The numbers of an answer by their units. Not its readings: beside them a summary tells the limit."""
    found: dict[str, set[float]] = {}
    for key, value in answer.items():
        word = "L" if "litres" in key else next((unit for end, unit in ENDS.items() if key.endswith(end)), None)
        if word and not key.startswith("cost"):
            band = value.values() if isinstance(value, Mapping) else [value]
            found.setdefault(word, set()).update(one for one in band if isinstance(one, int | float))
        elif isinstance(value, Mapping):
            for unit, numbers in _known(value).items():
                found.setdefault(unit, set()).update(numbers)
    return found


AS_FILED = Telling()  # in the site file's units
GIVEN = ("name", "site", "site_name", "what", "key", "sources", "plant", "joints", "fits")
