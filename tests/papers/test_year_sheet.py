"""The year's sheet as a document: every number is the data's, charts plot it, nothing comes from elsewhere."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rinsewright.papers import year_page
from rinsewright.papers.charts import INKS
from rinsewright.papers.year_charts import _steps, _y, chance_chart, day_charts, shorten, week_charts
from rinsewright.planning.wording import date_of, hardest_month
from rinsewright.planning.year_result import YearResult

from .reading import Page, as_number, half_of_last_digit, read
from .samples import EVIL
from .years import YEARS, a_year

PAGES = {name: year_page(make()) for name, make in YEARS.items()}
MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
MONTH_ENDS = [0, *itertools.accumulate(MONTH_DAYS)]


@pytest.fixture(params=YEARS)
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def at(year: YearResult, place: str) -> Any:
    """The value at a JSON pointer, found without the code under test."""
    kind, *keys = place.strip("/").split("/")
    if kind == "months":
        return month_value(year, keys[0], int(keys[1]))
    roots = {"answer": year.data, "days": year.days, "cost_split": year.cost_split}
    if kind == "weeks":
        return year.weeks[int(keys[0])].temperature_c
    if kind == "calendar":
        return year.calendar[int(keys[0])].price
    found: Any = roots[kind] if kind in roots else getattr(year, kind)
    for key in keys:
        found = found[key] if isinstance(found, Mapping) else found[int(key)]
    return found


def month_value(year: YearResult, key: str, month: int) -> float:
    days = year.days[key][1, MONTH_ENDS[month] : MONTH_ENDS[month + 1]]
    if key == "temperature_c":
        return float(np.nanmean(days))
    if key == "level_end_l":
        return float(np.nanmin(days))
    return float(np.nanmax(days) if key.endswith("ppm") else np.nansum(days))


# ---- numbers ----


def test_every_marked_number_is_the_datas(name: str) -> None:
    year, page = YEARS[name](), read(PAGES[name])
    assert len(page.numbers) > 80
    for number in page.numbers:
        exact = at(year, number.place)
        assert number.value == pytest.approx(exact, rel=1e-5, abs=1e-12), number
        shown = exact * number.times
        if number.text == "under 0.01":
            assert 0 < abs(shown) < 0.005
        else:
            assert as_number(number.text) == pytest.approx(shown, rel=0, abs=half_of_last_digit(number.text)), number


def rows(html: str, look: str) -> list[list[str]]:
    """The cells of a table's body, and its heads first."""
    table = re.search(rf'<table class="{look}">(.*?)</table>', html, re.DOTALL)
    assert table is not None
    found = re.findall(r"<tr>(.*?)</tr>", table.group(1), re.DOTALL)
    return [[re.sub(r"<[^>]*>", "", cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row)] for row in found]


KEYS = {
    "water°C": "temperature_c",
    "productL": "product_l",
    "to drainL": "drain_l",
    "starts": "starts",
    "shortL": "short_l",
    "in tankL": "level_end_l",
    "before resinppm": "before_ppm",
    "at brushppm": "worst_ppm",
}


def test_the_table_by_day_holds_every_day(name: str) -> None:
    year, (heads, *days) = YEARS[name](), rows(PAGES[name], "figures by-day")
    assert len(days) == 365
    for day, cells in enumerate(days):
        assert cells[0].endswith(f" {date_of(day + 1)[: len(cells[0]) - 4]}")
        for head, cell in zip(heads[1:], cells[1:], strict=True):
            agree(cell, year.days[KEYS[head]][:, day])


def agree(cell: str, band: Any) -> None:
    """A cell says the value, and behind it low and high where they show."""
    low, value, high = band
    if not math.isfinite(value):
        assert cell == "none"
        return
    found = re.fullmatch(r"(\S+)(?: \((\S+) to (\S+)\))?", cell)
    assert found is not None, cell
    texts = found.groups()
    for text, exact in zip(texts, (value, low, high), strict=True):
        if text is None:
            assert abs(exact - value) <= 2 * half_of_last_digit(texts[0])
        else:
            assert as_number(text) == pytest.approx(exact, abs=half_of_last_digit(text))


def test_days_of_the_table_are_named_as_in_the_calendar() -> None:
    _, *days = rows(PAGES["tern-quay"], "figures by-day")
    assert [days[n][0] for n in (0, 6, 58, 59, 364)] == [
        "Mon 1 Jan",
        "Sun 7 Jan",
        "Wed 28 Feb",
        "Thu 1 Mar",
        "Mon 31 Dec",
    ]


def test_the_table_by_month_says_what_its_caption_says() -> None:
    year, (heads, *months) = YEARS["tern-quay"](), rows(PAGES["tern-quay"], "figures by-month")
    assert len(months) == 12
    for month, cells in enumerate(months):
        for head, cell in zip(heads[1:], cells[1:], strict=True):
            exact = month_value(year, KEYS[head], month)
            assert as_number(cell) == pytest.approx(exact, abs=half_of_last_digit(cell)), (head, month)


def test_changes_stand_with_date_reason_and_price() -> None:
    year, (_, *lines) = YEARS["tern-quay"](), rows(PAGES["tern-quay"], "changes")
    assert len(lines) == len(year.calendar) == 8
    for event, (date, what, why, price) in zip(year.calendar, lines, strict=True):
        assert date == date_of(event.day).replace("ruary", "").replace("ust", "").replace("ober", "").replace(
            "ember", ""
        ).replace("April", "Apr").replace("July", "Jul").replace("June", "Jun")
        assert (what, why) == (event.what, event.why)
        assert price == ("not known" if event.price is None else f"£{event.price:.0f}")


def test_costs_stand_largest_first_with_their_bands() -> None:
    _, *lines = rows(PAGES["tern-quay"], "costs")
    assert [line[0] for line in lines] == ["resin", "water", "sewerage", "labour", "membranes", "cartridges"]
    assert lines[0][2] == "about £450 (382 to 518)"
    assert rows(PAGES["one-year"], "costs")[1][2] == "£450"


# ---- words ----


def words(name: str, section: str) -> str:
    html = PAGES[name]
    start = html.index(f'<h2 id="{section}">')
    return " ".join(read(html[start : html.index("</section>", start)]).loose)


def test_the_answer_comes_first(name: str) -> None:
    page, said = read(PAGES[name]), YEARS[name]().sentences()
    places = [page.loose.index(" ".join(sentence.split())) for sentence in said]
    assert places == sorted(places)
    assert places[-1] < page.loose.index("Will the water last?")
    assert len(said[0]) < 200


def test_chance_is_told_only_where_years_are_drawn() -> None:
    assert "14 %" in " ".join(read(PAGES["tern-quay"]).drawn)
    assert 'id="chance-title"' in PAGES["tern-quay"]
    for alone in ("one-year", "to-the-pole"):
        assert 'id="chance-title"' not in PAGES[alone]
        assert "only counted in many years drawn" in words(alone, "lasts")
        assert "--" not in " ".join(read(PAGES[alone]).loose)  # no command line on a customer's paper
        assert "Shaded" not in words(alone, "daily")
    assert "5 February, 12 February, 19 February" in words("one-year", "lasts")
    assert "No week runs short in any of" in words("lasting", "lasts")


def test_every_week_short_is_drawn_and_said() -> None:
    year = replace(a_year(), data={**a_year().data, "dry_chance_by_week": 52 * [1.0]})
    page = read(year_page(year))
    assert "100 %" in page.drawn
    assert "other weeks" not in " ".join(page.loose)
    assert "The other weeks have none." in " ".join(read(PAGES["tern-quay"]).loose)


def test_the_number_written_large() -> None:
    large = {name: read(html).numbers[0] for name, html in PAGES.items()}
    assert (large["tern-quay"].place, large["tern-quay"].text) == ("/answer/dry_chance_by_week/6", "14")
    assert (large["one-year"].place, large["one-year"].text) == ("/answer/short_days/value", "3")
    assert large["lasting"].text == "0"


def test_the_latest_starts_stand_by_month_and_the_hardest_is_marked() -> None:
    page = read(PAGES["tern-quay"])
    assert [text for _, text in page.times] == YEARS["tern-quay"]().data["latest_fill_start"]
    marked = [given for tag, given in page.tags if given.get("class") == "hardest"]
    assert len(marked) == 1
    assert re.search(r'class="hardest"><dt>Feb</dt><dd><time[^>]*>21:05', PAGES["tern-quay"])
    assert "Open the tap by" not in " ".join(read(PAGES["to-the-pole"]).loose)


@pytest.mark.parametrize(
    ("starts", "month"),
    [
        (["21:30", "21:05", "00:10"], 1),  # across midnight
        (["04:00", "03:10", "05:00"], 1),
        (["23:50", None, "00:10"], 0),  # and where nothing is drawn
        (["07:00", "07:00"], None),
        (["07:00", "06:59"], None),
        (["07:00", "06:45"], 1),
        (["00:05", "23:59"], None),
        ([None, None], None),
        ([None, "12:00"], None),
    ],
)
def test_the_hardest_month_is_the_one_whose_tap_opens_first(starts: list[str | None], month: int | None) -> None:
    assert hardest_month(starts) == month


def test_what_there_is_none_of_is_not_spoken_of() -> None:
    alone, pole = " ".join(read(PAGES["resin-alone"]).loose), " ".join(read(PAGES["to-the-pole"]).loose)
    assert "To drain, L a day" not in alone
    assert "Winter: to drain" not in alone
    assert "tank" not in pole
    assert "Short of water" not in " ".join(read(PAGES["lasting"]).loose)


def test_frost_stands_among_the_numbers_where_there_is_any() -> None:
    assert "days lost to frost" in words("tern-quay", "numbers")
    assert "days lost to frost" not in words("one-year", "numbers")
    assert "brim" not in words("tern-quay", "numbers")


def test_one_time_for_all_months_is_not_underlined() -> None:
    year = a_year()
    html = year_page(replace(year, data={**year.data, "latest_fill_start": ["07:56"] * 12}))
    assert html.count(">07:56<") == 12
    assert "Underlined" not in html
    assert 'class="hardest"' not in html


def test_a_tap_that_is_always_open_is_told_for_whom_the_times_are() -> None:
    told = " ".join(read(year_page(replace(a_year(), always_open=True))).loose)
    assert "If you shut the tap while you draw, open it by, for a full tank" in told
    assert "at the latest" not in told


def test_without_prices_it_says_so() -> None:
    assert "No prices are given, so the costs are not known." in words("no-prices", "costs")
    assert rows(PAGES["no-prices"], "changes")[1][3] == "not known"


def test_notes_stand_once() -> None:
    year = a_year()
    page = read(year_page(replace(year, notes=[*year.notes, *year.data["notes"]])))
    assert [page.loose.count(note) for note in (*year.notes, *year.data["notes"])] == [1, 1, 1]


def test_what_people_typed_is_printed_as_they_typed_it() -> None:
    page = read(PAGES["no-prices"])
    assert "script" not in {tag for tag, _ in page.tags}
    assert page.loose.count(EVIL) >= 10


# ---- the document ----


def test_headings_captions_scopes_and_labels(name: str) -> None:
    page: Page = read(PAGES[name])
    assert page.headings.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(page.headings))
    names = [tag for tag, _ in page.tags]
    assert names.count("caption") == names.count("table") > 2
    assert all(given.get("scope") in ("col", "row") for tag, given in page.tags if tag == "th")
    ids = [given["id"] for _, given in page.tags if "id" in given]
    assert len(ids) == len(set(ids))
    assert set(" ".join(given.get("aria-labelledby", "") for _, given in page.tags).split()) <= set(ids)


def test_nothing_comes_from_elsewhere(name: str) -> None:
    html = PAGES[name]
    tags = read(html).tags
    assert not {tag for tag, _ in tags} & {"script", "link", "img", "iframe"}
    assert set(re.findall(r"(?:https?:)?//[\w.][^\"'\s<)]*", html)) <= {"http://www.w3.org/2000/svg"}
    assert not any(key in given for _, given in tags for key in ("src", "srcset", "href", "onclick", "onload"))
    assert "url(" not in html
    assert "@import" not in html


def test_size_with_every_number_different() -> None:
    """Bands and gaps everywhere, no two days alike: more than a plant can give."""
    rng = np.random.default_rng(1)
    year = a_year()

    def rough(rows: Any) -> Any:
        return rows * rng.uniform(0.7, 1.3, rows.shape[1]) + np.array([[0.0], [1.0], [2.0]])

    days = {key: rough(rows) for key, rows in year.days.items()}
    weeks = tuple(replace(week, hours={key: rough(rows) for key, rows in week.hours.items()}) for week in year.weeks)
    html = year_page(replace(year, days=days, weeks=weeks))  # type: ignore[arg-type]
    assert len(html.encode()) < 400_000


def test_size(name: str) -> None:
    assert len(PAGES[name].encode()) < 400_000


def test_the_same_year_gives_the_same_page() -> None:
    assert year_page(a_year()) == PAGES["tern-quay"]


def test_an_answer_without_a_key_is_refused_by_name() -> None:
    year = a_year()
    with pytest.raises(KeyError, match="short_days"):
        year_page(replace(year, data={key: value for key, value in year.data.items() if key != "short_days"}))


# ---- charts ----


def drawings(year: YearResult) -> Iterator[str]:
    yield from (chart.svg for chart in day_charts(year))
    yield from (svg for _, pair in week_charts(year) for svg in pair)
    yield chance_chart(year.data["dry_chance_by_week"])


def test_charts_follow_light_and_dark_and_are_told() -> None:
    for svg in drawings(a_year()):
        root = ElementTree.fromstring(svg)
        assert root.get("role") == "img"
        assert not any(placeholder in svg for placeholder in INKS.values())
        painted = set(re.findall(r'(?:fill|stroke)="([^"]+)"', svg))
        assert {paint for paint in painted if not paint.startswith("var(--")} <= {"none", "transparent", "black"}
        assert all(len((element.text or "").strip()) > 3 for element in root[:2])


def corners(svg: str, look: str) -> list[tuple[float, float]]:
    """The corners of the path in a chart whose mark is of a kind, in the plot's own units from its upper left."""
    root = ElementTree.fromstring(svg)
    (group,) = (e for e in root.iter() if (e.get("class") or "").startswith(look))
    x = y = 0.0
    points = []
    for code, numbers in re.findall(r"([MLHV])([-\d.,]+)", next(e for e in group.iter() if e.get("d")).get("d") or ""):
        values = [float(value) for value in numbers.split(",")]
        x, y = (values[0], y) if code == "H" else (x, values[0]) if code == "V" else (values[0], values[1])
        points.append((x, y))
    return points


def test_a_line_goes_through_the_values() -> None:
    """Read back from the drawing: heights are in proportion to the litres, and days to the width."""
    year = a_year("One", 1)
    chart = next(chart for chart in day_charts(year) if chart.quantity.key == "product_l")
    points, litres = corners(chart.svg, "mark-line"), year.days["product_l"][1]
    highest, floor = min(y for _, y in points), max(y for _, y in points)
    right = max(x for x, _ in points)
    for day in (3, 45, 200, 300):
        middle = (day + 0.5) / 365 * right
        (before,) = [a for a, b in itertools.pairwise(points) if a[0] < middle <= b[0]]
        share = (floor - before[1]) / (floor - highest)
        assert share == pytest.approx(litres[day] / litres.max(), abs=0.004)


def test_a_band_is_drawn_where_there_is_one() -> None:
    assert all("mark-area" in chart.svg for chart in day_charts(a_year()))
    assert not any("mark-area" in chart.svg for chart in day_charts(a_year("One", 1)))


def test_winter_and_summer_are_drawn_on_one_scale() -> None:
    scales = []
    for quantity, pair in week_charts(a_year()):
        marks = [re.findall(r'class="mark-text role-axis-label".*?</g>', svg, re.DOTALL) for svg in pair]
        winter, summer = (re.findall(r">([\d.,]+)</text>", "".join(found)) for found in marks)
        assert winter == summer
        assert len(winter) >= 3, quantity
        scales.append((quantity.unit, tuple(winter)))
    flows = [scale for unit, scale in scales if unit == "L/min"]
    assert flows[0] == flows[1] != flows[2], "product and drain on one scale as well"


def test_weekdays_stand_in_the_order_of_the_week() -> None:
    year = a_year()
    sunday = replace(year, weeks=(replace(year.weeks[0], first_day=49), year.weeks[1]))
    svg = week_charts(sunday)[0][1][0]
    assert re.findall(r">([A-Z]\w\w)</text>", svg) == ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"]


def test_the_limit_is_drawn_and_named() -> None:
    brush = next(chart for chart in day_charts(a_year()) if chart.quantity.key == "worst_ppm")
    assert "10 ppm: change the resin" in brush.svg


def test_steps_keep_both_ends_of_a_level_run_and_every_gap() -> None:
    nan = math.nan
    rows = [[1.0, 1.0, 1.0, 2.0, nan, 3.0]] * 3
    points = [(step["t"], step["v"]) for step in _steps(rows, 1.0)]
    assert points == [(0, 1), (3, 1), (3, 2), (4, 2), (4, None), (5, 3), (6, 3)]


def test_drawings_are_shortened_without_moving() -> None:
    path = '<path d="M0,10.04L1.96,10.04L1.96,20L3,21.26Z"/><path d="M0,0h600v110h-600Z"/>'
    assert shorten(path) == '<path d="M0,10H2V20L3,21.3Z"/><path d="M0,0h600v110h-600Z"/>'


def test_a_gap_all_year_leaves_the_chart_out() -> None:
    year = a_year()
    none = np.full((3, 365), np.nan)
    page = year_page(replace(year, days={**year.days, "level_end_l": none, "before_ppm": none, "worst_ppm": none}))
    assert "midnight, L" not in " ".join(read(page).loose)


def test_a_week_without_water_is_drawn_empty() -> None:
    """Frost all week: the tap stays shut."""
    year = a_year()
    winter = replace(year.weeks[0], hours={**year.weeks[0].hours, "before_ppm": np.full((3, 168), np.nan)})
    rows = {quantity.key: pair for quantity, pair in week_charts(replace(year, weeks=(winter, year.weeks[1])))}
    assert "reading before the resin: none." in rows["before_ppm"][0]


@given(st.floats(-5.0, 40.0) | st.just(0.0), st.floats(1e-3, 1e6))
def test_no_more_than_five_marks_stand_on_an_axis(low: float, span: float) -> None:
    axis, words = _y((low, low + span))
    ticks = axis["axis"]["values"]
    assert 1 <= len(ticks) <= 5
    assert all(low - 1e-6 * span <= tick <= low + span * (1 + 1e-6) for tick in ticks)
    assert len(set(words)) == len(ticks)
    for tick, word in zip(ticks, words, strict=True):
        assert as_number(word) == pytest.approx(tick, rel=1e-6, abs=1e-9)


def test_a_large_plant_has_room_for_its_numbers() -> None:
    year = a_year()
    large = day_charts(replace(year, days={**year.days, "product_l": 1000.0 * year.days["product_l"]}))
    boxes = {chart.quantity.key: float(chart.svg.split('viewBox="')[1].split()[2]) for chart in large}
    assert boxes["product_l"] > boxes["drain_l"]
