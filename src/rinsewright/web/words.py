"""All words of the app's own pages, from one file for each language (``words/en.toml``).

A text stands under a dotted name, ``start.title``; ``{name}`` in it is a place to be filled.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from markupsafe import Markup


class Words:
    """The texts of one language, by dotted name."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self.texts = texts

    def __call__(self, name: str, /, **places: Any) -> str:
        """The text of a name with its places filled; marked up where one of them is, the rest escaped then."""
        text = self.texts[name]
        if any(isinstance(value, Markup) for value in places.values()):
            return Markup(text).format(**places)  # the text is ours; what fills it is escaped by Markup
        return text.format(**places) if places else text


@cache
def words(language: str = "en") -> Words:
    """The texts of a language."""
    source = files("rinsewright.web").joinpath("words", f"{language}.toml").read_text(encoding="utf-8")
    return Words(dict(_flat(tomllib.loads(source))))


def _flat(table: Mapping[str, Any], at: str = "") -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{at}{key}.")
        else:
            yield f"{at}{key}", value
