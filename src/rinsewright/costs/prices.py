"""Prices a ledger. What has no price is named as not counted; it is never taken as free."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from rinsewright.quantities import Array
from rinsewright.seasons.ledger import Ledger


@dataclass(frozen=True)
class Prices:
    """Prices in one currency, SI underneath (per m3, J, s); ``None``: not given.

    ``cartridges`` maps a cartridge's name in the ledger's order to its price. ``capital`` is spread over ``years``.
    """

    water_per_m3: float | None = None
    sewerage_per_m3: float | None = None
    energy_per_j: float | None = None
    resin_per_m3: float | None = None
    cartridges: Mapping[str, float] = field(default_factory=dict)
    membrane: float | None = None
    labour_per_s: float | None = None
    visit_s: float | None = None
    capital: float | None = None
    years: float | None = None


@dataclass(frozen=True)
class Equipment:
    """What wears: resin in one vessel [m3], the cartridges' names in the ledger's order, how many membranes."""

    resin_m3: float = 0.0
    cartridges: tuple[str, ...] = ()
    membranes: int = 0


@dataclass(frozen=True)
class Costs:
    """Cost of one year: ``split`` name → (members); ``not_counted`` names what is used but has no price."""

    split: dict[str, Array]
    not_counted: tuple[str, ...]
    delivered: Array  # m3, (members)

    @property
    def total(self) -> Array | None:
        """Sum of what is counted, (members); ``None`` where nothing has a price."""
        return np.asarray(sum(self.split.values())) if self.split else None

    @property
    def per_m3(self) -> Array | None:
        """Cost of each cubic metre delivered, not-a-number where none is."""
        total = self.total
        if total is None:
            return None
        delivered = np.where(self.delivered > 0.0, self.delivered, np.nan)
        return np.asarray(total / delivered)

    def per_year(self) -> dict[str, float]:
        """The split as plain numbers, the median of members."""
        return {name: float(np.median(values)) for name, values in self.split.items()}


def price_year(ledger: Ledger, prices: Prices, equipment: Equipment) -> Costs:
    """Cost of a ledger's year.

    Resin, cartridges and membranes cost what was used of them, not what happened to be changed within the year: a year
    in which no bag was emptied is not shown as cheap. Sewerage is paid on drain water, water on all that was taken.
    Labour is the visits at which something was changed.
    """
    bill = _Bill(ledger.members)
    bill.add("water", ledger.feed.sum(axis=1), prices.water_per_m3)
    bill.add("sewerage", ledger.drain.sum(axis=1), prices.sewerage_per_m3)
    bill.add("energy", ledger.energy.sum(axis=1), prices.energy_per_j)
    bill.add("resin", ledger.resin_spent.sum(axis=1) * equipment.resin_m3, prices.resin_per_m3)
    for name, lives in zip(equipment.cartridges, ledger.cartridge_spent, strict=True):
        bill.add(
            "cartridges",
            lives,
            prices.cartridges.get(name),
            f"{name}s" if name.endswith("cartridge") else f"{name} cartridges",
        )
    bill.add("membranes", equipment.membranes * ledger.membrane_spent, prices.membrane)
    hourly = None if prices.labour_per_s is None or prices.visit_s is None else prices.labour_per_s * prices.visit_s
    bill.add("labour", ledger.visits, hourly)
    if prices.capital:
        bill.add("capital", np.array(prices.capital), None if not prices.years else 1.0 / prices.years)
    return Costs(bill.split, tuple(bill.not_counted), ledger.delivered.sum(axis=1))


def break_even_days(extra_capital: float, saving_per_year: float) -> float | None:
    """Days after which a dearer plant has paid for itself against another; ``None`` if it never does."""
    if extra_capital <= 0.0:
        return 0.0
    return extra_capital / saving_per_year * 365.0 if saving_per_year > 0.0 else None


class _Bill:
    def __init__(self, members: int) -> None:
        self.members = members
        self.split: dict[str, Array] = {}
        self.not_counted: list[str] = []

    def add(self, name: str, used: Array, price: float | None, label: str | None = None) -> None:
        """One line; a line of which nothing is used needs no price and does not appear."""
        amount = np.broadcast_to(np.asarray(used, dtype=np.float64), (self.members,))
        if not (amount > 0.0).any():
            return
        if price is None:
            self.not_counted.append(label or name)
            return
        self.split[name] = self.split.get(name, np.zeros(self.members)) + amount * price
