"""The parts list: nothing twice, nothing that this plant does not have, nothing forgotten; and what the kit leaves out.

Which things are forgotten is common practice, no source; that each appears where its reason holds and nowhere else is
tested by key.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from rinsewright.building.bill import CUTTING, make_bill
from tests.building.small import RESIN, RESTRICTOR, SEDIMENT, TANK, TUBE, listed, read, site

DEMO = (Path(__file__).parents[2] / "examples" / "tern-quay.toml").read_text(encoding="utf-8")
PUMP = '{ part = "pump", curve = [{ flow_l_min = 0, bar = 5 }, { flow_l_min = 10, bar = 3 }] }'
KIT = """
[[kit]]
what = "Sediment filters"
size = '10"'
[[kit]]
what = "membrane"
size = "4040"
[[kit]]
what = "membrane housing"
size = "4040"
[[kit]]
what = "taste filter"
[[kit]]
what = "drain restrictor"
"""
FULL = site(elements=1, feed=[TUBE, SEDIMENT], kit=KIT)


# ---- what belongs to a part ----


def test_every_part_of_the_plant_is_in_the_list_once():
    _, plant = read(DEMO)
    rows = listed(DEMO)
    for part in (*plant.feed, *plant.elements, *plant.drain, *plant.product):
        assert part.key in rows[part.key].serves


def test_everything_that_serves_a_part_serves_one_that_is_there():
    _, plant = read(DEMO)
    there = {part.key for part in (*plant.feed, *plant.elements, *plant.drain, *plant.product)}
    assert all(set(row.serves) <= there for row in listed(DEMO).values())


def test_each_element_and_cartridge_has_a_housing_of_its_size():
    rows = listed(site(elements=2, feed=[TUBE, '{ part = "cartridge", size = "20 in sediment" }']))
    assert rows["plant.feed[1].housing"].size == rows["plant.feed[1]"].size == "20 in slim"
    assert rows["plant.membranes[1].housing"].size == "4040"


def test_tube_of_one_size_is_one_row_rounded_up_once_with_an_allowance_for_cutting():
    text = site(elements=2, feed=[TUBE, SEDIMENT, TUBE])
    bill = make_bill(*read(text))
    (row,) = [item for item in bill.items if item.kind == "tube"]
    laid = sum(cut.count * cut.length_m for cut in bill.way.cuts)
    assert row.unit == "m"
    assert laid * (1.0 + CUTTING) <= row.quantity < laid * (1.0 + CUTTING) + 0.5
    assert {"plant.feed[0]", "plant.feed[2]"} <= set(row.serves)
    assert "lengths assumed" in row.why


def test_links_are_cut_from_the_tube_that_the_file_has_and_cost_as_much():
    dear, cheap = (f"{TUBE[:-2]}, price = {price} }}" for price in (2.0, 1.5))
    rows = [item for item in make_bill(*read(site(elements=1, feed=[SEDIMENT, dear]))).items if item.kind == "tube"]
    assert [row.price for row in rows] == [2.0]
    rows = [item for item in make_bill(*read(site(elements=1, feed=[dear, cheap]))).items if item.kind == "tube"]
    assert {row.price for row in rows} == {1.5, 2.0}  # two articles: the file says that they differ


def test_alike_parts_are_one_row_and_what_differs_has_its_own():
    fine = '{ part = "cartridge", media = "sediment", clean_drop_bar = 0.3, at_l_min = 8 }'
    later = '{ part = "cartridge", media = "sediment", change_after_months = 3 }'
    rows = listed(site(elements=6, feed=[SEDIMENT, fine, later], rest='arrangement = "series"'))
    assert (rows["membrane element: 4040"].quantity, rows["membrane housing: 4040"].quantity) == (6.0, 6.0)
    assert rows["cartridge housing: 10 in slim"].quantity == 3.0
    assert rows["plant.feed[0]"] == rows["plant.feed[2]"] != rows["plant.feed[1]"]
    assert (rows["plant.feed[0]"].quantity, rows["plant.feed[1]"].quantity) == (2.0, 1.0)


def test_the_key_of_an_article_does_not_follow_its_place():
    """A row that was ticked must not hand its tick to what is put in its place."""
    fine = '{ part = "cartridge", media = "sediment", clean_drop_bar = 0.3, at_l_min = 8 }'
    carbon = '{ part = "cartridge", media = "carbon" }'
    one, other = (listed(site(feed=line)) for line in ([SEDIMENT, fine, carbon], [carbon, fine, SEDIMENT]))
    for before, after in ((0, 2), (1, 1), (2, 0)):
        assert one[f"plant.feed[{before}]"].key == other[f"plant.feed[{after}]"].key
    assert len({one[f"plant.feed[{place}]"].key for place in range(3)}) == 3


def test_both_vessels_are_filled_with_resin():
    rows = listed(site(product=['{ part = "resin", litres = 7, vessels = 2 }', TANK]))
    assert (rows["plant.product[0]"].quantity, rows["plant.product[0].resin"].quantity) == (2.0, 14.0)


def test_a_parts_own_price_goes_before_the_one_of_its_kind():
    prices = "\n[prices]\nsediment_cartridge = 9\nmembrane = 180\nresin_per_l = 6\n"
    own = '{ part = "cartridge", media = "sediment", price = 12, lead_days = 3 }'
    rows = listed(site(elements=1, feed=[own, SEDIMENT], kit=prices))
    assert (rows["plant.feed[0]"].price, rows["plant.feed[0]"].lead_days) == (12.0, 3.0)
    assert rows["plant.feed[1]"].price == 9.0
    assert rows["plant.membranes[0]"].price == 180.0
    assert rows["plant.product[0].resin"].price == 6.0
    assert rows["plant.product[0]"].price is None


# ---- what is forgotten ----

WELL = '[supply]\nkind = "well"\nstanding_bar = 4\n'
BREAK_TANK = '[supply]\nkind = "break-tank"\nstanding_bar = 1\ntank_litres = 200\nrefill_l_min = 6\n'
CHECK, SHUTOFF = '{ part = "check" }', '{ part = "shutoff" }'
OPEN_TANK = '{ part = "tank", litres = 650, vented = false, inlet = "bottom" }'


@pytest.mark.parametrize(
    ("text", "there", "absent"),
    [
        (site(), "also.backflow", "also.inlet_gap"),
        (site(supply=WELL), "also.non_return", "also.backflow"),
        (site(supply=BREAK_TANK), "also.inlet_gap", "also.backflow"),
        (site(elements=1), "also.drain_gap", "also.relief"),
        (site(), "also.overflow", "also.drain_gap"),
        (site(product=[RESIN]), "also.gauge", "also.overflow"),
        (site(elements=1, feed=[PUMP]), "also.relief", "also.recirculation"),
        (site(elements=1, feed=[PUMP], rest="recirculation_l_min = 1"), "also.recirculation", "also.salt"),
        (site(elements=1, product=[SHUTOFF, TANK]), "also.check", "also.rcd"),
        (site(elements=1, product=[CHECK, SHUTOFF, TANK]), "also.bypass", "also.check"),
        (site(elements=1, product=[CHECK]), "also.stop", "also.bypass"),
        (site(product=[RESIN, OPEN_TANK]), "also.tank_gap", "also.vent"),
        (site(elements=1), "also.grease", "also.salt"),
        (site(), "also.washers G 3/4", "also.grease"),
        (site(elements=1), "also.tape", "also.rcd"),
        (site(), "also.clips 12 mm", "also.tape"),
        (site(elements=1), "tool.gloves", "tool.spanner"),
        (site(feed=[TUBE, SEDIMENT]), "tool.spanner", "tool.gloves"),
    ],
)
def test_what_the_layout_needs_is_in_the_list_and_nothing_else(text, there, absent):
    rows = listed(text)
    assert there in rows
    assert absent not in rows
    assert all(row.why for row in rows.values())


def test_clips_and_tape_are_counted_from_the_joints():
    rows = listed(site(feed=[TUBE], product=[RESIN]))
    # back-flow protection to link and tube to vessel: a fitting each; the gauge's tee has two more push-fit ports
    assert rows["also.clips 12 mm"].quantity == 2.0 + 2.0
    # a female G thread at the stop valve, the back-flow protection, the fitting behind it, and the vessel
    assert rows["also.washers G 3/4"].quantity == 4.0


def test_hose_on_tails_takes_clips():
    hose = '{ part = "tube", bore_mm = 13, length_m = 6, hose = true }'
    rows = listed(site(feed=[hose], product=[RESIN]))
    assert rows["also.hose_clips 13 mm"].quantity == 2.0 + 2.0  # of the two fittings and of the gauge's tee
    assert "tool.screwdriver" in rows
    assert not any(key.startswith("also.clips") for key in rows)


# ---- the kit ----


def test_without_a_kit_nothing_is_said_of_it():
    rows = listed(site(elements=1))
    assert {row.in_kit for row in rows.values()} == {None}
    assert all(row.missing == row.quantity for row in rows.values())


def test_a_kit_is_known_by_other_words_and_spellings():
    rows = listed(FULL)
    for key in ("plant.feed[1]", "plant.membranes[0]", "plant.membranes[0].housing", "plant.drain[0]"):
        assert rows[key].in_kit is True, key
        assert rows[key].missing == 0.0


def test_what_the_kit_leaves_out_is_missing():
    rows = listed(FULL)
    assert (rows["plant.feed[0]"].in_kit, rows["plant.feed[0]"].missing) == (False, rows["plant.feed[0]"].quantity)
    assert rows["plant.feed[1].housing"].in_kit is False


def test_a_taste_filter_is_an_extra_with_its_reason():
    extra = [row for row in listed(FULL).values() if not row.needed]
    assert [(row.what, row.kind, row.missing) for row in extra] == [("taste filter", "extra", 0.0)]
    assert "carbon fines" in extra[0].why


def test_the_wrong_size_is_an_extra_and_the_right_one_missing():
    kit = '[[kit]]\nwhat = "cartridge housing"\nsize = "20 in slim"\n'
    rows = listed(site(feed=[TUBE, SEDIMENT], kit=kit))
    assert rows["plant.feed[1].housing"].in_kit is False
    assert "10 in slim" in rows["kit[0]"].why
    assert "does not reach both rims" in rows["kit[0]"].why


def test_spares_are_no_extras_and_tube_is_shared_out():
    kit = '[[kit]]\nwhat = "sediment cartridge"\nquantity = 3\n[[kit]]\nwhat = "tubing"\nsize = "12mm"\nquantity = 8\n'
    rows = listed(site(elements=1, feed=[TUBE, SEDIMENT], kit=kit))
    assert (rows["plant.feed[1]"].kit_quantity, rows["plant.feed[1]"].missing) == (3.0, 0.0)
    tube = [row for row in rows.values() if row.kind == "tube"]
    assert sum(row.kit_quantity or 0.0 for row in tube) == 8.0
    assert sum(row.missing for row in tube) == sum(row.quantity for row in tube) - 8.0
    assert all(row.needed for row in rows.values())


def test_an_empty_kit_leaves_out_everything():
    bill = make_bill(*read("kit = []\n" + site(elements=1)))
    assert {item.in_kit for item in bill.items} == {False}


def test_the_demo_kit_leaves_out_the_tube_and_holds_a_taste_filter():
    rows = listed(DEMO)
    assert all(row.missing == row.quantity for row in rows.values() if row.kind == "tube")
    assert [row.what for row in rows.values() if row.kind == "extra"] == ["taste filter"]


def test_a_restrictor_is_enough_of_a_name():
    kit = '[[kit]]\nwhat = "restrictor"\n'
    assert listed(site(elements=1, drain=[RESTRICTOR], kit=kit))["plant.drain[0]"].in_kit is True
