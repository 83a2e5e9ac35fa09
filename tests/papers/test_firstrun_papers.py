"""The first run's record and the handover pack: complete, printable, and silent about what the plant has not."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from rinsewright.firstrun.wording import NAMES
from rinsewright.papers.firstrun import code_to_scan
from rinsewright.papers.pdf import page_pdf

from .first_runs import RUNS, handover_page_of, papers_of, record_of, site_of
from .printed import printed, without_switches
from .reading import read
from .test_plan_pdf import claims_accessibility, squeezed

PAGES = {"record": record_of, "handover": handover_page_of}
# Words that only a plant with the part has a use for.
ONLY_WITH = {
    "membranes": ("membrane", "preservative", "restrictor", "drain"),
    "tank": ("the tank", "and tank", "float"),
    "resin": ("resin",),
    "shutoff": ("shut-off",),
    "pump": ("pump is loud",),
}


def said(html: str) -> str:
    """A page's text outside its drawings, of what is printed."""
    return " ".join(" ".join(read(re.sub(r"<title>.*?</title>", "", without_switches(html), count=1)).loose).split())


def has(name: str) -> set[str]:
    plant = site_of(name).plant
    there = {"membranes": plant.stages, "tank": plant.tank, "resin": plant.resin, "shutoff": plant.shutoff}
    return {part for part, found in {**there, "pump": plant.pump}.items() if found}


@pytest.mark.parametrize("name", RUNS)
@pytest.mark.parametrize("kind", PAGES)
def test_every_word_is_printed_and_can_be_listened_to(kind: str, name: str) -> None:
    html = PAGES[kind](name)
    file = page_pdf(html, site_of(name).name, kind)
    assert claims_accessibility(file)
    text = squeezed(printed(file).text)
    for word in said(html).split():
        assert word in text, word


@pytest.mark.parametrize("name", RUNS)
@pytest.mark.parametrize("kind", PAGES)
def test_nothing_is_said_of_parts_that_are_not_there(kind: str, name: str) -> None:
    text = said(PAGES[kind](name)).lower()
    text = re.sub(r"cannot be|do not|tanks? (?:must|in)|van.s tank.*?[.?]|fill(?:s|ing) a tank", "", text)
    for part, words in ONLY_WITH.items():
        if part not in has(name):
            assert [word for word in words if word in text] == [], part


@pytest.mark.parametrize("name", RUNS)
def test_the_record_has_a_row_for_each_line_of_this_plant_and_a_place_to_write(name: str) -> None:
    html, run = record_of(name), papers_of(name).run
    known = [key for key, band in run.expected.items() if band.value is not None]
    rows = re.search(r'<table class="readings">.*?</table>', html, re.DOTALL)
    assert rows is not None
    assert rows.group().count("<tr>") == len(known) + 1
    assert rows.group().count("_______<") == len(known) - len([line for line in run.lines if line.what in known])
    for key in known:
        assert NAMES[key].lower() in rows.group().lower()
    for words in ("Signature", "Date and time", "Meter and its factor"):
        assert words in html


def test_a_faulty_sheet_says_the_worst_first() -> None:
    run, text = papers_of("faulty").run, said(record_of("faulty"))
    assert run.verdict == "stop"
    assert text.index(run.why) < text.index("What to read")
    assert "never" in text


def test_the_code_holds_the_address() -> None:
    """Its dark squares, read back from the picture, are those of the standard's matrix of that address."""
    import segno

    address = "https://tern-quay.example/plant"
    picture = ElementTree.fromstring(str(code_to_scan(address, "The code")))
    assert picture.attrib["viewBox"] == "0 0 148 148"
    dark = [path for path in picture.iter() if path.tag.endswith("path") and path.get("stroke") == "#000"]
    assert len(dark) == 1
    assert squares(dark[0].attrib["d"]) == {
        (x, y)
        for y, row in enumerate(segno.make(address, error="m", micro=False).matrix)
        for x, bit in enumerate(row)
        if bit
    }
    assert address in said(record_of("empty"))
    assert 'class="qr"' in record_of("empty")
    assert "No code to scan" in record_of("to the pole")


def squares(way: str, border: int = 4) -> set[tuple[int, int]]:
    """Squares that the strokes of a path run over, each stroke one square high."""
    found, x, y = set(), 0.0, 0.0
    for command, numbers in re.findall(r"([Mmh])([-\d. ]+)", way):
        values = [float(number) for number in numbers.split()]
        if command == "h":
            found |= {(round(x) + step - border, round(y - 0.5) - border) for step in range(round(values[0]))}
            x += values[0]
        else:
            x, y = (values[0], values[1]) if command == "M" else (x + values[0], y + values[1])
    return found
