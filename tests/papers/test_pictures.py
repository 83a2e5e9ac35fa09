"""Charts and strips: what they plot is the paper's, their colours are the page's."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from rinsewright.papers import TemperatureRow
from rinsewright.papers.charts import INKS, READINGS, Limit, _spec, cold_to_warm_charts, themed
from rinsewright.papers.strips import resin_strip

from .samples import banded, heather_row, mill_loft, tern_quay, unknown

RESIN = tern_quay().answer["resin"]


def test_charts_follow_light_and_dark() -> None:
    for chart in cold_to_warm_charts(tern_quay()):
        root = ElementTree.fromstring(chart.svg)
        assert root.get("role") == "img"
        assert root.get("width") is None
        assert not any(placeholder in chart.svg for placeholder in INKS.values())
        painted = set(re.findall(r'(?:fill|stroke)="([^"]+)"', chart.svg))
        assert {paint for paint in painted if not paint.startswith("var(--")} <= {"none", "transparent", "black"}
        for element in root.iter():  # black is only ever the default of something not painted
            if "black" in (element.get("fill"), element.get("stroke")):
                assert element.get("opacity") == "0" or element.get("fill-opacity") == "0"


def test_charts_plot_the_rows() -> None:
    paper = tern_quay()
    spec = _spec(READINGS, Limit("change the resin", 10.0), paper)
    curves = [layer for layer in spec["layer"] if layer["mark"]["type"] == "line"]
    for curve, read in zip(curves, (lambda r: r.product_meter_ppm, lambda r: r.delivered_meter_ppm), strict=True):
        assert [(p["t"], p["v"]) for p in curve["data"]["values"]] == [
            (r.temperature_c, read(r)) for r in paper.cold_to_warm
        ]
    rule = next(layer for layer in spec["layer"] if layer["mark"].get("strokeDash") == [2, 2])
    assert rule["data"]["values"][0]["v"] == 10.0


def test_the_limit_is_drawn_and_named_and_today_is_marked() -> None:
    flows, readings, scale = (chart.svg for chart in cold_to_warm_charts(tern_quay()))
    assert "change the resin" in readings
    assert "var(--stop)" in readings
    assert "scale is sure above" in scale
    assert all("today" in svg for svg in (flows, readings, scale))
    assert ">product<" in flows
    assert ">drain<" in flows


def test_charts_say_their_ends_in_words() -> None:
    flows = cold_to_warm_charts(tern_quay())[0]
    assert (
        '<desc id="chart-1-desc">Product: 2.3 at 4 °C, 3.6 at 20 °C. Drain: 3.6 at 4 °C, 3.6 at 20 °C.</desc>'
        in flows.svg
    )
    assert [(span.cold, span.warm) for span in flows.spans] == [(0, 8), (0, 8)]


def test_where_the_plant_makes_no_water_the_curve_has_no_points() -> None:
    spec = _spec(READINGS, None, mill_loft())
    curve = next(layer for layer in spec["layer"] if layer["mark"]["type"] == "line")
    assert min(point["t"] for point in curve["data"]["values"]) == 8


def test_nothing_known_gives_no_chart() -> None:
    assert cold_to_warm_charts(heather_row()) == []
    one = replace(tern_quay(), cold_to_warm=(TemperatureRow(5.0, 2.0, 3.0, 3.0, 8.0, 0.5, 2.0),))
    assert cold_to_warm_charts(one) == []


def test_a_chart_without_a_view_box_is_refused() -> None:
    with pytest.raises(ValueError, match="viewBox"):
        themed("<svg></svg>", "n", "t", "d")


@pytest.mark.parametrize("width", [328.0, 700.0])
def test_the_strip_shows_both_ends_where_they_are(width: float) -> None:
    strip = resin_strip(RESIN, 10.0, width, "s")
    assert strip is not None
    root = ElementTree.fromstring(strip)
    edges = [float(element.get("d", "")[1:].split(",")[0]) for element in root.iter() if element.get("class") == "edge"]
    slip, limit = RESIN["litres_to_first_slip"]["value"], RESIN["litres_to_limit"]["value"]
    assert (edges[0] - 2) / (edges[1] - 2) == pytest.approx(slip / limit, rel=2e-3)
    shown = " ".join(root.itertext())
    for words in ("5,200 L", "first slip", "22,000 L", "10 ppm: change", "3,900 to 6,800", "17,000 to 27,000"):
        assert words in shown


def test_a_strip_with_an_end_not_known_is_not_drawn() -> None:
    assert resin_strip({**RESIN, "litres_to_limit": unknown()}, 10.0, 700.0, "s") is None


def test_a_limit_close_to_the_first_slip_still_fits() -> None:
    near = {
        **RESIN,
        "litres_to_first_slip": banded(2950.0),
        "litres_to_limit": banded(2960.0),
        "plateau_meter_ppm": unknown(),
    }
    strip = resin_strip(near, 10.0, 328.0, "s")
    assert strip is not None
    assert "reads 000" in strip
