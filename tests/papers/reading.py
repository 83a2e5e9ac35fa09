"""Reads a finished plan sheet back: its text, its marked numbers, its outline."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from html.parser import HTMLParser
from typing import Any

import pytest

from rinsewright.papers import PlanPaper

VOID = {"meta", "link", "br", "hr", "img", "input"}


@dataclass
class Number:
    """A number as printed, with the exact value and the place that the page gives for it."""

    value: float
    place: str
    times: float
    beside: str  # the heading of its row
    after: str = ""  # what is written behind it, up to the next element: its unit
    text: str = ""


@dataclass
class Page(HTMLParser):
    """What a reader of the page finds. ``loose`` is every piece of text outside of drawings and marked numbers."""

    numbers: list[Number] = field(default_factory=list)
    loose: list[str] = field(default_factory=list)
    drawn: list[str] = field(default_factory=list)
    headings: list[int] = field(default_factory=list)
    tags: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    times: list[tuple[str, str]] = field(default_factory=list)
    stack: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    row: str = ""
    closed: str = ""  # the element closed last

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.tags.append((tag, given))
        if tag not in VOID:
            self.stack.append((tag, given))
        if tag in ("h1", "h2", "h3", "h4"):
            self.headings.append(int(tag[1]))
        if tag == "data":
            times = float(given.get("data-times", "1"))
            self.numbers.append(Number(float(given["value"]), given["data-from"], times, self.row))
        if tag == "dt" or given.get("scope") == "row":
            self.row = ""
        self.closed = ""

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        opened, _ = self.stack.pop()
        assert opened == tag, f"<{opened}> is closed by </{tag}>"
        self.closed = tag

    def handle_data(self, data: str) -> None:
        open_tags = [tag for tag, _ in self.stack]
        if "data" in open_tags:
            self.numbers[-1].text += data
        elif "time" in open_tags:
            self.times.append((self.stack[-1][1]["data-from"], data))
        elif "svg" in open_tags:
            self.drawn.append(data)
        elif "style" not in open_tags and data.strip():
            self.loose.append(" ".join(data.split()))
            if self.closed == "data":
                self.numbers[-1].after = data.strip()
            if self.stack[-1][0] == "dt" or self.stack[-1][1].get("scope") == "row":
                self.row += data.strip()


def read(html: str) -> Page:
    """Parse a page and check that every element is closed in order."""
    page = Page()
    page.feed(html)
    page.close()
    assert page.stack == [], page.stack
    return page


def as_number(text: str) -> float:
    """A printed number as a float."""
    return float(text.replace(",", "").replace("\N{MINUS SIGN}", "-"))


def at(paper: PlanPaper, place: str) -> Any:
    """The value at a JSON pointer, found without the code under test."""
    found: Any = {field: getattr(paper, field) for field in paper.__dataclass_fields__}
    found["cold_to_warm"] = [asdict(row) for row in paper.cold_to_warm]
    for key in place.strip("/").split("/"):
        key = key.replace("~1", "/").replace("~0", "~")
        found = found[int(key)] if isinstance(found, list | tuple) else found[key]
    return found


def agree_with(paper: PlanPaper, page: Page) -> None:
    """Every marked number is the paper's, to the last digit printed."""
    for number in page.numbers:
        exact = at(paper, number.place)
        if isinstance(exact, Mapping):  # a sum of its parts
            exact = sum(amount for amount in exact.values() if amount is not None)
        assert number.value == pytest.approx(exact, rel=1e-5, abs=1e-12), number
        shown = exact * number.times
        if number.text == "under 0.01":
            assert 0 < abs(shown) < 0.005
        else:
            assert as_number(number.text) == pytest.approx(shown, rel=0, abs=half_of_last_digit(number.text)), number


def half_of_last_digit(text: str) -> float:
    """Half a unit of the last digit said; of whole numbers at most the first two count ("5,200"), or all ("262")."""
    whole, _, decimals = text.replace(",", "").partition(".")
    if decimals:
        return 0.5001 * 10.0 ** -len(decimals)
    noughts = len(whole) - len(whole.rstrip("0"))
    return 0.5001 * 10.0 ** min(noughts, max(0, len(whole) - 2))
