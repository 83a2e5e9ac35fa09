"""The drawing of the water's way: whatever the plant, no word lies on another, on a part or on a pipe."""

from __future__ import annotations

from itertools import combinations
from typing import get_args
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rinsewright.papers import PathPart, Reading, Tag, WaterPath
from rinsewright.papers.content import Kind
from rinsewright.papers.drawing import WIDEST, draw_tall, draw_wide, path_drawings
from rinsewright.papers.drawing.lettering import describe
from rinsewright.papers.drawing.surface import Box, Surface, text_width, wrap
from rinsewright.papers.drawing.symbols import SYMBOLS

from .samples import SAMPLES

LAYOUTS = {"wide": draw_wide, "tall": draw_tall}
SOURCES = ("tap", "well")
FEED = (
    "break-tank",
    "tube",
    "cartridge-sediment",
    "cartridge-carbon",
    "pump",
    "softener",
    "inhibitor",
    "check",
    "solenoid",
)
DRAIN = ("restrictor", "tube", "flush")
PRODUCT = ("check", "shutoff", "lift", "resin", "tube", "delivery-pump", "blend", "tank")

words = st.sampled_from(
    ["tank", "sediment filter", "multistage booster pump", "Wasserversorgungsanschluss", "4040", "W" * 9]
)
sizes = st.sampled_from(["", "10 in", "1.5 L/min at 4 bar", "12.5 mm, 31 m of it through the cellar"])
readings = st.sampled_from(
    [Reading("0.23", "bar"), Reading("1,250", "L/min"), Reading("285", "ppm"), Reading("10.2", "h to fill")]
)
tags = st.none() | st.builds(
    Tag, st.lists(readings, min_size=1, max_size=3).map(tuple), st.sampled_from([None, "look", "stop"])
)


def parts(kinds: tuple[str, ...], least: int = 0, most: int = 6) -> st.SearchStrategy[tuple[PathPart, ...]]:
    return st.lists(st.builds(PathPart, st.sampled_from(kinds), words, sizes, tags), min_size=least, max_size=most).map(
        tuple
    )


elements = st.builds(PathPart, st.just("membrane"), words, sizes, st.none() | tags)
stages = st.lists(st.lists(elements, min_size=1, max_size=3).map(tuple), max_size=4).map(tuple)
ends = parts(("brush", "tank"), 1, 1)
paths = st.builds(
    lambda source, feed, membranes, drain, product, end: WaterPath(
        source + feed, membranes, drain if membranes else (), product + end
    ),
    parts(SOURCES, 1, 1), parts(FEED), stages, parts(DRAIN, 0, 3), parts(PRODUCT), ends,
)  # fmt: skip


def check_clear(sheet: Surface) -> None:
    """No text on another text, on a symbol (housings carry their names) or on a pipe; everything on the sheet."""
    texts, symbols = sheet.text_boxes, sheet.symbol_boxes
    for (one, box), (other, second) in combinations(texts, 2):
        assert not box.overlaps(second), f"{one!r} lies on {other!r}"
    for text, box in texts:
        assert box.x >= -0.5, f"{text!r} leaves the sheet"
        assert box.x + box.width <= sheet.width + 0.5, f"{text!r} leaves the sheet"
        assert box.y >= -0.5
        assert box.y + box.height <= sheet.height + 6
        for part, second in symbols:
            assert not part or not box.overlaps(second), f"{text!r} lies on the {part}"
        for stroke, second in sheet.pipe_boxes:
            inside = any(not part and housing.overlaps(box) for part, housing in symbols)
            assert inside or not box.overlaps(second), f"{text!r} lies on a {stroke} pipe"
    for (one, box), (other, second) in combinations(symbols, 2):
        assert not box.overlaps(second), f"the {one} stands on the {other}"


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("name", SAMPLES)
def test_samples_are_clear(name: str, layout: str) -> None:
    check_clear(LAYOUTS[layout](SAMPLES[name]().path))


@given(paths)
def test_any_plant_is_clear_on_paper(path: WaterPath) -> None:
    check_clear(draw_wide(path))


@given(paths)
def test_any_plant_is_clear_on_a_phone(path: WaterPath) -> None:
    sheet = draw_tall(path)
    assert sheet.width == 340
    check_clear(sheet)


@given(paths)
def test_drawings_are_well_formed_and_told(path: WaterPath) -> None:
    wide, tall = path_drawings(path, 'A <yard> & "sons"')
    assert (wide is None) == (draw_wide(path).width > WIDEST)
    told = describe(path)
    for drawing in filter(None, (wide, tall)):
        root = ElementTree.fromstring(drawing)
        title, desc = root[0], root[1]
        assert title.text == 'The water\'s way at A <yard> & "sons"'
        assert desc.text == told
    for part in path.parts():
        assert part.name in told


def strokes(drawing: str) -> set[str]:
    return {word for word in ("feed", "drain", "product", "polished") if f'class="pipe {word}"' in drawing}


def test_each_line_has_its_own_stroke_and_word() -> None:
    for make in (draw_wide, draw_tall):
        whole = make(SAMPLES["tern-quay"]().path)
        assert strokes(whole.svg("n", "t", "d")) == {"feed", "drain", "product", "polished"}
        assert {"feed", "drain", "product", "after resin"} <= {text for text, _ in whole.text_boxes}
        resin_alone = make(SAMPLES["heather-row"]().path)
        assert strokes(resin_alone.svg("n", "t", "d")) == {"feed", "polished"}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_drain_ends_above_a_gully_with_an_air_gap(layout: str) -> None:
    sheet = LAYOUTS[layout](SAMPLES["cold-beck"]().path)
    gully = next(box for name, box in sheet.symbol_boxes if name == "gully")
    grate = gully.y + SYMBOLS["gully"].up + 42
    lowest = max(
        box.y + box.height for stroke, box in sheet.pipe_boxes if stroke == "drain" and box.x + box.width > gully.x
    )
    assert grate - lowest > 20
    assert "air gap" in {text for text, _ in sheet.text_boxes}


def test_every_kind_has_its_symbol_and_is_drawn_within_its_room() -> None:
    assert set(get_args(Kind)) - {"membrane"} == set(SYMBOLS)


def test_a_long_plant_is_drawn_tall_at_every_width() -> None:
    element = PathPart("membrane", "4021", "3.3 m²")
    path = WaterPath((PathPart("tap", "tap"),), ((element,),) * 6, (PathPart("restrictor", "restrictor"),), ())
    wide, tall = path_drawings(path, "Long")
    assert wide is None
    assert tall.count("4021") >= 6


def test_wrapping_keeps_within_the_width_and_marks_what_is_left_out() -> None:
    lines = wrap("a very long name of a part that nobody can read", 13, 80)
    assert len(lines) == 3
    assert lines[-1].endswith("…")
    assert all(text_width(line, 13) <= 80 for line in lines)
    assert wrap("Wasserversorgung", 13, 60)[0] == "Wasserv"
    assert wrap("", 13, 60) == []


def test_boxes_that_only_touch_do_not_overlap() -> None:
    assert not Box(0, 0, 10, 10).overlaps(Box(10, 0, 10, 10))
    assert Box(0, 0, 10, 10).overlaps(Box(8, 8, 10, 10))
