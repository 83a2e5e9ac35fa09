"""Long runs: years drawn by chance, each run in a process of its own, so that pages are answered meanwhile.

A run is a question (a site's text, how many years, which seed) and leaves nothing but its answer: no file, and no
process once it is stopped or the app is gone.
"""

from __future__ import annotations

import multiprocessing
import sys
import threading
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnContext, SpawnProcess
from typing import Any, Literal

from rinsewright.api import Site
from rinsewright.errors import InputError, Problem, RinsewrightError
from rinsewright.planning.year_result import YearResult
from rinsewright.seasons.ensemble import follow_parent
from rinsewright.web.engine import NAME
from rinsewright.web.words import words

MOST = 2  # runs at a time: more would only take the processors from each other
State = Literal["running", "done", "stopped", "failed"]


class Busy(InputError):
    """There is no room for another run just now."""


@dataclass(frozen=True)
class Asked:
    """What a run is asked: the years of a site's version, and the seed that makes them the same again."""

    slug: str
    number: int
    toml: str
    members: int
    seed: int


WhenDone = Callable[[Asked, YearResult], None]


class Run:
    """A run, as far as it is known here."""

    def __init__(self, asked: Asked) -> None:
        self.asked = asked
        self.state: State = "running"
        self.share = 0.0  # of the work that is done, as the engine tells it
        self.sentence = ""  # of a run that failed
        self.result: YearResult | None = None
        self.begun = time.monotonic()
        self.ended: float | None = None

    @property
    def seconds(self) -> float:
        """How long it has run, or ran."""
        return (time.monotonic() if self.ended is None else self.ended) - self.begun


class Runs:
    """All runs of the app: one for each site, the last one kept; its methods may be called from any thread."""

    def __init__(self, when_done: WhenDone = lambda asked, year: None, most: int = MOST) -> None:
        self._when_done, self._most = when_done, most
        self._context: SpawnContext = multiprocessing.get_context("spawn")  # a fork would copy the server's threads
        self._lock = threading.Lock()
        self._runs: dict[str, Run] = {}
        self._working: dict[str, tuple[SpawnProcess, threading.Thread]] = {}  # each with the thread that hears it

    def of(self, slug: str) -> Run | None:
        """The site's run, or the last one it had."""
        with self._lock:
            return self._runs.get(slug)

    def begin(self, asked: Asked) -> Run:
        """Begin a run; :class:`Busy` where the site has one already, or others have all the room."""
        with self._lock:
            if asked.slug in self._working:
                raise Busy(Problem(words()("year.busy_site")))
            if len(self._working) >= self._most:
                raise Busy(Problem(words()("year.busy", most=self._most)))
            ours, theirs = self._context.Pipe(duplex=False)
            process = self._context.Process(
                target=work, args=(theirs, asked.toml, asked.members, asked.seed), name="years", daemon=True
            )
            process.start()
            theirs.close()  # so that its end is heard here when the process is gone
            run = self._runs[asked.slug] = Run(asked)
            listening = threading.Thread(target=self._listen, args=(run, process, ours), daemon=True)
            self._working[asked.slug] = process, listening
            listening.start()
        return run

    def stop(self, slug: str) -> bool:
        """End the site's run at once; tells whether there was one."""
        with self._lock:
            if slug not in self._working:
                return False
            process, listening = self._working.pop(slug)
            self._end(self._runs[slug], "stopped")
            process.kill()
        listening.join()  # it waits for the process; two that wait for one would miss its end
        return True

    def close(self) -> None:
        """End all runs."""
        for slug in list(self._working):
            self.stop(slug)

    def _listen(self, run: Run, process: SpawnProcess, ours: Connection) -> None:
        """Take what the process tells until it is gone."""
        heard: tuple[str, Any] = ("gone", None)
        with ours:
            try:
                while True:
                    heard = ours.recv()
                    if heard[0] == "share":
                        run.share = heard[1]
            except (EOFError, OSError):
                pass
        process.join()
        if heard[0] == "result":
            self._when_done(run.asked, heard[1])  # kept before it is told that it is done
        with self._lock:
            if run.state != "running":
                return
            self._working.pop(run.asked.slug, None)
            if heard[0] == "result":
                run.result, run.share = heard[1], 1.0
                self._end(run, "done")
            else:
                run.sentence = heard[1] if heard[0] == "refused" else words()("year.run_gone")
                self._end(run, "failed")

    @staticmethod
    def _end(run: Run, state: State) -> None:
        run.ended, run.state = time.monotonic(), state


# --- in the process ---


def work(tell: Connection, toml: str, members: int, seed: int) -> None:
    """Draw the years and tell: ``("share", 0 to 1)`` on the way, then a result, or the sentence of a refusal."""
    follow_parent()
    try:
        result = Site.loads(toml, NAME).year(members, seed, progress=lambda what, share: tell.send(("share", share)))
        tell.send(("result", result))
    except RinsewrightError as refusal:
        tell.send(("refused", str(refusal)))
    except Exception:  # a fault of ours: told where the app was started, and the page says that it failed
        traceback.print_exc()
        sys.exit(1)
