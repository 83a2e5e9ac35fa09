"""The year as a page and a PDF to send, and as tables for other programs."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from rinsewright.dates import month_and_day
from rinsewright.jobs.pages import write_pages
from rinsewright.papers import year_page
from rinsewright.papers.units import Units
from rinsewright.papers.words import WEEKDAYS
from rinsewright.planning.year_result import BY_DAY, BY_HOUR, YearResult
from rinsewright.quantities import Array

Line = Sequence[object]


@dataclass(frozen=True)
class YearPapers:
    """A year that can be written to a folder: its page in ``units``, its tables always in the site file's."""

    result: YearResult
    units: Units | None = None

    def write(self, folder: Path) -> list[Path]:
        """Write ``year.html``, ``year.pdf``, ``days.csv`` and ``weeks.csv`` into a folder; returns the files."""
        page = year_page(self.result, self.units)
        pages = write_pages(folder, self.result.site_name, {"year": (page, "year")})
        days, weeks = folder / "days.csv", folder / "weeks.csv"
        _write(days, ("day", "date", "weekday", *_heads(BY_DAY)), day_lines(self.result))
        _write(weeks, ("season", "day", "date", "weekday", "hour", *_heads(BY_HOUR)), hour_lines(self.result))
        return [*pages, days, weeks]


def day_lines(result: YearResult) -> Iterator[Line]:
    """365 days: which it is, then low, value and high of each key of :data:`BY_DAY`."""
    for day in range(365):
        yield [day + 1, _date(day + 1), WEEKDAYS[day % 7], *_cells(result.days, BY_DAY, day)]


def hour_lines(result: YearResult) -> Iterator[Line]:
    """168 hours of the winter week, then of the summer week, each with the keys of :data:`BY_HOUR`."""
    for week in result.weeks:
        for hour in range(168):
            day = (week.first_day - 1 + hour // 24) % 365 + 1
            when = [day, _date(day), WEEKDAYS[(day - 1) % 7], hour % 24]
            yield [week.season, *when, *_cells(week.hours, BY_HOUR, hour)]


def _date(day: int) -> str:
    """A day of the year as MM-DD."""
    return "{:02d}-{:02d}".format(*month_and_day(day))


def _heads(keys: Iterable[str]) -> list[str]:
    return [f"{key}{end}" for key in keys for end in ("_low", "", "_high")]


def _cells(table: Mapping[str, Array], keys: Iterable[str], place: int) -> list[str]:
    """Six digits; nothing where there is no number."""
    values = [value for key in keys for value in table[key][:, place].tolist()]
    return [f"{value:.6g}" if math.isfinite(value) else "" for value in values]


def _write(file: Path, heads: Line, lines: Iterable[Line]) -> None:
    with file.open("w", encoding="utf-8", newline="") as stream:
        table = csv.writer(stream, lineterminator="\n")
        table.writerow(heads)
        table.writerows(lines)
