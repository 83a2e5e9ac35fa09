"""The steady state of a plant: the flows and pressures at which every part's law holds at once.

Unknowns of a plant with membranes, per condition: the flow to the membranes, the product pressure and, only where the
plant has them, the split among unlike elements side by side, the strength of a recirculated feed and the flow of a
blend. Everything else follows by going along the water's way. The equations are solved for all conditions together by
a quasi-Newton method (Broyden 1965) from finite-difference slopes; conditions that resist get damped Newton steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.channel import LEAST_FLUX, Channel, Outlet, Salt, Spread, channel, march
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.membrane.restrictor import Restrictor
from rinsewright.plant.part import Fluid, Part
from rinsewright.quantities import BAR, L_MIN, Array

TOLERANCE = 1e-10  # of the scaled residuals
CHUNK = 2048  # conditions solved together: small enough to stay in the processor's cache


ELEMENT_LAW = (
    *("area", "length", "channel", "porosity"),
    *("water_permeance", "salt_permeance", "water_activation", "salt_activation"),
)
DATA_SHEET = Spread()


@dataclass(frozen=True)
class Group:
    """Elements of one stage that are alike, side by side: one is marched, all count."""

    element: Element
    members: tuple[int, ...]  # their places in the stage

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.members)


def groups(plant: Plant) -> tuple[tuple[Group, ...], ...]:
    """Each stage's elements, alike ones together (price, name and place do not matter to the water)."""
    stages = []
    for stage in plant.stages:
        found: dict[tuple[float, ...], list[int]] = {}
        for place, e in enumerate(stage):
            law = tuple(float(getattr(e, name)) for name in ELEMENT_LAW)
            found.setdefault(law, []).append(place)
        stages.append(tuple(Group(stage[same[0]], tuple(same)) for same in found.values()))
    return tuple(stages)


@dataclass(frozen=True)
class Conditions:
    """What a plant is solved for; arrays of shape (conditions,)."""

    temperature_k: Array
    standing_pa: Array
    salt: Salt
    spread: Spread = DATA_SHEET
    throttle: Array | float = 0.0  # Pa s2/m6: a valve more at the end of the product line, Δp = throttle·Q²

    def take(self, index: Any) -> Conditions:
        """The same for some of the conditions."""
        salt = Salt(*(getattr(self.salt, f.name)[index] for f in fields(Salt)))
        spread = Spread(*(_some(getattr(self.spread, f.name), index) for f in fields(Spread)))
        return Conditions(self.temperature_k[index], self.standing_pa[index], salt, spread, _some(self.throttle, index))


def _some(values: Array | float, index: Any) -> Any:
    return values[index] if isinstance(values, np.ndarray) else values


@dataclass(frozen=True)
class Branch:
    """One group of elements in the solved state."""

    stage: int  # from 1
    group: Group
    channel: Channel
    inlet_flow: Array  # of one element, m3/s
    inlet_salt: Array
    inlet_pa: Array
    outlet: Outlet  # of one element


@dataclass(frozen=True)
class Steady:
    """A solved batch. Flows m3/s, pressures Pa gauge, concentrations relative to the tap; shape (conditions,)."""

    tap_flow: Array
    membrane_pa: Array  # at the first membranes' inlet
    membrane_flow: Array  # into the first stage
    product_flow: Array  # leaves the membranes
    product_pa: Array
    drain_flow: Array  # to waste
    drain_pa: Array  # at the last membranes' outlet
    blend_flow: Array
    inlet_strength: Array  # relative concentration into the first stage (above 1 where drain water returns)
    product_strength: Array  # of the lumped salt
    drain_strength: Array
    branches: tuple[Branch, ...]
    residual: Array  # worst scaled residual
    fluid: Fluid

    @property
    def solved(self) -> Array:
        """Which conditions have a working state: converged, and water comes out at both ends of every element."""
        with np.errstate(invalid="ignore"):
            good = (self.residual < 1e-8) & (self.tap_flow > 0.0) & (self.drain_flow >= 0.0)
            for branch in self.branches:
                made = branch.outlet.product
                # More than the trace that stands for "none" where pressure does not reach the osmotic pressure.
                good &= (made > 10.0 * LEAST_FLUX * branch.channel.area) & np.logical_not(branch.outlet.runs_dry)
        return np.asarray(good)


@dataclass
class _Plan:
    """The plant in the shape the equations need, worked out once."""

    plant: Plant
    stages: tuple[tuple[Group, ...], ...]
    before_pump: tuple[Part, ...]
    from_pump: tuple[Part, ...]
    law: Restrictor | None  # the drain part whose flow law closes the drain line
    drain: tuple[Part, ...]  # the others on the drain line
    splits: tuple[tuple[int, int], ...]  # (stage, group) whose share of the stage's flow is unknown

    @classmethod
    def of(cls, plant: Plant) -> _Plan:
        stages = groups(plant)
        at = plant.feed.index(plant.pump) if plant.pump else len(plant.feed)
        restrictors = [part for part in plant.drain if isinstance(part, Restrictor)]
        law = min(restrictors, key=lambda part: part.exponent) if restrictors else None
        return cls(
            plant,
            stages,
            plant.feed[:at],
            plant.feed[at:],
            law,
            tuple(part for part in plant.drain if part is not law),
            tuple((s, g) for s, stage in enumerate(stages) for g in range(1, len(stage))),
        )

    @property
    def unknowns(self) -> int:
        return 2 + len(self.splits) + (self.plant.recirculation > 0.0) + (self.plant.blend_share > 0.0)


def _line_drop(parts: Sequence[Part], flow: Array, fluid: Fluid) -> Array:
    total = np.zeros_like(flow)
    for part in parts:
        total = total + part.drop(flow, fluid)
    return total


@dataclass
class _Lanes:
    """Conditions with everything derived from them that the equations use again and again."""

    conditions: Conditions
    fluid: Fluid
    channels: tuple[tuple[Channel, ...], ...]

    @classmethod
    def of(cls, plan: _Plan, conditions: Conditions) -> _Lanes:
        t = conditions.temperature_k
        fluid = Fluid.at(t)
        return cls(
            conditions,
            fluid,
            tuple(
                tuple(channel(group.element, t, fluid, conditions.salt, conditions.spread) for group in stage)
                for stage in plan.stages
            ),
        )

    def take(self, index: Any) -> _Lanes:
        return _Lanes(
            self.conditions.take(index),
            Fluid(self.fluid.density[index], self.fluid.viscosity[index]),
            tuple(tuple(ch.take(index) for ch in stage) for stage in self.channels),
        )


def _membrane_pressure(plan: _Plan, lanes: _Lanes, flow: Array, blend: Array) -> Array:
    tap = flow + blend
    pressure = plan.plant.supply.pressure(tap, lanes.conditions.standing_pa)
    pressure = pressure - _line_drop(plan.before_pump, tap, lanes.fluid)
    return pressure - _line_drop(plan.from_pump, flow + plan.plant.recirculation, lanes.fluid)


def _walk(plan: _Plan, lanes: _Lanes, z: Array, steps: int, keep: bool = False) -> tuple[Array, Steady | None]:
    """Go along the water's way with trial unknowns ``z`` (unknowns, conditions): residuals, and the state if asked."""
    plant, fluid = plan.plant, lanes.fluid
    flow, product_pa = z[0] * L_MIN, z[1] * BAR
    shares = dict(zip(plan.splits, z[2:], strict=False))
    extra = 2 + len(plan.splits)
    strength = z[extra] if plant.recirculation > 0.0 else np.ones_like(flow)
    blend = z[-1] * L_MIN if plant.blend_share > 0.0 else np.zeros_like(flow)

    pressure = membrane_pa = _membrane_pressure(plan, lanes, flow, blend)
    q = membrane_flow = flow + plant.recirculation
    s = q * strength
    scale_pa = np.abs(pressure) + 0.1 * BAR
    product, product_salt = np.zeros_like(flow), np.zeros_like(flow)
    balance: list[Array] = []
    branches: list[Branch] = []
    for i, stage in enumerate(plan.stages):
        rest = 1.0 - sum((shares[i, g] for g in range(1, len(stage))), start=np.zeros_like(flow))
        out_q, out_s, out_p = np.zeros_like(flow), np.zeros_like(flow), pressure
        for g, group in enumerate(stage):
            share = (shares[i, g] if g else rest) / group.count
            one = march(lanes.channels[i][g], q * share, s * share, pressure, product_pa, steps, keep)
            if keep:
                branches.append(Branch(i + 1, group, lanes.channels[i][g], q * share, s * share, pressure, one))
            out_q, out_s = out_q + group.count * one.flow, out_s + group.count * one.salt
            product = product + group.count * one.product
            product_salt = product_salt + group.count * one.product_salt
            if g:
                balance.append((one.pressure - out_p) / scale_pa)
            else:
                out_p = one.pressure
        q, s, pressure = out_q, out_s, out_p

    waste = q - plant.recirculation
    difference = pressure - _line_drop(plan.drain, waste, fluid)
    if plan.law is not None:
        passed = plan.law.flow_at(difference) * lanes.conditions.spread.restrictor
        drained = (waste - passed) / (np.abs(flow) + 0.01 * L_MIN)
    else:
        drained = difference / scale_pa
    made = product + blend
    back_pa = _line_drop(plant.to_tank, made, fluid) + lanes.conditions.throttle * made * np.abs(made)
    residuals = [drained, (product_pa - back_pa) / scale_pa, *balance]
    if plant.recirculation > 0.0:
        mixed = (flow + plant.recirculation * s / np.maximum(q, 1e-3 * membrane_flow)) / membrane_flow
        residuals.append(strength - mixed)
    if plant.blend_share > 0.0:
        residuals.append((blend - plant.blend_share * (product + blend)) / (np.abs(flow) + 0.01 * L_MIN))
    r = np.array(residuals)
    if not keep:
        return r, None
    with np.errstate(divide="ignore", invalid="ignore"):
        state = Steady(
            tap_flow=flow + blend,
            membrane_pa=membrane_pa,
            membrane_flow=membrane_flow,
            product_flow=product,
            product_pa=product_pa,
            drain_flow=waste,
            drain_pa=pressure,
            blend_flow=blend,
            inlet_strength=strength,
            product_strength=product_salt / product,
            drain_strength=s / q,
            branches=tuple(branches),
            residual=np.max(np.abs(r), axis=0),
            fluid=fluid,
        )
    return r, state


def _first_guess(plan: _Plan, lanes: _Lanes) -> tuple[Array, Array]:
    """Unknowns and recovery of the same plant with every element lumped into one conductance: within some per cent."""
    plant, fluid = plan.plant, lanes.fluid
    conductance = sum(
        group.count * ch.water * ch.area
        for stage, chs in zip(plan.stages, lanes.channels, strict=True)
        for group, ch in zip(stage, chs, strict=True)
    )
    osmotic = lanes.channels[0][0].osmotic
    head = plant.pump.dead_head_pa if plant.pump else 0.0
    nothing = np.zeros_like(osmotic)
    lift = _line_drop(plant.to_tank, nothing, fluid)
    highest = lanes.conditions.standing_pa + head
    restrictor = lanes.conditions.spread.restrictor

    def parted(flow: Array) -> tuple[Array, Array, Array]:
        pressure = _membrane_pressure(plan, lanes, flow, nothing)
        through = flow + plant.recirculation
        product = np.minimum(conductance * np.maximum(pressure - lift - 1.3 * osmotic, 0.0), 0.9 * through)
        strong = 1.0 / (1.0 - 0.5 * product / through)
        product = conductance * np.maximum(0.97 * pressure - lift - 1.2 * osmotic * strong, 1e-3 * BAR)
        # Behind a throttle q = g·(Δp − throttle·q²).
        product = 2.0 * product / (1.0 + np.sqrt(1.0 + 4.0 * conductance * lanes.conditions.throttle * product))
        if plan.law is not None:
            waste = plan.law.flow_at(np.maximum(0.95 * pressure, 0.0)) * restrictor
        else:
            waste = np.maximum(pressure, 0.0) / BAR * 10.0 * L_MIN
        return flow - product - waste, product, pressure

    low = np.full_like(osmotic, 1e-3 * L_MIN)
    most_waste = plan.law.flow_at(highest) * restrictor if plan.law else 20.0 * L_MIN
    high = 1.05 * (conductance * highest + most_waste) + low
    at_low, at_high = parted(low)[0], parted(high)[0]
    flow = low
    for _ in range(6):  # regula falsi with the Illinois rule: the balance rises steadily with the flow
        flow = low - at_low * (high - low) / (at_high - at_low)
        value = parted(flow)[0]
        above = value > 0.0
        same_high, same_low = above, ~above
        at_low = np.where(same_high, 0.5 * at_low, value)
        low = np.where(same_low, flow, low)
        at_high = np.where(same_low, 0.5 * at_high, value)
        high = np.where(same_high, flow, high)
    _, product, _ = parted(flow)
    back_pa = _line_drop(plant.to_tank, product, fluid) + lanes.conditions.throttle * product**2
    rows = [flow / L_MIN, back_pa / BAR]
    for s, g in plan.splits:
        stage = plan.stages[s]
        widths = [group.count * group.element.flow_area for group in stage]
        rows.append(np.full_like(flow, widths[g] / sum(widths)))
    if plant.recirculation > 0.0:
        recovery = np.minimum(product / (flow + plant.recirculation), 0.9)
        share = plant.recirculation / (flow + plant.recirculation)
        rows.append((1.0 - share) / np.maximum(1.0 - share / (1.0 - recovery), 0.1))
    if plant.blend_share > 0.0:
        rows.append(product * plant.blend_share / (1.0 - plant.blend_share) / L_MIN)
    recovery = product / (flow + plant.recirculation)
    return np.array(rows), np.clip(np.nan_to_num(recovery), 0.0, 0.9)


def _slopes(plan: _Plan, lanes: _Lanes, z: Array, steps: int) -> tuple[Array, Array]:
    """Residuals and their finite-difference Jacobian, shape (conditions, equations, unknowns), in one walk."""
    n, count = z.shape
    step = 1e-6 * np.maximum(np.abs(z), 0.05)
    tall = np.tile(z, (1, n + 1))
    for i in range(n):
        tall[i, (i + 1) * count : (i + 2) * count] += step[i]
    many = lanes.take(np.tile(np.arange(count), n + 1))
    moved, _ = _walk(plan, many, tall, steps)
    moved = moved.reshape(n, n + 1, count)
    slope = (moved[:, 1:] - moved[:, :1]) / step
    return moved[:, 0], np.nan_to_num(np.moveaxis(slope, -1, 0))


def _inverse(slopes: Array) -> Array:
    """Inverse of each condition's Jacobian, by least squares where one is singular."""
    try:
        return np.asarray(np.linalg.inv(slopes))
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.pinv(slopes))


def _solve_from(plan: _Plan, lanes: _Lanes, z: Array, steps: int) -> Array:
    """The unknowns at which the residuals vanish, by Broyden's method from ``z``."""
    answer = z.copy()
    active = np.arange(z.shape[1])
    worst = np.full(z.shape[1], np.inf)
    with np.errstate(all="ignore"):
        r, slopes = _slopes(plan, lanes, z, steps)
        inverse = _inverse(slopes)
        here = lanes
        for _ in range(14):
            dz = -(inverse @ r.T[..., None])[..., 0].T
            dz = np.clip(dz, -0.5 * np.abs(z) - 0.02, 0.5 * np.abs(z) + 0.02)
            z = z + dz
            new, _ = _walk(plan, here, z, steps)
            dr = new - r
            r = new
            size = np.max(np.abs(r), axis=0)
            answer[:, active], worst[active] = z, size
            keep = ~(size < TOLERANCE)
            if not keep.any():
                return answer
            back = (inverse @ dr.T[..., None])[..., 0].T
            left = np.einsum("in,nij->nj", dz, inverse)
            inverse = inverse + np.einsum("in,nj->nij", dz - back, left) / np.sum(dz * back, axis=0)[:, None, None]
            if keep.mean() < 0.7:
                active, z, r, inverse, here = active[keep], z[:, keep], r[:, keep], inverse[keep], here.take(keep)
        bad = np.flatnonzero(~(worst < TOLERANCE))
        answer[:, bad] = _stubborn(plan, lanes.take(bad), steps)
    return answer


def _stubborn(plan: _Plan, lanes: _Lanes, steps: int) -> Array:
    """Damped Newton with fresh slopes each round, from several starts, where Broyden did not settle."""
    guess, _ = _first_guess(plan, lanes)  # inside the caller's errstate
    best, least = guess.copy(), np.full(guess.shape[1], np.inf)
    for factor in (1.0, 0.6, 1.6, 0.3):
        todo = np.flatnonzero(~(least < TOLERANCE))
        if todo.size == 0:
            break
        here = lanes.take(todo)
        z = guess[:, todo].copy()
        z[0] *= factor
        for _ in range(40):
            r, slopes = _slopes(plan, here, z, steps)
            size = np.max(np.abs(r), axis=0)
            if np.all(size < TOLERANCE):
                break
            dz = -np.einsum("nij,jn->in", _inverse(slopes), np.nan_to_num(r))
            dz = np.clip(dz, -0.5 * np.abs(z) - 0.02, 0.5 * np.abs(z) + 0.02)
            damping = np.ones(todo.size)
            for _ in range(8):
                trial = z + damping * dz
                new, _ = _walk(plan, here, trial, steps)
                worse = ~(np.max(np.abs(new), axis=0) < size) & (size > TOLERANCE)
                if not worse.any():
                    break
                damping = np.where(worse, 0.5 * damping, damping)
            z = trial
        size = np.max(np.abs(r), axis=0)
        better = size < least[todo]
        best[:, todo[better]], least[todo[better]] = z[:, better], size[better]
    return best


def steady(plant: Plant, conditions: Conditions, steps: int | None = None) -> Steady:
    """Solve a plant for all conditions at once.

    Parameters
        conditions: temperature 273–318 K, standing pressure [Pa], lumped salt; arrays of one shape (conditions,)
        steps: Runge–Kutta steps along each element; chosen by the recovery of the elements where not given
    Returns :class:`Steady`; look at ``solved`` before using a condition's numbers.
    """
    if not plant.stages:
        return _resin_only(plant, conditions)
    plan = _Plan.of(plant)
    count = conditions.temperature_k.size
    chunks = [_Lanes.of(plan, conditions.take(slice(start, start + CHUNK))) for start in range(0, max(count, 1), CHUNK)]
    pieces = [_solve_refined(plan, lanes, steps) for lanes in chunks]
    most = max(taken for _, taken in pieces)
    states = [
        state if taken == most else _solve_refined(plan, lanes, most)[0]
        for lanes, (state, taken) in zip(chunks, pieces, strict=True)
    ]
    return states[0] if len(states) == 1 else _joined(states)


def drain_with_product_shut(
    plant: Plant, temperature_k: Array, standing_pa: Array, product: Array | float = 0.0
) -> tuple[Array, Array]:
    """Drain flow [m3/s] and membrane pressure [Pa] while no product can leave, per condition; by bisection.

    With ``product`` [m3/s] that much still leaves. The rest of the flow goes through the drain line; the channels' own
    loss is left out (it is a few per cent).
    """
    plan = _Plan.of(plant)
    fluid = Fluid.at(temperature_k)
    zero = np.zeros_like(temperature_k)
    salt = Salt(zero, zero, zero + 1.0)
    lanes = _Lanes(Conditions(temperature_k, standing_pa, salt), fluid, ())

    def surplus(flow: Array) -> tuple[Array, Array]:
        pressure = _membrane_pressure(plan, lanes, flow + product, zero)
        left = pressure - _line_drop(plan.drain, flow, fluid)
        return (plan.law.flow_at(left) - flow if plan.law is not None else left), pressure

    low, high = zero, zero + 100.0 * L_MIN
    for _ in range(60):
        middle = 0.5 * (low + high)
        above = surplus(middle)[0] > 0.0
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return low, surplus(low)[1]


STEPS_UP_TO = ((0.42, 2), (0.55, 3), (0.66, 6), (0.8, 8), (1.0, 16))  # recovery of an element → steps, < 0.02 % off


def _resin_only(plant: Plant, conditions: Conditions) -> Steady:
    """A plant without membranes: the one flow at which the lines use up the tap's pressure, by bisection."""
    fluid = Fluid.at(conditions.temperature_k)

    def surplus(flow: Array) -> Array:
        pressure = plant.supply.pressure(flow, conditions.standing_pa) - _line_drop(plant.feed, flow, fluid)
        return np.asarray(pressure - _line_drop(plant.to_tank, flow, fluid) - conditions.throttle * flow**2)

    low = np.zeros_like(conditions.temperature_k)
    high = np.full_like(low, 1.0 * L_MIN)
    for _ in range(20):  # up to a million litres a minute: an open end on an ideal supply has no flow of its own
        high = np.where(surplus(high) > 0.0, 2.0 * high, high)
    for _ in range(60):
        middle = 0.5 * (low + high)
        above = surplus(middle) > 0.0
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    flow = 0.5 * (low + high)
    product_pa = _line_drop(plant.to_tank, flow, fluid) + conditions.throttle * flow**2
    zero, one = np.zeros_like(flow), np.ones_like(flow)
    scale = np.abs(product_pa) + 0.1 * BAR
    return Steady(
        tap_flow=flow,
        membrane_pa=product_pa,
        membrane_flow=zero,
        product_flow=flow,
        product_pa=product_pa,
        drain_flow=zero,
        drain_pa=zero,
        blend_flow=zero,
        inlet_strength=one,
        product_strength=one,
        drain_strength=zero,
        branches=(),
        residual=np.abs(surplus(flow)) / scale,
        fluid=fluid,
    )


def _solve_refined(plan: _Plan, lanes: _Lanes, steps: int | None) -> tuple[Steady, int]:
    """The solved state and the steps it took along each element."""
    with np.errstate(all="ignore"):
        z, recovery = _first_guess(plan, lanes)
    in_element = 1.0 - (1.0 - recovery) ** (1.0 / len(plan.stages))
    n = steps or _steps_for(float(np.quantile(in_element, 0.9)))
    while True:
        z = _solve_from(plan, lanes, z, n)
        with np.errstate(all="ignore"):
            _, state = _walk(plan, lanes, z, n, keep=True)
            assert state is not None
            recoveries = np.max([b.outlet.product / b.inlet_flow for b in state.branches], axis=0)
        needed = _steps_for(float(np.max(recoveries[state.solved], initial=0.0)))
        if steps is not None or needed <= n:
            return state, n
        n = needed


def _steps_for(recovery: float) -> int:
    return next(count for limit, count in STEPS_UP_TO if recovery <= limit or limit == 1.0)


def _joined(pieces: Sequence[Any]) -> Any:
    """Put chunks of a batch end to end, whatever they hold (the conditions are the last axis)."""
    first = pieces[0]
    if isinstance(first, np.ndarray):
        return np.concatenate(pieces, axis=-1)
    if isinstance(first, tuple):
        return tuple(_joined(parts) for parts in zip(*pieces, strict=True))
    if isinstance(first, (Steady, Branch, Channel, Outlet, Fluid)) or type(first).__name__ == "Places":
        return type(first)(*(_joined([getattr(p, f.name) for p in pieces]) for f in fields(first)))
    return first
