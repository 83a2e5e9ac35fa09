"""Charts of a year: one quantity each, by day or by hour, a band round its line. They look as those of the plan do.

They are written down here line by line: a page shows up to twenty, and the engine that draws the plan's takes about as
long for them as the year itself takes to be worked out.

All steps are drawn as steps: a value holds for its whole day or hour. Where there is no water the line has a gap.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from rinsewright.dates import MONTH_LENGTHS, STARTS
from rinsewright.papers.drawing.surface import framed, text_width
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
    plot = _Plot.of("year", sheet, (0.0, top), 100.0, " %")
    bars = "".join(
        f'<path d="{_path(plot.box(7.0 * week + 0.8, 7.0 * week + 6.2, chance))}Z" fill="var(--stop)"/>'
        for week, chance in enumerate(chances)
        if chance
    )
    said = f"{spoken(100.0 * chances[worst], '2')} %"
    room = text_width(said, sheet.on_phones, bold=True) / sheet.width * 365 / 2
    at = min(max(7.0 * worst + 3.5, room), 365 - room)
    word = plot.word(said, (plot.x(at), plot.y(chances[worst]) - 0.35 * sheet.on_phones), "middle")
    desc = f"Highest in week {worst + 1}: {said}."
    return plot.finished(_marks("rect", bars) + word, MONTHS, "chance", CHANCE.words, desc)


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
    plot = _Plot.of(axis, SHEETS[axis], domain)
    look = f'stroke-width="{plot.sheet.letters / 9:.2f}"'
    runs = list(_runs(series, 1.0 if axis == "year" else 1.0 / 24.0))
    body = ""
    if any(step.low != step.high for run in runs for step in run):
        area = "".join(
            _path([*plot.steps(run, lambda step: step.high), *reversed(plot.steps(run, lambda step: step.low))]) + "Z"
            for run in runs
        )
        body += _marks("area", f'<path d="{area}" fill="var(--{quantity.ink})" fill-opacity="{TINT}"/>')
    line = "".join(_path(plot.steps(run, lambda step: step.value)) for run in runs)
    body += _marks("line", f'<path d="{line}" stroke="var(--{quantity.ink})" {look} stroke-linejoin="round"/>')
    if limit is not None:
        height = plot.y(limit)
        across = f'<line x2="{plot.sheet.width:g}" y1="{height:.1f}" y2="{height:.1f}"'
        body += _marks("rule", f'{across} stroke="var(--stop)" {look} stroke-dasharray="2,2"/>')
        body += plot.word(f"{limit:g} ppm: change the resin", (3.0, height - 0.3 * plot.sheet.on_phones), "start")
    return Chart(quantity, plot.finished(body, days, name, quantity.words, desc))


@dataclass(frozen=True)
class _Step:
    """A value and its band, held from one time to another (days)."""

    start: float
    end: float
    low: float
    value: float
    high: float


def _runs(series: Series, width: float) -> Iterator[list[_Step]]:
    """The steps without a gap, each as long as its value and band stay."""
    run: list[_Step] = []
    for place, (low, value, high) in enumerate(zip(*series, strict=True)):
        step = _Step(place * width, (place + 1) * width, low, value, high)
        if not all(map(math.isfinite, (low, value, high))):
            if run:
                yield run
            run = []
        elif run and (run[-1].low, run[-1].value, run[-1].high) == (low, value, high):
            run[-1] = replace(run[-1], end=step.end)
        else:
            run.append(step)
    if run:
        yield run


def _path(corners: Sequence[tuple[float, float]]) -> str:
    """A path through corners, to tenths: a step needs only the one coordinate that changes."""
    tenths = [tuple(f"{number:.1f}".removesuffix(".0") for number in corner) for corner in corners]
    path = [f"M{tenths[0][0]},{tenths[0][1]}"]
    for (x, y), (across, down) in pairwise(tenths):
        if x != across and y != down:
            path.append(f"L{across},{down}")
        elif x != across:
            path.append(f"H{across}")
        elif y != down:
            path.append(f"V{down}")
    return "".join(path)


def _marks(kind: str, drawn: str) -> str:
    return f'<g class="mark-{kind}">{drawn}</g>'


def _text(text: str, at: tuple[float, float], anchor: str, size: float, looks: str = 'fill="var(--ink)"') -> str:
    place = f'x="{at[0]:.1f}" y="{at[1]:.1f}" text-anchor="{anchor}" font-size="{size:g}px"'
    return f"<text {place} {looks}>{escape(text)}</text>"


@dataclass(frozen=True)
class _Plot:
    """A chart's two axes. Places are in the sheet's units from the plot's upper left."""

    sheet: Sheet
    ends: tuple[int, ...]  # of the months or weekdays, in days
    domain: tuple[float, float]
    ticks: tuple[float, ...]
    words: tuple[str, ...]  # of the ticks

    @classmethod
    def of(cls, axis: Axis, sheet: Sheet, domain: tuple[float, float], times: float = 1.0, unit: str = "") -> _Plot:
        """The upright axis's words say the values times ``times``, with a unit."""
        ticks, words = _ticks(domain, times, unit)
        ends = STARTS if axis == "year" else range(8)
        return cls(sheet.beside(words), tuple(ends), domain, tuple(ticks), tuple(words))

    @property
    def middle(self) -> float:
        """How far below a height the letters stand whose middle is on it."""
        return round(0.3 * self.sheet.letters)

    def x(self, day: float) -> float:
        """Across."""
        return self.sheet.width * day / self.ends[-1]

    def y(self, value: float) -> float:
        """Down."""
        low, high = self.domain
        return self.sheet.height * (high - value) / (high - low)

    def steps(self, run: Sequence[_Step], which: Callable[[_Step], float]) -> list[tuple[float, float]]:
        """The corners of a run's steps."""
        return [(self.x(day), self.y(which(step))) for step in run for day in (step.start, step.end)]

    def box(self, start: float, end: float, value: float) -> list[tuple[float, float]]:
        """The corners of a bar from nought up."""
        left, right, top, foot = self.x(start), self.x(end), self.y(value), self.y(0.0)
        return [(left, foot), (left, top), (right, top), (right, foot)]

    def word(self, text: str, at: tuple[float, float], anchor: str) -> str:
        """A text with a rim of paper beneath it, so that lines do not strike it through."""
        rim = ' stroke="var(--paper)" stroke-width="4" stroke-linejoin="round"'
        looks = 'font-weight="600" fill="var(--stop)"'
        at = at[0], at[1] + self.middle
        said = (_text(text, at, anchor, self.sheet.letters, looks + more) for more in (rim, ""))
        return _marks("text", "".join(said))

    def finished(self, drawn: str, names: Sequence[str], name: str, title: str, desc: str) -> str:
        """The drawing between its axes, with the months' or weekdays' names, each in the middle of its time."""
        sheet, room = self.sheet, self.sheet.padding
        middles = (self.x((a + b) / 2) for a, b in pairwise(self.ends))
        foot = sheet.height + 1.2 * sheet.on_phones
        said = "".join(
            _text(word, (at, foot), "middle", sheet.letters) for word, at in zip(names, middles, strict=True)
        )
        box = f"0 0 {room['left'] + sheet.width + room['right']:g} {room['top'] + sheet.height + room['bottom']:g}"
        origin = f'<g fill="none" stroke-miterlimit="10" transform="translate({room["left"]:g},{room["top"]:g})">'
        return framed("chart", box, name, title, desc, f"{origin}{self._axes()}{drawn}{_marks('text', said)}</g>")

    def _axes(self) -> str:
        sheet = self.sheet
        across = "".join(
            f"M{round(self.x(end)) + 0.5},{sheet.height + 0.5:g}v{0.4 * sheet.letters:.1f}" for end in self.ends
        )
        up = "".join(f"M0.5,{round(self.y(tick)) + 0.5}h-5" for tick in self.ticks)
        frame = f"M0.5,0.5V{sheet.height + 0.5:g}H{sheet.width + 0.5:g}"
        labels = "".join(
            _text(word, (-7.5, self.y(tick) + 0.5 + self.middle), "end", sheet.letters)
            for tick, word in zip(self.ticks, self.words, strict=True)
        )
        return f'<path class="axes" d="{frame}{across}{up}" stroke="var(--ink)"/>{_marks("text axis-label", labels)}'


def _ticks(domain: tuple[float, float], times: float = 1.0, unit: str = "") -> tuple[list[float], list[str]]:
    """Where marks stand on an axis, and their words: the values times ``times``, with a unit."""
    step = _tick(domain[1] - domain[0])
    first = math.ceil(domain[0] / step - 1e-9)
    ticks = [step * n for n in range(first, math.floor(domain[1] / step + 1e-9) + 1)]
    decimals = max(0, -math.floor(math.log10(times * step) + 1e-9))
    words = [f"{times * tick:,.{decimals}f}{unit}".replace("-", "\N{MINUS SIGN}") for tick in ticks]
    return ticks, words


def _tick(span: float) -> float:
    """One, two or five of a power of ten, so that no more than five marks stand on an axis."""
    power = 10.0 ** math.floor(math.log10(span / 4.5))
    return next(step for step in (power, 2.0 * power, 5.0 * power, 10.0 * power) if span / step <= 4.5)
