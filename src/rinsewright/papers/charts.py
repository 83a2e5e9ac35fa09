"""Charts from cold to warm: Vega-Lite dicts, turned into inline SVG that follows the page's light and dark colours.

Colours go in as placeholders (``INKS``) and come out as the page's CSS variables.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from rinsewright.papers.content import PlanPaper, TemperatureRow
from rinsewright.papers.drawing.surface import framed
from rinsewright.papers.words import fixed, number, reading

INKS = {
    "ink": "#010101",
    "quiet": "#020202",
    "product": "#030303",
    "polished": "#040404",
    "stop": "#050505",
    "paper": "#060606",
}
WIDTH, HEIGHT = 226, 150
LOW_END = 0.2  # of the height: a word below a curve that ends lower would meet the axis


@dataclass(frozen=True)
class Line:
    """One curve of a chart: its word, its ink and stroke, and how to read it off a row."""

    word: str
    ink: str
    width: float
    dash: tuple[int, ...]
    read: Callable[[TemperatureRow], float | None]
    say: Callable[[float], str] = number


@dataclass(frozen=True)
class Limit:
    """A level not to be passed, with its name."""

    word: str
    level: float


@dataclass(frozen=True)
class Chart:
    """A finished chart: what it shows, in words, and its SVG."""

    heading: str
    sentence: str
    svg: str


FLOWS = (
    Line("product", "product", 3.5, (), lambda row: row.product_l_min),
    Line("drain", "ink", 1.8, (6, 4), lambda row: row.drain_l_min),
)
READINGS = (
    Line("before resin", "product", 3.5, (), lambda row: row.product_meter_ppm, reading),
    Line("delivered", "polished", 2.2, (), lambda row: row.delivered_meter_ppm, reading),
)
SCALE = (
    Line(
        "lime at the membrane’s wall",
        "ink",
        2,
        (),
        lambda row: row.calcite_si_wall,
        lambda index: fixed(index, 1, sign=True),
    ),
)


def cold_to_warm_charts(paper: PlanPaper) -> list[Chart]:
    """Flow, reading and scale over the water's temperature; those of which nothing is known are left out."""
    membranes = bool(paper.path.membranes)
    wanted: tuple[tuple[str, tuple[Line, ...], Limit | None], ...] = (
        ("Flow, L/min", FLOWS if membranes else FLOWS[:1], None),
        ("Reading, ppm", READINGS if membranes else READINGS[1:], Limit("change the resin", paper.product_limit_ppm)),
        ("Scale, index", SCALE, Limit("lime can settle above", 0.0)),
    )
    charts: list[Chart] = []
    for heading, lines, limit in wanted:
        known = [line for line in lines if len(_points(line, paper.cold_to_warm)) > 1]
        if known:
            sentence = " ".join(_sentence(line, paper.cold_to_warm) for line in known)
            name = f"chart-{len(charts) + 1}"
            charts.append(Chart(heading, sentence, _svg(_spec(known, limit, paper), name, heading, sentence)))
    return charts


def _points(line: Line, rows: Iterable[TemperatureRow]) -> list[tuple[float, float]]:
    read = ((row.temperature_c, line.read(row)) for row in rows)
    return [(temperature, value) for temperature, value in read if value is not None]


def _sentence(line: Line, rows: Sequence[TemperatureRow]) -> str:
    (cold, low), *_, (warm, high) = _points(line, rows)
    word = line.word.capitalize()
    return f"{word}: {line.say(low)} at {cold:g}\N{NO-BREAK SPACE}°C, {line.say(high)} at {warm:g}\N{NO-BREAK SPACE}°C."


def _spec(lines: Sequence[Line], limit: Limit | None, paper: PlanPaper) -> dict[str, Any]:
    points = {line.word: _points(line, paper.cold_to_warm) for line in lines}
    temperatures = [row.temperature_c for row in paper.cold_to_warm]
    values = [value for some in points.values() for _, value in some] + ([limit.level] if limit else [])
    floor, ceiling = _domain(values)
    x = {
        "field": "t",
        "type": "quantitative",
        "title": "water, °C",
        "scale": {"domain": [min(temperatures), max(temperatures)], "nice": False},
    }
    y = {"field": "v", "type": "quantitative", "title": None, "scale": {"zero": True, "domain": [floor, ceiling]}}
    ends = {word: (some[-1][1] - floor) / (ceiling - floor) for word, some in points.items()}
    layers = _today(paper.today_c, x)
    words = []
    if limit:
        layers.append(_limit(limit, y))
        words += _word(limit.word, "stop", (min(temperatures), limit.level), x, y, {"align": "left", "dx": 3, "dy": -9})
    for line in lines:
        above = ends[line.word] == max(ends.values()) or ends[line.word] < LOW_END
        layers.append(_curve(line, points[line.word], x, y))
        words += _word(line.word, line.ink, points[line.word][-1], x, y, {"align": "right", "dy": -10 if above else 18})
    layers += words
    return {"width": WIDTH, "height": HEIGHT, "background": None, "layer": layers, "config": CONFIG}


def _domain(values: Sequence[float]) -> list[float]:
    """From nought (or the lowest, if below) to a little over the highest, so that words above a curve have room."""
    low, high = min(0.0, *values), max(0.0, *values)
    room = 0.14 * (high - low or 1.0)
    return [low - room if low < 0 else 0.0, high + room]


def _curve(line: Line, points: list[tuple[float, float]], x: Any, y: Any) -> dict[str, Any]:
    mark: dict[str, Any] = {
        "type": "line",
        "stroke": INKS[line.ink],
        "strokeWidth": line.width,
        "interpolate": "monotone",
    }
    if line.dash:
        mark["strokeDash"] = list(line.dash)
    return {"data": {"values": [{"t": t, "v": v} for t, v in points]}, "mark": mark, "encoding": {"x": x, "y": y}}


def _limit(limit: Limit, y: Any) -> dict[str, Any]:
    rule = {"type": "rule", "stroke": INKS["stop"], "strokeWidth": 1.5, "strokeDash": [2, 2]}
    return {"data": {"values": [{"v": limit.level}]}, "mark": rule, "encoding": {"y": y}}


def _word(text: str, ink: str, at: tuple[float, float], x: Any, y: Any, how: dict[str, Any]) -> list[dict[str, Any]]:
    """A text with a rim of paper beneath it, so that lines do not strike it through."""
    place = {"data": {"values": [{"t": at[0], "v": at[1]}]}, "encoding": {"x": x, "y": y}}
    mark = {"type": "text", "text": text, "fill": INKS[ink], "fontWeight": 600, **how}
    rim = {"stroke": INKS["paper"], "strokeWidth": 4, "strokeJoin": "round"}
    return [place | {"mark": mark | more} for more in (rim, {})]


def _today(today: float, x: Any) -> list[dict[str, Any]]:
    data = {"values": [{"t": today}]}
    word = {"type": "text", "text": "today", "y": 0, "dy": -6, "fill": INKS["quiet"]}
    return [
        {"data": data, "mark": {"type": "rule", "stroke": INKS["quiet"], "strokeWidth": 1}, "encoding": {"x": x}},
        {"data": data, "mark": word, "encoding": {"x": x}},
    ]


CONFIG: dict[str, Any] = {
    "aria": False,
    "font": "sans-serif",
    "view": {"stroke": None},
    "text": {"fontSize": 12},
    "axis": {
        "grid": False,
        "domainColor": INKS["ink"],
        "tickColor": INKS["ink"],
        "labelColor": INKS["ink"],
        "titleColor": INKS["quiet"],
        "labelFontSize": 12,
        "titleFontSize": 12,
        "titleFontWeight": "normal",
        "tickCount": 5,
    },
    "axisY": {"minExtent": 26},
}


def _svg(spec: dict[str, Any], name: str, title: str, desc: str) -> str:
    import vl_convert

    return themed(vl_convert.vegalite_to_svg(spec), name, title, desc)


def themed(svg: str, name: str, title: str, desc: str) -> str:
    """Give a chart its title and description, and the page's colours and face instead of its own."""
    box = re.search(r'viewBox="([^"]+)"', svg)
    if box is None:
        raise ValueError("the chart has no viewBox")
    body = svg[svg.index(">", svg.index("<svg")) + 1 :]
    for ink, placeholder in INKS.items():
        body = body.replace(f'"{placeholder}"', f'"var(--{ink})"')
    body = re.sub(r' font-family="[^"]*"', "", body)
    return framed("chart", box.group(1), name, title, desc, body.removesuffix("</svg>"))
