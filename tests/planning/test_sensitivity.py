"""What moves the answer: held against plans of site files that were really changed, and against arithmetic."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from rinsewright import Site
from rinsewright.papers.plan import TARGETS
from rinsewright.planning.sensitivity import COST, LEAST, RESIN, SUMMER, WINTER
from tests.cases.running import ROOT, SITES

DEMO = ROOT / "examples" / "tern-quay.toml"
FILES = [DEMO, *sorted(SITES.glob("*.toml"))]


@cache
def answer(text: str) -> dict[str, Any]:
    return Site.loads(text).plan().answer()


def demo(*changes: tuple[str, str]) -> dict[str, Any]:
    """The demo's plan, with lines of its site file changed."""
    text = DEMO.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return answer(text)


def row(what: str, target: str) -> dict[str, Any]:
    found = [row for row in demo()["sensitivities"] if row["what"] == what and row["target"] == target]
    assert len(found) == 1, (what, target)
    return found[0]


@pytest.mark.parametrize(("end", "standing"), [("low", 3.7), ("high", 4.7)])
def test_half_a_bar_does_what_a_single_state_says(end: str, standing: float) -> None:
    """0.3 %: a batch's tables of transmission against one state's."""
    site = Site.load(DEMO)
    cold, warm = (site.solve(temperature_c=t, standing_bar=standing)["product"] for t in (5.0, 19.0))
    assert row("standing pressure", WINTER)[end] == pytest.approx(cold["flow_l_min"], rel=0.003)
    assert row("standing pressure", SUMMER)[end] == pytest.approx(warm["meter_ppm"], rel=0.003)


@pytest.mark.parametrize(("end", "factor"), [("low", 0.8), ("high", 1.2)])
def test_another_restrictor_does_what_another_site_file_says(end: str, factor: float) -> None:
    text = DEMO.read_text(encoding="utf-8")
    line = next(line for line in text.split("[[plant.drain]]")[1].splitlines() if line.startswith("flow_l_min"))
    flow = float(line.split("=")[1].split("#")[0])
    changed = demo((line, f"flow_l_min = {factor * flow:g}"))
    at_end = row("flow of the drain restrictor", WINTER)[end]
    assert at_end == pytest.approx(changed["coldest"]["product"]["flow_l_min"], rel=0.003)


@pytest.mark.parametrize(("end", "share"), [("low", 0.5), ("high", 0.7)])
def test_resin_goes_with_the_share_of_it_that_is_used(end: str, share: float) -> None:
    """What a bed takes up is in proportion to its capacity (arithmetic)."""
    central = demo()["resin"]["litres_to_limit"]["value"]
    assert row("usable share of the resin", RESIN)[end] == pytest.approx(central * share / 0.6, rel=1e-6)


@pytest.mark.parametrize(("end", "factor"), [("low", 0.8), ("high", 1.2)])
def test_prices_move_only_their_own_lines(end: str, factor: float) -> None:
    split = demo()["cost_split"]
    total = sum(split.values())
    for what, lines in (("water and sewerage", ("water", "sewerage")), ("resin", ("resin",)), ("labour", ("labour",))):
        expected = total + (factor - 1.0) * sum(split[line] for line in lines)
        assert row(f"price of {what}", COST)[end] == pytest.approx(expected, rel=1e-9)


def test_a_cost_scaled_is_near_a_year_marched_anew() -> None:
    """Resin with a capacity a tenth lower: the line of resin by the march, within a hundredth of the whole."""
    text = DEMO.read_text(encoding="utf-8")
    resin = text.index('part = "resin"')
    line = next(line for line in text[resin:].splitlines() if line.startswith("usable_share"))
    changed = demo((line, "usable_share = 0.5"))
    assert row("usable share of the resin", COST)["low"] == pytest.approx(changed["year"]["cost"]["value"], rel=0.02)


@pytest.mark.parametrize(
    "file",
    [pytest.param(file, id=file.stem, marks=() if n % 4 == 0 else pytest.mark.longer) for n, file in enumerate(FILES)],
)
def test_the_middle_is_the_plans_own_and_what_moves_it_most_comes_first(file: Any) -> None:
    plan = answer(file.read_text(encoding="utf-8"))
    rows = plan["sensitivities"]
    assert rows
    central = {
        WINTER: plan["coldest"] and plan["coldest"]["product"]["flow_l_min"],
        SUMMER: plan["warmest"] and plan["warmest"]["product"]["meter_ppm"],
        RESIN: plan["resin"] and plan["resin"]["litres_to_limit"]["value"],
        COST: plan["year"]["cost"]["value"],
    }
    assert [row["target"] for row in rows] == sorted((row["target"] for row in rows), key=list(TARGETS).index)
    for target in TARGETS:
        sizes = []
        for one in rows:
            if one["target"] == target:
                assert one["central"] == pytest.approx(central[target], rel=1e-12)
                ends = (one["low"], one["high"])
                far = [float("inf") if end is None else abs(end / one["central"] - 1.0) for end in ends]
                sizes.append(max(far))
        assert sizes == sorted(sizes, reverse=True)
        assert all(size >= LEAST for size in sizes)


def test_targets_are_those_that_the_page_knows() -> None:
    assert list(TARGETS) == [WINTER, SUMMER, RESIN, COST]


def test_water_never_colder_than_freezing() -> None:
    plan = demo(("coldest_c = 5.0", "coldest_c = 1.0"))
    texts = {row["low_text"] for row in plan["sensitivities"] if row["what"] == "water temperature"}
    assert texts == {"1 °C colder"}


def test_no_water_at_one_end_is_null() -> None:
    """A supply so weak that half a bar less makes nothing."""
    weak = (
        ("standing_bar = 4.2", "standing_bar = 0.7"),
        ("_bar = 4.0 }", "_bar = 0.65 }"),
        ("_bar = 3.4 }", "_bar = 0.6 }"),
    )
    plan = demo(*weak)
    found = next(row for row in plan["sensitivities"] if row["what"] == "standing pressure" and row["target"] == WINTER)
    assert found["low"] is None
    assert found["high"] > found["central"]
