"""Backup, restore, export and import: every row comes back, or nothing changes and one sentence says why."""

from __future__ import annotations

import csv
import math
import shutil
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rinsewright.store.book import Book
from rinsewright.store.errors import BookNotUsable
from tests.store.places import KINDS, Places, ask_sql, rows, run_sql

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
BOOKS = Path(__file__).parent / "books"
TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20)
NUMBER = st.none() | st.floats(allow_nan=False, allow_infinity=False)
TIME = st.datetimes(timezones=st.just(UTC))


def fill(book: Book, name: str = "Tern Quay") -> str:
    """A little of everything."""
    slug = book.add_site('a = "é"\r\n', name, "begun").slug
    book.save(slug, 'a = "1,2"\n', f'{name}, "north"\nside', "", made_from=1)
    book.undo(slug)
    run = book.begin_first_run(slug, 0.1 + 0.2, None, 1e-300, client_id=f"{slug}-0", begun_at=NOON)
    book.keep_reading(run.id, "product_meter_ppm", 1 / 3, f"{slug}-1", NOON)
    book.keep_reading(run.id, "clear_again_min", None, f"{slug}-2", NOON)
    book.keep_tick(slug, "unpacking", "tube", True, f"{slug}-3", NOON)
    book.keep_tick(slug, "unpacking", "tube", False, f"{slug}-4", NOON)
    book.issue(slug, "plan", "=1+1", b"<p>\xc3\xa9</p>", bytes(range(256)), "0.1.0", "3")
    book.add_site("", "水", "begun")
    book.remove_site("site")
    book.set_setting("units.pressure", "psi")
    book.set_setting("empty", "")
    return slug


@pytest.fixture
def filled(book: Book) -> Book:
    fill(book)
    return book


@pytest.fixture(params=KINDS)
def other(request: pytest.FixtureRequest, places: Places) -> Book:
    """Another, empty book on either database."""
    return Book.open(places.new(request.param))


def test_a_backup_is_one_file_that_is_a_book(filled: Book, tmp_path: Path) -> None:
    filled.backup(tmp_path / "b.sqlite")
    assert [file.name for file in tmp_path.iterdir()] == ["b.sqlite"]
    copy = Book.open(tmp_path / "b.sqlite")
    assert rows(copy) == rows(filled)
    copy.close()


def test_a_backup_can_be_restored_into_either_database(filled: Book, other: Book, tmp_path: Path) -> None:
    filled.backup(tmp_path / "b.sqlite")
    assert other.restore(tmp_path / "b.sqlite") is None
    assert rows(other) == rows(filled)
    assert goes_on(other)
    other.close()


def goes_on(book: Book) -> bool:
    """New rows find new numbers."""
    slug = book.add_site("", "Gull", "begun").slug
    run = book.begin_first_run(slug)
    return book.keep_reading(run.id, "a", 1.0, "new", NOON) and book.issue(slug, "p", "", b"", b"", "", "") is not None


def test_a_backup_does_not_write_over_a_file(filled: Book, tmp_path: Path) -> None:
    (tmp_path / "b.sqlite").write_text("a letter")
    with pytest.raises(BookNotUsable, match="this is there already; give a new name"):
        filled.backup(tmp_path / "b.sqlite")
    assert (tmp_path / "b.sqlite").read_text() == "a letter"


def test_a_restore_keeps_what_was_there(places: Places, tmp_path: Path) -> None:
    place = places.new("sqlite")
    book, reader = Book.open(place), Book.open(place)
    fill(book)
    then = rows(book)
    book.backup(tmp_path / "b.sqlite")
    book.add_site("", "Gull", "begun")
    now = rows(book)
    assert rows(reader) == now
    kept = book.restore(tmp_path / "b.sqlite")
    assert rows(book) == rows(reader) == then  # also for another that has the book open
    assert kept is not None
    copy = Book.open(kept)
    assert rows(copy) == now
    for opened in (book, reader, copy):
        opened.close()


def test_a_servers_book_that_holds_something_is_not_restored_over(places: Places, tmp_path: Path) -> None:
    book = Book.open(places.new("postgresql"))
    fill(book)
    book.backup(tmp_path / "b.sqlite")
    before = rows(book)
    with pytest.raises(BookNotUsable, match="not empty; restore into a new database"):
        book.restore(tmp_path / "b.sqlite")
    assert rows(book) == before
    book.close()


def test_an_older_backup_is_migrated_on_the_way(book: Book, tmp_path: Path) -> None:
    run_sql(str(tmp_path / "old.sqlite"), (BOOKS / "r0001.sqlite.sql").read_text(encoding="utf-8"))
    before = (tmp_path / "old.sqlite").read_bytes()
    book.restore(tmp_path / "old.sqlite")
    assert book.site("tern-quay").name == "Tern Quay"
    assert (tmp_path / "old.sqlite").read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["old.sqlite"]


def torn(file: Path) -> None:
    file.write_bytes(file.read_bytes()[:-4096])


def garbled(file: Path) -> None:
    content = bytearray(file.read_bytes())
    content[4096:8192] = b"x" * 4096
    file.write_bytes(content)


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (Path.unlink, "there is no such file"),
        (lambda file: file.write_bytes(b""), "it is empty"),
        (lambda file: file.write_bytes(b"a letter " * 999), "not a backup of a book"),
        (torn, "not a (whole )?backup of a book"),
        (garbled, "not a (whole )?backup of a book"),
        (lambda file: run_sql(str(file), "UPDATE book_revision SET version_num = '0099'"), "newer rinsewright"),
        (lambda file: run_sql(str(file), "DROP TABLE book_revision"), "holds something else"),
    ],
)
def test_what_is_no_whole_backup_changes_nothing(
    book: Book, tmp_path: Path, spoil: Callable[[Path], Any], said: str
) -> None:
    fill(book, "Tern Quay")
    file = tmp_path / "b.sqlite"
    book.backup(file)
    spoil(file)
    before = rows(book)
    with pytest.raises(BookNotUsable, match=said) as refusal:
        book.restore(file)
    assert str(file) in str(refusal.value)
    assert rows(book) == before


def test_an_export_holds_every_row_and_comes_back(filled: Book, other: Book, tmp_path: Path) -> None:
    filled.export_to(tmp_path / "out")
    assert [file.name for file in tmp_path.iterdir()] == ["out"]
    other.import_from(tmp_path / "out")
    assert rows(other) == rows(filled)
    assert goes_on(other)
    other.close()


def test_a_person_can_read_an_export(filled: Book, tmp_path: Path) -> None:
    filled.export_to(tmp_path / "out")
    files = sorted(str(file.relative_to(tmp_path / "out")) for file in (tmp_path / "out").rglob("*") if file.is_file())
    number = filled.documents()[0].number
    assert files == [
        "book.toml",
        "document.csv",
        f"documents/{number}.html",
        f"documents/{number}.pdf",
        "first_run.csv",
        "reading.csv",
        "setting.csv",
        "site.csv",
        "sites/site/0001.toml",
        *(f"sites/tern-quay/{version:04d}.toml" for version in (1, 2, 3)),
        "tick.csv",
        "version.csv",
    ]  # fmt: skip
    assert (tmp_path / "out/sites/tern-quay/0001.toml").read_bytes() == 'a = "é"\r\n'.encode()
    with (tmp_path / "out/reading.csv").open(newline="") as file:
        taken = list(csv.DictReader(file))
    assert [(row["key"], row["value"], row["taken_at"]) for row in taken] == [
        ("product_meter_ppm", "0.3333333333333333", "2026-03-01T12:00:00.000000Z"),
        ("clear_again_min", "", "2026-03-01T12:00:00.000000Z"),
    ]


def test_drawn_years_go_with_a_backup_and_not_with_an_export(filled: Book, places: Places, tmp_path: Path) -> None:
    filled.keep_drawn_years("tern-quay", "0" * 64, 500, 2**32 - 1, bytes(range(256)))
    filled.backup(tmp_path / "b.sqlite")
    filled.export_to(tmp_path / "out")
    restored, imported = Book.open(places.new("sqlite")), Book.open(places.new("sqlite"))
    restored.restore(tmp_path / "b.sqlite")
    imported.import_from(tmp_path / "out")
    assert restored.drawn_years("tern-quay", "0" * 64, 500, 2**32 - 1) == bytes(range(256))
    assert imported.newest_drawn_years("tern-quay", "0" * 64) is None
    for opened in (restored, imported):
        opened.close()


@pytest.mark.parametrize("kind", KINDS)
@given(
    names=st.lists(TEXT, min_size=1, max_size=3),
    tomls=st.lists(TEXT, max_size=3),
    readings=st.lists(st.tuples(TEXT, NUMBER, TIME), max_size=4),
    contents=st.lists(st.tuples(TEXT, st.binary(max_size=50)), max_size=3),
    settings_=st.dictionaries(TEXT, TEXT, max_size=3),
)
@settings(
    max_examples=settings().max_examples // 16,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
def test_whatever_a_book_holds_comes_back(
    kind: str,
    places: Places,
    tmp_path_factory: pytest.TempPathFactory,
    names: list[str],
    tomls: list[str],
    readings: list[tuple[str, float | None, datetime]],
    contents: list[tuple[str, bytes]],
    settings_: dict[str, str],
) -> None:
    folder = tmp_path_factory.mktemp("round")
    book = Book.open(places.new("sqlite"))
    slugs = [book.add_site(name, name, name).slug for name in names]
    for number, toml in enumerate(tomls):
        book.save(slugs[0], toml, f"{number}{toml}", toml, made_from=number + 1)
    run = book.begin_first_run(slugs[-1], *(value for _, value, _ in readings[:3]))
    for number, (key, value, taken) in enumerate(readings):
        book.keep_reading(run.id, key, value, f"{key}{number}", taken)
        book.keep_tick(slugs[0], key, key, value is None, f"{key}{number}", taken)
    for title, content in contents:
        book.issue(slugs[0], title, title, content, content[::-1], title, title)
    for key, text in settings_.items():
        book.set_setting(key, text)
    book.export_to(folder / "out")
    book.backup(folder / "b.sqlite")
    expected = rows(book)
    back, restored = Book.open(places.new(kind)), Book.open(places.new(kind))
    back.import_from(folder / "out")
    restored.restore(folder / "b.sqlite")
    assert rows(back) == expected
    assert rows(restored) == expected
    assert {key: back.setting(key) for key in settings_} == settings_
    back.backup(folder / "again.sqlite")
    back.export_to(folder / "again")
    assert tree(folder / "again") == tree(folder / "out")
    for opened in (book, back, restored):
        opened.close()


def tree(folder: Path) -> dict[str, bytes]:
    """Every file but the one with the time."""
    files = [file for file in folder.rglob("*") if file.is_file() and file.name != "book.toml"]
    return {str(file.relative_to(folder)): file.read_bytes() for file in files}


def test_long_texts_come_back(book: Book, tmp_path: Path, places: Places) -> None:
    book.set_setting("long", 'a,"\n' * 100_000)
    book.add_site("é" * 300_000, "x" * 300_000, "begun")
    book.export_to(tmp_path / "out")
    other = Book.open(places.new("sqlite"))
    other.import_from(tmp_path / "out")
    assert rows(other) == rows(book)
    other.close()


@pytest.mark.parametrize("revision", ["0001", "0002"])
def test_an_export_of_an_older_book_is_migrated_on_the_way(book: Book, tmp_path: Path, revision: str) -> None:
    """The older program's export held its own columns."""
    place = tmp_path / "old.sqlite"
    run_sql(str(place), (BOOKS / f"r{revision}.sqlite.sql").read_text(encoding="utf-8"))
    migrated = Book.open(place)
    migrated.export_to(tmp_path / "out")
    (tmp_path / "out" / "book.toml").write_text(f'format = 1\nrevision = "{revision}"\n')
    before = str(next(tmp_path.glob(f"old-{revision}-*")))
    for table in ("site", "version", "first_run", "setting"):  # those that have changed since
        names = [row[1] for row in ask_sql(before, f"PRAGMA table_info({table})") if row[1] != "toml"]
        found = ask_sql(before, f"SELECT {','.join(names)} FROM {table} ORDER BY 1")
        with (tmp_path / "out" / f"{table}.csv").open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows([names, *found])
    book.import_from(tmp_path / "out")
    assert rows(book) == rows(migrated)
    migrated.close()


def test_an_export_wants_a_new_folder(filled: Book, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    filled.export_to(tmp_path / "empty")
    before = tree(tmp_path)
    with pytest.raises(BookNotUsable, match="this is there already; give a new name"):
        filled.export_to(tmp_path / "empty")
    assert tree(tmp_path) == before


def test_an_export_that_fails_leaves_nothing(filled: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: Path, __: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(BookNotUsable, match=r"this cannot be written \(no space left on device\)"):
        filled.export_to(tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_book_that_holds_something_is_not_imported_over(filled: Book, tmp_path: Path) -> None:
    filled.export_to(tmp_path / "out")
    before = rows(filled)
    with pytest.raises(BookNotUsable, match="not empty; import into a new one"):
        filled.import_from(tmp_path / "out")
    assert rows(filled) == before


def edit(name: str, old: str, new: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        file = folder / name
        text = file.read_bytes().decode()
        assert old in text
        file.write_bytes(text.replace(old, new, 1).encode("utf-8", "surrogateescape"))

    return change


SPOILT: list[tuple[Callable[[Path], Any], str]] = [
    (shutil.rmtree, "not an export of a book: it has no book.toml"),
    (lambda folder: (folder / "book.toml").unlink(), "not an export of a book: it has no book.toml"),
    (edit("book.toml", "format", "format format"), "book.toml: this is not TOML"),
    (edit("book.toml", "format = 1", "format = 2"), "format 2, revision .* is not known"),
    (edit("book.toml", 'revision = "', 'revision = "9'), "format 1, revision 9.* is not known"),
    (lambda folder: (folder / "tick.csv").unlink(), "tick.csv is missing"),
    (edit("reading.csv", "client_id", "client"), "reading.csv: the first line does not name .* should be id,"),
    (edit("reading.csv", ",clear_again_min", ""), "reading.csv, line 3: .*6 cells instead of 7"),
    (edit("reading.csv", "0.3333333333333333", "a third"), 'reading.csv, line 2: .*value is "a third"'),
    (edit("tick.csv", "true", "yes"), 'tick.csv, line 2: .*done is "yes"'),
    (edit("tick.csv", "tern-quay-4", "tern-quay-3"), "tick.csv, line 3: .*(UNIQUE|unique)"),
    (edit("tick.csv", "1,1,", "1,7,"), "tick.csv, line 2: .*(FOREIGN|foreign)"),
    (edit("version.csv", "1,1,1,", "1,7,1,"), "version.csv, line 2: .*there is no site 7"),
    (edit("site.csv", "tern-quay", "../tern"), 'site.csv, line 2: .*"../tern" is not a name of small letters'),
    (edit("reading.csv", "2026-03-01T12", "2026-03-99T12"), "a row cannot be read"),
    (edit("version.csv", "begun", "beg\udcffun"), "version.csv: this cannot be read"),
    (edit("version.csv", "begun", '"beg'), "version.csv: this cannot be read"),
    (edit("sites/tern-quay/0002.toml", "a", "\udcff"), "0002.toml: this is not UTF-8"),
    (lambda folder: (folder / "sites/tern-quay/0002.toml").unlink(), "0002.toml: this file is missing"),
    (lambda folder: next(folder.glob("documents/*.pdf")).write_bytes(b"another"), r"pdf: .*its hash differs"),
    (lambda folder: next(folder.glob("documents/*.html")).unlink(), "html: this file is missing"),
]  # fmt: skip


@pytest.mark.parametrize(("spoil", "said"), SPOILT, ids=[str(n) for n in range(len(SPOILT))])
def test_what_is_no_whole_export_changes_nothing(
    places: Places, tmp_path: Path, spoil: Callable[[Path], Any], said: str
) -> None:
    book = Book.open(places.new("sqlite"))
    fill(book)
    book.export_to(tmp_path / "out")
    spoil(tmp_path / "out")
    other = Book.open(places.new("sqlite"))
    with pytest.raises(BookNotUsable, match=said) as refusal:
        other.import_from(tmp_path / "out")
    assert "\n" not in str(refusal.value)
    assert not any(rows(other).values())
    for opened in (book, other):
        opened.close()


def test_numbers_come_back_to_the_last_digit(book: Book, tmp_path: Path) -> None:
    run = book.begin_first_run(fill(book))
    values = [5e-324, 1.7976931348623157e308, math.pi, -0.1, 123456789.123456789]
    for number, value in enumerate(values):
        book.keep_reading(run.id, str(number), value, f"v{number}", NOON + timedelta(microseconds=number))
    assert list(book.readings(run.id).values()) == values
