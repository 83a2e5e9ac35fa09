"""How long a membrane lasts: slow loss of flow, slow growth of salt passage, and chlorine.

Three clocks run at once and the first to strike names the reason. Their rates are from memory: a plant's own readings,
normalised, are worth more than any of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rinsewright.quantities import HOUR, MG_L, Array
from rinsewright.sources import Sourced

FLUX_LOSS_PER_YEAR = Sourced(
    0.07, "share a year, compounding", "0.03 to 0.10", "mains or good well water",
    "the usual fouling allowance of membrane design", "from memory",
)  # fmt: skip
SALT_PASSAGE_GROWTH_PER_YEAR = Sourced(
    0.10, "share a year, compounding", "0.05 to 0.15", "mains or good well water",
    "the usual allowance of membrane design", "from memory",
)  # fmt: skip
FLUX_LOSS_ALLOWED = Sourced(
    0.25, "share of the flow when new", "0.15 to 0.35", "normalised flow, cleaning no longer helping",
    "assumed; cleaning itself is called for at 10 % (US Army TM 10-4610-309-14, read)", "assumed",
)  # fmt: skip
SALT_PASSAGE_ALLOWED = Sourced(
    1.6, "times the salt passage when new", "1.3 to 2", "resin behind takes the rest at a cost", "assumed", "assumed"
)
# Ordinary polyamide, free chlorine: 200 to 1000 mg h/L in the literature by memory; no independent source was read.
CHLORINE_TOLERANCE = Sourced(
    500.0, "mg h/L of free chlorine", "200 to 1000", "ordinary polyamide, pH 6 to 8",
    "order of magnitude of the literature", "from memory",
)  # fmt: skip
CHLORINE_TOLERANCE_BAND = (200.0, 1000.0)  # mg h/L
MG_H_L = MG_L * HOUR  # kg s/m3

LIMITED_BY = ("flow", "salt passage", "chlorine")


@dataclass(frozen=True)
class MembraneLife:
    """Arrays over lanes. ``low`` and ``high`` are years at the least and the greatest chlorine tolerance."""

    years: Array
    low: Array
    high: Array
    limited_by: tuple[str, ...]
    chlorine_mg_h_l_per_year: Array


def compounding(
    flux_loss_per_year: float, flux_loss_allowed: float, passage_growth_per_year: float, passage_allowed: float
) -> tuple[float, float]:
    """Years until loss of flow and growth of salt passage, both compounding, are at what is allowed; inf: never."""
    ends = flux_loss_per_year > 0.0 and flux_loss_allowed < 1.0
    flow = np.log1p(-flux_loss_allowed) / np.log1p(-flux_loss_per_year) if ends else np.inf
    salt = np.log(passage_allowed) / np.log1p(passage_growth_per_year) if passage_growth_per_year > 0.0 else np.inf
    return float(flow), float(salt)


def membrane_life(
    free_chlorine: Array | float,
    running_s_per_year: Array | float,
    flux_loss_per_year: float = FLUX_LOSS_PER_YEAR.value,
    flux_loss_allowed: float = FLUX_LOSS_ALLOWED.value,
    passage_growth_per_year: float = SALT_PASSAGE_GROWTH_PER_YEAR.value,
    passage_allowed: float = SALT_PASSAGE_ALLOWED.value,
) -> MembraneLife:
    """Years until the first of three limits, from free chlorine at the membrane [kg/m3] and running time [s a year].

    Loss of flow and growth of salt passage compound. The dose is concentration times running time; standing water
    behind a shut tap loses its chlorine within minutes and is not counted.
    """
    chlorine, running = np.broadcast_arrays(
        np.atleast_1d(np.asarray(free_chlorine, dtype=np.float64)), np.asarray(running_s_per_year, dtype=np.float64)
    )
    dose = chlorine * running / MG_H_L  # mg h/L a year
    by_flow, by_salt = compounding(flux_loss_per_year, flux_loss_allowed, passage_growth_per_year, passage_allowed)

    def years(tolerance: float) -> Array:
        by_chlorine = np.divide(tolerance, dose, out=np.full(dose.shape, np.inf), where=dose > 0.0)
        return np.stack([np.full(dose.shape, by_flow), np.full(dose.shape, by_salt), by_chlorine])

    clocks = years(CHLORINE_TOLERANCE.value)
    low, high = (years(tolerance).min(axis=0) for tolerance in CHLORINE_TOLERANCE_BAND)
    names = tuple(LIMITED_BY[i] for i in clocks.argmin(axis=0))
    return MembraneLife(clocks.min(axis=0), low, high, names, dose)
