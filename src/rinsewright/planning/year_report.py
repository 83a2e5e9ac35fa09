"""A simulated year as its reader gets it: bands by day and by hour, a calendar of changes, the cost."""

from __future__ import annotations

import numpy as np

from rinsewright.dates import DAYS, month_and_day
from rinsewright.planning import SEED
from rinsewright.planning.pricing import cartridge_prices, priced
from rinsewright.planning.tap import Tap
from rinsewright.planning.versions import stamped
from rinsewright.planning.year import (
    ANY_MARCH,
    SOLVING,
    WITHOUT_CHANCE,
    MarchedYear,
    Progress,
    central_inputs,
    central_resin,
    march_members,
    march_year,
    notes_of,
)
from rinsewright.planning.year_result import Event, WeekHours, YearResult
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.layout import Plant
from rinsewright.quantities import HOUR, L_MIN, LITRE, US_CM, Array, celsius
from rinsewright.seasons.ensemble import years
from rinsewright.seasons.filling import always_open, latest_fill_start
from rinsewright.seasons.ledger import Ledger, band, year_answer
from rinsewright.site import build
from rinsewright.site.document import SiteDocument

# Below so much water in an hour or a day there is nothing to put a meter into: a start's slug would be all there is.
LEAST_IN_HOUR, LEAST_IN_DAY = 1.0 * LITRE, 5.0 * LITRE
PUT_TOGETHER = 0.97  # share of the work at which all is marched (measured)
CARTRIDGE_REASONS = (
    "Its loss of pressure has risen as far as is allowed.",
    "It has filtered its volume.",
    "Its time is up.",
    "It has taken up as much chlorine as it can.",
    "It is its day.",
)
MEMBRANE_REASONS = (
    "Its flow has fallen as far as is allowed.",
    "Its salt passage has grown as far as is allowed.",
    "It has had as much chlorine as it stands.",
    "Its time is up.",
)
RESIN_REASONS = ("The reading behind it is at the limit.", "It is its day.")


def simulate_year(
    document: SiteDocument,
    plant: Plant,
    tap: Tap,
    members: int = 1,
    seed: int | None = None,
    workers: int = 1,
    progress: Progress | None = None,
) -> YearResult:
    """A calendar year; with more than one member as many years, each with its own chance.

    The same seed gives the same years on any number of workers. Raises :class:`NoWorkingState` where the plant cannot
    work at all.
    """
    say = progress or (lambda what, share: None)
    if members == 1:
        say("marching the year", 0.1)
        seed, year = None, march_year(document, plant, tap)
        central = year.ledger
    else:
        seed = SEED if seed is None else seed
        by_chance = SOLVING + ANY_MARCH + members
        drawn = PUT_TOGETHER * by_chance / (by_chance + WITHOUT_CHANCE)
        year = march_members(document, plant, tap, members, seed, workers, lambda what, share: say(what, drawn * share))
        central = years(
            central_inputs(year.case, tap.water),
            central_resin(year.case),
            progress=lambda share: say("marching the year without chance", drawn + (PUT_TOGETHER - drawn) * share),
        )
    say("putting it together", PUT_TOGETHER)
    costs = priced(document, plant, year.ledger)
    notes = [f"Not counted, for want of a price: {', '.join(costs.not_counted)}."] if costs.not_counted else []
    notes += notes_of(year.case, year.ledger)
    factor = year.case.demand.meter_factor
    fill = latest_fill_start(year.inputs, year.ledger)
    answer = {**year_answer(year.ledger, factor, fill, costs.total, notes), "seed": seed}
    return YearResult(
        site_name=document.model.site.name,
        planned_on=document.model.site.planned_on or "",
        country=document.model.site.country or "",
        currency=build.currency(document) or "",
        meter_factor=factor,
        limit_ppm=year.case.demand.limit_ppm,
        seed=seed,
        members=members,
        data=stamped(answer),
        days=_by_day(year),
        weeks=_weeks(year),
        calendar=_calendar(document, plant, central),
        cost_split={name: band(values) for name, values in costs.split.items()},
        notes=notes,
        always_open=always_open(year.inputs.week),
    )


def _three(values: Array) -> Array:
    """Low, middle and high of members (first axis); a single one is all three."""
    if len(values) == 1:
        return np.repeat(values, 3, axis=0)
    rows = np.full((3, *values.shape[1:]), np.nan)
    known = ~np.isnan(values)
    whole, some = known.all(axis=0), known.any(axis=0)
    rows[:, whole] = np.quantile(values[:, whole], [0.05, 0.5, 0.95], axis=0)
    some &= ~whole
    rows[:, some] = np.nanquantile(values[:, some], [0.05, 0.5, 0.95], axis=0)
    return rows


def _by_day(year: MarchedYear) -> dict[str, Array]:
    ledger, ppm = year.ledger, year.case.demand.meter_factor / US_CM
    temperature = np.broadcast_to(year.inputs.temperature_k, (ledger.members, DAYS))[:1]
    tank = year.inputs.tank is not None
    worst = np.where(ledger.worst > 0.0, ledger.worst * ppm, np.nan)
    through = ledger.delivered if year.case.plant.resin_behind_tank else ledger.product
    values = {
        "temperature_c": celsius(temperature),
        "product_l": ledger.product / LITRE,
        "drain_l": ledger.drain / LITRE,
        "delivered_l": ledger.delivered / LITRE,
        "short_l": ledger.short / LITRE,
        "starts": ledger.starts,
        "level_end_l": ledger.level_end / LITRE if tank else np.full_like(ledger.product, np.nan),
        "before_ppm": np.where(ledger.product > LEAST_IN_DAY, ledger.before * ppm, np.nan),
        "after_ppm": np.where(through > LEAST_IN_DAY, ledger.after * ppm, np.nan),
        "worst_ppm": worst,
        "back_l": ledger.back / LITRE,
        "overflow_l": ledger.overflow / LITRE,
    }
    return {name: _three(value) for name, value in values.items()}


def _weeks(year: MarchedYear) -> tuple[WeekHours, WeekHours]:
    ledger, hours = year.ledger, year.ledger.hours
    ppm, rate = year.case.demand.meter_factor / US_CM, 1.0 / (HOUR * L_MIN)
    n = ledger.members
    made = hours.product
    before = np.divide(hours.salt, made, out=np.full_like(made, np.nan), where=made > LEAST_IN_HOUR) * ppm
    after = np.repeat(ledger.after[:, list(hours.days), None], 24, axis=2) * ppm
    drawn = hours.delivered if year.inputs.tank is None or year.case.plant.resin_behind_tank else made
    after = np.where(drawn > LEAST_IN_HOUR, after, np.nan)
    level = hours.level / LITRE if year.inputs.tank is not None else np.full_like(hours.level, np.nan)
    values = {
        "level_l": level,
        "product_l_min": made * rate,
        "drain_l_min": hours.drain * rate,
        "drawn_l_min": hours.delivered * rate,
        "before_ppm": before,
        "after_ppm": after,
    }
    weeks = []
    for k, season in enumerate(("winter", "summer")):
        chosen = slice(7 * k, 7 * k + 7)
        first = hours.days[7 * k]
        temperature = year.inputs.temperature_k[0, first : first + 7].mean()
        rows = {name: _three(value[:, chosen].reshape(n, -1)) for name, value in values.items()}
        weeks.append(WeekHours(season, first + 1, float(celsius(temperature)), rows))
    return weeks[0], weeks[1]


def _calendar(document: SiteDocument, plant: Plant, ledger: Ledger) -> tuple[Event, ...]:
    """What is changed in the central year."""
    prices = document.model.prices
    found: list[tuple[int, str, str, float | None]] = []
    vessel = plant.resin
    resin_price = None
    if vessel is not None and prices.resin_per_l is not None:
        resin_price = prices.resin_per_l * vessel.volume / LITRE
    for day in np.flatnonzero(ledger.resin_changes[0]):
        reason = RESIN_REASONS[int(ledger.resin_reasons[0, day])]
        times = int(ledger.resin_changes[0, day])
        found.append((int(day), "resin", reason, None if resin_price is None else times * resin_price))
    parts = [part for part in plant.feed if isinstance(part, Cartridge)]
    each = cartridge_prices(document, plant)
    for n, part in enumerate(parts):
        for day in np.flatnonzero(ledger.cartridge_changes[n, 0]):
            reason = CARTRIDGE_REASONS[int(ledger.cartridge_reasons[n, 0, day])]
            found.append((int(day), part.name, reason, each[part.name]))
    for day in np.flatnonzero(ledger.membrane_changes[0]):
        price = None if prices.membrane is None else prices.membrane * len(plant.elements)
        found.append((int(day), "membranes", MEMBRANE_REASONS[int(ledger.membrane_reasons[0, day])], price))
    return tuple(
        Event(day + 1, "{:02d}-{:02d}".format(*month_and_day(day + 1)), what, why, price)
        for day, what, why, price in sorted(found)
    )
