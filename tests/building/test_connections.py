"""The chain of ends through a plant: every joint judged, every fitting counted, every piece of tube cut once.

What the counts must be follows from the arrangement; no source is needed. Whether two ends fit is tested against
published sizes in ``tests/joints``.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest

from rinsewright.building.connections import LINK, TO_DRAIN, TO_TAP, connect
from rinsewright.catalogue.loader import load_catalogue
from rinsewright.errors import InputError
from rinsewright.plant.joints import End
from rinsewright.site.build import build_plant
from rinsewright.site.reading import read_site, read_text
from tests.building.small import RESIN, RESTRICTOR, SEDIMENT, TANK, TUBE, read, site, way

DEMO = Path(__file__).parents[2] / "examples" / "tern-quay.toml"


def tees(text: str) -> int:
    return sum(piece.count for piece in way(text).pieces if piece.what == "tee")


# ---- membranes ----


@pytest.mark.parametrize("elements", [1, 2, 3, 5])
def test_elements_side_by_side_take_tees_for_feed_drain_and_product(elements):
    assert tees(site(elements=elements)) == 3 * (elements - 1)


@pytest.mark.parametrize("elements", [1, 2, 3, 5])
def test_elements_in_series_take_tees_for_the_product_alone(elements):
    assert tees(site(elements=elements, rest='arrangement = "series"')) == elements - 1


def test_two_stages_take_tees_within_the_first():
    first = (
        'area_m2 = 7.2, length_m = 0.92, water_permeance_l_m2_h_bar = 6, salt_permeance_l_m2_h = 0.4, nominal = "4040"'
    )
    members = [f"{{ {first}, stage = {stage} }}" for stage in (1, 1, 2)]
    text = site(membranes=members, drain=[RESTRICTOR])
    assert tees(text) == 1 + 1 + 2  # feed and drain of the pair, product of all three


@pytest.mark.parametrize("rest", ["", 'arrangement = "series"'])
@pytest.mark.parametrize("elements", [1, 2, 4])
def test_every_port_of_every_housing_is_joined_once(elements, rest):
    fits = way(site(elements=elements, rest=rest)).fits
    ports = [end for fit in fits for end in (fit.a, fit.b) if end.kind == "Rp"]
    assert len(ports) == 3 * elements
    assert sum(fit.a.kind == "membrane" for fit in fits) == elements


def test_a_plant_of_resin_alone_goes_from_the_feed_to_the_product():
    found = way(site())
    assert {fit.line for fit in found.fits} == {"feed", "product"}
    assert not any("drain" in fit.at for fit in found.fits)
    assert ("plant.feed[0]", "plant.product[0]") in [fit.at for fit in found.fits]


# ---- what goes between ----


def test_tap_and_drain_are_the_ends_of_the_way():
    fits = way(site(elements=1)).fits
    assert fits[0].at[0] == "supply"
    assert [fit.at[1] for fit in fits if fit.line == "drain"][-1] == "drain"


def test_each_fitting_stands_for_one_joint_that_does_not_fit():
    found = way(DEMO.read_text(encoding="utf-8"))
    wanted = Counter(
        fit.joint.adapter.removeprefix("fitting: ")
        for fit in found.fits
        if fit.joint.adapter and fit.joint.adapter.startswith("fitting")
    )
    assert wanted == Counter({p.size: p.count for p in found.pieces if p.what == "fitting"})
    assert all(not fit.joint.fits for fit in found.fits if fit.joint.adapter)


def test_a_tube_of_another_standard_takes_a_fitting_with_both_sizes():
    inches = '{ part = "tube", bore_mm = 6.4, length_m = 2, outside = "3/8 in" }'
    found = way(site(feed=[TUBE, inches]))
    assert "push-fit 12 mm to push-fit 3/8 in" in [piece.size for piece in found.pieces]


def test_ends_that_are_given_and_go_together_need_no_link():
    given = '{ part = "check", ends = ["G 3/4 female", "G 3/4 male"] }'
    text = site(supply='[supply]\nstanding_bar = 4\nend = "G 3/4 male"\n', feed=[given, TUBE])
    first = way(text).fits[0]
    assert (str(first.a), str(first.b), first.joint.fits) == ("G 3/4 male", "G 3/4 female", True)


def test_two_ports_alike_take_a_piece_of_tube():
    made_up = '{ part = "tube", bore_mm = 9, length_m = 2, ends = ["push-fit 12 mm", "push-fit 12 mm"] }'
    found = way(
        site(feed=[TUBE, made_up], product=['{ part = "check", ends = ["push-fit 12 mm", "tail 13 mm"] }', RESIN])
    )
    between = [fit.joint.adapter for fit in found.fits if fit.at == ("plant.feed[1]", "plant.product[0]")]
    assert between == ["piece of tube 12 mm"]
    assert any("from the feed tube 2 to the check valve" in cut.where for cut in found.cuts)


def test_what_no_fitting_joins_is_named():
    tail = '{ part = "check", ends = ["tail 10 mm", "tail 10 mm"] }'
    hose = '{ part = "tube", bore_mm = 13, length_m = 6, hose = true }'
    assert {(str(fit.a), str(fit.b)) for fit in way(site(feed=[hose, tail])).no_way} == {
        ("hose 13 mm", "tail 10 mm"),
        ("tail 10 mm", "hose 13 mm"),
    }


def test_lead_and_lag_are_joined_to_one_another():
    two = way(site(product=['{ part = "resin", litres = 7, vessels = 2 }', TANK]))
    one = way(site(product=[RESIN, TANK]))
    assert len(two.fits) == len(one.fits) + 2
    assert sum(two.links.values()) == pytest.approx(sum(one.links.values()) + LINK)


def test_a_shut_off_stands_in_the_feed_and_in_the_product():
    fits = way(site(elements=1, product=['{ part = "shutoff" }', TANK])).fits
    assert Counter(fit.line for fit in fits if "plant.product[0]" in fit.at) == {"feed": 3, "product": 4}


def test_recirculation_and_flush_take_two_tees_each():
    pump = '{ part = "pump", curve = [{ flow_l_min = 0, bar = 5 }, { flow_l_min = 10, bar = 3 }] }'
    assert tees(site(elements=1, feed=[TUBE, pump], rest="recirculation_l_min = 1")) == 2
    assert tees(site(elements=1, drain=[RESTRICTOR, '{ part = "flush", litres = 2 }'])) == 2
    assert tees(site(elements=1, product=['{ part = "blend", share = 0.1 }', TANK])) == 1


# ---- what the site file leaves out ----


def met(text: str) -> list[tuple[str, str]]:
    """Which parts meet, in the order of the way."""
    return [*dict.fromkeys(fit.at for fit in way(text).fits if not fit.at[1].endswith(".housing"))]


def test_what_is_added_stands_in_the_order_of_the_water():
    pump = '{ part = "pump", curve = [{ flow_l_min = 0, bar = 5 }, { flow_l_min = 10, bar = 3 }] }'
    tank = '{ part = "tank", litres = 650, inlet = "bottom" }'
    text = site(elements=1, feed=[TUBE, pump], drain=[TUBE], product=['{ part = "shutoff" }', RESIN, tank, TUBE])
    feed, element, product = "plant.feed[{}]".format, "plant.membranes[0]", "plant.product[{}]".format
    chain = ["supply", "also.stop", "also.backflow", feed(0), "also.dry_run", feed(1), "also.relief", "also.cut_out"]
    chain += [product(0), "also.gauge", element, "also.restrictor", "plant.drain[0]"]
    behind = [element, "also.check", product(0), "also.bypass", product(1), "also.tank_gap", product(2), "also.outlet"]
    wanted = [*pairwise(chain), *pairwise([*behind, product(3)])]
    wanted.insert(wanted.index(("also.bypass", product(1))), ("also.bypass", "bucket"))
    assert met(text) == wanted


def test_returned_drain_water_passes_its_needle_valve():
    pump = '{ part = "pump", curve = [{ flow_l_min = 0, bar = 5 }, { flow_l_min = 10, bar = 3 }] }'
    found = met(site(elements=1, feed=[TUBE, pump], rest="recirculation_l_min = 1"))
    assert {("plant.membranes[0]", "also.recirculation"), ("also.recirculation", "plant.feed[1]")} <= {*found}


@pytest.mark.parametrize(
    ("tap", "ends"),
    [
        ("G 3/4 male", ["G 3/4 female", "G 3/4 male"]),
        ("Rc 1/2 female", ["R 1/2 male", "Rc 1/2 female"]),
        ("compression 15 mm", ["push-fit 12 mm", "push-fit 12 mm"]),
    ],
)
def test_a_valve_at_the_tap_is_screwed_to_a_thread_else_tube_leads_to_it(tap, ends):
    found = way(site(supply=f'[supply]\nstanding_bar = 4\nend = "{tap}"\n'))
    assert [[str(end) for end in part.ends] for part in found.added[:2]] == [ends, ends]
    threaded = tap != "compression 15 mm"
    assert [fit.joint.adapter for fit in found.fits[:2]] == [
        *([None, None] if threaded else ["fitting: push-fit 12 mm to stem 15 mm", None])
    ]
    assert not found.no_way


def test_a_tank_outlet_valve_is_screwed_to_the_tank():
    fits = [fit for fit in way(site()).fits if fit.at == ("plant.product[1]", "also.outlet")]
    assert [(str(fit.a), str(fit.b)) for fit in fits] == [("G 3/4 male", "G 3/4 female")]


def test_ends_of_what_is_added_are_said_to_be_taken():
    assert (
        "G 3/4 female to G 3/4 male at the stop valve, back-flow protection and tank outlet valve" in way(site()).taken
    )


# ---- tube ----


def test_each_tube_is_cut_once_to_its_length_and_links_where_there_is_none():
    found = way(site(elements=1, feed=[TUBE, SEDIMENT]))
    given = [cut for cut in found.cuts if not cut.assumed]
    assert [(cut.size, cut.length_m, cut.count) for cut in given] == [("12 mm", 6.0, 1)]
    assert sum(cut.length_m * cut.count for cut in found.cuts if cut.assumed) == pytest.approx(
        sum(found.links.values())
    )
    assert any(cut.length_m == TO_DRAIN for cut in found.cuts)


def test_without_a_tube_the_tap_and_every_neighbour_take_a_link():
    found = way(site(feed=[SEDIMENT], product=[RESIN]))
    assert found.links == {End("tube", "1/2 in", "male"): pytest.approx(TO_TAP + 2 * LINK)}  # the gauge's too


def test_a_height_is_risen_by_the_tube_beside_it_else_by_a_piece_of_its_length():
    lift = '{ part = "lift", height_m = 1.5 }'
    assert way(site(product=[RESIN, lift, TANK])).tubes["plant.product[1]"][1] == 1.5
    beside = way(site(product=[RESIN, lift, TUBE, TANK]))
    assert beside.covered == {"plant.product[1]": "plant.product[2]"}
    assert "plant.product[1]" not in beside.tubes


def test_a_tube_without_its_outside_is_the_one_of_the_nearest_bore():
    text = site(feed=['{ part = "tube", bore_mm = 9.1, length_m = 6 }'])
    found = way(text)
    assert found.line_tube["feed"] == End("tube", "12 mm", "male")
    assert any("tube 12 mm at the feed tube" in words for words in found.taken)
    assert not any("feed tube" in words for words in way(site()).taken)


# ---- the keys ----


@pytest.mark.parametrize(
    ("part", "says"),
    [
        ('{ part = "check", ends = ["BSP 3/4", "G 3/4 male"] }', "for BSP say G"),
        ('{ part = "check", ends = ["push-fit 12 mm"] }', "it has 2 ends, in and out, and 1 is given"),
        ('{ part = "tube", bore_mm = 9, length_m = 2, outside = "12" }', "such as 1/4 in or 6 mm"),
        ('{ part = "tube", bore_mm = 9, length_m = 2, outside = "8 mm" }', "not wider than the bore of 9 mm"),
        ('{ part = "tube", bore_mm = 9, length_m = 2, outside = "8 mm", hose = true }', "called by its bore"),
    ],
)
def test_wrong_words_are_one_sentence_with_file_line_and_key(part, says):
    with pytest.raises(InputError) as caught:
        read_text(site(feed=[part]), "yard.toml")
    (problem,) = caught.value.problems
    assert says in problem.message
    assert str(problem).startswith("yard.toml, line 6, plant.feed[0].")
    assert "\n" not in str(problem)


def test_a_membrane_has_three_ends_and_a_height_none():
    with pytest.raises(InputError, match="it has 3 ends, feed, drain and product, and 1 is given"):
        read(site(membranes=['{ part = "4040 standard", ends = ["G 1/2 male"] }'], drain=[RESTRICTOR]))
    with pytest.raises(InputError, match="a height has no ends"):
        read(site(product=[RESIN, '{ part = "lift", height_m = 1, ends = ["G 1/2 male", "G 1/2 male"] }']))


def test_three_ends_of_a_housing_are_taken_as_given():
    ends = '["NPT 3/4 female", "NPT 1/2 female", "push-fit 3/8 in"]'
    found = way(site(membranes=[f'{{ part = "4040 standard", ends = {ends} }}'], drain=[RESTRICTOR]))
    met = Counter(str(end) for fit in found.fits for end in (fit.a, fit.b))
    assert met["NPT 3/4 female"] == met["NPT 1/2 female"] == met["push-fit 3/8 in"] == 1


@pytest.mark.parametrize("address", ["tern-quay.example", "https://", "https://a b.example", "ftp://yard.example"])
def test_the_page_is_an_address(address):
    with pytest.raises(InputError, match=r"site\.page"):
        read_text(f'[site]\npage = "{address}"\n' + site())


def test_the_demo_has_its_ends_taken_from_the_file_and_named_where_not():
    document = read_site(DEMO)
    plant = build_plant(document, load_catalogue())
    assert plant.tank is not None
    assert not any("feed tube" in words for words in connect(document, plant).taken)
    assert [str(end) for end in plant.tank.ends] == ["G 1/2 male", "G 3/4 male"]
