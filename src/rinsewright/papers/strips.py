"""Small drawings of one quantity: the resin's life as a strip with its two ends; how far an input moves a number."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from typing import Any

from rinsewright.papers.drawing.surface import framed, text_width
from rinsewright.papers.units import AS_FILED, Telling

BAR = 26.0
TOP = 46.0
SIZE = 13.0
TITLE = "How long the resin lasts"


def resin_strip(
    resin: Mapping[str, Any] | None, limit_ppm: float, width: float, name: str, telling: Telling = AS_FILED
) -> str | None:
    """Litres from fresh resin to its first slip and to the limit, each with its band; None where they are not known.

    ``resin`` is the answer's ``resin``, null where there is none; ``width`` in the drawing's units (one is one pixel at
    full size).
    """
    if resin is None:
        return None
    slip, limit = resin["litres_to_first_slip"], resin["litres_to_limit"]
    if None in (*slip.values(), *limit.values()):
        return None
    far: float = max(limit["high"], slip["high"]) * 1.06
    scale = (width - 4) / far

    def x(litres: float) -> float:
        return 2 + litres * scale

    start, first, last = x(0.0), x(slip["value"]), x(limit["value"])
    drawn = [
        *_hatch(first, last),
        f'<path class="f" d="M2,{TOP:g} H{width - 2:g} M2,{TOP + BAR:g} H{width - 2:g} M2,{TOP - 4:g} v{BAR + 8:g}"/>',
        _end(slip, x, TOP - 9, "first slip", width, telling, below=False),
        _end(
            limit, x, TOP + BAR + 9, f"{telling.say(limit_ppm, 'ppm', 'ppm')} ppm: change", width, telling, below=True
        ),
        *_inside(resin, start, first, last, telling),
    ]
    desc = f"First slip after {_told(slip, telling)}, the limit after {_told(limit, telling)}."
    return framed(f"strip {name}", f"0 0 {width:g} {TOP + BAR + 48:g}", name, TITLE, desc, "".join(drawn))


def _told(band: Mapping[str, float], telling: Telling) -> str:
    value, low, high = (telling.say(band[key], "2", "L") for key in ("value", "low", "high"))
    return telling.retell(f"{value} litres ({low} to {high})")


def _hatch(left: float, right: float) -> list[str]:
    """Slanted lines between ``left`` and ``right``, so that the plateau is told apart without colour."""
    lines, x = [], left + 6
    while x < right:
        run = min(BAR, right - x)
        lines.append(f'<path class="hatch" d="M{x:.1f},{TOP + BAR:g} L{x + run:.1f},{TOP + BAR - run:.1f}"/>')
        x += 9
    return lines


def _end(band: Mapping[str, float], x: Any, y: float, word: str, width: float, telling: Telling, *, below: bool) -> str:
    """The mark of one end: a stroke across the bar, its band as a bracket, its number and word."""
    at, low, high = x(band["value"]), x(band["low"]), x(band["high"])
    text = f"{telling.say(band['value'], '2', 'L')} {telling.word('L')}"
    half = (text_width(text, SIZE + 2, bold=True) + text_width(f" {word}", SIZE)) / 2
    middle = min(max(at, half + 2), width - half - 2)
    baseline = y + 22 if below else y - 12
    return (
        f'<path class="edge" d="M{at:.1f},{TOP - 4:g} V{TOP + BAR + 4:g}"/>'
        f'<path class="band" d="M{low:.1f},{y:g} H{high:.1f} M{low:.1f},{y - 4:g} v8 M{high:.1f},{y - 4:g} v8"/>'
        f'<text x="{middle:.1f}" y="{baseline:g}" text-anchor="middle"><tspan class="num">{escape(text)}</tspan>'
        f'<tspan class="quiet" dx="5">{escape(word)}</tspan></text>'
    )


def _inside(resin: Mapping[str, Any], start: float, slip: float, limit: float, telling: Telling) -> list[str]:
    """What the meter shows along the way, written inside the bar where there is room."""
    plateau = resin["plateau_meter_ppm"]["value"]
    out = []
    for left, right, word in (
        (start, slip, "reads 000"),
        (slip, limit, f"about {telling.say(plateau, 'ppm', 'ppm')} ppm" if plateau is not None else ""),
    ):
        room = text_width(word, SIZE) + 12
        if word and right - left > room:
            middle, top = (left + right) / 2, TOP + BAR / 2
            out.append(
                f'<rect class="plate" x="{middle - room / 2:.1f}" y="{top - 9:g}" width="{room:.1f}" height="18"/>'
                f'<text x="{middle:.1f}" y="{top + 4.5:g}" text-anchor="middle">{escape(word)}</text>'
            )
    return out


def swing(low: float, central: float, high: float, span: tuple[float, float]) -> str:
    """A bar from the plan's number to what it is at an input's two ends, on a scale that spans ``span``.

    Hollow to the input's lower end, filled to its upper one, a stroke at the plan's own number. It repeats the numbers
    beside it and is not told to those who listen.
    """

    def x(value: float) -> float:
        return 1.0 + 98.0 * (value - span[0]) / ((span[1] - span[0]) or 1.0)

    def bar(look: str, end: float) -> str:
        left, right = sorted((x(end), x(central)))
        return f'<path class="{look}" d="M{left:.2f},3 H{right:.2f} V13 H{left:.2f} Z"/>'

    drawn = bar("to-high", high) + bar("to-low", low)
    middle = f'<path class="edge" d="M{x(central):.2f},0 V16"/>'
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="swing" viewBox="0 0 100 16" preserveAspectRatio="none" '
        f'aria-hidden="true"><path class="axis" d="M0,15.5 H100"/>{drawn}{middle}</svg>'
    )


def spread(band: Mapping[str, float | None], most: float) -> str:
    """A bar from nought to a value on a scale that ends at ``most``, with a stroke at either end of its band."""
    value = band["value"]
    if value is None:
        return ""
    known = [end for end in (band["low"], band["high"]) if end is not None and end != value]
    strokes = "".join(f'<path class="edge" d="M{98.0 * end / most + 1.0:.2f},0 V16"/>' for end in known)
    bar = f'<path class="to-high" d="M1.00,3 H{98.0 * value / most + 1.0:.2f} V13 H1.00 Z"/>' if value else ""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="swing" viewBox="0 0 100 16" preserveAspectRatio="none" '
        f'aria-hidden="true"><path class="axis" d="M0,15.5 H100"/>{bar}{strokes}</svg>'
    )
