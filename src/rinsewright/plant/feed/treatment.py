"""Parts of the feed line that filter or change the water before the membranes."""

from __future__ import annotations

from dataclasses import dataclass

from rinsewright.plant.part import OrificePart, Part, ViscousPart


@dataclass(frozen=True, kw_only=True)
class Cartridge(ViscousPart):
    """A filter cartridge. How it loads and when it is changed is in :mod:`rinsewright.plant.feed.cartridge`."""

    media: str  # "sediment" or "carbon"
    change_after_m3: float | None = None
    change_at_drop_pa: float | None = None
    change_after_months: float | None = None
    change_on: tuple[int, ...] = ()  # days of the year, 1–365
    dirt_m3_to_double: float | None = None
    chlorine_capacity_kg: float | None = None


@dataclass(frozen=True, kw_only=True)
class Softener(ViscousPart):
    """Exchanges hardness (Ca, Mg, Sr, Ba, Fe, Mn) for sodium, equivalent by equivalent."""

    hardness_leak_share: float = 0.01


@dataclass(frozen=True, kw_only=True)
class Inhibitor(Part):
    """Scale inhibitor dosed into the feed: raises the saturation index that may be tolerated at the drain end."""

    calcite_si_credit: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Solenoid(OrificePart):
    """An electric valve in the feed line."""
