"""A site's text edited: what nobody touched stays to the letter, and comments stay above what they are about."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from rinsewright.web.editing import edited
from rinsewright.web.lines import put_in, take_out, write

from .served import DEMO

SITES = sorted((Path(__file__).parents[1] / "cases" / "sites").glob("*.toml"))
TEXT = """\
# about the file
[demand]
draw_from = "08:00"  # early

# ---- the plant ----

# side by side
[plant]
arrangement = "parallel"

# the old one
[[demand.vans]]
name = "A"
tank_litres = 300
# what it costs
[prices]
years = 5
# the end"""


def changed(path: tuple[str | int, ...], **keys: Any) -> str:
    return edited(TEXT, lambda document: write(document, path, {(key,): value for key, value in keys.items()}))


@pytest.mark.parametrize(
    "text", [TEXT, DEMO, DEMO.replace("\n", "\r\n"), "", *(site.read_text("utf-8") for site in SITES)]
)
def test_nothing_changed_is_the_same_text(text: str) -> None:
    assert edited(text, lambda document: None) == text


def test_a_key_that_comes_stands_below_its_own_table() -> None:
    text = changed(("demand",), spread_pct=5)
    assert 'draw_from = "08:00"  # early\nspread_pct = 5\n\n# ---- the plant ----\n' in text
    assert changed(("prices",), membrane=90).endswith("years = 5\nmembrane = 90\n# the end")


def test_what_stands_above_a_table_that_goes_stands_above_the_next() -> None:
    text = edited(TEXT, lambda document: take_out(document, ("demand", "vans"), 0))
    assert text.endswith('arrangement = "parallel"\n\n# the old one\n# what it costs\n[prices]\nyears = 5\n# the end')
    text = edited(TEXT, lambda document: document.pop("prices"))
    assert text.endswith("tank_litres = 300\n# what it costs\n# the end")


def test_an_entry_comes_between_others_and_below_the_heading_of_its_list() -> None:
    van = {"name": "B", "tank_litres": 200}
    text = edited(TEXT, lambda document: put_in(document, ("demand", "vans"), 1, van))
    assert 'tank_litres = 300\n\n[[demand.vans]]\nname = "B"\ntank_litres = 200\n# what it costs\n' in text
    text = edited(DEMO, lambda document: put_in(document, ("plant", "drain"), 0, {"part": "check"}))
    assert '# ---- to the drain ----\n\n[[plant.drain]]\npart = "check"\n\n[[plant.drain]]\npart = "restrictor"' in text


def test_rows_in_braces_and_under_heads_are_written_where_they_stand() -> None:
    rows = {
        ("flowing", 0, "pressure_bar"): 3.9,
        ("flowing", 2): {"flow_l_min": 15, "pressure_bar": 3.0},
        ("flowing", 1): None,
    }
    text = edited(DEMO, lambda document: write(document, ("supply",), rows))
    assert "  { flow_l_min = 6.0, pressure_bar = 3.9 },\n" in text
    assert tomllib.loads(text)["supply"]["flowing"] == [
        {"flow_l_min": 6.0, "pressure_bar": 3.9},
        {"flow_l_min": 15, "pressure_bar": 3.0},
    ]
    text = edited("schema = 1\n\n[site]\n", lambda document: write(document, (), {("kit", 0): {"what": "gauge"}}))
    assert text == 'schema = 1\n\n[site]\n\n[[kit]]\nwhat = "gauge"\n'


def test_a_table_made_and_one_left_empty() -> None:
    text = edited(TEXT, lambda document: write(document, ("site",), {("name",): "A"}))
    assert text.endswith('years = 5\n\n[site]\nname = "A"\n# the end')
    text = edited(TEXT, lambda document: write(document, ("prices",), {("years",): None}, goes_when_empty=True))
    assert "[prices]" not in text
    assert edited(TEXT, lambda document: write(document, ("site",), {})) == TEXT


@pytest.mark.parametrize(
    "text", ['demand = { draw_from = "08:00" }\n', 'demand.draw_from = "08:00"\n', "[demand]\n", ""]
)
def test_a_list_begins_in_whatever_way_its_table_is_written(text: str) -> None:
    once = edited(text, lambda document: put_in(document, ("demand", "vans"), 0, {"name": "A", "tank_litres": 300}))
    twice = edited(once, lambda document: put_in(document, ("demand", "vans"), 1, {"name": "B", "tank_litres": 200}))
    assert [van["name"] for van in tomllib.loads(twice)["demand"]["vans"]] == ["A", "B"]
    assert "\n\n\n" not in twice


def test_what_somebody_puts_in_is_no_guess_any_more() -> None:
    from rinsewright.planning.starting import Answers, is_guess, start_site

    text = start_site(Answers(meter_ppm=305.0, running_bar=3.4, litres_a_day=320.0))

    def guesses(path: tuple[str | int, ...], way: tuple[str | int, ...], value: float) -> list[bool]:
        after = edited(text, lambda document: write(document, path, {way: value}))
        return [is_guess(after, key) for key in ("coldest_c", "flowing", "litres_per_day", "temperature_c")]

    assert guesses(("water", "season"), ("coldest_c",), 6.0) == [False, True, True, True]
    assert guesses(("supply",), ("flowing", 0, "flow_l_min"), 7.0) == [True, False, True, True]
    assert guesses(("supply",), ("flowing", 0, "pressure_bar"), 3.0) == [True, True, True, True]
    assert guesses(("demand",), ("litres_per_day", "mon"), 100.0) == [True, True, False, True]
