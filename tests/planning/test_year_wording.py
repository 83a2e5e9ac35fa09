"""A year in words. Expected texts are written by hand from made-up years."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from rinsewright.planning import wording
from rinsewright.planning.year_result import YearResult
from tests.papers.years import YEARS, a_year, amount


@pytest.mark.parametrize(
    ("day", "text"), [(1, "1 January"), (59, "28 February"), (60, "1 March"), (365, "31 December")]
)
def test_dates(day, text):
    assert wording.date_of(day) == text


def test_the_answer_comes_first():
    assert YEARS["tern-quay"]().sentences()[0] == (
        "The water may not last: in the worst week, from 12 February, it runs short in 14 % of 200 years drawn. "
        "A year has about 0.4 days (0 to 3) short of water, 32 L in all."
    )
    assert YEARS["one-year"]().sentences()[0] == (
        "The water does not last: 3 days short of water, 240 L in all, the first in the week from 5 February."
    )
    assert YEARS["lasting"]().sentences()[0] == "The water lasts: in 50 years drawn no day runs short."
    assert YEARS["to-the-pole"]().sentences()[0] == "The water lasts: no day of the year runs short."


def test_a_week_that_is_always_short():
    chances = [1.0] + 51 * [0.5]
    year = replace(a_year(), data={**a_year().data, "dry_chance_by_week": chances})
    assert year.sentences()[0].startswith(
        "The water does not last: in the worst week, from 1 January, it runs short in all 200 years drawn."
    )
    assert "Chance of a day short of water, worst weeks\n  week from 1 January" in year.text()
    assert year.text().count("  week from") == 10


def test_months_in_which_no_start_is_early_enough():
    year = a_year()
    starts = [None, None, *year.data["latest_fill_start"][2:]]
    late = replace(year, data={**year.data, "latest_fill_start": starts})
    assert late.months_too_late() == [0, 1]
    told = "No start of filling is early enough for a full tank on the worst day of these months: Jan, Feb."
    assert f"{told} In March open it by 21:40." in late.sentences()
    idle = {**year.days, "delivered_l": 0.0 * year.days["delivered_l"], "short_l": 0.0 * year.days["short_l"]}
    assert replace(late, days=idle).months_too_late() == []
    assert YEARS["to-the-pole"]().months_too_late() == []


def test_one_day_is_one_day():
    year = a_year(members=1)
    assert "lasts" not in said(year, short_days=amount(1.0))[0]
    assert "1 day short" in said(year, short_days=amount(1.0))[0]
    assert any("and starts once." in sentence for sentence in said(year, starts=amount(1.0)))
    assert "11 days short" in said(year, short_days=amount(11.0))[0]


def said(year: YearResult, **changed) -> list[str]:
    changes = [(event.date, event.what) for event in year.calendar]
    return wording.year_sentences({**year.data, **changed}, year.members, changes, [], year.currency, year.limit_ppm)


def test_the_hardest_month_is_named_with_its_time():
    assert "February is the hardest month to fill: open the tap by 21:05 for a full tank." in said(a_year())
    assert not any("hardest" in sentence for sentence in YEARS["to-the-pole"]().sentences())


def test_one_time_for_all_months_is_said_once():
    assert "Open the tap by 07:56 for a full tank, all year." in said(a_year(), latest_fill_start=["07:56"] * 12)
    assert not any("tank" in sentence for sentence in said(a_year(), latest_fill_start=[None] * 12))


def test_a_tap_that_is_always_open_need_not_be_opened():
    year = replace(a_year(), always_open=True)
    told = " ".join(year.sentences())
    assert "If you shut it while you draw, open it by 21:05 for a full tank, February being the hardest month." in told
    assert "hardest month to fill" not in told
    starts = [None, None, *year.data["latest_fill_start"][2:]]
    late = " ".join(replace(year, data={**year.data, "latest_fill_start": starts}).sentences())
    assert "Leave the tap open while you draw:" in late
    assert "No start of filling" not in late


def test_the_reading_at_the_brush():
    within = {"worst_meter_ppm": amount(4.2), "days_over_limit": amount(0.0)}
    assert "At the brush it reads 4.2 ppm at worst; 10 ppm is the limit." in said(a_year(), **within)
    assert (
        "At the brush it reads more than 10 ppm on about 1 day (0 to 4); the worst is about 10 ppm (8.8 to 12)."
        in said(a_year())
    )
    assert "What the water reads at the brush is not known." in said(a_year(), worst_meter_ppm=amount(None))


def test_changes_are_named_with_their_days():
    changes = "resin 27 Feb, 26 Apr, 23 Jun, 20 Aug, 17 Oct, 14 Dec; sediment cartridge 2 Jul; carbon cartridge 2 Jul."
    assert f"Changes, in a year without chance: {changes}" in said(a_year())
    assert f"Changes: {changes}" in said(a_year(members=1))
    year = a_year()
    many = [(f"{month:02}-05", "resin") for month in range(1, 13)]
    told = wording.year_sentences(year.data, 1, many, [], "GBP", 10.0)
    assert "Changes: resin 12 times, first on 5 Jan." in told
    assert "Nothing need be changed in the year." in wording.year_sentences(year.data, 1, [], [], "GBP", 10.0)


def test_cost_is_said_only_with_prices():
    assert "It costs about £1,300 (1,100 to 1,500), £0.013 a litre, of what has a price." in said(a_year())
    none = {"cost": amount(None), "cost_per_m3": amount(None)}
    assert "No prices are given, so what it costs is not known." in said(a_year(), **none)


def test_what_one_year_cannot_say_is_said():
    alone = a_year(members=1)
    assert "only counted in many years drawn" in said(alone)[-1]
    assert "--" not in " ".join(said(alone))  # the papers and the app say the same: no command line there
    assert "give --years, 200 say." in alone.text()
    assert "--years" not in a_year().text()
    assert not any("--years" in sentence for sentence in said(a_year()))


@pytest.mark.parametrize("name", YEARS)
def test_the_text_for_a_terminal_is_short_and_plain(name):
    year = YEARS[name]()
    text = year.text()
    assert text.startswith(f"{year.site_name}\n\n{year.sentences()[0]}\n")
    assert len(text.splitlines()) < 60
    for trap in ("None", "nan", "inf ", "e-0", "{", "}", "_"):
        assert trap not in text
    assert ("Chance of a day short" in text) == (name in ("tern-quay", "resin-alone", "large"))
    assert ("Open the tap by" in text) == (name != "to-the-pole")


def test_what_there_is_none_of_is_not_told():
    assert "days lost to frost          about 2 (0 to 5)" in a_year().text()
    assert "frost" not in a_year(members=1).text().split("Notes")[0]
    assert "brim" not in a_year().text()


def test_starts_stand_under_their_months():
    lines = YEARS["tern-quay"]().text().splitlines()
    months, starts = next((a, b) for a, b in itertools.pairwise(lines) if a.split()[:2] == ["Jan", "Feb"])
    assert dict(zip(months.split(), starts.split(), strict=True))["Oct"] == "23:20"
    assert starts.index("21:05") == months.index("Feb")
