"""From a site file to the exit status, as a shell sees it: answered, refused, or without a working state."""

from __future__ import annotations

import json

import pytest

from tests.cases.running import SITES, numbers, run
from tests.contract.models import ANSWERS

CHALK = (SITES / "chalk-two-membranes.toml").read_text(encoding="utf-8")
WEEK = "mon = 400, tue = 400, wed = 400, thu = 400, fri = 400"
SHUT = '[[plant.product]]\npart = "shutoff"\ncloses_at_ratio = 0.66\nreopens_at_ratio = 0.45\n\n'
TANK = '[[plant.product]]\npart = "tank"'
DAY = "meter_factor = 0.5\n"

# What is changed in the site file, and what must then stand in the sentence: the key, and what is wrong or right.
REFUSED = {
    "a week without work": ((WEEK, "mon = 0"), "demand.litres_per_day", "give the litres of at least one"),
    "more pressure running than standing": (
        ("pressure_bar = 3.7", "pressure_bar = 4.7"),
        "supply.flowing[0].pressure_bar",
        "above the standing pressure 4.5 bar",
    ),
    "a tap that opens for no time": (
        (DAY, DAY + 'fill_from = "08:00"\nfill_until = "08:00"\n'),
        "demand.fill_until",
        "at the same time",
    ),
    "a day that is not in every year": ((DAY, DAY + 'days_off = ["02-29"]\n'), "demand.days_off[0]", "month and day"),
    "two vessels one after the other": (
        (TANK, '[[plant.product]]\npart = "resin"\nlitres = 2.5\n\n' + TANK),
        "plant.product[4]",
        "vessels = 2",
    ),
    "a drop in another unit": (
        ("clean_drop_bar = 0.12", "clean_drop_bar = 12"),
        "plant.feed[1].clean_drop_bar",
        "between 0 and 5",
    ),
}
NO_STATE = {
    "a tower": (("height_m = 1.5", "height_m = 30"), "plant.product[1]", "stays closed"),
    "a tower without a shut-off": ((SHUT, ""), "plant.product[1]", "asks for 5.9 bar"),
    "street pressure beyond a housing": (("standing_bar = 4.5", "standing_bar = 11"), "rated_bar", "made for 10 bar"),
}
ANSWERED = {
    "the standing pressure alone": ("flowing = [{ flow_l_min = 12.0, pressure_bar = 3.7 }]\n", ""),
    "running tests alone": (
        "standing_bar = 4.5\nflowing = [{",
        "flowing = [{ flow_l_min = 6.0, pressure_bar = 4.3 }, {",
    ),
    "pressure by the hour alone": (
        "standing_bar = 4.5\nflowing = [{ flow_l_min = 12.0, pressure_bar = 3.7 }]",
        f"by_hour_bar = {[4.5] * 6 + [3.5] * 12 + [4.0] * 6}",
    ),
    "the tank below the plant": ("height_m = 1.5", "height_m = -3"),
    "a rubber in the drain": ("exponent = 0.5", "exponent = 0"),
    "a capillary in the drain": ("exponent = 0.5", "exponent = 1"),
    "elements in series": ('arrangement = "parallel"', 'arrangement = "series"'),
    "lead and lag": ("usable_share = 0.6", "usable_share = 0.6\nvessels = 2"),
    "no shut-off": (SHUT, ""),
    "a limit of one": ("product_limit_ppm = 10", "product_limit_ppm = 1"),
    "a limit beyond the product": ("product_limit_ppm = 10", "product_limit_ppm = 300"),
}


def changed(tmp_path, *changes):
    text = CHALK
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    file = tmp_path / "yard.toml"
    file.write_text(text, encoding="utf-8")
    return file


def one_sentence(done, key, words):
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "Traceback" not in done.stderr
    assert "yard.toml, line" in done.stderr
    assert key in done.stderr
    assert words in done.stderr


@pytest.mark.parametrize("case", REFUSED)
def test_bad_input(case, tmp_path):
    change, key, words = REFUSED[case]
    done = run("plan", changed(tmp_path, change), "--json")
    assert done.returncode == 2
    one_sentence(done, key, words)


@pytest.mark.parametrize("command", ["solve", "plan"])
@pytest.mark.parametrize("case", NO_STATE)
def test_no_working_state(case, command, tmp_path):
    change, key, words = NO_STATE[case]
    more = [("height_m = 1.5", "height_m = 60")] if "without" in case else []
    done = run(command, changed(tmp_path, change, *more), "--json")
    assert done.returncode == 3
    one_sentence(done, key, words)


@pytest.mark.parametrize(
    "case", [case if n % 4 == 0 else pytest.param(case, marks=pytest.mark.longer) for n, case in enumerate(ANSWERED)]
)
def test_answered(case, tmp_path):
    file = changed(tmp_path, ANSWERED[case])
    solved, planned = (run(command, file, "--json") for command in ("solve", "plan"))
    assert (solved.returncode, planned.returncode) == (0, 0), solved.stderr + planned.stderr
    plan = json.loads(planned.stdout)
    ANSWERS["plan"].model_validate(plan)
    state = json.loads(solved.stdout)
    ANSWERS["solve"].model_validate(state)
    for key in ("feed", "product", "delivered", "drain", "recovery", "rejection", "elements"):
        here, there = dict(numbers(plan["today"][key])), dict(numbers(state[key]))
        assert here == pytest.approx(there, rel=1e-9, abs=1e-12), f"`plan` and `solve` differ in {key}"


@pytest.mark.parametrize("site", ["chalk-two-membranes", pytest.param("soft-resin-alone", marks=pytest.mark.longer)])
def test_words_for_a_person(site):
    """The text says what the JSON says, and no more lines than a person reads."""
    for command in ("water", "solve", "plan", "year"):
        done = run(command, SITES / f"{site}.toml")
        assert done.returncode == 0
        assert 3 < len(done.stdout.splitlines()) < 120
        for trap in ("None", "nan", "inf ", "e-0", "{", "}", "_"):
            assert trap not in done.stdout, f"{trap!r} in the text of {command}"


def test_every_stop_is_in_the_words():
    text = run("plan", SITES / "loft-without-check-valve.toml").stdout
    assert "check valve behind the membranes" in text
    assert "0.78 bar" in text
