"""What a plant should read: the bands against the plain solve, against physics, and not vain."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from rinsewright.api import Site
from rinsewright.errors import InputError, NoWorkingState
from rinsewright.firstrun.expected import KEYS, Conditions, predict
from rinsewright.firstrun.record import FirstRun, make_first_run
from rinsewright.quantities import BAR, L_MIN
from rinsewright.solve.result import solve_batch

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "examples" / "tern-quay.toml"
SITES = [DEMO, *sorted((ROOT / "tests" / "independent" / "year_sites").glob("*.toml"))]


@pytest.fixture(scope="module")
def demo() -> Site:
    return Site.load(DEMO)


def first_run(site: Site, **given: object) -> FirstRun:
    return make_first_run(site.document, site.plant, site.tap, **given)  # type: ignore[arg-type]


def width(run: FirstRun, key: str) -> float:
    band = run.expected[key]
    assert band.low is not None
    assert band.high is not None
    return band.high / band.low


def value(run: FirstRun, key: str) -> float:
    found = run.expected[key].value
    assert found is not None
    return found


def test_central_values_are_those_of_the_plain_solve(demo: Site) -> None:
    run, solved = first_run(demo), demo.solve()
    assert value(run, "product_l_min") == pytest.approx(solved["product"]["flow_l_min"], rel=1e-4)
    assert value(run, "drain_l_min") == pytest.approx(solved["drain"]["flow_l_min"], rel=1e-4)
    assert value(run, "membrane_bar") == pytest.approx(solved["feed"]["membrane_bar"], rel=1e-4)
    # The display's 2 % per kelvin is not quite the water's own law: a few per cent at 12 °C.
    assert value(run, "product_meter_ppm") == pytest.approx(solved["product"]["meter_ppm"], rel=0.05)
    assert value(run, "tap_meter_ppm") == pytest.approx(solved["feed"]["meter_ppm"], rel=0.05)


@pytest.mark.parametrize("path", SITES, ids=lambda path: path.stem)
def test_bands_hold_their_value_and_are_not_vain(path: Path) -> None:
    run = first_run(Site.load(path))
    for key, band in run.expected.items():
        if band.value is not None:
            assert band.low is not None, key
            assert band.high is not None, key
            assert 0.0 <= band.low <= band.value <= band.high, key
    product, reading = run.expected["product_l_min"], run.expected["product_meter_ppm"]
    assert product.value is not None
    assert 0.7 * product.value < (product.low or 0.0) <= (product.high or np.inf) < 1.3 * product.value
    assert reading.value is not None
    assert reading.value / 1.9 < (reading.low or 0.0) <= (reading.high or np.inf) < 1.9 * reading.value


def test_the_shut_off_closes_at_its_share_of_the_feed_pressure(demo: Site) -> None:
    run, plant = first_run(demo), demo.plant
    assert plant.shutoff is not None
    closes, reopens = value(run, "shutoff_closes_bar"), value(run, "reopens_bar")
    # With no product the feed stands between the running and the standing pressure.
    least, most = value(run, "membrane_bar"), plant.supply.standing_pa / BAR
    assert plant.shutoff.closes_at_ratio * least < closes < plant.shutoff.closes_at_ratio * most
    assert reopens == pytest.approx(plant.shutoff.reopens_at_ratio * most)
    weak = replace(
        plant, product=tuple(replace(p, closes_at_ratio=0.995) if p is plant.shutoff else p for p in plant.product)
    )
    never = make_first_run(demo.document, weak, demo.tap)
    assert never.expected["shutoff_closes_bar"].value is None


def test_it_closes_where_a_throttled_product_line_gets_there(demo: Site) -> None:
    """Against the plain solve with a valve at the end of the product line, shut little by little."""
    throttle = np.geomspace(1e13, 1e15, 60)
    many = np.zeros(60, dtype=np.intp)
    batch = solve_batch(demo.plant, demo.tap.water[many], np.full(60, demo.plant.supply.standing_pa), throttle=throttle)
    ratio = batch.state.product_pa / batch.state.membrane_pa
    assert demo.plant.shutoff is not None
    closes = np.interp(demo.plant.shutoff.closes_at_ratio, ratio, batch.state.product_pa) / BAR
    assert value(first_run(demo), "shutoff_closes_bar") == pytest.approx(closes, rel=0.01)


def test_cold_water_makes_less_and_purer_product(demo: Site) -> None:
    cold, warm = first_run(demo, temperature_c=5.0), first_run(demo, temperature_c=20.0)
    assert value(cold, "product_l_min") < 0.75 * value(warm, "product_l_min")
    assert value(cold, "product_meter_ppm") < value(warm, "product_meter_ppm")
    assert width(cold, "product_l_min") > width(warm, "product_l_min")  # the cold law is the less certain


def test_a_pressure_read_while_running_is_the_pressure_the_plant_gets(demo: Site) -> None:
    own = demo.solve()["feed"]["flow_l_min"]
    at_own = demo.plant.supply.standing_pa / BAR - demo.plant.supply.resistance * (own * L_MIN) ** 2 / BAR
    free, read, at_flow = (
        first_run(demo),
        first_run(demo, running_bar=at_own),
        first_run(demo, running_bar=at_own, running_l_min=own),
    )
    for key in ("product_l_min", "membrane_bar", "shutoff_closes_bar", "reopens_bar"):
        assert value(read, key) == pytest.approx(value(free, key), rel=1e-6)
        assert value(at_flow, key) == pytest.approx(value(free, key), rel=1e-6)
    assert width(read, "membrane_bar") < width(free, "membrane_bar")
    assert value(first_run(demo, running_bar=at_own - 1.0), "product_l_min") < 0.8 * value(free, "product_l_min")


def test_fresh_resin_leaves_nought_or_one(demo: Site) -> None:
    band = first_run(demo).expected["after_resin_meter_ppm"]
    assert (band.low, band.high) == (0.0, 1.0)


def test_lines_that_a_plant_does_not_have_are_not_known(demo: Site) -> None:
    bare = replace(demo.plant, product=())
    run = make_first_run(demo.document, bare, demo.tap)
    unknown = {key for key in KEYS if run.expected[key].value is None}
    assert unknown == {"after_resin_meter_ppm", "shutoff_closes_bar", "reopens_bar"}
    resin_only = make_first_run(demo.document, replace(demo.plant, stages=(), drain=()), demo.tap)
    known = {key for key in KEYS if resin_only.expected[key].value is not None}
    assert known == {"tap_meter_ppm", "after_resin_meter_ppm", "product_l_min"}
    assert resin_only.rinse is None


def test_members_share_one_meter(demo: Site) -> None:
    """At tap and product the same meter's error: lines that nothing else ties so closely."""
    seen = predict(demo.document, demo.plant, demo.tap, Conditions(12.0), members=4000).members
    tap, product = np.log(seen[:, KEYS.index("tap_meter_ppm")]), np.log(seen[:, KEYS.index("product_meter_ppm")])
    assert 0.1 < np.corrcoef(tap, product)[0, 1] < 0.6


def test_the_same_again_is_the_same(demo: Site) -> None:
    assert first_run(demo).answer() == first_run(demo).answer()


@pytest.mark.parametrize(
    ("given", "key"),
    [
        ({"temperature_c": 60.0}, "temperature_c"),
        ({"running_bar": -1.0}, "running_bar"),
        ({"running_bar": float("nan")}, "running_bar"),
        ({"running_l_min": 6.0}, "running_l_min"),
    ],
)
def test_implausible_conditions_are_refused(demo: Site, given: dict[str, float], key: str) -> None:
    with pytest.raises(InputError) as refused:
        first_run(demo, **given)
    assert refused.value.problems[0].key == key


def test_a_plant_without_a_working_state_says_so(demo: Site) -> None:
    with pytest.raises(NoWorkingState):
        first_run(demo, running_bar=0.2)


def test_the_rinse_keeps_resin_and_tank_out(demo: Site) -> None:
    run = first_run(demo)
    assert run.rinse is not None
    assert run.rinse.bypass == ("resin", "tank")
    assert run.rinse.litres == pytest.approx(60.0 * (value(run, "product_l_min") + value(run, "drain_l_min")), rel=1e-6)
    assert [s.hours for s in run.rinse.settling] == [1.0, 6.0, 24.0]
    assert all(s.reading[0] < 1.0 < s.reading[1] for s in run.rinse.settling)


def made_up(name: str, members: int = 300, **keys: str) -> dict[str, tuple[float, float, float]]:
    """The bands of a made-up site, some words of its file put in place of others."""
    text = (ROOT / "tests" / "firstrun" / "sites" / f"{name}.toml").read_text(encoding="utf-8")
    for word, instead in keys.items():
        text = re.sub(rf"{word} = [\d.]+", f"{word} = {instead}", text)
    site = Site.loads(text)
    prediction = predict(site.document, site.plant, site.tap, Conditions(12.0), members)
    bands = {key: prediction.band(key) for key in KEYS}
    return {key: (b.value, b.low or 0.0, b.high or 0.0) for key, b in bands.items() if b.value is not None}


def test_the_shut_off_opens_at_a_share_of_what_the_pumps_switch_leaves() -> None:
    """The pump stops at its cut-out; with one that is never reached, the whole head stands before the valve."""
    low, high = (made_up("heron-lock", cut_out_bar=bar)["reopens_bar"][0] for bar in ("8.0", "20.0"))
    assert low == pytest.approx(0.45 * 8.0)
    assert high == pytest.approx(0.45 * (2.6 + 6.0))


def test_behind_resin_and_blend_stands_the_blends_share_of_the_tap() -> None:
    """Give or take the valve: in logarithms its 8 % and the tap's own spread."""
    bands = made_up("linnet-mews", members=1000)
    (tap, *tap_ends), (value, low, high) = bands["tap_meter_ppm"], bands["after_resin_meter_ppm"]
    assert value == pytest.approx(0.1 * tap, rel=0.1)  # thin water carries a little more for each of its ions
    assert np.log(high / low) > 1.1 * np.log(tap_ends[1] / tap_ends[0])
    assert high < 1.3 * value
