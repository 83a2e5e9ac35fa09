"""Charts from cold to warm: Vega-Lite dicts, turned into inline SVG that follows the page's light and dark colours.

Colours go in as placeholders (``INKS``) and come out as the page's CSS variables.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from rinsewright.papers.content import PlanPaper, TemperatureRow
from rinsewright.papers.drawing.surface import framed, text_width
from rinsewright.papers.units import Telling
from rinsewright.papers.words import opening

INKS = {
    "ink": "#010101",
    "quiet": "#020202",
    "product": "#030303",
    "polished": "#040404",
    "stop": "#050505",
    "paper": "#060606",
}
WIDTH, HEIGHT = 226, 150
SIZE, LINE = 12, 15  # of the words in a chart: letters, and from line to line
LOW_END = 0.2  # of the height: a word below a curve that ends lower would meet the axis


@dataclass(frozen=True)
class Line:
    """One curve of a chart: its word, ink and stroke, the field of a row that it plots, and how that is said."""

    word: str
    ink: str
    width: float
    dash: tuple[int, ...]
    key: str
    say: str = "2"
    unit: str = ""  # of the row's number


@dataclass(frozen=True)
class Limit:
    """A level not to be passed, with its name."""

    word: str
    level: float


@dataclass(frozen=True)
class Span:
    """A curve's two ends: the rows (by number) at which it is first and last known."""

    line: Line
    cold: int
    warm: int


@dataclass(frozen=True)
class Chart:
    """A finished chart: its heading, its curves' ends to be told in words, and its SVG."""

    heading: str
    spans: tuple[Span, ...]
    svg: str


FLOWS = (
    Line("product", "product", 3.5, (), "product_l_min", unit="L/min"),
    Line("drain", "ink", 1.8, (6, 4), "drain_l_min", unit="L/min"),
)
READINGS = (
    Line("before resin", "product", 3.5, (), "product_meter_ppm", "ppm", "ppm"),
    Line("delivered", "polished", 2.2, (), "delivered_meter_ppm", "ppm", "ppm"),
)
SCALE = (Line("lime at the membrane’s wall", "ink", 2, (), "calcite_si_wall", "index"),)


def cold_to_warm_charts(paper: PlanPaper) -> list[Chart]:
    """Flow, reading and scale over the water's temperature; those of which nothing is known are left out.

    There are none where the water is equally warm all year.
    """
    if paper.coldest_c >= paper.warmest_c:
        return []
    membranes, telling = bool(paper.path.membranes), paper.telling
    reading = Limit("change the resin", telling.unit("ppm").show(paper.product_limit_ppm))
    wanted: tuple[tuple[str, tuple[Line, ...], Limit | None], ...] = (
        (f"Flow, {telling.word('L/min')}", FLOWS if membranes else FLOWS[:1], None),
        ("Reading, ppm", READINGS if membranes else READINGS[1:], reading),
        ("Scale, index", SCALE, Limit("scale is sure above", paper.calcite_limit)),
    )
    charts: list[Chart] = []
    for heading, lines, limit in wanted:
        spans = tuple(span for line in lines if (span := _span(line, paper.cold_to_warm)))
        if spans:
            spec = _spec([span.line for span in spans], limit, paper)
            desc = " ".join(_told(span, paper.cold_to_warm, telling) for span in spans)
            charts.append(Chart(heading, spans, drawn(spec, f"chart-{len(charts) + 1}", heading, desc)))
    return charts


def _span(line: Line, rows: Sequence[TemperatureRow]) -> Span | None:
    """Where the curve begins and ends; None if it is not known at two temperatures at least."""
    known = [number for number, row in enumerate(rows) if getattr(row, line.key) is not None]
    return Span(line, known[0], known[-1]) if len(known) > 1 else None


def _points(line: Line, rows: Iterable[TemperatureRow], telling: Telling) -> list[tuple[float, float]]:
    warm, unit = telling.unit("°C"), telling.unit(line.unit)
    read = ((row.temperature_c, getattr(row, line.key)) for row in rows)
    return [(warm.show(temperature), unit.show(value)) for temperature, value in read if value is not None]


def _told(span: Span, rows: Sequence[TemperatureRow], telling: Telling) -> str:
    def told(row: TemperatureRow) -> str:
        value = telling.say(getattr(row, span.line.key), span.line.say, span.line.unit)
        return f"{value} at {telling.say(row.temperature_c, 'given', '°C')} {telling.word('°C')}"

    ends = [told(row) for row in (rows[span.cold], rows[span.warm])]
    return f"{opening(span.line.word)}: {', '.join(ends)}."


def _spec(lines: Sequence[Line], limit: Limit | None, paper: PlanPaper) -> dict[str, Any]:
    telling = paper.telling
    warm = telling.unit("°C")
    points = {line.word: _points(line, paper.cold_to_warm, telling) for line in lines}
    temperatures, today = [warm.show(row.temperature_c) for row in paper.cold_to_warm], warm.show(paper.today_c)
    values = [value for some in points.values() for _, value in some] + ([limit.level] if limit else [])
    floor, ceiling = _domain(values)
    x = {
        "field": "t",
        "type": "quantitative",
        "title": f"water, {warm.word}",
        "scale": {"domain": [min(temperatures), max(temperatures)], "nice": False},
    }
    y = {"field": "v", "type": "quantitative", "title": None, "scale": {"zero": True, "domain": [floor, ceiling]}}
    ends = {word: (some[-1][1] - floor) / (ceiling - floor) for word, some in points.items()}
    layers = _today(today, x) if temperatures[0] <= today <= temperatures[-1] else []
    words, taken = [], []
    for line in lines:
        above = ends[line.word] == max(ends.values()) or ends[line.word] < LOW_END
        dy = -10 if above else 18
        taken.append((line.word, HEIGHT * (1.0 - ends[line.word]) + dy))
        layers.append(_curve(line, points[line.word], x, y))
        words += _word(line.word, line.ink, points[line.word][-1], x, y, {"align": "right", "dy": dy})
    if limit:
        layers.insert(0, _limit(limit, y))
        free = _free(limit, HEIGHT * (1.0 - (limit.level - floor) / (ceiling - floor)), taken)
        how = {"align": "left", "dx": 3, "dy": free}
        words += _word(limit.word, "stop", (min(temperatures), limit.level), x, y, how)
    layers += words
    return {"width": WIDTH, "height": HEIGHT, "background": None, "layer": layers, "config": CONFIG}


def _free(limit: Limit, at: float, taken: Sequence[tuple[str, float]]) -> float:
    """How far from its line, at a height in pixels from the top, the limit's word meets no word of a curve."""

    def meets(dy: float, word: str, height: float) -> bool:
        wide = sum(text_width(text, SIZE, bold=True) for text in (limit.word, word)) > WIDTH
        return wide and abs(at + dy - height) < LINE

    places = (-9.0, 15.0, -9.0 - LINE, 15.0 + LINE)
    return next((dy for dy in places if not any(meets(dy, *word) for word in taken)), places[0])


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
    "text": {"fontSize": SIZE},
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


def drawn(spec: dict[str, Any], name: str, title: str, desc: str, revise: Callable[[str], str] | None = None) -> str:
    """Draw a chart; its SVG may be revised before it is given the page's looks."""
    import vl_convert

    svg = vl_convert.vegalite_to_svg(spec)
    return themed(revise(svg) if revise else svg, name, title, desc)


def themed(svg: str, name: str, title: str, desc: str) -> str:
    """Give a chart its title and description, and the page's colours and face instead of its own."""
    box = re.search(r'viewBox="([^"]+)"', svg)
    if box is None:
        raise ValueError("the chart has no viewBox")
    body = svg[svg.index(">", svg.index("<svg")) + 1 :]
    for ink, placeholder in INKS.items():
        body = body.replace(f'"{placeholder}"', f'"var(--{ink})"')
    # The picture is told as a whole, not mark by mark.
    body = re.sub(r' (?:font-family|role|aria-\w+)="[^"]*"', "", body)
    return framed("chart", box.group(1), name, title, desc, body.removesuffix("</svg>"))
