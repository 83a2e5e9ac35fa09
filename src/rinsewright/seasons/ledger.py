"""What a year came to, day by day and member by member, and the answer drawn from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rinsewright.quantities import DAY, HOUR, KWH, LITRE, MINUTE, US_CM, Array
from rinsewright.seasons.climate import DAYS, MONTH_OF_DAY

WEEK_OF_DAY = np.minimum(np.arange(DAYS) // 7, 51)  # day 365 belongs to week 52
Band = dict[str, float | None]


@dataclass(frozen=True)
class Ledger:
    """Arrays (members, 365) unless said otherwise; SI. Litres, starts and changes; never money."""

    demand: Array
    product: Array  # m3 made
    drain: Array  # m3, flushes included
    delivered: Array  # m3 drawn
    short: Array  # m3 wanted and not there
    starts: Array
    running: Array  # s
    energy: Array  # J
    resin_spent: Array  # vessels' lives used up
    resin_changes: Array
    creep_spent: Array  # of which by standstill creep
    cartridge_spent: Array  # (cartridges, members): lives used up over the year
    cartridge_changes: Array  # (cartridges, members, 365)
    worst: Array  # S/m, highest reading delivered; 0 where nothing was drawn
    level_end: Array  # m3 in the tank at midnight
    spare_fill: Array  # s that the filling after this day's last draw has to spare; NaN: no draw
    latest_fill: Array  # s after midnight at which filling must start for the next draw; NaN: no draw, or too late
    limit_conductivity: float

    @property
    def members(self) -> int:
        """Number of years simulated side by side."""
        return int(self.product.shape[0])

    @property
    def feed(self) -> Array:
        """Water taken from the tap, m3."""
        return np.asarray(self.product + self.drain)

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
        """Days on which resin or cartridges were changed, (members)."""
        changed = (self.resin_changes > 0) | (self.cartridge_changes.sum(axis=0) > 0)
        return np.asarray(changed.sum(axis=1))

    @property
    def dry_chance_by_week(self) -> Array:
        """Share of the members with a short day in each of 52 weeks."""
        short = self._is_short()
        return np.array([short[:, week == WEEK_OF_DAY].any(axis=1).mean() for week in range(52)])

    def _is_short(self) -> Array:
        return np.asarray(self.short > np.maximum(1e-9, 1e-9 * self.demand))

    def latest_fill_start(self) -> list[str | None]:
        """For each month, the clock time by which the tap must open on its worst day for a full tank at the next draw.

        Worst is the day with the least time to spare. ``None``: nothing is drawn, there is no tank, or on that day even
        the earliest start is too late. Of several members the most pressing tenth decides.
        """
        answer: list[str | None] = []
        for month in range(12):
            spare = self.spare_fill[:, month == MONTH_OF_DAY].reshape(-1)
            clock = self.latest_fill[:, month == MONTH_OF_DAY].reshape(-1)
            if not np.isfinite(spare).any():
                answer.append(None)
                continue
            order = np.argsort(np.where(np.isnan(spare), np.inf, spare))
            worst = order[0] if self.members == 1 else order[int(0.1 * np.isfinite(spare).sum() / 31)]
            answer.append(None if np.isnan(clock[worst]) else hours_minutes(clock[worst]))
        return answer


def hours_minutes(second: float) -> str:
    """Time of day as HH:MM, rounded down to the minute."""
    minutes = int((second % DAY) // MINUTE)
    return f"{minutes * int(MINUTE) // int(HOUR):02d}:{minutes % 60:02d}"


def band(values: Array | None) -> Band:
    """Median and 90 % band of members; a single member has no band, no values at all are not known."""
    if values is None or not np.isfinite(values).any():
        return {"value": None, "low": None, "high": None}
    if len(values) == 1:
        return {"value": float(values[0]), "low": None, "high": None}
    low, middle, high = np.quantile(values, [0.05, 0.5, 0.95])
    return {"value": float(middle), "low": float(low), "high": float(high)}


def year_answer(
    ledger: Ledger, meter_factor: float, cost: Array | None = None, notes: Sequence[str] = ()
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
        "resin_changes": ledger.resin_changes.sum(axis=1),
        "cartridge_changes": ledger.cartridge_changes.sum(axis=(0, 2)),
        "energy_kwh": ledger.energy.sum(axis=1) / KWH,
        "cost": cost,
        "cost_per_m3": per_m3,
        "worst_meter_ppm": ledger.worst.max(axis=1) / US_CM * meter_factor,
        "days_over_limit": ledger.days_over_limit,
    }
    return {
        **{key: band(values) for key, values in sums.items()},
        "dry_chance_by_week": [float(chance) for chance in ledger.dry_chance_by_week],
        "latest_fill_start": ledger.latest_fill_start(),
        "notes": list(notes),
    }
