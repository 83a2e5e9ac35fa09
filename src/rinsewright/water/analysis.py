"""From the analysis that somebody has to one that can be calculated with: checked, completed, electrically neutral."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from rinsewright.errors import InputError, Problem
from rinsewright.quantities import MG_L, Array
from rinsewright.water.ions import CHARGE, INDEX, MOLAR_MASS, SOLUTES
from rinsewright.water.state import CACO3, Water

PhFrom = Literal["report", "meter", "strip"]

# standard deviation of a stated pH as a measure of today's water: assumptions, after common practice
PH_SPREAD: Final[dict[str | None, float]] = {"meter": 0.1, "report": 0.15, "strip": 0.4, None: 0.5}
BALANCE_LIMIT: Final = 10.0  # %, beyond which an analysis is doubtful
_LOWER: Final = {name.lower(): name for name in SOLUTES}
_ROUNDING: Final = 2.0  # %, within which an imbalance is taken for rounding and no missing ion is suspected
# per side: ions whose absence explains an imbalance, likeliest first; ions given that are adjusted, least certain first
_ANIONS: Final = (("HCO3", "Cl", "SO4"), ("Cl", "HCO3", "SO4", "NO3"))
_CATIONS: Final = (("Na", "Ca"), ("Na", "K", "Ca", "Mg"))


@dataclass(frozen=True)
class Completed:
    """A neutral water and how it came about.

    ``charge_balance_pct`` = 100·(cations − anions)/(cations + anions) in eq, before closing; ``closed_on`` the ion that
    was changed to close it, "" if none; ``ph_spread`` the standard deviation of pH; ``notes`` sentences for the user.
    """

    water: Water
    charge_balance_pct: float
    closed_on: str
    ph_spread: float
    notes: list[str] = field(default_factory=list)


def stated_ph(ph: float | None, ph_from: str | None, alkalinity_caco3: float) -> tuple[float, float, list[str]]:
    """pH to reckon with, its standard deviation, and a note if assumed from alkalinity [kg/m3 as CaCO3].

    Hard ground water is near 7.4; soft water is dosed to about 8 before it is sent out (common practice, no source).
    """
    if ph is not None:
        return ph, PH_SPREAD[ph_from or "report"], []
    assumed = float(np.interp(alkalinity_caco3 / MG_L, [0.0, 40.0, 200.0], [7.0, 7.9, 7.4]))
    spread = PH_SPREAD[None]
    note = f"No pH given: {assumed:.1f} ± {spread:.1f} is assumed. It decides how much carbon dioxide there is."
    return assumed, spread, [note]


def complete(
    ions_mg_l: Mapping[str, float], ph: float | None, temperature_k: float, ph_from: str | None = None
) -> Completed:
    """Check an analysis in mg/L, close its charge balance on the least certain ion and give it a pH.

    Every problem with the numbers is raised at once as InputError. Valid 0 to 60 °C.
    """
    solutes = _solutes(ions_mg_l)
    cations, anions = _sums(solutes)
    balance = 100.0 * (cations - anions) / max(cations + anions, 1e-12)
    closed_on, notes = _close(solutes, balance, ions_mg_l)
    alkalinity = float(solutes[INDEX["HCO3"]]) * 0.5 * CACO3
    if ph is None and alkalinity == 0.0:  # a pure salt: nothing says that there is any carbon
        return Completed(Water(solutes, np.array(0.0), np.array(temperature_k)), balance, closed_on, 0.0, notes)
    stated, spread, assumed = stated_ph(ph, ph_from, alkalinity)
    notes += assumed
    water = Water.from_ph(solutes, stated, temperature_k)
    if ph is not None and abs(float(water.ph) - ph) > 0.05:
        notes.append(ph_given_way(ph, water))
    return Completed(water, balance, closed_on, spread, notes)


def ph_given_way(ph: float, water: Water) -> str:
    """A sentence: a pH that the water's alkalinity does not allow, and the one that is used."""
    return (
        f"pH {ph:.2f} does not go with an alkalinity of {float(water.alkalinity_caco3) / MG_L:.0f} mg/L as CaCO3: "
        f"{float(water.ph):.2f}, that of the water without carbon dioxide, is used."
    )


def _sums(solutes: Array) -> tuple[float, float]:
    charges = solutes * CHARGE
    return float(charges[charges > 0.0].sum()), float(-charges[charges < 0.0].sum())


def _solutes(ions_mg_l: Mapping[str, float]) -> Array:
    problems = []
    solutes = np.zeros(len(SOLUTES))
    for name, value in ions_mg_l.items():
        key = f"water.ions_mg_l.{name}"
        if name not in INDEX:
            near = difflib.get_close_matches(name.lower(), _LOWER, 1)
            hint = f"did you mean {_LOWER[near[0]]}?" if near else f"known are {', '.join(SOLUTES)}."
            problems.append(Problem(f"{name} is not an ion that is known here; {hint}", key=key))
        elif not (np.isfinite(value) and value >= 0.0):
            problems.append(Problem(f"must be a number of at least 0 mg/L, not {value}.", key=key))
        else:
            solutes[INDEX[name]] = value * MG_L / MOLAR_MASS[INDEX[name]]
    if problems:
        raise InputError(problems)
    return solutes


def _close(solutes: Array, balance: float, given: Mapping[str, float]) -> tuple[str, list[str]]:
    """Add to one ion, in place, whatever charge is missing; only ever upwards, so that nothing gets negative."""
    if abs(balance) < 1e-6:
        return "", []
    missing = float(solutes @ CHARGE)
    name, was_absent = _closing_ion(missing > 0.0, balance, solutes, given)
    column = INDEX[name]
    solutes[column] += abs(missing) / abs(CHARGE[column])
    amount = float(solutes[column] * MOLAR_MASS[column] / MG_L)
    notes = []
    if abs(balance) > 0.5:
        how = "was not given and is taken as" if was_absent else "is raised to"
        notes.append(f"{name} {how} {amount:.3g} mg/L, which closes a charge balance of {balance:+.1f} %.")
    if abs(balance) > BALANCE_LIMIT and not was_absent:
        notes.append(f"A charge balance of {balance:+.1f} % is beyond ±10 %: check the analysis.")
    return name, notes


def _closing_ion(anion: bool, balance: float, solutes: Array, given: Mapping[str, float]) -> tuple[str, bool]:
    """The least certain ion of the side that is short, and whether the analysis left it out."""
    likely, order = _ANIONS if anion else _CATIONS
    absent = next((name for name in likely if name not in given), None)
    if absent is not None and abs(balance) > _ROUNDING:
        return absent, True
    return next((name for name in order if solutes[INDEX[name]] > 0.0), order[0]), False
