"""``rinsewright firstrun``: what it takes, what it says, what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rinsewright.cli import main
from rinsewright.firstrun.expected import KEYS
from rinsewright.planning.answers import FirstRunAnswer

DEMO = str(Path(__file__).parents[2] / "examples" / "tern-quay.toml")
ALONE = str(Path(__file__).parents[1] / "cases" / "sites" / "soft-resin-alone.toml")
HEALTHY = {
    "tap_meter_ppm": 312,
    "product_meter_ppm": 13,
    "after_resin_meter_ppm": 0,
    "product_l_min": 2.9,
    "drain_l_min": 2.8,
    "membrane_bar": 3.5,
    "shutoff_closes_bar": 2.5,
    "reopens_bar": 1.9,
}


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:
    assert main(["firstrun", *arguments, "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    given = json.loads(out)
    FirstRunAnswer.model_validate(given)
    return given


def measured(folder: Path, **readings: object) -> str:
    file = folder / "readings.toml"
    file.write_text("".join(f"{key} = {json.dumps(value)}\n" for key, value in readings.items()), encoding="utf-8")
    return str(file)


def test_bands_alone_where_nothing_was_measured(capsys):
    given = answer(capsys, DEMO)
    assert list(given["expected"]) == list(KEYS)
    assert given["expected"] == given["before"]
    assert given["lines"] == []
    assert given["verdict"] is None


def test_a_healthy_sheet_is_fine_and_narrows_the_rest(capsys, tmp_path):
    given = answer(capsys, DEMO, "--measured", measured(tmp_path, **HEALTHY))
    assert [line["what"] for line in given["lines"]] == list(KEYS)
    assert {line["verdict"] for line in given["lines"]} == {"fine"}
    assert given["verdict"] == "fine"
    width = {part: given[part]["product_l_min"] for part in ("expected", "before")}
    assert width["expected"]["high"] - width["expected"]["low"] < width["before"]["high"] - width["before"]["low"]


def test_cold_water_and_low_pressure_move_what_is_expected(capsys):
    warm = answer(capsys, DEMO)["expected"]["product_l_min"]
    cold = answer(capsys, DEMO, "--temperature", "5")["expected"]["product_l_min"]
    weak = answer(capsys, DEMO, "--running-bar", "2.5")["expected"]["product_l_min"]
    read = answer(capsys, DEMO, "--running-bar", "2.5", "--running-l-min", "6")["expected"]["product_l_min"]
    assert cold["value"] < 0.85 * warm["value"]
    assert weak["high"] < warm["low"]
    assert read["high"] < warm["low"]


def test_a_shut_off_that_never_closed_is_a_stop(capsys, tmp_path):
    given = answer(capsys, DEMO, "--measured", measured(tmp_path, shutoff_closes_bar="never"))
    assert given["lines"][0]["measured"] is None
    assert given["verdict"] == "stop"


def test_lines_that_the_plant_has_not_are_not_known(capsys):
    given = answer(capsys, ALONE)["expected"]
    assert given["membrane_bar"] == {"value": None, "low": None, "high": None}
    assert given["after_resin_meter_ppm"]["value"] is not None


def test_text_says_the_answer_first(capsys, tmp_path):
    assert main(["firstrun", DEMO, "--measured", measured(tmp_path, **HEALTHY | {"product_meter_ppm": 60})]) == 0
    text = capsys.readouterr().out
    lines = text.splitlines()
    assert lines[0] == "Tern Quay yard"
    assert lines[2].startswith("stop: ")
    assert "Wear gloves." in text


@pytest.mark.parametrize(
    ("arguments", "readings", "said"),
    [
        (["--running-l-min", "6"], {}, "--running-bar"),
        (["--temperature", "80"], {}, "0 to 45"),
        ([], {"product_ppm": 12}, "product_meter_ppm"),
        ([], {"membrane_bar": "high"}, "membrane_bar"),
        ([], {"product_l_min": 180}, "L/min"),
    ],
)
def test_refusals_in_one_sentence(capsys, tmp_path, arguments, readings, said):
    more = ["--measured", measured(tmp_path, **readings)] if readings else []
    assert main(["firstrun", DEMO, *arguments, *more]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert len(err.strip().splitlines()) == 1
    if readings:
        assert "readings.toml, line 1" in err


def test_a_line_that_the_plant_has_not_is_refused(capsys, tmp_path):
    assert main(["firstrun", ALONE, "--measured", measured(tmp_path, membrane_bar=3.0)]) == 2
    assert "no membrane" in capsys.readouterr().err


def test_without_a_demand_it_says_that_there_is_no_handover(capsys, tmp_path):
    text = Path(DEMO).read_text(encoding="utf-8")
    start, end = text.index("[demand]"), text.index("[plant]")
    site = tmp_path / "site.toml"
    site.write_text(text[:start] + text[end:], encoding="utf-8")
    assert main(["firstrun", str(site), "--out", str(tmp_path / "out")]) == 0
    assert "no handover pack" in capsys.readouterr().err
    assert sorted(file.name for file in (tmp_path / "out").iterdir()) == ["firstrun.html", "firstrun.pdf"]
