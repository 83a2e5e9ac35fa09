"""What the engine has worked out, kept for the next page: sites, plans, years and build sheets by their text."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from threading import Lock
from typing import Any, TypeVar

from rinsewright.api import Site
from rinsewright.building.result import BuildSheet
from rinsewright.firstrun.record import FirstRun
from rinsewright.firstrun.table import Table, make_table
from rinsewright.planning.plan import Plan
from rinsewright.planning.year_result import YearResult

Made = TypeVar("Made")

KEPT = 64  # results; a plan holds about a megabyte
FIRST_RUNS_KEPT = 8  # a first run's prediction holds about five
NAME = "site file"  # stands in messages before the line


@dataclass
class _Entry:
    """A result, and who may make it."""

    lock: Lock = field(default_factory=Lock)
    made: Any = None
    is_made: bool = False


class Shelf:
    """The results asked for last. Who asks for one that is being made waits for it; one that failed is made anew."""

    def __init__(self, most: int = KEPT) -> None:
        self._most = most
        self._entries: OrderedDict[Hashable, _Entry] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """The result under a key, made if it is not there."""
        with self._lock:
            entry = self._entries.setdefault(key, _Entry())
            self._entries.move_to_end(key)
            while len(self._entries) > self._most:
                self._entries.popitem(last=False)
        with entry.lock:
            if not entry.is_made:
                entry.made, entry.is_made = make(), True
            made: Made = entry.made
            return made

    def known(self, key: Hashable) -> Any | None:
        """The result under a key if it is there, at once."""
        with self._lock:
            entry = self._entries.get(key)
        return entry.made if entry is not None else None


class Engine:
    """Asks the engine, and remembers. Every method raises what :class:`rinsewright.api.Site` raises."""

    def __init__(self) -> None:
        self.shelf = Shelf()
        self._first_runs = Shelf(FIRST_RUNS_KEPT)

    def site(self, toml: str) -> Site:
        """The checked site of a text."""
        return self.shelf.get(("site", toml), lambda: Site.loads(toml, NAME))

    def plan(self, toml: str) -> Plan:
        """Its plan."""
        return self.shelf.get(("plan", toml), self.site(toml).plan)

    def plan_if_known(self, toml: str) -> Plan | None:
        """Its plan if it was made already."""
        return self.shelf.known(("plan", toml))

    def year(self, toml: str, members: int = 1, seed: int | None = None) -> YearResult:
        """Its year."""
        return self.shelf.get(("year", toml, members, seed), lambda: self.site(toml).year(members, seed))

    def build(self, toml: str) -> BuildSheet:
        """Its build sheet."""
        return self.shelf.get(("build", toml), self.site(toml).build)

    def first_run(
        self,
        toml: str,
        temperature_c: float | None = None,
        running_bar: float | None = None,
        running_l_min: float | None = None,
    ) -> FirstRun:
        """What its first run should read under its conditions."""
        key = (toml, temperature_c, running_bar, running_l_min)
        return self._first_runs.get(key, lambda: self.site(toml).first_run(temperature_c, running_bar, running_l_min))

    def first_run_table(self, toml: str) -> Table:
        """The same over temperature and pressure."""
        site = self.site(toml)
        return self.shelf.get(("first-run table", toml), lambda: make_table(site.document, site.plant, site.tap))

    def year_if_known(self, toml: str, members: int, seed: int | None) -> YearResult | None:
        """Its year if it was worked out already."""
        return self.shelf.known(("year", toml, members, seed))

    def keep_year(self, toml: str, members: int, seed: int | None, year: YearResult) -> None:
        """Remember a year that was worked out elsewhere, as if it had been asked for here."""
        self.shelf.get(("year", toml, members, seed), lambda: year)
