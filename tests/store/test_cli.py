"""``rinsewright book``: each action on both databases, and its refusals."""

from __future__ import annotations

from pathlib import Path

import pytest

from rinsewright.cli import Parser, main
from rinsewright.cli import book as command
from rinsewright.errors import InputError
from rinsewright.store.book import Book
from tests.store.places import Places, rows


def run(*arguments: str) -> None:
    """As the command line does, up to the refusal, which it prints."""
    parser = Parser(prog="rinsewright")
    command.add(parser.add_subparsers(required=True))
    options = parser.parse_args(["book", *arguments])
    options.run(options)


@pytest.fixture
def there(place: str) -> str:
    book = Book.open(place)
    book.save(book.add_site("a = 1", "Tern Quay", "begun").slug, "a = 2", "Tern", "changed", made_from=1)
    book.close()
    return place


def content(place: str) -> object:
    book = Book.open(place)
    try:
        return rows(book)
    finally:
        book.close()


def test_a_book_moves_by_backup_and_restore(
    there: str, places: Places, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run("backup", str(tmp_path / "b.sqlite"), "--book", there)
    assert capsys.readouterr() == ("", f"written: {tmp_path / 'b.sqlite'}\n")
    other = places.new("sqlite")
    run("restore", str(tmp_path / "b.sqlite"), "--book", other)
    assert capsys.readouterr().err == f"restored: {other}\n"
    assert content(other) == content(there)
    run("restore", str(tmp_path / "b.sqlite"), "--book", other)
    (kept,) = Path(other).parent.glob("book-before-restore-*.sqlite")
    assert capsys.readouterr().err.endswith(f"what was there is kept as: {kept}\n")


def test_a_book_moves_by_export_and_import(
    there: str, places: Places, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run("export", str(tmp_path / "out"), "--book", there)
    other = places.new("sqlite")
    run("import", str(tmp_path / "out"), "--book", other)
    assert capsys.readouterr() == ("", f"written: {tmp_path / 'out'}\nimported into: {other}\n")
    assert content(other) == content(there)


def test_the_book_of_the_data_folder_is_the_one_without_a_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("rinsewright.store.database.default_file", lambda: tmp_path / "book.sqlite")
    Book.open().close()
    run("backup", str(tmp_path / "b.sqlite"))
    assert (tmp_path / "b.sqlite").is_file()


@pytest.mark.parametrize("action", ["backup", "export"])
def test_a_book_that_is_not_there_is_not_copied_as_an_empty_one(action: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.sqlite: there is no book here; name its place with --book"):
        run(action, str(tmp_path / "b"), "--book", str(tmp_path / "none.sqlite"))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("action", ["restore", "import"])
def test_what_brings_nothing_back_leaves_no_book(action: str, tmp_path: Path) -> None:
    (tmp_path / "letter").write_text("a letter")
    with pytest.raises(InputError, match="letter"):
        run(action, str(tmp_path / "letter"), "--book", str(tmp_path / "new.sqlite"))
    assert [file.name for file in tmp_path.iterdir()] == ["letter"]


@pytest.mark.parametrize("action", ["restore", "import"])
def test_what_brings_nothing_back_leaves_a_book_that_is_there(action: str, there: str, tmp_path: Path) -> None:
    before = content(there)
    with pytest.raises(InputError, match="nothing"):
        run(action, str(tmp_path / "nothing"), "--book", there)
    assert content(there) == before


def test_an_action_and_its_place_are_needed() -> None:
    with pytest.raises(InputError, match="ACTION"):
        run()
    with pytest.raises(InputError, match="PLACE"):
        run("backup")
    with pytest.raises(InputError, match=r"burn.*choose from"):
        run("burn", "b.sqlite")


def test_the_command_line_knows_the_book(there: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["book", "backup", str(tmp_path / "b.sqlite"), "--book", there]) == 0
    assert main(["book", "backup", str(tmp_path / "b.sqlite"), "--book", there]) == 2
    assert capsys.readouterr().err.endswith("b.sqlite: this is there already; give a new name\n")
