"""What a plant should read over a small grid of water temperature and running pressure, to be looked up without it.

The bands of ``MEMBERS`` members on the grid tell how a band moves with temperature and pressure; the whole prediction
at the plant's own conditions tells where it stands. Since the members are the same under all conditions, their ratio
is far less uncertain than a band of so few by itself::

    edge(T, p) = few(T, p) · whole(T0, p0) / few(T0, p0)

Between the points an edge is bilinear: with s and u the shares of the way between the two temperatures and the two
pressures around,

    edge = (1 − s)(1 − u) e00 + s(1 − u) e10 + (1 − s) u e01 + s u e11

Pressures stand closer together where they are low, since readings go about as 1/p. Against whole predictions at random
points of the example and of the tests' plants an edge is within 5 %, or half of the instrument's last digit; the
central value, where chance has no part, within 2 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from rinsewright.firstrun.expected import KEYS, Conditions, Prediction, bands_over, predict
from rinsewright.planning.ensemble import Band
from rinsewright.planning.tap import Tap
from rinsewright.plant.layout import Plant
from rinsewright.quantities import BAR, L_MIN, Array, celsius
from rinsewright.site import build
from rinsewright.site.document import SiteDocument

MEMBERS = 400
POINTS = 5  # temperatures, and pressures
MARGIN_C = 2.0  # beyond the season
NO_SEASON_C = 8.0  # either side of today where no season is known
WATER_C = (0.5, 40.0)
LEAST_SHARE = 0.5  # of the running pressure that the supply's curve gives
MOST_SHARE = 1.15  # of the standing pressure
LEAST_BAR = 0.1
DIGITS = 4


@dataclass(frozen=True)
class Table:
    """Every line's band on the grid: value, low, high; not-a-number where it is not known or the plant cannot work."""

    temperature_c: Array  # (temperatures,)
    running_bar: Array  # (pressures,), at the tap at the plant's own flow
    bands: dict[str, Array]  # key: (temperatures, pressures, 3)
    unread: dict[str, Array]  # key: (temperatures, 3), where the pressure was not read

    def band(self, key: str, temperature_c: float, running_bar: float | None = None) -> Band:
        """A line's band between the grid's points; not known outside of them."""
        column = _between(self.temperature_c, temperature_c, self.unread[key])
        if running_bar is not None:
            column = _between(self.temperature_c, temperature_c, self.bands[key])
            column = _between(self.running_bar, running_bar, column)
        return Band(*map(float, column)) if np.isfinite(column).all() else Band(None)

    def answer(self) -> dict[str, Any]:
        """The table for a page: lists, ``null`` where not known; lines that are known nowhere are left out."""
        known = [key for key in KEYS if np.isfinite(self.bands[key]).any() or np.isfinite(self.unread[key]).any()]
        return {
            "temperature_c": self.temperature_c.tolist(),
            "running_bar": self.running_bar.tolist(),
            "bands": {key: _plain(self.bands[key]) for key in known},
            "unread": {key: _plain(self.unread[key]) for key in known},
        }


def _between(points: Array, at: float, values: Array) -> Array:
    """Values (points, …) at a place between two points; not-a-number outside."""
    if not points[0] <= at <= points[-1]:
        return np.full(values.shape[1:], np.nan)
    after = int(np.clip(np.searchsorted(points, at), 1, len(points) - 1))
    share = (at - points[after - 1]) / (points[after] - points[after - 1])
    return np.asarray((1.0 - share) * values[after - 1] + share * values[after])


def _plain(values: Array) -> Any:
    """Nested lists of rounded numbers."""
    if values.ndim:
        return [_plain(value) for value in values]
    return float(f"{float(values):.{DIGITS}g}") if np.isfinite(values) else None


def make_table(document: SiteDocument, plant: Plant, tap: Tap) -> Table:
    """The table of a plant. Raises :class:`NoWorkingState` where it does not work under its own conditions."""
    today = float(celsius(tap.water.temperature_k[0]))
    unread = predict(document, plant, tap, Conditions(today))
    own = float(plant.supply.pressure(np.asarray(unread.feed_l_min * L_MIN))) / BAR
    read = predict(document, plant, tap, Conditions(today, own))

    temperatures = np.linspace(*_temperatures(document, today), POINTS)
    pressures = np.geomspace(max(LEAST_SHARE * own, LEAST_BAR), MOST_SHARE * plant.supply.standing_pa / BAR, POINTS)
    t, p = (axis.ravel() for axis in np.meshgrid(temperatures, pressures, indexing="ij"))
    on_grid = bands_over(document, plant, tap, np.append(t, today), np.append(p, own), MEMBERS)
    along = bands_over(document, plant, tap, np.append(temperatures, today), None, MEMBERS)
    return Table(
        temperatures,
        pressures,
        {key: _placed(on_grid[key], read, key).reshape(POINTS, POINTS, 3) for key in KEYS},
        {key: _placed(along[key], unread, key) for key in KEYS},
    )


def _temperatures(document: SiteDocument, today: float) -> tuple[float, float]:
    season = build.season_input(document)
    low, high = today - NO_SEASON_C, today + NO_SEASON_C
    if season is not None:
        cold, warm = (float(celsius(t)) for t in (season.coldest_k, season.warmest_k))
        low, high = min(cold, today) - MARGIN_C, max(warm, today) + MARGIN_C
    return max(low, WATER_C[0]), min(high, WATER_C[1])


def _placed(few: list[Band], whole: Prediction, key: str) -> Array:
    """Bands (points, 3), moved so that the last of them, at the whole prediction's conditions, is its band."""
    edges = np.array([_edges(band) for band in few])
    here, there = edges[-1], _edges(whole.band(key))
    factor = np.where(here > 0.0, there / np.where(here > 0.0, here, 1.0), 1.0)
    return np.asarray(edges[:-1] * factor)


def _edges(band: Band) -> Array:
    return np.array([np.nan if edge is None else edge for edge in (band.value, band.low, band.high)])
