"""What a year came to, day by day and member by member, and the answer drawn from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from rinsewright.dates import DAYS
from rinsewright.quantities import DAY, HOUR, KWH, LITRE, MINUTE, US_CM, Array

WEEK_OF_DAY = np.minimum(np.arange(DAYS) // 7, 51)  # day 365 belongs to week 52
Band = dict[str, float | None]


@dataclass(frozen=True)
class Hours:
    """Chosen days hour by hour: (members, days, 24). ``days`` count from 0; readings are S/m at 25 °C."""

    days: tuple[int, ...]
    product: Array  # m3 in the hour
    drain: Array
    delivered: Array
    salt: Array  # S/m · m3 made
    level: Array  # m3 at the hour's end
    reading: Array  # of the tank at the hour's end

    def of_members(self, parts: Sequence[Hours]) -> Hours:
        """Several chunks of members put together."""
        names = [f.name for f in fields(self) if f.name != "days"]
        return Hours(self.days, **{name: np.concatenate([getattr(one, name) for one in parts]) for name in names})


@dataclass(frozen=True)
class Ledger:
    """Litres, starts, changes and readings; never money. Arrays (members, days) unless said otherwise; SI.

    A conductivity times a volume stands for an amount of salt: S/m · m3, at 25 °C.
    """

    first_day: int  # from 0
    demand: Array
    product: Array  # m3 made
    drain: Array  # m3, flushes and what ran back included
    back: Array  # m3 of product that ran back to the drain
    overflow: Array  # m3
    delivered: Array  # m3 drawn; into the vans where there are any, whose tanks are a stock of their own
    short: Array  # m3 wanted and not there
    starts: Array
    running: Array  # s
    energy: Array  # J
    salt: Array  # made, at the strength before the resin, creep included
    creep: Array  # of which came through while they stood
    salt_drawn: Array  # that left the tank
    level_end: Array  # m3 in the tank at midnight
    lowest: Array  # m3, the day's lowest level
    keep: Array  # share of the tank's old water left at midnight
    tank_reading: Array  # S/m at midnight, before any resin
    worst: Array  # S/m, highest reading delivered, blend included; 0 where nothing was drawn
    after_draw: Array  # m3 in the tank when the day's last draw ends; NaN: none
    full_product: Array  # m3/s with the float valve full open
    full_salt: Array  # S/m · m3/s
    last_part: Array  # s by which the float's throttling lengthens a filling
    shut: NDArray[np.bool_]  # days on which frost kept the tap shut
    cartridge_spent: Array  # (cartridges, members): lives used up
    cartridge_changes: Array  # (cartridges, members, days)
    cartridge_reasons: NDArray[np.int8]  # rise, volume, time, chlorine, date: 0 to 4; −1 none
    membrane_spent: Array  # (members)
    membrane_changes: Array
    membrane_reasons: NDArray[np.int8]  # flow, salt, chlorine, age: 0 to 3; −1 none
    never_stops: NDArray[np.bool_]  # (members): on some day no shut-off stops the plant
    hours: Hours
    # Behind the resin; without resin as behind the membranes.
    resin_changes: Array
    resin_reasons: NDArray[np.int64]  # reading 0, date 1; −1 none
    resin_spent: Array  # vessels' lives used up
    silica_slipped: Array  # eq that left the resin
    after: Array  # S/m, the day's mean behind the resin; NaN without water
    limit_conductivity: float = np.inf  # S/m, of what is delivered

    @property
    def members(self) -> int:
        """Number of years simulated side by side."""
        return int(self.product.shape[0])

    @property
    def feed(self) -> Array:
        """Water taken from the tap, m3."""
        return np.asarray(self.product + self.drain - self.back)

    @property
    def before(self) -> Array:
        """The day's mean reading behind the membranes, S/m; NaN without water."""
        return np.divide(self.salt, self.product, out=np.full_like(self.salt, np.nan), where=self.product > 1e-9)

    @property
    def short_days(self) -> Array:
        """Days on which the tank, or the plant itself, did not give what was wanted, (members)."""
        return np.asarray(self._is_short().sum(axis=1))

    @property
    def days_over_limit(self) -> Array:
        """Days on which some of the water read above the limit, (members)."""
        return np.asarray((self.worst > self.limit_conductivity * (1.0 + 1e-6)).sum(axis=1))

    @property
    def visits(self) -> Array:
        """Days on which resin, cartridges or membranes were changed, (members)."""
        changed = (self.resin_changes > 0) | (self.cartridge_changes.sum(axis=0) > 0) | (self.membrane_changes > 0)
        return np.asarray(changed.sum(axis=1))

    @property
    def dry_chance_by_week(self) -> Array:
        """Share of the members with a short day in each of 52 weeks."""
        short = self._is_short()
        return np.array([short[:, week == WEEK_OF_DAY].any(axis=1).mean() for week in range(52)])

    def _is_short(self) -> Array:
        return np.asarray(self.short > np.maximum(1e-9, 1e-9 * self.demand))


def join(parts: Sequence[Ledger]) -> Ledger:
    """Chunks of members put together, in order."""
    first = parts[0]
    values: dict[str, object] = {}
    for f in fields(Ledger):
        one = getattr(first, f.name)
        if isinstance(one, np.ndarray):
            axis = 1 if f.name.startswith("cartridge") else 0
            values[f.name] = np.concatenate([getattr(part, f.name) for part in parts], axis=axis)
        elif isinstance(one, Hours):
            values[f.name] = one.of_members([part.hours for part in parts])
        else:
            values[f.name] = one
    return Ledger(**values)  # type: ignore[arg-type]


def hours_minutes(second: float) -> str:
    """Time of day as HH:MM, rounded down to the minute."""
    minutes = int((second % DAY) // MINUTE)
    return f"{minutes * int(MINUTE) // int(HOUR):02d}:{minutes % 60:02d}"


COUNTS = (
    *("starts", "short_days", "frost_days", "days_over_limit"),
    *("resin_changes", "cartridge_changes", "membrane_changes"),
)  # fmt: skip


def band(values: Array | None, whole: bool = False) -> Band:
    """Median and 90 % band of members; a single member has no band, no values at all are not known.

    ``whole``: of things that are counted, of which there is no half.
    """
    if values is None or not np.isfinite(values).any():
        return {"value": None, "low": None, "high": None}
    if len(values) == 1:
        return {"value": float(values[0]), "low": None, "high": None}
    low, middle, high = np.quantile(values, [0.05, 0.5, 0.95], method="nearest" if whole else "linear")
    return {"value": float(middle), "low": float(low), "high": float(high)}


def year_answer(
    ledger: Ledger,
    meter_factor: float,
    latest_fill: Sequence[str | None],
    cost: Array | None = None,
    notes: Sequence[str] = (),
) -> dict[str, object]:
    """The answer `year`: banded sums over the year in trade units; ``cost`` (members) comes from the prices, if any."""
    delivered = ledger.delivered.sum(axis=1)
    per_m3 = None
    if cost is not None:
        per_m3 = np.divide(cost, delivered, out=np.full_like(delivered, np.nan), where=delivered > 0.0)
    sums: dict[str, Array | None] = {
        "product_m3": ledger.product.sum(axis=1),
        "drain_m3": ledger.drain.sum(axis=1),
        "starts": ledger.starts.sum(axis=1),
        "short_days": ledger.short_days,
        "short_litres": ledger.short.sum(axis=1) / LITRE,
        "overflow_litres": ledger.overflow.sum(axis=1) / LITRE,
        "frost_days": ledger.shut.sum(axis=1).astype(float),
        "resin_changes": ledger.resin_changes.sum(axis=1),
        "cartridge_changes": ledger.cartridge_changes.sum(axis=(0, 2)),
        "membrane_changes": ledger.membrane_changes.sum(axis=1),
        "energy_kwh": ledger.energy.sum(axis=1) / KWH,
        "cost": cost,
        "cost_per_m3": per_m3,
        "worst_meter_ppm": ledger.worst.max(axis=1) / US_CM * meter_factor,
        "days_over_limit": ledger.days_over_limit,
    }
    return {
        **{key: band(values, key in COUNTS) for key, values in sums.items()},
        "dry_chance_by_week": [float(chance) for chance in ledger.dry_chance_by_week],
        "latest_fill_start": list(latest_fill),
        "notes": list(notes),
    }
