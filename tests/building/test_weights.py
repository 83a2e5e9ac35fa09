"""Weights follow from volumes; a van is judged by what is left of its payload."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from rinsewright.building.weights import van_loads
from rinsewright.site.reading import read_text
from tests.building.checks import Case
from tests.building.plants import site_text

TESTS = Path(__file__).parents[1]
SITES = sorted([*TESTS.glob("cases/sites/*.toml"), *TESTS.glob("papers/plants/*.toml")])


def _id(source: int | Path) -> str:
    return source.stem if isinstance(source, Path) else str(source)


@pytest.mark.parametrize("source", [*range(20), *SITES], ids=_id)
def test_rows_add_up_and_the_tank_holds_its_water(source):
    case = Case.of(source.read_text(encoding="utf-8") if isinstance(source, Path) else site_text(source))
    weights = case.sheet.weights
    assert math.isclose(weights.dry_kg, sum(row.dry_kg for row in weights.rows))
    assert math.isclose(weights.full_kg, sum(row.full_kg for row in weights.rows))
    assert all(0.0 < row.dry_kg <= row.full_kg for row in weights.rows)
    if case.plant.tank:  # 1 L of water is 1 kg
        row = next(row for row in weights.rows if row.what == case.plant.tank.name)
        assert row.full_kg - row.dry_kg == pytest.approx(1000.0 * case.plant.tank.volume)


@pytest.mark.parametrize(
    ("keys", "left", "verdict"),
    [
        ("payload_kg = 800\nkit_kg = 100", 300.0, "fine"),
        ("payload_kg = 520\nkit_kg = 100", 20.0, "look"),
        ("payload_kg = 450\nkit_kg = 100", -50.0, "stop"),
        ("payload_kg = 399", None, "stop"),  # the water alone is too much
        ("payload_kg = 800", None, "look"),
        ("kit_kg = 100", None, "look"),
    ],
)
def test_a_van_of_400_litres(keys, left, verdict):
    text = f'schema = 1\n[demand]\n[[demand.vans]]\nname = "blue"\ntank_litres = 400\n{keys}\n'
    (van,) = van_loads(read_text(text, "yard.toml"))
    assert (van.tank_kg, van.left_kg, van.verdict) == (400.0, left, verdict)
    assert van.why
    assert van.do
    assert ("not known" in van.why) == (left is None and verdict == "look")
