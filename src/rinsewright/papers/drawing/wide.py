"""The water's way on paper and wide screens: rows read from left to right, like lines of writing.

Feed parts first; below them the membranes, with the drain leaving to the right; below those the product line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rinsewright.papers.content import PathPart, WaterPath
from rinsewright.papers.drawing.lettering import (
    GULLY,
    Caption,
    Hand,
    product_strokes,
    tag_height,
    tag_width,
    word_width,
    write_tag,
)
from rinsewright.papers.drawing.surface import STROKE_WORDS, Box, Stroke, Surface
from rinsewright.papers.drawing.symbols import SYMBOLS, Symbol, housing

HAND = Hand(name=13.5, size=12.5, tag=13.5, word=13)
WIDTH = 860.0
GUTTER = 14.0  # where lines return to, at the left
LEADER = 13.0
LANE = 16.0  # room above and below a returning line
HOUSING_HEIGHT = 42.0
CAPTION = 102.0  # captions are broken at this width
LOOSE = 56.0  # how much a joint may be lengthened to fill a row


@dataclass(frozen=True)
class Cell:
    """A part with its caption above, and the joint behind it with its word above and its tag below."""

    part: PathPart
    symbol: Symbol
    caption: Caption
    after: Stroke | None  # the line behind it; None at the end of the way
    word: Stroke | None  # the word that line carries here
    loose: float = 0.0  # extra length of the joint

    @classmethod
    def of(cls, part: PathPart, after: Stroke | None, word: Stroke | None) -> Cell:
        """Measure a part."""
        symbol = SYMBOLS[part.kind]
        return cls(part, symbol, Caption.of(part, HAND, max(CAPTION, symbol.width)), after, word)

    @property
    def body(self) -> float:
        """Width of symbol and caption."""
        return max(self.symbol.width, self.caption.width)

    @property
    def joint(self) -> float:
        """Width of the joint behind it."""
        return (
            max(tag_width(self.part.tag, HAND), word_width(self.word, HAND), 14.0 if self.after else 0.0)
            + 11.0
            + self.loose
        )

    @property
    def width(self) -> float:
        """Of symbol and joint."""
        return self.body + self.joint

    @property
    def up(self) -> float:
        """Room above the inlet's level."""
        return max(self.symbol.up + self.caption.height + 6, HAND.word + 10 - self.symbol.rise)

    @property
    def down(self) -> float:
        """Room below the inlet's level."""
        return max(self.symbol.down, LEADER + tag_height(self.part.tag, HAND) + self.symbol.rise)


def draw_wide(path: WaterPath) -> Surface:
    """Draw the whole way; the sheet is 860 wide, more if the membranes need it."""
    sheet = Surface(max(WIDTH, _membranes_width(path)))
    strokes = product_strokes(path)
    feed = _cells(path.feed, ["feed"] * len(path.feed), word="feed", ends=not (path.membranes or path.product))
    product = _cells(path.product, strokes[1:], word=None, ends=True)
    bottom = 0.0
    if not path.membranes:
        return _finish(sheet, _rows([*feed, *product], sheet.width), None, bottom)
    feed_rows = _rows(feed, sheet.width)
    end, bottom = _draw_rows(sheet, feed_rows, None, bottom)
    sources, bottom = _membranes(sheet, path, end, bottom)
    return _product(sheet, product, sources, bottom)


def _cells(parts: Sequence[PathPart], after: Sequence[Stroke], *, word: Stroke | None, ends: bool) -> list[Cell]:
    cells, written = [], {word} - {"feed"}
    for number, (part, stroke) in enumerate(zip(parts, after, strict=True)):
        last = ends and number == len(parts) - 1
        new = None if last or stroke in written or stroke == "product" else stroke
        written.add(stroke)
        cells.append(Cell.of(part, None if last else stroke, new))
    return cells


def _rows(cells: Sequence[Cell], width: float, first: float = GUTTER) -> list[list[Cell]]:
    """Break into as few rows as fit in ``width``, as even in length as can be, and spread each towards the edge."""
    widest = width - GUTTER
    rows = _break(cells, widest, first)
    limits = [widest - 20 * step for step in range(1, 20)]
    for limit in limits:
        tighter = _break(cells, limit, first)
        if len(tighter) > len(rows):
            break
        rows = tighter
    return [_spread(row, widest - (GUTTER + 20 if number else first)) for number, row in enumerate(rows)]


def _break(cells: Sequence[Cell], limit: float, first: float) -> list[list[Cell]]:
    rows: list[list[Cell]] = [[]]
    x = first
    for cell in cells:
        if rows[-1] and x + cell.width > limit:
            rows.append([])
            x = GUTTER + 20
        rows[-1].append(cell)
        x += cell.width
    return rows


def _spread(row: list[Cell], room: float) -> list[Cell]:
    """Lengthen the joints towards filling the row, none by more than is pleasant to follow."""
    if not row:
        return row
    spare = min(LOOSE, max(0.0, room - sum(cell.width for cell in row)) / len(row))
    return [replace(cell, loose=spare) for cell in row]


@dataclass(frozen=True)
class End:
    """Where a line ended: the next row takes it up from here."""

    x: float
    y: float
    stroke: Stroke


def _finish(sheet: Surface, rows: list[list[Cell]], end: End | None, bottom: float) -> Surface:
    _draw_rows(sheet, rows, end, bottom)
    return sheet


def _draw_rows(sheet: Surface, rows: list[list[Cell]], end: End | None, bottom: float) -> tuple[End, float]:
    for row in rows:
        axis, x = bottom + _up(row), GUTTER
        if end is not None:
            axis += 2 * LANE
            x += 20
            sheet.pipe(_return(end, bottom + LANE, axis, x), end.stroke)
            sheet.arrow(GUTTER, axis - 14, 90, end.stroke)
        end, bottom = _draw_row(sheet, row, x, axis, end.stroke if end else "feed")
    assert end is not None
    return end, bottom


def _return(end: End, lane: float, axis: float, x: float) -> list[tuple[float, float]]:
    return [(end.x, end.y), (end.x, lane), (GUTTER, lane), (GUTTER, axis), (x, axis)]


def _up(row: Sequence[Cell]) -> float:
    need, level = 0.0, 0.0
    for cell in row:
        need = max(need, cell.up - level)
        level += cell.symbol.rise
    return need


def _draw_row(sheet: Surface, row: Sequence[Cell], x: float, y: float, stroke: Stroke) -> tuple[End, float]:
    bottom = y
    for cell in row:
        bottom = max(bottom, y + cell.down)
        y = _draw_cell(sheet, cell, x, y, stroke)
        x += cell.width
        stroke = cell.after or stroke
    sheet.grow(bottom)
    return End(x, y, stroke), max(bottom, sheet.height)


def _draw_cell(sheet: Surface, cell: Cell, x: float, y: float, before: Stroke) -> float:
    symbol, left = cell.symbol, x + (cell.body - cell.symbol.width) / 2
    out = y + symbol.rise
    if cell.part.kind not in ("tap", "well"):
        sheet.pipe([(x, y), (left, y)], before)
    for number, line in enumerate(symbol.lines):
        stroke = cell.after if cell.after and (number or symbol.runs is None) else before
        if cell.after is None and number:
            continue  # the last part lets nothing on
        sheet.pipe([(left + dx, y + dy) for dx, dy in line], stroke)
    sheet.symbol(
        cell.part.name,
        symbol.body,
        Box(left, y - symbol.up, symbol.width, symbol.up + symbol.down),
        f"translate({left:g} {y:g})",
    )
    cell.caption.write(sheet, x + cell.body / 2, y - symbol.up - 4 - cell.caption.height, "middle")
    sheet.spot(cell.part, Box(x, y - cell.up, cell.width, cell.up + cell.down))
    _draw_joint(sheet, cell, x + cell.body, left + symbol.width, out, y)
    return out


def _draw_joint(sheet: Surface, cell: Cell, x: float, outlet: float, y: float, inlet_y: float) -> None:
    middle, tag = x + cell.joint / 2, cell.part.tag
    left = middle - tag_width(tag, HAND) / 2
    if cell.after is None:
        if tag:
            centre = inlet_y + (cell.symbol.down - cell.symbol.up) / 2
            write_tag(sheet, tag, HAND, left, centre - tag_height(tag, HAND) / 2)
        return
    sheet.pipe([(outlet, y), (x + cell.joint, y)], cell.after)
    if cell.word:
        sheet.text(middle, y - 8, STROKE_WORDS[cell.word], f"word {cell.word}", HAND.word, "middle")
    if tag:
        sheet.leader(middle, y, middle, y + LEADER - 2)
        write_tag(sheet, tag, HAND, left, y + LEADER)


# Membranes: each stage is a stack of housings, a feed header at its left, product and drain headers at its right.


@dataclass(frozen=True)
class Header:
    """The product header of a stage: upright at ``x``, fed from the ``ports`` of its housings, the topmost first."""

    x: float
    ports: tuple[tuple[float, float], ...]


def _housing_length(path: WaterPath) -> float:
    return 154.0 if len(path.membranes) < 3 else 126.0


def _stage_width(path: WaterPath) -> float:
    return 24 + _housing_length(path) + 46


def _membranes_width(path: WaterPath) -> float:
    if not path.membranes:
        return 0.0
    drain = sum(cell.width for cell in _drain_cells(path))
    return 2 * GUTTER + len(path.membranes) * _stage_width(path) + _pre_joint("drain") + drain


def _drain_cells(path: WaterPath) -> list[Cell]:
    return _cells((*path.drain, GULLY), ["drain"] * (len(path.drain) + 1), word="drain", ends=True)


def _pre_joint(stroke: Stroke) -> float:
    return word_width(stroke, HAND) + 22


def _pitch(stage: Sequence[PathPart]) -> float:
    return HOUSING_HEIGHT + 16 + max((tag_height(part.tag, HAND) for part in stage), default=0.0)


def _membranes(sheet: Surface, path: WaterPath, end: End, bottom: float) -> tuple[list[Header], float]:
    """Draw every stage and the drain; give back the stages' product headers, not yet drawn, and the bottom reached."""
    drain = _drain_cells(path)
    first = bottom + 2 * LANE + max(_up(drain) - 10, HOUSING_HEIGHT / 2 + 22)
    header = GUTTER
    sheet.pipe([(end.x, end.y), (end.x, bottom + LANE), (header, bottom + LANE), (header, first)], end.stroke)
    sheet.arrow(header, first - 34, 90, "feed")
    sources = []
    for number, stage in enumerate(path.membranes, 1):
        last = number == len(path.membranes)
        if len(path.membranes) > 1:
            sheet.text(header + 24, first - HOUSING_HEIGHT / 2 - 7, f"stage {number}", "word feed", HAND.word)
        sources.append(_stage(sheet, path, stage, header, first, "drain" if last else "feed"))
        header += _stage_width(path)
    sheet.text(header + _pre_joint("drain") / 2, first + 2, "drain", "word drain", HAND.word, "middle")
    sheet.pipe([(header, first + 10), (header + _pre_joint("drain"), first + 10)], "drain")
    _draw_row(sheet, drain, header + _pre_joint("drain"), first + 10, "drain")
    return sources, sheet.height


def _stage(
    sheet: Surface, path: WaterPath, stage: Sequence[PathPart], header: float, first: float, onward: Stroke
) -> Header:
    length, pitch = _housing_length(path), _pitch(stage)
    left, right = header + 24, header + 24 + length
    product, drain, last = right + 20, right + 46, first + pitch * (len(stage) - 1)
    if last > first:
        sheet.pipe([(header, first), (header, last)], "feed")
    sheet.pipe([(drain, first + 10 if onward == "drain" else first), (drain, last + 10)], onward)
    for number, part in enumerate(stage):
        y = first + number * pitch
        sheet.pipe([(header, y), (left, y)], "feed")
        sheet.pipe([(right, y + 10), (drain, y + 10)], onward)
        draw_housing(sheet, part, HAND, left, y, length)
        sheet.spot(part, Box(left, y - HOUSING_HEIGHT / 2 - 5, length, pitch))
        if part.tag:
            write_tag(
                sheet, part.tag, HAND, left + (length - tag_width(part.tag, HAND)) / 2, y + HOUSING_HEIGHT / 2 + 5
            )
            sheet.grow(y + HOUSING_HEIGHT / 2 + 5 + tag_height(part.tag, HAND))
    return Header(product, tuple((right, first + number * pitch) for number in range(len(stage))))


def draw_housing(sheet: Surface, part: PathPart, hand: Hand, left: float, y: float, length: float) -> None:
    """A membrane housing with its name and size written on it."""
    box = Box(left, y - HOUSING_HEIGHT / 2, length, HOUSING_HEIGHT)
    sheet.symbol("", housing(length, HOUSING_HEIGHT), box, f"translate({left:g} {y:g})")
    label = Caption.of(part, hand, length - 26)
    middle = left + length / 2
    sheet.text(middle, y - 2 if label.sizes else y + 4, label.names[0], "name", hand.name, "middle")
    if label.sizes:
        sheet.text(middle, y + 12.5, label.sizes[0], "size", hand.size, "middle")


def _product(sheet: Surface, cells: list[Cell], headers: list[Header], bottom: float) -> Surface:
    """Lead the product headers down to one line, and along it."""
    lane = bottom + LANE
    for header in headers:
        sheet.pipe([(header.x, header.ports[0][1]), (header.x, lane)], "product", over=True)
        for x, y in header.ports:
            sheet.pipe([(x, y), (header.x + 2.2, y)], "product")
    right = max(header.x for header in headers)
    start = GUTTER + _pre_joint("product")
    rows = _rows(cells, sheet.width, start)
    axis = lane + LANE + max(_up(rows[0]), HAND.word + 8)
    sheet.pipe([(right, lane), (GUTTER, lane), (GUTTER, axis), (start, axis)], "product")
    sheet.arrow(GUTTER, axis - 18, 90, "product")
    sheet.text(GUTTER + (start - GUTTER) / 2, axis - 9, "product", "word product", HAND.word, "middle")
    end, bottom = _draw_row(sheet, rows[0], start, axis, "product")
    if len(rows) > 1:
        _draw_rows(sheet, rows[1:], end, bottom)
    return sheet
