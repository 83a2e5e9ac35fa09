"""Every answer has the contract's form, whatever the site."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pydantic import ValidationError

import rinsewright
from rinsewright import Site
from tests.cases.running import ROOT, SITES, answer_of, numbers, run
from tests.contract.models import ANSWERS, Banded, PlanAnswer, WaterAnswer

DEMO = ROOT / "examples" / "tern-quay.toml"
FILES = [DEMO, *sorted(SITES.glob("*.toml"))]
HEAD = 'schema = 1\n[site]\nname = "Bare Lane"\n'
FIELD = "[water]\ntemperature_c = 12.0\n[water.field]\nmeter_ppm = 180\n"
SALT = "[water]\ntemperature_c = 15.0\n[water.ions_mg_l]\nNa = 196.7\nCl = 303.3\n"
NEVER_NULL = {"today", "year", "cost_split", "verdicts", "cautions", "assumptions", "cartridges"}


@pytest.mark.parametrize("command", ["water", "solve", "plan", "year", "firstrun"])
@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_form(command, file):
    ANSWERS[command].model_validate(answer_of(command, file))


@pytest.mark.parametrize("text", [HEAD + FIELD, HEAD + SALT], ids=["a meter reading alone", "one salt alone"])
def test_water_of_few_words(text):
    WaterAnswer.model_validate(json.loads(json.dumps(Site.loads(text).water().answer(), allow_nan=False)))


def test_field_readings_give_bands_and_an_exact_analysis_of_one_salt_few():
    wide, narrow = (Site.loads(HEAD + text).water().answer()["bands"] for text in (FIELD, SALT))
    assert wide["hardness_mg_l_caco3"]["low"] < wide["hardness_mg_l_caco3"]["high"]
    assert "hardness_mg_l_caco3" not in narrow


def test_form_of_an_element(tmp_path):
    text = DEMO.read_text(encoding="utf-8").split("[[plant.membranes]]")[1].split("[[")[0].split("# ----")[0]
    file = tmp_path / "element.toml"
    file.write_text(text, encoding="utf-8")
    done = run("element", "--rated", file, "--json")
    assert done.returncode == 0, done.stderr
    ANSWERS["element"].model_validate(json.loads(done.stdout))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_the_plans_year_is_the_years(file):
    """One member without chance is what `plan` shows of the year."""
    plan, year = answer_of("plan", file)["year"], answer_of("year", file)
    assert {key: year[key] for key in plan} == plan
    assert set(year) - set(plan) == {"schema", "program", "phreeqc", "data", "seed"}
    assert year["seed"] is None


@pytest.mark.longer
def test_years_drawn_have_bands_and_the_same_seed_gives_the_same():
    first, again, shared, other = (
        json.loads(run("year", DEMO, "--years", "12", "--json", *more).stdout)
        for more in ((), (), ("--workers", "2"), ("--seed", "5"))
    )
    ANSWERS["year"].model_validate(first)
    assert first == again == shared
    assert other["product_m3"] != first["product_m3"]
    assert first["product_m3"]["low"] < first["product_m3"]["value"] < first["product_m3"]["high"]


@pytest.mark.parametrize("command", ["water", "solve", "plan", "year", "firstrun"])
def test_versions(command):
    answer = answer_of(command, DEMO)
    assert answer["schema"] == 1
    assert answer["program"] == rinsewright.__version__


def test_output_is_one_object_without_nan():
    def refuse(word: str) -> float:
        raise AssertionError(f"{word} in the output")

    for file in FILES:
        text = json.dumps(answer_of("plan", file))
        json.loads(text, parse_constant=refuse)


def test_keys_are_the_same_for_every_site():
    """Down to the last, but where a list or a whole table is empty: no drain, no membranes, another media."""
    plans = {file.stem: answer_of("plan", file) for file in FILES}
    demo = plans["tern-quay"]
    for name, plan in plans.items():
        assert set(plan) == set(demo), name
        assert all(plan[key] is not None for key in NEVER_NULL), name
        for key in ("today", "coldest", "warmest", "year"):
            assert set(plan[key]) == set(demo[key]), name
            assert all(
                set(part) == set(demo[key][each])
                for each, part in plan[key].items()
                if isinstance(part, dict) and each not in ("ions_mg_l", "saturation")
            ), name


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_numbers_are_of_this_world(file):
    """No number of a small plant reaches ten million, none that is not zero is smaller than a ten-billionth."""
    for path, number in numbers(answer_of("plan", file)):
        assert abs(number) < 1e7, path
        assert number == 0 or abs(number) > 1e-12, path


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_bands_hold_their_value_and_are_not_nothing(file):
    plan = PlanAnswer.model_validate(answer_of("plan", file))
    assert plan.resin is not None
    if plan.resin.needed:
        for banded in (plan.resin.litres_to_first_slip, plan.resin.litres_to_limit, plan.resin.days_to_limit):
            assert banded.low is not None
            assert banded.value is not None
            assert banded.high is not None
            assert banded.low < banded.high
    for cartridge in plan.cartridges:
        assert cartridge.days_low is not None
        assert cartridge.days is not None
        assert cartridge.days_high is not None
        assert cartridge.days_low <= cartridge.days <= cartridge.days_high


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_verdicts_stand_worst_first_and_each_subject_once(file):
    verdicts = answer_of("plan", file)["verdicts"]
    order = [("stop", "look", "fine").index(verdict["verdict"]) for verdict in verdicts]
    assert order == sorted(order)
    subjects = [verdict["what"] for verdict in verdicts]
    assert len(set(subjects)) == len(subjects)
    for verdict in verdicts:
        assert (verdict["do"] == "Nothing.") <= (verdict["verdict"] == "fine"), verdict


@pytest.mark.parametrize(
    "wrong",
    [
        {"value": 1.0},
        {"value": 1.0, "low": 2.0, "high": 3.0},
        {"value": "1", "low": 0.0, "high": 3.0},
        {"value": float("nan"), "low": None, "high": None},
        {"value": 1.0, "low": None, "high": None, "unit": "L"},
    ],
)
def test_the_models_refuse(wrong):
    with pytest.raises(ValidationError):
        Banded.model_validate(wrong)


@pytest.mark.parametrize("change", [("resin", 3.0), ("verdicts", [{"what": "a", "verdict": "good"}]), ("more", 1)])
def test_the_models_refuse_a_changed_plan(change):
    with pytest.raises(ValidationError):
        PlanAnswer.model_validate({**answer_of("plan", DEMO), change[0]: change[1]})


def test_the_same_site_gives_the_same_answer(tmp_path):
    """Twice the same, from another folder, and whatever the order of its tables."""
    again = run("plan", DEMO, "--json")
    assert json.loads(again.stdout) == answer_of("plan", DEMO)
    copy = Path(tmp_path) / "other name.toml"
    copy.write_text(DEMO.read_text(encoding="utf-8"), encoding="utf-8")
    assert answer_of("plan", copy) == answer_of("plan", DEMO)
