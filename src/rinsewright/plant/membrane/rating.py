"""From a data sheet's rating to the two permeances, by solving the very model that will use them."""

from __future__ import annotations

import numpy as np

from rinsewright.errors import InputError, Problem
from rinsewright.plant.membrane.channel import Salt, channel, march
from rinsewright.plant.membrane.element import Element, Rating, arrhenius, with_permeances
from rinsewright.plant.part import Fluid
from rinsewright.quantities import Array
from rinsewright.water.ions import INDEX, MOLAR_MASS, SOLUTES
from rinsewright.water.osmotic import osmotic_pressure

STEPS = 12


def nacl_solutes(nacl: Array | float) -> Array:
    """Solutes [mol/m3], shape (..., solutes), of NaCl at a strength [kg/m3]."""
    amount = np.asarray(nacl, dtype=np.float64) / (MOLAR_MASS[INDEX["Na"]] + MOLAR_MASS[INDEX["Cl"]])
    solutes = np.zeros((*amount.shape, len(SOLUTES)))
    solutes[..., INDEX["Na"]] = solutes[..., INDEX["Cl"]] = amount
    return solutes


def osmotic_law(solutes: Array, temperature_k: Array) -> tuple[Array, Array]:
    """The two numbers of π(c) = osmotic·c·(1 − curvature·√c) for a water and its concentrates.

    c is relative to the water; the law meets :func:`osmotic_pressure` at once and four times the strength. Meant for
    waters up to about 10 g/L; above, the curvature changes sign and concentrates are only roughly met.
    """
    once = osmotic_pressure(solutes, temperature_k)
    four = osmotic_pressure(4.0 * solutes, temperature_k) / 4.0  # = osmotic·(1 − 2·curvature)
    osmotic = 2.0 * once - four
    return osmotic, np.divide(once - four, osmotic, out=np.zeros_like(once), where=osmotic > 0.0)


def performance(element: Element, rating: Rating) -> tuple[float, float]:
    """Product flow [m3/s] and rejection of an element at the conditions of a rating (its feed flow included)."""
    temperature = np.array([rating.temperature_k])
    osmotic, curvature = osmotic_law(nacl_solutes(np.array([rating.nacl])), temperature)
    salt = Salt(osmotic, curvature, np.ones(1))
    feed = np.array([rating.product / rating.recovery])
    ch = channel(element, temperature, Fluid.at(temperature), salt)
    out = march(ch, feed, feed, np.array([rating.pressure_pa]), np.zeros(1), STEPS)
    return float(out.product[0]), float(1.0 - out.product_salt[0] / out.product[0])


def rate(element: Element, rating: Rating) -> Element:
    """The element with the permeances at 25 °C that make it meet its rating (product flow and rejection).

    Newton's method on the logarithms of both permeances. Raises :class:`InputError` where no permeances can meet
    the rating (the osmotic pressure or the channel's loss eats the pressure).
    """
    t = np.array([rating.temperature_k])
    net = max(rating.pressure_pa - 1.3 * float(osmotic_law(nacl_solutes(np.array([rating.nacl])), t)[0][0]), 1e3)
    mean_flux = rating.product / element.area
    x = np.log(
        [
            mean_flux / net / float(arrhenius(element.water_activation, t)[0]),
            mean_flux * (1.0 - rating.rejection) / 1.3 / float(arrhenius(element.salt_activation, t)[0]),
        ]
    )

    def miss(x: Array) -> Array:
        product, rejection = performance(with_permeances(element, *np.exp(x)), rating)
        return np.array([np.log(product / rating.product), np.log((1.0 - rejection) / (1.0 - rating.rejection))])

    with np.errstate(all="ignore"):
        for _ in range(30):
            here = miss(x)
            if not np.all(np.isfinite(here)):
                break
            if np.max(np.abs(here)) < 1e-10:
                return with_permeances(element, *(float(value) for value in np.exp(x)))
            slopes = np.column_stack([(miss(x + step) - here) / 1e-6 for step in 1e-6 * np.eye(2)])
            if not np.all(np.isfinite(slopes)) or np.linalg.det(slopes) == 0.0:
                break
            x = x - np.clip(np.linalg.solve(slopes, here), -1.0, 1.0)
    raise InputError(
        Problem(
            "no membrane can meet this rating: the pressure left after osmotic pressure and channel loss is too small "
            "for the product stated; check pressure_bar, product_l_h, area_m2 and recovery_pct",
            key=f"{element.key}.rated" if element.key else "rated",
        )
    )
