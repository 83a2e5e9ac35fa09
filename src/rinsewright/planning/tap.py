"""The tap water of a site: completed, with its uncertainty, and what `water` answers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from rinsewright.errors import InputError
from rinsewright.quantities import BAR, MG_L, US_CM, Array
from rinsewright.site import build
from rinsewright.site.document import SiteDocument
from rinsewright.water.analysis import complete
from rinsewright.water.field import Ensemble, disagreements, from_analysis, from_readings
from rinsewright.water.ions import CO2_MOLAR_MASS
from rinsewright.water.scaling import calcite_index
from rinsewright.water.speciation import speciate
from rinsewright.water.state import Water

MOST_CO2 = 2000.0  # mg/L, about its solubility at the air's pressure and 12 °C (from memory)
MEMBERS = 200
SEED = 20261
LOW, HIGH = 0.05, 0.95  # a 90 % band


@dataclass(frozen=True)
class Tap:
    """The tap water, at today's temperature."""

    water: Water  # one condition, (1,)
    charge_balance_pct: float | None  # before closing; None where there is no analysis
    meter_factor: float
    notes: tuple[str, ...]
    _source: Any  # builds the ensemble

    @cached_property
    def members(self) -> Water:
        """Equally likely waters, (MEMBERS,)."""
        ensemble: Ensemble = self._source(MEMBERS)
        return ensemble.waters

    def answer(self) -> dict[str, Any]:
        """The contract's ``water`` object (without the versions)."""
        values = {name: value[0] for name, value in _columns(self.water, self.meter_factor).items()}
        return {
            "ions_mg_l": {name: float(value[0]) for name, value in self.water.ions_mg_l().items()},
            "charge_balance_pct": self.charge_balance_pct,
            **{name: float(value) for name, value in values.items()},
            "saturation": speciate(self.water[0]).saturation,
            "osmotic_bar": float(self.water.osmotic[0] / BAR),
            "bands": self._bands(),
            "notes": list(self.notes),
        }

    def _bands(self) -> dict[str, dict[str, float]]:
        columns = _columns(self.members, self.meter_factor)
        columns["osmotic_bar"] = self.members.osmotic / BAR
        columns |= {f"ions_mg_l.{name}": value for name, value in self.members.ions_mg_l().items()}
        columns["saturation.calcite"] = calcite_index(self.members)
        bands = {}
        for name, value in columns.items():
            if not np.isfinite(value).all():
                continue
            low, high = np.quantile(value, [LOW, HIGH])
            if high - low > 1e-9 * abs(high) and abs(high) > 1e-9:
                bands[name] = {"low": float(low), "high": float(high)}
        return bands


def _columns(water: Water, factor: float) -> dict[str, Array]:
    conductivity = water.conductivity / US_CM
    return {
        "conductivity_us_cm": conductivity,
        "meter_ppm": conductivity * factor,
        "hardness_mg_l_caco3": water.hardness / MG_L,
        "alkalinity_mg_l_caco3": water.alkalinity_caco3 / MG_L,
        "ph": water.ph,
        "co2_mg_l": water.co2 * CO2_MOLAR_MASS / MG_L,
        "tds_mg_l": water.tds / MG_L,
        "residue_mg_l": water.residue / MG_L,
    }


def tap_of(document: SiteDocument) -> Tap:
    """The tap water of a site file: from its analysis, else from its field readings."""
    given = build.water_input(document)
    table = document.model.water
    factor = table.field.meter_factor if table is not None and table.field is not None else build.meter_factor(document)
    readings = given.field
    if given.ions_mg_l is not None:
        completed = complete(given.ions_mg_l, given.ph, given.temperature_k, given.ph_from)
        _refuse_fizz(document, completed.water, "water", "ph")
        notes = list(completed.notes)
        if readings is not None:
            notes += disagreements(completed.water, readings)

        def around(members: int) -> Ensemble:
            return from_analysis(completed, members=members, rng=np.random.default_rng(SEED))

        return Tap(completed.water[None, ...], completed.charge_balance_pct, factor, tuple(notes), around)
    assert readings is not None  # the site file's checks ask for one or the other

    def likely(members: int) -> Ensemble:
        return from_readings(
            readings,
            given.temperature_k,
            ph=given.ph,
            ph_from=given.ph_from if given.ph is not None else None,
            source=given.source,
            members=members,
            rng=np.random.default_rng(SEED),
        )

    ensemble = likely(MEMBERS)
    _refuse_fizz(document, ensemble.central, "water", "ph")
    return Tap(ensemble.central[None, ...], None, factor, tuple(ensemble.notes), lambda members: ensemble)


def _refuse_fizz(document: SiteDocument, water: Water, *path: str | int) -> None:
    """A pH and an alkalinity that together mean more carbon dioxide than water holds at the air's pressure."""
    co2 = float(water.co2) * CO2_MOLAR_MASS / MG_L
    if co2 > MOST_CO2:
        alkalinity = float(water.alkalinity_caco3) / MG_L
        raise InputError(
            document.problem(
                f"pH {float(water.ph):.1f} with an alkalinity of {alkalinity:.0f} mg/L as CaCO3 means {co2:,.0f} "
                "mg/L of "
                f"carbon dioxide, more than open water holds ({MOST_CO2:,.0f}); check both",
                *path,
            )
        )


def changed_taps(document: SiteDocument, today: Water) -> list[tuple[int, Water]]:
    """The other tap waters of the year and the days from which they run; completed as the first one is."""
    given, table = build.water_input(document), document.model.water
    assert table is not None  # or there is no input
    places = sorted(range(len(table.changes)), key=lambda n: table.changes[n].from_day)  # as the input has them
    taps = []
    for place, change in zip(places, given.changes, strict=True):
        ph = change.ph if change.ph is not None else given.ph
        completed = complete(change.ions_mg_l, ph, float(today.temperature_k[0]), given.ph_from)
        _refuse_fizz(document, completed.water, "water", "changes", place, "ph")
        taps.append((change.from_day, completed.water[None, ...]))
    return taps
