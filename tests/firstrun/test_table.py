"""The table that a page carries: against whole predictions at random points, and quick enough to wait for."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from rinsewright.api import Site
from rinsewright.errors import NoWorkingState
from rinsewright.firstrun.expected import KEYS, RESOLUTION, Conditions, bands_over, predict
from rinsewright.firstrun.table import Table, make_table
from rinsewright.planning.ensemble import Band

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "examples" / "tern-quay.toml"
PLANTS = [DEMO, *sorted((ROOT / "tests" / "independent" / "year_sites").glob("*.toml"))]
# What the interpolation, and few members in place of all, may cost: a share, or of the instrument's last digit.
SHARE = {"value": 0.02, "low": 0.05, "high": 0.05}
OF_A_DIGIT = 0.5


@cache
def site(path: Path) -> Site:
    return Site.load(path)


@cache
def table(path: Path) -> Table:
    found = site(path)
    return make_table(found.document, found.plant, found.tap)


def worst(path: Path, points: int, seed: int) -> tuple[dict[str, float], int]:
    """Of every line the largest error over what is allowed, and how many points could be compared."""
    found, rng, compared = site(path), np.random.default_rng(seed), 0
    here = table(path)
    off = dict.fromkeys(KEYS, 0.0)
    for point in range(points):
        t = float(rng.uniform(here.temperature_c[0], here.temperature_c[-1]))
        p = float(rng.uniform(here.running_bar[0], here.running_bar[-1])) if point % 5 else None
        try:
            whole = predict(found.document, found.plant, found.tap, Conditions(t, p))
        except NoWorkingState:
            continue
        compared += 1
        for key in KEYS:
            off[key] = max(off[key], error(key, here.band(key, t, p), whole.band(key)))
    return off, compared


def error(key: str, told: Band, true: Band) -> float:
    """As a multiple of what is allowed; none where the table does not say."""
    if told.value is None or true.value is None:
        return 0.0
    pairs = [(share, getattr(told, edge), getattr(true, edge)) for edge, share in SHARE.items()]
    return max(abs(a - b) / max(share * b, OF_A_DIGIT * RESOLUTION[key]) for share, a, b in pairs)


def test_fifty_random_points_of_the_example(record_property: Callable[[str, object], None]) -> None:
    off, compared = worst(DEMO, 50, 1)
    record_property(
        "bands off the whole prediction, as a share of what is allowed", {k: round(v, 2) for k, v in off.items()}
    )
    assert compared == 50
    assert max(off.values()) < 1.0


@pytest.mark.longer
@pytest.mark.parametrize("path", PLANTS[1:], ids=lambda path: path.stem)
def test_ten_random_points_of_other_plants(path: Path) -> None:
    off, compared = worst(path, 10, 2)
    assert compared > 5
    assert max(off.values()) < 1.0, off


def test_it_says_nothing_outside_its_grid() -> None:
    here = table(DEMO)
    cold, warm, least, most = 2.9, 21.1, here.running_bar[0] - 0.01, here.running_bar[-1] + 0.01
    for t, p in ((cold, 4.0), (warm, 4.0), (12.0, least), (12.0, most), (cold, None)):
        assert here.band("product_l_min", t, p) == Band(None)


def test_the_grid_holds_season_and_supply() -> None:
    here = table(DEMO)
    assert here.temperature_c.tolist() == pytest.approx([3.0, 7.5, 12.0, 16.5, 21.0])
    assert here.running_bar[0] < 2.1
    assert here.running_bar[-1] == pytest.approx(1.15 * 4.2)


def test_the_plants_own_conditions_are_told_as_the_whole_prediction_tells_them() -> None:
    """12 °C is a point of the grid, so that without a pressure nothing is between."""
    found = site(DEMO)
    whole = predict(found.document, found.plant, found.tap, Conditions(12.0))
    for key in KEYS:
        assert error(key, table(DEMO).band(key, 12.0), whole.band(key)) < 1e-6


def test_many_conditions_at_once_are_those_one_by_one() -> None:
    found, t, p = site(DEMO), np.array([5.0, 12.0, 19.0]), np.array([2.5, 3.9, 4.4])
    together = bands_over(found.document, found.plant, found.tap, t, p, 300)
    for day in range(3):  # but for the last steps of the solver, which ends when all its lanes have
        alone = predict(found.document, found.plant, found.tap, Conditions(t[day], p[day]), members=300)
        for key in KEYS:
            for edge in SHARE:
                assert getattr(together[key][day], edge) == pytest.approx(getattr(alone.band(key), edge), rel=1e-4)


def test_where_the_plant_cannot_work_nothing_is_told() -> None:
    found = site(DEMO)
    bands = bands_over(found.document, found.plant, found.tap, np.array([12.0, 12.0]), np.array([0.2, 4.0]), 50)
    assert bands["product_l_min"][0] == Band(None)
    assert bands["product_l_min"][1].value is not None


def test_a_line_that_the_plant_does_not_have_is_left_out() -> None:
    found = site(DEMO)
    bare = make_table(found.document, replace(found.plant, product=()), found.tap).answer()
    assert set(bare["bands"]) == set(KEYS) - {"after_resin_meter_ppm", "shutoff_closes_bar", "reopens_bar"}


def test_it_is_small(record_property: Callable[[str, object], None]) -> None:
    found = Site.load(DEMO)
    size = len(json.dumps(make_table(found.document, found.plant, found.tap).answer()))
    record_property("table of the example", f"{size} bytes")
    assert size < 12_000
