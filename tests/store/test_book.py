"""What the book keeps and hands out, on both databases."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rinsewright.errors import InputError
from rinsewright.store import writing
from rinsewright.store.book import Book
from rinsewright.store.errors import BookNotUsable, ChangedMeanwhile, NotInBook
from tests.store.places import rows, run_sql

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def tern(book: Book) -> str:
    return book.add_site("a = 1\n", "Tern Quay", "begun").slug


def test_a_site_begins_with_version_one(book: Book) -> None:
    row = book.add_site("a = 1\r\n# é\n", "Tern Quay yard", "begun")
    assert (row.slug, row.name, row.number, row.made_at) == ("tern-quay-yard", "Tern Quay yard", 1, row.changed_at)
    assert row.made_at.tzinfo is UTC
    assert book.site("tern-quay-yard") == row
    assert book.sites() == [row]
    first = book.current(row.slug)
    assert (first.number, first.toml, first.what, first.copy_of) == (1, "a = 1\r\n# é\n", "begun", None)


@pytest.mark.parametrize(
    ("name", "slug"),
    [
        ("Tern Quay", "tern-quay"),
        ("  Café № 7 / b ", "cafe-no-7-b"),
        ("水", "site"),
        ("a" * 99, "a" * 60),
        ("../x", "x"),
    ],
)
def test_a_slug_is_safe_in_an_address(name: str, slug: str) -> None:
    assert writing.slug_of(name) == slug


def test_a_slug_is_unique_also_beside_a_removed_site(book: Book) -> None:
    assert [book.add_site("", "Tern Quay", "begun").slug for _ in range(3)] == [
        "tern-quay",
        "tern-quay-2",
        "tern-quay-3",
    ]
    book.remove_site("tern-quay-3")
    assert book.add_site("", "Tern quay!", "begun").slug == "tern-quay-4"


def test_a_save_appends_a_version_and_renames_the_site(book: Book) -> None:
    slug = tern(book)
    second = book.save(slug, "a = 2\n", "Tern Quay, north", "a is 2", made_from=1)
    assert (second.number, second.what) == (2, "a is 2")
    assert book.current(slug) == second == book.version(slug, 2)
    assert [version.toml for version in book.versions(slug)] == ["a = 1\n", "a = 2\n"]
    site = book.site(slug)
    assert (site.name, site.number, site.changed_at) == ("Tern Quay, north", 2, second.made_at)


def test_a_save_that_changes_nothing_makes_no_version(book: Book) -> None:
    slug = tern(book)
    assert book.save(slug, "a = 1\n", "Tern Quay", "nothing", made_from=1) == book.version(slug, 1)
    assert len(book.versions(slug)) == 1


def test_a_save_made_from_an_old_version_writes_nothing(book: Book) -> None:
    slug = tern(book)
    book.save(slug, "a = 2\n", "Tern Quay", "a is 2", made_from=1)
    before = rows(book)
    with pytest.raises(ChangedMeanwhile, match=r"made from version 1 and version 2 stands now") as refusal:
        book.save(slug, "a = 3\n", "Tern Quay", "a is 3", made_from=1)
    assert refusal.value.current == 2
    assert rows(book) == before


def test_undo_goes_back_state_by_state_and_deletes_nothing(book: Book) -> None:
    slug = tern(book)
    book.save(slug, "a = 2\n", "Tern Two", "a is 2", made_from=1)
    book.save(slug, "a = 3\n", "Tern Three", "a is 3", made_from=2)
    undone = [book.undo(slug), book.undo(slug)]
    assert [(v.number, v.toml, v.name, v.copy_of, v.what) for v in undone] == [
        (4, "a = 2\n", "Tern Two", 2, "undone: a is 3"),
        (5, "a = 1\n", "Tern Quay", 1, "undone: a is 2"),
    ]
    with pytest.raises(InputError, match="nothing to undo"):
        book.undo(slug)
    assert [v.toml for v in book.versions(slug)] == [f"a = {a}\n" for a in (1, 2, 3, 2, 1)]
    assert book.site(slug).name == "Tern Quay"


def test_a_change_after_an_undo_is_undone_to_the_state_it_was_made_from(book: Book) -> None:
    slug = tern(book)
    book.save(slug, "a = 2\n", "Tern", "two", made_from=1)
    book.save(slug, "a = 3\n", "Tern", "three", made_from=2)
    book.undo(slug)
    book.save(slug, "a = 5\n", "Tern", "five", made_from=4)
    assert [(v.toml, v.copy_of) for v in (book.undo(slug), book.undo(slug))] == [("a = 2\n", 2), ("a = 1\n", 1)]


def test_one_undo_sent_twice_goes_back_once(book: Book) -> None:
    slug = tern(book)
    book.save(slug, "a = 2\n", "Tern", "two", made_from=1)
    book.save(slug, "a = 3\n", "Tern", "three", made_from=2)
    book.undo(slug, made_from=3)
    with pytest.raises(ChangedMeanwhile):
        book.undo(slug, made_from=3)
    assert book.current(slug).toml == "a = 2\n"


@given(st.lists(st.booleans(), max_size=15))
@settings(max_examples=settings().max_examples // 8, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_undo_leads_to_the_state_that_each_change_was_made_from(book: Book, changes: list[bool]) -> None:
    """The states are a tree: a change adds a leaf to where one stands, undo goes to the parent."""
    slug = book.add_site("0", "Tern Quay", "begun").slug
    parent, stands = {"0": "0"}, "0"
    for number, change in enumerate(changes, 1):
        if change:
            parent[f"{number}"] = stands
            stands = book.save(slug, f"{number}", "Tern Quay", "", made_from=book.site(slug).number).toml
        elif stands == "0":
            with pytest.raises(InputError, match="nothing to undo"):
                book.undo(slug)
        else:
            stands = parent[stands]
            assert book.undo(slug).toml == stands
    assert book.current(slug).toml == stands


def test_a_removed_site_is_off_the_list_and_comes_back_whole(book: Book) -> None:
    slug = tern(book)
    before = book.versions(slug)
    book.remove_site(slug)
    assert book.sites() == []
    assert [row.slug for row in book.removed()] == [slug]
    assert book.removed()[0].removed_at is not None
    for ask in (book.site, book.current, book.versions, book.undo, book.first_runs, book.remove_site):
        with pytest.raises(NotInBook, match="was removed; bring it back first"):
            ask(slug)
    book.bring_back(slug)
    assert book.versions(slug) == before
    with pytest.raises(NotInBook, match="nothing to bring back"):
        book.bring_back(slug)


def test_what_is_not_there_is_said_in_one_sentence(book: Book) -> None:
    slug = tern(book)
    with pytest.raises(NotInBook, match='no site "gull"'):
        book.site("gull")
    with pytest.raises(NotInBook, match="has no version 7; its versions are 1 to 1"):
        book.version(slug, 7)
    with pytest.raises(NotInBook, match="no first run 9"):
        book.first_run(9)
    with pytest.raises(NotInBook, match="no first run 9"):
        book.keep_reading(9, "a", 1.0, "id", NOON)
    with pytest.raises(NotInBook, match="no document 2026-0009"):
        book.document("2026-0009")


@pytest.mark.parametrize("number", [2**31, 2**63, -(2**40)])
def test_a_number_that_no_database_holds_is_just_not_there(book: Book, number: int) -> None:
    """An address can hold any digits."""
    slug = tern(book)
    with pytest.raises(NotInBook):
        book.first_run(number)
    with pytest.raises(NotInBook):
        book.version(slug, number)


def test_a_name_that_no_database_holds_is_just_not_there(book: Book) -> None:
    for ask in (book.site, book.documents, book.document):
        with pytest.raises(NotInBook):
            ask("a\0b")
    assert book.setting("a\0b", "no") == "no"


def test_a_first_run_belongs_to_the_version_it_was_begun_with(book: Book) -> None:
    slug = tern(book)
    book.save(slug, "a = 2\n", "Tern Quay", "a is 2", made_from=1)
    run = book.begin_first_run(slug, 11.5, 3.1, None)
    assert (run.slug, run.version_number, run.temperature_c, run.running_bar) == (slug, 2, 11.5, 3.1)
    assert run.running_l_min is None
    assert run.closed_at is None
    closed = book.close_first_run(run.id)
    assert closed.closed_at is not None
    assert book.close_first_run(run.id) == closed == book.first_run(run.id)
    again = book.begin_first_run(slug)
    assert book.first_runs(slug) == [closed, again]


def test_a_first_run_of_a_phone_is_begun_once_at_the_phones_time(book: Book) -> None:
    slug = tern(book)
    run = book.begin_first_run(slug, 9.5, client_id="phone-0", begun_at=NOON)
    assert run.begun_at == NOON
    book.save(slug, "a = 2\n", "Tern Quay", "a is 2", made_from=1)
    assert book.begin_first_run(slug, 12.0, client_id="phone-0") == run
    book.remove_site(slug)
    assert book.begin_first_run(slug, client_id="phone-0") == run  # its readings are still taken
    book.bring_back(slug)
    assert book.first_runs(slug) == [run]
    with pytest.raises(InputError, match="of another site has this id"):
        book.begin_first_run(tern(book), client_id="phone-0")


def test_of_drawn_years_the_newest_few_are_kept(book: Book) -> None:
    slug, other = tern(book), tern(book)
    one, two = "1" * 64, "2" * 64
    assert (book.newest_drawn_years(slug, one), book.drawn_years(slug, one, 20, 1)) == (None, None)
    for name, basis in ((other, one), (slug, two)):
        book.keep_drawn_years(name, basis, 500, 2**32 - 1, b"first")
    for seed in range(writing.YEARS_KEPT):
        book.keep_drawn_years(slug, one, 20, seed, b"older")
        book.keep_drawn_years(slug, one, 20, seed, b"%d" % seed)
    assert book.newest_drawn_years(slug, one) == (20, writing.YEARS_KEPT - 1)
    kept = [book.drawn_years(slug, one, 20, seed) for seed in range(writing.YEARS_KEPT)]
    assert kept == [b"%d" % seed for seed in range(writing.YEARS_KEPT)]
    assert book.drawn_years(slug, two, 500, 2**32 - 1) is None  # the oldest of the site
    assert book.drawn_years(other, one, 500, 2**32 - 1) == b"first"
    assert book.drawn_years(slug, one, 100, 0) is None


def test_a_reading_is_kept_exactly_once(book: Book) -> None:
    run = book.begin_first_run(tern(book))
    assert book.keep_reading(run.id, "drain_l_min", 1.1, "phone-1", NOON)
    assert not book.keep_reading(run.id, "drain_l_min", 2.2, "phone-1", NOON)
    assert book.readings(run.id) == {"drain_l_min": 1.1}


def test_the_newest_taken_reading_counts_not_the_last_sent(book: Book) -> None:
    run = book.begin_first_run(tern(book))
    book.keep_reading(run.id, "a", 2.0, "2", NOON + timedelta(minutes=2))
    book.keep_reading(run.id, "a", 1.0, "1", NOON)  # sent late
    book.keep_reading(run.id, "b", 3.0, "3", NOON)
    book.keep_reading(run.id, "b", None, "4", NOON)  # at the same time: the later kept
    assert book.readings(run.id) == {"a": 2.0, "b": None}


def test_times_of_any_zone_are_compared_as_moments(book: Book) -> None:
    run = book.begin_first_run(tern(book))
    east = timezone(timedelta(hours=10))
    book.keep_reading(run.id, "a", 1.0, "1", NOON)
    book.keep_reading(run.id, "a", 2.0, "2", datetime(2026, 3, 1, 21, tzinfo=east))  # 11:00 UTC
    assert book.readings(run.id) == {"a": 1.0}


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_is_no_number_is_no_reading(book: Book, value: float) -> None:
    slug = tern(book)
    run = book.begin_first_run(slug)
    with pytest.raises(InputError, match=r"^drain_l_min: .* is not a number that was read"):
        book.keep_reading(run.id, "drain_l_min", value, "1", NOON)
    with pytest.raises(InputError, match=r"^running_bar: "):
        book.begin_first_run(slug, running_bar=value)


def test_a_time_without_a_zone_is_refused(book: Book) -> None:
    slug = tern(book)
    run = book.begin_first_run(slug)
    naive = datetime(2026, 3, 1, 12)
    with pytest.raises(InputError, match="has no zone"):
        book.keep_reading(run.id, "a", 1.0, "1", naive)
    with pytest.raises(InputError, match="has no zone"):
        book.begin_first_run(slug, begun_at=naive)
    with pytest.raises(InputError, match="has no zone"):
        book.keep_tick(slug, "unpacking", "a", True, "1", naive)


def test_the_earliest_and_latest_times_are_kept_or_refused_in_a_sentence(book: Book) -> None:
    run = book.begin_first_run(tern(book))
    assert book.keep_reading(run.id, "a", 1.0, "1", datetime.min.replace(tzinfo=UTC))
    assert book.keep_reading(run.id, "a", 2.0, "2", datetime.max.replace(tzinfo=UTC))
    assert book.readings(run.id) == {"a": 2.0}
    with pytest.raises(InputError, match="is not a time that can be kept"):
        book.keep_reading(run.id, "a", 3.0, "3", datetime.max.replace(tzinfo=timezone(timedelta(hours=-5))))


@pytest.mark.parametrize("text", ["a\0b", "\ud800"])
def test_a_text_that_one_database_could_not_keep_is_refused_by_both(book: Book, text: str) -> None:
    slug = tern(book)
    for write in (
        lambda: book.add_site(text, "n", "w"),
        lambda: book.save(slug, "t", text, "w", 1),
        lambda: book.set_setting("k", text),
        lambda: book.issue(slug, "plan", text, b"", b"", "0", "0"),
        lambda: book.keep_tick(slug, text, "a", True, "1", NOON),
    ):
        with pytest.raises(InputError, match="holds a character that cannot be kept"):
            write()


def test_a_client_id_has_a_length_that_both_databases_keep(book: Book) -> None:
    run = book.begin_first_run(tern(book))
    assert book.keep_reading(run.id, "a", 1.0, "x" * 80, NOON)
    with pytest.raises(InputError, match="longer than 80"):
        book.keep_reading(run.id, "a", 1.0, "x" * 81, NOON)
    with pytest.raises(InputError, match="longer than 80"):
        book.set_setting("x" * 81, "")


def test_ticks_are_kept_once_and_can_be_taken_off(book: Book) -> None:
    slug = tern(book)
    assert book.keep_tick(slug, "unpacking", "tube", True, "1", NOON)
    assert not book.keep_tick(slug, "unpacking", "tube", False, "1", NOON)
    assert book.keep_tick(slug, "unpacking", "valve", True, "2", NOON)
    assert book.keep_tick(slug, "build", "tube", False, "3", NOON)
    assert book.ticks(slug, "unpacking") == {"tube": True, "valve": True}
    assert book.keep_tick(slug, "unpacking", "tube", False, "4", NOON + timedelta(seconds=1))
    assert book.ticks(slug, "unpacking") == {"tube": False, "valve": True}
    assert book.ticks(slug, "build") == {"tube": False}


def test_what_a_phone_sends_late_is_kept_though_the_site_is_removed(book: Book) -> None:
    slug = tern(book)
    run = book.close_first_run(book.begin_first_run(slug).id)
    book.remove_site(slug)
    assert book.keep_reading(run.id, "a", 1.0, "1", NOON)
    assert book.keep_tick(slug, "unpacking", "a", True, "2", NOON)


def test_a_document_stays_as_it_was_issued(book: Book) -> None:
    slug = tern(book)
    html, pdf = "<p>é\r\n</p>".encode(), bytes(range(256)) * 5000
    row = book.issue(slug, "plan", "Plan", html, pdf, "0.1.0", "3")
    assert row.number == f"{row.issued_at.year}-0001"
    assert (row.slug, row.version_number, row.program, row.data) == (slug, 1, "0.1.0", "3")
    book.save(slug, "a = 2\n", "Tern Quay", "a is 2", made_from=1)
    kept = book.document(row.number)
    assert (kept.row, kept.html, kept.pdf) == (row, html, pdf)
    assert type(kept.pdf) is bytes
    older = book.issue(slug, "plan", "Of the first", b"", b"", "0.1.0", "3", version_number=1)
    assert older.version_number == 1
    assert book.documents(slug) == book.documents() == [row, older]


def test_documents_outlive_the_site_on_the_list(book: Book) -> None:
    slug = tern(book)
    row = book.issue(slug, "plan", "Plan", b"h", b"p", "0", "0")
    book.remove_site(slug)
    assert book.documents(slug) == book.documents() == [row]
    assert book.document(row.number).pdf == b"p"


def test_numbers_begin_anew_each_year_and_go_past_four_digits(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    slug = tern(book)
    days = iter([datetime(2026, 12, 31, tzinfo=UTC)] * 2 + [datetime(2027, 1, 1, tzinfo=UTC)] * 3)
    monkeypatch.setattr(writing, "now", lambda: next(days))

    def issue() -> str:
        return book.issue(slug, "plan", "Plan", b"", b"", "0", "0").number

    assert [issue() for _ in range(3)] == ["2026-0001", "2026-0002", "2027-0001"]
    run_sql(_place(book), "UPDATE document SET number = '2027-9999' WHERE number = '2027-0001'")
    assert [issue(), issue()] == ["2027-10000", "2027-10001"]


def _place(book: Book) -> str:
    return str(book._database.file or book._database.engine.url.render_as_string().replace("+psycopg", ""))


@pytest.mark.parametrize("column", ["html", "pdf"])
def test_a_document_that_was_tampered_with_is_not_handed_out(book: Book, column: str) -> None:
    row = book.issue(tern(book), "plan", "Plan", b"h", b"p", "0", "0")
    binary = "bytea" if "://" in _place(book) else "BLOB"
    run_sql(_place(book), f"UPDATE document SET {column} = CAST(html_sha256 AS {binary})")
    with pytest.raises(BookNotUsable, match=rf"document {row.number} is not the one that was issued"):
        book.document(row.number)


def test_a_setting_is_kept_until_the_next(book: Book) -> None:
    assert book.setting("units.pressure") is None
    assert book.setting("units.pressure", "bar") == "bar"
    book.set_setting("units.pressure", "psi")
    book.set_setting("units.pressure", "")
    assert book.setting("units.pressure", "bar") == ""


def test_all_is_there_when_the_book_is_opened_again(place: str) -> None:
    book = Book.open(place)
    run = book.begin_first_run(tern(book), 10.0)
    book.keep_reading(run.id, "a", 0.1 + 0.2, "1", NOON)
    before = rows(book)
    book.close()
    again = Book.open(place)
    assert rows(again) == before
    assert again.readings(run.id) == {"a": 0.1 + 0.2}
    again.close()


def test_a_failure_in_the_middle_leaves_nothing(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """A site without its first version would be a half of one."""
    insert = writing.insert
    calls = itertools.count()

    def fails_second(*arguments: object, **values: object) -> int:
        if next(calls) == 1:
            raise MemoryError
        return insert(*arguments, **values)  # type: ignore[arg-type]

    monkeypatch.setattr(writing, "insert", fails_second)
    with pytest.raises(MemoryError):
        tern(book)
    assert all(not found for found in rows(book).values())
    assert tern(book) == "tern-quay"
