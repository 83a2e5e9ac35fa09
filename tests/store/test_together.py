"""Many at once, in threads and in processes: nothing twice, nothing lost, numbers without a gap."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

from rinsewright.store.book import Book
from rinsewright.store.errors import ChangedMeanwhile

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def at_once(work: Callable[[int], object], times: int = 24) -> list[object]:
    with ThreadPoolExecutor(times) as pool:
        return list(pool.map(work, range(times)))


def test_one_reading_sent_by_many_at_once_is_kept_once(place: str) -> None:
    """As over two lines: each with a book of its own."""
    books = [Book.open(place) for _ in range(4)]
    run = books[0].begin_first_run(books[0].add_site("", "Tern Quay", "begun").slug)
    kept = at_once(lambda n: books[n % 4].keep_reading(run.id, "a", float(n), "phone-1", NOON))
    assert kept.count(True) == 1
    assert books[0].readings(run.id) == {"a": float(kept.index(True))}
    for book in books:
        book.close()


def test_one_first_run_sent_by_many_at_once_is_begun_once(place: str) -> None:
    books = [Book.open(place) for _ in range(4)]
    slug = books[0].add_site("", "Tern Quay", "begun").slug
    begun = at_once(lambda n: books[n % 4].begin_first_run(slug, float(n), client_id="phone-1", begun_at=NOON))
    assert set(begun) == set(books[0].first_runs(slug))
    assert len(set(begun)) == 1
    for book in books:
        book.close()


def test_one_tick_sent_by_many_at_once_is_kept_once(book: Book) -> None:
    slug = book.add_site("", "Tern Quay", "begun").slug
    assert at_once(lambda n: book.keep_tick(slug, "s", "a", n % 2 == 0, "phone-1", NOON)).count(True) == 1


def test_of_many_saves_made_from_one_version_one_is_kept(book: Book) -> None:
    slug = book.add_site("a = 0", "Tern Quay", "begun").slug

    def save(number: int) -> int:
        try:
            book.save(slug, f"a = {number + 1}", "Tern Quay", "", made_from=1)
        except ChangedMeanwhile:
            return 0
        return number + 1

    saved = [number for number in at_once(save) if number]
    assert [version.toml for version in book.versions(slug)] == ["a = 0", f"a = {saved[0]}"]
    assert len(saved) == 1


def test_documents_issued_at_once_have_numbers_without_a_gap(place: str) -> None:
    books = [Book.open(place) for _ in range(3)]
    slug = books[0].add_site("", "Tern Quay", "begun").slug
    at_once(lambda n: books[n % 3].issue(slug, "plan", str(n), b"h" * n, b"p" * n, "0", "0"))
    issued = books[0].documents()
    assert [row.number for row in issued] == [f"{issued[0].issued_at.year}-{n:04d}" for n in range(1, 25)]
    for row in issued:
        assert books[1].document(row.number).html == b"h" * int(row.title)
    for book in books:
        book.close()


def test_sites_of_one_name_begun_at_once_have_slugs_of_their_own(book: Book) -> None:
    at_once(lambda n: book.add_site(str(n), "Tern Quay", "begun"))
    assert len({row.slug for row in book.sites()}) == 24


def test_readers_go_on_while_others_write(book: Book) -> None:
    slug = book.add_site("", "Tern Quay", "begun").slug
    run = book.begin_first_run(slug)

    def work(number: int) -> None:
        for count in range(10):
            if number % 2:
                book.keep_reading(run.id, f"{number}", float(count), f"{number}-{count}", NOON)
            else:
                assert book.site(slug).number == 1
                book.readings(run.id)

    at_once(work)
    assert book.readings(run.id) == {str(number): 9.0 for number in range(1, 24, 2)}


PROCESS = """
import sys
from datetime import datetime, UTC
from rinsewright.store.book import Book
book = Book.open(sys.argv[1])
for count in range(25):
    book.keep_reading(1, "a", float(count), f"{count}", datetime.now(UTC))  # the same ones as all others
    book.keep_reading(1, sys.argv[2], float(count), f"{sys.argv[2]}-{count}", datetime.now(UTC))
    book.issue("tern-quay", "plan", sys.argv[2], b"", b"", "0", "0")
"""


def test_processes_write_at_once(kind: str, place: str, record_property: Callable[[str, object], None]) -> None:
    book = Book.open(place)
    book.begin_first_run(book.add_site("", "Tern Quay", "begun").slug)
    began = time.monotonic()
    processes = [subprocess.Popen([sys.executable, "-c", PROCESS, place, f"p{n}"]) for n in range(3)]
    assert [process.wait(timeout=120) for process in processes] == [0, 0, 0]
    record_property(f"three processes, 225 writes, {kind}", f"{time.monotonic() - began:.2f} s")
    assert book.readings(1) == {"a": 24.0, "p0": 24.0, "p1": 24.0, "p2": 24.0}
    assert [int(row.number[5:]) for row in book.documents()] == list(range(1, 76))
    book.close()
