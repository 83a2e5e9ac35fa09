"""What a plant does over water temperature, pressure, wear and the opening of its float valve; knows no time.

The plant is solved once at the nodes of a small grid (Chebyshev points in temperature, standing pressure and water
permeance; a row of openings of the float valve) and interpolated between them by polynomials, so that a year costs no
further solving. Product flow and the flux of salt are kept, not the reading: the flux hardly changes with the opening.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.channel import Spread
from rinsewright.plant.part import Fluid
from rinsewright.plant.product import resin
from rinsewright.plant.product.line import ShutOff, Tank
from rinsewright.quantities import BAR, L_MIN, Array
from rinsewright.solve.composition import Composition
from rinsewright.solve.result import Batch, solve_batch
from rinsewright.solve.steady import drain_with_product_shut
from rinsewright.sources import Sourced
from rinsewright.water.state import Water

FLOAT_OPEN_FLOW = Sourced(12.0 * L_MIN, "m3/s at 1 bar", "twofold", "a half-inch float valve", "assumed", "assumed")
# Flow that the valve would pass over the plant's own full flow, at the membranes' pressure. So spaced that straight
# lines between them stay within 0.15 % of q = g·(p − q²/c²).
OPENINGS = (
    *(40.0, 24.0, 16.0, 11.5, 8.6, 6.7, 5.4, 4.3, 3.5, 2.95, 2.5, 2.15, 1.88, 1.63, 1.43, 1.26, 1.1, 0.96, 0.83, 0.72),
    *(0.62, 0.53, 0.45, 0.375, 0.31, 0.25, 0.2, 0.15, 0.11, 0.08, 0.052, 0.034, 0.022, 0.014, 0.009, 0.005, 0.002),
)
WIDE = 1.5  # range of the water permeance from which on it takes more nodes
QUANTITIES = ("product", "drain", "salt", "ratio", "membrane_pa", "tap_flow")


@dataclass(frozen=True)
class Curve:
    """The plant at every opening of the table, for some conditions: arrays (conditions, openings), full open first."""

    product: Array  # m3/s, blend included
    drain: Array  # m3/s
    salt: Array  # S/m · m3/s that came through the membranes into it, none of the blend's
    ratio: Array  # pressure at the shut-off over that at the membranes
    membrane_pa: Array
    tap_flow: Array  # m3/s


@dataclass(frozen=True)
class Bypass:
    """A blend: ``share`` of what is delivered is feed water, which raises it by ``adds`` [S/m] (temperature,).

    ``behind_resin``: it is mixed in behind the resin, which never meets it.
    """

    share: float
    adds: Array
    behind_resin: bool = False


@dataclass(frozen=True)
class Response:
    """A solved table. ``openings`` falls from 1 to 0; ``values`` is (temperature, pressure, factor, opening,
    quantity); the others hold at full opening, (temperature,): waters as they leave the membranes.
    """

    temperature_k: Array
    standing_pa: Array
    water_factor: Array
    openings: Array
    values: Array
    works: NDArray[np.bool_]  # (temperature, pressure, factor): whether the plant works, full open
    feed_conductivity: float  # S/m
    drain_conductivity: Array
    product_conductivity: Array
    load: resin.Load  # of the product, eq/m3
    feed_load: resin.Load  # of the feed, one lane
    bypass: Bypass | None = None

    def at(self, temperature_k: Array, standing_pa: Array, water_factor: Array) -> Curve:
        """Interpolated curves at conditions (n,); beyond the grid its edge is held.

        Against direct solves on the demo: see the test of the response table.
        """
        temperature, pressure, factor = np.broadcast_arrays(temperature_k, standing_pa, water_factor)
        values = self.values.reshape(*self.values.shape[:3], -1)
        works = self.works.astype(np.float64)
        if (temperature == temperature[0]).all():  # as on one day: the first axis can go at once
            warm = _weights(self.temperature_k, temperature[:1])
            values, works = (np.einsum("lt,t...->l...", warm, x) for x in (values, works))
            weights = np.ones((len(temperature), 1))
        else:
            weights = _weights(self.temperature_k, temperature)
        for nodes, at in ((self.standing_pa, pressure), (self.water_factor, factor)):
            weights = (weights[:, :, None] * _weights(nodes, at)[:, None, :]).reshape(len(temperature), -1)
        shape = (len(temperature), len(self.openings), len(QUANTITIES))
        # Plain loops: a condition's numbers do not depend on how many there are beside it.
        found = np.einsum("ln,nq->lq", weights, values.reshape(weights.shape[1], -1)).reshape(shape)
        if not self.works.all():
            standing = np.einsum("ln,n->l", weights, works.reshape(-1)) > 0.5
            found[..., (0, 2)] *= standing[:, None, None]
        found[..., 0] = np.maximum(found[..., 0], 0.0)
        return Curve(*np.moveaxis(found, -1, 0))

    def along_temperature(self, values: Array, temperature_k: Array) -> Array:
        """Interpolate values (…, temperature nodes) to any temperatures, (…, \\*shape)."""
        temperature = np.asarray(temperature_k)
        weights = _weights(self.temperature_k, temperature.reshape(-1))
        return np.asarray((values @ weights.T).reshape(*values.shape[:-1], *temperature.shape))


def build_table(
    plant: Plant,
    tap: Water,
    temperature_k: tuple[float, float],
    standing_pa: tuple[float, float],
    water_factor: tuple[float, float] = (1.0, 1.0),
) -> Response:
    """Solve a plant on one tap water (1,) over the given ranges (least, greatest).

    A tank's float valve is throttled; a plant without a tank gets a valve at its end, as a brush has one.
    """
    factors = 4 if water_factor[1] < WIDE * water_factor[0] else 6
    grid = [_nodes(*ends, count) for ends, count in ((temperature_k, 5), (standing_pa, 5), (water_factor, factors))]
    t, p, a = (axis.reshape(-1) for axis in np.meshgrid(*grid, indexing="ij"))
    valve = plant.tank.float_open_flow if plant.tank is not None and plant.tank.float_open_flow else None
    conductance = valve or FLOAT_OPEN_FLOW.value
    plant = _with_valve(plant, conductance)
    middle = solve_batch(plant, _warmed(tap, np.array([np.mean(grid[0])])), np.array([np.mean(grid[1])]))
    openings = _openings(middle, conductance)

    n = len(t)
    k = len(openings) - 1  # all but the last, at which the valve is shut
    opening = np.repeat(openings[:-1], n)
    t_all, p_all, a_all = (np.tile(axis, k) for axis in (t, p, a))
    batch = solve_batch(
        plant,
        _warmed(tap, t_all),
        p_all,
        spread=Spread(water=a_all),
        throttle=BAR / conductance**2 * (1.0 / opening**2 - 1.0),
    )
    values = np.empty((n, len(openings), len(QUANTITIES)))
    values[:, :-1] = np.stack(_measured(batch), axis=-1).reshape(k, n, len(QUANTITIES)).swapaxes(0, 1)
    values[:, -1] = _shut(plant, batch, t, p, values[:, -2])
    solved = np.asarray(batch.state.solved, dtype=np.bool_).reshape(k, n).T
    shape = tuple(len(axis) for axis in grid)
    _mend(values, solved)
    works = solved[:, 0].reshape(shape)

    waters = batch.waters
    rows = np.flatnonzero((p == grid[1][len(grid[1]) // 2]) & (a == grid[2][len(grid[2]) // 2]))
    drain = waters.drain.conductivity[rows] if waters.drain is not None else waters.feed.conductivity[rows]
    return Response(
        temperature_k=grid[0],
        standing_pa=grid[1],
        water_factor=grid[2],
        openings=openings,
        values=values.reshape(*shape, *values.shape[1:]),
        works=works,
        feed_conductivity=float(waters.feed.conductivity[rows].mean()),
        drain_conductivity=np.asarray(drain),
        product_conductivity=np.asarray(waters.product.conductivity[rows]),
        load=resin.Load.of(waters.product.solutes[rows], waters.product.co2[rows]),
        feed_load=resin.Load.of(waters.feed.solutes[rows[:1]], waters.feed.co2[rows[:1]]),
        bypass=bypass_of(plant, waters, rows),
    )


def bypass_of(plant: Plant, waters: Composition, rows: NDArray[np.intp] | slice) -> Bypass | None:
    """What the blend adds to the water it is mixed into at some conditions: product, or behind the resin pure water."""
    share = plant.blend_share
    if share <= 0.0:
        return None
    behind = plant.blend_behind_resin > 0.0
    product, feed = waters.product[rows], waters.feed[rows]
    if behind:
        product = Water(np.zeros_like(product.solutes), np.zeros_like(product.carbon), product.temperature_k)
    adds = product.mixed(feed, share).conductivity - (1.0 - share) * product.conductivity
    return Bypass(share, np.asarray(adds), behind)


def _warmed(tap: Water, temperature_k: Array) -> Water:
    return tap[np.zeros(len(temperature_k), dtype=np.intp)].with_temperature(temperature_k)


def _with_valve(plant: Plant, conductance: float) -> Plant:
    """The plant with a valve of known conductance at the end of its product line."""
    if plant.tank is None:
        return replace(
            plant, product=(*plant.product, Tank(name="brush", volume=1.0, float_open_flow=10 * conductance))
        )
    product = tuple(
        replace(part, float_open_flow=conductance) if isinstance(part, Tank) else part for part in plant.product
    )
    return replace(plant, product=product)


def _openings(middle: Batch, conductance: float) -> Array:
    """Openings from 1 down to 0, dense where the valve bites on this plant."""
    state = middle.state
    full = np.nan_to_num(state.product_flow + state.blend_flow)[0]
    passed = conductance * np.sqrt(max(float(state.membrane_pa[0]), 0.1 * BAR) / BAR)
    scaled = np.array(OPENINGS) * max(full, 1e-3 * passed) / passed
    return np.concatenate([[1.0], scaled[scaled < 0.97], [0.0]])


def _measured(batch: Batch) -> list[Array]:
    state, plant = batch.state, batch.plant
    made = state.product_flow + state.blend_flow
    by_membranes = made if plant.blend_behind_resin else state.product_flow  # behind the resin nothing thins it yet
    at_valve = state.product_pa - _before_shutoff(plant, made, state.fluid)
    ratio = at_valve / state.membrane_pa
    return [
        made,
        state.drain_flow,
        by_membranes * batch.waters.product.conductivity,
        ratio,
        state.membrane_pa,
        state.tap_flow,
    ]


def _before_shutoff(plant: Plant, flow: Array, fluid: Fluid) -> Array:
    lost = np.zeros_like(flow)
    for part in plant.product:
        if isinstance(part, ShutOff):
            return lost
        lost = lost + part.drop(flow, fluid)
    return np.zeros_like(flow)


def _shut(plant: Plant, batch: Batch, temperature_k: Array, standing_pa: Array, last: Array) -> Array:
    """The plant with its valve shut: nothing made; all that the restrictor passes goes to drain."""
    nothing = np.zeros_like(temperature_k)
    if not plant.stages:
        return np.stack([nothing, nothing, nothing, nothing + 1.0, standing_pa, nothing], axis=-1)
    drain, pressure = drain_with_product_shut(plant, temperature_k, standing_pa)
    osmotic = batch.conditions.salt.osmotic[: len(temperature_k)]
    ratio = np.maximum(last[:, 3], 1.0 - osmotic / np.maximum(pressure, 1.0))
    return np.stack([nothing, drain, nothing, ratio, pressure, drain], axis=-1)


def _mend(values: Array, solved: NDArray[np.bool_]) -> None:
    """Where an opening has no working state, take the plant as stalled there: as with the valve shut."""
    lost = np.zeros(values.shape[:2], dtype=bool)
    lost[:, :-1] = ~solved
    if lost.any():
        values[lost] = np.broadcast_to(values[:, -1:], values.shape)[lost]
    values[:] = np.nan_to_num(values)


# --- interpolation on Chebyshev points ---


def _nodes(low: float, high: float, count: int) -> Array:
    if high - low <= 1e-9 * abs(high):
        return np.array([low])
    points = np.cos(np.pi * (np.arange(count)[::-1] + 0.5) / count)
    points = points / points[-1]  # stretched so that the ends are nodes
    return np.asarray(0.5 * (low + high) + 0.5 * (high - low) * points)


def _weights(nodes: Array, at: Array) -> Array:
    """Lagrange's weights of the nodes at the points, (points, nodes); rows add up to 1."""
    if len(nodes) == 1:
        return np.ones((len(at), 1))
    own, apart = _apart(tuple(nodes.tolist()))
    away = np.minimum(np.maximum(at, nodes[0]), nodes[-1])[:, None] - nodes
    others = np.where(own, 1.0, away[:, None, :])
    return np.asarray(others.prod(axis=2) / apart)


@lru_cache(maxsize=64)
def _apart(nodes: tuple[float, ...]) -> tuple[NDArray[np.bool_], Array]:
    """Which node is which, and the product of each one's distances to the others."""
    at, own = np.array(nodes), np.eye(len(nodes), dtype=bool)
    return own, np.asarray(np.where(own, 1.0, at[:, None] - at).prod(axis=1))
