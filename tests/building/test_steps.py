"""The steps of twenty plants: sentences whole, cautions at the place, resin and tank kept out of the first rinse."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from rinsewright.plant.check import Check
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.treatment import Cartridge, Inhibitor, Softener, Solenoid
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.membrane.restrictor import Flush, Restrictor
from rinsewright.plant.product.line import Blend, DeliveryPump, Lift, ResinVessel, ShutOff, Tank
from tests.building.checks import Case
from tests.building.plants import site_text
from tests.building.small import RESIN, SEDIMENT, TANK, TUBE, site

TESTS = Path(__file__).parents[1]
SITES = sorted([*TESTS.glob("cases/sites/*.toml"), *TESTS.glob("papers/plants/*.toml")])
OF_ONE_PART: dict[str, type] = {  # a drawing shows this part alone, so a step that has it must be about such a part
    "cartridge": Cartridge, "membrane-in": Element, "element-series": Element, "element-parallel": Element,
    "restrictor": Restrictor, "flush": Flush, "shutoff": ShutOff, "resin": ResinVessel, "lift": Lift,
    "delivery": DeliveryPump, "softener": Softener, "inhibitor": Inhibitor, "solenoid": Solenoid, "blend": Blend,
}  # fmt: skip
WORDS: dict[str, type | tuple[type, ...]] = {  # a word, and the parts without which it is not said
    "preservative": Element, "brine seal": Element, "membrane": Element, "float": Tank, "overflow": Tank,
    "resin": ResinVessel, "salt": (Softener, Element), "pump": (Pump, DeliveryPump), "inhibitor": Inhibitor,
    "check valve": (Check, ShutOff), "shut-off": ShutOff, "carbon": Cartridge,
    "electric": (Pump, Solenoid, DeliveryPump),
}  # fmt: skip


def _id(source: int | Path) -> str:
    return source.stem if isinstance(source, Path) else str(source)


@pytest.fixture(scope="module", params=[*range(20), *SITES], ids=_id)
def case(request):
    source = request.param
    return Case.of(source.read_text(encoding="utf-8") if isinstance(source, Path) else site_text(source))


def test_every_part_has_a_step_and_no_step_a_part_that_is_absent(case):
    assert {key for step in case.sheet.steps for key in step.parts} == {part.key for part in case.parts}
    assert {key for step in case.sheet.steps for key in step.items} <= set(case.rows)


def test_a_drawing_of_a_part_stands_only_where_there_is_one(case):
    for step in case.sheet.steps:
        if (kind := OF_ONE_PART.get(step.drawing)) and "also.restrictor" not in step.items:
            assert any(part.key in step.parts for part in case.of_kind(kind)), step.title


@pytest.mark.parametrize("word", WORDS)
def test_a_word_is_said_only_of_what_the_plant_has(case, word):
    said = " ".join(f"{s.title} {s.why} {s.do} {s.check} {s.caution}" for s in case.sheet.steps).lower()
    if re.search(rf"\b{word}", said):
        assert any(isinstance(part, WORDS[word]) for part in case.parts), word


def test_the_place_carries_the_plant_full_of_water(case):
    place = next(step for step in case.sheet.steps if step.title == "Choose where it stands")
    assert f"about {case.sheet.weights.full_kg:,.0f} kg" in place.do


def test_all_that_joins_stands_in_a_step(case):
    used = {key for step in case.sheet.steps for key in step.items}
    assert {row.key for row in case.sheet.items if row.needed} <= used


def test_every_joint_is_made_at_one_step_where_both_its_parts_stand(case):
    made = [fit for step in case.sheet.steps for fit in step.joints]
    assert Counter(map(id, made)) == Counter(map(id, case.sheet.fits))
    placed: set[str] = {"supply", "bucket"}
    for step in case.sheet.steps:
        placed |= {*step.parts, *step.items}
        ends = {key.removesuffix(".housing") for fit in step.joints for key in fit.at}
        assert ends - placed <= {"drain"}, step.title


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


def test_each_step_says_how_much_it_uses_and_together_it_is_what_is_bought():
    case = Case.of(site(elements=2, feed=[TUBE, SEDIMENT]))
    element = case.rows["membrane element: 4040"]
    put_in = [step for step in case.sheet.steps if step.drawing == "membrane-in"]
    used = [want.quantity for step in put_in for want in step.wants if want.key == element.key]
    assert used == [1.0, 1.0]
    assert element.quantity == 2.0
    laid = next(step for step in case.sheet.steps if step.parts == ("plant.feed[0]",))
    assert [(want.key, want.quantity) for want in laid.wants] == [("tube: 12 mm", 6.0)]
    together = next(step for step in case.sheet.steps if step.drawing == "element-parallel")
    assert ("membrane element: 4040", 2.0) in [(want.key, want.quantity) for want in together.wants]


@pytest.mark.parametrize("product", [[RESIN, TANK], [RESIN]], ids=["tank", "to the pole"])
def test_resin_alone_is_told_of_no_valve_that_it_has_not(product):
    """Without membranes nothing leads past resin and tank: the first water goes through them, and is thrown away."""
    case = Case.of(site(feed=[TUBE, SEDIMENT, '{ part = "cartridge", media = "carbon" }'], product=product))
    assert "also.bypass" not in case.rows
    said = " ".join(f"{step.title} {step.do} {step.check}" for step in case.sheet.steps)
    for phrase in ("Turn the water to", "Bring in", "Rinse to drain", "shut off until", "by-pass"):
        assert phrase not in said
    (first,) = [step for step in case.sheet.steps if step.title == "Throw the first water away"]
    assert first.parts == tuple(f"plant.product[{place}]" for place in range(len(product)))
    with_membranes = Case.of(site(elements=1, product=product))
    assert any(step.do.startswith("Turn the water to") for step in with_membranes.sheet.steps)
