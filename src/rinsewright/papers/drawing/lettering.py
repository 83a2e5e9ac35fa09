"""What is written beside the parts: names, tags, the word of each line, and the drawing told in sentences."""

from __future__ import annotations

from dataclasses import dataclass

from rinsewright.papers.content import PathPart, Tag, WaterPath
from rinsewright.papers.drawing.surface import STROKE_WORDS, Stroke, Surface, text_width, wrap
from rinsewright.papers.words import listed

UNIT_GAP = 4.0

GULLY = PathPart("gully", "gully", "air gap", key="gully")


@dataclass(frozen=True)
class Hand:
    """Type sizes of one drawing."""

    name: float
    size: float
    tag: float
    word: float

    @property
    def pitch(self) -> float:
        """Line pitch of a tag."""
        return self.tag * 1.25


@dataclass(frozen=True)
class Caption:
    """A part's name and size, broken into lines."""

    names: tuple[str, ...]
    sizes: tuple[str, ...]
    hand: Hand

    @classmethod
    def of(cls, part: PathPart, hand: Hand, width: float) -> Caption:
        """Break the part's name and size to ``width``."""
        names = wrap(part.name, hand.name, width, bold=True)
        return cls(tuple(names), tuple(wrap(part.size_text, hand.size, width)), hand)

    @property
    def width(self) -> float:
        """Of the longest line."""
        names = [text_width(line, self.hand.name, bold=True) for line in self.names]
        return max(names + [text_width(line, self.hand.size) for line in self.sizes], default=0.0)

    @property
    def height(self) -> float:
        """Of all lines together."""
        return 1.2 * (len(self.names) * self.hand.name + len(self.sizes) * self.hand.size)

    def write(self, sheet: Surface, x: float, top: float, anchor: str) -> None:
        """Write the lines below ``top``."""
        for look, size, lines in (("name", self.hand.name, self.names), ("size", self.hand.size, self.sizes)):
            for line in lines:
                sheet.text(x, top + 0.9 * size, line, look, size, anchor)
                top += 1.2 * size


def tag_columns(tag: Tag, hand: Hand) -> tuple[float, float]:
    """Widths of a tag's numbers and of its units; a verdict's mark and word count as both together."""
    numbers = max((text_width(reading.number, hand.tag, bold=True) for reading in tag.readings), default=0.0)
    units = max((text_width(reading.unit, hand.size) for reading in tag.readings), default=0.0)
    if tag.verdict:
        word = 18 + text_width(tag.verdict, hand.tag, bold=True)
        units = max(units, word - numbers - UNIT_GAP)
    return numbers, units


def tag_width(tag: Tag | None, hand: Hand) -> float:
    """Width of a tag, 0 without one."""
    return sum(tag_columns(tag, hand)) + UNIT_GAP if tag else 0.0


def tag_height(tag: Tag | None, hand: Hand) -> float:
    """Height of a tag's lines, 0 without one."""
    return (len(tag.readings) + (tag.verdict is not None)) * hand.pitch if tag else 0.0


def write_tag(sheet: Surface, tag: Tag, hand: Hand, left: float, top: float) -> None:
    """Write readings one under the other, numbers and units meeting on one line, then the verdict."""
    meet = left + tag_columns(tag, hand)[0]
    baseline = top + 0.9 * hand.tag
    for reading in tag.readings:
        sheet.text(meet, baseline, reading.number, "num", hand.tag, "end")
        sheet.text(meet + UNIT_GAP, baseline, reading.unit, "unit", hand.size)
        baseline += hand.pitch
    if tag.verdict:
        sheet.mark(left + 7, baseline - 0.36 * hand.tag, tag.verdict)
        sheet.text(left + 18, baseline, tag.verdict, f"num {tag.verdict}", hand.tag)


def word_width(stroke: Stroke | None, hand: Hand) -> float:
    """Width of the word that a line carries, 0 without one."""
    return text_width(STROKE_WORDS[stroke], hand.word) if stroke else 0.0


def product_strokes(path: WaterPath) -> list[Stroke]:
    """How the product line is drawn: before its first part, then after each. Behind the first resin it is double."""
    strokes: list[Stroke] = ["product" if path.membranes else "feed"]
    for part in path.product:
        strokes.append("polished" if part.kind == "resin" else strokes[-1])
    return strokes


def describe(path: WaterPath) -> str:
    """The drawing in sentences, with the readings of every tag, for those who do not see it."""
    sentences = [f"Feed: {_chain(path.feed)}."]
    for number, stage in enumerate(path.membranes, 1):
        before = f"Membranes, stage {number}" if len(path.membranes) > 1 else "Membranes"
        sentences.append(f"{before}: {listed([_told(part) for part in stage])}.")
    if path.membranes:
        sentences.append(f"Drain: {_chain((*path.drain, GULLY))}.")
    if path.product:
        sentences.append(f"{'Product' if path.membranes else 'Then'}: {_chain(path.product)}.")
    return " ".join(sentences)


def _chain(parts: tuple[PathPart, ...]) -> str:
    return ", then ".join(_told(part) for part in parts)


def _told(part: PathPart) -> str:
    words = f"{part.name} ({part.size_text})" if part.size_text else part.name
    if part.tag is None:
        return words
    readings = [f"{reading.number} {reading.unit}" for reading in part.tag.readings]
    return f"{words}: {', '.join([*readings, *([part.tag.verdict] if part.tag.verdict else [])])}"
