"""A book of each earlier program opens, on both databases; a newer one and what is no book are left alone."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from rinsewright.store import migrate
from rinsewright.store.book import Book
from rinsewright.store.errors import BookNotUsable
from rinsewright.store.schema import METADATA
from tests.store.places import ask_sql, rows, run_sql

BOOKS = Path(__file__).parent / "books"
AT = datetime(2026, 3, 1, 9, 30, tzinfo=UTC)


@pytest.fixture(params=["0001", "0002"])
def revision(request: pytest.FixtureRequest) -> str:
    """Each earlier form of the book in turn."""
    return str(request.param)


@pytest.fixture
def old(kind: str, place: str, revision: str) -> str:
    """A book as a revision left it."""
    run_sql(place, (BOOKS / f"r{revision}.{kind}.sql").read_text(encoding="utf-8"))
    return place


def tables_differ(book: Book) -> list[object]:
    with book._database.reading() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": migrate.TABLE, "compare_type": True})
        return list(compare_metadata(context, METADATA))


def test_the_newest_revision_is_the_one_that_is_opened_without_alembic() -> None:
    assert migrate.known_revisions() == ["0003", "0002", "0001"]
    assert migrate.known_revisions()[0] == migrate.NEWEST


def test_every_earlier_revision_has_its_book(kind: str) -> None:
    there = {file.name.split(".")[0] for file in BOOKS.glob(f"r*.{kind}.sql")}
    assert there == {f"r{revision}" for revision in migrate.known_revisions()[1:]}


def test_a_new_book_has_the_tables_of_the_schema(book: Book) -> None:
    assert tables_differ(book) == []


def test_a_migrated_book_has_the_tables_of_the_schema(old: str) -> None:
    book = Book.open(old)
    assert tables_differ(book) == []
    assert ask_sql(old, f"SELECT version_num FROM {migrate.TABLE}") == [(migrate.NEWEST,)]
    book.close()


def test_nothing_of_an_old_book_is_lost(old: str) -> None:
    book = Book.open(old)
    (site,) = book.sites()
    assert (site.slug, site.name, site.number, site.made_at) == ("tern-quay", "Tern Quay", 3, AT)
    assert [row.name for row in book.removed()] == ["Mill Lane"]
    versions = book.versions("tern-quay")
    assert [(v.number, v.toml, v.copy_of, v.name) for v in versions] == [
        (1, "a = 1\n# Née", None, "Tern Quay"),
        (2, "a = 2\n", None, "Tern Quay"),
        (3, "a = 1\n# Née", 1, "Tern Quay"),
    ]
    assert [
        (run.id, run.temperature_c, run.running_bar, run.version_number) for run in book.first_runs("tern-quay")
    ] == [
        (1, 11.5, 3.25, 2),
        (2, None, None, 3),
    ]
    assert book.readings(1) == {"product_meter_ppm": 9.7, "clear_again_min": None}
    assert book.ticks("tern-quay", "unpacking") == {"element": False}
    document = book.document("2026-0001")  # its hash is checked
    assert (document.html.decode(), document.pdf) == ("<p>Née 12 °C</p>", b"%PDF-1.7\x00\n\xff")
    assert book.setting("units.pressure") == "psi"
    book.close()


@pytest.mark.parametrize("revision", ["0002"], indirect=True)
def test_what_was_begun_on_a_phone_is_known_by_its_id(old: str) -> None:
    book = Book.open(old)
    assert book.begin_first_run("tern-quay", client_id="5f0c7a52-phone").id == 2
    assert book.setting("first run begun 5f0c7a52-phone") is None
    assert ask_sql(old, "SELECT id, client_id FROM first_run ORDER BY id") == [(1, None), (2, "5f0c7a52-phone")]
    book.close()


def test_an_old_book_goes_on(old: str) -> None:
    book = Book.open(old)
    assert book.add_site("", "Tern Quay", "begun").slug == "tern-quay-2"
    assert book.save("tern-quay", "a = 4\n", "Tern Four", "a is 4", made_from=3).number == 4
    assert book.undo("tern-quay").name == "Tern Quay"
    assert not book.keep_reading(1, "product_meter_ppm", 1.0, "phone-1", AT)
    assert book.begin_first_run("tern-quay").id == 3
    issued = book.issue("tern-quay", "plan", "Plan", b"", b"", "0", "0")
    assert issued.number == f"{issued.issued_at.year}-{2 if issued.issued_at.year == 2026 else 1:04d}"
    assert book.documents()[0].number == "2026-0001"
    book.close()


def test_a_sqlite_book_is_copied_before_it_is_migrated(old: str, kind: str, revision: str) -> None:
    before = None if kind == "postgresql" else ask_sql(old, "SELECT * FROM version")
    Book.open(old).close()
    Book.open(old).close()  # no second copy
    if kind == "postgresql":
        return  # its keeper backs it up
    (copy,) = Path(old).parent.glob(f"book-{revision}-*.sqlite")
    assert ask_sql(str(copy), f"SELECT version_num FROM {migrate.TABLE}") == [(revision,)]
    assert ask_sql(str(copy), "SELECT * FROM version") == before
    assert sorted(file.name for file in Path(old).parent.iterdir()) == sorted([copy.name, "book.sqlite"])


def test_a_migration_that_fails_changes_nothing(old: str, revision: str, monkeypatch: pytest.MonkeyPatch) -> None:
    upgrade = migrate.upgrade

    def fails(connection: object, newest: str) -> None:
        upgrade(connection, newest)  # type: ignore[arg-type]
        raise MemoryError

    monkeypatch.setattr(migrate, "upgrade", fails)
    before = ask_sql(old, "SELECT * FROM site")
    with pytest.raises(MemoryError):
        Book.open(old)
    assert ask_sql(old, f"SELECT version_num FROM {migrate.TABLE}") == [(revision,)]
    assert ask_sql(old, "SELECT * FROM site") == before
    monkeypatch.undo()
    book = Book.open(old)
    assert book.site("tern-quay").name == "Tern Quay"
    book.close()


def test_many_that_open_an_old_book_at_once_migrate_it_once(old: str, kind: str, revision: str) -> None:
    failed: list[BaseException] = []

    def open_it() -> None:
        try:
            book = Book.open(old)
            assert book.site("tern-quay").number == 3
            book.close()
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=open_it) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    if kind == "sqlite":
        assert len(list(Path(old).parent.glob(f"book-{revision}-*"))) == 1


def test_many_that_open_a_new_book_at_once_make_it_once(place: str) -> None:
    opened: list[Book] = []
    threads = [threading.Thread(target=lambda: opened.append(Book.open(place))) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(opened) == 8
    assert ask_sql(place, f"SELECT version_num FROM {migrate.TABLE}") == [(migrate.NEWEST,)]
    for book in opened:
        book.close()


def test_a_newer_book_is_refused_and_left_alone(place: str) -> None:
    book = Book.open(place)
    book.add_site("", "Tern Quay", "begun")
    before = rows(book)
    book.close()
    run_sql(place, f"UPDATE {migrate.TABLE} SET version_num = '0099'")
    with pytest.raises(BookNotUsable, match=r"a newer rinsewright wrote this book \(revision 0099.*update rinsewright"):
        Book.open(place)
    run_sql(place, f"UPDATE {migrate.TABLE} SET version_num = '{migrate.NEWEST}'")
    book = Book.open(place)
    assert rows(book) == before
    book.close()


def test_a_database_of_something_else_is_refused_and_left_alone(place: str) -> None:
    run_sql(place, "CREATE TABLE document (a INTEGER)")
    with pytest.raises(BookNotUsable, match=r'holds something else \(the table "document"\)'):
        Book.open(place)
    assert ask_sql(place, "SELECT * FROM document") == []


def test_a_file_that_is_no_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "book.sqlite"
    file.write_text("This is a letter, and a long one, of more than a hundred bytes. " * 20)
    before = file.read_bytes()
    with pytest.raises(BookNotUsable, match="this file is not a book"):
        Book.open(file)
    assert file.read_bytes() == before
    assert list(tmp_path.iterdir()) == [file]


def test_sqlite_is_set_up_to_outlive_a_power_cut(tmp_path: Path) -> None:
    book = Book.open(tmp_path / "book.sqlite")
    with book._database.reading() as connection:
        asked = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in ("journal_mode", "synchronous")
        }
        assert asked == {"journal_mode": "wal", "synchronous": 2}
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
        assert connection.exec_driver_sql("PRAGMA busy_timeout").scalar() == 30000
    book.close()
    with closing(sqlite3.connect(tmp_path / "book.sqlite")) as file:
        assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)
