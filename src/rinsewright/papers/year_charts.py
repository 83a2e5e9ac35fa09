"""Charts of a year: one quantity each, by day or by hour, a band round its line. Drawn as those of the plan are.

All steps are drawn as steps: a value holds for its whole day or hour. Where there is no water the line has a gap.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

from rinsewright.dates import MONTH_LENGTHS, STARTS
from rinsewright.papers.charts import CONFIG, INKS, drawn
from rinsewright.papers.drawing.surface import text_width
from rinsewright.papers.units import AS_FILED, Telling
from rinsewright.papers.words import MONTHS, WEEKDAYS, spoken
from rinsewright.planning.year_result import VALUE, WeekHours, YearResult

if TYPE_CHECKING:
    from rinsewright.quantities import Array

Series = Sequence[Sequence[float]]  # rows: low, value, high
Axis = Literal["year", "week"]

TINT = 0.22  # of a band: what the words before it still stand out from
HEADROOM = 1.18  # of the highest value: room for a limit's word


@dataclass(frozen=True)
class Sheet:
    """How large a chart is drawn: its plot, the letters at full size and on a phone, and the room left of the plot."""

    width: float
    height: float
    letters: float
    on_phones: float
    left: float

    @property
    def padding(self) -> dict[str, float]:
        """Room round the plot for the words of its axes, as large as a phone shows them."""
        return {"left": self.left, "right": 6, "top": 0.7 * self.on_phones, "bottom": 1.5 * self.on_phones}

    def beside(self, words: Sequence[str]) -> Sheet:
        """The same with more room on the left, if the words of the upright axis need it."""
        widest = max(text_width(word, self.on_phones) for word in words)
        return replace(self, left=max(self.left, widest + 10.0))


SHEETS: Mapping[Axis, Sheet] = {
    "year": Sheet(600, 120, 11, 21, 62),
    "week": Sheet(376, 92, 14, 16, 54),
}


@dataclass(frozen=True)
class Quantity:
    """What a chart shows: its key, its words, the result's unit, how its numbers are said, and the ink of its line."""

    key: str
    words: str
    unit: str
    say: str
    ink: str = "ink"
    limited: bool = False  # whether the reading at which the resin is changed is drawn
    ends: tuple[str, ...] = ("most",)  # which of the year's days are told


@dataclass(frozen=True)
class Chart:
    """A finished chart of one quantity."""

    quantity: Quantity
    svg: str


BY_DAY = (
    Quantity("temperature_c", "water", "°C", "count", ends=("least", "most")),
    Quantity("product_l", "product", "L a day", "mg", "product"),
    Quantity("drain_l", "to drain", "L a day", "mg"),
    Quantity("short_l", "short of water", "L a day", "mg", "stop"),
    Quantity("level_end_l", "left in the tank at midnight", "L", "mg", "product", ends=("least",)),
    Quantity("before_ppm", "reading before the resin", "ppm", "ppm", "product"),
    Quantity("worst_ppm", "worst reading at the brush", "ppm", "ppm", "polished", limited=True),
)
BY_HOUR = (
    Quantity("level_l", "in the tank", "L", "mg", "product"),
    Quantity("product_l_min", "product", "L/min", "2", "product"),
    Quantity("drain_l_min", "to drain", "L/min", "2"),
    Quantity("drawn_l_min", "drawn", "L/min", "2"),
    Quantity("before_ppm", "reading before the resin", "ppm", "ppm", "product"),
    Quantity("after_ppm", "reading after the resin", "ppm", "ppm", "polished", limited=True),
)
CHANCE = Quantity("dry_chance_by_week", "chance of a day short of water, by week", "", "2", "stop")
FLOWS = ("product_l_min", "drain_l_min")  # on one scale


def day_charts(result: YearResult, telling: Telling = AS_FILED) -> list[Chart]:
    """The year by day, drawn in the units of ``telling``; what there is none of is left out."""
    charts = []
    for quantity in _fitting(BY_DAY, [result.days]):
        series = _series(result.days, quantity, telling)
        limit = _limit(result, telling) if quantity.limited else None
        domain = _domain([series], limit, from_nought=quantity.key != "temperature_c")
        desc = _extremes(quantity, series, MONTH_OF, telling)
        charts.append(_chart("year", quantity, series, domain, limit, f"year-{quantity.key}", desc=desc))
    return charts


def _series(table: Mapping[str, Array], quantity: Quantity, telling: Telling) -> Series:
    unit = telling.unit(quantity.unit)
    series: Series = (table[quantity.key] * unit.scale + unit.offset).tolist()
    return series


def _limit(result: YearResult, telling: Telling) -> float:
    """The reading at which the resin is changed; on another meter as that shows it."""
    unit = telling.unit("ppm")
    return result.limit_ppm if unit.scale == 1.0 else round(unit.show(result.limit_ppm), 1)


def week_charts(result: YearResult, telling: Telling = AS_FILED) -> list[tuple[Quantity, list[str]]]:
    """For each quantity the two weeks by hour, drawn on one scale; what there is none of is left out."""
    rows = []
    fitting = _fitting(BY_HOUR, [week.hours for week in result.weeks])
    for quantity in fitting:
        alike = [other for other in fitting if other.key in FLOWS] if quantity.key in FLOWS else [quantity]
        every = [_series(week.hours, other, telling) for week in result.weeks for other in alike]
        limit = _limit(result, telling) if quantity.limited else None
        domain = _domain(every, limit)
        rows.append((quantity, [_week_chart(week, quantity, domain, limit, telling) for week in result.weeks]))
    return rows


def _week_chart(
    week: WeekHours, quantity: Quantity, domain: tuple[float, float], limit: float | None, telling: Telling
) -> str:
    series = _series(week.hours, quantity, telling)
    days = _days_from(week.first_day)
    desc = _extremes(quantity, series, [day for day in days for _ in range(24)], telling)
    name = f"{week.season}-{quantity.key}"
    return _chart("week", quantity, series, domain, limit, name, days=days, desc=f"{week.season} week: {desc}").svg


def chance_chart(chances: Sequence[float]) -> str:
    """A bar for each of 52 weeks; the highest carries its number."""
    sheet = SHEETS["year"]
    worst = max(range(len(chances)), key=lambda week: chances[week])
    top = HEADROOM * max(*chances, 0.01) * 1.1
    x, (y, words) = _x("year", sheet), _y((0.0, top), 100.0, " %")
    bars = [{"t": 7.0 * week + 0.8, "u": 7.0 * week + 6.2, "v": chance} for week, chance in enumerate(chances)]
    bar = {"type": "rect", "fill": INKS["stop"]}
    encoding = {"x": x, "x2": {"field": "u"}, "y": y, "y2": {"datum": 0}}
    layers = [{"data": {"values": bars}, "mark": bar, "encoding": encoding}]
    said = f"{spoken(100.0 * chances[worst], '2')} %"
    room = text_width(said, sheet.on_phones, bold=True) / sheet.width * 365 / 2
    at = min(max(7.0 * worst + 3.5, room), 365 - room)
    layers += _word(said, "stop", (at, chances[worst]), {"x": x, "y": y}, {"dy": -0.35 * sheet.on_phones})
    desc = f"Highest in week {worst + 1}: {said}."
    return _finished(sheet.beside(words), [*layers, *_names("year", sheet, MONTHS)], "chance", CHANCE.words, desc)


def _extremes(quantity: Quantity, series: Series, when: Sequence[str], telling: Telling) -> str:
    """The lowest and highest value in words, for those who do not see the chart."""
    known = [(value, place) for place, value in enumerate(series[VALUE]) if math.isfinite(value)]
    if not known:
        return f"{quantity.words}: none."
    (low, first), (high, last) = min(known), max(known)
    unit = telling.word(quantity.unit)
    ends = [f"{spoken(value, quantity.say)} {unit} in {when[place]}" for value, place in ((low, first), (high, last))]
    return f"{quantity.words}: from {ends[0]} to {ends[1]}."


MONTH_OF = [month for month, days in zip(MONTHS, MONTH_LENGTHS, strict=True) for _ in range(days)]


def _fitting(quantities: Sequence[Quantity], tables: Sequence[Mapping[str, Array]]) -> list[Quantity]:
    """Those of which there is anything: a number at all, and of drain and shortage one that is not nought."""

    def said(quantity: Quantity) -> bool:
        lines = [table[quantity.key].tolist() for table in tables]
        if quantity.key.startswith(("drain", "short")):
            return any(value for line in lines for row in line for value in row if math.isfinite(value))
        return any(math.isfinite(value) for line in lines for value in line[VALUE])

    return [quantity for quantity in quantities if said(quantity)]


def _days_from(first_day: int) -> list[str]:
    return [WEEKDAYS[(first_day - 1 + day) % 7] for day in range(7)]


def _domain(every: Sequence[Series], limit: float | None, *, from_nought: bool = True) -> tuple[float, float]:
    values = [value for series in every for row in series for value in row if math.isfinite(value)]
    values += [limit] if limit is not None else []
    low, high = min(0.0 if from_nought else math.inf, *values, min(values)), max(values)
    if not from_nought:
        low = 5.0 * math.floor((low - 1.0) / 5.0)
    return low, low + HEADROOM * ((high - low) or 1.0)


def _chart(
    axis: Axis,
    quantity: Quantity,
    series: Series,
    domain: tuple[float, float],
    limit: float | None,
    name: str,
    *,
    desc: str,
    days: Sequence[str] = MONTHS,
) -> Chart:
    """One quantity over the year or over a week."""
    sheet = SHEETS[axis]
    x = _x(axis, sheet)
    y, words = _y(domain)
    encoding = {"x": x, "y": y}
    steps = list(_steps(series, 1.0 if axis == "year" else 1.0 / 24.0))
    layers: list[dict[str, Any]] = []
    if any(step["low"] != step["high"] for step in steps):
        area = {"type": "area", "fill": INKS[quantity.ink], "fillOpacity": TINT}
        ends = encoding | {"y": {**y, "field": "low"}, "y2": {"field": "high"}}
        layers.append({"data": {"values": steps}, "mark": area, "encoding": ends})
    line = {"type": "line", "stroke": INKS[quantity.ink], "strokeWidth": sheet.letters / 9, "strokeJoin": "round"}
    layers.append({"data": {"values": steps}, "mark": line, "encoding": encoding})
    if limit is not None:
        rule = {"type": "rule", "stroke": INKS["stop"], "strokeWidth": sheet.letters / 9, "strokeDash": [2, 2]}
        layers.append({"data": {"values": [{"v": limit}]}, "mark": rule, "encoding": {"y": y}})
        how = {"align": "left", "dx": 3, "dy": -0.3 * sheet.on_phones}
        layers += _word(f"{limit:g} ppm: change the resin", "stop", (0.0, limit), {"x": x, "y": y}, how)
    svg = _finished(sheet.beside(words), [*layers, *_names(axis, sheet, days)], name, quantity.words, desc)
    return Chart(quantity, svg)


def _x(axis: Axis, sheet: Sheet) -> dict[str, Any]:
    ends = list(STARTS) if axis == "year" else list(range(8))
    ticks = {"values": ends, "tickCount": len(ends), "labels": False, "tickSize": 0.4 * sheet.letters}
    scale = {"domain": [0, ends[-1]], "nice": False}
    return {"field": "t", "type": "quantitative", "title": None, "scale": scale, "axis": ticks}


def _y(domain: tuple[float, float], times: float = 1.0, unit: str = "") -> tuple[dict[str, Any], list[str]]:
    """The upright axis and its words: the values times ``times``, with a unit."""
    step = _tick(domain[1] - domain[0])
    first = math.ceil(domain[0] / step - 1e-9)
    ticks = [step * n for n in range(first, math.floor(domain[1] / step + 1e-9) + 1)]
    decimals = max(0, -math.floor(math.log10(times * step) + 1e-9))
    words = [f"{times * tick:,.{decimals}f}{unit}" for tick in ticks]
    said = f"format({times:g} * datum.value, ',.{decimals}f') + '{unit}'"
    axis = {"values": ticks, "tickCount": len(ticks), "labelExpr": said}
    scale = {"domain": list(domain), "nice": False}
    return {"field": "v", "type": "quantitative", "title": None, "scale": scale, "axis": axis}, words


def _tick(span: float) -> float:
    """One, two or five of a power of ten, so that no more than five marks stand on an axis."""
    power = 10.0 ** math.floor(math.log10(span / 4.5))
    return next(step for step in (power, 2.0 * power, 5.0 * power, 10.0 * power) if span / step <= 4.5)


def _names(axis: Axis, sheet: Sheet, names: Sequence[str]) -> list[dict[str, Any]]:
    """The months or weekdays, each in the middle of its time."""
    ends = list(STARTS) if axis == "year" else list(range(8))
    middles = [(a + b) / 2 for a, b in pairwise(ends)]
    values = [{"t": middle, "name": name} for middle, name in zip(middles, names, strict=True)]
    mark = {"type": "text", "y": sheet.height + 1.2 * sheet.on_phones, "fill": INKS["ink"], "baseline": "alphabetic"}
    encoding = {"x": _x(axis, sheet), "text": {"field": "name", "type": "nominal"}}
    return [{"data": {"values": values}, "mark": mark, "encoding": encoding}]


def _steps(series: Series, width: float) -> Iterator[dict[str, Any]]:
    """Both ends of every step; those within a level run are left out, nulls stand in a gap."""
    columns = [tuple(column) for column in zip(*series, strict=True)]
    for place, (low, value, high) in enumerate(columns):
        if not all(map(math.isfinite, (low, value, high))):
            yield {"t": place * width, "low": None, "v": None, "high": None}
            continue
        step = {"low": low, "v": value, "high": high}
        if place == 0 or columns[place - 1] != (low, value, high):
            yield {"t": place * width, **step}
        if place + 1 == len(columns) or columns[place + 1] != (low, value, high):
            yield {"t": (place + 1) * width, **step}


def _word(text: str, ink: str, at: tuple[float, float], axes: Any, how: dict[str, Any]) -> list[dict[str, Any]]:
    """A text with a rim of paper beneath it, so that lines do not strike it through."""
    place = {"data": {"values": [{"t": at[0], "v": at[1]}]}, "encoding": axes}
    mark = {"type": "text", "text": text, "fill": INKS[ink], "fontWeight": 600, **how}
    rim = {"stroke": INKS["paper"], "strokeWidth": 4, "strokeJoin": "round"}
    return [place | {"mark": mark | more} for more in (rim, {})]


def _finished(sheet: Sheet, layers: list[dict[str, Any]], name: str, title: str, desc: str) -> str:
    axis = CONFIG["axis"] | {"labelFontSize": sheet.letters, "titleFontSize": sheet.letters}
    config = CONFIG | {"text": {"fontSize": sheet.letters}, "axis": axis, "axisY": {"labelPadding": 3}}
    spec = {
        "width": sheet.width,
        "height": sheet.height,
        "padding": sheet.padding,
        "autosize": "none",
        "background": None,
        "layer": layers,
        "config": config,
    }
    return drawn(spec, name, title, desc, shorten)


NUMBER = re.compile(r"-?\d+\.\d+")
CORNERS = re.compile(r"([ML])(-?[\d.]+),(-?[\d.]+)")


def shorten(svg: str) -> str:
    """Tenths are enough for a drawing, and a step needs only the one coordinate that changes."""
    return re.sub(r' d="([^"]*)"', lambda path: f' d="{_shorter(path.group(1))}"', svg)


def _shorter(path: str) -> str:
    x = y = ""

    def corner(found: re.Match[str]) -> str:
        nonlocal x, y
        before, (x, y) = (x, y), tuple(f"{float(text):.1f}".removesuffix(".0") for text in found.group(2, 3))
        if found.group(1) == "M":
            return f"M{x},{y}"
        across, down = x != before[0], y != before[1]
        return f"L{x},{y}" if across and down else f"H{x}" if across else f"V{y}" if down else ""

    return CORNERS.sub(corner, path)
