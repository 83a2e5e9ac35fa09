"""The first run's record: what to expect today, what was read, and what the readings say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rinsewright.errors import InputError, Problem
from rinsewright.firstrun.expected import KEYS, Conditions, Prediction, predict
from rinsewright.planning.ensemble import Band
from rinsewright.planning.tap import Tap
from rinsewright.planning.versions import stamped
from rinsewright.plant.layout import Plant
from rinsewright.quantities import celsius
from rinsewright.site.document import SiteDocument


@dataclass(frozen=True)
class FirstRun:
    """A first run: the bands and, where something was measured, the verdicts."""

    site_name: str
    conditions: Conditions
    expected: dict[str, Band]  # before anything was measured; no value where the plant has no such line
    prediction: Prediction

    def answer(self) -> dict[str, Any]:
        """The contract's ``firstrun`` object."""
        return stamped({"expected": {key: band.answer() for key, band in self.expected.items()}})


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
    prediction = predict(document, plant, tap, conditions)
    return FirstRun(
        site_name=document.model.site.name,
        conditions=conditions,
        expected={key: prediction.band(key) for key in KEYS},
        prediction=prediction,
    )


def _check(value: float | None, key: str, low: float, high: float, unit: str) -> None:
    if value is not None and not low <= value <= high:
        raise InputError(Problem(f"{value:g} {unit} is not plausible; give {low:g} to {high:g} {unit}", key=key))
