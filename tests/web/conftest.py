"""A book, the app over it and one who asks it, for the tests of the pages."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from rinsewright.store.book import Book
from rinsewright.web.app import make_app
from rinsewright.web.engine import Engine

from .served import DEMO

SAME = {"origin": "http://testserver", "sec-fetch-site": "same-origin"}


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """A book with the demo's yard in it."""
    book = Book.open(tmp_path / "book.sqlite")
    book.add_site(DEMO, "Tern Quay yard", "brought in")
    yield book
    book.close()


@pytest.fixture(scope="session")
def engine() -> Engine:
    """One for many tests: what it works out hangs on a site's text alone."""
    return Engine()


@pytest.fixture
def client(book: Book, engine: Engine) -> TestClient:
    """A browser's requests from a page of ours."""
    return TestClient(make_app(book, hosts=["testserver"], engine=engine), headers=SAME)


@pytest.fixture
def new_client(book: Book) -> TestClient:
    """The same to an app that has just been started and remembers nothing."""
    return TestClient(make_app(book, hosts=["testserver"]), headers=SAME)
