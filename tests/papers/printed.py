"""Reads a finished PDF back: its lines of text, the tags that a screen reader follows, the letters of its fonts."""

from __future__ import annotations

import importlib.util
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from fontTools.ttLib import TTFont
from pypdf import PdfReader

from .reading import read


@dataclass
class Printed:
    """A PDF as a reader finds it."""

    reader: PdfReader
    pages: list[list[str]]  # lines of each page, the running foot left out
    feet: list[str]

    @property
    def root(self) -> Any:
        """The document's catalogue."""
        return self.reader.trailer["/Root"]

    @property
    def lines(self) -> list[str]:
        """All lines, page after page."""
        return [line for page in self.pages for line in page]

    @property
    def text(self) -> str:
        """All words with single spaces."""
        return " ".join(" ".join(self.lines).split())

    def tags(self) -> Iterator[tuple[str, Any]]:
        """The structure's elements in reading order: their type and their dictionary."""
        yield from _walk(self.root["/StructTreeRoot"])


def _walk(node: Any) -> Iterator[tuple[str, Any]]:
    node = node.get_object()
    if not isinstance(node, dict):
        return
    if "/S" in node:
        yield str(node["/S"]).lstrip("/"), node
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        if not isinstance(kid, int):
            yield from _walk(kid)


def printed(pdf: bytes) -> Printed:
    """Open a PDF."""
    reader = PdfReader(io.BytesIO(pdf))
    pages = [[" ".join(line.split()) for line in page.extract_text().splitlines()] for page in reader.pages]
    return Printed(reader, [page[:-1] for page in pages], [page[-1] for page in pages])


def assert_numbers_in_order(text: str, page: str) -> None:
    """All marked numbers of a page, each with its unit, are found in print one after the other."""
    place = 0
    for number in read(page).numbers:
        found = text.find(number.text, place)
        assert found >= 0, f"{number.text} ({number.place}) is not printed after “{text[place - 60 : place]}”"
        place = found + len(number.text)


def without_switches(html: str) -> str:
    """A page without what only a screen can do."""
    return re.sub(r'<fieldset class="switch">.*?</fieldset>', "", html, flags=re.DOTALL)


@cache
def typesetters_letters(family: str) -> frozenset[int]:
    """Code points that every style of a font carried by the typesetter has; found in the program file itself."""
    spec = importlib.util.find_spec("typst")
    assert spec is not None
    assert spec.submodule_search_locations is not None
    programs = [file for file in Path(spec.submodule_search_locations[0]).iterdir() if file.suffix in (".so", ".pyd")]
    letters: list[set[int]] = []
    for program in programs:
        data = program.read_bytes()
        for found in re.finditer(rb"OTTO\x00[\x05-\x30]", data):
            font = _font(data[found.start() : found.start() + 3_000_000])
            if font is not None and font["name"].getDebugName(1).startswith(family):
                letters.append(set(font.getBestCmap()))
    assert len(letters) >= 4, "regular, bold and both italics"
    return frozenset(set.intersection(*letters))


def _font(data: bytes) -> TTFont | None:
    try:
        font = TTFont(io.BytesIO(data), lazy=True)
        return font if "cmap" in font and font["name"].getDebugName(1) else None
    except Exception:  # four letters by chance, not a font
        return None
