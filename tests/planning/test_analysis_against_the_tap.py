"""What was measured at the tap against what the analysis gives: the plan must not stay silent."""

from __future__ import annotations

import pytest

from rinsewright.api import Site
from rinsewright.planning.points import at_its_points
from rinsewright.planning.verdicts.tap import analysis
from rinsewright.planning.verdicts.word import Verdict
from tests.cases.running import ROOT

DEMO = (ROOT / "examples" / "tern-quay.toml").read_text(encoding="utf-8")


def verdict(old: str, new: str) -> Verdict:
    assert old in DEMO
    site = Site.loads(DEMO.replace(old, new))
    found = analysis(at_its_points(site.document, site.plant, site.tap))
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("meter", "word"), [("305", "fine"), ("220", "fine"), ("200", "look"), ("470", "look"), ("30", "stop")]
)
def test_a_meter_that_reads_another_water(meter: str, word: str) -> None:
    found = verdict("meter_ppm = 305", f"meter_ppm = {meter}")  # by the analysis 311
    assert found.verdict == word
    assert (f"the meter at the tap reads {meter} ppm" in found.why) == (word != "fine")
    assert ("Measure again" in found.do) == (word != "fine")


def test_a_hardness_of_softened_water() -> None:
    found = verdict("hardness_mg_l_caco3 = 275", "hardness_mg_l_caco3 = 20")
    assert found.verdict == "stop"
    assert found.why.startswith("By the analysis it should be 278 mg/L as CaCO3, but the hardness measured at the tap")
    assert "softener" in found.do


def test_a_few_drops_apart_are_no_other_water() -> None:
    soft = DEMO
    for old, new in (("Ca = 104.0", "Ca = 6.0"), ("HCO3 = 285.0", "HCO3 = 20.0"), ("= 305", "= 45")):
        soft = soft.replace(old, new)
    site = Site.loads(soft.replace("hardness_mg_l_caco3 = 275", "hardness_mg_l_caco3 = 18"))
    found = analysis(at_its_points(site.document, site.plant, site.tap))
    assert found is not None
    assert "hardness" not in found.why
