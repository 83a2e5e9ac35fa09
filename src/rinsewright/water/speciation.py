"""The one place that talks to PHREEQC: full speciation and saturation indices of one water.

Total carbon and alkalinity go in and pH is solved: CO2 crosses a membrane and HCO3 does not, so neither a held pH nor a
closed system describes a concentrate. The engine accepts nonsense silently and reports failure by return codes, so
everything is checked before and after.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from rinsewright.errors import InputError, Problem, RinsewrightError
from rinsewright.quantities import T25, US_CM, ZERO_C
from rinsewright.water.ions import CHARGE, INDEX, SOLUTES
from rinsewright.water.state import Water

if TYPE_CHECKING:
    from phreeqc import Phreeqc

DATABASE: Final = "phreeqc.dat"
_ELEMENT: Final = {
    "NH4": "N(-3)", "Fe": "Fe(2)", "Mn": "Mn(2)", "SO4": "S(6)", "NO3": "N(5)", "PO4": "P", "SiO2": "Si",
}  # fmt: skip
_PHASE: Final = {
    "calcite": "Calcite",
    "aragonite": "Aragonite",
    "gypsum": "Gypsum",
    "barite": "Barite",
    "celestite": "Celestite",
    "fluorite": "Fluorite",
    "silica": "SiO2(a)",
    "hydroxyapatite": "Hydroxyapatite",
}
# phreeqc.dat's fit for barite is 0.13 too soluble at 25 °C and 0.3 at 5 °C against wateq4f.dat, whose fit this is
_SET_UP: Final = """PHASES
Barite
    BaSO4 = Ba+2 + SO4-2
    -log_k -9.97
    -analytical 136.035 0 -7680.41 -48.595 0
END
"""
_PUNCH: Final = ", ".join(['-LA("H+")', 'MOL("CO2")', "MU", "SC"] + [f'SI("{phase}")' for phase in _PHASE.values()])
_COLUMNS: Final = ["ph", "co2", "strength", "conductance", *_PHASE]
_REPORT: Final = f"""SELECTED_OUTPUT 1
 -reset false
USER_PUNCH 1
 -headings {" ".join(_COLUMNS)}
 10 PUNCH {_PUNCH}
END
"""
# warnings on the way to a solution, which it then finds or reports as an error
_RETRIES: Final = ("Maximum iterations exceeded", "Numerical method failed", "Trying ")
_thread = threading.local()


@dataclass(frozen=True)
class Speciation:
    """What PHREEQC says of one water at its own temperature; ``conductivity`` alone is at 25 °C.

    ``co2`` mol/m3, ``ionic_strength`` mol/L, ``conductivity`` S/m; ``saturation`` index by mineral, None where an ion
    it needs is absent; ``versions`` of engine and database.
    """

    ph: float
    co2: float
    ionic_strength: float
    conductivity: float
    saturation: dict[str, float | None]
    versions: dict[str, str]


def speciate(water: Water) -> Speciation:
    """Speciate one water (a batch of one lane), 0 to 60 °C.

    Raises InputError for values the engine must not see and RinsewrightError where it fails or warns.
    """
    solutes = water.solutes.reshape(-1)
    if solutes.size != len(SOLUTES):
        raise ValueError(f"one water at a time, not a batch of shape {water.lanes}")
    carbon, temperature = float(water.carbon.reshape(-1)[0]), float(water.temperature_k.reshape(-1)[0])
    _check(solutes.tolist(), carbon, temperature)
    rows = _run(_solution(solutes.tolist(), carbon, temperature, float(water.ph.reshape(-1)[0])))
    own, at_25 = ({name: values[row] for name, values in rows.items()} for row in (0, 1))
    saturation = {name: own[name] if own[name] > -99.0 else None for name in _PHASE}
    return Speciation(
        own["ph"], own["co2"] * 1e3, own["strength"], at_25["conductance"] * US_CM, saturation, versions()
    )


def saturation(water: Water) -> dict[str, float | None]:
    """Saturation indices alone; see :func:`speciate`."""
    return speciate(water).saturation


def versions() -> dict[str, str]:
    """Versions of the engine and of its database."""
    return {"phreeqc": str(_engine().GetVersionString()), "database": DATABASE}


def _check(solutes: list[float], carbon: float, temperature_k: float) -> None:
    problems = [
        Problem(f"must be a finite concentration of at least 0, not {amount:g} mol/m3", key=name)
        for name, amount in (*zip(SOLUTES, solutes, strict=True), ("total inorganic carbon", carbon))
        if not (np.isfinite(amount) and (amount >= 0.0 or name == "HCO3"))
    ]
    if not ZERO_C - 1e-6 <= temperature_k <= ZERO_C + 60.0:
        problems.append(Problem(f"must be between 0 and 60 °C, not {temperature_k - ZERO_C:g}", key="temperature"))
    if problems:
        raise InputError(problems)


def _solution(solutes: list[float], carbon: float, temperature_k: float, ph_guess: float) -> str:
    """PHREEQC input, mol/m3 as mmol/kgw. Alkalinity and total carbon fix pH; without carbon the charge balance does."""
    alkalinity = solutes[INDEX["HCO3"]]
    by_alkalinity = carbon > 1e-9 and alkalinity > 1e-9
    lines = [
        "SOLUTION 1",
        f" temp {temperature_k - ZERO_C:.6f}",
        " units mmol/kgw",
        f" pH {ph_guess:.6f}" + ("" if by_alkalinity else " charge"),
    ]
    if by_alkalinity:
        lines.append(f" Alkalinity {alkalinity:.12g} meq/kgw")
    else:  # a trace of imbalance would move pH by units
        imbalance = float(np.dot(solutes, CHARGE))
        solutes[INDEX["Cl" if imbalance > 0.0 else "Na"]] += abs(imbalance)
    if carbon > 0.0:
        lines.append(f" C(4) {carbon:.12g}")
    for name, amount in zip(SOLUTES, solutes, strict=True):
        if name != "HCO3" and amount > 0.0:
            lines.append(f" {_ELEMENT.get(name, name)} {amount:.12g}")
    return "\n".join([*lines, "REACTION_TEMPERATURE 1", f" {T25 - ZERO_C:g}", _REPORT])


def _engine() -> Phreeqc:
    """This thread's own instance, with the database loaded."""
    engine: Phreeqc | None = getattr(_thread, "engine", None)
    if engine is None:
        from phreeqc import Phreeqc

        engine = Phreeqc()
        if engine.LoadBuiltInDatabase(DATABASE) != 0 or engine.RunString(_SET_UP) != 0:
            raise RinsewrightError(f"PHREEQC could not load its database: {engine.GetErrorString().strip()}")
        _thread.engine = engine
    return engine


def _run(text: str) -> dict[str, list[float]]:
    engine = _engine()
    failed = engine.RunString(text) != 0
    warnings = [line for line in engine.GetWarningString().splitlines() if not any(word in line for word in _RETRIES)]
    complaint = engine.GetErrorString() or "\n".join(warnings)
    if failed or complaint.strip():
        raise RinsewrightError(f"PHREEQC could not speciate this water: {' '.join(complaint.split())}")
    rows = engine.GetSelectedOutput()
    return {name: [float(value) for value in rows[name]] for name in _COLUMNS}
