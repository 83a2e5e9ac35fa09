"""Numbers as people say them: two or three digits, thousands with commas, a true minus sign."""

from __future__ import annotations

from math import floor, log10

NOT_KNOWN = "not known"
SMALLEST = 0.005  # below this a reading says nothing to a person

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

SYMBOLS = {"GBP": "£", "EUR": "€", "USD": "$"}


def number(value: float, digits: int = 2) -> str:
    """``value`` to so many significant digits, never with an exponent: 5213 at 2 digits is "5,200", 2.04 is "2.0"."""
    if value == 0:
        return "0"
    if abs(value) < SMALLEST:
        return "under 0.01"
    rounded = round(value, _decimals(value, digits))
    return fixed(rounded, max(0, _decimals(rounded, digits)))


def rounded_down(value: float, digits: int = 2) -> str:
    """The same, never more than the value: for the least of something."""
    if value <= 0.0:
        return number(0.0)
    step: float = 10.0 ** (floor(log10(value)) - digits + 1)
    return number(step * floor(value / step + 1e-9), digits)


def reading(ppm: float) -> str:
    """A meter reading as a hand-held meter shows it: whole ppm, one decimal below 10."""
    return fixed(ppm, 0 if abs(ppm) >= 9.95 else 1)


def pressure(bar: float) -> str:
    """A pressure as a gauge can show it: two digits, never more than two decimals."""
    text = number(bar)
    return fixed(bar, 2) if len(text.partition(".")[2]) > 2 else text


def fixed(value: float, decimals: int, *, sign: bool = False) -> str:
    """``value`` to so many decimals, with "+" before positive values where ``sign``."""
    text = f"{round(value, decimals):{'+' if sign else ''},.{decimals}f}"
    if float(text.replace(",", "")) == 0:
        return f"{0:.{decimals}f}"
    return text.replace("-", "\N{MINUS SIGN}")


def _decimals(value: float, digits: int) -> int:
    return digits - 1 - floor(log10(abs(value)))


def spoken(value: float, say: str) -> str:
    """Round for people, as ``say`` tells.

    "1" to "4": so many significant digits. "bar": as a gauge shows it. "ppm": as a meter does. "mg": two digits,
    three from a hundred. "index": signed, one decimal. "ph": one decimal. "share": whole per cent. "count": at most
    one decimal. "whole": none. "given": as somebody typed it. "money": whole units, hundredths below ten. "price":
    the same, to three digits from a thousand.
    """
    if say.isdigit():
        return number(value, int(say))
    if say == "bar":
        return pressure(value)
    if say == "ppm":
        return reading(value)
    if say == "mg":
        return number(value, 3 if abs(value) >= 100 else 2)
    if say == "price":
        return fixed(value, 2 if 0 < abs(value) < 10 else 0) if abs(value) < 1000 else number(value, 3)
    if say == "money":
        return fixed(value, 2 if 0 < abs(value) < 10 else 0)
    if say == "count":
        return fixed(value, 0 if float(value).is_integer() or value >= 10 else 1)
    if say == "given":
        return f"{value:,.4g}".replace("-", "\N{MINUS SIGN}")
    decimals = {"index": 1, "ph": 1, "share": 0, "whole": 0}[say]
    return fixed(value, decimals, sign=say == "index")


def money(amount: str, currency: str) -> str:
    """A rounded amount with its currency: "£1,240", "1,240 CHF"."""
    symbol = SYMBOLS.get(currency)
    return f"{symbol}{amount}" if symbol else f"{amount} {currency}"


def plain(name: str) -> str:
    """A key of the contract as words: "osmotic_pressure" is "osmotic pressure"."""
    return name.replace("_", " ")


def opening(words: str) -> str:
    """Words at the head of a sentence: the first letter large."""
    return words[:1].upper() + words[1:]


def listed(words: list[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""
