"""Reads a finished plan sheet back: its text, its marked numbers, its outline."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

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
