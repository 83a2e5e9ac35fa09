"""Will it scale? Saturation indices against thresholds, and a fast index for calcite.

An index above 0 is not yet scale: chalk tap water stands above 0 as it comes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from rinsewright.quantities import MG_L, Array
from rinsewright.sources import Sourced, Standing
from rinsewright.water.carbonate import constants
from rinsewright.water.state import Water

Verdict = Literal["fine", "look", "stop"]


@dataclass(frozen=True)
class Threshold:
    """Saturation index above which to look and to stop, and what a scale inhibitor adds to both."""

    look: Sourced
    stop: Sourced
    inhibitor_credit: Sourced


def _index(value: float, reference: str, standing: Standing = "from memory") -> Sourced:
    return Sourced(value, "log10", "0.3", "at the membrane wall", reference, standing)


def _threshold(look: float, stop: float, credit: float) -> Threshold:
    practice = "membrane practice; no source read"
    return Threshold(_index(look, practice), _index(stop, practice), _index(credit, practice))


# Calcite can stand supersaturated for long; what forms first is a more soluble form of calcium carbonate. So the
# index is harmless until vaterite too is saturated (0.57: Plummer & Busenberg 1982, log K -7.913 against -8.480, read),
# and scale is sure where amorphous calcium carbonate is (log K -6.4 at 25 °C, Brecevic & Nielsen 1989: from memory).
# Between them it depends on how long the concentrate stands; a look is asked for from a third of the way. Handbook
# limits of 0 to 1 are for the bulk of a plant that runs day and night; these are for the membrane's surface, where the
# index is up to 0.7 higher.
MAY_SETTLE: Final = Sourced(
    1.0, "log10", "0.3", "calcite index between vaterite's (0.57, read) and amorphous carbonate's (2.0)",
    "a third of the way, after Plummer & Busenberg, Geochim. Cosmochim. Acta 46, 1982, 1011", "assumed",
)  # fmt: skip
AMORPHOUS: Final = Sourced(
    2.0, "log10", "0.2", "calcite index near which amorphous calcium carbonate is saturated, 25 °C",
    "Brecevic & Nielsen, J. Cryst. Growth 98, 1989, 504; rounded down", "from memory",
)  # fmt: skip

THRESHOLDS: Final[dict[str, Threshold]] = {
    "calcite": Threshold(MAY_SETTLE, AMORPHOUS, _index(1.0, "membrane practice; no source read")),
    "gypsum": _threshold(-0.1, 0.2, 0.3),
    "barite": _threshold(0.5, 1.0, 1.0),
    "celestite": _threshold(0.0, 0.5, 0.5),
    "fluorite": _threshold(0.3, 1.0, 1.0),
    "silica": _threshold(-0.1, 0.1, 0.0),
}


def verdict(mineral: str, index: float | None, *, inhibitor: bool = False) -> Verdict:
    """Word for a saturation index at the membrane wall; *fine* where index or threshold is unknown."""
    limit = THRESHOLDS.get(mineral)
    if limit is None or index is None:
        return "fine"
    credit = limit.inhibitor_credit.value if inhibitor else 0.0
    if index > limit.stop.value + credit:
        return "stop"
    return "look" if index > limit.look.value + credit else "fine"


def worst(saturation: Mapping[str, float | None], *, inhibitor: bool = False) -> tuple[str | None, Verdict]:
    """The mineral furthest beyond its thresholds and its verdict; (None, "fine") if nothing is beyond any."""
    order: tuple[Verdict, ...] = ("fine", "look", "stop")
    judged = [(verdict(name, index, inhibitor=inhibitor), name) for name, index in saturation.items()]
    word, name = max(judged, key=lambda pair: order.index(pair[0]), default=("fine", ""))
    return (None, "fine") if word == "fine" else (name, word)


def calcite_index(water: Water) -> Array:
    """Saturation index of calcite at the water's own temperature and pH, (...); −inf without Ca or carbonate.

    log10 of the ion activity product over Plummer & Busenberg's solubility product; activities and pairs as in
    :mod:`~rinsewright.water.carbonate`. Within 0.03 of PHREEQC (phreeqc.dat) on natural waters, 0 to 30 °C.
    """
    medium = water.equilibrium.medium
    product = medium.calcium * water.equilibrium.carbonate * 1e-6 * medium.gamma**8
    with np.errstate(divide="ignore"):
        return np.asarray(np.log10(product / constants(water.temperature_k)["calcite"]))


def langelier_index(
    ph: Array | float, temperature_k: Array | float, tds: Array, calcium: Array, alkalinity: Array
) -> Array:
    """Langelier index by the short form, to compare with handbooks; TDS, calcium and alkalinity (as CaCO3) in kg/m3.

    pHs = 9.3 + A + B − C − D; A = (log TDS − 1)/10, B = −13.12 log(t + 273) + 34.55, C = log Ca − 0.4, D = log
    alkalinity, all mg/L. Several public pages (read). Valid below 10 g/L and between pH 6.5 and 9.5. On natural waters
    it reads 0.1 to 0.4 below :func:`calcite_index`.
    """
    a = (np.log10(tds / MG_L) - 1.0) / 10.0
    b = -13.12 * np.log10(np.asarray(temperature_k) - 0.15) + 34.55
    saturation_ph = 9.3 + a + b - (np.log10(calcium / MG_L) - 0.4) - np.log10(alkalinity / MG_L)
    return np.asarray(ph - saturation_ph)
