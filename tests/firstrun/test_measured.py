"""A file of readings is read strictly: what is wrong, where, and what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from rinsewright.api import Site
from rinsewright.errors import InputError
from rinsewright.firstrun.measured import read_measured
from rinsewright.firstrun.record import make_first_run

ROOT = Path(__file__).parents[2]


def refusal(text: str, tmp_path: Path) -> str:
    path = tmp_path / "today.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_measured(path)
    return str(refused.value).replace(str(path), "today.toml")


def test_readings_are_numbers_by_key(tmp_path: Path) -> None:
    path = tmp_path / "today.toml"
    path.write_text('tap_meter_ppm = 311\nproduct_l_min = 2.9\nshutoff_closes_bar = "never"\n', encoding="utf-8")
    readings, places = read_measured(path)
    assert readings == {"tap_meter_ppm": 311.0, "product_l_min": 2.9, "shutoff_closes_bar": None}
    assert places.line(("product_l_min",)) == 2
    assert read_measured(readings | {"shutoff_closes_bar": "never"})[0] == readings


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("tap_ppm = 311", "today.toml, line 1, tap_ppm: this key is not known here; did you mean tap_meter_ppm?"),
        (
            "\nproduct_l_min = 180",
            "today.toml, line 2, product_l_min: 180 is not plausible; give a number from 0 to 100",
        ),
        ("membrane_bar = 50", "(1 bar is 100 kPa or 14.5 psi)"),
        ("membrane_bar = -1", "-1 is not plausible"),
        ("membrane_bar = nan", "nan is not plausible"),
        ("membrane_bar = inf", "inf is not plausible"),
        ("membrane_bar = true", "true is not what is needed here; give a number"),
        ('drain_l_min = "never"', '"never" is not what is needed here; give a number'),
        ('shutoff_closes_bar = "no"', 'or "never" where the drain went on'),
        ("tap_meter_ppm = [1]", "a list is not what is needed here"),
        ("tap_meter_ppm = 3,1", "write decimals with a point"),
        ("[tap]\nmeter_ppm = 3", "this key is not known here"),
        ("# nothing yet", "no reading is given"),
    ],
)
def test_what_is_wrong_is_said_where_it_stands(text: str, said: str, tmp_path: Path) -> None:
    assert said in refusal(text, tmp_path)


def test_every_problem_is_said_at_once(tmp_path: Path) -> None:
    assert refusal("tap_ppm = 1\nmembrane_bar = 99\ndrain_l_min = false", tmp_path).count("today.toml, line") == 3


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        read_measured(tmp_path / "none.toml")


def test_a_reading_of_a_line_that_is_not_there_is_refused(tmp_path: Path) -> None:
    site = Site.load(ROOT / "tests" / "independent" / "year_sites" / "spill-croft.toml")
    assert site.plant.resin is None
    path = tmp_path / "today.toml"
    path.write_text("tap_meter_ppm = 66\nafter_resin_meter_ppm = 0\n", encoding="utf-8")
    with pytest.raises(InputError, match="line 2, after_resin_meter_ppm: this plant has no resin"):
        make_first_run(site.document, site.plant, site.tap, measured=path)
