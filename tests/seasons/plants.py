"""Small plants made by hand for the year's tests: flows that do not change, or straight in the float's opening."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from rinsewright.plant.product.resin import Bed, Load
from rinsewright.quantities import BAR, DAY, HOUR, L_MIN, LITRE, US_CM, Array, kelvin
from rinsewright.seasons.inputs import ShutOffRule, TankUse, YearInputs, demand_by_day, even_week
from rinsewright.seasons.ledger import Ledger
from rinsewright.seasons.march import march
from rinsewright.seasons.quality import SPECIES, ResinUse
from rinsewright.seasons.table import Response

Row = Sequence[float] | Array
WORKWEEK = np.array([320, 320, 320, 320, 320, 0, 0]) * LITRE
ALWAYS = even_week(8 * HOUR, 16 * HOUR)
NIGHT = even_week(8 * HOUR, 16 * HOUR, fill_from=20 * HOUR, fill_until=6 * HOUR)
ALL_DAY = even_week(0.0, DAY)
TANK = TankUse(0.65, 0.06)
SHUT_OFF = ShutOffRule("ratio", closes_at=0.9, reopens_at=0.1)
TWENTY = float(kelvin(20.0))
SALT_OF_NACL = 0.0126  # S m2/mol at 25 °C


def salt_load(reading: Array) -> Load:
    """Sodium chloride of a conductivity [S/m], a little carbonic acid and silica."""
    eq = np.atleast_1d(reading) / SALT_OF_NACL
    nothing = 0.0 * eq
    little = nothing + 0.05
    return Load(
        np.stack([eq, nothing, nothing, nothing]), np.stack([eq, nothing, nothing]), little, 0.4 * little, little
    )


def response(
    product: Row | float = 1.0,
    drain: Row | float = 2.0,
    reading: Row | float = 15.0,
    ratio: Row = (0.0, 1.0),
    openings: Row = (1.0, 0.0),
    feed: float = 600.0,
    concentrate: float = 900.0,
    by_temperature: Mapping[float, float] | None = None,
    by_pressure: Mapping[float, float] | None = None,
    by_factor: Mapping[float, float] | None = None,
) -> Response:
    """L/min and µS/cm at each opening, straight between; ``by_…``: all flows times so much at °C, bar, permeance."""
    shape = (len(openings),)
    q, w, kappa = (np.broadcast_to(np.asarray(v, dtype=float), shape) for v in (product, drain, reading))
    rows = [q * L_MIN, w * L_MIN, q * L_MIN * kappa * US_CM, np.asarray(ratio), 4.0 * BAR * np.asarray(ratio)]
    one = np.stack([*rows, (q + w) * L_MIN], axis=-1)
    axes = by_temperature or {20.0: 1.0}, by_pressure or {4.0: 1.0}, by_factor or {1.0: 1.0}
    times = np.ones(1)
    for axis in axes:
        times = np.multiply.outer(times, np.array(list(axis.values())))
    flows = np.array([True, True, True, False, False, True])
    values = np.where(flows, times[0, ..., None, None] * one, one)
    warm = len(axes[0])
    return Response(
        temperature_k=np.asarray(kelvin(np.array(list(axes[0])))),
        standing_pa=np.array(list(axes[1])) * BAR,
        water_factor=np.array(list(axes[2])),
        openings=np.asarray(openings, dtype=float),
        values=values,
        works=np.ones(values.shape[:3], dtype=np.bool_),
        feed_conductivity=feed * US_CM,
        drain_conductivity=np.full(warm, concentrate * US_CM),
        product_conductivity=np.full(warm, float(kappa[0]) * US_CM),
        load=salt_load(np.full(warm, float(kappa[0]) * US_CM)),
        feed_load=salt_load(np.array(feed * US_CM)),
    )


def plant(of: Response | None = None, demand: Array | None = None, members: int = 1, **rest: Any) -> YearInputs:
    """What a march needs; ``demand`` by weekday (7) or by day (members, 365) [m3], 320 L on five days where absent."""
    wanted = WORKWEEK if demand is None else demand
    if wanted.shape == (7,):
        wanted = np.repeat(demand_by_day(wanted)[None, :], members, axis=0)
    given: dict[str, Any] = {
        "responses": ((0, response() if of is None else of),),
        "temperature_k": np.full((1, 365), TWENTY),
        "standing_pa": np.full(24, 4.0 * BAR),
        "week": ALWAYS,
        "demand": wanted,
        "water_factor": np.ones((members, 365)),
        "salt_factor": np.ones(members),
        "flow_factor": np.ones(members),
        "shut_days": np.zeros((members, 365), dtype=bool),
        "tank": TANK,
        "shutoff": (SHUT_OFF,),
    }
    return YearInputs(**(given | rest))


def year(of: Response | None = None, days: int = 365, first_day: int = 0, **rest: Any) -> Ledger:
    """The march of :func:`plant`."""
    return march(plant(of, **rest), first_day, days)


def bed(members: int = 1, litres: float = 7.0, limit: float = 20.0, **rest: Any) -> ResinUse:
    """Resin changed at ``limit`` [µS/cm]."""
    given: dict[str, Any] = {"behind_tank": False, "composition": np.ones((members, SPECIES)), "co2": np.ones(members)}
    return ResinUse(Bed(litres * LITRE), limit * US_CM, **(given | rest))


def start_content(ledger: Ledger, start: float) -> Array:
    """Salt in the tank [S/m · m3] when the year begins: filled by the plant as it runs that day, (members)."""
    return np.asarray(start * ledger.full_salt[:, 0] / ledger.full_product[:, 0])
