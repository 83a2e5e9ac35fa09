"""Earlier versions: nothing is lost, anything can be compared, the last change is undone."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from rinsewright.store.book import Book
from rinsewright.web.changes import Change, changes

from .served import DEMO, SLUG

LESS = DEMO.replace("standing_bar = 4.2", "standing_bar = 4.5")


@pytest.fixture
def changed(book: Book) -> Book:
    book.save(SLUG, LESS, "Tern Quay yard", "more pressure", 1)
    return book


def test_it_works(client: TestClient, changed: Book) -> None:
    html = client.get(f"/sites/{SLUG}/versions").text
    assert "more pressure" in html
    assert "brought in" in html
    html = client.get(f"/sites/{SLUG}/versions?compare=2").text
    row = re.search(r"<tr><th scope=\"row\">([^<]+)</th><td>([^<]+)</td><td>([^<]+)</td>", html)
    assert row is not None
    assert row.groups() == ("supply: standing pressure", "4.2", "4.5")


def test_undo_brings_the_state_before_back_and_can_be_undone(client: TestClient, changed: Book) -> None:
    start = f"/sites/{SLUG}/start"
    answer = client.post(f"/sites/{SLUG}/undo", data={"from": start}, follow_redirects=False)
    assert answer.headers["location"] == start
    assert changed.current(SLUG).toml == DEMO
    assert len(changed.versions(SLUG)) == 3
    assert "as version 1 was" in client.get(f"/sites/{SLUG}/versions").text


def test_undo_at_the_first_version_is_refused_in_a_sentence(client: TestClient, book: Book) -> None:
    assert client.post(f"/sites/{SLUG}/undo").status_code == 422
    assert len(book.versions(SLUG)) == 1


def test_undo_leads_to_no_other_site(client: TestClient, changed: Book) -> None:
    answer = client.post(f"/sites/{SLUG}/undo", data={"from": "https://evil.example"}, follow_redirects=False)
    assert answer.headers["location"].startswith(f"/sites/{SLUG}/")


def test_a_version_that_is_not_there_is_said(client: TestClient, book: Book) -> None:
    assert client.get(f"/sites/{SLUG}/versions?compare=9").status_code == 404
    assert client.get(f"/sites/{SLUG}/versions?compare=nine").status_code == 200


def test_two_alike_differ_in_nothing() -> None:
    assert list(changes(DEMO, DEMO)) == []
    assert list(changes(DEMO, DEMO.replace("# A", "# B"))) == []


def test_parts_that_came_and_went_are_told_whole() -> None:
    carbon = DEMO[
        DEMO.index('[[plant.feed]]\npart = "cartridge"\nmedia = "carbon"') : DEMO.index("# ---- the membranes")
    ]
    (gone,) = changes(DEMO, DEMO.replace(carbon, ""))
    assert gone.after is None
    assert gone.before is not None
    assert "media carbon" in gone.before
    (come,) = changes(DEMO.replace(carbon, ""), DEMO)
    assert (come.before, come.after) == (None, gone.before)


def test_a_key_of_a_part_is_told_by_its_place_and_part() -> None:
    (change,) = changes(DEMO, DEMO.replace("litres = 7.0", "litres = 11.0"))
    assert change == Change("plant: product line 4, resin: resin in one vessel", "7", "11")


def test_keys_that_share_their_words_are_told_apart() -> None:
    found = list(changes(DEMO, DEMO.replace("mon = 320, tue = 320", "mon = 300, tue = 310")))
    assert [change.where.rpartition(", ")[2] for change in found] == ["mon", "tue"]


def test_what_was_not_given_is_said(client: TestClient, book: Book) -> None:
    book.save(SLUG, DEMO.replace("ph = 7.4\n", ""), "Tern Quay yard", "no pH", 1)
    assert "<td>7.4</td><td>not given</td>" in client.get(f"/sites/{SLUG}/versions?compare=2").text


def test_any_version_is_brought_back_and_that_can_be_undone(client: TestClient, changed: Book) -> None:
    changed.save(SLUG, LESS.replace("ph = 7.4\n", ""), "Tern Quay yard", "no pH", 2)
    assert f"/sites/{SLUG}/versions/3/back" not in client.get(f"/sites/{SLUG}/versions").text  # it stands
    html = client.post(f"/sites/{SLUG}/versions/1/back").text
    assert "version 1 brought back" in html
    assert changed.current(SLUG).toml == DEMO
    client.post(f"/sites/{SLUG}/undo")
    assert "ph = 7.4" not in changed.current(SLUG).toml


def test_each_version_can_be_kept_as_a_file(client: TestClient, changed: Book) -> None:
    assert f'href="/sites/{SLUG}/versions/1/file"' in client.get(f"/sites/{SLUG}/versions").text
    answer = client.get(f"/sites/{SLUG}/versions/1/file")
    assert answer.text == DEMO
    assert f'filename="{SLUG}-version-1.toml"' in answer.headers["content-disposition"]
    assert client.get(f"/sites/{SLUG}/versions/9/file").status_code == 404


def test_undo_is_offered_only_where_there_is_something_to_undo(client: TestClient, changed: Book) -> None:
    assert f'action="/sites/{SLUG}/undo"' in client.get(f"/sites/{SLUG}/start").text
    html = client.post(f"/sites/{SLUG}/undo", data={"from": f"/sites/{SLUG}/start"}).text
    assert f'action="/sites/{SLUG}/undo"' not in html
