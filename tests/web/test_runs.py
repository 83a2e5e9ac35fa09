"""Long runs: told, the same as the command line's, stopped at once, and gone with the app in whatever way it goes."""

from __future__ import annotations

import json
import multiprocessing
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx2
import pytest

from rinsewright.cli.output import plain
from rinsewright.planning.year_result import YearResult
from rinsewright.store.book import Book
from rinsewright.web.runs import Asked, Busy, Run, Runs

from .served import DEMO, SLUG

ROOT = Path(__file__).parents[2]
SOON = 30.0  # s; a busy machine starts a process slowly


class Kept(list[tuple[Asked, YearResult]]):
    """What the runs hand over to be kept."""

    def __call__(self, asked: Asked, year: YearResult) -> None:
        self.append((asked, year))


@pytest.fixture
def kept() -> Kept:
    return Kept()


@pytest.fixture
def runs(kept: Kept) -> Iterator[Runs]:
    runs = Runs(kept)
    yield runs
    runs.close()
    assert multiprocessing.active_children() == []


def asked(members: int = 500, slug: str = SLUG, toml: str = DEMO, seed: int = 5) -> Asked:
    return Asked(slug, 1, toml, members, seed)


def wait(happened: Callable[[], object], within: float = SOON) -> None:
    end = time.monotonic() + within
    while not happened():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.02)


def ended(run: Run) -> Run:
    wait(lambda: run.state != "running", 120.0)
    return run


def test_a_run_tells_how_far_it_is_and_gives_what_the_command_line_gives(
    runs: Runs, kept: Kept, tmp_path: Path
) -> None:
    run, shares = runs.begin(asked(20)), [0.0]
    while run.state == "running":
        shares.append(run.share)
        time.sleep(0.02)
    assert run.state == "done"
    assert run.share == 1.0
    assert shares == sorted(shares)
    assert len({round(share, 2) for share in shares}) > 10  # day by day, not in one leap
    assert runs.of(SLUG) is run
    assert kept == [(run.asked, run.result)]
    file = tmp_path / "site.toml"
    file.write_text(DEMO, encoding="utf-8")
    command = [sys.executable, "-m", "rinsewright", "year", str(file), "--years", "20", "--seed", "5", "--json"]
    told = subprocess.run(command, capture_output=True, text=True, check=True)
    assert run.result is not None
    assert plain(run.result.answer()) == json.loads(told.stdout)
    took = run.seconds
    time.sleep(0.05)
    assert run.seconds == took > 0.0


@pytest.mark.longer
def test_another_seed_draws_other_years(runs: Runs) -> None:
    begun = [runs.begin(asked(20, slug=f"seed-{seed}", seed=seed)) for seed in (5, 6)]
    one, other = (ended(run).result for run in begun)
    assert one is not None
    assert other is not None
    assert one["product_m3"] != other["product_m3"]


def test_a_run_is_stopped_at_once_and_leaves_nothing(
    runs: Runs, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for place in ("TMPDIR", "TEMP", "TMP"):
        monkeypatch.setenv(place, str(tmp_path))
    monkeypatch.setattr(tempfile, "tempdir", None)
    run = runs.begin(asked())
    wait(lambda: run.share > 0.1)
    assert runs.stop(SLUG)
    assert run.state == "stopped"
    assert run.result is None
    assert multiprocessing.active_children() == []
    assert list(tmp_path.iterdir()) == []
    assert not runs.stop(SLUG)
    assert runs.begin(asked(20)).state == "running"  # there is room again


def test_there_is_one_run_for_a_site_and_two_in_all(runs: Runs) -> None:
    runs.begin(asked(slug="one"))
    with pytest.raises(Busy, match="being drawn already"):
        runs.begin(asked(slug="one"))
    runs.begin(asked(slug="two"))
    with pytest.raises(Busy, match="wait until one is done"):
        runs.begin(asked(slug="three"))
    assert len(multiprocessing.active_children()) == 2
    assert runs.of("three") is None


def test_what_the_engine_refuses_is_told_in_its_sentence(runs: Runs) -> None:
    run = ended(runs.begin(asked(20, toml=DEMO.replace("litres_per_day", "litres_a_day"))))
    assert run.state == "failed"
    assert re.search(r"line \d+.*litres_a_day", run.sentence)


def test_a_run_that_is_killed_is_told_as_one_that_failed(runs: Runs) -> None:
    run = runs.begin(asked())
    (process,) = multiprocessing.active_children()
    process.kill()
    assert ended(run).state == "failed"
    assert run.sentence == "The run ended before its time; draw them again."
    assert runs.begin(asked(20)).state == "running"


def children(pid: int) -> set[int]:
    """The processes that a process has started, and those that these have."""
    table = subprocess.run(["ps", "-A", "-o", "pid=,ppid=,stat="], capture_output=True, text=True, check=True).stdout
    rows = [line.split() for line in table.splitlines()]
    found = {int(child) for child, parent, state in rows if int(parent) == pid and not state.startswith("Z")}
    return found.union(*(children(child) for child in found))


def alive(pid: int) -> bool:
    state = subprocess.run(["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True, check=False).stdout
    return bool(state.strip()) and not state.startswith("Z")


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_no_process_outlives_the_app(how: signal.Signals, tmp_path: Path) -> None:
    where = tmp_path / "book.sqlite"
    book = Book.open(where)
    book.add_site(DEMO, "Tern Quay yard", "brought in")
    book.close()
    command = [sys.executable, "-m", "rinsewright", "serve", "--book", str(where), "--no-browser", "--port"]
    port = free_port()
    with subprocess.Popen([*command, str(port)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as app:
        assert app.stdout is not None
        assert str(port) in app.stdout.readline()
        address = f"http://127.0.0.1:{port}/sites/{SLUG}/year"
        same = {"Origin": f"http://127.0.0.1:{port}"}
        answer = httpx2.post(address, data={"years": "500", "seed": "1"}, headers=same, timeout=60.0)
        assert answer.status_code == 303
        started = children(app.pid)
        assert started
        wait(lambda: "data-running" in httpx2.get(f"{address}/drawing").text)
        time.sleep(0.5)  # into its work
        os.kill(app.pid, how)
        app.wait(SOON)
        wait(lambda: not any(map(alive, started)), 10.0)


def free_port() -> int:
    import socket

    with socket.socket() as asking:
        asking.bind(("127.0.0.1", 0))
        port: int = asking.getsockname()[1]
    return port
