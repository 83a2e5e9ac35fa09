"""From what a person can measure at the tap to waters that can be calculated with.

A meter reading with a hardness, an alkalinity and a pH (any of the last three may be missing) fits many waters. An
ensemble of them is built, each electrically neutral and each giving exactly the reading, spread as far as the type of
source allows. The spreads are assumptions, wide ones, after common practice.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from rinsewright.errors import InputError, Problem
from rinsewright.quantities import MG_L, US_CM, Array
from rinsewright.water.analysis import Completed, ph_given_way, stated_ph
from rinsewright.water.ions import CHARGE, INDEX, MOLAR_MASS, SOLUTES
from rinsewright.water.state import CACO3, Water

Source = Literal["ground", "surface", "mixed"]


@dataclass(frozen=True)
class Readings:
    """Field readings under the names and in the units of the site file's ``[water.field]``; None where not measured."""

    meter_ppm: float
    meter_factor: float = 0.5  # ppm per µS/cm at 25 °C
    hardness_mg_l_caco3: float | None = None
    alkalinity_mg_l_caco3: float | None = None


@dataclass(frozen=True)
class Ensemble:
    """Equally likely waters (n lanes), the central one (no lanes), and sentences for the user."""

    waters: Water
    central: Water
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class _Kind:
    """Mean and standard deviation of what readings do not tell; shares in equivalents. Assumed."""

    hardness: tuple[float, float]  # Ca + Mg of all cations
    alkalinity: tuple[float, float]  # of hardness
    magnesium: tuple[float, float]  # of hardness
    potassium: tuple[float, float]  # of the other cations
    anions: tuple[float, float, float]  # Cl, SO4, NO3 of the anions other than alkalinity, on average
    silica_mg_l: tuple[float, float]


_KINDS: Final[dict[Source, _Kind]] = {
    "ground": _Kind((0.82, 0.08), (0.83, 0.08), (0.12, 0.06), (0.07, 0.03), (0.42, 0.33, 0.25), (13.0, 5.0)),
    "surface": _Kind((0.68, 0.10), (0.65, 0.15), (0.20, 0.08), (0.08, 0.03), (0.45, 0.40, 0.15), (6.0, 3.0)),
    "mixed": _Kind((0.75, 0.11), (0.75, 0.14), (0.16, 0.08), (0.08, 0.03), (0.44, 0.36, 0.20), (9.0, 5.0)),
}
_TEST_KIT: Final = 0.05  # relative standard deviation of a hardness or alkalinity by drop test (common practice)
_IONS: Final = 0.05  # relative standard deviation of a reported ion as a measure of today's water (assumed)
_ANION_SPREAD: Final = 12.0  # concentration of the Dirichlet distribution of the anions' shares (assumed)
_NATURAL_US_CM: Final = 100.0  # below it the water has been purified or is rain, and its silica with it (assumed)
_NITRATE_LIMIT: Final = 50e-3 / MOLAR_MASS[INDEX["NO3"]]  # mol/m3: drinking water carries no more than 50 mg/L
_ALKALINITY: Final = INDEX["HCO3"]


def from_readings(
    readings: Readings,
    temperature_k: float,
    *,
    ph: float | None = None,
    ph_from: str | None = None,
    source: Source = "mixed",
    members: int = 200,
    rng: np.random.Generator,
) -> Ensemble:
    """Waters that give these readings, ``members`` of them and a central one.

    Raises InputError, naming the keys, where hardness or alkalinity is more than the meter reading can carry.
    """
    _check(readings)
    kind = _KINDS[source]
    zero, noise = np.zeros((1, 6)), rng.standard_normal((members, 6))
    means = np.array(kind.anions)
    shares = np.vstack((means, rng.dirichlet(_ANION_SPREAD * means, members)))
    draws = np.vstack((zero, noise))
    target = readings.meter_ppm / readings.meter_factor * US_CM
    recipe = _Recipe(kind, readings, draws, shares)
    stated, spread, assumed = stated_ph(ph, ph_from, _likely_alkalinity(kind, readings))
    with np.errstate(all="ignore"):  # where a pH and the reading contradict each other; refused below
        waters = _match(recipe, stated + spread * draws[:, 5], temperature_k, target)
        met = np.abs(waters.conductivity / target - 1.0) < 0.01
    central = waters[0]
    _refuse_impossible(readings, central)
    if not met[0]:
        measured = f"water.field.meter_ppm {readings.meter_ppm:g} at factor {readings.meter_factor:g}"
        told = f"pH {stated:.3g} does not go with {measured}; check both and the meter's factor."
        raise InputError(Problem(told, key="water.ph"))
    # A likely pH that does not go with the reading is no likely water: one that does stands in its place.
    good = np.flatnonzero(met)
    waters = waters[np.where(met, np.arange(len(met)), good[np.arange(len(met)) % len(good)])]
    if ph is not None and abs(float(central.ph) - ph) > 0.05:
        assumed = [*assumed, ph_given_way(ph, central)]
    notes = [f"Built from field readings as {source} water: ions other than those measured are estimates."]
    return Ensemble(waters[1:], central, notes + assumed)


def from_analysis(completed: Completed, *, members: int = 200, rng: np.random.Generator) -> Ensemble:
    """Waters around an analysis: each ion ±5 %, pH by its origin; all neutral. The meter reading is not held."""
    central = completed.water
    factors = np.exp(_IONS * rng.standard_normal((members, len(SOLUTES))))
    solutes = central.solutes * factors
    charges = solutes * CHARGE
    positive = np.where(charges > 0.0, charges, 0.0).sum(-1)
    negative = -np.where(charges < 0.0, charges, 0.0).sum(-1)
    lean = np.sqrt(np.where(positive > 0.0, negative, 1.0) / np.where(positive > 0.0, positive, 1.0))[:, None]
    solutes = solutes * np.where(charges > 0.0, lean, np.where(charges < 0.0, 1.0 / lean, 1.0))
    solutes[:, _ALKALINITY] += solutes @ CHARGE  # rounding, and waters of one ion
    ph = central.ph + completed.ph_spread * rng.standard_normal(members)
    waters = Water.from_ph(solutes, ph, central.temperature_k)
    if float(central.carbon) == 0.0:
        waters = Water(solutes, np.zeros(members), central.temperature_k)
    return Ensemble(waters, central, list(completed.notes))


def disagreements(water: Water, readings: Readings) -> list[str]:
    """Sentences where field readings and an analysis differ by more than 15 %: the analysis may be of another water."""
    computed = {
        "meter_ppm": (readings.meter_ppm, float(water.conductivity) / US_CM * readings.meter_factor),
        "hardness_mg_l_caco3": (readings.hardness_mg_l_caco3, float(water.hardness) / MG_L),
        "alkalinity_mg_l_caco3": (readings.alkalinity_mg_l_caco3, float(water.alkalinity_caco3) / MG_L),
    }
    return [
        f"water.field.{key} is {read:g}, but the analysis gives {value:.0f}: the water may have changed since."
        for key, (read, value) in computed.items()
        if read is not None and abs(read - value) > 0.15 * max(read, value) + 1.0
    ]


class _Recipe:
    """Solutes as a function of the total of cations N [eq/m3], for every member (first: the central one)."""

    def __init__(self, kind: _Kind, readings: Readings, draws: Array, shares: Array) -> None:
        def share(pair: tuple[float, float], column: int) -> Array:
            return np.clip(pair[0] + pair[1] * draws[:, column], 0.02, 0.98)

        self.hardness_share = share(kind.hardness, 0)
        self.alkalinity_ratio = share(kind.alkalinity, 1)
        self.magnesium = share(kind.magnesium, 2)
        self.potassium = share(kind.potassium, 3)
        self.anions = shares
        dilution = min(readings.meter_ppm / readings.meter_factor / _NATURAL_US_CM, 1.0)
        self.silica = np.maximum(kind.silica_mg_l[0] + kind.silica_mg_l[1] * draws[:, 4], 0.5) * dilution
        self.hardness = _measured(readings.hardness_mg_l_caco3, draws[:, 0])
        self.alkalinity = _measured(readings.alkalinity_mg_l_caco3, draws[:, 1])

    def solutes(self, total: Array) -> Array:
        """(members, 17) mol/m3, neutral. Measured hardness and alkalinity give way where N is less than they."""
        hardness, alkalinity = self.hardness, self.alkalinity
        if hardness is None and alkalinity is None:
            hardness = self.hardness_share * total
        if hardness is None and alkalinity is not None:
            hardness = np.minimum(alkalinity / self.alkalinity_ratio, self.hardness_share * total)
        assert hardness is not None
        hardness = np.minimum(hardness, total)
        if alkalinity is None:
            alkalinity = self.alkalinity_ratio * hardness
        alkalinity = np.minimum(alkalinity, total)
        other = total - alkalinity
        nitrate = np.minimum(other * self.anions[:, 2], _NITRATE_LIMIT)
        amounts = {
            "Ca": 0.5 * hardness * (1.0 - self.magnesium),
            "Mg": 0.5 * hardness * self.magnesium,
            "Na": (total - hardness) * (1.0 - self.potassium),
            "K": (total - hardness) * self.potassium,
            "HCO3": alkalinity,
            "Cl": other * (1.0 - self.anions[:, 1]) - nitrate,
            "SO4": other * self.anions[:, 1] * 0.5,
            "NO3": nitrate,
            "SiO2": self.silica * MG_L / MOLAR_MASS[INDEX["SiO2"]],
        }
        solutes = np.zeros((*total.shape, len(SOLUTES)))
        for name, amount in amounts.items():
            solutes[:, INDEX[name]] = amount
        return solutes


def _measured(mg_l_caco3: float | None, draw: Array) -> Array | None:
    """A drop test's result in eq/m3 with its error."""
    return None if mg_l_caco3 is None else mg_l_caco3 * MG_L / (0.5 * CACO3) * np.exp(_TEST_KIT * draw)


def _likely_alkalinity(kind: _Kind, readings: Readings) -> float:
    """As CaCO3 [kg/m3]: measured, else from hardness, else from the reading (about 100 S cm2 per equivalent)."""
    if readings.alkalinity_mg_l_caco3 is not None:
        return readings.alkalinity_mg_l_caco3 * MG_L
    if readings.hardness_mg_l_caco3 is not None:
        return readings.hardness_mg_l_caco3 * MG_L * kind.alkalinity[0]
    total = readings.meter_ppm / readings.meter_factor * US_CM / 0.0100
    return total * kind.hardness[0] * kind.alkalinity[0] * 0.5 * CACO3


def _match(recipe: _Recipe, ph: Array, temperature_k: float, target: float) -> Water:
    """Find every member's N at which conductivity at 25 °C is the target [S/m]; secant steps in logarithms."""
    total = np.full(ph.shape, target / 0.0110)
    slope = np.ones(ph.shape)
    log_before = log_off_before = np.zeros(0)
    water = Water.from_ph(recipe.solutes(total), ph, temperature_k)
    for _ in range(12):
        log_off = np.log(water.conductivity / target)
        if np.abs(log_off).max() < 1e-12:
            break
        log_total = np.log(total)
        if log_before.size:
            run = log_total - log_before
            safe = np.abs(run) > 1e-13
            slope = np.where(safe, np.clip((log_off - log_off_before) / np.where(safe, run, 1.0), 0.3, 3.0), slope)
        log_before, log_off_before = log_total, log_off
        total = np.exp(log_total - np.clip(log_off / slope, -1.0, 1.0))
        water = Water.from_ph(recipe.solutes(total), ph, temperature_k)
    return water


def _check(readings: Readings) -> None:
    problems = [
        Problem(f"must be a number above 0, not {value}.", key=f"water.field.{key}")
        for key, value in (("meter_ppm", readings.meter_ppm), ("meter_factor", readings.meter_factor))
        if not (np.isfinite(value) and value > 0.0)
    ]
    for key in ("hardness_mg_l_caco3", "alkalinity_mg_l_caco3"):
        value = getattr(readings, key)
        if value is not None and not (np.isfinite(value) and value >= 0.0):
            problems.append(
                Problem(f"must be a number of at least 0 mg/L as CaCO3, not {value}.", key=f"water.field.{key}")
            )
    if problems:
        raise InputError(problems)


def _refuse_impossible(readings: Readings, central: Water) -> None:
    """Readings contradict where the central water had to give up much of a measured value to meet the meter's."""
    kept = {"hardness_mg_l_caco3": central.hardness, "alkalinity_mg_l_caco3": central.alkalinity_caco3}
    problems = []
    for key, value in kept.items():
        measured = getattr(readings, key)
        if measured is not None and float(value) / MG_L < 0.85 * measured - 1.0:
            problems.append(
                Problem(
                    f"{measured:g} mg/L as CaCO3 does not go with water.field.meter_ppm {readings.meter_ppm:g} at "
                    f"factor {readings.meter_factor:g}, which leaves room for {float(value) / MG_L:.0f} at most; "
                    "check both and the meter's factor.",
                    key=f"water.field.{key}",
                )
            )
    if problems:
        raise InputError(problems)
