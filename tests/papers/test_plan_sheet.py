"""The plan sheet as a document: every number is the answer's, everything is escaped, nothing comes from elsewhere."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import asdict, replace
from typing import Any

import pytest

from rinsewright.papers import PlanPaper, plan_page

from .reading import Page, agree_with, read
from .samples import EVIL, SAMPLES, answer, heather_row, mill_loft, moved, ohara, solved, tern_quay

PAGES = {name: plan_page(make()) for name, make in SAMPLES.items()}


@pytest.fixture(params=SAMPLES)
def sheet(request: pytest.FixtureRequest) -> tuple[PlanPaper, Page]:
    return SAMPLES[request.param](), read(PAGES[request.param])


def test_every_number_is_the_answers(sheet: tuple[PlanPaper, Page]) -> None:
    paper, page = sheet
    assert len(page.numbers) > 40
    agree_with(paper, page)


def test_no_number_is_printed_that_nobody_answers_for(sheet: tuple[PlanPaper, Page]) -> None:
    """Outside of marked numbers, figures stand only in texts handed in and in a few fixed words."""
    paper, page = sheet
    ours = ["µS/cm at 25 °C", f"seed {paper.answer['seed']}"]
    handed_in = sorted([*texts(asdict(paper)), *ours], key=len, reverse=True)
    for piece in page.loose:
        rest = re.sub(r"^week \d+$", "", piece)
        for text in handed_in:
            rest = rest.replace(" ".join(text.split()), "").replace(opened(text), "")
        assert not re.search(r"\d", rest), piece


def opened(text: str) -> str:
    words = " ".join(text.replace("_", " ").split())
    return words[:1].upper() + words[1:]


def texts(value: Any) -> Iterator[str]:
    """Every non-empty string in a nest of mappings and sequences."""
    if isinstance(value, str) and value:
        yield value
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            yield from texts(key)
            yield from texts(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from texts(inner)


LEAVES = {
    "tern-quay": [
        "/answer/coldest/product/flow_l_min",
        "/answer/warmest/drain/saturation/calcite",
        "/answer/today/elements/1/flux_l_m2_h",
        "/answer/today/feed/ions_mg_l/Ca",
        "/answer/resin/litres_to_first_slip/low",
        "/answer/resin/litres_to_limit/high",
        "/answer/resin/plateau_meter_ppm/value",
        "/answer/resin/co2_share/value",
        "/answer/cartridges/1/days",
        "/answer/membranes/years/value",
        "/answer/membranes/chlorine_mg_h_l_per_year/value",
        "/answer/year/worst_meter_ppm/value",
        "/answer/year/cost/low",
        "/answer/cost_split/capital",
        "/answer/assumptions/0/value",
        "/water/bands/hardness_mg_l_caco3/low",
        "/cold_to_warm/8/calcite_si_wall",
        "/product_limit_ppm",
        "/calcite_limit",
        "/answer/sensitivities/0/low",
        "/answer/sensitivities/0/central",
        "/answer/sensitivities/6/high",
        "/answer/sensitivities/7/low",
        "/answer/resin_alone/cost_per_year",
        "/answer/resin_alone/plant_cost_per_year",
        "/answer/resin_alone/resin_litres_per_year",
        "/answer/resin_alone/break_even_days",
    ],
    "harbour-depot": ["/inhibitor_credit", "/calcite_limit"],
    "heather-row": ["/answer/resin/litres_to_limit/value", "/answer/today/delivered/meter_ppm"],
    "mill-loft": ["/answer/year/dry_chance_by_week/0", "/coldest_c"],
}


@pytest.mark.parametrize(("name", "place"), [(name, place) for name, places in LEAVES.items() for place in places])
def test_what_matters_is_on_the_page(name: str, place: str) -> None:
    assert place in {number.place for number in read(PAGES[name]).numbers}


def test_the_drawing_carries_every_tag(sheet: tuple[PlanPaper, Page]) -> None:
    paper, page = sheet
    for part in paper.path.parts():
        for reading in part.tag.readings if part.tag else ():
            assert page.drawn.count(reading.number) >= 1, part
            assert any(f"{reading.number} {reading.unit}" in text for text in page.drawn), "told in the description"
        if part.tag and part.tag.verdict:
            assert part.tag.verdict in page.drawn


def test_headings_go_down_one_at_a_time(sheet: tuple[PlanPaper, Page]) -> None:
    _, page = sheet
    assert page.headings[0] == 1
    assert page.headings.count(1) == 1
    assert all(after - before <= 1 for before, after in zip(page.headings, page.headings[1:], strict=False))


def test_tables_have_captions_and_scopes(sheet: tuple[PlanPaper, Page]) -> None:
    _, page = sheet
    names = [tag for tag, _ in page.tags]
    assert names.count("caption") == names.count("table") > 3
    assert all(given.get("scope") in ("col", "row") for tag, given in page.tags if tag == "th")


def test_ids_are_unique_and_every_label_exists(sheet: tuple[PlanPaper, Page]) -> None:
    _, page = sheet
    ids = [given["id"] for _, given in page.tags if "id" in given]
    assert len(ids) == len(set(ids))
    labels = " ".join(given.get("aria-labelledby", "") for _, given in page.tags).split()
    anchors = [given["href"].removeprefix("#") for tag, given in page.tags if tag == "a"]
    assert set(labels) | set(anchors) <= set(ids)


def test_nothing_comes_from_elsewhere(sheet: tuple[PlanPaper, Page]) -> None:
    paper, page = sheet
    assert "script" not in {tag for tag, _ in page.tags}
    html = next(text for name, text in PAGES.items() if SAMPLES[name]() == paper)
    addresses = set(re.findall(r"(?:https?:)?//[\w.][^\"'\s<)]*", html))
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert not any(name in given for _, given in page.tags for name in ("src", "srcset", "onclick", "onload"))
    assert "url(" not in html
    assert "@import" not in html
    assert all(given["href"].startswith("#") for _, given in page.tags if "href" in given)


def test_size(sheet: tuple[PlanPaper, Page]) -> None:
    paper, _ = sheet
    assert len(plan_page(paper).encode()) < 400_000


def test_the_language_is_set() -> None:
    assert ("html", {"lang": "en-GB"}) in read(PAGES["tern-quay"]).tags
    assert ("html", {"lang": "en"}) in read(PAGES["ohara"]).tags


DAY_LINES = {
    "product": ("product/flow_l_min", "L/min"),
    "to drain": ("drain/flow_l_min", "L/min"),
    "from the tap": ("feed/flow_l_min", "L/min"),
    "drain per litre": ("drain_l_per_product_l", "L"),
    "recovery": ("recovery", "%"),
    "rejection": ("rejection", "%"),
    "membrane pressure": ("feed/membrane_bar", "bar"),
    "back-pressure": ("product/back_pressure_bar", "bar"),
    "drain-end pressure": ("drain/pressure_bar", "bar"),
    "product reading": ("product/meter_ppm", "ppm"),
    "delivered reading": ("delivered/meter_ppm", "ppm"),
    "left on glass, per litre": ("delivered/residue_mg_l", "mg"),
    "CO₂ in product": ("product/co2_mg_l", "mg/L"),
    "pH delivered": ("delivered/ph", ""),
    "fill for an average day": ("fill_hours", "h"),
    "lime (calcite)": ("drain/saturation/calcite", ""),
}
OTHER_LINES = {
    "hardness": ("/water/hardness_mg_l_caco3", "mg/L as CaCO₃ ("),
    "dissolved in all": ("/answer/today/feed/tds_mg_l", "mg/L"),
    "carbon dioxide": ("/answer/today/feed/co2_mg_l", "mg/L"),
    "nitrate": ("/answer/today/feed/ions_mg_l/NO3", ""),
    "alkalinity, as HCO₃": ("/answer/today/feed/ions_mg_l/HCO3", ""),
    "days to the limit": ("/answer/resin/days_to_limit/value", "days ("),
    "product made": ("/answer/year/product_m3/value", "m³ ("),
    "starts of the plant": ("/answer/year/starts/value", "times"),
    "days short of water": ("/answer/year/short_days/value", "days"),
    "litres short": ("/answer/year/short_litres/value", "L"),
    "resin changes": ("/answer/year/resin_changes/value", "times ("),
    "cartridge changes": ("/answer/year/cartridge_changes/value", "times ("),
    "worst delivered reading": ("/answer/year/worst_meter_ppm/value", "ppm ("),
    "days over the limit": ("/answer/year/days_over_limit/value", "days"),
    "electricity": ("/answer/year/energy_kwh/value", "kWh"),
    "sewerage": ("/answer/cost_split/sewerage", ""),
    "together": ("/answer/cost_split", ""),
}


@pytest.mark.parametrize("words", DAY_LINES)
def test_each_line_of_the_days_says_what_it_is(words: str) -> None:
    place, unit = DAY_LINES[words]
    line = [number for number in read(PAGES["tern-quay"]).numbers if number.beside == words]
    assert [number.place for number in line][:3] == [
        f"/answer/{day}/{place}" for day in ("coldest", "today", "warmest")
    ]
    assert [number.after for number in line][:3] == [unit] * 3


@pytest.mark.parametrize("words", OTHER_LINES)
def test_each_other_line_says_what_it_is(words: str) -> None:
    line = [(number.place, number.after) for number in read(PAGES["tern-quay"]).numbers if number.beside == words]
    assert line[0] == OTHER_LINES[words]


def test_columns_of_the_warming_table_stand_under_their_headings() -> None:
    html = PAGES["tern-quay"]
    table = html[html.index('<caption id="warm-table">') : html.index('<caption id="days-table">')]
    heads = re.findall(r'<th scope="col">([^<]*)<span>([^<]*)</span>', table)
    assert heads == [
        ("water", "°C"),
        ("product", "L/min"),
        ("drain", "L/min"),
        ("membranes", "bar"),
        ("product", "ppm"),
        ("delivered", "ppm"),
        ("fill", "hours"),
        ("lime at wall", "index"),
    ]
    fields = re.findall(r'data-from="/cold_to_warm/0/(\w+)"', table)
    assert fields == list(tern_quay().cold_to_warm[0].__dataclass_fields__)


def test_what_people_typed_is_printed_as_they_typed_it() -> None:
    page = read(PAGES["ohara"])
    assert "script" not in {tag for tag, _ in page.tags}
    assert page.loose.count(EVIL) >= 5
    assert any(EVIL in text for text in page.drawn), "in the drawing's title or description"


def test_verdicts_stop_first_each_with_word_reason_and_action() -> None:
    page = read(PAGES["tern-quay"])
    start = page.loose.index("Fine, look, stop")
    words = [piece for piece in page.loose[start:] if piece in ("fine", "look", "stop")]
    assert words == ["stop", "look", "fine", "fine"]
    for verdict in tern_quay().answer["verdicts"]:
        assert verdict["why"] in page.loose
        if verdict["do"]:
            assert verdict["do"] in page.loose
    assert page.loose.index("stop") < start, "a stop is said at the top as well"


def test_no_water_on_the_coldest_day_is_said() -> None:
    loose = " ".join(read(PAGES["mill-loft"]).loose)
    assert "the plant has no working state: it makes no water" in loose
    assert loose.count("makes no water") >= 3  # headline, sentence, cold rows of the table
    assert "not known" not in loose.split("Coldest day, today, warmest day")[1].split("What comes out")[0]


def section(name: str, heading: str) -> str:
    """The words of a section of a sample's page, numbers left out."""
    html = PAGES[name]
    start = html.index(f'<h2 id="{heading}">')
    return " ".join(read(html[start : html.index("</section>", start)]).loose)


def test_the_resin_is_told_as_the_year_runs_before_full_flow() -> None:
    year = "In the year the resin is changed 9 times: each filling lasts about 7,100 L, 31 days."
    told = " ".join(read(plan_page(replace(tern_quay(), resin_in_year=(year,), always_open=True))).loose)
    assert told.index(year) < told.index("Filled always at full flow: change it when it reads")
    assert "days to the limit, at full flow" in told
    assert "If you shut the tap while you draw, open it by, for a full tank" in told
    assert "Filled always at full flow" not in " ".join(read(PAGES["tern-quay"]).loose)


def test_what_moves_the_answer_is_told_at_both_ends_and_drawn() -> None:
    words = section("tern-quay", "moves")
    assert "0.5 bar lower or 0.5 bar higher" in words
    assert "standing pressure" in words
    assert "no water or" in words, "a reading where the plant makes none"
    assert "not needed or" in words, "resin where the product needs none"
    assert PAGES["tern-quay"].count('class="swing"') == 9


def test_no_more_than_six_lines_for_each_target() -> None:
    many = moved("winter product, L/min", 2.0, *((f"input {'i' * n}", "low", 1.9, "high", 2.1) for n in range(9)))
    page = plan_page(replace(tern_quay(), answer=dict(tern_quay().answer) | {"sensitivities": many}))
    assert page.count('class="swing"') == 6


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("tern-quay", "paid for themselves after"),
        ("mill-loft", "Resin alone is the cheaper one to run"),
        ("ohara", "resin has no price here"),
    ],
)
def test_resin_alone_is_compared_as_far_as_prices_go(name: str, words: str) -> None:
    assert words in section(name, "alone")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("tern-quay", "it stays below"),
        ("harbour-depot", "it is above from"),
        ("harbour-depot", "The scale inhibitor is credited with"),
        ("ohara", "The water brings no lime."),
    ],
)
def test_scale_is_told_over_the_temperatures(name: str, words: str) -> None:
    assert words in section(name, "scale")


def test_without_a_season_nothing_is_told_from_cold_to_warm() -> None:
    paper = replace(tern_quay(), coldest_c=12.0, today_c=12.0, warmest_c=12.0)
    html = plan_page(paper)
    loose = " ".join(read(html).loose)
    assert "No season is given: the water is taken to be at" in loose
    assert "goes from" not in loose
    assert 'class="chart"' not in html
    assert "The plant as the water warms" not in loose


def test_an_inhibitor_is_spoken_of_only_where_there_is_one() -> None:
    assert "inhibitor" not in section("tern-quay", "scale")


def test_sources_stand_with_their_standing() -> None:
    words = section("tern-quay", "sources")
    for source in tern_quay().answer["sources"]:
        assert all(source[key] in words for key in ("what", "citation", "standing"))
    assert "Reproduced:" not in words, "only standings that are used are explained"


def test_resin_alone_speaks_of_no_membranes_and_no_drain() -> None:
    page = read(PAGES["heather-row"])
    words = " ".join(page.loose + page.drawn)
    for absent in ("recovery", "rejection", "gully", "The membranes last", "drain end", "membrane pressure"):
        assert absent not in words
    assert "from one fill of resin" in words


def test_direct_to_the_pole_speaks_of_no_tank() -> None:
    words = " ".join(read(PAGES["cold-beck"]).loose)
    assert "Open the tap by" not in words
    assert "fill for an average day" not in words


def test_what_is_not_known_is_said_and_never_nought() -> None:
    words = " ".join(read(PAGES["ohara"]).loose)
    resin = words.split("How long the resin lasts")[1].split("Cartridges and membranes")[0]
    assert "not known" in resin
    assert "0 L" not in resin
    assert "strip-wide" not in PAGES["ohara"].split("</style>")[1]


def test_no_resin_needed_is_said() -> None:
    paper = tern_quay()
    resin = dict(paper.answer["resin"]) | {"needed": False}
    assert "No resin is needed." in read(plan_page(replace(paper, answer=dict(paper.answer) | {"resin": resin}))).loose


def test_a_plant_without_prices_says_so() -> None:
    paper = replace(tern_quay(), answer=dict(tern_quay().answer) | {"cost_split": {}})
    assert "No prices are given, so the costs are not known." in read(plan_page(paper)).loose


def test_an_answer_without_a_key_is_refused_by_name() -> None:
    broken = {key: value for key, value in tern_quay().answer.items() if key != "resin"}
    with pytest.raises(KeyError, match="resin"):
        plan_page(replace(tern_quay(), answer=broken))
    state = solved(
        tap_ppm=100, product_l_min=1, recovery=0.5, membrane_bar=3, product_ppm=5, delivered_ppm=1, fill_hours=1.0
    )
    del state["feed"]["ph"]
    with pytest.raises(KeyError, match="/answer/today/feed/ph"):
        plan_page(replace(mill_loft(), answer=answer(state, None, state)))


def test_the_same_paper_gives_the_same_page() -> None:
    assert plan_page(ohara()) == PAGES["ohara"]
    assert plan_page(heather_row()) == PAGES["heather-row"]


def test_importing_papers_loads_neither_templates_nor_charts() -> None:
    code = "import sys, rinsewright.papers; print([m for m in ('jinja2', 'vl_convert', 'numpy') if m in sys.modules])"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
