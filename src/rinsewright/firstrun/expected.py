"""What a plant should read on its first run: the same plant many times over, as it and the instruments may really be.

Every member has its own water, membranes, restrictor, supply and instruments; what all members read is the band. The
meter is one and the same at tap, product and resin, so its errors are shared; so are the gauge's and the bucket's.
Every spread is a statement of ours, with its origin beside it, as a standard deviation unless said otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rinsewright.planning.ensemble import COLD_SPREAD, FILM_SPREAD, Band
from rinsewright.planning.tap import Tap
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.channel import Spread
from rinsewright.plant.part import Fluid
from rinsewright.quantities import BAR, L_MIN, T25, Array, kelvin
from rinsewright.site import build
from rinsewright.site.document import SiteDocument
from rinsewright.solve.result import Batch, solve_batch
from rinsewright.solve.steady import drain_with_product_shut
from rinsewright.water.meter import Meter
from rinsewright.water.state import Water

KEYS = (
    "tap_meter_ppm",
    "product_meter_ppm",
    "after_resin_meter_ppm",
    "product_l_min",
    "drain_l_min",
    "membrane_bar",
    "shutoff_closes_bar",
    "reopens_bar",
)
COLUMN = {key: column for column, key in enumerate(KEYS)}
RESOLUTION = dict(zip(KEYS, (1.0, 1.0, 1.0, 0.05, 0.05, 0.1, 0.1, 0.1), strict=True))  # last digit; flows by the bucket

SEED = 20263
MEMBERS = 2000

# The plant
STRENGTH = 0.05  # ln of the water's strength, today against the analysis or the day it was read (assumed)
PASSAGE = 0.23  # ln B: the least rejection of a data sheet lets 1.4 to 1.8 times the nominal through (from memory)
MIX = 0.12  # ln of the product's strength at equal B: each ion's ratio is known within a factor 1.5 (see selectivity)
COLD_PASSAGE = 0.10  # ln B at 5 °C: activation 3500 ± 400 K (assumed)
RESTRICTOR = 0.065  # ln of its flow: a printed rating holds within 10 to 13 %, nine in ten (common practice, no source)
STANDING = 0.05  # of the supply's pressure, from hour to hour and as a gauge of ±0.1 bar read it (assumed)
STANDING_ESTIMATED = 0.10  # the same where it was worked out from one running test (assumed)
PUMP_HEAD = 0.05  # of what the pump adds (assumed)
SWITCH = 0.03  # of the pressure at which a pump's switch stops it (assumed)
BLENDED = 0.08  # ln of the share of feed water that is blended in: a valve set by a meter of whole ppm (assumed)
CARTRIDGE = 0.25  # of a clean cartridge's loss of pressure (assumed)
ON_THE_WAY = 0.03  # bar that valves, fittings and hose as laid take beside what is stated (assumed)
CLOSES = 0.046  # of the shut-off's ratios: trade articles give 0.6 to 0.7, as a 90 % band (read)
REOPENS = 0.03  # of the lower one, beside what it shares with the upper: friction of spring and seals (assumed)
FRESH_RESIN_PPM = 0.2  # mean of what air and the rinse leave behind fresh resin, exponential (assumed)

# The instruments
THERMOMETER = 0.3  # K: ±0.5 as a 90 % band (common practice, no source)
METER_SCALE = 0.015  # ln: a handheld meter's ±2 to 3 % (common practice, no source)
METER_SLOPE = 0.0012  # per kelvin: natural waters ask for 1.8 to 2.2 %/K, meters apply 2 (from memory)
GAUGE = 0.06  # bar: class 1.6 of 10 bar as a limit, so about half of it (EN 837-1's classes; from memory)
GAUGE_READING = 0.04  # bar, each reading by itself (assumed)
BUCKET = 0.02  # ln: the marks of the bucket, shared by product and drain (assumed)
WATCH = 0.02  # ln, each flow by itself (assumed)


@dataclass(frozen=True)
class Conditions:
    """Today: water temperature and, where it was read, the supply's pressure at the tap while it runs."""

    temperature_c: float
    running_bar: float | None = None  # at the tap
    running_l_min: float | None = None  # the flow at which it was read; None: the plant's own


@dataclass(frozen=True)
class Causes:
    """How each member's plant differs from what is stated, as factors; arrays (members,)."""

    water_permeance: Array  # at today's temperature
    salt_passage: Array
    restrictor_flow: Array
    feed_pressure: Array  # before the membranes, by what is lost on the way to them


@dataclass(frozen=True)
class Prediction:
    """All lines as all members read them, in the keys' units; not-a-number where the plant has no such line."""

    conditions: Conditions
    central: Array  # (keys,), unrounded, with faultless instruments
    members: Array  # (members, keys), with the errors of instruments, displays and buckets
    causes: Causes
    batch: Batch  # lane 0 is the central one, then the members

    @property
    def feed_l_min(self) -> float:
        """What the central plant draws from the tap [L/min]."""
        return float(self.batch.state.tap_flow[0] / L_MIN)

    @property
    def never_closes(self) -> float:
        """Share of the members whose shut-off never stops the drain."""
        return float(np.isnan(self.members[:, COLUMN["shutoff_closes_bar"]]).mean())

    def band(self, key: str) -> Band:
        """The band of one line before anything is measured."""
        column = COLUMN[key]
        return _band(key, float(self.central[column]), self.members[:, column])


def predict(
    document: SiteDocument, plant: Plant, tap: Tap, conditions: Conditions, members: int = MEMBERS, seed: int = SEED
) -> Prediction:
    """Solve the plant for all members under today's conditions and read every line with every member's instruments.

    Raises :class:`NoWorkingState` where the central plant does not work.
    """
    temperature, running = np.array([conditions.temperature_c]), None
    if conditions.running_bar is not None:
        running = np.array([conditions.running_bar])
    seen = _see(document, plant, tap, _Day(temperature, running, conditions.running_l_min), _Chance(members, 1, seed))
    reason = seen.batch.refusal(0)
    if reason is not None:
        raise reason
    return Prediction(conditions, seen.central[0], seen.members[0], seen.causes, seen.batch)


def bands_over(
    document: SiteDocument, plant: Plant, tap: Tap, temperature_c: Array, running_bar: Array | None, members: int
) -> dict[str, list[Band]]:
    """Every line's band under many conditions at once, arrays (conditions,); not known where the plant does not work.

    ``running_bar`` is at the tap at the plant's own flow; None leaves the pressure to the supply's curve.
    """
    days = len(temperature_c)
    seen = _see(document, plant, tap, _Day(temperature_c, running_bar), _Chance(members, days))
    works = [seen.batch.refusal(day * (members + 1)) is None for day in range(days)]
    return {
        key: [
            _band(key, seen.central[day, column], seen.members[day, :, column]) if works[day] else Band(None)
            for day in range(days)
        ]
        for key, column in COLUMN.items()
    }


def _band(key: str, central: float, members: Array) -> Band:
    if 2 * np.isfinite(members).sum() < len(members):  # as a shut-off that most waters would not let close
        return Band(None)
    band = Band.of(float(central), members)
    if key == "after_resin_meter_ppm" and band.value is not None and band.value < RESOLUTION[key]:
        return Band(band.value, float(np.floor(band.low or 0.0)), float(np.ceil(band.high or 0.0)))
    return band


@dataclass(frozen=True)
class _Day:
    """Conditions side by side; arrays (conditions,). Lanes are all members of the first, of the second and so on."""

    temperature_c: Array
    running_bar: Array | None
    running_l_min: float | None = None


class _Chance:
    """What the members differ by: drawn once, and the same under all conditions."""

    def __init__(self, members: int, conditions: int, seed: int = SEED) -> None:
        self.rng = np.random.default_rng(seed)
        self.members = members
        self.conditions = conditions

    @property
    def lanes(self) -> int:
        """Members and the central one, under all conditions."""
        return (self.members + 1) * self.conditions

    def draw(self, spread: Array | float) -> Array:
        """Deviations of the members, none for the central lane; ``spread`` may differ from lane to lane."""
        normal = self.rng.standard_normal(self.members + 1)
        normal[0] = 0.0
        return np.asarray(spread * np.tile(normal, self.conditions))

    def per_lane(self, values: Array) -> Array:
        """Values (conditions,) for each lane."""
        return np.repeat(values, self.members + 1)


@dataclass(frozen=True)
class _Seen:
    """What all members read under all conditions."""

    central: Array  # (conditions, keys)
    members: Array  # (conditions, members, keys)
    causes: Causes  # of the members under the first conditions
    batch: Batch


def _see(document: SiteDocument, plant: Plant, tap: Tap, day: _Day, chance: _Chance) -> _Seen:
    draw, rng, n, members = chance.draw, chance.rng, chance.lanes, chance.members
    stated_k = chance.per_lane(kelvin(day.temperature_c))
    warm = stated_k + draw(THERMOMETER)
    water = _waters(tap, np.exp(draw(STRENGTH)), np.clip(warm, 273.15, 318.15), chance)
    cold = np.maximum(0.0, (T25 - stated_k) / 20.0)
    tolerance = max((element.tolerance for element in plant.elements), default=0.0)
    spread = Spread(
        water=np.exp(draw(np.hypot(tolerance / 1.645, COLD_SPREAD * cold))),
        salt=np.exp(draw(np.hypot(PASSAGE, COLD_PASSAGE * cold))),
        film=np.exp(draw(FILM_SPREAD)),
        restrictor=np.exp(draw(RESTRICTOR)),
    )
    gauge = draw(GAUGE) * BAR
    supplied = _supplied(plant, water, day, gauge, chance)
    batch = solve_batch(supplied.plant, water, supplied.standing, spread=spread)

    slope = draw(METER_SLOPE)
    meter = _Meter(build.meter_factor(document), 0.02 + slope, np.exp(draw(METER_SCALE)))
    bucket, mix = np.exp(draw(BUCKET)), np.exp(draw(MIX))
    state, waters = batch.state, batch.waters
    values = np.full((n, len(KEYS)), np.nan)

    def put(key: str, column: Array) -> None:
        values[:, COLUMN[key]] = column

    put("tap_meter_ppm", meter.reads(waters.tap))
    blended = np.exp(draw(BLENDED)) if plant.blend_share > 0.0 else 1.0
    put("product_l_min", (state.product_flow + blended * state.blend_flow) / L_MIN * bucket * np.exp(draw(WATCH)))
    if plant.resin is not None:
        residue = FRESH_RESIN_PPM * rng.exponential(size=members + 1)
        residue[0] = FRESH_RESIN_PPM
        put("after_resin_meter_ppm", meter.reads(waters.delivered) * blended + np.tile(residue, chance.conditions))
    if plant.stages:
        put("product_meter_ppm", meter.reads(waters.product) * mix)
        put("drain_l_min", state.drain_flow / L_MIN * bucket * np.exp(draw(WATCH)))
        put("membrane_bar", (state.membrane_pa + gauge) / BAR + draw(GAUGE_READING))
        closes, reopens = _shut_off(plant, batch, supplied, draw(CLOSES), draw(REOPENS))
        put("shutoff_closes_bar", (closes + gauge) / BAR + draw(GAUGE_READING))
        put("reopens_bar", (reopens + gauge) / BAR + draw(GAUGE_READING))
    values[np.logical_not(state.solved)] = np.nan
    # A rounded reading is off by up to half a digit either way; so drawn, bands do not jump from digit to digit.
    digit = np.array([RESOLUTION[key] for key in KEYS]) * rng.uniform(-0.5, 0.5, (members, len(KEYS)))
    read = values.reshape(chance.conditions, members + 1, len(KEYS))
    first = slice(1, members + 1)
    causes = Causes(
        water_permeance=np.asarray(spread.water)[first],
        salt_passage=(spread.salt * mix)[first],
        restrictor_flow=np.asarray(spread.restrictor)[first],
        feed_pressure=np.exp(-supplied.lost[first] / state.membrane_pa[0]),
    )
    return _Seen(read[:, 0], np.maximum(read[:, 1:] + digit, 0.0), causes, batch)


@dataclass(frozen=True)
class _Meter:
    """Handheld meters, one a member: compensation [1/K] and scale; arrays (members,)."""

    factor: float
    slope: Array
    scale: Array

    def reads(self, water: Water) -> Array:
        """ppm, not rounded."""
        plain = Meter(self.factor, resolution_ppm=0.0, full_scale_ppm=np.inf).reading(water)
        away = np.asarray(water.temperature_k) - T25
        return np.asarray(plain * (1.0 + 0.02 * away) / (1.0 + self.slope * away) * self.scale)


def _waters(tap: Tap, strength: Array, temperature_k: Array, chance: _Chance) -> Water:
    """The central water, then each member's: one of the tap's likely waters, somewhat stronger or weaker today."""
    likely = tap.members
    chosen = chance.rng.permutation(np.arange(chance.members) % len(likely.solutes))
    solutes = np.concatenate([tap.water.solutes, likely.solutes[chosen]])
    carbon = np.concatenate([tap.water.carbon, likely.carbon[chosen]])
    times = chance.conditions
    return Water(np.tile(solutes, (times, 1)) * strength[:, None], np.tile(carbon, times) * strength, temperature_k)


@dataclass(frozen=True)
class _Supplied:
    """The pressure that each member's plant gets; Pa, arrays (members,)."""

    plant: Plant  # without the supply's resistance where the pressure was read while the plant ran
    standing: Array  # what that plant is solved for
    extra: Array  # of it, what stands for pump, cartridges and the way to the membranes other than stated
    lost: Array  # of that, what the cartridges and the way take
    resistance: float  # of the supply's curve
    head: Array  # the most that the pump adds
    stops: Array  # pressure behind the pump at which its switch stops it

    def shut(self, tap_flow: Array) -> Array:
        """Pressure at the tap at no flow."""
        standing = self.standing - self.extra
        if self.plant.supply.resistance == self.resistance:
            return standing
        return np.asarray(standing + self.resistance * tap_flow**2)


def _supplied(plant: Plant, water: Water, day: _Day, gauge: Array, chance: _Chance) -> _Supplied:
    """The supply today: by its curve, or as it was read. What is off its statement on the way counts as pressure."""
    supply, runs, draw = plant.supply, plant, chance.draw
    if day.running_bar is None:
        share = STANDING_ESTIMATED if supply.standing_estimated else STANDING
        standing = supply.standing_pa * (1.0 + draw(share))
    else:
        standing = (chance.per_lane(day.running_bar) + draw(GAUGE_READING)) * BAR - gauge
        if day.running_l_min is None:
            runs = replace(plant, supply=replace(supply, resistance=0.0))
        else:
            standing = standing + supply.resistance * (day.running_l_min * L_MIN) ** 2
    central = slice(None, None, chance.members + 1)
    first = solve_batch(runs, water[central], standing[central])
    # Where the central plant does not work there is no flow to lose pressure by; who asked is told so.
    flow = chance.per_lane(np.where(first.state.solved, first.state.tap_flow, 0.0))
    fluid = Fluid.at(chance.per_lane(np.asarray(water.temperature_k)[central]))
    added, lost = np.zeros(len(standing)), draw(ON_THE_WAY) * BAR
    head, stops, pump = np.zeros(len(standing)), np.full(len(standing), np.inf), plant.pump
    if pump is not None:
        off = draw(PUMP_HEAD)
        added, head = off * pump.added(flow), (1.0 + off) * pump.dead_head_pa
        if pump.cut_out_pa is not None:
            stops = pump.cut_out_pa * (1.0 + draw(SWITCH))
    for part in plant.feed:
        if isinstance(part, Cartridge):
            lost = lost + draw(CARTRIDGE) * part.drop(flow, fluid)
    extra = added - lost
    return _Supplied(runs, standing + extra, extra, lost, supply.resistance, head, stops)


def _shut_off(plant: Plant, batch: Batch, supplied: _Supplied, ratio: Array, own: Array) -> tuple[Array, Array]:
    """Product pressure [Pa] at which the automatic shut-off closes the feed, and at which it opens it again.

    It closes at a share of the feed pressure while the drain still runs. By then the product has dwindled to what the
    rest of the pressure drives, q = k·(p_feed − p_product − π), and the feed pressure has risen from its running value
    towards that at no product, along a parabola through that at half of it. Where the osmotic pressure π keeps the
    product below that share it never closes (not-a-number). It opens again at a share of the pressure that then stands
    before it: what supply and pump give at no flow, or where the pump's switch has stopped it.
    """
    valve = plant.shutoff
    if valve is None:
        nothing = np.full(len(batch), np.nan)
        return nothing, nothing
    at_tap = supplied.shut(batch.state.tap_flow)
    warm, standing, made = batch.conditions.temperature_k, at_tap + supplied.extra, batch.state.product_flow
    _, no_product = drain_with_product_shut(plant, warm, standing)
    _, half = drain_with_product_shut(plant, warm, standing, 0.5 * np.where(batch.state.solved, made, 0.0))
    osmotic, running = batch.conditions.salt.osmotic, batch.state.membrane_pa
    drive = running - batch.state.product_pa - osmotic
    share = valve.closes_at_ratio * (1.0 + ratio)
    feed = no_product = np.minimum(no_product, supplied.stops)
    bent = 4.0 * half - 2.0 * (no_product + running)
    for _ in range(4):
        left = np.clip((feed * (1.0 - share) - osmotic) / drive, 0.0, 1.0)
        feed = no_product - (no_product - running) * left + bent * left * (1.0 - left)
    closes, never = share * feed, feed * (1.0 - share) < osmotic
    reopens = valve.reopens_at_ratio * (1.0 + ratio + own) * np.minimum(at_tap + supplied.head, supplied.stops)
    return np.where(never, np.nan, closes), np.where(never, np.nan, reopens)
