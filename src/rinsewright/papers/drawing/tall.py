"""The water's way on a phone: one stem, from tap at the top to the brush at the bottom; the drain leaves sideways."""

from __future__ import annotations

from collections.abc import Sequence

from rinsewright.papers.content import PathPart, WaterPath
from rinsewright.papers.drawing.lettering import (
    GULLY,
    Caption,
    Hand,
    product_strokes,
    tag_height,
    write_tag,
)
from rinsewright.papers.drawing.surface import STROKE_WORDS, Box, Stroke, Surface
from rinsewright.papers.drawing.symbols import SYMBOLS, Symbol
from rinsewright.papers.drawing.wide import HOUSING_HEIGHT, draw_housing

HAND = Hand(name=15, size=13.5, tag=15, word=14)
HOUSING_HAND = Hand(name=13.5, size=12.5, tag=13.5, word=14)
WIDTH = 340.0
STEM = 58.0  # the main stem
TEXT = 118.0
DRAIN_STEM = 156.0
DRAIN_TEXT = 210.0
HEADER, HOUSING, PRODUCT, CONCENTRATE = 22.0, 40.0, 210.0, 230.0  # across the membranes
HOUSING_LENGTH = 154.0
SIDE_TAG = 244.0

SOURCES = ("tap", "well")  # their outlet bends down into the stem
OPEN = {"tank": 10.0, "break-tank": 8.0, "gully": 16.0}  # the pipe ends above the water in them: so far below its axis
INLETS = {
    "tap": 48.0,
    "well": 56.0,
    "softener": 22.0,
    "pump": 20.0,
    "delivery-pump": 20.0,
    "lift": 20.0,
    "gully": 16.0,
    "tank": 26.0,
    "break-tank": 22.0,
}  # where the stem meets a part that stands beside it


class Stem:
    """Draws one upright run of parts, from ``y`` downwards."""

    def __init__(self, sheet: Surface, x: float, text: float, y: float, stroke: Stroke) -> None:
        self.sheet, self.x, self.text, self.y, self.stroke = sheet, x, text, y, stroke
        self.worded: set[Stroke] = set()
        self.touch: tuple[PathPart, float] | None = None  # the part drawn last, and where it began

    def joint(self, part: PathPart | None) -> None:
        """The pipe to the next part, with its word and the tag of the part before it."""
        tag = part.tag if part else None
        word = None if self.stroke in self.worded else self.stroke
        self.worded.add(self.stroke)
        top = self.y
        if word:
            self.sheet.text(self.x + 12, self.y + 17, STROKE_WORDS[word], f"word {word}", HAND.word)
            self.y += HAND.word + 10
        if tag:
            self.sheet.leader(self.x, self.y + 12, self.text - 6, self.y + 12)
            write_tag(self.sheet, tag, HAND, self.text, self.y + 4)
            self.y += tag_height(tag, HAND) + 2
        self.y += 16 if word or tag else 22
        self.sheet.pipe([(self.x, top), (self.x, self.y)], self.stroke)

    def touched(self) -> None:
        """The part drawn last can be touched from where it began to where its joint ends."""
        if self.touch is not None:
            part, top = self.touch
            left = self.x - STEM
            self.sheet.spot(part, Box(left, top - 4, WIDTH - left, self.y - top))
            self.touch = None

    def part(self, part: PathPart, after: Stroke, *, last: bool) -> None:
        """A symbol, its caption beside it."""
        self.touch = part, self.y
        symbol = SYMBOLS[part.kind]
        left = self.x - INLETS.get(part.kind, symbol.width / 2)
        text = self.text if symbol.turns else max(self.text, left + symbol.width + 10)
        caption = Caption.of(part, HAND, WIDTH - text)
        height = symbol.width if symbol.turns else symbol.up + symbol.down
        tag = part.tag if last else None
        beside = caption.height + (tag_height(tag, HAND) + 4 if tag else 0.0)
        top = self.y + max(0.0, (beside - height) / 2)
        self._pipe_through(part, symbol, top, height, after, last)
        box = self._place(part, symbol, left, top)
        middle = box.y + box.height / 2
        caption.write(self.sheet, text, middle - beside / 2, "start")
        if tag:
            write_tag(self.sheet, tag, HAND, text, middle - beside / 2 + caption.height + 4)
        self.y = max(top + height, middle + beside / 2)
        if not last and self.y > top + height:
            self.sheet.pipe([(self.x, top + height), (self.x, self.y)], after)
        self.sheet.grow(self.y)
        self.stroke = after

    def _pipe_through(
        self, part: PathPart, symbol: Symbol, top: float, height: float, after: Stroke, last: bool
    ) -> None:
        if part.kind in SOURCES:
            axis = top + symbol.up
            for line in symbol.lines:
                self.sheet.pipe([(self.x - symbol.width + dx, axis + dy) for dx, dy in line], after)
            if not last:
                self.sheet.pipe([(self.x - 4, axis), (self.x, axis), (self.x, top + height)], after)
            return
        if part.kind in OPEN:
            inside = symbol.up + OPEN[part.kind]
            self.sheet.pipe([(self.x, self.y), (self.x, top + inside)], self.stroke)
            if not last:
                self.sheet.pipe([(self.x, top + height - 5), (self.x, top + height)], after)
            return
        self.sheet.pipe([(self.x, self.y), (self.x, top + height / 2)], self.stroke)
        if not last:
            self.sheet.pipe([(self.x, top + height / 2), (self.x, top + height)], after)

    def _place(self, part: PathPart, symbol: Symbol, left: float, top: float) -> Box:
        if symbol.turns:
            self.sheet.symbol(
                part.name,
                symbol.body,
                box := Box(self.x - symbol.down, top, symbol.up + symbol.down, symbol.width),
                f"translate({self.x:g} {top:g}) rotate(90)",
            )
            return box
        box = Box(left, top, symbol.width, symbol.up + symbol.down)
        self.sheet.symbol(part.name, symbol.body, box, f"translate({left:g} {top + symbol.up:g})")
        return box


def draw_tall(path: WaterPath) -> Surface:
    """Draw the whole way, 340 wide and as long as it takes."""
    sheet = Surface(WIDTH)
    strokes = product_strokes(path)
    stem = Stem(sheet, STEM, TEXT, 4.0, "feed")
    feed_ends = not (path.membranes or path.product)
    _run(stem, path.feed, ["feed"] * len(path.feed), ends=feed_ends)
    if path.membranes:
        _membranes(stem, path)
        stem.joint(None)
    _run(stem, path.product, strokes[1:], ends=True)
    return sheet


def _run(stem: Stem, parts: Sequence[PathPart], after: Sequence[Stroke], *, ends: bool) -> None:
    for number, (part, stroke) in enumerate(zip(parts, after, strict=True)):
        last = ends and number == len(parts) - 1
        stem.part(part, stroke, last=last)
        if not last:
            stem.joint(part)
        stem.touched()


def _membranes(stem: Stem, path: WaterPath) -> None:
    """The stages, one below the other, then the drain beside the product line."""
    sheet, y = stem.sheet, stem.y
    ports: list[float] = []
    entry = STEM
    for number, stage in enumerate(path.membranes, 1):
        sheet.pipe([(entry, y), (entry, y + 8), (HEADER, y + 8), (HEADER, y + 30)], "feed")
        if len(path.membranes) > 1:
            sheet.text(HOUSING, y + 26, f"stage {number}", "word feed", HAND.word)
            y += 12
            sheet.pipe([(HEADER, y + 18), (HEADER, y + 30)], "feed")
        onward: Stroke = "drain" if number == len(path.membranes) else "feed"
        y, levels = _stage(sheet, stage, y + 26 + HOUSING_HEIGHT / 2, onward)
        ports += levels
        entry = CONCENTRATE
    sheet.pipe([(PRODUCT, ports[0]), (PRODUCT, y + 8), (STEM, y + 8)], "product", over=True)
    for port in ports:
        sheet.pipe([(HOUSING + HOUSING_LENGTH, port), (PRODUCT + 2.2, port)], "product")
    sheet.pipe([(CONCENTRATE, y), (CONCENTRATE, y + 24), (DRAIN_STEM, y + 24)], "drain")
    drain = Stem(sheet, DRAIN_STEM, DRAIN_TEXT, y + 24, "drain")
    drain.joint(None)
    _run(drain, (*path.drain, GULLY), ["drain"] * (len(path.drain) + 1), ends=True)
    stem.y, stem.stroke = drain.y + 6, "product"
    sheet.pipe([(STEM, y + 8), (STEM, stem.y)], "product")
    sheet.arrow(STEM, y + 34, 90, "product")


def _stage(sheet: Surface, stage: Sequence[PathPart], first: float, onward: Stroke) -> tuple[float, list[float]]:
    """Housings one under the other; gives the level at which the stage's headers end, and those of the housings."""
    y, levels = first, []
    for number, part in enumerate(stage):
        if number:
            y += HOUSING_HEIGHT + 14 + max(0.0, tag_height(part.tag, HOUSING_HAND) - HOUSING_HEIGHT)
        levels.append(y)
        sheet.pipe([(HEADER, y), (HOUSING, y)], "feed")
        sheet.pipe([(HOUSING + HOUSING_LENGTH, y + 10), (CONCENTRATE, y + 10)], onward)
        draw_housing(sheet, part, HOUSING_HAND, HOUSING, y, HOUSING_LENGTH)
        sheet.spot(part, Box(0.0, y - HOUSING_HEIGHT / 2 - 5, WIDTH, HOUSING_HEIGHT + 10))
        if part.tag:
            write_tag(sheet, part.tag, HOUSING_HAND, SIDE_TAG, y - tag_height(part.tag, HOUSING_HAND) / 2)
    end = y + HOUSING_HEIGHT / 2 + 12
    sheet.pipe([(HEADER, first - 20), (HEADER, y)], "feed")
    sheet.pipe([(CONCENTRATE, first + 10), (CONCENTRATE, end)], onward)
    return end, levels
