"""Drawn years are there again when the app is; never for another text or another program."""

from __future__ import annotations

from html import unescape
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from rinsewright.planning import versions
from rinsewright.planning.year_result import YearResult
from rinsewright.store.book import Book
from rinsewright.web import drawn_years
from rinsewright.web.app import make_app
from rinsewright.web.drawn_years import DrawnYears, basis_of, packed, unpacked
from rinsewright.web.engine import Engine
from rinsewright.web.runs import Asked

from ..papers.years import YEARS, a_year
from .conftest import SAME
from .served import DEMO, SLUG

PAGE = f"/sites/{SLUG}/year"
ASKED = Asked(SLUG, 1, DEMO, 20, 5)


def started(book: Book) -> TestClient:
    """The app as it is after a start: it remembers what is in the book."""
    return TestClient(make_app(book, hosts=["testserver"]), headers=SAME)


def known(book: Book, toml: str = DEMO) -> YearResult | None:
    return DrawnYears(book, Engine()).find(SLUG, toml, 20, 5)


@pytest.fixture
def kept(book: Book) -> YearResult:
    """Twenty years, drawn by an app that has ended since."""
    year = a_year(members=20)
    DrawnYears(book, Engine()).keep(ASKED, year)
    return year


@pytest.mark.parametrize("name", YEARS)
def test_a_year_comes_back_to_the_last_digit(name: str) -> None:
    year = YEARS[name]()
    again = unpacked(packed(year))
    assert again is not None
    for rows, back in [
        (year.days, again.days),
        *((a.hours, b.hours) for a, b in zip(year.weeks, again.weeks, strict=True)),
    ]:
        assert list(rows) == list(back)
        for key, row in rows.items():
            np.testing.assert_array_equal(row, back[key])
    assert again.answer() == year.answer()
    assert again.calendar == year.calendar
    assert again.sentences() == year.sentences()
    assert (again.seed, again.members, again.cost_split, again.notes) == (
        year.seed, year.members, year.cost_split, year.notes,
    )  # fmt: skip


def test_they_are_shown_again_after_a_start(book: Book, kept: YearResult) -> None:
    client = started(book)
    assert "Look at the 20 years" in client.get(f"{PAGE}/drawing").text
    html = unescape(client.get(f"{PAGE}?years=20&seed=5").text)
    assert f"Of 20 years drawn with seed {kept.seed}" in html
    assert "kept no longer" not in html
    answer = client.post(PAGE, data={"years": "20", "seed": "5"}, follow_redirects=False)
    assert answer.headers["location"] == f"{PAGE}?years=20&seed=5"  # nothing is drawn again


def test_they_are_not_shown_for_another_text_or_program(
    book: Book, kept: YearResult, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = DEMO.replace('name = "Tern Quay yard"', 'name = "Tern Quay"')
    book.save(SLUG, other, "Tern Quay", "named anew", 1)
    assert known(book, other) is None
    assert "Look at" not in started(book).get(f"{PAGE}/drawing").text
    book.undo(SLUG)
    assert known(book) is not None  # the text that they are of
    assert "Look at the 20 years" in started(book).get(f"{PAGE}/drawing").text
    with monkeypatch.context() as newer:
        newer.setattr(versions, "__version__", "99.0")
        assert known(book) is None
    (tmp_path / "one.py").write_text("one = 2\n")
    monkeypatch.setattr(drawn_years, "PROGRAM", tmp_path)
    drawn_years.program_text.cache_clear()
    assert known(book) is None
    drawn_years.program_text.cache_clear()


@pytest.mark.parametrize("content", [b"", b"no zlib", packed(a_year(members=20))[:-9]])
def test_what_is_damaged_is_not_there(book: Book, content: bytes) -> None:
    book.keep_drawn_years(SLUG, basis_of(DEMO), 20, 5, content)
    assert known(book) is None


def test_what_the_book_cannot_keep_is_there_until_the_app_ends(book: Book) -> None:
    book.remove_site(SLUG)
    drawn, year = DrawnYears(book, Engine()), a_year(members=20)
    drawn.keep(ASKED, year)
    assert drawn.find(SLUG, DEMO, 20, 5) is year
