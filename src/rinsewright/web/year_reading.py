"""A simulated year as its page tells it: sentences, charts and tables in the user's units."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from markupsafe import Markup

from rinsewright.dates import DAYS, month_and_day
from rinsewright.papers import year_charts
from rinsewright.papers.units import LITRE_IN_GALLONS, Quantity, Telling, Unit, Units
from rinsewright.papers.words import MONTHS, WEEKDAYS, listed, money, opening, rounded_down, spoken
from rinsewright.papers.year import COLUMNS, Column, by_month
from rinsewright.planning.wording import SAME_MINUTES, date_of, earliest_start
from rinsewright.planning.year_result import HIGH, LOW, VALUE, WeekHours, YearResult
from rinsewright.quantities import Array
from rinsewright.web.words import words

Kind = Quantity | Literal["count", "energy", "money", "per_volume"]
Verdict = Literal["fine", "look", "stop"]
Extreme = Callable[..., int]  # min or max

KINDS: Mapping[str, Quantity] = {
    "temperature_c": "temperature",
    "product_l": "volume",
    "drain_l": "volume",
    "delivered_l": "volume",
    "short_l": "volume",
    "level_end_l": "volume",
    "before_ppm": "reading",
    "after_ppm": "reading",
    "worst_ppm": "reading",
    "level_l": "volume",
    "product_l_min": "flow",
    "drain_l_min": "flow",
    "drawn_l_min": "flow",
}  # of the keys by day and by hour; what has none is counted
A_DAY = ("product_l", "drain_l", "short_l")  # litres of each day, where others are a state
ORDER = ("short_l", "level_end_l", "product_l", "worst_ppm", "before_ppm", "drain_l", "temperature_c")  # of the charts
ROWS: tuple[tuple[str, Kind, float], ...] = (
    ("product_m3", "volume", 1e3),
    ("drain_m3", "volume", 1e3),
    ("starts", "count", 1.0),
    ("short_days", "count", 1.0),
    ("short_litres", "volume", 1.0),
    ("overflow_litres", "volume", 1.0),
    ("frost_days", "count", 1.0),
    ("worst_meter_ppm", "reading", 1.0),
    ("days_over_limit", "count", 1.0),
    ("resin_changes", "count", 1.0),
    ("cartridge_changes", "count", 1.0),
    ("membrane_changes", "count", 1.0),
    ("energy_kwh", "energy", 1.0),
    ("cost", "money", 1.0),
    ("cost_per_m3", "per_volume", 1.0),
)
IF_ANY = ("overflow_litres", "frost_days", "membrane_changes")


@dataclass(frozen=True)
class Panel:
    """A chart: what it shows, where in the drawing its plot lies, and the column of the table that it is read from."""

    key: str
    head: str
    unit: str
    svg: Markup
    told: str
    plot: str  # left, top, width and height of the plot in the drawing's own measure
    table: str  # id of the table with a row for every step
    column: int


@dataclass(frozen=True)
class Head:
    """The head of a table's column."""

    words: str
    unit: str


@dataclass(frozen=True)
class Table:
    """Numbers in words: a head and rows, each with its own head."""

    name: str
    columns: tuple[Head, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True)
class Answer:
    """Whether the water lasts: a verdict, the sentence on the worst week, what to do, and the one number."""

    verdict: Verdict
    sentence: str
    more: str  # of how short it is; empty where there is nothing to add
    do: str
    number: str
    unit: str
    caption: str


@dataclass(frozen=True)
class Change:
    """Something that is changed in the year: how often, why, and what it costs each time."""

    what: str
    times: str
    why: str
    price: str


@dataclass(frozen=True)
class Start:
    """When the tap must open at the latest in a month."""

    month: str
    time: str | None
    hardest: bool


@dataclass(frozen=True)
class YearReading:
    """Everything the page says of a year."""

    members: int
    seed: int | None
    answer: Answer
    fill_by: str  # empty where nothing is filled
    sentences: tuple[str, ...]
    starts: tuple[Start, ...]
    chance: Panel | None
    days: tuple[Panel, ...]
    weeks: tuple[tuple[Panel, ...], ...]
    week_heads: tuple[str, str]
    calendar: tuple[tuple[str, str], ...]  # a month, and what is changed on which of its days
    changes: tuple[Change, ...]
    why: tuple[str, ...]
    notes: tuple[str, ...]
    whole: tuple[tuple[str, str], ...]
    by_month: Table
    tables: tuple[Table, ...]  # by day and by hour, with the chances by week where there are some

    @property
    def drawn(self) -> bool:
        """Whether chance is in it."""
        return self.members > 1


def read_year(result: YearResult, units: Units, makes: tuple[float, float] | None = None) -> YearReading:
    """A year in the user's units; ``makes``: what the plant gives into an open tank in the two weeks' water [L/min]."""
    return _Reader(result, units, makes).read()


class _Reader:
    """One year and the units in which it is told."""

    def __init__(self, result: YearResult, units: Units, makes: tuple[float, float] | None) -> None:
        self.units, self.result, self.data, self.makes = units, result, result.answer(), makes
        self.telling = Telling.of(units, result.meter_factor)
        self.shown = self._in_units()
        self.t = words()

    def read(self) -> YearReading:
        by_day, by_hour = self._by_day(), [self._by_hour(week) for week in self.shown.weeks]
        chances = self._chances()
        return YearReading(
            members=self.result.members,
            seed=self.result.seed,
            answer=self._answer(),
            fill_by=" ".join(self._fill_by()),
            sentences=(self._brush(), self._made(), self._cost()),
            starts=self._starts(),
            chance=self._chance() if chances else None,
            days=self._day_panels(),
            weeks=self._week_panels(),
            week_heads=(self._week_head(0), self._week_head(1)),
            calendar=self._calendar(),
            changes=self._changes(),
            why=tuple(self._why()),
            notes=tuple(dict.fromkeys([*self.data["notes"], *self.result.notes])),
            whole=self._whole(),
            by_month=self._by_month(),
            tables=(*chances, by_day, *by_hour),
        )

    # --- units ---

    def _unit(self, key: str) -> Unit:
        kind = KINDS.get(key)
        return self.units.unit(kind, self.result.meter_factor) if kind else Unit("")

    def _unit_word(self, key: str) -> str:
        word = self._unit(key).word
        return self.t("year.a_day", unit=word) if key in A_DAY else word

    def _in_units(self) -> YearResult:
        """The same year with every number by day and hour, and the limit, in the user's units."""

        def converted(table: Mapping[str, Array]) -> dict[str, Array]:
            units = {key: self._unit(key) for key in table}
            return {key: values * units[key].scale + units[key].offset for key, values in table.items()}

        weeks = [replace(week, hours=converted(week.hours)) for week in self.result.weeks]
        limit = round(self._unit("worst_ppm").show(self.result.limit_ppm), 1)
        return replace(self.result, days=converted(self.result.days), weeks=(weeks[0], weeks[1]), limit_ppm=limit)

    def _number(self, kind: Kind, value: float) -> str:
        """A value of the answer in words, without its unit."""
        if kind == "count":
            return spoken(value, "count" if value < 1e3 else "2")
        if kind == "energy":
            return spoken(value, "2")
        if kind == "money":
            return spoken(value, "price")
        if kind == "per_volume":
            return spoken(value if self.units.volume == "l" else value / LITRE_IN_GALLONS, "price")
        return self.units.number(kind, value, self.result.meter_factor)

    def _with_unit(self, kind: Kind, number: str) -> str:
        if kind == "count":
            return number
        if kind == "energy":
            return f"{number}\N{NO-BREAK SPACE}kWh"
        if kind == "money" or kind == "per_volume":  # told for a m³, or for 1,000 US gal
            return money(number, self.result.currency)
        return f"{number}\N{NO-BREAK SPACE}{self.units.unit(kind, self.result.meter_factor).word}"

    def _say(self, kind: Kind, key: str, times: float = 1.0) -> str:
        """A banded value of the answer: "about 5,200 L (3,900 to 6,800)", without a band where none shows."""
        value = self._numbers(kind, key, times)
        if value is None:
            return self.t("year.not_known")
        return self._banded(self._with_unit(kind, value[0]), value)

    def _times(self, name: str, key: str) -> str:
        """How many days or times, in words that fit one of them too."""
        value = self._numbers("count", key)
        if value is None:
            return self.t("year.not_known")
        told = self.t(f"year.one.{name}") if value[0] == "1" else self.t(f"year.many.{name}", number=value[0])
        return self._banded(told, value)

    def _numbers(self, kind: Kind, key: str, times: float = 1.0) -> tuple[str, str, str] | None:
        """Value, low and high of the answer in words; None where it is not known."""
        band = self.data[key]
        if band["value"] is None:
            return None
        value, low, high = (band["value"] if band[end] is None else band[end] for end in ("value", "low", "high"))
        return self._number(kind, times * value), self._number(kind, times * low), self._number(kind, times * high)

    def _banded(self, told: str, numbers: tuple[str, str, str]) -> str:
        """A value with its ends, where they differ from it."""
        value, low, high = numbers
        return told if low == value == high else self.t("year.band", value=told, low=low, high=high)

    # --- the answer ---

    def _answer(self) -> Answer:
        chances, days = self.data["dry_chance_by_week"], self.data["short_days"]
        worst = max(range(len(chances)), key=lambda week: chances[week])
        verdict: Verdict = "stop" if days["value"] else "look" if chances[worst] else "fine"
        drawn = self.result.members > 1
        number, unit = self._number("count", days["value"]), self.t("year.unit_days")
        caption = self.t("year.caption_days")
        if number == "1":
            unit = self.t("year.unit_day")
        if drawn and chances[worst]:
            number, unit = spoken(100.0 * chances[worst], "2"), "%"
            caption = self.t("year.caption_chance", day=date_of(7 * worst + 1))
        tank = math.isfinite(self.result.days["level_end_l"][VALUE][0])
        do = "" if verdict == "fine" else self.t(f"year.do.{verdict}" if tank else f"year.do_direct.{verdict}")
        return Answer(verdict, *self._lasts(worst, chances[worst]), do, number, unit, caption)

    def _lasts(self, worst: int, chance: float) -> tuple[str, str]:
        """The sentence on the worst week, and another on the year's shortage or how near it came."""
        drawn, years = self.result.members > 1, f"{self.result.members:,}"
        if not chance:
            return (self.t("year.lasts_drawn", years=years), "") if drawn else (self.t("year.lasts"), self._closest())
        day = date_of(7 * worst + 1)
        days, volume = self._times("days", "short_days"), self._say("volume", "short_litres")
        if not drawn:
            return self.t("year.short", days=days, volume=volume, day=day), ""
        share = f"{spoken(100.0 * chance, '2')}\N{NO-BREAK SPACE}%"
        name = "year.short_always" if chance == 1.0 else "year.short_some"
        told = self.t(name, day=day, share=share, years=years)
        if self.data["short_days"]["value"]:
            return told, self.t("year.short_usual", days=days, volume=volume)
        return told, self.t("year.short_rare")

    def _closest(self) -> str:
        """How near the tank comes to running dry in the coldest week, if there is a tank."""
        least = [value for value in self.result.weeks[0].hours["level_l"][VALUE].tolist() if math.isfinite(value)]
        if not least:
            return ""
        day, volume = date_of(self.result.weeks[0].first_day), self._at_least(min(least))
        return self.t("year.closest", day=day, volume=volume)

    def _at_least(self, litres: float) -> str:
        """A volume with its unit, never more than it is."""
        unit = self.units.unit("volume")
        return f"{rounded_down(unit.show(litres))}\N{NO-BREAK SPACE}{unit.word}"

    def _fill_by(self) -> tuple[str, ...]:
        late, starts = self.result.months_too_late(), self.data["latest_fill_start"]
        found = earliest_start(starts)
        if late and self.result.always_open:
            return (self.t("year.leave_open", months=", ".join(MONTHS[month] for month in late)),)
        if late:
            return (self.t("year.fill_late", months=", ".join(MONTHS[month] for month in late)),)
        if found is None:
            return ()
        month, ahead = found
        if self.result.always_open:
            return (self.t("year.fill_if_shut", time=starts[month]),)
        if ahead < SAME_MINUTES:
            return (self.t("year.fill_always", time=starts[month]),)
        return (self.t("year.fill_by", month=MONTHS[month], time=starts[month]),)

    def _starts(self) -> tuple[Start, ...]:
        starts = self.data["latest_fill_start"]
        found = None if self.result.months_too_late() else earliest_start(starts)
        hardest = found[0] if found and found[1] >= SAME_MINUTES else None
        if not any(starts):
            return ()
        return tuple(Start(MONTHS[month], start, month == hardest) for month, start in enumerate(starts))

    def _brush(self) -> str:
        over, limit = self.data["days_over_limit"], f"{self.shown.limit_ppm:g}\N{NO-BREAK SPACE}ppm"
        if self.data["worst_meter_ppm"]["value"] is None:
            return self.t("year.brush_unknown")
        worst = self._say("reading", "worst_meter_ppm")
        if over["value"] or over["high"]:
            return self.t("year.brush_over", limit=limit, days=self._times("days", "days_over_limit"), worst=worst)
        return self.t("year.brush_fine", worst=worst, limit=limit)

    def _made(self) -> str:
        product, starts = self._say("volume", "product_m3", 1e3), self._times("times", "starts")
        if not self.data["drain_m3"]["value"]:
            return self.t("year.made", product=product, starts=starts)
        return self.t("year.made_drain", product=product, drain=self._say("volume", "drain_m3", 1e3), starts=starts)

    def _cost(self) -> str:
        if self.data["cost"]["value"] is None:
            return self.t("year.cost_unknown")
        return self.t("year.costs", cost=self._say("money", "cost"), each=self._each())

    def _each(self) -> str:
        name = "year.per_m3" if self.units.volume == "l" else "year.per_gallons"
        return self.t(name, cost=self._say("per_volume", "cost_per_m3"))

    def _why(self) -> list[str]:
        told, wanted = [], (self.result.days["delivered_l"] + self.result.days["short_l"])[VALUE].tolist()
        if self.makes is not None:
            cold, warm = (self.units.say("temperature", week.temperature_c) for week in self.result.weeks)
            low, high = (self.units.say("flow", flow) for flow in self.makes)
            told.append(self.t("year.why_made", cold=cold, low=low, warm=warm, high=high))
        if max(wanted) > 0.0:
            told.append(self.t("year.why_drawn", volume=self.units.say("volume", max(wanted))))
            if self.makes is not None:
                hours = spoken(max(wanted) / self.makes[0] / 60.0, "2")
                told[-1] += " " + self.t("year.why_hours", hours=hours)
        levels = [level if math.isfinite(level) else math.inf for level in self.result.days["level_end_l"][VALUE]]
        if min(levels) < math.inf:
            least = min(range(DAYS), key=lambda day: levels[day])
            volume = self._at_least(levels[least])
            told.append(self.t("year.why_tank", day=date_of(least + 1), volume=volume))
        return told

    def _calendar(self) -> tuple[tuple[str, str], ...]:
        """The months in which something is changed: "resin on 9 and 23, carbon cartridge on 2"."""
        found: dict[int, dict[str, list[str]]] = {}
        for event in self.result.calendar:
            month, day = month_and_day(event.day)
            found.setdefault(month, {}).setdefault(event.what, []).append(str(day))
        return tuple(
            (
                MONTHS[month - 1],
                ", ".join(self.t("year.change_on", what=what, days=listed(days)) for what, days in changes.items()),
            )
            for month, changes in found.items()
        )

    def _changes(self) -> tuple[Change, ...]:
        def price(amount: float | None) -> str:
            return self.t("year.not_known") if amount is None else self._with_unit("money", spoken(amount, "money"))

        kinds = Counter((event.what, event.why, event.price) for event in self.result.calendar)
        return tuple(
            Change(opening(what), str(times), why, price(amount)) for (what, why, amount), times in kinds.items()
        )

    # --- charts ---

    def _day_panels(self) -> tuple[Panel, ...]:
        keys = [column.key for column in self._columns()]
        panels = []
        for chart in year_charts.day_charts(self.result, self.telling):
            key, series = chart.quantity.key, self.shown.days[chart.quantity.key].tolist()
            name, told = self.t(f"year.name.{key}"), self._told(chart.quantity, series)
            panels.append(self._panel("year", key, name, chart.svg, told, "by-day", keys.index(key)))
        return tuple(sorted(panels, key=lambda panel: ORDER.index(panel.key)))

    def _week_panels(self) -> tuple[tuple[Panel, ...], ...]:
        keys = self._hour_keys()
        rows = []
        for quantity, pair in year_charts.week_charts(self.result, self.telling):
            panels = []
            for week, svg in zip(self.shown.weeks, pair, strict=True):
                head = self.t(f"year.season.{week.season}", what=self.t(f"year.name.{quantity.key}"))
                table = f"hours-{week.season}"
                panels.append(self._panel("week", quantity.key, head, svg, "", table, keys.index(quantity.key)))
            rows.append(tuple(panels))
        return tuple(rows)

    def _panel(
        self, axis: year_charts.Axis, key: str, head: str, svg: str, told: str, table: str, column: int
    ) -> Panel:
        unit = self._unit_word(key)
        head = opening(f"{head}, {unit}" if unit else head)
        return Panel(key, head, unit, Markup(svg), told, plot_of(axis, svg), table, column)  # the drawing is ours

    def _chance(self) -> Panel:
        svg = year_charts.chance_chart(self.data["dry_chance_by_week"])
        head = opening(self.t("year.name.chance"))
        told = self.t("year.chance_told", years=f"{self.result.members:,}")
        return Panel("chance", head, "%", Markup(svg), told, plot_of("year", svg), "by-week", 0)

    def _told(self, quantity: year_charts.Quantity, series: year_charts.Series) -> str:
        """The days on which the line is lowest or highest; of a shortage that most years do not have, its upper end."""
        if quantity.key == "short_l" and not any(series[VALUE]):
            return self.t("year.end.rare", **self._extreme(quantity, series[HIGH], max))
        ends = {"least": min, "most": max}
        told = [
            self.t(f"year.end.{word}", **self._extreme(quantity, series[VALUE], ends[word])) for word in quantity.ends
        ]
        return opening(", ".join(told)) + "."

    def _extreme(self, quantity: year_charts.Quantity, values: Sequence[float], end: Extreme) -> dict[str, str]:
        known = [day for day, value in enumerate(values) if math.isfinite(value)]
        day = end(known, key=lambda day: values[day])
        number = f"{spoken(values[day], quantity.say)}\N{NO-BREAK SPACE}{self._unit_word(quantity.key)}"
        return {"number": number, "day": date_of(day + 1)}

    def _week_head(self, place: int) -> str:
        week = self.result.weeks[place]
        temperature = self.units.say("temperature", week.temperature_c)
        return self.t(f"year.week.{week.season}", day=date_of(week.first_day), temperature=temperature)

    # --- tables ---

    def _columns(self) -> list[Column]:
        """By day: those of which there is anything."""

        def there(key: str) -> bool:
            known = [value for row in self.result.days[key].tolist() for value in row if math.isfinite(value)]
            return any(known) if key in ("drain_l", "short_l") else bool(known)

        return [column for column in COLUMNS if there(column.key)]

    def _hour_keys(self) -> list[str]:
        return [quantity.key for quantity, _ in self._week_rows()]

    def _week_rows(self) -> list[tuple[year_charts.Quantity, str]]:
        """By hour: those of which there is anything, with how they are said."""

        def there(key: str) -> bool:
            lines = [week.hours[key].tolist() for week in self.result.weeks]
            if key.startswith("drain"):
                return any(value for line in lines for row in line for value in row if math.isfinite(value))
            return any(math.isfinite(value) for line in lines for value in line[VALUE])

        return [(quantity, quantity.say) for quantity in year_charts.BY_HOUR if there(quantity.key)]

    def _heads(self, keys: Sequence[str]) -> tuple[Head, ...]:
        return tuple(Head(opening(self.t(f"year.name.{key}")), self._unit_word(key)) for key in keys)

    def _by_day(self) -> Table:
        columns = self._columns()
        series = [(self.shown.days[column.key].tolist(), column.say) for column in columns]
        rows = tuple((f"{WEEKDAYS[day % 7]} {_short_date(day + 1)}", self._cells(series, day)) for day in range(DAYS))
        return Table("by-day", self._heads([column.key for column in columns]), rows)

    def _by_hour(self, week: WeekHours) -> Table:
        series = [(week.hours[quantity.key].tolist(), say) for quantity, say in self._week_rows()]
        rows = tuple((_hour(week, hour), self._cells(series, hour)) for hour in range(168))
        return Table(f"hours-{week.season}", self._heads(self._hour_keys()), rows)

    def _cells(self, series: Sequence[tuple[Sequence[Sequence[float]], str]], place: int) -> tuple[str, ...]:
        return tuple(self._cell([row[place] for row in rows], say) for rows, say in series)

    def _cell(self, band: Sequence[float], say: str) -> str:
        """The value, with the ends of its band where they show; a word where there is no water to speak of."""
        if not all(math.isfinite(value) for value in band):
            return self.t("year.none")
        low, value, high = (spoken(band[end], say) for end in (LOW, VALUE, HIGH))
        return value if low == value == high else f"{value} ({low} to {high})"

    def _by_month(self) -> Table:
        columns = self._columns()
        months = {column.key: by_month(self.shown.days[column.key][VALUE].tolist(), column.month) for column in columns}
        rows = tuple(
            (
                name,
                tuple(
                    self.t("year.none") if (value := months[column.key][month]) is None else spoken(value, column.say)
                    for column in columns
                ),
            )
            for month, name in enumerate(MONTHS)
        )
        heads = tuple(
            Head(opening(self.t(f"year.name.{column.key}")), self._unit(column.key).word) for column in columns
        )
        return Table("by-month", heads, rows)

    def _chances(self) -> tuple[Table, ...]:
        chances = self.data["dry_chance_by_week"]
        if self.result.members == 1 or not any(chances):
            return ()
        rows = tuple(
            (self.t("year.week_from", day=date_of(7 * week + 1)), (spoken(100.0 * chance, "2"),))
            for week, chance in enumerate(chances)
        )
        return (Table("by-week", (Head(opening(self.t("year.name.chance")), "%"),), rows),)

    def _whole(self) -> tuple[tuple[str, str], ...]:
        shown = [row for row in ROWS if row[0] not in IF_ANY or self.data[row[0]]["value"] or self.data[row[0]]["high"]]
        return tuple((self._row_name(key), self._say(kind, key, times)) for key, kind, times in shown)

    def _row_name(self, key: str) -> str:
        gallons = key == "cost_per_m3" and self.units.volume != "l"
        return self.t("year.row.cost_per_gallons") if gallons else self.t(f"year.row.{key}")


def plot_of(axis: year_charts.Axis, svg: str) -> str:
    """Left, top, width and height of a drawing's plot; all room that the sheet has to spare lies on its left."""
    sheet, box = year_charts.SHEETS[axis], re.search(r'viewBox="0 0 ([\d.]+)', svg)
    assert box is not None
    left = float(box.group(1)) - sheet.width - sheet.padding["right"]
    return f"{left:g} {sheet.padding['top']:g} {sheet.width:g} {sheet.height:g}"


def _short_date(day: int) -> str:
    date, month = date_of(day).split()
    return f"{date} {month[:3]}"


def _hour(week: WeekHours, hour: int) -> str:
    day = (week.first_day - 1 + hour // 24) % DAYS
    return f"{WEEKDAYS[day % 7]} {_short_date(day + 1)}, {hour % 24:02d}:00"
