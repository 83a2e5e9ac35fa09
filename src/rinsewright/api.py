"""The pleasant face: load a site, ask it things.

>>> site = Site.load("examples/tern-quay.toml")        # doctest: +SKIP
>>> site.solve(temperature_c=5).answer()["product"]     # doctest: +SKIP
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from rinsewright.catalogue.loader import Catalogue, load_catalogue
from rinsewright.errors import InputError, NoWorkingState, Problem
from rinsewright.planning import tap as taps
from rinsewright.planning import wording
from rinsewright.planning.versions import stamped
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane import element as elements
from rinsewright.quantities import BAR, LMH, LMH_PER_BAR, Array, celsius, kelvin
from rinsewright.site import build
from rinsewright.site.checks import check_ratings, path_of
from rinsewright.site.document import SiteDocument
from rinsewright.site.reading import read_site, read_text, require
from rinsewright.site.schema import SiteFile
from rinsewright.solve.result import Batch, Solved, solve_batch, solve_one

if TYPE_CHECKING:
    from rinsewright.building.result import BuildSheet
    from rinsewright.firstrun.record import FirstRun
    from rinsewright.planning.plan import Plan
    from rinsewright.planning.year_result import YearResult

Progress = Callable[[str, float], None]  # what is being done, share done


@dataclass(frozen=True)
class Report:
    """An answer: as the contract's object, and as text for a person."""

    data: dict[str, Any]
    words: Callable[[Mapping[str, Any]], str]

    def answer(self) -> dict[str, Any]:
        """The contract's JSON object."""
        return self.data

    def text(self) -> str:
        """The answer for a person."""
        return self.words(self.data)

    def __getitem__(self, key: str) -> Any:
        """A part of the answer: ``site.solve()["product"]["flow_l_min"]``."""
        return self.data[key]


@dataclass(frozen=True)
class SolveReport(Report):
    """A working state; ``solved`` holds everything behind the answer."""

    solved: Solved


@dataclass(frozen=True)
class Element:
    """A membrane element whose permeances are known."""

    element: elements.Element

    @classmethod
    def from_rated(cls, keys: Mapping[str, Any], name: str = "element", parts: str | Path | None = None) -> Element:
        """An element from the keys of one ``[[plant.membranes]]`` table; raises :class:`InputError`."""
        from rinsewright.site.element_file import element_of

        return cls(element_of(keys, name, load_catalogue(parts)))

    @classmethod
    def load(cls, path: str | Path, parts: str | Path | None = None) -> Element:
        """An element from a file of those keys."""
        from rinsewright.site.element_file import read_element

        return cls(read_element(path, load_catalogue(parts)))

    @property
    def water_permeance_l_m2_h_bar(self) -> float:
        """Water permeance at 25 °C [L/(m2 h bar)]."""
        return self.element.water_permeance / LMH_PER_BAR

    @property
    def salt_permeance_l_m2_h(self) -> float:
        """NaCl permeance at 25 °C [L/(m2 h)]."""
        return self.element.salt_permeance / LMH

    def answer(self) -> dict[str, Any]:
        """The contract's ``element`` object."""
        return stamped(
            {
                "water_permeance_l_m2_h_bar": self.water_permeance_l_m2_h_bar,
                "salt_permeance_l_m2_h": self.salt_permeance_l_m2_h,
            }
        )

    def text(self) -> str:
        """Both permeances, for a person."""
        return wording.element_text(self.answer())


@dataclass(frozen=True)
class Site:
    """A site file that has passed its checks, with a catalogue of parts."""

    document: SiteDocument
    catalogue: Catalogue

    @classmethod
    def load(cls, path: str | Path, parts: str | Path | None = None) -> Site:
        """Read a site file; raises :class:`InputError` naming file, key and line of everything wrong."""
        return cls(read_site(path), load_catalogue(parts))

    @classmethod
    def loads(cls, text: str, name: str = "site file", parts: str | Path | None = None) -> Site:
        """The same from a text; ``name`` stands in messages."""
        return cls(read_text(text, name), load_catalogue(parts))

    @property
    def name(self) -> str:
        """What the site is called."""
        return self.document.model.site.name

    @cached_property
    def tap(self) -> taps.Tap:
        """The completed tap water at today's temperature, with its uncertainty."""
        require(self.document, "water")
        with self._telling_where():
            return taps.tap_of(self.document)

    @cached_property
    def plant(self) -> Plant:
        """The plant; raises :class:`NoWorkingState` where a part may see more than its rating."""
        require(self.document, "build")
        with self._telling_where():
            plant = build.build_plant(self.document, self.catalogue)
        check_ratings(self.document, plant)
        return plant

    def water(self) -> Report:
        """What is in the tap water."""
        return Report(stamped(self.tap.answer()), wording.water_text)

    def solve(self, temperature_c: float | None = None, standing_bar: float | None = None) -> SolveReport:
        """The steady state now, running into an open tank.

        Raises :class:`InputError` for a temperature outside 0–45 °C or a pressure outside 0–25 bar,
        :class:`NoWorkingState` naming the part that forbids it.
        """
        require(self.document, "solve")
        _check(temperature_c, "temperature_c", 0.0, 45.0, "°C")
        _check(standing_bar, "standing_bar", 0.0, 25.0, "bar")
        plant, water = self._plant_at(standing_bar), self.tap.water
        check_ratings(self.document, plant)
        if temperature_c is not None:
            water = water.with_temperature(kelvin(np.full(1, temperature_c)))
        with self._telling_where():
            solved = solve_one(
                plant, water, plant.supply.standing_pa, build.meter_factor(self.document), self.tap.notes
            )
        return SolveReport(stamped(solved.answer()), wording.solve_text, solved)

    def solve_many(
        self, temperature_c: Array | float | None = None, standing_bar: Array | float | None = None
    ) -> Batch:
        """Solve for many conditions at once; the two arrays are broadcast against each other.

        Look at ``works`` of the result, or take its ``columns()``.
        """
        require(self.document, "solve")
        temperature = celsius(self.tap.water.temperature_k[0]) if temperature_c is None else temperature_c
        standing = self.plant.supply.standing_pa / BAR if standing_bar is None else standing_bar
        t, p = (np.ravel(np.asarray(a, dtype=np.float64)) for a in np.broadcast_arrays(temperature, standing))
        _check_all(t, "temperature_c", 0.0, 45.0, "°C")
        _check_all(p, "standing_bar", 0.0, 25.0, "bar")
        water = self.tap.water[np.zeros(t.size, dtype=np.intp)].with_temperature(kelvin(t))
        return solve_batch(self.plant, water, p * BAR)

    def plan(self, progress: Progress | None = None) -> Plan:
        """The main job: what the plant will do, what is wrong with it, what it costs."""
        from rinsewright.planning.plan import make_plan

        require(self.document, "plan")
        with self._telling_where():
            return make_plan(self.document, self.plant, self.tap, progress)

    def year(
        self, members: int = 1, seed: int | None = None, workers: int = 1, progress: Progress | None = None
    ) -> YearResult:
        """One calendar year hour by hour; with more than one member as many years, each with its own chance.

        ``seed`` makes the chance the same again, whatever the number of ``workers`` (processes that share the work).
        """
        from rinsewright.planning.year_report import simulate_year

        require(self.document, "year")
        with self._telling_where():
            return simulate_year(
                self.document, self.plant, self.tap, members=members, seed=seed, workers=workers, progress=progress
            )

    def build(self) -> BuildSheet:
        """What it takes to build the plant: parts that fit, joints, cuts, steps in their order, weights."""
        from rinsewright.building.sheet import make_build

        require(self.document, "build")
        with self._telling_where():
            return make_build(self.document, self.plant)

    def first_run(
        self,
        temperature_c: float | None = None,
        running_bar: float | None = None,
        running_l_min: float | None = None,
        measured: Mapping[str, Any] | str | Path | None = None,
    ) -> FirstRun:
        """What the plant should read on its first run today, and what was measured, judged.

        ``running_bar``: pressure at the tap while the plant runs, or while ``running_l_min`` flow. ``measured``:
        readings by the keys of the answer, or a TOML file of them.
        """
        from rinsewright.firstrun.record import make_first_run

        require(self.document, "firstrun")
        with self._telling_where():
            return make_first_run(
                self.document, self.plant, self.tap, temperature_c, running_bar, running_l_min, measured
            )

    def _plant_at(self, standing_bar: float | None) -> Plant:
        if standing_bar is None:
            return self.plant
        supply = replace(self.plant.supply, standing_pa=standing_bar * BAR, standing_estimated=False)
        return replace(self.plant, supply=supply)

    @contextmanager
    def _telling_where(self) -> Iterator[None]:
        """What is refused meanwhile by a key of the site file alone gets the file and the line before it."""
        try:
            yield
        except NoWorkingState as reason:
            raise self._placed(reason) from None
        except InputError as refusal:
            raise InputError([self._in_file(problem) for problem in refusal.problems]) from None

    def _placed(self, reason: NoWorkingState) -> NoWorkingState:
        if reason.part is None or str(reason).startswith(self.document.file):
            return reason
        line = self.document.places.line(path_of(reason.part))
        where = ", ".join([self.document.file, *([f"line {line}"] if line else []), reason.part])
        return NoWorkingState(f"{where}: {reason.reason}", reason.part)

    def _in_file(self, problem: Problem) -> Problem:
        path = path_of(problem.key or "")
        if problem.file is not None or not path or path[0] not in SiteFile.model_fields:
            return problem
        return replace(problem, file=self.document.file, line=self.document.places.line(path))


def _check(value: float | None, key: str, low: float, high: float, unit: str) -> None:
    if value is not None:
        _check_all(np.array([value]), key, low, high, unit)


def _check_all(values: Array, key: str, low: float, high: float, unit: str) -> None:
    wrong = values[~((values >= low) & (values <= high))]
    if wrong.size:
        raise InputError(Problem(f"{wrong[0]:g} {unit} is not plausible; give {low:g} to {high:g} {unit}", key=key))
