"""Build sheets of twenty varied plants: every rule of `checks` holds, and each rule fails on a sheet that breaks it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from time import perf_counter
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rinsewright.building.result import BuildSheet, Want
from rinsewright.building.sheet import make_build
from rinsewright.catalogue.loader import load_catalogue
from rinsewright.errors import InputError
from rinsewright.plant.check import Check
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.treatment import Cartridge, Inhibitor, Softener, Solenoid
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.membrane.restrictor import Flush, Restrictor
from rinsewright.plant.product.line import Blend, DeliveryPump, Lift, ResinVessel, ShutOff, Tank
from rinsewright.plant.tube import Tube
from rinsewright.site.build import build_plant
from rinsewright.site.reading import read_text
from tests.building.checks import RULES, Case
from tests.building.plants import site_text

TWENTY = range(20)
MANY = range(20, 200)


@cache
def case_of(number: int) -> Case:
    return Case.of(site_text(number))


# ---- the plants ----


def test_twenty_plants_hold_every_kind():
    cases = [case_of(number) for number in TWENTY]
    kinds = {type(part) for case in cases for part in case.parts}
    assert kinds == {
        *(Tube, Check, Cartridge, Pump, Softener, Inhibitor, Solenoid, Element, Restrictor, Flush),
        *(ShutOff, Lift, ResinVessel, Tank, DeliveryPump, Blend),
    }
    assert {tuple(len(stage) for stage in case.plant.stages) for case in cases} >= {
        *((), (1,), (2,), (1, 1), (3,), (2, 1), (4,), (1, 1, 1)),
    }
    assert {case.plant.supply.kind for case in cases} == {"mains", "break-tank", "well"}
    assert {case.plant.resin_behind_tank for case in cases} == {True, False}
    assert {case.plant.tank is None for case in cases} == {True, False}
    assert any(case.plant.recirculation for case in cases)
    assert any(bed.vessels == 2 for case in cases for bed in case.of_kind(ResinVessel))
    tubes = [tube for case in cases for tube in case.of_kind(Tube)]
    said = " ".join(tube.outside or "hose" * tube.hose for tube in tubes)
    assert all(word in said for word in (" in", " mm", "hose"))
    assert any(tube.outside is None and not tube.hose for tube in tubes)
    assert {bool(case.document.model.kit) for case in cases} == {True, False}
    assert any(case.sheet.vans for case in cases)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
@pytest.mark.parametrize("number", TWENTY)
def test_every_rule_on_twenty_plants(number, rule):
    assert [*rule(case_of(number))] == []


@pytest.mark.longer
@pytest.mark.parametrize("number", MANY)
def test_every_rule_on_many_plants(number):
    case = Case.of(site_text(number))
    assert {rule.__name__: found for rule in RULES if (found := [*rule(case)])} == {}


@pytest.mark.parametrize("number", TWENTY)
def test_the_same_plant_gives_the_same_sheet(number):
    again = Case.of(site_text(number)).sheet
    assert _bytes(again) == _bytes(case_of(number).sheet)
    assert again.text() == case_of(number).sheet.text()


def _bytes(sheet: BuildSheet) -> bytes:
    return json.dumps(sheet.answer(), allow_nan=False).encode()


def test_how_long_a_sheet_takes(record_property):
    document = read_text(site_text(16), "yard.toml")
    plant = build_plant(document, load_catalogue())
    start = perf_counter()
    sheet = make_build(document, plant)
    record_property("build sheet of four elements", f"{1e3 * (perf_counter() - start):.0f} ms")
    assert sheet.items
    assert sheet.steps


# ---- the rules can fail ----

Tamper = Callable[[BuildSheet], BuildSheet]


def whole() -> Case:
    """A plant with nearly everything, that keeps all rules."""
    return Case.of(FULL_PLANT)


FULL_PLANT = """
schema = 1
[supply]
kind = "mains"
standing_bar = 4.5
[[demand.vans]]
name = "van"
tank_litres = 400
payload_kg = 900
kit_kg = 200
[plant]
arrangement = "series"
[[plant.feed]]
part = "tube"
bore_mm = 9.0
outside = "12 mm"
length_m = 6.0
[[plant.feed]]
part = "cartridge"
media = "sediment"
[[plant.feed]]
part = "pump"
curve = [{ flow_l_min = 0, bar = 6 }, { flow_l_min = 16, bar = 3 }]
[[plant.membranes]]
nominal = "4040"
area_m2 = 7.2
length_m = 0.92
rated = { product_l_h = 300, rejection_pct = 98.5, pressure_bar = 6.9, nacl_mg_l = 500 }
[[plant.membranes]]
nominal = "4040"
area_m2 = 7.2
length_m = 0.92
rated = { product_l_h = 300, rejection_pct = 98.5, pressure_bar = 6.9, nacl_mg_l = 500 }
[[plant.drain]]
part = "restrictor"
flow_l_min = 3.0
at_bar = 4.0
[[plant.product]]
part = "check"
[[plant.product]]
part = "shutoff"
[[plant.product]]
part = "resin"
litres = 7.0
[[plant.product]]
part = "tank"
litres = 650
[[kit]]
what = "sediment cartridge"
[[kit]]
what = "taste filter"
"""


def _items(edit: Callable[[Any], Any]) -> Tamper:
    """Every row of the parts list changed, or left out where the edit gives none."""
    return lambda sheet: replace(sheet, items=tuple(new for row in sheet.items if (new := edit(row)) is not None))


def _without(start: str) -> Tamper:
    return _items(lambda row: None if row.key.startswith(start) else row)


def _row(start: str, **keys: Any) -> Tamper:
    return _items(lambda row: replace(row, **keys) if row.key.startswith(start) else row)


def _step(where: Callable[[Any], bool], **keys: Any) -> Tamper:
    def tampered(sheet: BuildSheet) -> BuildSheet:
        found = next(step for step in sheet.steps if where(step))
        steps = (replace(step, **keys) if step is found else step for step in sheet.steps)
        return replace(sheet, steps=tuple(steps))

    return tampered


def _of_stage(stage: str) -> Callable[[Any], bool]:
    return lambda step: bool(step.stage == stage)


def _twice(sheet: BuildSheet) -> BuildSheet:
    return replace(sheet, items=(*sheet.items, sheet.items[0]))


def _backwards(sheet: BuildSheet) -> BuildSheet:
    return replace(sheet, steps=sheet.steps[::-1])


def _nobody_builds(key: str) -> Tamper:
    def tampered(sheet: BuildSheet) -> BuildSheet:
        steps = (replace(step, parts=tuple(part for part in step.parts if part != key)) for step in sheet.steps)
        return replace(sheet, steps=tuple(steps))

    return tampered


def _unjoined(key: str) -> Tamper:
    return lambda sheet: replace(sheet, fits=tuple(fit for fit in sheet.fits if key not in fit.at))


def _all_fit(sheet: BuildSheet) -> BuildSheet:
    fits = (replace(fit, joint=replace(fit.joint, fits=True, adapter=None)) for fit in sheet.fits)
    return replace(sheet, fits=tuple(fits))


def _heavier(**keys: Any) -> Tamper:
    return lambda sheet: replace(sheet, weights=replace(sheet.weights, **keys))


def _van(**keys: Any) -> Tamper:
    return lambda sheet: replace(sheet, vans=tuple(replace(van, **keys) for van in sheet.vans))


# what is done to the sheet, and the rule that has to notice
TAMPERED: dict[str, tuple[Tamper, str]] = {
    "a row twice": (_twice, "every_row_once"),
    "a part left out": (_without("booster pump"), "every_part_once"),
    "the tank left out": (_without("tank"), "every_part_once"),
    "a row of nothing": (_row("sediment cartridge", quantity=0.0), "rows_are_whole"),
    "a row for an absent part": (_row("also.relief", serves=("plant.feed[9]",)), "rows_are_whole"),
    "an extra that is needed": (_row("kit[1]", needed=True), "rows_are_whole"),
    "a carbon cartridge too many": (_row("sediment cartridge", what="carbon cartridge"), "consumables_follow"),
    "one element of two": (_row("membrane element", quantity=1.0), "every_part_once"),
    "one membrane housing": (_row("membrane housing", quantity=1.0), "consumables_follow"),
    "too little resin": (_row("mixed-bed resin", quantity=3.0), "consumables_follow"),
    "no relief valve": (_without("also.relief"), "forgotten_when_called_for"),
    "no air gap at the drain": (_without("also.drain_gap"), "forgotten_when_called_for"),
    "no grease": (_without("also.grease"), "forgotten_when_called_for"),
    "no tape": (_without("also.tape"), "forgotten_when_called_for"),
    "a check valve too many": (_row("also.relief", key="also.check"), "forgotten_when_called_for"),
    "a part joined to nothing": (_unjoined("plant.product[2]"), "every_joint_is_judged"),
    "a gauge joined to nothing": (_unjoined("also.gauge"), "what_is_added_is_joined"),
    "a stop valve of the tap's own ends": (_row("also.stop", origin="derived"), "what_is_added_is_joined"),
    "everything fits": (_all_fit, "every_joint_is_judged"),
    "fittings left out": (_without("fitting: "), "every_misfit_is_answered"),
    "one fitting for all": (_row("fitting: ", quantity=99.0), "every_misfit_is_answered"),
    "no links": (_row("tube: ", quantity=6.5), "tube_is_enough"),
    "far too much tube": (_row("tube: ", quantity=60.0), "tube_is_enough"),
    "a step without a check": (_step(_of_stage("feed"), check=""), "steps_are_whole"),
    "a step with what is not listed": (_step(_of_stage("feed"), wants=(Want("also.gold", 1.0),)), "steps_are_whole"),
    "a step for an absent part": (_step(_of_stage("feed"), parts=("plant.feed[7]",)), "no_step_for_what_is_absent"),
    "a drawing of an absent part": (_step(_of_stage("feed"), drawing="softener"), "no_step_for_what_is_absent"),
    "words of an absent part": (
        _step(_of_stage("feed"), do="Screw in the carbon cartridge."),
        "no_step_for_what_is_absent",
    ),
    "a part that nobody builds": (_nobody_builds("plant.feed[1]"), "every_part_has_a_step"),
    "an element that nobody puts in": (_nobody_builds("plant.membranes[1]"), "elements_have_steps_of_their_own"),
    "against the water": (_backwards, "steps_follow_the_water"),
    "lighter than its rows": (_heavier(dry_kg=1.0), "weights_add_up"),
    "as heavy dry as full": (_heavier(full_kg=0.0), "weights_add_up"),
    "more payload left": (_van(left_kg=800.0), "vans_add_up"),
    "a van that is too heavy": (_van(verdict="stop"), "vans_add_up"),
    "a lighter tank": (_van(tank_kg=40.0), "vans_add_up"),
    "more in the kit": (_row("tube: ", kit_quantity=5.0), "kit_adds_up"),
    "the taste filter is needed": (_without("kit[1]"), "kit_adds_up"),
}


def test_the_whole_plant_breaks_no_rule():
    assert whole().breaks == []


@pytest.mark.parametrize(("tamper", "rule"), TAMPERED.values(), ids=TAMPERED)
def test_every_rule_can_fail(tamper, rule):
    case = whole()
    assert rule in replace(case, sheet=tamper(case.sheet)).breaks


def test_the_rules_on_the_answer_can_fail(monkeypatch):
    case = whole()
    answer = case.sheet.answer()
    spoilt = {**answer, "order": answer["order"][1:], "weight_dry_kg": "40 kg"}
    monkeypatch.setattr(BuildSheet, "answer", lambda sheet: spoilt)
    assert case.breaks == ["order_is_what_is_missing", "the_answer_keeps_the_contract"]


def test_every_rule_is_seen_to_fail():
    seen = {rule for _, rule in TAMPERED.values()} | {"order_is_what_is_missing", "the_answer_keeps_the_contract"}
    assert seen == {rule.__name__ for rule in RULES}


# ---- bad words ----

BAD = {  # what is put in for the line of the full plant, and the key that the sentence has to name
    "an end of no kind": ('outside = "12 mm"', 'outside = "12 mm"\nends = ["glue 12 mm", "push-fit 12 mm"]', "ends"),
    "a thread of no size": ('part = "pump"', 'part = "pump"\nends = ["G 7/9 male", "G 1/2 male"]', "ends"),
    "a thread without a gender": ('part = "pump"', 'part = "pump"\nends = ["G 1/2", "G 1/2 male"]', "ends"),
    "one end": ('part = "pump"', 'part = "pump"\nends = ["G 1/2 male"]', "ends"),
    "two ends of a membrane": ('nominal = "4040"', 'nominal = "4040"\nends = ["Rp 1/2", "Rp 1/2"]', "ends"),
    "ends that are a number": ('part = "pump"', 'part = "pump"\nends = 12', "ends"),
    "ends that are one word": ('part = "pump"', 'part = "pump"\nends = "push-fit 12 mm"', "ends"),
    "an outside without a unit": ('outside = "12 mm"', 'outside = "12"', "outside"),
    "an outside that is a number": ('outside = "12 mm"', "outside = 12", "outside"),
    "an outside within the bore": ('outside = "12 mm"', 'outside = "8 mm"', "outside"),
    "an outside of a hose": ('outside = "12 mm"', 'outside = "12 mm"\nhose = true', "outside"),
    "an end of the tap of no kind": ("standing_bar = 4.5", 'standing_bar = 4.5\nend = "spout"', "end"),
    "a thing without a name": ('what = "taste filter"', "quantity = 1", "kit"),
    "none of a thing": ('what = "taste filter"', 'what = "taste filter"\nquantity = 0', "quantity"),
    "less than none": ('what = "taste filter"', 'what = "taste filter"\nquantity = -1', "quantity"),
    "a quantity in words": ('what = "taste filter"', 'what = "taste filter"\nquantity = "two"', "quantity"),
    "a key that is not known": ('what = "taste filter"', 'what = "taste filter"\nquantty = 2', "quantty"),
    "a page that is no address": ("schema = 1", 'schema = 1\n[site]\npage = "yard"', "page"),
}


@pytest.mark.parametrize(("line", "instead", "key"), BAD.values(), ids=BAD)
def test_bad_words_give_one_sentence_with_its_place(line, instead, key):
    text = FULL_PLANT.replace(line, instead, 1)
    assert text != FULL_PLANT
    with pytest.raises(InputError) as caught:
        build_plant(read_text(text, "yard.toml"), load_catalogue())
    said = str(caught.value)
    assert len(caught.value.problems) == 1
    assert "\n" not in said
    assert said.startswith("yard.toml")
    assert key in said
    number = int(re.findall(r"line (\d+)", said)[0])
    first = text[: text.index(instead)].count("\n") + 1
    assert first - 1 <= number <= first + instead.count("\n")


SPOKEN = (
    "G",
    "R",
    "Rp",
    "NPT",
    "push-fit",
    "tail",
    "hose",
    "tube",
    "1/2",
    "3/4",
    "12 mm",
    "3/8 in",
    "male",
    "female",
    "0",
    '"',
)
ANY_WORDS = st.lists(st.sampled_from(SPOKEN), max_size=4).map(" ".join) | st.text(
    st.characters(codec="utf-8", exclude_categories=["C"]), max_size=20
)


@given(words=ANY_WORDS, key=st.sampled_from(("outside", "end", "ends", "what")))
def test_any_words_make_a_sheet_or_one_sentence(words, key):
    line = {
        "outside": 'outside = "12 mm"',
        "end": "standing_bar = 4.5",
        "ends": 'part = "pump"',
        "what": 'what = "taste filter"',
    }
    said = json.dumps(words, ensure_ascii=False)
    instead = {
        "outside": f"outside = {said}",
        "end": f"standing_bar = 4.5\nend = {said}",
        "ends": f'part = "pump"\nends = [{said}, "push-fit 12 mm"]',
        "what": f"what = {said}",
    }
    try:
        broken = {*Case.of(FULL_PLANT.replace(line[key], instead[key], 1)).breaks}
    except InputError as error:
        refused = error
    else:
        assert not broken - ({"kit_adds_up"} if key == "what" else set())  # what is named changes what is extra
        return
    assert len(refused.problems) == 1
    assert str(refused).startswith("yard.toml, line ")
    assert key in str(refused)
    assert "\n" not in str(refused)
