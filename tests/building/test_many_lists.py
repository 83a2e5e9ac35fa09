"""The parts lists of two hundred plants: what does not need steps, quick enough for every time."""

from __future__ import annotations

import json

import pytest

from tests.building.checks import LIST_RULES, Case
from tests.building.plants import site_text

HUNDREDS = range(200)


@pytest.mark.parametrize("ten", range(0, len(HUNDREDS), 10))
def test_every_rule_of_the_list(ten):
    for number in HUNDREDS[ten : ten + 10]:
        case = Case.of_list(site_text(number))
        found = {rule.__name__: complaints for rule in LIST_RULES if (complaints := [*rule(case)])}
        assert found == {}, number


@pytest.mark.parametrize("number", range(5))
def test_the_same_plant_gives_the_same_list(number):
    first, again = (json.dumps(Case.of_list(site_text(number)).sheet.answer()) for _ in range(2))
    assert first == again
