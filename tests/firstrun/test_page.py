"""The page about first-run bands states the code's own numbers."""

from __future__ import annotations

from pathlib import Path

import pytest

from rinsewright.firstrun import expected
from rinsewright.planning import ensemble

PAGE = Path(__file__).parents[2] / "docs" / "models" / "first-run-bands.md"
STATED = {
    "strength of today's water": f"{expected.STRENGTH:g}, beside",
    "water temperature": f"{expected.THERMOMETER:g} K",
    "water permeance": f"another {100 * ensemble.COLD_SPREAD:.0f} % at 5 °C",
    "salt permeance": f"{expected.PASSAGE:g}; another {expected.COLD_PASSAGE:g} at 5 °C",
    "the product's strength from how each ion passes": f"{expected.MIX:g}",
    "mass transfer": f"{ensemble.FILM_SPREAD:g}",
    "restrictor's flow": f"{expected.RESTRICTOR:g}",
    "standing pressure": f"{expected.STANDING:g}; {expected.STANDING_ESTIMATED:g} where",
    "what a pump adds; the pressure at which its switch stops it": f"{expected.PUMP_HEAD:g}; {expected.SWITCH:g}",
    "what hose, valves and fittings take beside what is stated": f"{expected.ON_THE_WAY:g} bar",
    "share of feed water that is blended in": f"{expected.BLENDED:g}",
    "loss of a clean cartridge": f"{expected.CARTRIDGE:g}",
    "the shut-off's ratios, both together": f"{expected.CLOSES:g}",
    "the lower ratio by itself": f"{expected.REOPENS:g}",
    "meter's scale": f"{expected.METER_SCALE:g}",
    "meter's compensation": f"{expected.METER_SLOPE:g} per kelvin",
    "gauge; each reading of it": f"{expected.GAUGE:g} bar; {expected.GAUGE_READING:g} bar",
    "bucket; watch": f"{expected.BUCKET:g}; {expected.WATCH:g}",
    "what fresh resin leaves": f"{expected.FRESH_RESIN_PPM:g} ppm",
}


def test_the_table_holds_every_spread_of_the_code() -> None:
    text = PAGE.read_text(encoding="utf-8")
    table = text.split("| What is drawn |")[1].split("\n\n")[0].splitlines()[2:]
    rows = {cells[1].strip(): cells[2].strip() for cells in (line.split("|") for line in table)}
    assert set(rows) == set(STATED)
    for what, words in STATED.items():
        assert words in rows[what], what


def test_it_says_how_many_members_there_are() -> None:
    assert f"and {expected.MEMBERS} times as it may really be" in PAGE.read_text(encoding="utf-8")


def test_the_shut_offs_spread_is_the_range_it_is_drawn_from() -> None:
    """0.6 to 0.7, about 0.66, as a 90 % band."""
    assert pytest.approx(0.05, rel=0.01) == expected.CLOSES * 1.645 * 0.66
