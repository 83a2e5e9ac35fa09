"""The app is killed while phones write to it: every write it has answered is in the book, nothing is half-written."""

from __future__ import annotations

import http.client
import json
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlencode

import pytest

from rinsewright.store.book import Book

DEMO = (Path(__file__).parents[2] / "examples" / "tern-quay.toml").read_text(encoding="utf-8")
SLUG = "tern-quay-yard"
PHONES = 2


class Phone(threading.Thread):
    """Sends ticks, readings and site files one after another, and remembers what was answered, until it is gone."""

    def __init__(self, port: int, run_id: int, name: str) -> None:
        super().__init__(daemon=True)
        self.port, self.run_id, self.called = port, run_id, name
        self.ticks: list[str] = []
        self.readings: list[float] = []
        self.begun: list[str] = []
        self.sites: list[str] = []

    def run(self) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        try:
            for count in range(100_000):
                self._write(connection, f"{self.called}-{count}", float(count))
        except (OSError, http.client.HTTPException):
            return  # killed

    def _write(self, connection: http.client.HTTPConnection, name: str, value: float) -> None:
        when = f"2026-01-01T00:00:00.{int(value):06d}Z"
        tick = {"sheet": "unpacking", "key": name, "done": "yes", "client_id": f"t {name}", "taken_at": when}
        if self._sent(connection, f"/sites/{SLUG}/ticks", tick) == f"t {name}":
            self.ticks.append(name)
        reading = {"key": "drain_l_min", "value": f"{1 + value / 1000:.3f}", "client_id": f"r {name}", "taken_at": when}
        if self._sent(connection, f"/sites/{SLUG}/first-run/{self.run_id}", reading) == f"r {name}":
            self.readings.append(round(1 + value / 1000, 3))
        begun = {"begun": f"b {name}", "temperature_c": "12", **reading, "client_id": f"b {name}"}
        if self._sent(connection, f"/sites/{SLUG}/first-run/begun", begun) == f"b {name}":
            self.begun.append(name)
        text = DEMO.replace("Tern Quay yard", name)
        connection.request("POST", "/sites", urlencode({"text": text}), self._headers())
        answer = connection.getresponse()
        answer.read()
        if answer.status == 303:
            self.sites.append(name)

    def _sent(self, connection: http.client.HTTPConnection, path: str, fields: dict[str, str]) -> str | None:
        connection.request("POST", path, urlencode(fields), self._headers())
        answer = connection.getresponse()
        body = answer.read()
        told: dict[str, str] = json.loads(body) if answer.status == 200 else {}
        return told.get("client_id")

    def _headers(self) -> dict[str, str]:
        return {
            "Content-Type": "application/x-www-form-urlencoded",
            "Origin": f"http://127.0.0.1:{self.port}",
        }


def kill_while_they_write(place: str, turn: int, after_s: float) -> list[Phone]:
    """Start the app over a book, let the phones write to it, kill it; what each phone was answered."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    book = Book.open(place)
    runs = [book.begin_first_run(SLUG).id for _ in range(PHONES)]
    book.close()
    command = [sys.executable, "-m", "rinsewright", "serve", "--book", place, "--port", str(port), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        assert "is open at" in server.stdout.readline()
        phones = [Phone(port, run, f"{turn}-{place_}") for place_, run in enumerate(runs)]
        for phone in phones:
            phone.start()
        while not any(phone.ticks for phone in phones):  # it answers, so it is not killed before it began
            time.sleep(0.005)
        time.sleep(after_s)
        server.kill()
        assert server.wait() == -signal.SIGKILL
    for phone in phones:
        phone.join(30.0)
        assert not phone.is_alive()
    return phones


def check(place: str, phones: list[Phone]) -> int:
    """Every answered write is there; how many."""
    book = Book.open(place)
    ticks = book.ticks(SLUG, "unpacking")
    there = {row.name: row for row in book.sites()}
    for phone in phones:
        assert {key for key, done in ticks.items() if done} >= set(phone.ticks)
        assert set(phone.sites) <= set(there)
        kept = book.readings(phone.run_id)
        for name in phone.begun:
            assert len(book.readings(book.begin_first_run(SLUG, client_id=f"b {name}").id)) == 1
        if phone.readings:
            newest = kept["drain_l_min"]
            assert newest is not None
            assert newest >= phone.readings[-1] - 1e-9
    for name, row in there.items():
        assert book.current(row.slug).toml in (DEMO, DEMO.replace("Tern Quay yard", name))
    with book._database.reading() as connection:
        if book._database.file is not None:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
    book.close()
    return sum(len(phone.ticks) + len(phone.readings) + len(phone.begun) + len(phone.sites) for phone in phones)


@pytest.mark.parametrize("times", [2, pytest.param(100, marks=pytest.mark.longer)])
def test_what_the_app_has_answered_outlives_a_kill(
    kind: str, place: str, times: int, record_property: Callable[[str, object], None]
) -> None:
    chance = random.Random(times)
    book = Book.open(place)
    book.add_site(DEMO, "Tern Quay yard", "brought in")
    book.close()
    writes = 0
    for turn in range(times):
        writes += check(place, kill_while_they_write(place, turn, chance.uniform(0.0, 0.4)))
    assert writes > times
    record_property(f"the app killed {times} times on {kind}", f"{writes} answered writes, all there")
