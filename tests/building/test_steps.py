"""The steps of twenty plants: sentences whole, cautions at the place, resin and tank kept out of the first rinse."""

from __future__ import annotations

import re

import pytest

from rinsewright.plant.product.line import ResinVessel, Tank
from tests.building.checks import Case
from tests.building.plants import site_text


@pytest.fixture(scope="module", params=range(20))
def case(request):
    return Case.of(site_text(request.param))


def test_resin_and_tank_come_after_the_rinse(case):
    titles = [step.title for step in case.sheet.steps]
    behind = {part.key for part in case.plant.product if isinstance(part, ResinVessel | Tank)}
    if not (case.plant.elements and behind):
        assert "Fit the by-pass" not in titles
        return
    assert titles.index("Fit the by-pass") < titles.index("Rinse to drain for an hour or more")
    last = max(n for n, step in enumerate(case.sheet.steps) if behind & set(step.parts))
    assert last > titles.index("Rinse to drain for an hour or more")


def test_no_membranes_no_preservative_in_any_sentence(case):
    said = " ".join(f"{s.title} {s.why} {s.do} {s.check} {s.caution}" for s in case.sheet.steps).lower()
    assert ("preservative" in said) == bool(case.plant.elements)
    assert ("residual-current" in said) == any("also.rcd" in step.items for step in case.sheet.steps)


def test_gloves_stand_at_every_membrane(case):
    steps = [step for step in case.sheet.steps if step.drawing == "membrane-in"]
    assert len(steps) == len(case.plant.elements)
    assert all("gloves" in step.caution and "brine seal" in step.do for step in steps)


def test_sentences_are_whole(case):
    for step in case.sheet.steps:
        for text in (step.why, step.do, step.check, *filter(None, [step.caution])):
            assert re.fullmatch(r"[A-Z“].*[.]", text), text
            assert "  " not in text
            assert ".." not in text
