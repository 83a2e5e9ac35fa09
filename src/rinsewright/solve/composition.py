"""What is in the product and in the drain: every solute carried through the solved plant.

The hydraulics know one lumped salt. Here each ion is marched along every channel with the fluxes found there, by the
same Runge–Kutta steps; product and drain are summed up each on its own, so that their balance is a check.
A local potential keeps the product neutral at every place as the mix drifts along the channel.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from rinsewright.plant.feed.treatment import Softener
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.channel import Places, Salt
from rinsewright.plant.membrane.rating import osmotic_law
from rinsewright.plant.membrane.selectivity import CO2_RATIO, PASSING_CHARGE, RATIO
from rinsewright.plant.membrane.transport import transmission
from rinsewright.plant.product.line import Blend, ResinVessel
from rinsewright.quantities import Array
from rinsewright.solve.steady import Steady
from rinsewright.water.ions import CHARGE, INDEX
from rinsewright.water.state import Water

Transmission = Callable[[Array], Array]  # J/B, shape (places, conditions) → (places, conditions, solutes + CO2)

TABLE_POINTS = 14
HARD = [INDEX[name] for name in ("Ca", "Mg", "Sr", "Ba", "Fe", "Mn")]


def treated(plant: Plant, water: Water) -> Water:
    """The tap water as the membranes get it: softened, where the feed line has a softener."""
    for part in plant.feed:
        if isinstance(part, Softener):
            solutes = np.array(water.solutes)
            taken = solutes[..., HARD] * (1.0 - part.hardness_leak_share)
            solutes[..., HARD] -= taken
            solutes[..., INDEX["Na"]] += taken @ CHARGE[HARD]
            water = Water(solutes, water.carbon, water.temperature_k)
    return water


def lumped(water: Water, number: float = 20.0) -> Salt:
    """A water as one salt for the hydraulics.

    Its osmotic law, and the permeance that passes as much in all as the single ions do where the flux is ``number``
    times the NaCl permeance. That permeance only touches the osmotic pressure of the product, a per cent or two of the
    whole; the product's composition comes from :func:`compose`.
    """
    solutes = np.atleast_2d(water.solutes)
    osmotic, curvature = osmotic_law(solutes, water.temperature_k)
    # One composition shared by all conditions needs its transmission only once.
    kinds = solutes[:1] if np.all(solutes == solutes[:1]) else solutes
    passed = transmission(np.full(len(kinds), number), RATIO[:-1], CHARGE, kinds, steps=5, rounds=3)
    total = kinds.sum(axis=1)
    share = np.divide((passed * kinds).sum(axis=1), total, out=np.full(len(kinds), 0.1), where=total > 0.0)
    ratio = number * share / np.maximum(1.0 - share, 1e-3)
    ratio = np.where(np.abs(ratio - 1.0) < 1e-6, 1.0, ratio)
    return Salt(osmotic, curvature, ratio * np.ones(len(solutes)))


@dataclass(frozen=True)
class Composition:
    """Waters at the ends of a solved plant; batches of shape (conditions,)."""

    tap: Water
    feed: Water  # as treated, before any recirculation
    product: Water  # leaves the membranes
    delivered: Water  # leaves the last part of the product line, with fresh resin
    drain: Water | None  # none from a resin-only plant
    wall: Water | None  # at the membrane's surface where the last stage's drain leaves
    branch_product: tuple[Water, ...] = ()


def _tabulated(water: Water, lowest: Array, highest: Array) -> Transmission:
    """Transmission against J/B for the analysis of each condition."""
    solutes = water.solutes
    if len(solutes) == 1 or np.all(solutes == solutes[:1]):
        grid = np.geomspace(0.98 * lowest.min(), 1.02 * highest.max(), TABLE_POINTS)
        inverse = 1.0 / transmission(grid, RATIO[:-1], CHARGE, solutes[0])  # nearly straight in J/B

        def shared(number: Array) -> Array:
            place = np.clip(np.searchsorted(grid, number) - 1, 0, TABLE_POINTS - 2)
            part = ((number - grid[place]) / (grid[place + 1] - grid[place]))[..., None]
            mixed: Array = inverse[place] * (1.0 - part) + inverse[place + 1] * part
            return np.asarray(1.0 / mixed)

        return shared
    low, high = 0.98 * lowest, 1.02 * highest
    ends = [1.0 / transmission(n, RATIO[:-1], CHARGE, solutes, steps=8, rounds=5) for n in (low, high)]

    def own(number: Array) -> Array:
        part = ((number - low) / (high - low))[..., None]
        return np.asarray(1.0 / (ends[0] * (1.0 - part) + ends[1] * part))

    return own


def _along(places: Places, area: Array, passed: Array, salt_in: Array) -> tuple[Array, Array]:
    """March all solutes along one element: what leaves the channel and what went through [mol/s]."""
    film = np.exp(places.flux * places.inverse_k)[..., None]
    share = passed * film / (1.0 - passed + passed * film)  # c_p over the bulk's concentration
    rate = share * (area * places.flux / places.flow)[..., None]
    steps = (len(places.flow) - 1) // 2
    h = 1.0 / steps

    def through(at: int, salt: Array) -> Array:
        flux: Array = rate[at] * salt
        # e^(−zδ) to first order, and what is left once more: neutral to the square of a small number
        for _ in range(2):
            moved = flux * PASSING_CHARGE
            size = moved @ PASSING_CHARGE
            delta = np.divide(moved.sum(axis=-1), size, out=np.zeros_like(size), where=size > 0.0)
            flux = flux - moved * delta[..., None]
        return flux

    salt, product = salt_in, np.zeros_like(salt_in)
    for step in range(steps):
        a = through(2 * step, salt)
        b = through(2 * step + 1, salt - h / 2 * a)
        c = through(2 * step + 1, salt - h / 2 * b)
        d = through(2 * step + 2, salt - h * c)
        gone = h / 6 * (a + 2 * (b + c) + d)
        salt, product = salt - gone, product + gone
    return salt, product


def _water(solutes: Array, co2: Array, bound: Array, temperature_k: Array) -> Water:
    """A water of given solutes and CO2; ``bound`` is the carbon that goes with each equivalent of alkalinity."""
    return Water(solutes, co2 + bound * solutes[:, INDEX["HCO3"]], temperature_k)


def _delivered(plant: Plant, product: Water, feed: Water) -> Water:
    """The product after the rest of its line: fresh resin leaves nothing, a blend adds feed water."""
    for part in plant.product:
        if isinstance(part, ResinVessel):
            product = Water(np.zeros_like(product.solutes), np.zeros_like(product.carbon), product.temperature_k)
        elif isinstance(part, Blend):
            product = product.mixed(feed, part.share)
    return product


def compose(plant: Plant, state: Steady, tap: Water) -> Composition:
    """Carry every solute of the tap water (shape (conditions,)) through a solved plant."""
    feed = treated(plant, tap)
    if not state.branches:
        return Composition(tap, feed, feed, _delivered(plant, feed, feed), None, None)
    temperature = feed.temperature_k
    alkalinity = feed.solutes[:, INDEX["HCO3"]]
    bound = np.divide(feed.carbon - feed.co2, alkalinity, out=np.ones_like(alkalinity), where=alkalinity > 1e-9)
    tap_in = np.column_stack([feed.solutes, feed.co2])

    numbers = [branch.outlet.places.flux / branch.channel.nacl for branch in state.branches if branch.outlet.places]
    lowest = np.min([n.min(axis=0) for n in numbers], axis=0)
    highest = np.max([n.max(axis=0) for n in numbers], axis=0)
    works = state.solved  # a condition without a working state must not stretch the others' table
    lowest, highest = (np.where(works, end, 10.0) for end in (lowest, highest))
    table = _tabulated(feed, lowest, np.maximum(highest, 1.01 * lowest))
    passed = []
    for number in numbers:
        co2 = np.broadcast_to((1.0 / (1.0 + number / CO2_RATIO))[..., None], (*number.shape, 1))
        passed.append(np.concatenate([table(number), co2], axis=-1))

    flow_in = (state.tap_flow - state.blend_flow)[:, None]
    returned = np.zeros_like(tap_in)
    for _ in range(60 if plant.recirculation > 0.0 else 1):
        salt = flow_in * tap_in + returned
        product = np.zeros_like(salt)
        singles: list[Array] = []
        inlet_flow = state.membrane_flow
        for stage in range(1, len(plant.stages) + 1):
            out = np.zeros_like(salt)
            out_flow = np.zeros_like(inlet_flow)
            for branch, through in zip(state.branches, passed, strict=True):
                if branch.stage != stage or branch.outlet.places is None:
                    continue
                share = (branch.inlet_flow / inlet_flow)[:, None]
                left, made = _along(branch.outlet.places, branch.channel.area, through, salt * share)
                out, product = out + branch.group.count * left, product + branch.group.count * made
                out_flow = out_flow + branch.group.count * branch.outlet.flow
                singles.append(made / branch.outlet.product[:, None])
            salt, inlet_flow = out, out_flow
        drain = salt / inlet_flow[:, None]
        back = plant.recirculation * drain
        # The membranes act on their inlet in proportion, so the loop closes at inlet = tap / (1 − returned share).
        inlet = flow_in * tap_in + returned
        gain = np.divide(back, inlet, out=np.zeros_like(back), where=inlet > 0.0)
        new = flow_in * tap_in * gain / (1.0 - np.minimum(gain, 0.9999))
        settled = np.allclose(new, returned, rtol=1e-12, atol=0.0)
        returned = new
        if settled:
            break

    made = product / state.product_flow[:, None]
    last = state.branches[-1]
    assert last.outlet.places is not None
    film = np.exp(last.outlet.places.flux[-1] * last.outlet.places.inverse_k[-1])[:, None]
    share = passed[-1][-1]
    wall = drain * film / (1.0 - share + share * film)
    made_water = _water(made[:, :-1], made[:, -1], bound, temperature)
    return Composition(
        tap=tap,
        feed=feed,
        product=made_water,
        delivered=_delivered(plant, made_water, feed),
        drain=_water(drain[:, :-1], drain[:, -1], bound, temperature),
        wall=_water(wall[:, :-1], drain[:, -1], bound, temperature),
        branch_product=tuple(_water(one[:, :-1], one[:, -1], bound, temperature) for one in singles),
    )
