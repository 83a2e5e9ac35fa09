"""One element as a channel: water and salt through the membrane, place by place, from inlet to outlet.

The whole of the element's physics for one lumped salt stands here: film theory, solution-diffusion, friction and mass
transfer in the spacer. How the single ions share the salt is in :mod:`rinsewright.plant.membrane.transport`.

Equations
    J   = A (P − P_p − Δπ)                               water flux, solution-diffusion
    c_w − c_p = (c_b − c_p) exp(J/k)                      film theory at the wall
    J c_p = B (c_w − c_p)                                 salt flux
    dq/dx = −S J,  ds/dx = −S J c_p,  dP/dx = −ΔP_f       along the channel, x from 0 to 1

Concentrations are relative to the water that enters the plant, so that one number stands for the whole analysis.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from rinsewright.plant.membrane.element import Element, arrhenius
from rinsewright.plant.part import Fluid
from rinsewright.quantities import Array
from rinsewright.water.properties import nacl_diffusivity

LEAST_FLUX = 1e-12  # m/s: where the pressure does not reach the osmotic pressure, water all but stands still
LEAST_FLOW_SHARE = 1e-3  # of the inlet flow: keeps trial states of the solver away from a channel run dry


@dataclass(frozen=True)
class Salt:
    """The dissolved matter of the feed as one lumped salt; one value per condition.

    osmotic: Pa per unit of relative concentration, in the dilute limit
    curvature: π = osmotic·c·(1 − curvature·√c)
    permeance_ratio: its permeance over that of NaCl
    """

    osmotic: Array
    curvature: Array
    permeance_ratio: Array


@dataclass(frozen=True)
class Spread:
    """How far a real plant stands from its data sheets: factors on water permeance, salt permeance and k, and on the
    flow that the drain restrictor passes.
    """

    water: Array | float = 1.0
    salt: Array | float = 1.0
    film: Array | float = 1.0
    restrictor: Array | float = 1.0


@dataclass(frozen=True)
class Channel:
    """An element at given conditions, boiled down to the numbers its march needs; arrays over conditions."""

    area: Array  # m2
    water: Array  # A, m/(s Pa)
    salt: Array  # B of the lumped salt, m/s
    nacl: Array  # B of NaCl, m/s
    osmotic: Array
    curvature: Array
    mass_turbulent: Array  # k_SM = this · q^0.875
    mass_laminar: Array  # k_lam, m/s
    friction: Array  # dP/dx = this · q^1.7

    def take(self, index: Any) -> Channel:
        """The same for some of the conditions."""
        return Channel(*(getattr(self, field.name)[index] for field in fields(self)))

    def mass_transfer(self, log_flow: Array) -> Array:
        """Mass-transfer coefficient k [m/s] at the logarithm of a channel flow [m3/s]: k³ = k_SM³ + k_lam³."""
        turbulent = self.mass_turbulent * np.exp(0.875 * log_flow)
        return np.cbrt(turbulent * turbulent * turbulent + self.mass_laminar**3)


def channel(element: Element, temperature_k: Array, fluid: Fluid, salt: Salt, spread: Spread | None = None) -> Channel:
    """Coefficients of an element at a temperature [K] for a lumped salt.

    Sh = 0.065 Re^0.875 Sc^0.25 and λ = 6.23 Re^−0.3 on d_h (Schock & Miquel, Desalination 64, 1987, 339), the velocity
    being that between the spacer's filaments; k_lam = 7.54 D/(2h), the laminar slit, carries small plants below Re 50.
    D is that of NaCl for every water, by convention; calcium bicarbonate diffuses a third slower, which the ±30 % that
    k is uncertain by covers.
    """
    spread = spread or Spread()
    depth, area, d_h = element.channel, element.flow_area, element.hydraulic_diameter
    diffusivity = nacl_diffusivity(temperature_k)
    reynolds = fluid.density * d_h / (area * fluid.viscosity)  # per unit of flow
    schmidt = fluid.viscosity / (fluid.density * diffusivity)
    ones = np.ones(np.broadcast_shapes(np.shape(temperature_k), np.shape(salt.osmotic)))
    nacl = element.salt_permeance * arrhenius(element.salt_activation, temperature_k) * spread.salt * ones
    return Channel(
        area=element.area * ones,
        water=element.water_permeance * arrhenius(element.water_activation, temperature_k) * spread.water * ones,
        salt=nacl * salt.permeance_ratio,
        nacl=nacl,
        osmotic=salt.osmotic * ones,
        curvature=salt.curvature * ones,
        mass_turbulent=0.065 * reynolds**0.875 * schmidt**0.25 * diffusivity / d_h * spread.film * ones,
        mass_laminar=7.54 * diffusivity / (2.0 * depth) * spread.film * ones,
        friction=6.23 * reynolds**-0.3 * (element.length / d_h) * fluid.density / (2.0 * area**2) * ones,
    )


def flux(
    ch: Channel, inverse_k: Array, concentration: Array, difference: Array, guess: Array, rounds: int
) -> tuple[Array, Array]:
    """Water flux J [m/s] and product concentration at one place.

    ``inverse_k`` is 1/k [s/m], ``difference`` [Pa] the pressure across the membrane. Newton's method from ``guess``:
    one round squares its error and divides it by about twenty, so one from a guess good to a thousandth is enough.
    """
    j, salt, osmotic = guess, ch.salt, ch.osmotic
    for _ in range(rounds):
        film = np.exp(j * inverse_k)
        resistance = j + salt * film
        unit = concentration * film / resistance  # c_p = B·unit, c_w = (J + B)·unit
        wall, passed = unit * (j + salt), unit * salt
        bend = ch.curvature * np.sqrt(wall)
        behind = passed * (1.0 - ch.curvature * np.sqrt(passed))
        excess = j - ch.water * (difference - osmotic * (wall * (1.0 - bend) - behind))
        rise = unit * (1.0 + j * (j * inverse_k - 1.0) / resistance)
        slope = 1.0 + ch.water * osmotic * (1.0 - 1.5 * bend) * rise
        j = np.maximum(j - excess / slope, LEAST_FLUX)
    film = salt * np.exp(j * inverse_k)
    return j, concentration * film / (j + film)


@dataclass(frozen=True)
class Outlet:
    """What leaves an element: channel and product, and, where asked for, the places on the way."""

    flow: Array  # m3/s
    salt: Array  # flow × relative concentration
    pressure: Array  # Pa
    product: Array  # m3/s
    product_salt: Array
    places: Places | None = None

    @property
    def runs_dry(self) -> Array:
        """Where it takes more than reaches it: at the end no water is left, or too little to tell its salt."""
        with np.errstate(invalid="ignore"):
            wet = (self.flow > 0.0) & (self.salt >= 0.0) & np.isfinite(self.product)
        if self.places is not None:
            wet = wet & np.isfinite(self.places.flux).all(axis=0)
        return np.logical_not(wet)

    def wall_to_bulk(self, ch: Channel) -> float:
        """Concentration at the membrane over that in the bulk, mean along the element; first condition."""
        assert self.places is not None
        p = self.places
        wall = p.product_concentration * (p.flux + ch.salt) / ch.salt
        ratio = (wall / p.concentration)[:, 0]
        return float(
            (ratio[0] + ratio[-1] + 4.0 * ratio[1::2].sum() + 2.0 * ratio[2:-1:2].sum()) / (3.0 * (len(ratio) - 1))
        )


@dataclass(frozen=True)
class Places:
    """State at the ends and middles of the steps, shape (2·steps + 1, conditions), for the ions' own march."""

    flow: Array
    flux: Array
    inverse_k: Array
    concentration: Array
    product_concentration: Array


def march(
    ch: Channel, flow: Array, salt: Array, pressure: Array, product_pressure: Array, steps: int, keep: bool = False
) -> Outlet:
    """March one element from inlet to outlet by classical Runge–Kutta steps.

    Parameters: channel flow [m3/s], salt flow (flow × relative concentration) and gauge pressure [Pa] at the inlet,
    product pressure [Pa]; all of shape (conditions,). Three steps are within 0.01 % of the exact solution below 50 %
    recovery of the element.
    """
    h = 1.0 / steps
    least = LEAST_FLOW_SHARE * np.abs(flow) + 1e-15
    q, s, p = flow, salt, pressure
    product_salt = np.zeros_like(flow)
    start = 0.8 * ch.water * (p - product_pressure - 1.2 * ch.osmotic * s / np.maximum(q, least))
    j = np.maximum(start, LEAST_FLUX)
    ends: list[tuple[Array, ...]] = []  # state, slopes and flux at the start of each step

    def rates(q: Array, s: Array, p: Array, guess: Array, rounds: int) -> tuple[Array, Array, Array, Array]:
        safe = np.maximum(q, least)
        log_flow = np.log(safe)  # two powers of the flow for the price of one logarithm
        j, c_p = flux(ch, 1.0 / ch.mass_transfer(log_flow), s / safe, p - product_pressure, guess, rounds)
        through = ch.area * j
        return through, through * c_p, ch.friction * np.exp(1.7 * log_flow), j

    # Each place starts from the flux next to it; the nearer that is, the fewer rounds of Newton it takes.
    for step in range(steps):
        a = rates(q, s, p, j, 1 if step else 4)
        if keep:
            ends.append((q, s, p, *a))
        b = rates(q - h / 2 * a[0], s - h / 2 * a[1], p - h / 2 * a[2], a[3], 2)
        c = rates(q - h / 2 * b[0], s - h / 2 * b[1], p - h / 2 * b[2], b[3], 1)
        d = rates(q - h * c[0], s - h * c[1], p - h * c[2], np.maximum(2.0 * c[3] - a[3], 0.5 * c[3]), 1)
        passed = h / 6 * (a[1] + 2 * (b[1] + c[1]) + d[1])
        q = q - h / 6 * (a[0] + 2 * (b[0] + c[0]) + d[0])
        s = s - passed
        p = p - h / 6 * (a[2] + 2 * (b[2] + c[2]) + d[2])
        product_salt = product_salt + passed
        j = d[3]
    if not keep:
        return Outlet(q, s, p, flow - q, product_salt)
    ends.append((q, s, p, *rates(q, s, p, j, 1)))
    return Outlet(q, s, p, flow - q, product_salt, _places(ch, ends, product_pressure, least))


def _places(ch: Channel, ends: list[tuple[Array, ...]], product_pressure: Array, least: Array) -> Places:
    """The state at the ends of the steps and, by Hermite's cubic between them, at their middles."""
    h = 1.0 / (len(ends) - 1)
    values = [np.array(column) for column in zip(*ends, strict=True)]
    state, slopes, guess = values[:3], values[3:6], values[6]
    nodes = []
    for at_ends, fall in zip(state, slopes, strict=True):
        row = np.empty((2 * len(at_ends) - 1, *at_ends.shape[1:]))
        row[::2] = at_ends
        row[1::2] = 0.5 * (at_ends[:-1] + at_ends[1:]) + h / 8 * (fall[1:] - fall[:-1])
        nodes.append(row)
    near = np.repeat(guess, 2, axis=0)[:-1]
    near[1::2] = 0.5 * (guess[:-1] + guess[1:])
    q = np.maximum(nodes[0], least)
    inverse_k = 1.0 / ch.mass_transfer(np.log(q))
    concentration = nodes[1] / q
    j, c_p = flux(ch, inverse_k, concentration, nodes[2] - product_pressure, near, 2)
    return Places(q, j, inverse_k, concentration, c_p)
