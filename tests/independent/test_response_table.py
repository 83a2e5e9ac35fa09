"""The table of a plant's response against the plant solved outright, at random places within the table's range.

Wanted: flows within 0.3 %, the flux of salt within 1.5 %. Where the float is all but shut, both are measured by what
the plant does fully open: a tenth of its product, half of its flux of salt, which hardly changes until then.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rinsewright import Site
from rinsewright.plant.membrane.channel import Spread
from rinsewright.quantities import kelvin
from rinsewright.seasons.table import build_table
from rinsewright.solve.result import solve_batch
from tests.independent.seconds import fully_open, throttle_of

HERE = Path(__file__).parent
SITES = {
    "tern-quay": HERE.parent.parent / "examples" / "tern-quay.toml",
    **{name: HERE / "year_sites" / f"{name}.toml" for name in ("heron-lock", "withy-farm", "long-row")},
}
POINTS = 1000
FACTORS = (0.7, 1.1)
PERCENTILES = (50.0, 95.0, 99.0, 100.0)
FLOW, SALT = 3e-3, 15e-3


@cache
def compared(name: str) -> dict[str, Any]:
    """Table over direct solve, less one, at random conditions; half of the openings even, half even in their log."""
    site = Site.load(SITES[name])
    plant, rng = site.plant, np.random.default_rng(7)
    standing = plant.supply.standing_pa
    ranges = (float(kelvin(4.0)), float(kelvin(21.0))), (0.8 * standing, 1.25 * standing), FACTORS
    temperature, pressure, factor = (rng.uniform(*ends, POINTS) for ends in ranges)
    opening = np.where(rng.random(POINTS) < 0.5, rng.uniform(0.01, 1.0, POINTS), 10.0 ** rng.uniform(-3.0, 0.0, POINTS))
    table = build_table(plant, site.tap.water, *ranges)
    curve = table.at(temperature, pressure, factor)
    waters = site.tap.water[np.zeros(POINTS, dtype=np.intp)].with_temperature(temperature)
    batch = solve_batch(
        fully_open(plant), waters, pressure, spread=Spread(water=factor), throttle=throttle_of(plant, opening, 1)
    )
    state = batch.state
    assert state.solved.all()
    direct = {
        "product": state.product_flow,
        "drain": state.drain_flow,
        "salt": state.product_flow * batch.waters.product.conductivity,
        "membrane_pa": state.membrane_pa,
    }
    least = {"product": 0.1, "drain": 0.0, "salt": 0.5, "membrane_pa": 0.0}  # of what it is fully open
    off = {}
    for key, found in direct.items():
        values = getattr(curve, key)
        # Straight between the table's openings, which fall.
        table_says = np.array([np.interp(-o, -table.openings, row) for o, row in zip(opening, values, strict=True)])
        off[key] = (table_says - found) / np.maximum(found, least[key] * values[:, 0])
    return off | {"share": direct["product"] / curve.product[:, 0]}


@pytest.mark.parametrize("name", SITES)
def test_table_gives_what_the_plant_does(name: str) -> None:
    off = compared(name)
    for key in ("product", "drain", "salt", "membrane_pa"):
        at = np.percentile(np.abs(off[key]), PERCENTILES)
        worst = int(np.argmax(np.abs(off[key])))
        print(
            f"{name:10} {key:11} off by "
            + ", ".join(f"{100 * value:.3f} % ({p:g})" for p, value in zip(PERCENTILES, at, strict=True))
            + f"; worst where the product is {off['share'][worst]:.3f} of its full flow"
        )
    for key, most in (("product", FLOW), ("drain", FLOW), ("membrane_pa", FLOW), ("salt", SALT)):
        assert np.max(np.abs(off[key])) < most, key
