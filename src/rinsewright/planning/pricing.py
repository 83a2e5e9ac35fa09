"""A site's prices put to what its year used."""

from __future__ import annotations

from rinsewright.costs.prices import Costs, Equipment, Prices, price_year
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.layout import Plant
from rinsewright.plant.part import Part
from rinsewright.quantities import HOUR, KWH, LITRE
from rinsewright.seasons.ledger import Ledger
from rinsewright.site.document import SiteDocument


def cartridge_prices(document: SiteDocument, plant: Plant) -> dict[str, float | None]:
    """Price of each cartridge by its name, in flow order: its own, else that of its kind."""
    prices = document.model.prices
    by_media = {"sediment": prices.sediment_cartridge, "carbon": prices.carbon_cartridge}
    return {
        part.name: part.price if part.price is not None else by_media[part.media]
        for part in plant.feed
        if isinstance(part, Cartridge)
    }


def priced(document: SiteDocument, plant: Plant, ledger: Ledger) -> Costs:
    """What a ledger's years cost at the site's prices."""
    prices = document.model.prices
    cartridges = cartridge_prices(document, plant)
    parts: list[Part] = [*plant.feed, *plant.elements, *plant.drain, *plant.product]
    capital = sum(part.price for part in parts if part.price is not None)
    vessel = plant.resin
    return price_year(
        ledger,
        Prices(
            water_per_m3=prices.water_per_m3,
            sewerage_per_m3=prices.sewerage_per_m3,
            energy_per_j=None if prices.energy_per_kwh is None else prices.energy_per_kwh / KWH,
            resin_per_m3=None if prices.resin_per_l is None else prices.resin_per_l / LITRE,
            cartridges={name: price for name, price in cartridges.items() if price is not None},
            membrane=prices.membrane,
            labour_per_s=None if prices.labour_per_hour is None else prices.labour_per_hour / HOUR,
            visit_s=None if prices.visit_hours is None else prices.visit_hours * HOUR,
            capital=capital or None,
            years=prices.years,
        ),
        Equipment(
            resin_m3=vessel.volume if vessel is not None else 0.0,
            cartridges=tuple(cartridges),
            membranes=len(plant.elements),
        ),
    )
