"""A reading narrows the rest: what the measured lines say of the others, and of the plant.

In the logarithms of the readings the members are close to a normal distribution, so that one line given others is
their linear regression, with μ from the central plant and C from the members::

    mean  μ_i + C_ij C_jj⁻¹ (x_j − μ_j)        variance  C_ii − C_ij C_jj⁻¹ C_ji

A line that is itself far off may be a fault or a slip of the pen: its variance is raised until it stands ``TRUSTED`` of
its spreads away, so that one bad line does not condemn the good ones. Lines behind it are judged both believing and
doubting it, and the milder finding stands. Far too little pressure at the membranes is believed in a third way too:
that it is lost before them, by a kinked hose or a blocked cartridge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rinsewright.firstrun.expected import COLUMN, KEYS, RESOLUTION, Prediction
from rinsewright.planning.ensemble import HIGH, LOW, Band
from rinsewright.quantities import Array

TRUSTED = 2.0  # spreads
WIDTH = (-1.645, 1.645)  # spreads that leave 5 % on either side of a normal distribution
OWN = "after_resin_meter_ppm"  # says nothing of the others, nor they of it
# What the plant itself may be off by, and the line that tells it.
CAUSES = {
    "water_permeance": "product_l_min",
    "salt_passage": "product_meter_ppm",
    "restrictor_flow": "drain_l_min",
}
LOST = "feed_pressure"  # a cause that is told by the pressure at the membranes, and not reported
METERS = ("tap_meter_ppm", "product_meter_ppm")


@dataclass(frozen=True)
class Estimate:
    """A line, or a cause, as mean and standard deviation of its logarithm."""

    mean: float
    spread: float
    offset: float = 0.0  # added to the value before its logarithm is taken
    tails: tuple[float, float] = WIDTH  # spreads that leave 5 % below and above

    def off(self, measured: float) -> float:
        """How many spreads a value stands above (below: negative)."""
        return (_log(measured, self.offset) - self.mean) / self.spread

    def band(self) -> Band:
        """Value and 90 % band."""
        value, low, high = (
            max(float(np.exp(self.mean + width * self.spread)) - self.offset, 0.0) for width in (0.0, *self.tails)
        )
        return Band(value, low, high)


def _offset(key: str) -> float:
    """Half a digit: keeps the logarithm of a small reading on a meter from running away."""
    return 0.5 * RESOLUTION[key] if key in METERS else 0.0


def _log(value: float, offset: float) -> float:
    return float(np.log(max(value, 1e-2) + offset))


@dataclass(frozen=True)
class Joint:
    """All lines that the plant has, and the causes, as one normal distribution of logarithms."""

    names: tuple[str, ...]  # lines, then causes
    mean: Array
    covariance: Array
    tails: Array  # (names, 2): the members' 5 and 95 % quantiles, in standard deviations from the mean

    @classmethod
    def of(cls, prediction: Prediction) -> Joint:
        """From the members of a prediction."""
        keys = [key for key in KEYS if key != OWN and prediction.band(key).value is not None]
        columns = [COLUMN[key] for key in keys]
        told = [cause for cause, line in CAUSES.items() if line in keys and prediction.batch.plant.stages]
        told += [LOST] * ("membrane_bar" in keys)
        offsets = np.array([_offset(key) for key in keys])
        seen = np.log(np.maximum(prediction.members[:, columns], 1e-2) + offsets)
        rows = np.column_stack([seen, *(np.log(getattr(prediction.causes, name)) for name in told)])
        rows = rows[np.isfinite(rows).all(axis=1)]
        middle = np.log(np.maximum(prediction.central[columns], 1e-2) + offsets)
        mean = np.concatenate([middle, np.zeros(len(told))])
        covariance = np.atleast_2d(np.cov(rows, rowvar=False))
        tails = (np.quantile(rows, [LOW, HIGH], axis=0) - mean) / np.sqrt(np.diag(covariance))
        return cls((*keys, *told), mean, covariance, tails.T)

    def loosened(self, off: Mapping[str, float]) -> Joint:
        """The same, with wider causes where their lines are far off: the plant itself is to be believed faulty.

        A cause c whose variance grows by the factor λ carries along all that hangs on it:
        C + (λ − 1) C_·c C_c· / C_cc.
        """
        covariance = self.covariance.copy()
        for cause, line in CAUSES.items():
            if cause in self.names:
                column = self.covariance[:, self.names.index(cause)]
                more = max(1.0, abs(off.get(line, 0.0)) / TRUSTED) ** 2 - 1.0
                covariance += more * np.outer(column, column) / column[self.names.index(cause)]
        return Joint(self.names, self.mean, covariance, self.tails)

    def pressure_lost(self, off: float) -> Joint:
        """The same, where the pressure at the membranes is so many spreads off and that is believed to be lost before
        them: what is lost is widened until the line stands ``TRUSTED`` of its spreads away.
        """
        if LOST not in self.names or off > -TRUSTED:
            return self
        line, column = self.names.index("membrane_bar"), self.covariance[:, self.names.index(LOST)]
        more = ((off / TRUSTED) ** 2 - 1.0) * self.covariance[line, line] / column[line] ** 2
        return Joint(self.names, self.mean, self.covariance + more * np.outer(column, column), self.tails)

    def given(self, name: str, measured: Mapping[str, float], off: Mapping[str, float]) -> Estimate:
        """One line or cause given measured lines (itself left out).

        ``off``: how many spreads each measured line was found off; beyond ``TRUSTED`` it counts for less.
        """
        at = self.names.index(name)
        offset = _offset(name) if name in KEYS else 0.0
        tails = (float(self.tails[at, 0]), float(self.tails[at, 1]))
        known = [key for key in measured if key in self.names and key != name]
        if not known:
            return Estimate(float(self.mean[at]), float(np.sqrt(self.covariance[at, at])), offset, tails)
        which = [self.names.index(key) for key in known]
        among = self.covariance[np.ix_(which, which)].copy()
        doubt = np.array([max(1.0, abs(off.get(key, 0.0)) / TRUSTED) ** 2 for key in known])
        among[np.diag_indices(len(which))] *= doubt
        gain = np.linalg.solve(among, self.covariance[which, at])
        away = np.array([_log(measured[key], _offset(key)) for key in known]) - self.mean[which]
        variance = self.covariance[at, at] - gain @ self.covariance[which, at]
        return Estimate(float(self.mean[at] + gain @ away), float(np.sqrt(max(variance, 1e-8))), offset, tails)


# What a line is judged against: the lines that come before it on the way from cause to effect. Pressure and tap water
# come from outside and stand for themselves; flows follow the pressure; the product's reading follows all of them.
BEFORE: dict[str, tuple[str, ...]] = {
    "tap_meter_ppm": (),
    "membrane_bar": (),
    "drain_l_min": ("membrane_bar",),
    "product_l_min": ("membrane_bar", "drain_l_min"),
    "product_meter_ppm": ("tap_meter_ppm", "membrane_bar", "drain_l_min", "product_l_min"),
    "shutoff_closes_bar": ("membrane_bar",),
    "reopens_bar": ("membrane_bar", "shutoff_closes_bar"),
}


@dataclass(frozen=True)
class Narrowed:
    """What the measured lines leave open."""

    judged: dict[str, Estimate]  # each measured line, given those before it
    expected: dict[str, Band]  # the same as bands
    off: dict[str, float]  # spreads by which each is off
    lines: dict[str, Band]  # every line given all others
    plant: dict[str, Band]  # the causes given all lines


def narrow(prediction: Prediction, measured: Mapping[str, float]) -> Narrowed:
    """Judge every measured line against those before it, then narrow everything by all of them."""
    joint = lossy = Joint.of(prediction)
    judged: dict[str, Estimate] = {}
    expected: dict[str, Band] = {}
    off: dict[str, float] = {}
    for key, before in BEFORE.items():
        if key in measured and key in joint.names:
            known = _some(measured, before)
            ways = [joint.given(key, known, off), joint.given(key, known, {}), lossy.given(key, known, {})]
            judged[key] = min(ways, key=lambda way: abs(way.off(measured[key])))
            expected[key] = judged[key].band() if known else prediction.band(key)
            off[key] = judged[key].off(measured[key])
            lossy = joint.pressure_lost(off.get("membrane_bar", 0.0))
    known = _some(measured, joint.names)
    lines = {
        key: joint.given(key, known, off).band() if key in joint.names and set(known) - {key} else prediction.band(key)
        for key in KEYS
    }
    faulty = lossy.loosened(off)
    plant = {cause: faulty.given(cause, known, {}).band() for cause in CAUSES if cause in joint.names}
    return Narrowed(judged, expected, off, lines, plant)


def _some(measured: Mapping[str, float], keys: Sequence[str]) -> dict[str, float]:
    return {key: measured[key] for key in keys if key in measured}
