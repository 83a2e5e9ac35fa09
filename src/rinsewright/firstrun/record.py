"""The first run's record: what to expect today, what was read, and what the readings say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from rinsewright.catalogue.reading import Places
from rinsewright.errors import InputError, Problem
from rinsewright.firstrun.expected import KEYS, SEED, Conditions, Prediction, predict
from rinsewright.firstrun.judging import Line, case_of, judge_sheet
from rinsewright.firstrun.measured import Measured, read_measured
from rinsewright.firstrun.rinse import Rinse, rinse_of
from rinsewright.planning.ensemble import Band
from rinsewright.planning.tap import Tap
from rinsewright.planning.verdicts.word import Word
from rinsewright.planning.versions import stamped
from rinsewright.plant.layout import Plant
from rinsewright.quantities import celsius
from rinsewright.site import build
from rinsewright.site.document import SiteDocument

USUAL_LIMIT_PPM = 10.0


@dataclass(frozen=True)
class FirstRun:
    """A first run: the bands and, where something was measured, the verdicts."""

    site_name: str
    conditions: Conditions
    expected: dict[str, Band]  # before anything was measured; no value where the plant has no such line
    narrowed: dict[str, Band]  # each line given all other measured ones
    lines: tuple[Line, ...]
    verdict: Word | None  # of the sheet; None where nothing was measured
    why: str
    do: str
    rinse: Rinse | None
    plant_after: dict[str, Band]  # factors on water permeance, salt passage and restrictor, given all lines
    cannot_tell: tuple[str, ...]
    prediction: Prediction

    def answer(self) -> dict[str, Any]:
        """The contract's ``firstrun`` object; ``expected`` is narrowed by what was measured, ``before`` is not."""
        return stamped(
            {
                "seed": SEED,
                "site": self.site_name,
                "conditions": asdict(self.conditions),
                "expected": _answers(self.narrowed),
                "before": _answers(self.expected),
                "lines": [line.answer() for line in self.lines],
                "verdict": self.verdict,
                "why": self.why,
                "do": self.do,
                "rinse": self.rinse.answer() if self.rinse is not None else None,
                "plant_after": _answers(self.plant_after),
                "cannot_tell": list(self.cannot_tell),
            }
        )

    def text(self) -> str:
        """The record for a person in a terminal."""
        from rinsewright.firstrun.wording import first_run_text

        return first_run_text(self)

    def __getitem__(self, key: str) -> Any:
        """A part of the answer: ``site.first_run()["expected"]``."""
        return self.answer()[key]


def _answers(bands: Mapping[str, Band]) -> dict[str, dict[str, float | None]]:
    return {key: band.answer() for key, band in bands.items()}


def make_first_run(
    document: SiteDocument,
    plant: Plant,
    tap: Tap,
    temperature_c: float | None = None,
    running_bar: float | None = None,
    running_l_min: float | None = None,
    measured: Mapping[str, Any] | str | Path | None = None,
) -> FirstRun:
    """What the plant should read today, and what was measured against it.

    ``temperature_c``: of the water today, 0–45; the site file's where not given. ``running_bar``: the supply's pressure
    at the tap while the plant runs, or at ``running_l_min``. ``measured``: readings by key, or a TOML file of them.
    Raises :class:`InputError` for implausible values, :class:`NoWorkingState` where the plant does not work.
    """
    _check(temperature_c, "temperature_c", 0.0, 45.0, "°C")
    _check(running_bar, "running_bar", 0.1, 25.0, "bar")
    _check(running_l_min, "running_l_min", 0.1, 200.0, "L/min")
    if running_l_min is not None and running_bar is None:
        raise InputError(Problem("a flow without its pressure says nothing; give running_bar too", key="running_l_min"))
    today = float(celsius(tap.water.temperature_k[0])) if temperature_c is None else temperature_c
    conditions = Conditions(today, running_bar, running_l_min)
    return first_run_of(document, plant, predict(document, plant, tap, conditions), measured)


def first_run_of(
    document: SiteDocument,
    plant: Plant,
    prediction: Prediction,
    measured: Mapping[str, Any] | str | Path | None = None,
) -> FirstRun:
    """What was measured against a prediction that is there already."""
    readings: Measured = {}
    if measured is not None:
        readings, places = read_measured(measured)
        _refuse_absent(plant, readings, places)
    case = case_of(plant, prediction, readings, build.meter_factor(document), _limit_ppm(document))
    sheet = judge_sheet(case)
    state = prediction.batch.state
    return FirstRun(
        site_name=document.model.site.name,
        conditions=prediction.conditions,
        expected={key: prediction.band(key) for key in KEYS},
        narrowed=case.narrowed.lines,
        lines=sheet.lines,
        verdict=sheet.verdict if readings else None,
        why=sheet.why if readings else "",
        do=sheet.do if readings else "",
        rinse=rinse_of(plant, float(state.product_flow[0]), float(state.drain_flow[0])),
        plant_after=case.narrowed.plant,
        cannot_tell=sheet.cannot_tell if readings else (),
        prediction=prediction,
    )


def _limit_ppm(document: SiteDocument) -> float:
    """Where the resin is changed; the trade's 10 ppm without a demand (common practice, no source)."""
    demand = document.model.demand
    return demand.product_limit_ppm if demand is not None else USUAL_LIMIT_PPM


def absent(plant: Plant) -> dict[str, str]:
    """The keys of the lines that a plant does not have, and the part that it lacks for each."""
    missing: dict[str, str] = {}
    if plant.resin is None:
        missing["after_resin_meter_ppm"] = "resin"
    if plant.shutoff is None or not plant.stages:
        missing |= dict.fromkeys(("shutoff_closes_bar", "reopens_bar"), "automatic shut-off")
    if not plant.stages:
        missing |= dict.fromkeys(("product_meter_ppm", "drain_l_min", "membrane_bar"), "membrane")
    return missing


def _refuse_absent(plant: Plant, readings: Measured, places: Places) -> None:
    """A reading of a line that the plant does not have."""
    missing = absent(plant)
    problems = [
        places.problem(f"this plant has no {missing[key]}, so there is nothing to read; leave the key out", key)
        for key in readings
        if key in missing
    ]
    if problems:
        raise InputError(problems)


def _check(value: float | None, key: str, low: float, high: float, unit: str) -> None:
    if value is not None and not low <= value <= high:
        raise InputError(Problem(f"{value:g} {unit} is not plausible; give {low:g} to {high:g} {unit}", key=key))
