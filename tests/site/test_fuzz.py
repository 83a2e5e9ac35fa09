"""Whatever stands in a site file, reading it either works or says why in one line each: never anything else."""

from __future__ import annotations

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rinsewright.catalogue.loader import load_catalogue
from rinsewright.errors import InputError, NoWorkingState
from rinsewright.site.build import build_plant, demand_input, frost_chance, season_input, water_input
from rinsewright.site.checks import check_ratings
from rinsewright.site.reading import read_text

TEXT = (Path(__file__).parents[2] / "examples" / "tern-quay.toml").read_text(encoding="utf-8")
MORE = {
    'country = "GB"': "frost_days = [12, 11, 7, 3, 0, 0, 0, 0, 0, 1, 5, 10]",
    'kind = "mains"': "tank_litres = 250\nrefill_l_min = 9",
    "product_limit_ppm = 10": "spread_pct = 15",
    'media = "sediment"': 'change_on = ["04-01", "10-01"]',
    "usable_share = 0.6": "change_after_months = 12",
    "vented = true": "float_valve = true",
    "area_m2 = 7.2": "change_at_flow_loss_pct = 25\nchange_at_passage_times = 1.6\nchange_after_years = 5",
}
"""A line of the demo → keys that the demo does without, put behind it."""
AIR = "air_mean_c = 10.5\nair_monthly_spread_c = 13\nsouthern = false"
VANS = '[[demand.vans]]\nname = "A"\ntank_litres = 400\nrefill_at = "07:00"\nrefill_l_min = 20\n'


def with_more(text):
    """The demo with every key that the year may ask for."""
    for line, more in MORE.items():
        assert line in text
        text = text.replace(line, f"{line}\n{more}")
    season = 'coldest_c = 5.0\nwarmest_c = 19.0\ncoldest_day = "02-10"'
    assert season in text
    return text.replace(season, AIR).replace('kind = "mains"', 'kind = "break-tank"') + VANS


LINES = with_more(TEXT).split("\n")
CATALOGUE = load_catalogue()

ODD_VALUES = st.sampled_from(
    [
        "nan",
        "-inf",
        "0",
        "-1",
        "1e308",
        "-1e-320",
        "9" * 30,
        "true",
        '""',
        '"x"',
        "[]",
        "{}",
        "[[]]",
        "{ a = 1 }",
        "1979-05-27",
    ]
) | st.floats().map(lambda value: repr(value).replace("e+", "e"))


def read_and_build(text):
    """What every command does first. Returns the messages of a refusal."""
    try:
        document = read_text(text, "fuzz.toml")
        if document.model.water:
            water_input(document), season_input(document), frost_chance(document)
        if document.model.demand:
            demand_input(document)
        if document.model.plant and document.model.supply:
            check_ratings(document, build_plant(document, CATALOGUE))
    except InputError as refusal:
        return [str(problem) for problem in refusal.problems]
    except NoWorkingState as refusal:
        return [str(refusal)]
    return []


def one_line_each(messages):
    for message in messages:
        assert message.startswith("fuzz.toml")
        assert ": " in message
        assert message.isprintable()
        assert len(message) < 700


@st.composite
def with_odd_values(draw):
    """The demo with the values of a few keys replaced."""
    lines = list(LINES)
    for _ in range(draw(st.integers(1, 4))):
        n = draw(st.sampled_from([n for n, line in enumerate(lines) if " = " in line and "{" not in line]))
        lines[n] = f"{lines[n].split(' = ')[0]} = {draw(ODD_VALUES)}"
    return "\n".join(lines)


@st.composite
def with_moved_lines(draw):
    """The demo with a few lines left out, doubled or moved."""
    lines = list(LINES)
    for _ in range(draw(st.integers(1, 5))):
        line = lines.pop(draw(st.integers(0, len(lines) - 1)))
        for _ in range(draw(st.integers(0, 2))):
            lines.insert(draw(st.integers(0, len(lines))), line)
    return "\n".join(lines)


@st.composite
def with_broken_characters(draw):
    """The demo with a few characters replaced."""
    text = TEXT
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text) - 1))
        text = text[:at] + draw(st.text(max_size=3)) + text[at + draw(st.integers(0, 3)) :]
    return text


often = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@often
@given(with_odd_values())
def test_odd_values(text):
    one_line_each(read_and_build(text))


@often
@given(with_moved_lines())
def test_moved_lines(text):
    one_line_each(read_and_build(text))


@often
@given(with_broken_characters())
def test_broken_characters(text):
    one_line_each(read_and_build(text))


@often
@given(st.text(max_size=60))
def test_any_text(text):
    one_line_each(read_and_build(text))


def test_the_demo_itself_passes():
    assert read_and_build(TEXT) == []
    assert read_and_build(with_more(TEXT)) == []
