"""The one door through which numbers reach a page: each is rounded for people and carries where it came from.

A number is written ``<data value="5213.4" data-from="/answer/resin/litres_to_limit/value">5,200</data>``: the exact
value and its place (a JSON pointer, RFC 6901) stay with the rounded text, so that a page can be read back and checked.
Where it is told in another unit than the answer's, ``data-unit`` names that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rinsewright.papers.units import AS_FILED, Telling
from rinsewright.papers.words import NOT_KNOWN, money, spoken

if TYPE_CHECKING:
    from markupsafe import Markup

Key = str | int


class Facts:
    """Reads values out of nested mappings and sequences by key path, and writes them as marked-up text."""

    def __init__(self, root: Mapping[str, Any], currency: str, telling: Telling = AS_FILED) -> None:
        self.root = root
        self.currency = currency
        self.telling = telling

    def value(self, *keys: Key) -> Any:
        """The value at ``keys``; None where it, or something above it, is null. A missing key raises KeyError."""
        found: Any = self.root
        for depth, key in enumerate(keys):
            if found is None:
                return None
            try:
                found = found[key]
            except (KeyError, IndexError, TypeError):
                raise KeyError(f"the answer has no {pointer(keys[: depth + 1])}") from None
        return found

    def text(self, *keys: Key, unit: str = "", say: str = "2", times: float = 1.0) -> str | None:
        """The number at ``keys``, times ``times``, as plain text; None where it is not known."""
        value = self.value(*keys)
        return None if value is None else self.telling.say(float(value) * times, say, unit)

    def number(self, *keys: Key, unit: str = "", say: str = "2", times: float = 1.0) -> Markup:
        """The number at ``keys``, told in what stands for ``unit``, which is not written; "not known" for null.

        ``say``: see :func:`spoken`.
        """
        from markupsafe import Markup

        text = self.text(*keys, unit=unit, say=say, times=times)
        if text is None:
            return Markup(NOT_KNOWN)  # a constant of ours
        scale = Markup(' data-times="{}"').format(f"{times:g}") if times != 1.0 else ""
        told = self.telling.unit(unit)
        if (told.scale, told.offset) != (1.0, 0.0):
            scale += Markup(' data-unit="{}"').format(told.word)
        return Markup('<data value="{}" data-from="{}"{}>{}</data>').format(
            f"{self.value(*keys):.6g}", pointer(keys), scale, text
        )

    def measure(self, *keys: Key, unit: str, say: str = "2", times: float = 1.0) -> Markup:
        """A number and its unit; only "not known" for null."""
        from markupsafe import Markup

        written = self.number(*keys, unit=unit, say=say, times=times)
        if not unit or self.value(*keys) is None:
            return written
        return Markup("{}\N{NO-BREAK SPACE}{}").format(written, self.telling.word(unit))

    def band(self, *keys: Key, unit: str, say: str = "2", times: float = 1.0) -> Markup:
        """A banded value in words: "about 5,200 L (3,900 to 6,800)"; a plain one, or one without spread: "5,200 L"."""
        from markupsafe import Markup

        whole = self.value(*keys)
        if not isinstance(whole, Mapping):
            return self.measure(*keys, unit=unit, say=say, times=times)
        value = self.measure(*keys, "value", unit=unit, say=say, times=times)
        if not self.has_band(*keys, unit=unit, say=say, times=times):
            return value
        low, high = (self.number(*keys, end, unit=unit, say=say, times=times) for end in ("low", "high"))
        return Markup("about {} ({} to {})").format(value, low, high)

    def has_band(self, *keys: Key, unit: str = "", say: str = "2", times: float = 1.0) -> bool:
        """Whether a banded value has a spread that shows after rounding."""
        texts = [self.text(*keys, end, unit=unit, say=say, times=times) for end in ("value", "low", "high")]
        return None not in texts and len(set(texts)) > 1

    def money(self, *keys: Key, say: str = "money", times: float = 1.0) -> Markup:
        """An amount, times ``times``, with its currency; banded ones in words."""
        from markupsafe import Markup

        whole = self.value(*keys)
        if isinstance(whole, Mapping):
            value = self.money(*keys, "value", say=say, times=times)
            if not self.has_band(*keys, say=say, times=times):
                return value
            low, high = (self.number(*keys, end, say=say, times=times) for end in ("low", "high"))
            return Markup("about {} ({} to {})").format(value, low, high)
        written = self.number(*keys, say=say, times=times)
        if whole is None:
            return written
        before, after = money("\0", self.currency).split("\0")
        return Markup("{}{}{}").format(before, written, after)

    def sum(self, *keys: Key) -> Markup:
        """The known amounts of the mapping at ``keys`` added up, with the currency."""
        from markupsafe import Markup

        total = sum(amount for amount in self.value(*keys).values() if amount is not None)
        before, after = money("\0", self.currency).split("\0")
        return Markup('{}<data value="{}" data-from="{}">{}</data>{}').format(
            before, f"{total:.6g}", pointer(keys), spoken(total, "money"), after
        )

    def any(self, *paths: Sequence[Key]) -> bool:
        """Whether a number is known at any of ``paths``."""
        return any(self.value(*path) is not None for path in paths)


def pointer(keys: Sequence[Key]) -> str:
    """A JSON pointer (RFC 6901) of a key path."""
    return "".join(f"/{str(key).replace('~', '~0').replace('/', '~1')}" for key in keys)
