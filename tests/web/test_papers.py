"""Documents: issued once, kept as bytes, shown as they were issued."""

from __future__ import annotations

import io
import re
from base64 import b64encode
from datetime import UTC, datetime
from hashlib import sha256
from html import unescape

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient

from rinsewright.store.book import Book
from rinsewright.web.engine import Engine
from rinsewright.web.issuing import KINDS, issue

from .served import DEMO, SLUG

PAPERS = f"/sites/{SLUG}/papers"


@pytest.mark.parametrize("kind", KINDS)
def test_it_works(client: TestClient, book: Book, kind: str) -> None:
    answer = client.post(PAPERS, data={"kind": kind}, follow_redirects=False)
    assert answer.status_code == 303
    (row,) = book.documents(SLUG)
    assert answer.headers["location"] == f"{PAPERS}#d-{row.number}"
    assert (row.kind, row.version_number) == (kind, 1)
    kept = book.document(row.number)
    page, pdf = client.get(f"/papers/{row.number}.html"), client.get(f"/papers/{row.number}.pdf")
    assert page.content == kept.html
    assert pdf.content == kept.pdf
    assert pdf.content.startswith(b"%PDF-")
    assert f"{SLUG}-{kind}-{row.number}.pdf" in pdf.headers["content-disposition"]
    mark = f"Document {row.number}, issued {row.issued_at:%Y-%m-%d} from version 1 of the site file."
    assert mark in page.text
    assert mark in " ".join(PdfReader(io.BytesIO(pdf.content)).pages[-1].extract_text().split())
    html = client.get(PAPERS).text
    for part in (row.number, row.html_sha256, row.pdf_sha256, row.program, row.data):
        assert part in html


def test_a_document_is_told_in_the_units_of_the_book(client: TestClient, book: Book) -> None:
    for name, value in {"pressure": "psi", "volume": "gal", "ppm_factor": "0.7"}.items():
        book.set_setting(f"units.{name}", value)
    for kind in ("build", "firstrun"):
        client.post(PAPERS, data={"kind": kind})
    build, record = (unescape(client.get(f"/papers/{row.number}.html").text) for row in book.documents(SLUG))
    assert "Rated for 116 psi: never above." in build  # 8 bar; 1 bar is 14.50377 psi: NIST SP 811 (from memory)
    assert "in these units: °C, psi, US gal, US gal/min and ppm on a meter of factor 0.7." in record


def test_a_document_never_changes_with_its_site(client: TestClient, book: Book) -> None:
    client.post(PAPERS, data={"kind": "build"})
    before = client.get("/papers/" + book.documents(SLUG)[0].number + ".html").content
    book.save(SLUG, DEMO.replace("litres = 650", "litres = 800"), "Tern Quay yard", "larger tank", 1)
    client.post(PAPERS, data={"kind": "build"})
    first, second = book.documents(SLUG)
    assert client.get(f"/papers/{first.number}.html").content == before
    assert client.get(f"/papers/{second.number}.html").content != before
    assert (first.version_number, second.version_number) == (1, 2)


def test_a_page_may_use_its_own_style_and_nothing_else(client: TestClient, book: Book) -> None:
    client.post(PAPERS, data={"kind": "unpacking"})
    answer = client.get(f"/papers/{book.documents(SLUG)[0].number}.html")
    (css,) = re.findall(rb"<style>(.*?)</style>", answer.content, re.DOTALL)
    policy = answer.headers["content-security-policy"]
    assert f"style-src 'sha256-{b64encode(sha256(css).digest()).decode()}'" in policy
    assert policy.startswith("default-src 'none'")
    assert "script" not in policy
    assert not re.findall(rb"<[^>]*\sstyle=", answer.content)


def test_an_unknown_kind_or_number_is_refused(client: TestClient, book: Book) -> None:
    assert client.post(PAPERS, data={"kind": "passport"}).status_code == 422
    assert client.post(PAPERS).status_code == 422
    assert client.get("/papers/2026-9999.html").status_code == 404
    assert client.get("/papers/2026-9999.pdf").status_code == 404
    assert client.post("/sites/nowhere/papers", data={"kind": "plan"}).status_code == 404
    assert book.documents() == []


def test_what_a_site_cannot_have_is_said_and_nothing_is_issued(client: TestClient, book: Book) -> None:
    water_only = DEMO[: DEMO.index("[demand]")] + DEMO[DEMO.index("[plant]") :]
    row = book.add_site(water_only, "No demand", "brought in")
    for kind, words in (("handover", "[demand]"), ("plan", "[demand]")):
        answer = client.post(f"/sites/{row.slug}/papers", data={"kind": kind})
        assert answer.status_code == 422
        assert words in unescape(answer.text)
    assert client.post(f"/sites/{row.slug}/papers", data={"kind": "firstrun"}).status_code == 200
    assert [one.kind for one in book.documents()] == ["firstrun"]


def test_the_record_holds_what_was_read_on_the_newest_first_run(book: Book, engine: Engine) -> None:
    book.begin_first_run(SLUG, 12.0, None, None)
    run = book.begin_first_run(SLUG, 8.0, 3.6, 8.0)
    now = datetime.now(UTC)
    book.keep_reading(run.id, "product_meter_ppm", 17.0, "one", now)
    book.keep_reading(run.id, "shutoff_closes_bar", None, "two", now)
    html = book.document(issue(book, engine, SLUG, "firstrun").number).html.decode()
    assert "17" in html
    assert "never" in html
    assert "8" in html


def test_the_record_is_of_the_first_run_that_is_chosen(client: TestClient, book: Book) -> None:
    first = book.begin_first_run(SLUG, 12.0)
    book.keep_reading(first.id, "drain_l_min", 2.8, "one", datetime.now(UTC))
    second = book.begin_first_run(SLUG, 9.0)
    book.keep_reading(second.id, "drain_l_min", 1.1, "two", datetime.now(UTC))
    book.begin_first_run(SLUG, 7.0)  # and nothing is read on it
    chosen = '<option value="{}" selected>'
    assert chosen.format(second.id) in client.get(PAPERS).text
    assert chosen.format(first.id) in client.get(f"{PAPERS}?run={first.id}").text
    said = []
    for data in ({"run": str(first.id)}, {"run": str(second.id)}, {}):
        client.post(PAPERS, data={"kind": "firstrun", **data})
        said.append(unescape(client.get(f"/papers/{book.documents(SLUG)[-1].number}.html").text))
    assert ["1.10" in html for html in said] == [False, True, True]
    assert client.post(PAPERS, data={"kind": "firstrun", "run": "99"}).status_code == 404


def test_the_handover_of_a_removed_site_stays_readable(client: TestClient, book: Book, engine: Engine) -> None:
    row = issue(book, engine, SLUG, "handover")
    book.remove_site(SLUG)
    assert client.get(f"/papers/{row.number}.html").status_code == 200
    assert client.get(PAPERS).status_code == 404


def test_a_record_speaks_of_the_plant_that_was_read(client: TestClient, book: Book, engine: Engine) -> None:
    """What was changed after a first run does not judge its readings anew."""
    run = book.begin_first_run(SLUG, temperature_c=12.0)
    book.keep_reading(run.id, "drain_l_min", 2.8, "one", datetime.now(UTC))
    book.save(SLUG, DEMO.replace("flow_l_min = 3.0", "flow_l_min = 1.0"), "Tern Quay yard", "smaller restrictor", 1)
    assert book.current(SLUG).number == 2
    for kind, version in (("firstrun", 1), ("handover", 1), ("build", 2)):
        assert issue(book, engine, SLUG, kind).version_number == version
    record = unescape(client.get(f"/papers/{book.documents(SLUG)[0].number}.html").text)
    assert ">fine</span>" in record.replace("</svg> fine", ">fine")


def test_a_number_that_was_taken_meanwhile_is_not_given_twice(
    book: Book, monkeypatch: pytest.MonkeyPatch, engine: Engine
) -> None:
    """The document is made again under the next one, and bears that."""
    free = book.next_document_number
    stale = iter([free()])
    issue(book, engine, SLUG, "unpacking")
    monkeypatch.setattr(book, "next_document_number", lambda: next(stale, None) or free())
    row = issue(book, engine, SLUG, "unpacking")
    assert row.number.endswith("-0002")
    assert f"Document {row.number}," in book.document(row.number).html.decode()
