"""The place where a step of the build is done, seen from near: one drawing for each kind of step, ours, in lines.

The outlines are those of the water's way (:mod:`rinsewright.papers.drawing.symbols`), larger, with what matters named
beside them. Lines are told apart by stroke and word, so that black and white is enough.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from rinsewright.building.result import Step
from rinsewright.papers.drawing.surface import STROKE_WORDS, Box, Point, Stroke, Surface, text_width, wrap
from rinsewright.papers.drawing.symbols import SYMBOLS, housing
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.layout import Plant
from rinsewright.plant.product.line import ResinVessel, Tank

WIDTH = 340.0
LETTERS = 13.5
PITCH = 16.5


@dataclass
class Place:
    """One drawing: pipes, outlines and names, and the names once more in the order in which they were written."""

    step: Step
    plant: Plant
    sheet: Surface = field(default_factory=lambda: Surface(WIDTH))
    told: list[str] = field(default_factory=list)

    def put(self, name: str, x: float, y: float, stroke: Stroke, scale: float = 1.0) -> Point:
        """A part with its inlet at (x, y), its own pipes drawn in ``stroke``; returns its outlet."""
        symbol = SYMBOLS[name]
        box = Box(x, y - scale * symbol.up, scale * symbol.width, scale * (symbol.up + symbol.down))
        for line in symbol.lines:
            self.sheet.pipe([(x + scale * dx, y + scale * dy) for dx, dy in line], stroke)
        self.sheet.symbol(name, symbol.body, box, f"translate({x:g} {y:g}) scale({scale:g})")
        return x + scale * symbol.width, y + scale * symbol.rise

    def draw(self, body: str, x: float = 0.0, y: float = 0.0) -> None:
        """Lines of the drawing's own."""
        self.sheet.symbols.append(f'<g transform="translate({x:g} {y:g})">{body}</g>')

    def run(self, stroke: Stroke, *points: Point, arrow: bool = True, word: bool = False) -> None:
        """A pipe through ``points``; its arrow in the middle of its first stretch, its word above that."""
        self.sheet.pipe(points, stroke)
        (x1, y1), (x2, y2) = points[:2]
        turn = 90.0 * (1 if y2 > y1 else -1) if x1 == x2 else 0.0 if x2 > x1 else 180.0
        if arrow:
            self.sheet.arrow((x1 + x2) / 2, (y1 + y2) / 2, turn, stroke)
        if word:
            self.word(stroke, min(x1, x2) + 2, y1 - 9)

    def word(self, stroke: Stroke, x: float, y: float) -> None:
        """The word that a line carries."""
        self.sheet.text(x, y, STROKE_WORDS[stroke], f"word {stroke}", LETTERS)
        self.told.append(f"the {STROKE_WORDS[stroke]} line" if stroke != "polished" else "the line after the resin")

    def name(self, text: str, x: float, y: float, at: Point | None = None, width: float = 110.0) -> None:
        """A name in lines of at most ``width``, the first with its baseline at ``y``; a thin line leads to ``at``."""
        lines = wrap(text, LETTERS, width)
        for place, line in enumerate(lines):
            self.sheet.text(x, y + place * PITCH, line, "label", LETTERS)
        self.told.append(text)
        if at is not None:
            right = x + max(text_width(line, LETTERS) for line in lines)
            top, bottom = y - LETTERS, y + (len(lines) - 1) * PITCH + 5
            ends = ((x - 4, y - 5), (right + 2, y - 5), ((x + right) / 2, top), ((x + right) / 2, bottom))
            end = min(ends, key=lambda end: (end[0] - at[0]) ** 2 + (end[1] - at[1]) ** 2)
            self.sheet.leader(*at, *end)

    def svg(self, number: int) -> str:
        """The drawing as an inline SVG, told in words for those who do not see it."""
        self.sheet.width = max([WIDTH, *(box.x + box.width for _, box in self.sheet.text_boxes)])
        desc = "Shown: " + ", ".join(dict.fromkeys(self.told)) + "."
        return self.sheet.svg(f"place-{number}", f"The place: {self.step.title}", desc)


def place_drawing(step: Step, plant: Plant, number: int) -> str:
    """The drawing of a step's place; ``number`` makes its ids unique within a page."""
    return drawn(step, plant).svg(number)


def drawn(step: Step, plant: Plant) -> Place:
    """The same, still open to be looked at."""
    place = Place(step, plant)
    PLACES[step.drawing](place)
    return place


# ---- before water ----


def _unpack(p: Place) -> None:
    p.draw(
        '<path class="o" d="M24,62 H136 V132 H24 Z"/>'
        '<path class="o" d="M24,62 L6,44 H110 L136,62 M136,62 L156,44 H110"/>'
        '<path class="f" d="M40,62 V40 Q40,32 48,32 Q56,32 56,40 V62 M66,62 V24 H84 V62 M94,62 V36 H118 V62"/>'
        '<path class="f" d="M66,30 H84 M94,42 H118"/>'
    )
    p.draw('<path class="o" d="M0,0 H88 V104 H0 Z"/>', 166, 28)
    for row in range(4):
        p.draw(
            '<path class="o" d="M0,0 H13 V13 H0 Z"/><path class="f" d="M22,7 H70"/>'
            + ('<path class="o hollow" d="M3,6 L6,10 L12,-1"/>' if row < 3 else ""),
            175,
            40 + 22 * row,
        )
    p.sheet.grow(136)
    p.name("tick each row", 262, 46, (246, 48), 78)
    p.name("order what is missing", 262, 104, (246, 113), 78)


def _stand(p: Place) -> None:
    p.draw(
        '<path class="o hollow" d="M30,10 V140 H310"/>'
        '<path class="f" d="M30,20 l-9,9 M30,42 l-9,9 M30,64 l-9,9 M30,86 l-9,9 M30,108 l-9,9 M44,140 l-9,9 '
        "M74,140 l-9,9 "
        'M104,140 l-9,9 M134,140 l-9,9 M164,140 l-9,9 M194,140 l-9,9"/>'
    )
    p.draw('<path class="o" d="M70,52 H150 V139 H70 Z"/><path class="f" d="M70,66 H150 M96,100 H124"/>')
    p.draw(
        '<path class="o" d="M216,140 H252 V148 L246,154 H222 L216,148 Z"/>'
        '<path class="f" d="M222,140 V145 M230,140 V145 M238,140 V145 M246,140 V145"/>'
    )
    p.draw('<path class="f" d="M152,92 H206"/><path class="k" d="M206,92 l-8,-4 v8 z M152,92 l8,-4 v8 z"/>')
    p.sheet.grow(156)
    p.name("the plant, level", 64, 40, None, 130)
    p.name("room to open every part", 212, 82, None, 120)
    p.name("floor drain", 262, 158, (252, 150), 76)


def _push_fit(p: Place) -> None:
    p.draw(
        '<path class="o" d="M120,20 H214 V34 H226 V96 H214 V110 H120 Z"/>'
        '<path class="o" d="M186,34 H250 V26 H258 V44 H186 Z M186,96 H250 V104 H258 V86 H186 Z"/>'
        '<circle class="k" cx="172" cy="39" r="6"/><circle class="k" cx="172" cy="91" r="6"/>'
        '<path class="o" d="M138,45 H330 V85 H138 Z"/><path class="f" d="M138,52 H330 M138,78 H330"/>'
        '<path class="o hollow" d="M262,45 V85"/>'
    )
    p.sheet.grow(116)
    p.name("cut square, home to the stop", 10, 50, (139, 65), 92)
    p.name("O-ring", 56, 20, (168, 36), 60)
    p.name("collet, locked", 268, 20, (254, 30), 72)
    p.name("mark at the depth of the port", 250, 116, (262, 80), 90)


def _hose_tail(p: Place) -> None:
    p.draw(
        '<path class="o" d="M20,36 H62 V50 H62 V94 H20 Z"/>'
        '<path class="o" d="M62,56 H104 L112,50 V56 H136 L144,50 V56 H168 L176,52 V92 L168,88 H144 V94 L136,88 '
        'H112 V94 L104,88 H62 Z"/>'
        '<path class="o hollow" d="M90,42 H330 M90,102 H330 M90,42 V102"/>'
        '<path class="o" d="M116,36 H130 V108 H116 Z"/><path class="k" d="M118,28 H128 V37 H118 Z"/>'
    )
    p.sheet.grow(112)
    p.name("clip, over the tail", 150, 24, (128, 32), 140)
    p.name("tail", 20, 126, None, 60)
    p.name("hose, pushed over every barb", 196, 76, None, 130)


def _tap(p: Place) -> None:
    kind, y = p.plant.supply.kind, 74.0
    if kind == "break-tank":
        x, y = p.put("break-tank", 14, 30, "feed", 1.25)
        p.name("air gap", 66, 20, (42, 40), 60)
        p.run("feed", (x, y), (140, y), arrow=False)
        x = _valve(p, 140, y)
        p.run("feed", (x, y), (326, y), word=True)
        p.name("stop valve, shut", 128, y + 42, (160, y + 10), 120)
        p.name("screen at the outlet", 116, y - 34, (92, y - 4), 140)
        return
    x, _ = p.put("tap" if kind == "mains" else "well", 14, y, "feed", 1.15)
    p.run("feed", (x, y), (112, y), arrow=False)
    x = _valve(p, 112, y)
    p.run("feed", (x, y), (196, y), arrow=False)
    p.put("check", 196, y, "feed", 1.4)
    p.run("feed", (252, y), (330, y))
    p.word("feed", 284, y + 22)
    p.name("stop valve, shut", 84, y + 44, (132, y + 10), 120)
    name = "back-flow protection" if kind == "mains" else "non-return valve"
    p.name(f"{name}, arrow with the flow", 150, y - 48, (224, y - 14), 180)


def _valve(p: Place, x: float, y: float, open_: float = 90.0) -> float:
    """A stop valve, its handle turned by so many degrees from along the pipe; returns where it ends."""
    p.sheet.pipe([(x, y), (x + 40, y)], "feed")
    p.draw(
        '<path class="o" d="M4,-9 L36,9 V-9 L4,9 Z"/><path class="o" d="M20,0 V-16"/>'
        f'<path class="o" transform="rotate({open_:g} 20 -16)" d="M16,-19 H46 V-13 H16 Z"/>',
        x,
        y,
    )
    return x + 40


# ---- feed ----


def _hanging(p: Place, part: str, *names: tuple[str, float, Point]) -> None:
    """A housing in its line, seen large."""
    y, scale = 40.0, 1.7
    p.run("feed", (10, y), (120, y), word=True)
    x, _ = p.put(part, 120, y, "feed", scale)
    p.run("feed", (x, y), (330, y))
    for text, level, at in names:
        p.name(text, 216, level, at, 116)
    p.name("in", 104, y + 24, None, 20)
    p.name("out", 204, y + 24, None, 40)


def _cartridge(p: Place) -> None:
    media = next(part.media for part in p.plant.feed if isinstance(part, Cartridge) and part.key in p.step.parts)
    _hanging(
        p,
        f"cartridge-{media}",
        ("O-ring clean, greased, in its groove", 92, (185, 54)),
        ("by hand to the stop", 146, (180, 128)),
    )
    p.draw('<path class="o hollow" d="M128,168 Q159,184 190,168"/><path class="k" d="M194,165 l-10,-1 5,8 z"/>')
    p.sheet.grow(182)


def _inhibitor(p: Place) -> None:
    _hanging(p, "inhibitor", ("scale inhibitor, as its label says", 96, (160, 98)))


def _softener(p: Place) -> None:
    y = 40.0
    p.run("feed", (10, y), (96, y), word=True)
    x, _ = p.put("softener", 96, y, "feed", 1.5)
    p.run("feed", (x, y), (330, y))
    p.name("salt", 226, 126, (196, 126), 80)
    p.name("in and out by its arrows", 222, 70, None, 110)


def _pump(p: Place) -> None:
    y = 52.0
    p.run("feed", (10, y), (100, y), word=True)
    x, _ = p.put("pump", 100, y, "feed", 1.5)
    p.run("feed", (x, y), (330, y))
    p.name("on rubber, level", 104, 112, (120, 84), 140)
    p.name("arrow with the flow", 10, 88, (112, 66), 74)
    if "also.relief" in p.step.items:
        p.draw('<path class="o" d="M0,0 V-14 M-9,-32 L9,-14 H-9 L9,-32 Z"/>', 250, y)
        p.name("relief valve", 266, 30, (258, 28), 80)


def _return_line(p: Place) -> None:
    y, low = 44.0, 104.0
    p.run("feed", (10, y), (70, y), word=True)
    x, _ = p.put("pump", 70, y, "feed", 1.1)
    p.run("feed", (x, y), (196, y))
    p.draw(housing(76, 34), 196, y)
    p.run("drain", (272, y + 8), (334, y + 8))
    p.sheet.pipe([(290, y + 8), (290, low), (46, low), (46, y)], "drain")
    p.sheet.arrow(172, low, 180, "drain")
    p.draw('<path class="o" d="M-16,-9 L16,9 V-9 L-16,9 Z M0,0 V18 M-8,18 H8"/>', 232, low)
    p.draw(
        '<path class="o" d="M-16,-9 H16 V9 H-16 Z"/><path class="k" d="M10,-6 L-4,0 L10,6 Z"/>'
        '<path class="o" d="M-7,-6 V6"/>',
        112,
        low,
    )
    p.word("drain", 298, y + 28)
    p.name("needle valve", 196, low + 40, (232, low + 19), 110)
    p.name("non-return, to the pump", 20, low + 32, (112, low + 9), 160)


def _solenoid(p: Place) -> None:
    y = 74.0
    p.run("feed", (10, y), (120, y), word=True)
    x, _ = p.put("solenoid", 120, y, "feed", 1.7)
    p.run("feed", (x, y), (330, y))
    p.name("coil on top", 204, 34, (172, 38), 110)
    p.name("arrow with the flow", 132, 118, (154, 88), 160)


def _power(p: Place) -> None:
    p.draw(
        '<path class="o hollow" d="M30,8 V140 H310"/><path class="o" d="M60,24 H124 V72 H60 Z"/>'
        '<circle class="o" cx="80" cy="48" r="13"/><path class="k" d="M74,46 h4 v4 h-4 z M82,46 h4 v4 h-4 z"/>'
        '<path class="o" d="M102,34 H116 V44 H102 Z"/><path class="f" d="M104,54 H114 M104,60 H114"/>'
        '<path class="f" d="M52,76 V138"/><path class="k" d="M52,74 l-4,8 h8 z M52,140 l-4,-8 h8 z"/>'
    )
    p.sheet.grow(144)
    p.name("residual-current device, its test button", 146, 40, (110, 38), 180)
    p.name("socket, off until all is dry", 146, 80, (84, 58), 180)
    p.name("above splash height", 64, 120, None, 180)


# ---- membranes and drain ----


def _membrane(p: Place) -> None:
    p.draw(
        '<path class="o hollow" d="M126,34 H312 M126,98 H312"/><path class="o" d="M312,30 H328 V102 H312 Z"/>'
        '<path class="o" d="M126,28 H136 V36 H126 Z M126,96 H136 V104 H126 Z"/>'
        '<path class="o" d="M84,44 H280 V88 H84 Z"/>'
        '<path class="f" d="M98,54 H270 M98,66 H270 M98,78 H270"/>'
        '<path class="o" d="M280,60 H296 V72 H280 Z"/><path class="k" d="M288,56 h3 v4 h-3 z M288,72 h3 v4 h-3 z"/>'
        '<path class="k" d="M92,35 H99 V44 H92 Z M92,88 H99 V97 H92 Z"/>'
        '<path class="o" d="M20,63 H58 V57 L74,66 L58,75 V69 H20 Z"/>'
    )
    p.sheet.grow(108)
    p.name("brine seal, at the feed end, goes in last", 10, 14, (95, 36), 330)
    p.name("along its arrow", 10, 96, None, 76)
    p.name("O-rings, greased", 218, 128, (289, 76), 120)


def _side_by_side(p: Place) -> None:
    count = min(len(p.step.parts), 4)
    pitch, long, left = 50.0, 130.0, 104.0
    levels = [40.0 + pitch * place for place in range(count)]
    top, bottom = levels[0], levels[-1]
    p.run("feed", (10, top), (62, top), word=True)
    p.sheet.pipe([(62, top), (62, bottom)], "feed")
    p.sheet.pipe([(254, top - 8), (254, bottom - 8)], "product")
    p.run("product", (254, top - 8), (330, top - 8))
    p.sheet.pipe([(276, top + 8), (276, bottom + 8)], "drain")
    p.run("drain", (276, bottom + 8), (330, bottom + 8))
    for place, y in enumerate(levels):
        p.run("feed", (62, y), (left, y))
        p.sheet.pipe([(left + long, y - 8), (254, y - 8)], "product")
        p.sheet.pipe([(left + long, y + 8), (276, y + 8)], "drain")
        p.draw(housing(long, 32), left, y)
        p.sheet.text(left + 18, y + 5, f"membrane {place + 1}", "label", LETTERS)
        p.told.append(f"membrane {place + 1}")
    p.word("product", 278, top - 16)
    p.word("drain", 290, bottom + 26)
    p.name(
        "a tee at each branch, links of equal length", 10, bottom + 44, (62, bottom - 4 if count > 1 else bottom), 320
    )


def _in_series(p: Place) -> None:
    left, right, y = 58.0, 210.0, 60.0
    p.run("feed", (10, y), (left, y), word=True)
    p.run("drain", (left + 92, y + 9), (right, y + 9))
    p.sheet.pipe([(left + 92, y - 9), (176, y - 9), (176, 24)], "product")
    p.sheet.pipe([(right + 92, y - 9), (318, y - 9), (318, 24)], "product")
    p.run("product", (176, 24), (334, 24))
    p.sheet.pipe([(right + 92, y + 9), (330, y + 9)], "drain")
    for x, name in ((left, "this"), (right, "next")):
        p.draw(housing(92, 36), x, y)
        p.sheet.text(x + 13, y + 5, f"{name} one", "label", LETTERS)
        p.told.append(f"{name} stage")
    p.word("product", 182, 16)
    p.word("drain", 306, y + 28)
    p.name("drain of the one is feed of the next", 96, 112, (180, y + 9), 240)


def _gauge(p: Place) -> None:
    y = 96.0
    p.run("feed", (10, y), (150, y), word=True)
    p.sheet.pipe([(150, y), (214, y)], "feed")
    p.draw(
        '<path class="o" d="M-16,-8 H16 V8 H-16 Z M-6,-8 V-24 H6 V-8"/><circle class="o" cx="0" cy="-46" r="24"/>'
        '<path class="f" d="M-17,-36 A20,20 0 1 1 17,-36"/><path class="o" d="M0,-46 L9,-58"/>'
        '<circle class="k" cx="0" cy="-46" r="2.5"/>',
        150,
        y,
    )
    p.draw(housing(116, 40), 214, y)
    p.sheet.grow(y + 24)
    p.name("gauge on its tee, to be read from where you stand", 190, 30, (172, 40), 140)
    p.sheet.text(234, y + 5, "membranes", "label", LETTERS)
    p.told.append("membranes")


def _inline(part: str, stroke: Stroke, name: str, scale: float = 1.7) -> Callable[[Place], None]:
    """A part in its line with one name."""

    def place(p: Place) -> None:
        symbol = SYMBOLS[part]
        y = scale * symbol.up + 26
        p.run(stroke, (10, y), (110, y), word=True)
        x, out = p.put(part, 110, y, stroke, scale)
        p.run(stroke, (x, out), (330, out))
        below = max(y + scale * symbol.down, out) + 24
        p.name(name, 96, below, (110 + scale * symbol.width / 2, y + scale * min(symbol.down, 9)), 240)

    return place


def _drain_gap(p: Place) -> None:
    y = 36.0
    p.run("drain", (10, y), (150, y), word=True)
    p.put("gully", 150, y, "drain", 1.5)
    p.draw('<path class="o" d="M-4,-8 H4 V8 H-4 Z"/><path class="f" d="M0,-8 V-20"/>', 128, y)
    p.name("clipped: it cannot slip in", 30, 84, (128, y + 7), 96)
    p.name("air gap", 226, 84, (204, 78), 90)


# ---- product ----


def _check(p: Place) -> None:
    _inline("check", "product" if p.plant.elements else "feed", "arrow with the flow: you can blow through one way")(p)


def _shut_off(p: Place) -> None:
    feed, product, x = 40.0, 110.0, 120.0
    p.run("feed", (10, feed), (x, feed), word=True)
    p.run("feed", (x + 84, feed), (330, feed))
    p.run("product", (10, product), (x, product), word=True)
    p.run("product", (x + 84, product), (330, product))
    p.draw(
        '<path class="o" d="M0,-16 H84 V88 H0 Z"/><path class="f" d="M0,36 H84 M12,36 Q42,52 72,36"/>'
        '<path class="k" d="M36,0 h12 v20 h-12 z"/><path class="f" d="M42,20 V42"/>',
        x,
        feed,
    )
    p.put("check", 58, product, "product", 1.0)
    p.name("feed in", 62, feed + 22, None, 60)
    p.name("feed out", 212, feed + 22, None, 80)
    p.name("product in", 40, product + 30, None, 80)
    p.name("product out", 212, product + 24, None, 90)


def _lift(p: Place) -> None:
    stroke: Stroke = "product" if p.plant.elements else "feed"
    if any(getattr(part, "height", 0.0) < 0.0 for part in p.plant.product if part.key in p.step.parts):
        p.run(stroke, (10, 36), (150, 36), word=True)
        p.run(stroke, (150, 36), (150, 128))
        p.run(stroke, (150, 128), (330, 128))
    else:
        p.run(stroke, (10, 128), (150, 128), word=True)
        p.run(stroke, (150, 128), (150, 36))
        p.run(stroke, (150, 36), (330, 36))
    for y in (56, 108):
        p.draw('<path class="o" d="M-8,-5 H8 V5 H-8 Z"/><path class="f" d="M8,0 H20"/>', 150, y)
    p.sheet.grow(136)
    p.name("a clip every half metre", 186, 84, (158, 108), 130)


def _bypass(p: Place) -> None:
    y = _three_way(p, on=False)
    p.name("turned to the bucket while it rinses", 192, y + 48, (156, y + 16), 130)


def _bring_in(p: Place) -> None:
    y = _three_way(p, on=True)
    p.name("turned on, away from the bucket", 192, y + 48, (156, y + 6), 130)


def _three_way(p: Place, *, on: bool) -> float:
    """The by-pass on the product, its third way to a bucket; returns the level of the line."""
    y = 44.0
    behind = next((part for part in p.plant.product if isinstance(part, ResinVessel | Tank)), None)
    p.run("product", (10, y), (120, y), word=True)
    p.run("product", (160, y), (330, y), arrow=on)
    p.sheet.pipe([(140, y), (140, 92)], "product")
    if not on:
        p.sheet.arrow(140, 80, 90, "product")
    p.draw(
        '<path class="o" d="M-16,-13 L16,13 V-13 L-16,13 Z M0,0 L-13,19 H13 Z"/>'
        '<circle class="o" cx="0" cy="0" r="6"/>',
        140,
        y,
    )
    p.draw(
        '<path class="w" d="M106,118 H174 L170,148 H110 Z"/><path class="o hollow" d="M102,98 L110,150 H170 L178,98"/>'
    )
    p.sheet.grow(152)
    if behind is not None:
        words = f"to the {'resin' if isinstance(behind, ResinVessel) else 'tank'}"
        p.name(words if on else f"{words}, shut for now", 186, 20, None, 150)
    return y


def _resin(p: Place) -> None:
    stroke: Stroke = "product" if p.plant.elements else "feed"
    y = 42.0
    p.run(stroke, (10, y), (112, y), word=True)
    x, _ = p.put("resin", 112, y, stroke, 1.45)
    p.run("polished", (x, y), (330, y))
    p.word("polished", 232, y - 12)
    p.name("in", 94, y + 24, None, 20)
    p.name("out", 206, y + 24, None, 40)
    p.name("seal clean, without a bead", 212, 100, (178, 54), 110)
    p.name("resin", 212, 146, (170, 138), 90)


def _tank(p: Place) -> None:
    tank = p.plant.tank
    stroke: Stroke = "polished" if p.plant.resin and not p.plant.resin_behind_tank else "product"
    stroke = stroke if p.plant.elements or stroke == "polished" else "feed"
    x, y, w, h = 110.0, 58.0, 124.0, 112.0
    p.draw(f'<path class="w" d="M{x + 1},{y + 34} H{x + w - 1} V{y + h - 1} H{x + 1} Z"/>')
    p.draw(f'<path class="o hollow" d="M{x},{y} V{y + h} H{x + w} V{y} Z"/>')
    p.run(stroke, (10, y + 16), (x, y + 16), (x + 18, y + 16), (x + 18, y + 22))
    p.run(stroke, (x + w, y + h - 14), (330, y + h - 14), word=False)
    p.draw('<path class="o" d="M-12,-7 L12,7 V-7 L-12,7 Z"/>', x + w + 22, y + h - 14)
    p.sheet.pipe([(x + w, y + 22), (x + w + 24, y + 22), (x + w + 24, y + 44)], "drain")
    p.name("overflow, screened", 264, y + 26, (x + w + 24, y + 40), 76)
    p.name("outlet valve", 250, y + h + 18, (x + w + 22, y + h - 6), 90)
    if tank is not None and tank.float_valve:
        p.draw(
            '<path class="k" d="M-5,-6 h10 v10 h-10 z"/><path class="f" d="M4,0 L44,14"/>'
            '<circle class="o" cx="52" cy="17" r="9"/>',
            x + 18,
            y + 18,
        )
        p.name("float, free to move", 10, y + 58, (x + 66, y + 42), 84)
    if "also.tank_gap" in p.step.items:
        p.name("air gap at the inlet", 10, y + 104, (x + 18, y + 29), 84)
    if "also.vent" in p.step.items:
        p.draw('<path class="o" d="M-8,0 V-14 H8 V0 M-11,-20 H11 V-14 H-11 Z"/>', x + 70, y)
        p.name("vent, screened", x + 90, y - 22, (x + 78, y - 12), 110)
    p.sheet.grow(y + h + 8)


def _delivery(p: Place) -> None:
    _inline("delivery-pump", _last_stroke(p.plant), "below the water’s level, its arrow to the brush", 1.4)(p)


def _blend(p: Place) -> None:
    _inline("blend", "product", "its arrow to the product, set by the record")(p)


def _last_stroke(plant: Plant) -> Stroke:
    if plant.resin:
        return "polished"
    return "product" if plant.elements else "feed"


# ---- water ----


def _open(p: Place) -> None:
    y = 64.0
    p.run("feed", (10, y), (70, y), word=True)
    x = _valve(p, 70, y, -68.0)
    p.run("feed", (x, y), (330, y))
    p.draw('<path class="o" d="M-16,-10 H16 V10 H-16 Z"/><path class="f" d="M-8,-10 V10 M8,-10 V10"/>', 258, y)
    p.draw('<path class="o" d="M0,0 q14,-6 28,0 t28,0 l-4,26 q-12,6 -24,0 t-24,0 Z"/>', 232, y + 14)
    p.draw(
        '<circle class="o" cx="0" cy="0" r="3"/><circle class="o" cx="12" cy="-4" r="4"/>'
        '<circle class="o" cx="26" cy="2" r="2.5"/>',
        154,
        y - 14,
    )
    p.sheet.grow(y + 44)
    p.name("a quarter at first", 40, 22, (92, 38), 130)
    p.name("wait until the air is out", 60, 108, (166, y - 12), 100)
    p.name("a dry cloth at every joint", 186, 128, (262, 98), 150)


def _rinse(p: Place) -> None:
    p.draw(housing(104, 36), 80, 56)
    p.run("feed", (10, 56), (80, 56), word=True)
    p.run("product", (184, 47), (250, 47), (250, 84))
    p.run("drain", (184, 66), (222, 66), (222, 100))
    p.word("product", 190, 36)
    p.word("drain", 172, 98)
    p.draw(
        '<path class="o" d="M200,112 H292 V118 L284,126 H208 L200,118 Z"/>'
        '<path class="f" d="M212,112 V118 M228,112 V118 M244,112 V118 M260,112 V118 M276,112 V118"/>'
    )
    p.sheet.grow(130)
    p.name("both to waste, for an hour or more", 40, 136, (200, 118), 150)


def _van(p: Place) -> None:
    p.draw(
        '<path class="o" d="M40,24 H214 V100 H40 Z"/><path class="o" d="M214,46 H252 L282,74 V100 H214 Z"/>'
        '<path class="f" d="M222,54 H248 L268,74 H222 Z"/><path class="w" d="M62,56 H132 V92 H62 Z"/>'
        '<path class="o hollow" d="M60,44 H134 V94 H60 Z"/><path class="f" d="M84,56 V94 M110,56 V94"/>'
        '<circle class="o" cx="84" cy="102" r="16"/><circle class="o" cx="238" cy="102" r="16"/>'
        '<path class="f" d="M84,128 V142 M238,128 V142"/><path class="k" d="M84,122 l-5,9 h10 z M238,122 l-5,9 h10 z"/>'
    )
    p.sheet.grow(146)
    p.name("tank with baffles, held", 142, 50, (134, 62), 70)
    p.name("weigh each axle", 106, 142, None, 130)


def _record(p: Place) -> None:
    p.draw(
        '<path class="o" d="M20,36 L36,20 H142 V88 H36 L20,72 Z"/><circle class="o" cx="34" cy="54" r="5"/>'
        '<path class="f" d="M29,54 Q8,54 6,96"/>'
    )
    for row, text in enumerate(("not", "drinking", "water")):
        p.sheet.text(52, 42 + 18 * row, text, "label", LETTERS)
    p.draw('<path class="o" d="M0,0 H96 V118 H0 Z"/>', 180, 12)
    p.draw(
        '<path class="f" d="M12,22 H84 M12,38 H84 M12,54 H84 M12,70 H60 M12,102 H84"/>'
        '<path class="o hollow" d="M16,98 q8,-16 14,-2 t14,-4 t16,2"/>',
        180,
        12,
    )
    p.sheet.grow(134)
    p.told.append("a tag that says not drinking water")
    p.name("record, signed", 284, 62, (276, 58), 56)


PLACES: dict[str, Callable[[Place], None]] = {
    "unpack": _unpack,
    "stand": _stand,
    "joint-push-fit": _push_fit,
    "joint-hose": _hose_tail,
    "tap": _tap,
    "cartridge": _cartridge,
    "inhibitor": _inhibitor,
    "softener": _softener,
    "pump": _pump,
    "return": _return_line,
    "solenoid": _solenoid,
    "power": _power,
    "membrane-in": _membrane,
    "element-parallel": _side_by_side,
    "element-series": _in_series,
    "gauge": _gauge,
    "restrictor": _inline("restrictor", "drain", "its flow on the label, its arrow to the drain"),
    "flush": _inline("flush", "drain", "past the restrictor, its arrow to the drain"),
    "drain-gap": _drain_gap,
    "check": _check,
    "shutoff": _shut_off,
    "lift": _lift,
    "bypass": _bypass,
    "bring-in": _bring_in,
    "resin": _resin,
    "tank": _tank,
    "delivery": _delivery,
    "blend": _blend,
    "open-slowly": _open,
    "rinse": _rinse,
    "van": _van,
    "record": _record,
}
