"""A writing program is killed in the middle: every answered write is there, nothing half-written, the book opens."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from rinsewright.store.book import Book
from tests.store.places import ask_sql, run_sql

WRITER = Path(__file__).parent / "writer.py"


def write_until_killed(place: str, turn: int, writes: int, delay_s: float) -> list[tuple[str, str]]:
    """The acknowledged writes of a program that is killed so long after it said so many."""
    command = [sys.executable, str(WRITER), place, str(turn)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "begun\n"
        said = "".join(process.stdout.readline() for _ in range(writes))
        time.sleep(delay_s)
        process.kill()
        said += process.stdout.read()
        assert process.wait() == -signal.SIGKILL
    whole = said[: said.rfind("\n") + 1]  # its last line may be torn as well
    return [(what, name) for what, name in (line.split() for line in whole.splitlines())]


def check(place: str, turn: int, said: list[tuple[str, str]]) -> None:
    """Everything that was answered in this turn is there, and all that is there is whole."""
    book = Book.open(place)
    sites = {row.name: row for row in book.sites() if row.name.startswith(f"{turn}-")}
    documents = {row.title: row for row in book.documents() if row.title.startswith(f"{turn}-")}
    there = {("site", name) for name in sites} | {("document", title) for title in documents}
    for name, site in sites.items():
        versions = book.versions(site.slug)
        count = name.split("-")[1]
        assert [v.toml for v in versions] == [f"n = {count}\n", f"n = {count}\n# changed\n"][: len(versions)]
        there |= {("version", name)} if len(versions) == 2 else set()
        there |= {("tick", name)} if book.ticks(site.slug, "unpacking") == {"tube": True} else set()
        there |= {
            ("reading", name) for run in book.first_runs(site.slug) if book.readings(run.id) == {"a": float(count)}
        }
    for title, row in documents.items():
        document = book.document(row.number)  # its hashes are checked
        assert (document.html, document.pdf) == (title.encode() * 500, title.encode() * 5000)
    assert set(said) <= there
    assert len(there) - len(said) <= 1  # at most the one write that was under way
    numbers = [int(row.number.split("-")[1]) for row in book.documents()]
    assert numbers == list(range(1, len(numbers) + 1))
    with book._database.reading() as connection:
        if book._database.file is not None:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
            assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []
    book.close()


@pytest.mark.parametrize("times", [3, pytest.param(100, marks=pytest.mark.longer)])
def test_what_was_answered_outlives_a_kill(
    kind: str, place: str, times: int, record_property: Callable[[str, object], None]
) -> None:
    chance = random.Random(times)
    writes = 0
    for turn in range(times):
        said = write_until_killed(place, turn, chance.randrange(25), chance.uniform(0.0, 0.03))
        check(place, turn, said)
        writes += len(said)
    assert writes > times  # by far: it was killed while it wrote
    record_property(f"killed {times} times on {kind}", f"{writes} answered writes, all there")


STOPS_INSIDE = """
import sys, time
from rinsewright.store import migrate
from rinsewright.store.book import Book
upgrade = migrate.upgrade
def stops(connection, revision):
    upgrade(connection, revision)
    print("migrated", flush=True)
    time.sleep(600)
migrate.upgrade = stops
Book.open(sys.argv[1])
"""


@pytest.mark.parametrize("old", [False, True], ids=["made", "migrated"])
def test_a_kill_while_a_book_is_made_or_migrated_changes_nothing(kind: str, place: str, old: bool) -> None:
    if old:
        run_sql(place, (Path(__file__).parent / "books" / f"r0001.{kind}.sql").read_text(encoding="utf-8"))
    with subprocess.Popen([sys.executable, "-c", STOPS_INSIDE, place], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "migrated\n"
        process.kill()
    if old:
        assert ask_sql(place, "SELECT version_num FROM book_revision") == [("0001",)]
        assert ask_sql(place, "SELECT name FROM site WHERE id = 1") == [("Tern Quay",)]
    book = Book.open(place)
    assert [row.name for row in book.sites()] == (["Tern Quay"] if old else [])
    book.close()
