"""Healthy plants and faulty ones, drawn at random, and what a person reads on their first run.

A small lumped model written apart from the program under test: it reads the site file itself and shares neither the
temperature law, nor the ions, nor the mass transfer, nor the conductivity with the bands it is held against. Every
spread is a statement of its own, with its reason beside it; none was fitted to the bands. Units: bar, L/min, °C,
meq/L, µS/cm; arrays (sheets,) throughout.

It knows tubes, cartridges, a softener, a pump with its switch, drain water led back to it, and feed water blended into
the product behind the resin.

Laws, all from memory: water 3 %/K and salt 3.75 %/K (common practice); Sh = 0.14 Re^0.64 Sc^0.42 in spacer-filled
channels (Geraldes, Pereira, Norberta de Pinho 2005); viscosity by Vogel's three constants; osmotic pressure 0.7 bar per
g/L of tap salts and 0.79 of NaCl; Kohlrausch's square-root law for conductivity; pK1 of carbonic acid linear in T.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Table = dict[str, Any]

# ---- water: what the drawn taps are made of ----

IONS = ("Ca", "Mg", "Na", "HCO3", "SO4", "Cl", "NO3")
MG_PER_MEQ = np.array([20.04, 12.15, 22.99, 61.02, 48.03, 35.45, 62.00])
CHARGE = np.array([2.0, 2.0, 1.0, 1.0, 2.0, 1.0, 1.0])
CATION = np.array([True, True, True, False, False, False, False])
LAMBDA = np.array([59.5, 53.1, 50.1, 44.5, 80.0, 76.4, 71.4])  # µS/cm per meq/L, 25 °C, handbooks (from memory)
LAMBDA_H = 350.0
# Passage of each ion against that of NaCl, between two kinds of lists that the trade prints (from memory)
RELATIVE = np.array([0.5, 0.5, 1.0, 1.0, 0.4, 1.0, 2.0])

# ---- spreads: standard deviations unless said otherwise ----

TODAY = 0.05  # ln of the tap's strength: 5 to 10 % from day to day, against the year's mean of a report
EACH_ION = 0.04  # ln: a laboratory's statement of each ion
SUPPLY = 0.05  # of the standing pressure: mains swing by a few tenths of a bar within a day
SUPPLY_CURVE = 0.15  # ln of its resistance: two gauge readings, a few tenths of a bar apart
CARTRIDGE = 0.2  # ln of a clean cartridge's loss; of a softener's too
PUMP = 0.08  # as a 90 % range, of what it adds: acceptance grades of pumps allow 5 to 7 %, and its voltage moves it
CUT_OUT = 0.05  # as a 90 % range, of the pressure at which its switch stops it: 0.3 to 0.4 bar of what is printed
SOFT_LEAK = 0.4  # ln of the hardness that passes a softener: from a half to twice what is stated, with salt and age
RETURNED = 0.15  # as a 90 % range, of the drain water led back: a needle valve set by bucket and watch, then moved on
BLENDED = 0.15  # as a 90 % range, of the feed water's share in what is delivered: a valve set by a meter of whole ppm
FLOW_TOLERANCE = 0.15  # makers' own statement for one element's flow, as a 90 % range
ONE_ROLL = 0.75  # share of an element's variance that its batch has in common: leaves off one roll
PASSAGE = 0.20  # ln of the batch: nominal 98.5 and least 98 % or so mean a factor 1.3 to 2 in passage at two sigma
PASSAGE_OWN = 0.10  # ln of each element beside its batch
EACH_PASSAGE = 0.20  # ln of each ion's ratio: lists differ by a factor 1.5
FILM = 0.20  # ln: published mass-transfer laws scatter by this and more
WATER_PER_K = (1.026, 1.034)  # evenly: viscosity alone gives 2.6 %/K, the steepest published law 3.4
SALT_PER_K = (1.030, 1.045)  # evenly
RESTRICTOR = 0.10  # as a 90 % range: a printed rating
CLOSES = 0.05  # evenly either way, of the ratio: trade articles give 0.6 to 0.7
REOPENS = 0.03  # ln, beside what it shares with closing
THERMOMETER = 0.3  # K; then read to half a degree
METER = 0.02  # as a 90 % range, one meter for all readings: handheld meters' own statement; then whole ppm
OWN_PER_K = (0.0185, 0.0215)  # evenly: conductivity of natural waters with temperature; the meter takes off 2 %/K
GAUGE = 0.10  # bar, as a 90 % range, one gauge for all; then read to 0.1
BUCKET = 0.03  # as a 90 % range, two thirds of its variance the marks (shared), the rest the watch; then read to 0.05
FRESH_RESIN = (0.1, 1.0)  # µS/cm, evenly: the best to the usual water behind fresh mixed bed
NINETY = 1.645


@dataclass(frozen=True)
class Fault:
    """What is wrong; nothing by default."""

    leak: float = 0.0  # share of the feed that passes into the product
    supply_bar: float = 0.0  # added to the supply
    before_membranes_bar: float = 0.0  # lost between the tap and the membranes
    restrictor: float = 1.0  # factor on its flow
    resin_spent: bool = False
    tap_factor: float | None = None  # another meter for the tap
    product_factor: float | None = None  # another meter for the product
    shutoff_stuck: bool = False


HEALTHY = Fault()


@dataclass(frozen=True)
class Sheets:
    """Readings of many first runs: what the person wrote, and the same before gauge, meter and bucket rounded it."""

    temperature_c: Array  # as read
    running_bar: Array  # as read at the tap
    running_l_min: Array  # as read
    written: dict[str, Array]  # not-a-number: the shut-off never stopped the drain
    felt: dict[str, Array]

    def measured(self, number: int) -> dict[str, float | str]:
        """One sheet, as the record takes it."""
        values = {key: float(column[number]) for key, column in self.written.items()}
        return {key: "never" if np.isnan(value) else value for key, value in values.items()}

    def __len__(self) -> int:
        return len(self.temperature_c)


# ---- laws ----


def viscosity(t_c: Array) -> Array:
    """mPa s; Vogel's law with 0.02939, 507.88 and 149.3 (from memory)."""
    return np.asarray(0.02939 * np.exp(507.88 / (t_c + 273.15 - 149.3)))


def diffusivity(t_c: Array) -> Array:
    """m2/s, of a tap's salts: 1.3e-9 at 25 °C, Stokes-Einstein."""
    return np.asarray(1.3e-9 * (t_c + 273.15) / 298.15 * viscosity(np.array(25.0)) / viscosity(t_c))


def conductivity(meq: Array, hydrogen: Array | float = 0.0) -> Array:
    """µS/cm at 25 °C of (..., ions) in meq/L, each with its λ0, lowered as Kohlrausch's square-root law has it.

    The slope 0.57 of 1-1 salts grows with the mean charge of what carries, as CaCl2 and Na2SO4 ask for.
    """
    total = meq.sum(-1)
    charge = (meq * CHARGE).sum(-1) / np.maximum(total, 1e-12)
    lowered = 0.57 * charge**1.9 * np.sqrt(0.5e-3 * total)
    return np.asarray((meq * LAMBDA).sum(-1) * (1.0 - lowered) + LAMBDA_H * hydrogen)


def acid(bicarbonate: Array, co2: float, t_c: Array) -> Array:
    """Hydrogen ions [meq/L] that carbon dioxide [mmol/L], which no membrane holds back, sets free in the product."""
    k1 = 10.0 ** -(6.58 - 0.009 * t_c) * 1e3  # mmol/L
    half = 0.5 * bicarbonate
    return np.asarray(-half + np.sqrt(half**2 + k1 * co2))


def film(element: Table, feed_l_min: Array, t_c: Array) -> Array:
    """Mass-transfer coefficient [m/s] at one feed flow of one element."""
    height, porosity = element["channel_mm"] * 1e-3, element["porosity"]
    hydraulic = 4.0 * porosity / (2.0 / height + 8.0 * (1.0 - porosity) / height)
    wide = element["area_m2"] / (2.0 * element["length_m"])
    speed = np.maximum(feed_l_min, 0.05) / 6e4 / (wide * height * porosity)
    nu, diffusion = viscosity(t_c) * 1e-6, diffusivity(t_c)
    sherwood = 0.14 * (speed * hydraulic / nu) ** 0.64 * (nu / diffusion) ** 0.42
    return np.asarray(sherwood * diffusion / hydraulic)


def channel_loss(element: Table, flow_l_min: Array) -> Array:
    """bar along one element: 0.2 at the feed flow of its rating, with the flow to 1.7 (common practice, no source)."""
    rated = element["rated"]
    at = rated["product_l_h"] / 60.0 / (rated["recovery_pct"] / 100.0)
    return np.asarray(0.2 * (np.maximum(flow_l_min, 0.0) / at) ** 1.7)


def permeances(element: Table) -> tuple[float, float]:
    """Water [m/s per bar] and salt [m/s] at 25 °C from the rating, the element taken as one well-mixed length."""
    rated = element["rated"]
    recovery, passage = rated["recovery_pct"] / 100.0, 1.0 - rated["rejection_pct"] / 100.0
    flux = rated["product_l_h"] / 3.6e6 / element["area_m2"]
    feed = rated["product_l_h"] / 60.0 / recovery
    warm = np.array(rated["temperature_c"], dtype=float)
    through = float(film(element, np.array(feed * (1.0 - recovery / 2.0)), warm)) * (1.6 / 1.3) ** (1.0 - 0.42)  # NaCl
    wall = float(np.log(1.0 / (1.0 - recovery)) / recovery * np.exp(flux / through))  # of the feed's strength
    osmotic = 0.79e-3 * rated["nacl_mg_l"] * (wall - passage)
    half = 0.5 * float(channel_loss(element, np.array(feed)))
    return flux / (rated["pressure_bar"] - half - osmotic), flux * passage / (wall - passage)


def tube_loss(part: Table, flow_l_min: Array, t_c: Array) -> Array:
    """bar; 64/Re or Blasius, and fittings."""
    bore = part["bore_mm"] * 1e-3
    speed = flow_l_min / 6e4 / (np.pi / 4.0 * bore**2)
    reynolds = np.maximum(speed * bore / (viscosity(t_c) * 1e-6), 1.0)
    friction = np.maximum(64.0 / reynolds, 0.316 * reynolds**-0.25)
    lost = (friction * part["length_m"] / bore + part.get("fittings_k", 0.0)) * 500.0 * speed**2
    return np.asarray(lost / 1e5)


# ---- one drawn set of plants ----


@dataclass(frozen=True)
class Plants:
    """Many plants of one site, each somewhat different."""

    site: Table
    t_c: Array
    tap: Array  # (sheets, ions) meq/L
    standing: Array  # bar
    resistance: Array  # bar per (L/min)²
    cartridge: Array
    water: list[Array]  # of each element, m/s per bar at its temperature
    salt: list[Array]  # of each element, m/s for NaCl
    relative: Array  # (sheets, ions)
    film: Array
    restrictor: Array
    pump: Array
    cut_out: Array
    softener: Array
    returned: Array
    blended: Array
    fault: Fault = field(default_factory=Fault)

    @property
    def elements(self) -> list[Table]:
        """The [[plant.membranes]] tables."""
        return list(self.site["plant"]["membranes"])

    @property
    def stages(self) -> list[list[int]]:
        """Places of the elements: those of one stage stand side by side."""
        places = list(range(len(self.elements)))
        return [[place] for place in places] if self.site["plant"].get("arrangement") == "series" else [places]

    def part(self, line: str, kind: str) -> Table | None:
        """The first part of a kind on a line."""
        return next((part for part in self.site["plant"].get(line, []) if part["part"] == kind), None)

    @property
    def feed(self) -> Array:
        """What the membranes get of the tap's water: softened, equivalent by equivalent, where there is a softener."""
        softener = self.part("feed", "softener")
        if softener is None:
            return self.tap
        kept = np.minimum(softener["hardness_leak_share"] * self.softener, 1.0)[:, None]
        hard = self.tap[:, :2] * (1.0 - kept)
        return np.column_stack([self.tap[:, :2] - hard, self.tap[:, 2] + hard.sum(-1), self.tap[:, 3:]])

    @property
    def recirculation(self) -> Array:
        """L/min of drain water led back to the pump."""
        return np.asarray(self.site["plant"].get("recirculation_l_min", 0.0) * self.returned)

    @property
    def blend(self) -> Array:
        """Share of what is delivered that is feed water."""
        part = self.part("product", "blend")
        return np.asarray(part["share"] * self.blended if part else np.zeros_like(self.t_c))

    @property
    def most(self) -> Array:
        """bar before the membranes that the plant cannot exceed: at no flow, or where the pump's switch stops it."""
        pump = self.part("feed", "pump")
        return self.standing if pump is None else self._pumped(pump, self.standing, np.zeros_like(self.t_c))

    def at_tap(self, tap: Array) -> Array:
        """Pressure at the tap while that much is drawn."""
        return np.asarray(self.standing - self.resistance * tap**2)

    def at_membranes(self, tap: Array) -> Array:
        """Pressure before the first membrane."""
        left = self.at_tap(tap) - self.fault.before_membranes_bar
        flow = tap
        for part in self.site["plant"].get("feed", []):
            if part["part"] == "tube":
                left = left - tube_loss(part, flow, self.t_c)
            elif part["part"] in ("cartridge", "softener"):
                left = left - part["clean_drop_bar"] * flow / part["at_l_min"] * self.cartridge * self._thick()
            elif part["part"] == "pump":
                flow = flow + self.recirculation
                left = self._pumped(part, left, flow)
            elif part["part"] != "inhibitor":
                raise ValueError(f"no such feed part here: {part['part']}")
        return np.asarray(left)

    def _pumped(self, part: Table, inlet: Array, flow: Array) -> Array:
        """bar behind the pump: straight lines through the points of its curve, up to where its switch stops."""
        at, adds = (np.array([point[key] for point in part["curve"]]) for key in ("flow_l_min", "bar"))
        place = np.clip(np.searchsorted(at, flow) - 1, 0, len(at) - 2)
        slope = (adds[place + 1] - adds[place]) / (at[place + 1] - at[place])
        behind = inlet + (adds[place] + slope * (flow - at[place])) * self.pump
        return np.asarray(np.minimum(behind, part.get("cut_out_bar", np.inf) * self.cut_out))

    def product_line(self, flow: Array) -> Array:
        """bar that the way to the tank takes."""
        lost = np.zeros_like(flow)
        for part in self.site["plant"].get("product", []):
            kind = part["part"]
            if kind == "lift":
                lost = lost + 0.0981 * part["height_m"]
            elif kind == "resin":
                lost = lost + part.get("drop_bar", 0.1) * flow / part.get("at_l_min", 8.0) * self._thick()
            elif kind == "tank":
                lost = lost + (flow / part["float_open_l_min"]) ** 2
            elif kind == "tube":
                lost = lost + tube_loss(part, flow, self.t_c)
            elif kind not in ("check", "shutoff", "blend"):
                raise ValueError(f"no such product part here: {kind}")
        return lost

    def drained(self, pressure: Array) -> Array:
        """L/min through the restrictor."""
        part = next(part for part in self.site["plant"]["drain"] if part["part"] == "restrictor")
        share = np.maximum(pressure, 0.0) / part["at_bar"]
        return np.asarray(part["flow_l_min"] * self.restrictor * self.fault.restrictor * share ** part["exponent"])

    def _thick(self) -> Array:
        return np.asarray(viscosity(self.t_c) / viscosity(np.array(20.0)))

    def train(self, pressure: Array, feed: Array, ions: Array, back: Array) -> tuple[Array, Array, Array, Array]:
        """All membranes: product [L/min], what it carries [meq/L × L/min, (sheets, ions)], pressure and ions left.

        Four lengths an element, each with the flow and strength of its own middle.
        """
        made, carried = np.zeros_like(feed), np.zeros_like(self.tap)
        flow = feed
        for stage in self.stages:
            for _ in range(4):
                flux_total, salt_total = np.zeros_like(feed), np.zeros_like(self.tap)
                share = flow / len(stage)
                element = self.elements[stage[0]]
                pressure = pressure - channel_loss(element, share) / 4.0
                for place in stage:
                    flux, salt = self._length(place, pressure - back, share, ions)
                    flux_total, salt_total = flux_total + flux, salt_total + salt
                left = np.maximum(flow - flux_total, 0.02 * feed)
                ions = np.maximum(flow[:, None] * ions - salt_total, 0.0) / left[:, None]
                made, carried, flow = made + flux_total, carried + salt_total, left
        return made, carried, pressure, ions

    def _length(self, place: int, net: Array, flow: Array, ions: Array) -> tuple[Array, Array]:
        """A quarter of an element: product [L/min] and the ions that it carries."""
        element = self.elements[place]
        area = element["area_m2"] / 4.0 * 6e4  # L/min per m/s
        k = film(element, flow, self.t_c) * self.film
        osmotic = 0.7e-3 * (ions * MG_PER_MEQ).sum(-1)
        flux = np.maximum(self.water[place] * (net - osmotic), 0.0)
        for _ in range(5):
            middle = np.clip(1.0 - 0.5 * flux * area / np.maximum(flow, 1e-3), 0.3, 1.0)
            wall = np.exp(np.minimum(flux / k, 3.0)) / middle
            flux = 0.5 * (flux + np.maximum(self.water[place] * (net - osmotic * wall), 0.0))
        salt = self.salt[place][:, None] * self.relative
        at_wall = ions * wall[:, None]
        loose = salt * at_wall / np.maximum(flux[:, None] + salt, 1e-12)
        # Cations and anions pass in equal number: a potential favours the one and holds the other back.
        tilt = np.sqrt(loose[:, ~CATION].sum(-1) / loose[:, CATION].sum(-1))
        loose = loose * np.where(CATION, tilt[:, None], 1.0 / tilt[:, None])
        return flux * area, (flux * area)[:, None] * loose

    def run(self, back: Array | None = None) -> State:
        """The working state, by halving the tap's flow; at a given product pressure, else against the product line."""
        low, high = np.full_like(self.t_c, 0.1), np.full_like(self.t_c, 60.0)
        held = np.full_like(self.t_c, 0.3) if back is None else back
        made, carried, end = np.zeros_like(low), np.zeros_like(self.tap), low
        leak, feed, returned, mixed = self.fault.leak, self.feed, self.recirculation, self.blend / (1.0 - self.blend)
        blend, drain = np.zeros_like(low), feed
        # While what the tap's flow hangs on is not found yet, the bracket is opened a little; drain water takes longest
        settling = range(5, 36 if returned.any() else 18, 6)
        for step in range(settling.stop + 12):
            tap = 0.5 * (low + high)
            inlet, fresh = self.at_membranes(tap), np.maximum(tap - blend, 0.05) * (1.0 - leak)
            through = fresh + returned
            ions = (fresh[:, None] * feed + returned[:, None] * drain) / through[:, None]
            made, carried, end, drain = self.train(inlet, through, ions, held)
            much = fresh - made > self.drained(end)
            low, high = np.where(much, low, tap), np.where(much, tap, high)
            product = made + leak * (tap - blend)
            blend = 0.5 * (blend + mixed * product)
            if back is None:
                held = 0.5 * (held + self.product_line(product + blend))
            if step in settling:
                low, high = 0.97 * low, 1.03 * high
        past = leak * (tap - blend)
        ions = (carried + past[:, None] * feed) / np.maximum(made + past, 1e-6)[:, None]
        return State(tap, made + past, blend, self.drained(end), inlet, ions)


@dataclass(frozen=True)
class State:
    """One working state; L/min, bar, meq/L."""

    tap: Array
    product: Array  # of the membranes
    blend: Array  # feed water that joins it
    drain: Array
    membranes: Array
    ions: Array


def draw(site: Table, sheets: int, rng: np.random.Generator, fault: Fault = HEALTHY) -> Plants:
    """So many plants of one site, on waters from 6 to 18 °C."""
    beside = rng.spawn(1)[0]  # for what not every plant has

    def factor(spread: float) -> Array:
        return np.exp(spread * rng.standard_normal(sheets))

    def within(ninety: float) -> Array:
        return np.asarray(1.0 + ninety / NINETY * beside.standard_normal(sheets))

    t_c = rng.uniform(6.0, 18.0, sheets)
    stated = np.array([site["water"]["ions_mg_l"].get(name, 0.0) for name in IONS])
    stated[2] += site["water"]["ions_mg_l"].get("K", 0.0) * 22.99 / 39.10  # potassium counts as sodium
    tap = stated / MG_PER_MEQ * np.exp(EACH_ION * rng.standard_normal((sheets, len(IONS)))) * factor(TODAY)[:, None]
    tap = np.where(CATION, tap * (tap[:, ~CATION].sum(-1) / tap[:, CATION].sum(-1))[:, None] ** 0.5, tap)
    tap = np.where(CATION, tap, tap * (tap[:, CATION].sum(-1) / tap[:, ~CATION].sum(-1))[:, None])
    supply = site["supply"]
    tests = supply.get("flowing", [])
    losses = [(supply["standing_bar"] - test["pressure_bar"]) / test["flow_l_min"] ** 2 for test in tests]
    curve = np.mean(losses) if losses else 0.0
    away = t_c - 25.0
    water_law, salt_law = rng.uniform(*WATER_PER_K, sheets) ** away, rng.uniform(*SALT_PER_K, sheets) ** away
    roll, passing = rng.standard_normal(sheets), factor(PASSAGE)
    water, salt = [], []
    for element in site["plant"]["membranes"]:
        a, b = permeances(element)
        each = np.sqrt(ONE_ROLL) * roll + np.sqrt(1.0 - ONE_ROLL) * rng.standard_normal(sheets)
        water.append(a * water_law * np.maximum(1.0 + FLOW_TOLERANCE / NINETY * each, 0.5))
        salt.append(b * salt_law * passing * factor(PASSAGE_OWN))
    return Plants(
        site=site,
        t_c=t_c,
        tap=tap,
        standing=supply["standing_bar"] * (1.0 + SUPPLY * rng.standard_normal(sheets)) + fault.supply_bar,
        resistance=curve * factor(SUPPLY_CURVE),
        cartridge=factor(CARTRIDGE),
        water=water,
        salt=salt,
        relative=RELATIVE * np.exp(EACH_PASSAGE * rng.standard_normal((sheets, len(IONS)))),
        film=factor(FILM),
        restrictor=1.0 + RESTRICTOR / NINETY * rng.standard_normal(sheets),
        pump=within(PUMP),
        cut_out=within(CUT_OUT),
        softener=np.exp(SOFT_LEAK * beside.standard_normal(sheets)),
        returned=within(RETURNED),
        blended=within(BLENDED),
        fault=fault,
    )


def shut_off(plants: Plants, closes_at: Array) -> Array:
    """Product pressure [bar] at which the shut-off closes: its share of the feed pressure, reached while the product
    is throttled; not-a-number where the water's osmotic pressure does not let the product get there."""
    low, high = np.zeros_like(closes_at), plants.most
    state = plants.run(high)
    for _ in range(14):
        back = 0.5 * (low + high)
        state = plants.run(back)
        over = back > closes_at * state.membranes
        low, high = np.where(over, low, back), np.where(over, back, high)
    return np.where(state.product > 1e-3, 0.5 * (low + high), np.nan)


def first_runs(text: str, sheets: int, seed: int, fault: Fault = HEALTHY) -> Sheets:
    """So many first runs of a site given as TOML text."""
    site, rng = tomllib.loads(text), np.random.default_rng(seed)
    plants = draw(site, sheets, rng, fault)
    state = plants.run()
    valve = next((part for part in site["plant"]["product"] if part["part"] == "shutoff"), None)

    scale = 1.0 + METER / NINETY * rng.standard_normal(sheets)
    own = rng.uniform(*OWN_PER_K, sheets)
    away = plants.t_c - 25.0
    factor = site["demand"]["meter_factor"]

    def ppm(at_25: Array, by: float = factor) -> Array:
        return np.asarray(at_25 * by * scale * (1.0 + own * away) / (1.0 + 0.02 * away))

    marks = np.sqrt(2.0 / 3.0) * BUCKET / NINETY * rng.standard_normal(sheets)

    def litres(flow: Array) -> Array:
        watch = np.sqrt(1.0 / 3.0) * BUCKET / NINETY * rng.standard_normal(sheets)
        return np.asarray(flow * (1.0 + marks + watch))

    off = GAUGE / NINETY * rng.standard_normal(sheets)
    co2 = _carbon_dioxide(site)
    product = conductivity(state.ions, acid(state.ions[:, 3], co2, plants.t_c))
    felt = {
        "tap_meter_ppm": ppm(conductivity(plants.tap), fault.tap_factor or factor),
        "product_meter_ppm": ppm(product, fault.product_factor or factor),
        "product_l_min": litres(state.product + state.blend),
        "drain_l_min": litres(state.drain),
        "membrane_bar": state.membranes + off,
    }
    if any(part["part"] == "resin" for part in site["plant"]["product"]):
        fresh = rng.uniform(*FRESH_RESIN, sheets)
        blended = conductivity(plants.blend[:, None] * plants.feed)
        felt["after_resin_meter_ppm"] = ppm((product if fault.resin_spent else fresh) + blended)
    if valve is not None:
        ratio = rng.uniform(-CLOSES, CLOSES, sheets)
        reopening = (1.0 + ratio / valve["closes_at_ratio"]) * np.exp(REOPENS * rng.standard_normal(sheets))
        never = np.full(sheets, np.nan)
        closes = never if fault.shutoff_stuck else shut_off(plants, valve["closes_at_ratio"] + ratio)
        felt["shutoff_closes_bar"] = closes + off
        felt["reopens_bar"] = valve["reopens_at_ratio"] * reopening * plants.most + off
    thermometer = plants.t_c + THERMOMETER * rng.standard_normal(sheets)
    return Sheets(
        temperature_c=_to(thermometer, 0.5),
        running_bar=_to(plants.at_tap(state.tap) + off, 0.1),
        running_l_min=_to(litres(state.tap), 0.1),
        written={key: _to(value, _digit(key)) for key, value in felt.items()},
        felt=felt,
    )


def _carbon_dioxide(site: Table) -> float:
    """mmol/L in the tap, from pH and bicarbonate: pK1 6.42 at its temperature (from memory)."""
    water = site["water"]
    return float(water["ions_mg_l"]["HCO3"] / 61.02 * 10.0 ** (6.42 - water["ph"]))


def _digit(key: str) -> float:
    endings: dict[str, float] = {"ppm": 1.0, "l_min": 0.05, "bar": 0.1}
    return next(step for ending, step in endings.items() if key.endswith(ending))


def _to(value: Array, step: float) -> Array:
    return np.asarray(np.round(np.round(value / step) * step, 6))
