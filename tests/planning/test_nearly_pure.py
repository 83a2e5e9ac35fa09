"""Water with hardly any salt: what pure water itself reads is no salt, and no limit lies below it."""

from __future__ import annotations

import numpy as np
import pytest

from rinsewright.api import Site
from rinsewright.errors import InputError
from rinsewright.water.conductivity import PURE_WATER
from rinsewright.water.state import Water

SITE = """
[water]
temperature_c = 12
ions_mg_l = {ions}
[supply]
standing_bar = 4.2
[demand]
litres_per_day = {{ mon = 320 }}
{limit}
[plant]
membranes = [ {{ part = "4040 low pressure" }} ]
drain = [ {{ part = "restrictor", flow_l_min = 1.5, at_bar = 4 }} ]
product = [ {{ part = "check" }}, {{ part = "resin", litres = 7 }} ]
"""


def verdicts(ions: str) -> dict[str, dict[str, str]]:
    answer = Site.loads(SITE.format(ions=ions, limit="")).plan().answer()
    return {verdict["what"]: verdict for verdict in answer["verdicts"]}


def test_the_floor_is_that_of_the_model() -> None:
    pure = Water(np.zeros((1, 17)), np.zeros(1), np.full(1, 298.15))
    assert float(pure.conductivity[0]) == pytest.approx(PURE_WATER, rel=1e-4)


def test_a_tap_without_salt_is_no_reason_to_stop() -> None:
    said = verdicts("{ Na = 0.01 }")
    assert said["what passes the membranes"]["verdict"] == "fine"
    assert "nothing for the membranes to keep back" in said["what passes the membranes"]["why"]
    assert said["the water analysis"]["verdict"] == "fine"
    assert "less than a report can tell" in said["the water analysis"]["why"]


def test_one_ion_of_a_real_water_still_is_one() -> None:
    said = verdicts("{ Na = 20 }")
    assert said["the water analysis"]["verdict"] == "stop"
    assert "+100.0 %" in said["the water analysis"]["why"]


@pytest.mark.parametrize(
    ("limit", "pure"),
    [("product_limit_ppm = 0.01", "0.028"), ("product_limit_ppm = 0.03\nmeter_factor = 0.7", "0.039")],
)
def test_a_limit_below_pure_water_is_refused(limit: str, pure: str) -> None:
    expected = rf"demand\.product_limit_ppm: no water reads below pure water, {pure} ppm"
    with pytest.raises(InputError, match=expected):
        Site.loads(SITE.format(ions="{ Ca = 104, HCO3 = 285 }", limit=limit))
