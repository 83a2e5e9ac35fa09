"""A sheet to draw on: keeps the SVG and, beside it, the box of every text and symbol, so that overlaps can be found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from itertools import pairwise
from typing import Literal

from rinsewright.papers.content import PathPart, Verdict

Point = tuple[float, float]
Stroke = Literal["feed", "drain", "product", "polished"]
STROKE_WORDS: dict[Stroke, str] = {"feed": "feed", "drain": "drain", "product": "product", "polished": "after resin"}

NARROW = "iljtfrI.,:;'|()[]/-· "
BROAD = "mwMW@%—"


@dataclass(frozen=True)
class Box:
    """An upright rectangle, y downwards."""

    x: float
    y: float
    width: float
    height: float

    def overlaps(self, other: Box, slack: float = 0.5) -> bool:
        """Whether the two share more than ``slack`` in both directions."""
        across = min(self.x + self.width, other.x + other.width) - max(self.x, other.x)
        down = min(self.y + self.height, other.y + other.height) - max(self.y, other.y)
        return across > slack and down > slack


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """An upper estimate of a text's width, for the wide sans faces a browser may choose."""
    ems = sum(0.40 if c in NARROW else 0.98 if c in BROAD else 0.76 if c.isupper() else 0.645 for c in text)
    return ems * size * (1.1 if bold else 1.0)


def wrap(text: str, size: float, width: float, lines: int = 3, *, bold: bool = False) -> list[str]:
    """Break ``text`` into at most ``lines`` lines of at most ``width``; what is too long ends in an ellipsis."""

    def fits(piece: str) -> bool:
        return text_width(piece, size, bold=bold) <= width

    out: list[str] = []
    for word in text.split():
        if out and fits(f"{out[-1]} {word}"):
            out[-1] = f"{out[-1]} {word}"
            continue
        while not fits(word):
            cut = next(n for n in range(len(word), 0, -1) if n == 1 or fits(word[:n]))
            out.append(word[:cut])
            word = word[cut:]
            if not word:
                break
        if word:
            out.append(word)
    if len(out) > lines:
        last = out[lines - 1]
        while last and not fits(f"{last}…"):
            last = last[:-1]
        out = [*out[: lines - 1], f"{last}…"]
    return out


MARKS: dict[Verdict, str] = {
    "fine": '<circle class="mark fine" r="5.5"/><path class="mark-in fine" d="M-2.6,0.2 L-0.7,2.3 L2.8,-2.2"/>',
    "look": '<path class="mark look" d="M0,-6.4 L6.4,0 L0,6.4 L-6.4,0 Z"/><circle class="mark-dot look" r="1.7"/>',
    "stop": '<path class="mark full stop" d="M-2.5,-6 H2.5 L6,-2.5 V2.5 L2.5,6 H-2.5 L-6,2.5 V-2.5 Z"/>'
    '<path class="mark-bar" d="M-3.2,0 H3.2"/>',
}


@dataclass
class Surface:
    """Collects a drawing from bottom to top: pipes first, then symbols, then text."""

    width: float
    height: float = 0.0
    pipes: list[str] = field(default_factory=list)
    bores: list[str] = field(default_factory=list)  # the light inside of double lines, over all of their outsides
    heads: list[str] = field(default_factory=list)
    symbols: list[str] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    text_boxes: list[tuple[str, Box]] = field(default_factory=list)
    symbol_boxes: list[tuple[str, Box]] = field(default_factory=list)
    pipe_boxes: list[tuple[str, Box]] = field(default_factory=list)
    spots: list[tuple[PathPart, Box]] = field(default_factory=list)

    def grow(self, bottom: float) -> None:
        """Make the sheet reach at least to ``bottom``."""
        self.height = max(self.height, bottom)

    def text(self, x: float, y: float, text: str, look: str, size: float, anchor: str = "start") -> None:
        """Write ``text`` with its baseline at ``y``. ``look`` is a class: name, size, num, unit or word."""
        width = text_width(text, size, bold=look in ("name", "num"))
        left = {"start": x, "middle": x - width / 2, "end": x - width}[anchor]
        self.text_boxes.append((text, Box(left, y - 0.8 * size, width, size)))
        at = "" if anchor == "start" else f' text-anchor="{anchor}"'
        self.texts.append(f'<text class="{look}" x="{x:g}" y="{y:g}" font-size="{size:g}"{at}>{escape(text)}</text>')
        self.grow(y + 0.3 * size)

    def mark(self, x: float, y: float, verdict: Verdict) -> None:
        """The mark of a verdict, 13 wide, about (x, y)."""
        self.text_boxes.append((f"mark {verdict}", Box(x - 6.5, y - 6.5, 13, 13)))
        self.symbols.append(f'<g transform="translate({x:g} {y:g})">{MARKS[verdict]}</g>')

    def symbol(self, name: str, body: str, box: Box, transform: str) -> None:
        """Place a symbol's outline; ``box`` is what it covers on the sheet."""
        self.symbol_boxes.append((name, box))
        self.symbols.append(f'<g class="part" transform="{transform}">{body}</g>')
        self.grow(box.y + box.height)

    def pipe(self, points: Sequence[Point], stroke: Stroke, *, over: bool = False) -> None:
        """A pipe through ``points``. ``over``: it bridges the pipes drawn before it, with a gap on either side."""
        d = "M" + " L".join(f"{x:g},{y:g}" for x, y in points)
        halo = f'<path class="halo" d="{d}"/>' if over else ""
        if stroke == "polished":
            self.bores.append(f'<path class="pipe bore" d="{d}"/>')
        self.pipes.append(f'{halo}<path class="pipe {stroke}" d="{d}"/>')
        for (x1, y1), (x2, y2) in pairwise(points):
            box = Box(min(x1, x2) - 1.5, min(y1, y2) - 1.5, abs(x2 - x1) + 3, abs(y2 - y1) + 3)
            self.pipe_boxes.append((stroke, box))
            self.grow(box.y + box.height)

    def arrow(self, x: float, y: float, turn: float, stroke: Stroke) -> None:
        """An arrow head pointing along the flow: ``turn`` 0 to the right, 90 downwards, 180 to the left."""
        self.heads.append(
            f'<path class="head {stroke}" transform="translate({x:g} {y:g}) rotate({turn:g})" d="M6,0 L-5,-6 L-5,6 Z"/>'
        )

    def leader(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """The thin line from a joint to its tag."""
        self.symbols.append(
            f'<path class="leader" d="M{x1:g},{y1:g} L{x2:g},{y2:g}"/>'
            f'<circle class="joint" cx="{x1:g}" cy="{y1:g}" r="2.6"/>'
        )

    def spot(self, part: PathPart, box: Box) -> None:
        """Where a part with all that is written about it can be touched."""
        self.spots.append((part, box))

    def svg(self, name: str, title: str, desc: str, links: Mapping[str, str] | None = None) -> str:
        """The drawing as an inline SVG; ``name`` makes its ids unique within a page.

        ``links``: by the key of a part, the address that touching it leads to.
        """
        drawn = "".join([*self.pipes, *self.bores, *self.heads, *self.symbols, *self.texts, *self._touched(links)])
        role = "group" if links else "img"  # a picture would hide its links
        return framed("drawing", f"0 0 {self.width:g} {self.height + 6:g}", name, title, desc, drawn, role)

    def _touched(self, links: Mapping[str, str] | None) -> list[str]:
        """A clear pane with a link over every part that leads somewhere."""
        return [
            f'<a class="touch" href="{escape(links[part.key])}" aria-label="{escape(part.name)}">'
            f'<rect x="{box.x:g}" y="{box.y:g}" width="{box.width:g}" height="{box.height:g}"/></a>'
            for part, box in self.spots
            if links and part.key in links
        ]


def framed(look: str, view_box: str, name: str, title: str, desc: str, drawn: str, role: str = "img") -> str:
    """An inline SVG round ``drawn``, told as one picture: its title and description have ids made from ``name``."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{look}" role="{role}" viewBox="{view_box}"'
        f' aria-labelledby="{name}-title {name}-desc"><title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-desc">{escape(desc)}</desc>{drawn}</svg>'
    )
