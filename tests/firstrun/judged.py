"""Drawn first runs held against the bands and judged; one prediction for each temperature that was read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from rinsewright.api import Site
from rinsewright.firstrun.expected import KEYS, MEMBERS, Conditions, Prediction, predict
from rinsewright.firstrun.judging import Sheet, case_of, judge_sheet
from rinsewright.firstrun.measured import read_measured
from rinsewright.firstrun.record import _limit_ppm
from rinsewright.site import build
from tests.independent.first_runs import HEALTHY, Fault, Sheets, first_runs

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "examples" / "tern-quay.toml"
MADE_UP = ROOT / "tests" / "firstrun" / "sites"
SITES = {path.stem: path for path in (DEMO, MADE_UP / "juniper-wharf.toml")}
# A pump with drain water led back, a pump on a break tank, a softener, feed water blended in behind the resin
OTHERS = {name: MADE_UP / f"{name}.toml" for name in ("heron-lock", "plover-basin", "sandpiper-close", "linnet-mews")}
ALL = SITES | OTHERS


@cache
def site(name: str) -> Site:
    """One site, loaded once."""
    return Site.load(ALL[name])


@cache
def at(
    name: str, temperature_c: float, running_bar: float | None, running_l_min: float | None, members: int = MEMBERS
) -> Prediction:
    """What the bands say of one site under one set of conditions."""
    plant = site(name)
    return predict(
        plant.document, plant.plant, plant.tap, Conditions(temperature_c, running_bar, running_l_min), members
    )


@dataclass(frozen=True)
class Runs:
    """Many first runs of one site: what was read, and the prediction that each is held against."""

    name: str
    sheets: Sheets
    predictions: list[Prediction]

    @classmethod
    def of(
        cls,
        name: str,
        sheets: int,
        seed: int,
        fault: Fault = HEALTHY,
        pressure_read: bool = False,
        members: int = MEMBERS,
    ) -> Runs:
        """Draw them. ``pressure_read``: the person also enters the supply's running pressure and flow."""
        drawn = first_runs(ALL[name].read_text(encoding="utf-8"), sheets, seed, fault)
        read = zip(drawn.temperature_c, drawn.running_bar, drawn.running_l_min, strict=True)
        predictions = [
            at(name, float(t), float(bar) if pressure_read else None, float(flow) if pressure_read else None, members)
            for t, bar, flow in read
        ]
        return cls(name, drawn, predictions)

    def held(self, key: str, rounded: bool = True) -> float:
        """Share of the sheets whose reading lies in the band of its line, before anything else was measured."""
        readings = (self.sheets.written if rounded else self.sheets.felt)[key]
        inside = []
        for value, prediction in zip(readings, self.predictions, strict=True):
            band = prediction.band(key)
            assert band.low is not None
            assert band.high is not None
            inside.append(band.low <= value <= band.high)
        return float(np.mean(inside))

    def judged(self) -> list[Sheet]:
        """Every sheet, with all its lines measured."""
        plant = site(self.name)
        factor, limit = build.meter_factor(plant.document), _limit_ppm(plant.document)
        found = []
        for number, prediction in enumerate(self.predictions):
            measured, _ = read_measured(self.sheets.measured(number))
            found.append(judge_sheet(case_of(plant.plant, prediction, measured, factor, limit)))
        return found


def words(sheets: list[Sheet]) -> Mapping[str, float]:
    """Share of the sheets with each verdict."""
    return {word: float(np.mean([sheet.verdict == word for sheet in sheets])) for word in ("fine", "look", "stop")}


def told(sheets: list[Sheet], *keys: str) -> float:
    """Share of the sheets in which one of these lines is not *fine*."""
    return float(
        np.mean([any(line.verdict != "fine" for line in sheet.lines if line.what in keys) for sheet in sheets])
    )


def lines_told(sheets: list[Sheet]) -> Mapping[str, float]:
    """Share of the sheets in which each line is not *fine*."""
    return {key: told(sheets, key) for key in KEYS}
