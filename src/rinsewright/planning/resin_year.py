"""How the resin fares in the marched year, as the plant really runs: throttled by its float valve, started and stopped.

The plan's ``resin`` is for full flow; what a customer meets is this.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rinsewright.plant.layout import Plant
from rinsewright.quantities import LITRE, US_CM, Array
from rinsewright.seasons.ledger import Ledger

SALTIER = 1.1  # times the reading at full flow from which on the sentences say why a filling lasts less (assumed)
LEAST_HOUR = 5.0 * LITRE  # m3: an hour that makes less tells of its start alone


@dataclass(frozen=True)
class Span:
    """The mean of some fillings, the shortest and the longest of them."""

    mean: float
    least: float
    most: float


@dataclass(frozen=True)
class ResinYear:
    """The fillings of the year without chance, fresh resin on 1 January.

    ``litres`` and ``days`` are of the fillings that the reading ended; None where it ended none. ``used``: fillings
    used up, parts of one too. Readings before the resin, ppm: the year's mean and what it would be at full flow on the
    same days; ``ordinary`` are the lowest at full flow and the highest mean of an hour in the reported weeks.
    """

    changes: int
    litres: Span | None
    days: Span | None
    used: float
    through_litres: float
    before_ppm: float
    full_flow_ppm: float
    ordinary: tuple[float, float] | None
    from_tank: bool

    @classmethod
    def of(cls, ledger: Ledger, plant: Plant, meter_factor: float) -> ResinYear:
        """Read off a marched year of the plant."""
        ppm = meter_factor / US_CM
        through = (ledger.delivered if plant.resin_behind_tank else ledger.product)[0] / LITRE
        through = through * (1.0 - plant.blend_behind_resin)
        ends, by_reading = _ends(ledger.resin_changes[0], ledger.resin_reasons[0])
        passed = np.interp(ends, np.arange(len(through) + 1), np.concatenate([[0.0], np.cumsum(through)]))
        days, litres = np.diff(ends, prepend=0.0), np.diff(passed, prepend=0.0)
        made, full = ledger.product[0], ledger.full_product[0]
        ran = (made > 0.0) & (full > 0.0)
        at_full = np.divide(ledger.full_salt[0], full, out=np.zeros_like(full), where=ran) * ppm
        return cls(
            changes=len(ends),
            litres=_span(litres[by_reading]),
            days=_span(days[by_reading]),
            used=float(ledger.resin_spent[0].sum()),
            through_litres=float(through.sum()),
            before_ppm=_mean(ledger.salt[0, ran] * ppm, made[ran]),
            full_flow_ppm=_mean(at_full[ran] * made[ran], made[ran]),
            ordinary=_ordinary(ledger, at_full[ran], ppm),
            from_tank=plant.tank is not None,
        )

    @property
    def days_each(self) -> float | None:
        """Days of a filling, of one that the year does not end too; None where the water needs no resin."""
        if self.days is not None:
            return self.days.mean
        return 365.0 / self.used if self.used > 0.0 else None

    @property
    def shortest_days(self) -> float | None:
        """Days of the shortest filling."""
        return self.days.least if self.days is not None else self.days_each

    @property
    def litres_each(self) -> float | None:
        """Litres of a filling, likewise."""
        if self.litres is not None:
            return self.litres.mean
        return self.through_litres / self.used if self.used > 0.0 else None

    def told(self) -> str:
        """How often the resin is changed, and what lies between two changes; empty where the water needs none."""
        if self.days is None or self.litres is None:
            if self.changes:
                return f"In the year the resin is changed {_times(self.changes)}, by date."
            if self.litres_each is None or self.days_each is None:
                return ""
            much = f"about {two(self.litres_each)} L, {two(self.days_each)} days"
            return f"The resin is not changed within the year: at this pace one filling takes {much}."
        each = "each filling lasts" if self.changes > 1 else "the filling lasts"
        litres, days = _spoken(self.litres, "L"), _spoken(self.days, "days")
        return f"In the year the resin is changed {_times(self.changes)}: {each} about {litres}, {days}."

    @property
    def saltier(self) -> bool:
        """Whether the year's product is saltier than the same made at full flow."""
        return self.full_flow_ppm > 0.0 and self.before_ppm >= SALTIER * self.full_flow_ppm

    @property
    def always_at_full_flow(self) -> str:
        """What somebody does who has the best of it, as a sentence begins."""
        return "Filled always at full flow, as by night" if self.from_tank else "With the brush always wide open"

    def why(self) -> str:
        """Why a filling takes less than at full flow; empty where it does not."""
        if not self.saltier:
            return ""
        valve = "float valve" if self.from_tank else "brush"
        return (
            f"Over the year the product reads {self.before_ppm:.0f} ppm before the resin, at full flow "
            f"{self.full_flow_ppm:.0f} ppm: the {valve} throttles the plant, and each start brings salt."
        )

    def sentences(self) -> tuple[str, ...]:
        """Both of these, as far as there is something to say."""
        return tuple(said for said in (self.told(), self.why()) if said) if self.told() else ()


def two(value: float) -> str:
    """Two significant digits: no one knows a resin's end better."""
    return f"{float(f'{value:.2g}'):,.0f}"


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def _spoken(span: Span, unit: str) -> str:
    mean, least, most = (two(value) for value in (span.mean, span.least, span.most))
    return f"{mean} {unit}" if least == most else f"{mean} {unit} ({least} to {most})"


def _ends(changes: Array, reasons: Array) -> tuple[Array, Array]:
    """The ends of the fillings in days from the year's start, and whether the reading ended them.

    Several on one day share it evenly.
    """
    ends, by_reading = [], []
    for day in np.flatnonzero(changes):
        times = int(changes[day])
        ends += [day + (n + 1) / times for n in range(times)]
        by_reading += [reasons[day] == 0] * times
    return np.array(ends, dtype=np.float64), np.array(by_reading, dtype=bool)


def _span(values: Array) -> Span | None:
    return Span(float(values.mean()), float(values.min()), float(values.max())) if len(values) else None


def _mean(amount: Array, volume: Array) -> float:
    total = float(volume.sum())
    return float(amount.sum()) / total if total > 0.0 else 0.0


def _ordinary(ledger: Ledger, at_full: Array, ppm: float) -> tuple[float, float] | None:
    made = ledger.hours.product[0]
    enough = made > LEAST_HOUR
    if not len(at_full) or not enough.any():
        return None
    hours = ledger.hours.salt[0][enough] / made[enough] * ppm
    return float(min(at_full.min(), hours.min())), float(max(at_full.max(), hours.max()))
