"""The build sheet and the unpacking check: complete, printable, drawn for every step, each part once."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from rinsewright.api import Site
from rinsewright.papers.build import supplied, to_order, unpacking_page
from rinsewright.papers.drawing.surface import text_width
from rinsewright.papers.pdf import page_pdf
from rinsewright.papers.places import PLACES, Place, drawn

from ..building.checks import DRAWN, Case
from ..building.plants import site_text
from .builds import BUILDS, PAGES, page_of, sheet_of
from .printed import printed, without_switches
from .reading import read
from .test_plan_pdf import claims_accessibility, squeezed


def said(html: str) -> str:
    """A page's text outside its drawings, of what is printed."""
    return " ".join(" ".join(read(re.sub(r"<title>.*?</title>", "", without_switches(html), count=1)).loose).split())


@pytest.mark.parametrize("name", BUILDS)
@pytest.mark.parametrize("kind", PAGES)
def test_every_word_is_printed_and_can_be_listened_to(kind: str, name: str) -> None:
    html = page_of(kind, name)
    file = page_pdf(html, sheet_of(name).site_name, kind)
    assert claims_accessibility(file)
    text = squeezed(printed(file).text)
    for word in said(html).split():
        assert word in text, word


@pytest.mark.parametrize("name", BUILDS)
def test_every_step_stands_once_in_its_order_with_drawing_check_and_caution(name: str) -> None:
    html, sheet = page_of("build", name), sheet_of(name)
    articles = re.findall(r"<article.*?</article>", html, re.DOTALL)
    assert len(articles) == len(sheet.steps)
    for number, (article, step) in enumerate(zip(articles, sheet.steps, strict=True), 1):
        text = said_in(article)
        assert f"{number} {step.title}" in text
        for sentence in filter(None, (step.do, step.why, step.check, step.caution)):
            assert " ".join(sentence.split()) in text
        assert ('class="alarm"' in article) == bool(step.caution)
        assert article.count("<svg") == 1
        assert article.count('type="checkbox"') == 1


def said_in(fragment: str) -> str:
    root = ElementTree.fromstring(fragment)
    for figure in root.findall("figure"):
        root.remove(figure)
    return " ".join(" ".join(root.itertext()).split())


@pytest.mark.parametrize("name", BUILDS)
def test_every_part_is_ticked_off_once(name: str) -> None:
    """What the kit holds stands in the boxes, the rest in the order; no row of the list is lost or comes twice."""
    html, sheet = page_of("unpacking", name), sheet_of(name)
    boxes = [item for item in sheet.items if item.needed and item.kit_quantity]
    assert html.count('type="checkbox"') == len(boxes) + len(sheet.order) + len(sheet.tools)
    for title, items in (("What should be there", boxes), ("What is to be bought", sheet.order)):
        table = re.search(rf"<caption>{title}</caption>.*?</table>", html, re.DOTALL)
        assert (table is not None) == bool(items)
        rows = re.findall(r"<tr><td>.*?</tr>", table.group(), re.DOTALL) if table else []
        assert len(rows) == len(items)
        for row, item in zip(rows, items, strict=True):
            assert f"{item.what} {item.size}".strip().lower() in said_in(row).lower()
    needed = {item.key for item in sheet.items if item.needed}
    assert {item.key for item in (*boxes, *sheet.order)} == needed
    for extra in (item for item in sheet.items if not item.needed):
        assert extra.why in said(html)


def test_what_a_kit_holds_too_little_of_stands_in_both() -> None:
    sheet = Site.loads(BUILDS["demo"] + '\n[[kit]]\nwhat = "locking clip"\nsize = "12 mm"\nquantity = 10\n').build()
    clips = next(item for item in sheet.items if item.what == "locking clip")
    assert [row.amount for row in supplied(sheet) if row.key == clips.key] == ["10"]
    assert [row.amount for row in to_order(sheet) if row.key == clips.key] == [f"{clips.quantity - 10:g}"]


def test_prices_are_added_up_where_they_are_known() -> None:
    order = said(page_of("unpacking", "demo")).partition("To order")[2]
    known = [item for item in sheet_of("demo").order if item.price is not None]
    assert known
    total = sum(item.missing * item.price for item in known if item.price is not None)
    assert f"The known prices come to £{total:,.2f}" in order
    text = BUILDS["demo"]
    unpriced = Site.loads(text[: text.index("[prices]")]).build()
    assert "No prices are known" in said(unpacking_page(unpriced))


ALL_STEPS = {
    (step.drawing, step.title): (step, sheet.plant)
    for sheet in (sheet_of(name) for name in BUILDS)
    for step in sheet.steps
}


def test_every_drawing_is_drawn_somewhere() -> None:
    more = {step.drawing for number in range(9, 60) for step in Case.of(site_text(number)).sheet.steps}
    assert {drawing for drawing, _ in ALL_STEPS} | more == set(PLACES)


@pytest.mark.parametrize("key", ALL_STEPS, ids=" ".join)
def test_no_name_of_a_drawing_is_cut_off_or_lies_on_another(key: tuple[str, str]) -> None:
    place = drawn(*ALL_STEPS[key])
    svg = place.svg(1)
    assert "…" not in svg
    assert_apart(place)
    for text in re.findall(r">([^<>]+)</text>", svg):
        assert text_width(text, 13.5) < 340


def assert_apart(place: Place) -> None:
    boxes = place.sheet.text_boxes
    for at, (name, box) in enumerate(boxes):
        assert box.x >= 0, name
        assert box.y >= -1, name
        for other, second in boxes[at + 1 :]:
            assert not box.overlaps(second, 2.0), (name, other)


@pytest.mark.parametrize("name", BUILDS)
def test_no_drawing_shows_what_the_plant_has_not(name: str) -> None:
    case = Case.of(BUILDS[name])
    for step in case.sheet.steps:
        assert DRAWN.get(step.drawing, lambda _: True)(case), step.title
        told = " ".join(drawn(step, case.plant).told).lower()
        for word, there in NAMED.items():
            if word in told:
                assert there(case), (step.title, word)


@pytest.mark.parametrize("name", BUILDS)
@pytest.mark.parametrize("kind", PAGES)
def test_nothing_is_said_of_membranes_where_there_are_none(kind: str, name: str) -> None:
    if not sheet_of(name).plant.elements:
        found = re.findall(r"membrane|preservative|restrictor|brine", said(page_of(kind, name)).lower())
        assert found == []


NAMED = {
    "membrane": lambda case: bool(case.plant.elements),
    "resin": lambda case: case.plant.resin is not None,
    "float": lambda case: case.plant.tank is not None and case.plant.tank.float_valve,
    "vent": lambda case: case.plant.tank is not None and case.plant.tank.vented,
    "relief": lambda case: case.plant.pump is not None,
    "drain line": lambda case: bool(case.plant.elements) or case.plant.tank is not None,
}
