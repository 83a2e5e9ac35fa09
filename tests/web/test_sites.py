"""The list of sites: what is in it, what comes in, what goes and comes back."""

from __future__ import annotations

import re
from html import unescape
from importlib.resources import files

from starlette.testclient import TestClient

from rinsewright.store.book import Book

from .served import DEMO, SLUG

WRONG = '[site]\nname = "Wharf"\nfrost = true\n'


def test_it_works(new_client: TestClient) -> None:
    html = new_client.get("/").text
    assert "Tern Quay yard" in html
    assert 'data-load="/sites/tern-quay-yard/line"' in html


def test_an_empty_book_says_how_to_begin(client: TestClient, book: Book) -> None:
    book.remove_site("tern-quay-yard")
    html = client.get("/").text
    assert "No site yet" in html
    assert 'href="/start"' in html


def test_the_line_has_word_and_sentence_and_then_stands_in_the_list(client: TestClient) -> None:
    line = client.get("/sites/tern-quay-yard/line").text
    assert re.search(r'class="verdict (fine|look|stop)"', line)
    assert "On the coldest day" in line
    assert "On the coldest day" in client.get("/").text


def test_a_site_that_cannot_run_says_so_in_its_line(client: TestClient, book: Book) -> None:
    dead = DEMO.replace("standing_bar = 4.2", "standing_bar = 0.05").replace(
        "  { flow_l_min = 6.0, pressure_bar = 4.0 },\n  { flow_l_min = 12.0, pressure_bar = 3.4 },\n", ""
    )
    row = book.add_site(dead, "Dry yard", "brought in")
    line = client.get(f"/sites/{row.slug}/line")
    assert line.status_code == 200
    assert 'class="verdict stop"' in line.text


def test_the_most_urgent_comes_first(client: TestClient, book: Book) -> None:
    calm = book.add_site(DEMO.replace("Tern Quay yard", "A yard"), "A yard", "brought in")
    short = DEMO.replace("= 320", "= 9000").replace("Tern Quay yard", "Short yard")
    urgent = book.add_site(short, "Short yard", "brought in")
    for slug in (calm.slug, urgent.slug):
        client.get(f"/sites/{slug}/line")
    names = re.findall(r"<h2><a [^>]*>([^<]+)</a>", client.get("/").text)
    assert names.index("Short yard") < names.index("A yard")


def test_the_sentence_is_told_in_the_users_units(client: TestClient, book: Book) -> None:
    book.set_setting("units.temperature", "f")
    book.set_setting("units.volume", "gal")
    line = client.get("/sites/tern-quay-yard/line").text
    assert "41 °F" in line
    assert "US gal/min" in line


def test_a_pasted_file_comes_in(client: TestClient, book: Book) -> None:
    answer = client.post("/sites", data={"text": DEMO.replace("\n", "\r\n")}, follow_redirects=False)
    assert answer.status_code == 303
    assert [row.slug for row in book.sites()] == ["tern-quay-yard", "tern-quay-yard-2"]
    assert book.current("tern-quay-yard-2").toml == DEMO


def test_a_file_comes_in(client: TestClient, book: Book) -> None:
    sent = {"file": ("wharf.toml", DEMO.encode(), "application/toml")}
    assert client.post("/sites", files=sent, data={"text": ""}, follow_redirects=False).status_code == 303
    assert len(book.sites()) == 2


def test_what_is_wrong_is_said_and_the_text_stays(client: TestClient, book: Book) -> None:
    for given in ({"data": {"text": WRONG}}, {"files": {"file": ("wharf.toml", WRONG.encode())}}):
        answer = client.post("/sites", **given)
        assert answer.status_code == 422
        html = unescape(answer.text)
        assert WRONG in html
        assert "line 3" in html
        assert 'role="alert"' in html
        assert 'aria-describedby="f-text-error"' in html
    assert "wharf.toml, line 3" in html
    assert len(book.sites()) == 1


def test_nothing_and_what_is_no_text_is_refused(client: TestClient, book: Book) -> None:
    assert client.post("/sites", data={"text": "  "}).status_code == 422
    assert client.post("/sites", files={"file": ("x.toml", b"\xff\xfe\x00\x01")}).status_code == 422
    assert len(book.sites()) == 1


def test_a_name_cannot_become_markup(client: TestClient, book: Book) -> None:
    book.add_site(DEMO, "<script>alert(1)</script>", "<b>brought</b>")
    assert "<script>alert" not in client.get("/").text
    slug = book.sites()[1].slug
    html = client.get(f"/sites/{slug}/versions").text
    assert "<script>alert" not in html
    assert "<b>brought" not in html


def test_the_example_is_that_of_the_examples_folder(client: TestClient, book: Book) -> None:
    assert files("rinsewright.web").joinpath("example.toml").read_text(encoding="utf-8") == DEMO
    assert client.post("/sites/example", follow_redirects=False).status_code == 303
    assert book.current("tern-quay-yard-2").toml == DEMO


def test_a_sites_own_address_leads_to_its_plant(client: TestClient) -> None:
    for address in ("/sites/tern-quay-yard/", "/sites/tern-quay-yard"):
        answer = client.get(address)
        assert answer.status_code == 200
        assert str(answer.url).endswith("/sites/tern-quay-yard/plant")
    assert client.get("/sites/nowhere/").status_code == 404


def test_a_removed_site_comes_back(client: TestClient, book: Book) -> None:
    client.post("/sites/tern-quay-yard/remove")
    assert book.sites() == []
    assert "Bring Tern Quay yard back" in client.get("/").text
    client.post("/sites/tern-quay-yard/bring-back")
    assert [row.slug for row in book.sites()] == ["tern-quay-yard"]


def test_the_file_can_be_taken_away(client: TestClient) -> None:
    answer = client.get("/sites/tern-quay-yard/file")
    assert answer.text == DEMO
    assert 'filename="tern-quay-yard.toml"' in answer.headers["content-disposition"]


def test_a_site_without_a_plant_says_where_to_get_one(client: TestClient, book: Book) -> None:
    slug = book.add_site('schema = 1\n[site]\nname = "Bare Lane"\n', "Bare Lane", "brought in").slug
    answer = client.get(f"/sites/{slug}/plant")
    assert answer.status_code == 422
    assert "bring that in as a new site" in answer.text
    assert 'href="/start"' in answer.text
    assert "bring that in" not in client.get(f"/sites/{SLUG}/first-run/99").text
