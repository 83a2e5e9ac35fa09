"""Readings judged: the right line says the right word, and a reading narrows the rest."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rinsewright.api import Site
from rinsewright.firstrun.expected import KEYS, RESOLUTION, Conditions, Prediction, predict
from rinsewright.firstrun.judging import LIMITS, case_of, judge_sheet, leak_share
from rinsewright.firstrun.measured import Measured
from rinsewright.firstrun.narrowing import Joint, narrow
from rinsewright.firstrun.record import FirstRun, make_first_run
from rinsewright.quantities import BAR, L_MIN

DEMO = Path(__file__).parents[2] / "examples" / "tern-quay.toml"


@pytest.fixture(scope="module")
def demo() -> Site:
    return Site.load(DEMO)


@pytest.fixture(scope="module")
def prediction(demo: Site) -> Prediction:
    return predict(demo.document, demo.plant, demo.tap, Conditions(12.0))


@pytest.fixture
def healthy(prediction: Prediction) -> Measured:
    """What the central plant's displays show."""
    return {
        key: round(float(value) / RESOLUTION[key]) * RESOLUTION[key]
        for key, value in zip(KEYS, prediction.central, strict=True)
    }


def judged(site: Site, measured: Measured, **given: Any) -> FirstRun:
    readings = {key: "never" if value is None else value for key, value in measured.items()}
    return make_first_run(site.document, site.plant, site.tap, measured=readings, **given)


def words(run: FirstRun) -> dict[str, str]:
    return {line.what: line.verdict for line in run.lines}


def why(run: FirstRun, key: str) -> str:
    return next(line.why for line in run.lines if line.what == key)


def test_a_healthy_sheet_is_fine(demo: Site, healthy: Measured) -> None:
    run = judged(demo, healthy)
    assert list(words(run)) == list(KEYS)
    assert set(words(run).values()) == {"fine"}
    assert run.verdict == "fine"
    for name, band in run.plant_after.items():
        assert (band.low or 0.0) < 1.0 < (band.high or 0.0), name


def test_nothing_measured_judges_nothing(demo: Site) -> None:
    run = make_first_run(demo.document, demo.plant, demo.tap)
    assert run.verdict is None
    assert run.lines == ()
    assert run.cannot_tell == ()
    assert run.narrowed == run.expected


def test_healthy_members_seldom_get_a_look(demo: Site, prediction: Prediction) -> None:
    """Sheets of other members than those the bands are made of, rounded as displays round."""
    others = predict(demo.document, demo.plant, demo.tap, Conditions(12.0), members=300, seed=1).members
    steps = np.array([RESOLUTION[key] for key in KEYS])
    found = []
    for row in np.round(others / steps) * steps:
        sheet = judge_sheet(case_of(demo.plant, prediction, dict(zip(KEYS, map(float, row), strict=True)), 0.5, 10.0))
        found.append(sheet.verdict)
    assert found.count("fine") >= 0.92 * len(found)
    assert found.count("stop") <= 0.01 * len(found)


def test_too_small_a_restrictor_stops_and_spares_the_others(demo: Site, healthy: Measured) -> None:
    run = judged(demo, healthy | {"drain_l_min": 1.4})
    assert words(run) == dict.fromkeys(KEYS, "fine") | {"drain_l_min": "stop"}
    assert run.verdict == "stop"
    assert "restrictor" in run.why
    assert run.plant_after["restrictor_flow"].value == pytest.approx(0.5, abs=0.05)


def test_feed_water_past_the_membranes_is_named_and_measured(
    demo: Site, prediction: Prediction, healthy: Measured
) -> None:
    tap, made, drain = (healthy[key] or 0.0 for key in ("tap_meter_ppm", "product_l_min", "drain_l_min"))
    leak = 0.03 * (made + drain)  # of the feed
    salty = ((healthy["product_meter_ppm"] or 0.0) * made + tap * leak) / (made + leak)
    sheet = healthy | {"product_meter_ppm": round(salty), "product_l_min": made + leak}
    run = judged(demo, sheet)
    assert words(run)["product_meter_ppm"] in ("look", "stop")
    assert {word for key, word in words(run).items() if key != "product_meter_ppm"} == {"fine"}
    assert "O-ring" in why(run, "product_meter_ppm")
    assert leak_share(case_of(demo.plant, prediction, sheet, 0.5, 10.0)) == pytest.approx(0.03, abs=0.006)
    assert any("O-ring" in sentence for sentence in run.cannot_tell)


def test_spent_resin_is_told_from_the_products_own_reading(demo: Site, healthy: Measured) -> None:
    product = healthy["product_meter_ppm"]
    run = judged(demo, healthy | {"after_resin_meter_ppm": product})
    assert words(run)["after_resin_meter_ppm"] == "stop"
    assert "spent" in why(run, "after_resin_meter_ppm")
    slight = judged(demo, healthy | {"after_resin_meter_ppm": 3.0})
    assert words(slight)["after_resin_meter_ppm"] == "look"
    assert "spent" not in why(slight, "after_resin_meter_ppm")


def test_low_pressure_is_one_cause_not_three(demo: Site, healthy: Measured) -> None:
    """One bar lost on the way: flows follow the pressure and are fine at it."""
    weak = make_first_run(demo.document, demo.plant, demo.tap, running_bar=2.9)
    shown = {key: weak.expected[key].value for key in ("membrane_bar", "product_l_min", "drain_l_min")}
    run = judged(demo, healthy | shown)
    assert words(run)["membrane_bar"] in ("look", "stop")
    assert words(run)["product_l_min"] == words(run)["drain_l_min"] == "fine"
    assert "stop tap" in run.do


def test_another_meters_factor_is_recognised(demo: Site, healthy: Measured) -> None:
    tap = healthy["tap_meter_ppm"] or 0.0
    run = judged(demo, healthy | {"tap_meter_ppm": round(tap * 0.7 / 0.5)})
    assert words(run)["tap_meter_ppm"] == "look"
    assert "factor 0.7" in why(run, "tap_meter_ppm")
    odd = judged(demo, healthy | {"tap_meter_ppm": round(tap * 2.2)})
    assert "no usual meter factor" in why(odd, "tap_meter_ppm")


def test_a_shut_off_that_never_closes_stops_the_handover(demo: Site, healthy: Measured) -> None:
    sheet = {key: value for key, value in healthy.items() if key != "reopens_bar"} | {"shutoff_closes_bar": None}
    run = judged(demo, sheet)
    line = next(line for line in run.lines if line.what == "shutoff_closes_bar")
    assert (line.measured, line.verdict) == (None, "stop")
    assert "never" in line.why


@pytest.mark.parametrize(
    ("key", "times", "word"),
    [
        ("membrane_bar", 0.8, "look"),
        ("membrane_bar", 1.5, "stop"),
        ("drain_l_min", 2.5, "stop"),
        ("product_l_min", 0.6, "look"),
        ("product_l_min", 1.6, "look"),
        ("product_meter_ppm", 0.2, "look"),
        ("shutoff_closes_bar", 0.6, "look"),
        ("reopens_bar", 1.5, "look"),
    ],
)
def test_every_line_is_judged_on_both_sides(demo: Site, healthy: Measured, key: str, times: float, word: str) -> None:
    run = judged(demo, healthy | {key: (healthy[key] or 0.0) * times})
    assert words(run)[key] == word
    assert why(run, key)
    assert run.verdict == word


def test_a_reading_narrows_the_rest(prediction: Prediction) -> None:
    before = {key: prediction.band(key) for key in KEYS}
    low = narrow(prediction, {"membrane_bar": 3.1, "tap_meter_ppm": 330.0}).lines
    for key in ("product_l_min", "drain_l_min", "shutoff_closes_bar", "reopens_bar"):
        assert (low[key].value or 0.0) < (before[key].value or 0.0), key
        assert (low[key].high or 0.0) - (low[key].low or 0.0) < (before[key].high or 0.0) - (before[key].low or 0.0)
    assert (low["product_meter_ppm"].value or 0.0) > (before["product_meter_ppm"].value or 0.0)


def test_narrowing_is_the_regression_of_the_members(prediction: Prediction) -> None:
    """Against plain least squares on the same members (NumPy's), for product flow given pressure and drain."""
    joint = Joint.of(prediction)
    names = ("membrane_bar", "drain_l_min", "product_l_min")
    logs = np.log(prediction.members[:, [KEYS.index(name) for name in names]])
    logs = logs[np.isfinite(prediction.members[:, KEYS.index("shutoff_closes_bar")])]
    away = logs - logs.mean(axis=0)
    slopes, rest, *_ = np.linalg.lstsq(away[:, :2], away[:, 2], rcond=None)
    measured = {"membrane_bar": 3.3, "drain_l_min": 2.9}
    found = joint.given("product_l_min", measured, {})
    middle = np.log(prediction.central[[KEYS.index(name) for name in names]])
    by_hand = middle[2] + slopes @ (np.log([3.3, 2.9]) - middle[:2])
    assert found.mean == pytest.approx(by_hand, abs=1e-9)
    assert found.spread == pytest.approx(np.sqrt(rest[0] / (len(away) - 1)), rel=1e-9)


def test_a_line_far_off_counts_for_less(prediction: Prediction) -> None:
    joint = Joint.of(prediction)
    measured = {"drain_l_min": 1.4}
    trusted = joint.given("product_meter_ppm", measured, {})
    doubted = joint.given("product_meter_ppm", measured, {"drain_l_min": -7.0})
    alone = joint.given("product_meter_ppm", {}, {})
    assert abs(doubted.mean - alone.mean) < 0.2 * abs(trusted.mean - alone.mean)
    assert trusted.spread < doubted.spread < alone.spread


@pytest.mark.parametrize("read", [True, False], ids=["running pressure read", "not read"])
def test_a_kinked_hose_lowers_what_hangs_on_the_pressure(demo: Site, read: bool) -> None:
    """The same plant solved with a thinner hose gives the readings: one finding, and less product still is a second."""
    kinked = Site.loads(DEMO.read_text(encoding="utf-8").replace("bore_mm = 9.0", "bore_mm = 5.5")).solve()
    tap, drain, product = kinked["feed"], kinked["drain"], kinked["product"]
    at_tap = float(demo.plant.supply.pressure(np.array(tap["flow_l_min"] * L_MIN))) / BAR
    conditions = Conditions(12.0, at_tap, tap["flow_l_min"]) if read else Conditions(12.0)
    prediction = predict(demo.document, demo.plant, demo.tap, conditions)
    measured = {
        "membrane_bar": tap["membrane_bar"],
        "drain_l_min": drain["flow_l_min"],
        "product_l_min": product["flow_l_min"],
    }
    off = narrow(prediction, measured).off
    assert measured["membrane_bar"] < prediction.central[KEYS.index("membrane_bar")] - 0.9
    assert off["membrane_bar"] < -LIMITS["membrane_bar"].low
    assert abs(off["drain_l_min"]) < 1.5
    assert abs(off["product_l_min"]) < 1.5
    weak = narrow(prediction, measured | {"product_l_min": 0.6 * product["flow_l_min"]}).off
    assert weak["product_l_min"] < -LIMITS["product_l_min"].low


def test_limits_close_towards_the_stop() -> None:
    for key, limits in LIMITS.items():
        assert limits.word(0.0) == "fine", key
        assert limits.low < limits.stop_low, key
        assert limits.high < limits.stop_high, key


def test_the_answer_has_the_contracts_keys(demo: Site, healthy: Measured) -> None:
    answer = judged(demo, healthy).answer()
    assert tuple(answer["expected"]) == KEYS
    assert {"schema", "program", "phreeqc", "data", "seed", "verdict", "lines"} <= set(answer)
    for band in answer["expected"].values():
        assert set(band) == {"value", "low", "high"}
    for line in answer["lines"]:
        assert {"what", "measured", "expected", "verdict", "why"} <= set(line)


@pytest.mark.parametrize(
    ("readings", "key", "told"),
    [
        ({"tap_meter_ppm": 13.0, "product_meter_ppm": 305.0}, "product_meter_ppm", "changed over"),
        ({"tap_meter_ppm": 13.0, "product_meter_ppm": 305.0}, "tap_meter_ppm", "changed over"),
        ({"product_meter_ppm": 310.0}, "product_meter_ppm", "no membrane does that"),
        ({"tap_meter_ppm": 305.0, "product_meter_ppm": 300.0}, "product_meter_ppm", "no membrane does that"),
        ({"product_meter_ppm": 150.0, "after_resin_meter_ppm": 200.0}, "after_resin_meter_ppm", "changed over"),
        ({"drain_l_min": 0.0}, "drain_l_min", "Nothing goes to the drain"),
        ({"shutoff_closes_bar": 1.7, "reopens_bar": 2.6}, "reopens_bar", "changed over"),
    ],
)
def test_what_no_plant_can_read_is_called_so(demo: Site, readings: Measured, key: str, told: str) -> None:
    run = judged(demo, readings)
    assert words(run)[key] != "fine"
    assert told in why(run, key)
    assert "% of the feed" not in why(run, key)
