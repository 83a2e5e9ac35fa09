"""A plain, slow reference for the steady state of a NaCl plant, written from the conventions of the site file.

Every element is an initial-value problem along its feed channel, integrated with tight adaptive steps; the plant around
it is a handful of equations handed to a root finder. No code is shared with the program under test, and speed is no
aim. SI inside: Pa gauge, m3/s, K, kg/m3 of NaCl. Valid where everything flows forward (product below feed pressure).
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, root

from tests.independent.fluid import STANDARD, WARM, Fluid

BAR = 1e5
L_MIN = 1e-3 / 60
L_H = 1e-3 / 3600
LMH = 1e-3 / 3600
MM = 1e-3
MG_L = 1e-3
ZERO_C = 273.15
GRAVITY = 9.80665
SODIUM_SHARE = 22.98977 / 58.44277

Table = dict[str, Any]


# --- one element ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Element:
    """One spiral-wound element; permeances at 25 °C: water m/(s Pa), salt m/s."""

    area: float
    length: float
    channel: float
    porosity: float
    water_permeance: float
    salt_permeance: float
    water_activation: float = 2700.0
    salt_activation: float = 3500.0
    stage: int = 1

    @property
    def width(self) -> float:
        return self.area / (2 * self.length)

    @property
    def hydraulic_diameter(self) -> float:
        return 4 * self.porosity / (2 / self.channel + 8 * (1 - self.porosity) / self.channel)

    def permeances(self, t_k: float) -> tuple[float, float]:
        cold = 1 / WARM - 1 / t_k
        return (
            self.water_permeance * math.exp(self.water_activation * cold),
            self.salt_permeance * math.exp(self.salt_activation * cold),
        )


@dataclass(frozen=True)
class Stream:
    """What passes a place: pressure Pa gauge, flow m3/s, NaCl kg/m3."""

    pressure: float
    flow: float
    nacl: float


@dataclass(frozen=True)
class Passed:
    """What leaves an element or a stage: concentrate, product, and the mean of wall over bulk concentration."""

    concentrate: Stream
    product: Stream
    wall_to_bulk: float
    feed_flows: tuple[float, ...]
    product_flows: tuple[float, ...]


def channel_transfer(element: Element, flow: float, t_k: float, fluid: Fluid) -> tuple[float, float]:
    """Mass-transfer coefficient, m/s, and pressure gradient, Pa/m, of the feed channel at one flow."""
    rho, mu, diffusivity = fluid.density(t_k), fluid.viscosity(t_k), fluid.diffusivity(t_k)
    d_h = element.hydraulic_diameter
    velocity = flow / (element.width * element.channel * element.porosity)
    reynolds = rho * velocity * d_h / mu
    sherwood = 0.065 * reynolds**0.875 * (mu / (rho * diffusivity)) ** 0.25
    spacer = sherwood * diffusivity / d_h
    slit = 7.54 * diffusivity / (2 * element.channel) if fluid.laminar_film else 0.0
    friction = 6.23 * reynolds**-0.3
    gradient = friction / d_h * rho * velocity**2 / 2 if fluid.channel_loss else 0.0
    return (spacer**3 + slit**3) ** (1 / 3), gradient


def local_product(
    net: float, bulk: float, k: float, a: float, b: float, t_k: float, fluid: Fluid
) -> tuple[float, float, float]:
    """Water flux m/s, product kg/m3 and wall kg/m3 where feed less product pressure is `net` Pa."""

    def salts(flux: float) -> tuple[float, float]:
        film = math.exp(flux / k) if fluid.film else 1.0
        product = b * film * bulk / (flux + b * film)
        return product, product + (bulk - product) * film

    if net <= 0:  # only met on the root finder's way: no salt is told apart, no water pushed back through
        return a * net, bulk, bulk

    def excess(flux: float) -> float:
        product, wall = salts(flux)
        return flux - a * (net - fluid.osmotic(wall, t_k) + fluid.osmotic(product, t_k))

    flux = float(brentq(excess, 0.0, a * net * (1 + 1e-9), xtol=1e-20, rtol=1e-14))
    return flux, *salts(flux)


def march(
    element: Element,
    inlet: Stream,
    product_pressure: float,
    t_k: float,
    fluid: Fluid = STANDARD,
    rtol: float = 1e-10,
    method: str = "DOP853",
) -> Passed:
    """Integrate one element from inlet to outlet: pressure, flow and salt of the feed side, salt of the product."""
    a, b = element.permeances(t_k)

    def slopes(x: float, state: np.ndarray) -> list[float]:
        pressure, flow, salt = inlet.pressure + state[0], state[1] * inlet.flow, state[2] * inlet.flow * inlet.nacl
        flow = max(flow, 1e-6 * inlet.flow)
        bulk = salt / flow
        k, gradient = channel_transfer(element, flow, t_k, fluid)
        flux, product, wall = local_product(pressure - product_pressure, bulk, k, a, b, t_k, fluid)
        across = 2 * element.width * flux
        return [-gradient, -across / inlet.flow, -across * product / (inlet.flow * inlet.nacl), wall / bulk]

    scale = np.array([abs(inlet.pressure) + BAR, 1.0, 1.0, element.length])
    solution = solve_ivp(
        slopes, (0.0, element.length), [0.0, 1.0, 1.0, 0.0], method=method, rtol=rtol, atol=rtol * 1e-2 * scale
    )
    if not solution.success:
        raise ArithmeticError(solution.message)
    loss, flow_left, salt_left, wall = solution.y[:, -1]
    out = Stream(inlet.pressure + loss, flow_left * inlet.flow, inlet.nacl * salt_left / flow_left)
    made = (1 - flow_left) * inlet.flow
    product = Stream(product_pressure, made, inlet.nacl * (1 - salt_left) / (1 - flow_left) if made else inlet.nacl)
    return Passed(out, product, wall / element.length, (inlet.flow,), (made,))


def rate(element: Element, rated: Table, fluid: Fluid = STANDARD) -> Element:
    """Find the two permeances that make the same model reproduce the data sheet."""
    flow = rated["product_l_h"] * L_H
    feed = Stream(rated["pressure_bar"] * BAR, 100 * flow / rated["recovery_pct"], rated["nacl_mg_l"] * MG_L)
    passage = 1 - rated["rejection_pct"] / 100
    t_k = rated["temperature_c"] + ZERO_C
    flux = flow / element.area
    start = np.log([flux / (feed.pressure - fluid.osmotic(feed.nacl, t_k)), flux * passage])

    def misses(log_permeances: np.ndarray) -> list[float]:
        a, b = np.exp(log_permeances)
        warmth = 1 / WARM - 1 / t_k
        trial = replace(
            element,
            water_permeance=a * math.exp(-element.water_activation * warmth),
            salt_permeance=b * math.exp(-element.salt_activation * warmth),
        )
        product = march(trial, feed, 0.0, t_k, fluid).product
        return [product.flow / flow - 1, product.nacl / (passage * feed.nacl) - 1]

    found = root(misses, start, tol=1e-12)
    if max(abs(found.fun)) > 1e-8:
        raise ArithmeticError("no permeances reproduce this rating")
    a, b = np.exp(found.x)
    warmth = 1 / WARM - 1 / t_k
    return replace(
        element,
        water_permeance=a * math.exp(-element.water_activation * warmth),
        salt_permeance=b * math.exp(-element.salt_activation * warmth),
    )


def read_element(table: Table, fluid: Fluid = STANDARD, stage: int = 1) -> Element:
    """One [[plant.membranes]] table."""
    element = Element(
        area=table["area_m2"],
        length=table["length_m"],
        channel=table["channel_mm"] * MM,
        porosity=table["porosity"],
        water_permeance=table.get("water_permeance_l_m2_h_bar", 0.0) * LMH / BAR,
        salt_permeance=table.get("salt_permeance_l_m2_h", 0.0) * LMH,
        water_activation=table.get("water_activation_k", 2700.0),
        salt_activation=table.get("salt_activation_k", 3500.0),
        stage=table.get("stage", stage),
    )
    return rate(element, table["rated"], fluid) if "rated" in table else element


# --- elements side by side and one after another --------------------------------------------------


def stage(elements: list[Element], inlet: Stream, product_pressure: float, t_k: float, fluid: Fluid) -> Passed:
    """Elements side by side: one inlet, one outlet pressure, one product pressure; the flow finds its own way."""
    shares = np.full(len(elements), 1 / len(elements))
    if any(other != elements[0] for other in elements[1:]):
        shares = _shares(elements, inlet, product_pressure, t_k, fluid)
    known: dict[tuple[Element, float], Passed] = {}
    parts = []
    for element, share in zip(elements, shares, strict=True):
        key = (element, float(share))
        if key not in known:
            known[key] = march(element, replace(inlet, flow=share * inlet.flow), product_pressure, t_k, fluid)
        parts.append(known[key])
    return Passed(
        _mix([part.concentrate for part in parts]),
        _mix([part.product for part in parts]),
        float(np.mean([part.wall_to_bulk for part in parts])),
        tuple(flow for part in parts for flow in part.feed_flows),
        tuple(flow for part in parts for flow in part.product_flows),
    )


def _shares(elements: list[Element], inlet: Stream, product_pressure: float, t_k: float, fluid: Fluid) -> np.ndarray:
    def from_logits(logits: np.ndarray) -> np.ndarray:
        weights = np.exp(np.append(logits, 0.0))
        return np.asarray(weights / weights.sum())

    def unequal(logits: np.ndarray) -> np.ndarray:
        outlets = [
            march(element, replace(inlet, flow=share * inlet.flow), product_pressure, t_k, fluid).concentrate.pressure
            for element, share in zip(elements, from_logits(logits), strict=True)
        ]
        return (np.array(outlets[:-1]) - outlets[-1]) / 1e3

    widths = np.array([element.width for element in elements])
    found = root(unequal, np.log(widths[:-1] / widths[-1]), tol=1e-11)
    if max(abs(found.fun)) > 1e-5:  # 0.01 Pa
        raise ArithmeticError("the flows of elements side by side were not found")
    return from_logits(found.x)


def _mix(streams: list[Stream]) -> Stream:
    flow = sum(stream.flow for stream in streams)
    salt = sum(stream.flow * stream.nacl for stream in streams)
    pressure = float(np.mean([stream.pressure for stream in streams]))
    return Stream(pressure, flow, salt / flow if flow else streams[0].nacl)


def train(stages: list[list[Element]], inlet: Stream, product_pressure: float, t_k: float, fluid: Fluid) -> Passed:
    """Stages one after another, all products joined."""
    passes = []
    for elements in stages:
        passes.append(stage(elements, inlet, product_pressure, t_k, fluid))
        inlet = passes[-1].concentrate
    return Passed(
        inlet,
        _mix([passed.product for passed in passes]),
        float(np.mean([passed.wall_to_bulk for passed in passes])),
        tuple(flow for passed in passes for flow in passed.feed_flows),
        tuple(flow for passed in passes for flow in passed.product_flows),
    )


# --- the parts of the lines -----------------------------------------------------------------------


def supply_resistance(supply: Table) -> float:
    """R of P = standing - R Q^2, Pa/(m3/s)^2, by least squares through all running tests."""
    squares = [(test["flow_l_min"] * L_MIN) ** 2 for test in supply.get("flowing", [])]
    drops = [(supply["standing_bar"] - test["pressure_bar"]) * BAR for test in supply.get("flowing", [])]
    if not squares:
        return 0.0
    return float(sum(q * d for q, d in zip(squares, drops, strict=True)) / sum(q * q for q in squares))


def colebrook(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor of Colebrook's equation by root finding."""

    def miss(inverse_root: float) -> float:
        return inverse_root + 2 * math.log10(relative_roughness / 3.7 + 2.51 * inverse_root / reynolds)

    return float(brentq(miss, 0.5, 60.0, xtol=1e-14)) ** -2


def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Laminar below Re 2000, Colebrook above 4000, a smooth step in ln Re between."""
    if reynolds <= 2000:
        return 64 / max(reynolds, 1e-9)
    turbulent = colebrook(reynolds, relative_roughness)
    if reynolds >= 4000:
        return turbulent
    s = math.log(reynolds / 2000) / math.log(2)
    step = s * s * (3 - 2 * s)
    return (1 - step) * 64 / reynolds + step * turbulent


def tube_drop(part: Table, flow: float, t_k: float, fluid: Fluid) -> float:
    """Darcy-Weisbach with the fittings' loss coefficients on the tube's own velocity, Pa."""
    bore = part["bore_mm"] * MM
    velocity = 4 * abs(flow) / (math.pi * bore**2)
    rho, mu = fluid.density(t_k), fluid.viscosity(t_k)
    friction = friction_factor(rho * velocity * bore / mu, part.get("roughness_mm", 0.0015) * MM / bore)
    losses = friction * part["length_m"] / bore + part.get("fittings_k", 0.0)
    return math.copysign(losses * rho * velocity**2 / 2, flow)


def viscous_drop(drop: float, at: float, flow: float, t_k: float, fluid: Fluid) -> float:
    """A drop linear in flow, known at 20 °C, scaled with viscosity, Pa."""
    return drop * flow / at * fluid.viscosity(t_k) / fluid.viscosity(20 + ZERO_C)


def pump_rise(part: Table, flow: float) -> float:
    """Added pressure, linear between the curve's points, Pa."""
    points = sorted((point["flow_l_min"] * L_MIN, point["bar"] * BAR) for point in part["curve"])
    flows, rises = zip(*points, strict=True)
    return float(np.interp(flow, flows, rises))


def line_drop(parts: list[Table], flow: float, t_k: float, fluid: Fluid) -> float:
    """Pressure lost along a line at one flow, Pa; a pump counts as a negative loss."""
    return sum(_part_drop(part, flow, t_k, fluid) for part in parts)


def _part_drop(part: Table, flow: float, t_k: float, fluid: Fluid) -> float:
    match part["part"]:
        case "tube":
            return tube_drop(part, flow, t_k, fluid)
        case "cartridge":
            return viscous_drop(part["clean_drop_bar"] * BAR, part["at_l_min"] * L_MIN, flow, t_k, fluid)
        case "resin" if "drop_bar" in part:
            return viscous_drop(part["drop_bar"] * BAR, part["at_l_min"] * L_MIN, flow, t_k, fluid)
        case "pump":
            return -pump_rise(part, flow)
        case "lift":
            return fluid.density(t_k) * GRAVITY * float(part["height_m"])
        case "tank":
            return math.copysign(BAR * (flow / (part["float_open_l_min"] * L_MIN)) ** 2, flow)
        case "check" | "shutoff" | "resin" | "solenoid" | "softener" | "inhibitor":
            return 0.0
    raise NotImplementedError(part["part"])


def restrictor_flow(part: Table, pressure: float) -> float:
    """Q = flow (dP/at)^exponent into the open drain, m3/s."""
    ratio = pressure / (part["at_bar"] * BAR)
    return part["flow_l_min"] * L_MIN * math.copysign(abs(ratio) ** part["exponent"], ratio)


# --- the plant ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Plant:
    """A site file's tables read into the reference's own terms."""

    t_k: float
    nacl: float
    supply: Table
    feed: list[Table]
    stages: list[list[Element]]
    drain: list[Table]
    product: list[Table]
    recirculation: float
    fluid: Fluid = field(default=STANDARD)

    @property
    def before_pump(self) -> list[Table]:
        return self.feed[: self._pump_place] if self.recirculation else self.feed

    @property
    def from_pump(self) -> list[Table]:
        return self.feed[self._pump_place :] if self.recirculation else []

    @property
    def _pump_place(self) -> int:
        return next(i for i, part in enumerate(self.feed) if part["part"] == "pump")

    def membrane_pressure(self, tap: float) -> float:
        """Supply, feed line and pump at one tap flow, Pa."""
        running = self.supply["standing_bar"] * BAR - supply_resistance(self.supply) * tap * abs(tap)
        before = line_drop(self.before_pump, tap, self.t_k, self.fluid)
        return running - before - line_drop(self.from_pump, tap + self.recirculation, self.t_k, self.fluid)


@dataclass(frozen=True)
class Operating:
    """The reference's answer: flows L/min, pressures bar, NaCl mg/L, flux L/(m2 h)."""

    feed_l_min: float
    product_l_min: float
    drain_l_min: float
    membrane_bar: float
    drain_bar: float
    back_pressure_bar: float
    product_nacl: float
    drain_nacl: float
    recovery: float
    flux_l_m2_h: float
    element_feeds_l_min: tuple[float, ...]
    element_products_l_min: tuple[float, ...]
    wall_to_bulk: float


def read_nacl(water: Table) -> float:
    """NaCl of a site's analysis, kg/m3; refuses any other water."""
    ions = water["ions_mg_l"]
    if set(ions) != {"Na", "Cl"}:
        raise NotImplementedError("the reference knows NaCl only")
    total = ions["Na"] + ions["Cl"]
    if abs(ions["Na"] / total - SODIUM_SHARE) > 1e-5:
        raise ValueError("sodium and chloride do not balance")
    return float(total) * MG_L


def read_stages(plant: Table, fluid: Fluid = STANDARD) -> list[list[Element]]:
    """Elements by stage: `stage` where given, else one stage each in series, one stage in parallel."""
    series = plant.get("arrangement", "parallel") == "series"
    known: dict[str, Element] = {}
    elements = []
    for place, table in enumerate(plant["membranes"], start=1):
        number = table.get("stage", place if series else 1)
        shape = repr({key: value for key, value in table.items() if key != "stage"})
        if shape not in known:
            known[shape] = read_element(table, fluid)
        elements.append(replace(known[shape], stage=number))
    numbers = sorted({element.stage for element in elements})
    return [[element for element in elements if element.stage == number] for number in numbers]


def read_plant(site: Table, temperature_c: float | None = None, fluid: Fluid = STANDARD) -> Plant:
    """A parsed site file as a reference plant."""
    plant = site["plant"]
    celsius = site["water"]["temperature_c"] if temperature_c is None else temperature_c
    return Plant(
        t_k=celsius + ZERO_C,
        nacl=read_nacl(site["water"]),
        supply=site["supply"],
        feed=plant.get("feed", []),
        stages=read_stages(plant, fluid),
        drain=plant["drain"],
        product=plant["product"],
        recirculation=plant.get("recirculation_l_min", 0.0) * L_MIN,
        fluid=fluid,
    )


def drain_pressure(plant: Plant, flow: float, outlet: float) -> float:
    """Pressure at the restrictor after the drain line's other parts, Pa."""
    others = [part for part in plant.drain if part["part"] != "restrictor"]
    return outlet - line_drop(others, flow, plant.t_k, plant.fluid)


def solve_plant(plant: Plant) -> Operating:
    """Find tap flow, product pressure and, with recirculation, the drain's strength; raise if nothing fits."""
    restrictor = next(part for part in plant.drain if part["part"] == "restrictor")
    recirculation = plant.recirculation

    def run(tap: float, product_pressure: float, strength: float) -> Passed:
        feed = (tap * plant.nacl + recirculation * strength * plant.nacl) / (tap + recirculation)
        inlet = Stream(plant.membrane_pressure(tap), tap + recirculation, feed)
        return train(plant.stages, inlet, product_pressure, plant.t_k, plant.fluid)

    def misses(unknowns: np.ndarray) -> list[float]:
        tap, product_pressure, strength = unknowns[0] * L_MIN, unknowns[1] * BAR, unknowns[-1]
        if tap <= 0:
            return [1e3 * (1 - unknowns[0])] * len(unknowns)
        passed = run(tap, product_pressure, strength)
        drain = passed.concentrate.flow - recirculation
        wanted = restrictor_flow(restrictor, drain_pressure(plant, drain, passed.concentrate.pressure))
        back = line_drop(plant.product, passed.product.flow, plant.t_k, plant.fluid)
        result = [(drain - wanted) / L_MIN, (product_pressure - back) / BAR]
        return [*result, passed.concentrate.nacl / plant.nacl - strength] if recirculation else result

    for share in (0.6, 0.4, 0.8, 0.2, 1.0):
        start = _start(plant, restrictor, share)
        found = root(misses, start if recirculation else start[:2], tol=1e-11, options={"eps": 1e-7})
        if max(abs(found.fun)) < 1e-8:
            break
    else:
        raise ArithmeticError(f"the reference found no working state; misses {found.fun}")
    tap, product_pressure, strength = found.x[0] * L_MIN, found.x[1] * BAR, found.x[-1]
    passed = run(tap, product_pressure, strength)
    if min(*passed.product_flows, *passed.feed_flows, passed.concentrate.flow - recirculation) <= 0:
        raise ArithmeticError("the only state found runs backwards, which the reference does not describe")
    return _operating(plant, tap, product_pressure, passed)


def _start(plant: Plant, restrictor: Table, share: float) -> np.ndarray:
    """A rough first guess: clean-water product at a share of the pressure that is there at rest."""
    rest = plant.membrane_pressure(0.0) * 0.9
    elements = [element for one_stage in plant.stages for element in one_stage]
    net = rest - plant.fluid.osmotic(2 * plant.nacl, plant.t_k)
    product = share * net * sum(element.area * element.permeances(plant.t_k)[0] for element in elements)
    back = line_drop(plant.product, product, plant.t_k, plant.fluid)
    for _ in range(30):
        if back < 0.6 * rest:
            break
        product *= 0.8
        back = line_drop(plant.product, product, plant.t_k, plant.fluid)
    return np.array([(product + restrictor_flow(restrictor, rest)) / L_MIN, back / BAR, 2.0])


def _operating(plant: Plant, tap: float, product_pressure: float, passed: Passed) -> Operating:
    area = sum(element.area for one_stage in plant.stages for element in one_stage)
    return Operating(
        feed_l_min=tap / L_MIN,
        product_l_min=passed.product.flow / L_MIN,
        drain_l_min=(passed.concentrate.flow - plant.recirculation) / L_MIN,
        membrane_bar=plant.membrane_pressure(tap) / BAR,
        drain_bar=passed.concentrate.pressure / BAR,
        back_pressure_bar=product_pressure / BAR,
        product_nacl=passed.product.nacl / MG_L,
        drain_nacl=passed.concentrate.nacl / MG_L,
        recovery=passed.product.flow / tap,
        flux_l_m2_h=passed.product.flow / area / LMH,
        element_feeds_l_min=tuple(flow / L_MIN for flow in passed.feed_flows),
        element_products_l_min=tuple(flow / L_MIN for flow in passed.product_flows),
        wall_to_bulk=passed.wall_to_bulk,
    )


def solve_site(text: str, temperature_c: float | None = None, fluid: Fluid = STANDARD) -> Operating:
    """The reference's steady state of a site given as TOML text."""
    return solve_plant(read_plant(tomllib.loads(text), temperature_c, fluid))
