"""The year's sheet: one self-contained HTML page from a simulated year."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from statistics import fmean
from typing import TYPE_CHECKING, Any

from rinsewright.dates import STARTS
from rinsewright.papers.facts import Facts
from rinsewright.papers.plan import YEAR_ROWS, Row
from rinsewright.papers.sheets import environment, language
from rinsewright.papers.units import Telling, Units
from rinsewright.papers.words import MONTHS, WEEKDAYS, opening
from rinsewright.planning.wording import date_of, hardest_month
from rinsewright.planning.year_result import VALUE, YearResult

if TYPE_CHECKING:
    from jinja2 import Template
    from markupsafe import Markup

    from rinsewright.papers.year_charts import Quantity

NONE = "none"
MORE_ROWS = (
    Row("litres over the tank’s brim", ("overflow_litres",), "L"),
    Row("days lost to frost", ("frost_days",), "", "count"),
    Row("membrane changes", ("membrane_changes",), "", "count"),
)
OF_A_MONTH: Mapping[str, Callable[[Sequence[float]], float]] = {"sum": sum, "mean": fmean, "least": min, "most": max}


@dataclass(frozen=True)
class Column:
    """A column of the tables by month and by day: its key, its words and unit, how its numbers are said."""

    key: str
    words: str
    unit: str
    say: str
    month: str  # of a month's days the sum, the mean, the least or the most


COLUMNS = (
    Column("temperature_c", "water", "°C", "ph", "mean"),
    Column("product_l", "product", "L", "whole", "sum"),
    Column("drain_l", "to drain", "L", "whole", "sum"),
    Column("starts", "starts", "", "whole", "sum"),
    Column("short_l", "short", "L", "whole", "sum"),
    Column("level_end_l", "in tank", "L", "whole", "least"),
    Column("before_ppm", "before resin", "ppm", "ppm", "most"),
    Column("worst_ppm", "at brush", "ppm", "ppm", "most"),
)


def year_page(result: YearResult, units: Units | None = None) -> str:
    """The year as HTML: no script, no request to elsewhere, light and dark, screen and A4.

    ``units``: in which it is told, the site file's where not given.
    Raises KeyError if the answer lacks a key of the contract (a null is printed as "not known").
    """
    from markupsafe import Markup

    from rinsewright.papers.year_charts import chance_chart, day_charts, week_charts

    columns = _columns(result)
    telling = Telling.of(units, result.meter_factor)
    facts = Facts(_root(result, columns), result.currency, telling)
    answer = telling.retold(result.answer())
    chances = answer["dry_chance_by_week"]
    return _template().render(
        result=result,
        calendar=telling.retold(list(result.calendar)),
        answer=answer,
        facts=facts,
        t=telling,
        sentences=telling.summary(result.sentences(), result.answer()),
        headline=_headline(result, facts),
        # The charts are our own: every text in them is escaped where it is written.
        charts=[
            (chart.quantity, Markup(chart.svg), _told(chart.quantity, result, facts))
            for chart in day_charts(result, telling)
        ],
        chance=Markup(chance_chart(chances)) if result.members > 1 and max(chances) > 0.0 else None,
        short_weeks=[week for week, chance in enumerate(chances) if chance],
        hardest=None if result.months_too_late() else hardest_month(answer["latest_fill_start"]),
        weeks=[(quantity, [Markup(svg) for svg in pair]) for quantity, pair in week_charts(result, telling)],
        columns=columns,
        days=list(_days(result, columns, telling)),
        year_rows=[
            row.told(telling)
            for row in (*map(_row, YEAR_ROWS), *MORE_ROWS)
            if row not in MORE_ROWS or _any(answer[row.keys[0]])
        ],
        costs=_costs(result.cost_split),
        notes=list(dict.fromkeys([*answer["notes"], *map(telling.retell, result.notes)])),
        has_tank=any(column.key == "level_end_l" for column in columns),
        banded=result.members > 1,
        lang=language(result.country),
    )


@cache
def _template() -> Template:
    made = environment()
    made.globals.update(MONTHS=MONTHS)
    made.filters.update(date=date_of, when=_when)
    return made.get_template("year.html.j2")


def _any(band: Mapping[str, float | None]) -> bool:
    return bool(band["value"] or band["high"])


def _row(row: Row) -> Row:
    """A row of the plan's year; what is counted is said in its words and needs no unit."""
    return replace(row, unit="" if row.unit in ("days", "times") else row.unit)


def _when(month_and_day: str) -> str:
    """ "02-07" as "7 Feb"."""
    month, day = (int(part) for part in month_and_day.split("-"))
    return f"{day} {MONTHS[month - 1]}"


def _root(result: YearResult, columns: Sequence[Column]) -> dict[str, Any]:
    """What the numbers of the page point into."""
    return {
        "answer": result.answer(),
        "days": result.days,
        "months": {column.key: by_month(result.days[column.key][VALUE].tolist(), column.month) for column in columns},
        "weeks": [{"temperature_c": week.temperature_c} for week in result.weeks],
        "calendar": [{"price": event.price} for event in result.calendar],
        "cost_split": result.cost_split,
        "limit_ppm": result.limit_ppm,
        "meter_factor": result.meter_factor,
        "members": result.members,
        "seed": result.seed,
    }


def by_month(values: Sequence[float], how: str) -> list[float | None]:
    """The months' sums, means, least or most of the days that have a number; None where none has."""
    found: list[float | None] = []
    for start, end in pairwise(STARTS):
        known = [value for value in values[start:end] if math.isfinite(value)]
        found.append(OF_A_MONTH[how](known) if known else None)
    return found


def _columns(result: YearResult) -> list[Column]:
    """Those of which there is anything."""

    def there(column: Column) -> bool:
        known = [value for row in result.days[column.key].tolist() for value in row if math.isfinite(value)]
        return any(known) if column.key in ("drain_l", "short_l") else bool(known)

    return [column for column in COLUMNS if there(column)]


@dataclass(frozen=True)
class Headline:
    """The one number written large."""

    number: Markup
    unit: str
    caption: Markup


def _headline(result: YearResult, facts: Facts) -> Headline:
    """Whether the water lasts: the chance of the worst week, or without chance the days that run short."""
    from markupsafe import Markup

    chances = result.answer()["dry_chance_by_week"]
    worst = max(range(len(chances)), key=lambda week: chances[week])
    if result.members > 1 and chances[worst]:
        number = facts.number("answer", "dry_chance_by_week", worst, times=100.0)
        words = f"chance of a day short of water in the worst week, from {date_of(7 * worst + 1)}"
        return Headline(number, "%", Markup(words))
    days = facts.number("answer", "short_days", "value", say="count")
    unit = "day" if facts.text("answer", "short_days", "value", say="count") == "1" else "days"
    return Headline(days, unit, Markup("short of water in the year"))


def _told(quantity: Quantity, result: YearResult, facts: Facts) -> Markup:
    """The day on which a chart's line is lowest, or highest, in words."""
    from markupsafe import Markup

    values = result.days[quantity.key][VALUE].tolist()
    known = [place for place, value in enumerate(values) if math.isfinite(value)]
    told = []
    for word in quantity.ends:
        place = (min if word == "least" else max)(known, key=lambda day: values[day])
        number = facts.measure("days", quantity.key, VALUE, place, unit=quantity.unit, say=quantity.say)
        told.append(Markup("{} {} on {}").format(word, number, date_of(place + 1)))
    return Markup("{}.").format(opening(Markup(", ").join(told)))


def _days(result: YearResult, columns: Sequence[Column], telling: Telling) -> list[tuple[str, list[str]]]:
    """Every day's date and cells, with the band behind the value where it shows."""
    rows = [(column, result.days[column.key].tolist()) for column in columns]
    days = []
    for day in range(365):
        cells = [_cell([row[day] for row in series], column, telling) for column, series in rows]
        days.append((f"{WEEKDAYS[day % 7]} {_short_date(day + 1)}", cells))
    return days


def _cell(band: Sequence[float], column: Column, telling: Telling) -> str:
    low, value, high = (
        telling.say(number, column.say, column.unit) if math.isfinite(number) else NONE for number in band
    )
    return value if low == value == high else f"{value} ({low} to {high})"


def _short_date(day: int) -> str:
    date, month = date_of(day).split()
    return f"{date} {month[:3]}"


@dataclass(frozen=True)
class Cost:
    """One line of the yearly cost and its bar."""

    name: str
    bar: Markup


def _costs(split: Mapping[str, Mapping[str, float | None]]) -> list[Cost]:
    """Largest first, not known last; all bars on one scale."""
    from markupsafe import Markup

    from rinsewright.papers.strips import spread

    ordered = sorted(
        split.items(), key=lambda item: -1.0 if item[1]["value"] is None else item[1]["value"], reverse=True
    )
    most = max((band["high"] or band["value"] or 0.0 for band in split.values()), default=0.0) or 1.0
    return [Cost(name, Markup(spread(band, most))) for name, band in ordered]
