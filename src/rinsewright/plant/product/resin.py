"""What a mixed bed takes up, and when it lets go: exchange cells in equilibrium along the vessel.

The water passes a row of cells. In each, resin and water come to equilibrium, cations and anions on their own sides::

    q_i / c_i = K_i · s_i · μ^z_i        Σ q_i = capacity

with K the selectivity, s the share of the species present as the ion that exchanges, z the charge and μ one unknown for
each side of each cell. Hydrogen and hydroxide that come off join to water, so s is tiny for both; carbonic acid and
silica are weak acids, so s is small for them. That orders the train: silica leaves first, then carbonic acid, then
chloride, nitrate and sulphate. Alkalinity is carbonic acid once its cations are taken.

Two ends follow. *First slip*: the hydroxide is used up, carbonic acid and silica pass, and the reading climbs to a
plateau. *Limit*: the reading reaches what the user allows, as a rule when salts break through, much later.

Equations: mass action of ion exchange and the multicomponent displacement train (Helfferich & Klein, Multicomponent
Chromatography, 1970; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rinsewright.quantities import T25, Array
from rinsewright.sources import Sourced
from rinsewright.water.carbonate import constants, hydrogen
from rinsewright.water.ions import CHARGE, INDEX, limiting_conductivity

# Selectivities. Cations: polystyrene sulphonate, 8 % cross-linked, on lithium = 1 (Bonner & Smith 1957; from memory).
# Anions: type I strong base, on chloride = 1 (from memory; silicate assumed to equal hydroxide). Their order
# matters much, their size little.
CATION_SELECTIVITY = {"H": 1.27, "Na": 1.98, "K": 2.90, "Mg": 3.29, "Ca": 5.16}
ANION_SELECTIVITY = {"OH": 0.045, "SiO2": 0.045, "CO2": 0.27, "Cl": 1.0, "NO3": 3.0, "SO4": 0.15}
DIVALENT = ("Mg", "Ca", "SO4")
# Rare ions ride with a neighbour of like charge and affinity.
CATION_GROUPS = {"Na": ("Na",), "K": ("K", "NH4"), "Mg": ("Mg",), "Ca": ("Ca", "Sr", "Ba", "Fe", "Mn")}
ANION_GROUPS = {"Cl": ("Cl", "F", "PO4"), "NO3": ("NO3",), "SO4": ("SO4",)}


CATION_CAPACITY = Sourced(
    760.0,
    "eq per m3 of mixed bed",
    "10 %",
    "new resin",
    "0.4 of the bed at 1.9 eq/L (textbook range 1.8-2.0)",
    "from memory",
)
ANION_CAPACITY = Sourced(
    720.0,
    "eq per m3 of mixed bed",
    "15 %",
    "new resin",
    "0.6 of the bed at 1.2 eq/L (textbook range 1.0-1.4)",
    "from memory",
)
USABLE_SHARE = Sourced(
    0.6,
    "share of the capacity",
    "0.5 to 0.7",
    "small vessels, moderate flow",
    "the field's usual allowance",
    "from memory",
)

_K = {name: float(value) for name, value in constants(T25).items()}  # molal, infinite dilution
K1, K2, K_SILICA, KW = _K["CO2"] * 1e3, _K["HCO3"] * 1e3, _K["SiO2"] * 1e3, _K["H2O"] * 1e6  # mol/m3, 25 °C
LAMBDA_H, LAMBDA_OH, LAMBDA_HCO3, LAMBDA_CO3 = (limiting_conductivity(name) for name in ("H", "OH", "HCO3", "CO3"))

# One row for each species, cations before anions and such that the divalent ones are neighbours.
ROWS = ("H", "Na", "K", "Mg", "Ca", "SO4", "OH", "SiO2", "CO2", "Cl", "NO3")
ANION_ROWS = 5  # the first of them
FRESH = [ROWS.index("H"), ROWS.index("OH")]  # what each side of fresh resin holds
_DIVALENT = slice(ROWS.index("Mg"), ROWS.index("SO4") + 1)
_DIVALENT_SIDE = [0, 0, 1]
_FEW = 64  # cells below which it does not pay to leave out those that are done
_CLOSE = 0.02  # step in the logarithm of an activity that is left to the amounts
_TRACE = 1e-6

CELLS = 16
LIMITED_BY = ("anion", "cation", "carbonic acid", "not needed")


@dataclass(frozen=True)
class Bed:
    """A vessel of mixed-bed resin. ``volume`` [m3] and capacities [eq per m3 of mixed bed], each plain or per lane.

    ``usable_share`` of the capacity is used when the reading reaches its limit: short contact, channels and the unused
    end of the front are in it. ``vessels`` = 2: a lead and, behind it, a lag.
    """

    volume: Array | float
    cation_capacity: Array | float = CATION_CAPACITY.value
    anion_capacity: Array | float = ANION_CAPACITY.value
    usable_share: Array | float = USABLE_SHARE.value
    vessels: int = 1

    @property
    def cation_eq(self) -> Array:
        """Usable cation equivalents of one vessel."""
        return np.asarray(self.volume * np.asarray(self.cation_capacity) * self.usable_share)

    @property
    def anion_eq(self) -> Array:
        """Usable anion equivalents of one vessel."""
        return np.asarray(self.volume * np.asarray(self.anion_capacity) * self.usable_share)


@dataclass(frozen=True)
class Load:
    """What the water brings to the resin, eq/m3; ``cations`` are Na, K, Mg, Ca and ``anions`` Cl, NO3, SO4."""

    cations: Array  # (4, lanes)
    anions: Array  # (3, lanes), of strong acids only
    carbonic: Array  # alkalinity and dissolved CO2, one equivalent for each mole
    silica: Array
    co2: Array  # the dissolved gas alone

    @classmethod
    def of(cls, solutes: Array, co2: Array) -> Load:
        """From ``solutes`` (lanes × 17, in the order of ``SOLUTES``) and CO2(aq) (lanes), both in mol/m3."""
        return cls(
            cations=_grouped(solutes, CATION_GROUPS),
            anions=_grouped(solutes, ANION_GROUPS),
            carbonic=np.maximum(solutes[:, INDEX["HCO3"]], 0.0) + co2,
            silica=np.asarray(solutes[:, INDEX["SiO2"]]),
            co2=co2,
        )

    def lanes(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> Load:
        """The same for some lanes only."""
        return Load(
            self.cations[:, chosen],
            self.anions[:, chosen],
            self.carbonic[chosen],
            self.silica[chosen],
            self.co2[chosen],
        )

    @property
    def total(self) -> Array:
        """Everything that the anion side takes up, eq/m3."""
        return np.asarray(self.anions.sum(axis=0) + self.carbonic + self.silica)


@dataclass(frozen=True)
class Exhaustion:
    """How far the resin goes; arrays over lanes. Volumes are m3 of water, not-a-number where the resin is not needed.

    With two vessels ``m3_to_limit`` is the water between two changes of the lead, and ``m3_to_first_slip`` is counted
    behind the lag from the day both were fresh (not-a-number: never).
    """

    m3_to_first_slip: Array
    m3_to_limit: Array
    plateau: Array  # S/m at 25 °C, between first slip and the salts' breakthrough
    co2_share: Array  # of the anion load until first slip
    limited_by: tuple[str, ...]
    curve_m3: Array  # (lanes, points) water passed by one vessel
    curve_reading: Array  # (lanes, points) S/m at 25 °C behind one vessel


def exhaustion(bed: Bed, solutes: Array, co2: Array, limit: Array | float, cells: int = CELLS) -> Exhaustion:
    """Water that a mixed bed treats until first slip and until its reading reaches ``limit`` [S/m at 25 °C].

    ``solutes`` (lanes × 17) and ``co2`` (lanes) in mol/m3 as they enter the resin. ``cells`` along one vessel: doubling
    the default moves the results by less than 2 %. Valid for feeds up to drinking-water strength.
    """
    solutes = np.atleast_2d(np.asarray(solutes, dtype=np.float64))
    lanes = len(solutes)
    co2 = np.broadcast_to(np.asarray(co2, dtype=np.float64), (lanes,))
    limits = np.broadcast_to(np.asarray(limit, dtype=np.float64), (lanes,))
    load = Load.of(solutes, co2)
    needed = reading(load.cations, load.anions, load.carbonic) > limits
    plateau = plateau_reading(load)
    volume, anion_eq, cation_eq = (
        np.broadcast_to(np.asarray(part, dtype=np.float64), (lanes,))
        for part in (bed.volume, bed.anion_eq, bed.cation_eq)
    )

    slip, end = np.full(lanes, np.nan), np.full(lanes, np.nan)
    cause = ["not needed"] * lanes
    volumes, readings = np.zeros((lanes, 0)), np.zeros((lanes, 0))
    if needed.any():
        chosen = load.lanes(needed), volume[needed], anion_eq[needed], cation_eq[needed], limits[needed]
        run = _run(*chosen, plateau[needed], cells)
        slip[needed], end[needed] = run.first_slip, run.limit
        for lane, name in zip(np.flatnonzero(needed), run.limited_by, strict=True):
            cause[lane] = name
        volumes, readings = (np.full((lanes, run.volumes.shape[1]), np.nan) for _ in range(2))
        volumes[needed], readings[needed] = run.volumes, run.readings
    if bed.vessels > 1:
        slip = _slip_behind_lag(load.total, anion_eq, end)
    share = np.divide(co2, load.total, out=np.zeros(lanes), where=load.total > 0.0)
    return Exhaustion(slip, end, plateau, share, tuple(cause), volumes, readings)


def plateau_reading(load: Load) -> Array:
    """Conductivity [S/m, 25 °C] of the water between first slip and the salts' breakthrough.

    Carbonic acid alone: what comes in and what strong anions push out, one for one. Silica conducts nothing.
    """
    carbonic = np.where(load.carbonic > 0.0, load.carbonic + load.anions.sum(axis=0), 0.0)
    return reading(np.zeros_like(load.cations), np.zeros_like(load.anions), carbonic)


def reading(cations: Array, anions: Array, carbonic: Array) -> Array:
    """Conductivity [S/m at 25 °C] of dilute water; cations (4, …), strong anions (3, …) in eq/m3, carbonic in mol/m3.

    The pH follows from the charges: acid where anions are in excess, alkaline where cations are. Limiting molar
    conductivities, so about 1 % high at 100 µS/cm.
    """
    ions = sum(mobility * each for mobility, each in zip(MOBILITIES, (*cations, *anions), strict=True))
    return reading_of(np.asarray(ions), anions.sum(axis=0) - cations.sum(axis=0), carbonic)


def reading_of(ions: Array, excess: Array, carbonic: Array) -> Array:
    """The same from the salts' own conductivity [S/m], strong anions less cations [eq/m3] and carbonic [mol/m3]."""
    h = _hydrogen(excess, carbonic)
    hco3 = carbonic / (1.0 + h / K1 + K2 / h)
    return np.asarray(ions + h * LAMBDA_H + KW / h * LAMBDA_OH + hco3 * (LAMBDA_HCO3 + K2 / h * LAMBDA_CO3))


def reading_at_most(ions: Array, excess: Array, carbonic: Array) -> Array:
    """An upper bound of :func:`reading_of`, much faster and a few per cent above it where carbonic acid rules.

    The charges give h ≤ excess + √(K1·C) + √Kw and as much for the anions; H+ and OH− are the fastest of all.
    """
    water = (LAMBDA_H + LAMBDA_OH) * KW**0.5
    acid = (LAMBDA_H + max(LAMBDA_HCO3, 0.5 * LAMBDA_CO3)) * np.sqrt(K1 * carbonic)
    return np.asarray(ions + np.maximum(LAMBDA_H * excess, -LAMBDA_OH * excess) + acid + water)


# S m2/eq of each group's namesake
MOBILITIES = [limiting_conductivity(name) / abs(float(CHARGE[INDEX[name]])) for name in (*CATION_GROUPS, *ANION_GROUPS)]


def contact_minutes(bed: Bed, flow: Array | float) -> Array:
    """Empty-bed contact time [min] at a flow [m3/s]. Below 1 to 2 min expect less capacity (from memory)."""
    return np.asarray(bed.volume / np.asarray(flow) / 60.0)


# --- one vessel, marched ---


@dataclass(frozen=True)
class _Run:
    first_slip: Array
    limit: Array
    limited_by: list[str]
    volumes: Array
    readings: Array


def _run(
    load: Load, volume: Array, anion_eq: Array, cation_eq: Array, limit: Array, plateau: Array, cells: int
) -> _Run:
    """March until every lane has reached its limit; lanes whose first guess of the end was short run again, longer."""
    end = 1.2 * _expected_end(load, anion_eq, cation_eq, limit, plateau)
    ticks = int(np.clip(np.ceil(np.max(end * load.total * cells / anion_eq)), 5 * cells, 12 * cells))
    out_c, out_a = np.zeros((5, ticks, len(limit))), np.zeros((6, ticks, len(limit)))
    readings = np.zeros((len(limit), ticks))
    todo = np.arange(len(limit))
    for _ in range(6):
        out_c[:, :, todo], out_a[:, :, todo] = effluent(
            load.lanes(todo), volume[todo], anion_eq[todo], cation_eq[todo], end[todo] / ticks, ticks, cells
        )
        readings[todo] = reading(out_c[1:][:, :, todo], out_a[3:][:, :, todo], out_a[2][:, todo]).T
        todo = todo[~(readings[todo] > limit[todo, None]).any(axis=1)]
        if not len(todo):
            break
        end[todo] *= 1.6
    # A tick's effluent is its average: it belongs to the tick's middle.
    volumes = (np.arange(ticks) + 0.5)[None, :] * (end / ticks)[:, None]
    at_limit, when = _crossing(volumes, readings, limit)
    through = 1.0 - out_a[0].T / load.total[:, None]  # share of the anion load that is not turned into water
    first_slip, _ = _crossing(volumes, through, np.full_like(limit, 0.5))
    lanes = np.arange(len(limit))
    salts, bases = out_a[3:].sum(axis=0)[when, lanes], out_c[1:].sum(axis=0)[when, lanes]
    names = np.where(bases > salts, "cation", "anion")
    by_slip = (limit <= plateau) & (first_slip <= 1.1 * at_limit)
    names = np.where(by_slip, "carbonic acid", names)
    return _Run(np.fmin(first_slip, at_limit), at_limit, [str(name) for name in names], volumes, readings)


def _expected_end(load: Load, anion_eq: Array, cation_eq: Array, limit: Array, plateau: Array) -> Array:
    """Displacement theory: the volume after which one side has nothing left to give."""
    tiny = 1e-12
    salts = np.minimum(
        anion_eq / np.maximum(load.anions.sum(axis=0), tiny), cation_eq / np.maximum(load.cations.sum(axis=0), tiny)
    )
    slip = anion_eq / np.maximum(load.total, tiny)
    return np.asarray(np.where(limit <= plateau, np.minimum(salts, slip), salts))


def effluent(
    load: Load, volume: Array, anion_eq: Array, cation_eq: Array, tick: Array, ticks: int, cells: int
) -> tuple[Array, Array]:
    """Composition behind a fresh vessel fed ``ticks`` portions of ``tick`` [m3] each.

    Returns equivalents per m3: cations (5, ticks, lanes) as H (turned into water or left as acid), Na, K, Mg, Ca, and
    anions (6, ticks, lanes) as OH (turned into water), SiO2, carbonic acid, Cl, NO3, SO4.
    """
    capacity = np.stack([cation_eq, anion_eq])[:, :, None] / cells
    portion, strength = feed_rows(load, tick, capacity[:, :, 0]), strength_rows(load, volume / cells / tick)
    held = np.zeros((len(ROWS), len(tick), cells))
    held[FRESH] = capacity
    moving = np.zeros_like(held)
    moving[FRESH] = side_sums(portion)[:, :, None]  # the water ahead of the first portion
    strength = np.repeat(strength[:, :, None], cells, axis=2)
    activity = np.log(capacity / (side_sums(portion) * strength[FRESH, :, 0])[:, :, None]) + np.zeros(cells)
    out = np.empty((len(ROWS), ticks, len(tick)))
    for step in range(ticks + cells - 1):
        total = np.concatenate([portion[:, :, None], moving[:, :, :-1]], axis=2) + held
        moving, activity = settle(total, capacity, strength, activity)
        held = total - moving
        if step >= cells - 1:
            out[:, step - cells + 1] = moving[:, :, -1]
    out /= tick
    return out[:ANION_ROWS], np.roll(out[ANION_ROWS:], -1, axis=0)


def feed_rows(load: Load, portion: Array, capacity: Array) -> Array:
    """What ``portion`` [m3] brings to a cell, eq in the order of :data:`ROWS`; ``capacity`` (2, …) of the cell.

    No side is quite empty: H and OH come up to a trace of the capacity.
    """
    nothing = np.zeros_like(load.carbonic)
    anions = (load.anions[2], nothing, load.silica, load.carbonic, *load.anions[:2])
    rows = np.stack([nothing, *load.cations, *anions]) * portion
    rows[FRESH] = np.maximum(_TRACE * capacity - side_sums(rows), 0.0)
    return np.asarray(rows)


def strength_rows(load: Load, resin_to_water: Array) -> Array:
    """On the resin over in the water, in units of μ^z, for each of :data:`ROWS`."""
    cations, anions = exchanging_shares(load)
    shares = np.concatenate([cations, np.roll(anions, 1, axis=0)])
    selectivity = {**CATION_SELECTIVITY, **ANION_SELECTIVITY}
    return np.stack([selectivity[name] * share * resin_to_water for name, share in zip(ROWS, shares, strict=True)])


def exchanging_shares(load: Load) -> tuple[Array, Array]:
    """Share of each species present as the ion that exchanges: (5, …) for H, Na, K, Mg, Ca and (6, …) for the anions.

    Taken at the pH of the carbonic-acid zone, the one the limit waits for: strong anions have pushed out as much acid.
    """
    h = _hydrogen(np.zeros_like(load.carbonic), load.carbonic + load.anions.sum(axis=0))
    free_h = np.minimum(1.0, h / np.maximum(load.cations.sum(axis=0), h))
    free_oh = np.minimum(1.0, KW / h / np.maximum(load.total, KW / h))
    ones = np.ones_like(h)
    cations = np.stack([free_h, ones, ones, ones, ones])
    return cations, np.stack([free_oh, K_SILICA / (K_SILICA + h), K1 / (K1 + h), ones, ones, ones])


def settle(total: Array, capacity: Array, strength: Array, activity: Array) -> tuple[Array, Array]:
    """Share ``total`` [eq] between resin and water: what the water keeps at equilibrium, and the activity's logarithm.

    ``total`` and ``strength`` (rows, members, cells); ``capacity`` of the resin and the ``activity`` to start from (two
    sides, members, cells). In each cell and on each side Σ total · r/(1 + r) = capacity with r = strength · e^(z·x);
    Newton's method on the logarithm of (in the water)/(on the resin), which is straight in x for a single ion. The
    last step is taken in the amounts, so they add up whatever is left of x's error. Every cell stops by itself:
    its answer does not depend on its neighbours.
    """
    shape = total.shape
    total, strength = total.reshape(len(total), -1), strength.reshape(len(total), -1)
    capacity = np.broadcast_to(capacity, activity.shape).reshape(2, -1)
    x = activity.reshape(2, -1)
    both = side_sums(total)
    water = both - capacity
    moving, activity = np.empty_like(total), np.empty_like(x)
    work = np.empty((3, *total.shape))  # asked for once: fresh memory costs more than the arithmetic
    left: NDArray[np.intp] | slice = slice(None)
    on = np.ones(total.shape[1], dtype=bool)
    for _ in range(100):
        ratio, passing, slope = work[:, :, : total.shape[1]]
        each = np.exp(x)
        _by_side(strength, each, ratio)
        ratio[_DIVALENT] *= each[_DIVALENT_SIDE]
        ratio += 1.0
        np.divide(total, ratio, out=passing)
        np.divide(passing, ratio, out=slope)
        np.subtract(passing, slope, out=slope)
        slope[_DIVALENT] *= 2.0
        sum_passing, sum_slope = side_sums(passing), np.maximum(side_sums(slope), 1e-300)
        kept = both - sum_passing
        step = np.log(sum_passing * capacity / (kept * water)) * (sum_passing * kept / (sum_slope * both))
        passing -= _by_side(slope, (sum_passing - water) / sum_slope, ratio)
        on &= (np.abs(step) > _CLOSE).any(axis=0)
        step = np.minimum(np.maximum(step, -4.0), 4.0)
        count = np.count_nonzero(on)
        if count == 0 or 2 * count < len(on) > _FEW:  # the others are done
            moving[:, left], activity[:, left] = passing, x + step
            if count == 0:
                break
            some = np.flatnonzero(on)
            left = some if isinstance(left, slice) else left[some]
            on = on[some]
            x, step, total, strength, both, water, capacity = (
                each.take(some, axis=1) for each in (x, step, total, strength, both, water, capacity)
            )
        x = x + step * on
    return moving.reshape(shape), activity.reshape(2, *shape[1:])


def _by_side(rows: Array, factor: Array, out: Array) -> Array:
    """The cations' rows times the first factor, the anions' times the second; (rows, cells) by (2, cells)."""
    np.multiply(rows[:ANION_ROWS], factor[0], out=out[:ANION_ROWS])
    np.multiply(rows[ANION_ROWS:], factor[1], out=out[ANION_ROWS:])
    return out


def side_sums(rows: Array) -> Array:
    """Sums over the cations' and the anions' rows."""
    sums = np.empty((2, *rows.shape[1:]))
    np.add.reduce(rows[:ANION_ROWS], axis=0, out=sums[0])
    np.add.reduce(rows[ANION_ROWS:], axis=0, out=sums[1])
    return sums


# --- helpers ---


def _grouped(solutes: Array, groups: dict[str, tuple[str, ...]]) -> Array:
    """Equivalents per m3 of each group, shape (groups, lanes)."""
    equivalents = np.maximum(solutes, 0.0) * np.abs(CHARGE)
    return np.stack([equivalents[:, [INDEX[name] for name in names]].sum(axis=1) for names in groups.values()])


def _hydrogen(excess: Array, carbonic: Array) -> Array:
    """H+ [mol/m3, 25 °C] from strong anions less cations [eq/m3] and carbonic acid [mol/m3]."""
    first = 0.5 * K1 * (1.0 + np.sqrt(1.0 - 4.0 * K2 / K1))  # the two roots of carbonic acid's polynomial
    acidity = np.array([first, K1 * K2 / first, 0.0]).reshape(-1, *[1] * carbonic.ndim)
    amounts = np.stack([carbonic, carbonic])
    strengths = np.concatenate([amounts * acidity[:2], np.full((1, *carbonic.shape), KW)])
    return np.asarray(hydrogen(-excess, amounts, strengths, acidity))


def _crossing(volumes: Array, values: Array, level: Array) -> tuple[Array, Array]:
    """Where each lane first passes its level, straight between points, and the point's index; NaN where it does not."""
    above = values > level[:, None]
    when = np.argmax(above, axis=1)
    lanes = np.arange(len(values))
    before = np.maximum(when - 1, 0)
    v0, v1 = volumes[lanes, before], volumes[lanes, when]
    y0, y1 = values[lanes, before], values[lanes, when]
    part = np.divide(level - y0, y1 - y0, out=np.ones_like(y0), where=y1 > y0)
    return np.where(above.any(axis=1), v0 + np.clip(part, 0.0, 1.0) * (v1 - v0), np.nan), when


def _slip_behind_lag(total: Array, anion_eq: Array, between: Array) -> Array:
    """First slip behind the lag when the lead is changed each time its own water reaches the limit.

    At a change the lag becomes the lead and a fresh vessel its lag. A lead ends full of salts; the carbonic acid it
    lets go loads the lag, a little more at every change, until one day the lag has no hydroxide left.
    """
    slip = np.full_like(between, np.nan)
    loaded = np.zeros_like(between)  # equivalents that the lead brings along
    for change in range(100):
        needs = (2.0 * anion_eq - loaded) / total
        slips = np.isnan(slip) & (needs <= between)
        slip = np.where(slips, change * between + needs, slip)
        loaded = np.clip(total * between - anion_eq + loaded, 0.0, anion_eq)
    return slip
