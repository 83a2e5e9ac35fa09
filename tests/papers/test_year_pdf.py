"""The year in print: the page's numbers and words, pictures that are told, A4, the days in small tables."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from rinsewright.papers import page_pdf, year_page
from rinsewright.planning.year_result import YearResult

from .printed import assert_numbers_in_order, printed, typesetters_letters, without_switches
from .reading import read
from .samples import EVIL
from .test_plan_pdf import A4, claims_accessibility, squeezed
from .years import YEARS, a_year

PAGES = {name: year_page(make()) for name, make in YEARS.items()}


def year_pdf(result: YearResult, page: str | None = None) -> bytes:
    """The year's sheet in print; ``page`` if it is made already."""
    return page_pdf(year_page(result) if page is None else page, result.site_name, "year")


FILES = {name: year_pdf(make(), PAGES[name]) for name, make in YEARS.items()}
PRINTED = {name: printed(file) for name, file in FILES.items()}


@pytest.fixture(params=YEARS)
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def on_paper(html: str) -> str:
    """A page without what opens a folded table: in print nothing is folded."""
    return re.sub(r"<summary>.*?</summary>", "", without_switches(html))


def test_every_number_of_the_page_is_printed_in_its_order(name: str) -> None:
    assert_numbers_in_order(PRINTED[name].text, PAGES[name])


def test_every_word_of_the_page_is_printed(name: str) -> None:
    """Every cell of the folded tables as well."""
    text = squeezed(PRINTED[name].text)
    title, *pieces = read(on_paper(PAGES[name])).loose
    assert title == f"{YEARS[name]().site_name}: year"
    for piece in pieces:
        assert squeezed(piece) in text, piece


def test_every_day_is_a_line_of_its_own() -> None:
    days = [line for line in PRINTED["tern-quay"].lines if re.match(r"(Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d+ \w{3} ", line)]
    assert len(days) == 365
    page = PAGES["tern-quay"]
    for line, row in zip(days, re.findall(r'<tr><th scope="row">(\w{3} \d+ \w{3})</th>(.*?)</tr>', page), strict=True):
        assert line == " ".join([row[0], *re.findall(r"<td>(.*?)</td>", row[1])])


def test_the_answer_is_on_the_first_page(name: str) -> None:
    first = squeezed(" ".join(PRINTED[name].pages[0]))
    year = YEARS[name]()
    assert all(squeezed(sentence) in first for sentence in year.sentences())
    assert year.planned_on in first


def test_sheets_are_a4_and_not_too_many(name: str) -> None:
    sheets = PRINTED[name].reader.pages
    assert all(float(sheet.mediabox[2]) == pytest.approx(A4[0], abs=0.1) for sheet in sheets)
    assert all(float(sheet.mediabox[3]) == pytest.approx(A4[1], abs=0.1) for sheet in sheets)
    assert 5 <= len(sheets) <= 11
    assert PRINTED[name].feet[-1].endswith(f"{len(sheets)} of {len(sheets)}")


def test_no_heading_ends_a_page(name: str) -> None:
    heads = re.findall(r'<(h2|h3|caption|p class="chart-head")[^>]*>(.*?)</', PAGES[name])
    starts = {squeezed(re.sub("<[^>]*>", "", words)) for _, words in heads}
    assert len(starts) > 8
    for page in PRINTED[name].pages:
        assert squeezed(page[-1]) not in starts


def test_the_file_is_tagged_and_pictures_are_told(name: str) -> None:
    file = PRINTED[name]
    assert claims_accessibility(FILES[name])
    assert file.root["/Lang"] == ("en-GB" if YEARS[name]().country == "GB" else "en")
    assert file.reader.metadata is not None
    assert file.reader.metadata.title == f"{YEARS[name]().site_name}: year"
    tags = list(file.tags())
    figures = [node for kind, node in tags if kind == "Figure"]
    assert len(figures) == PAGES[name].count('class="chart"') > 10
    assert all(len(str(node["/Alt"])) > 20 for node in figures)
    kinds = [kind for kind, _ in tags]
    assert kinds.count("Table") == kinds.count("THead") == kinds.count("Caption") == PAGES[name].count("<table")


def test_every_letter_printed_is_in_the_font() -> None:
    letters = typesetters_letters("Libertinus Serif")
    assert {c for file in PRINTED.values() for c in file.text if ord(c) not in letters} == set()


def test_what_people_typed_is_printed_as_they_typed_it() -> None:
    assert squeezed(PRINTED["no-prices"].text).count(squeezed(EVIL)) >= 10


def test_no_name_is_taken_for_markup() -> None:
    typed = '#panic("x") $y$ *b* _i_ @ref <lab> `r` \\ // [c] = - + /t'
    year: YearResult = a_year(typed, 1)
    event = replace(year.calendar[0], what=typed, why=typed)
    sheet = printed(year_pdf(replace(year, calendar=(event,), notes=[typed])))
    # What is changed is said with its blanks: in the sentence and in the table.
    assert (
        squeezed(sheet.text).count(squeezed(typed)) + squeezed(sheet.text).count(squeezed(typed.replace("_", " "))) == 5
    )


def test_the_same_year_gives_the_same_file() -> None:
    assert year_pdf(a_year()) == FILES["tern-quay"]
