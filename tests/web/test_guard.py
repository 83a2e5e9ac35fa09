"""Only who is meant is answered, only pages of ours may change anything, and a page keeps to itself."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from rinsewright.store.book import Book
from rinsewright.web.app import make_app
from rinsewright.web.guard import LARGEST, POLICY

SITE = "/sites/tern-quay-yard"
PAGES = [
    "/",
    "/start",
    "/settings",
    *(
        f"{SITE}/{name}"
        for name in (
            "plant",
            "start",
            "tap",
            "work",
            "work/vans/new",
            "yard",
            "year",
            "build",
            "unpacking",
            "first-run",
            "papers",
            "versions",
            "versions?compare=1&with=1",
        )
    ),
]


def test_it_works(client: TestClient) -> None:
    assert client.get("/healthz").text == "ok"
    assert client.post("/sites/example", follow_redirects=False).status_code == 303


@pytest.mark.parametrize("host", ["evil.example", "testserver:8642", "testserver.evil.example", ""])
def test_a_host_that_is_not_served_is_refused(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 421
    assert client.post("/sites/example", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site", "origin": "http://testserver"},
        {"sec-fetch-site": "same-site", "origin": "http://testserver"},
        {"sec-fetch-site": "none"},
        {"origin": "https://evil.example"},
        {"origin": "null"},
        {"origin": "http://testserver.evil.example"},
        {},
    ],
)
@pytest.mark.parametrize("address", ["/sites/example", "/settings", "/sites/tern-quay-yard/undo", "/start"])
def test_a_foreign_page_changes_nothing(book: Book, address: str, headers: dict[str, str]) -> None:
    foreign = TestClient(make_app(book, hosts=["testserver"]))
    before = (book.sites(), book.versions("tern-quay-yard"))
    assert foreign.post(address, headers=headers, data={"temperature": "f"}).status_code == 403
    assert (book.sites(), book.versions("tern-quay-yard")) == before


def test_an_older_browser_is_believed_by_its_origin(book: Book) -> None:
    older = TestClient(make_app(book, hosts=["testserver"]), headers={"origin": "http://testserver"})
    assert older.post("/sites/example", follow_redirects=False).status_code == 303


def test_a_body_that_is_too_large_is_refused_with_and_without_its_length(client: TestClient) -> None:
    assert client.post("/sites", data={"text": "x" * (LARGEST + 1)}).status_code == 413

    def in_pieces() -> Iterator[bytes]:
        for _ in range(LARGEST // 100_000 + 2):
            yield b"x" * 100_000

    headers = {"content-type": "application/x-www-form-urlencoded"}
    assert client.post("/sites", content=in_pieces(), headers=headers).status_code == 413
    assert client.get("/healthz").status_code == 200


@pytest.mark.parametrize("address", PAGES)
def test_a_page_asks_nothing_of_elsewhere_and_runs_nothing_inline(client: TestClient, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 200
    assert answer.headers["content-security-policy"] == POLICY
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert not re.findall(r'(?:href|src|action|data-load)="(?!/|#|\?)', answer.text)
    assert "<style" not in answer.text
    assert not re.findall(r"\s(?:style|on\w+)=", answer.text)
    assert not re.findall(r"<script(?![^>]* src=)", answer.text)


def test_every_error_has_the_same_headers(client: TestClient) -> None:
    for answer in (client.get("/nowhere"), client.get("/", headers={"host": "evil.example"}), client.put("/")):
        assert answer.headers["content-security-policy"] == POLICY


def test_style_and_script_are_kept_for_ever_under_their_hash(client: TestClient) -> None:
    links = re.findall(r'"(/static/[^"]+)"', client.get("/").text)
    assert len(links) == 5  # an icon, two style sheets, two scripts
    for link in links:
        answer = client.get(link)
        assert answer.status_code == 200
        assert "immutable" in answer.headers["cache-control"]
    assert client.get("/static/page.000000000000.css").status_code == 404
    assert client.get("/static/..%2fapp.py").status_code == 404


def test_unknown_addresses_and_methods_have_a_page(client: TestClient) -> None:
    assert client.get("/nowhere").status_code == 404
    assert "no page at this address" in client.get("/nowhere").text
    assert client.post("/healthz").status_code == 405
    for address in ("start", "versions", "papers", "line", "file"):
        answer = client.get(f"/sites/nowhere/{address}")
        assert answer.status_code == 404
        assert "<main" in answer.text
