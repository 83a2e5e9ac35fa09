"""The demo's documents in the units of the United States: nothing metric is left, and every number is the same one."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from html import unescape

import pytest

from rinsewright.firstrun.handover import handover_of
from rinsewright.jobs.firstrun import FirstRunPapers
from rinsewright.jobs.plan import paper_of
from rinsewright.papers import plan_page, year_page
from rinsewright.papers.build import build_page, unpacking_page
from rinsewright.papers.drawing import draw_tall, draw_wide
from rinsewright.papers.firstrun import handover_page, record_page
from rinsewright.papers.units import Telling, Units
from rinsewright.planning.plan import Plan

from .builds import sheet_of
from .first_runs import papers_of, site_of
from .reading import as_number, half_of_last_digit
from .test_drawing import check_clear
from .years import a_year

US = Units.named("us")
DEMO_FACTOR = 0.5  # of the demo's meter

# Exact or to seven digits: NIST SP 811, appendix B (from memory). Written anew, not taken from the package.
PSI, GALLON = 14.50377, 3.785411784
FACTORS = {"bar": ("psi", PSI), "L": ("US gal", 1 / GALLON), "L/min": ("US gal/min", 1 / GALLON)}
FACTORS |= {"m³": ("US gal", 1000 / GALLON), "°C": ("°F", 1.8)}
ZERO = {"°C": 32.0}


@cache
def plan() -> Plan:
    return site_of("empty").plan()


@cache
def record(units: Units | None) -> str:
    found = papers_of("faulty")
    return record_page(FirstRunPapers(found.site, found.run, units).paper())


def handover(units: Units | None) -> str:
    run = papers_of("faulty").run
    return handover_page(handover_of(plan(), run), run.answer(), Telling.of(units, DEMO_FACTOR))


PAGES: dict[str, Callable[[Units | None], str]] = {
    "plan": cache(lambda units: plan_page(paper_of(plan(), units))),
    "year": cache(lambda units: year_page(a_year(), units)),
    "build": cache(lambda units: build_page(sheet_of("demo"), Telling.of(units))),
    "unpacking": cache(lambda units: unpacking_page(sheet_of("demo"), Telling.of(units))),
    "firstrun": record,
    "handover": handover,
}

STAYS = (
    r"µS/cm at 25 °C",  # what a conductivity is stated at
    r"In Great Britain [^.]*12 L/min",  # a limit of law
    r"left on glass, per litre",  # mg, as all that is dissolved
    r"flux\s+L/m² h",  # as data sheets have it
)
METRIC = re.compile(
    r"\d\s*(?:°C|bar|L/min|L|m³)(?![\w/])|^(?:°C|bar|L/min|L|m³)$|litre|m³", re.MULTILINE | re.IGNORECASE
)


def told(page: str) -> str:
    """The page's words, pictures' too: a line for each element that is no part of a line."""
    body = re.sub(r"</?(?:b|data|em|time)\b[^>]*>", "", page[page.index("<body>") :])
    text = unescape(re.sub(r"<[^>]+>", "\n", body)).replace("\N{NO-BREAK SPACE}", " ")
    return re.sub("|".join(STAYS), "", text, flags=re.IGNORECASE)


@pytest.mark.parametrize("name", PAGES)
def test_nothing_metric_is_left(name: str) -> None:
    found = told(PAGES[name](US))
    assert [line for line in found.splitlines() if METRIC.search(line)] == []
    assert METRIC.search(told(PAGES[name](None)))


@pytest.mark.parametrize("name", ["plan", "year"])
def test_every_marked_number_is_the_same_one_converted(name: str) -> None:
    units: dict[str, int] = {}
    back = {"psi": PSI, "US gal/min": 1 / GALLON, "US gal": 1 / GALLON, "US gal a day": 1 / GALLON, "°F": 1.8}
    metric, us = (re.findall(r"<data ([^>]*)>([^<]*)</data>", PAGES[name](units)) for units in (None, US))
    for (was, _), (now, text) in zip(metric, us, strict=True):
        known = dict(re.findall(r'([\w-]+)="([^"]*)"', now))
        unit = known.pop("data-unit", "")
        factor = back.get(unit, 1.0) * (1e3 if "_m3" in known["data-from"] and unit else 1.0)
        if "cost_per_m3" in known["data-from"]:  # each 1,000 US gallons
            assert float(known.pop("data-times")) == pytest.approx(GALLON, rel=1e-5)
            factor = GALLON
        assert known == dict(re.findall(r'([\w-]+)="([^"]*)"', was))
        exact = float(known["value"]) * float(known.get("data-times", "1")) * factor + (32.0 if unit == "°F" else 0.0)
        if text != "under 0.01":
            assert as_number(text) == pytest.approx(exact, abs=half_of_last_digit(text), rel=1e-5), now
        units[unit] = units.get(unit, 0) + 1
    assert units["°F"] > 10
    assert units["US gal"] > 4


NUMBER = "\N{MINUS SIGN}?" r"\d[\d,]*(?:\.\d+)?"
OF_EACH = (  # of one for each of another: the number stays
    r"(?:[^.\n]|\.\d)*for each (?:litre|US gallon)(?:[^.\n]|\.\d)*"
    r"|each 1,000 US gal|drain per (?:litre|US gallon)(?:\s+[\d.]+ (?:L|US gal))*"
)


@pytest.mark.parametrize("name", PAGES)
def test_every_number_in_a_sentence_is_the_same_one_converted(name: str) -> None:
    def numbers(units: Units | None, words: str) -> list[tuple[str, str, str]]:
        page = re.sub(r'<text class="size".*?</text>', "", PAGES[name](units))  # broken into lines, each its own way
        text = re.sub(OF_EACH, "", told(page), flags=re.IGNORECASE)
        return re.findall(rf"({NUMBER}) ({words})(?![\w/])( (?:colder|warmer|is \d))?", text)

    metric = numbers(None, "°C|bar|L/min|L|m³")
    us = numbers(US, "°F|psi|(?:US )?gal/min|US gal")
    assert len(metric) == len(us) > 2
    for was, now in zip(metric, us, strict=True):
        unit, factor = FACTORS[was[1]]
        assert unit in (now[1], f"US {now[1]}")  # a drawing is brief
        zero = 0.0 if was[2] else ZERO.get(was[1], 0.0)
        slack = factor * half_of_last_digit(was[0]) + half_of_last_digit(now[0])
        assert as_number(now[0]) == pytest.approx(factor * as_number(was[0]) + zero, abs=slack), (was, now)


def test_a_handful_of_numbers_by_hand() -> None:
    # 4.0 bar · 14.50377, 2.35 L/min / 3.785412, 5 °C · 1.8 + 32, £24 a m³ · 3.785412; of the tank 650 L / 3.785412.
    plan_said, build_said = told(PAGES["plan"](US)), told(PAGES["build"](US))
    for words in ("58 psi", "41 °F", "it makes 0.62 US gal/min", "each 1,000 US gal of product £91"):
        assert words in plan_said
    assert "Stand the 172 US gal tank" in build_said
    assert "Rated for 116 psi: never above." in build_said  # 8 bar; a limit is not rounded to 120


def test_a_record_states_its_units_and_readings_as_they_were_typed() -> None:
    typed = {"membrane_bar": 50 / PSI, "product_l_min": 0.75 * GALLON, "tap_meter_ppm": 434 * 0.5 / 0.7}
    site = site_of("empty")
    run = site.first_run(temperature_c=12.0, running_bar=58 / PSI, measured=typed)
    said = " ".join(told(record_page(FirstRunPapers(site, run, Units("f", "psi", "gal", 0.7)).paper())).split())
    for words in (
        "50 psi",
        "0.75 US gal/min",
        "434 ppm",
        "Water at 53.6 °F, 58 psi at the tap",
        "one meter, factor 0.7.",
    ):
        assert words in said
    assert "in these units: °F, psi, US gal, US gal/min and ppm on a meter of factor 0.7." in said


def test_readings_follow_the_persons_meter() -> None:
    own = Units(ppm_factor=0.7)
    said = told(plan_page(paper_of(plan(), own)))
    assert "when it reads 14 ppm" in said
    assert "with a meter factor of 0.7" in said
    assert re.search(r"Numbers are today’s, water at 12 °C", said)


@pytest.mark.parametrize("name", ["plan", "build", "firstrun", "handover"])
def test_the_site_files_units_change_nothing(name: str) -> None:
    assert PAGES[name](Units(ppm_factor=DEMO_FACTOR)) == PAGES[name](None)


def test_tags_do_not_run_out_of_a_phones_drawing() -> None:
    paper = paper_of(plan(), US)
    for draw in (draw_wide, draw_tall):
        check_clear(draw(paper.telling.retold(paper.path)))


def test_a_name_is_kept() -> None:
    sheet = {"name": "yard of 10 L", "why": "It holds 10 L."}
    assert Telling.of(US).retold(sheet) == {"name": "yard of 10 L", "why": "It holds 2.6 US gal."}
