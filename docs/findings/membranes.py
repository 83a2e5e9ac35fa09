"""Resin alone against reverse osmosis and a little resin: cost of a year by the tap's reading and the day's litres."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from page import Line, chart, demo, edited, near, replaced, table, without, write

from rinsewright.api import Site
from rinsewright.costs.prices import Costs
from rinsewright.planning.pricing import priced
from rinsewright.planning.year import case_of, central_inputs, central_resin
from rinsewright.plant.product.resin import ANION_CAPACITY
from rinsewright.quantities import LITRE, MG_L, US_CM, Array
from rinsewright.seasons.march import march
from rinsewright.seasons.quality import through_resin

PAGE = """
# Resin alone, or membranes first

With the demo's prices and {middle:g} L each working day, membranes with a little resin behind them cost less than
resin alone from about {cross_middle} ppm at the tap; with {little:g} L from about {cross_little} ppm, with {much:g} L
from {cross_much} ppm. The plant's price is counted. The lines cross well below the rule of thumb, and where they
cross hangs on litres and on the price of resin more than on the water.

![Cost of a year against the tap's reading, resin alone and membranes first.](membranes.svg)

{table}

{currency} a year at {middle:g} L each working day. Resin alone: a {vessel:g} L vessel. Membranes first: the demo
plant with its {polish:g} L vessel, the water drawn at once so that it fills at full flow. The tap is known by its
reading and a pH of {ph:g} only; the program completes it to an average water, whose hardness stands in mg/L as CaCO₃.
A made-up {capital:g} is spread over {years:g} years for the membrane plant and {vessel_price:g} for the vessel.

## Where the lines cross

{crossings}

Tap readings in ppm on a meter of factor {factor:g}; below {least:g} ppm the program was not asked. *Without the
plant's price* is for someone who has the plant already; *no labour* for someone who changes resin and filters and
counts no hour.

## Why

Resin costs by the salt it takes: at {hundred:g} ppm {per_litre:.1f} pence for each litre of water,
{per_litre_more:.1f} at {more:g} ppm. A membrane plant costs by the year, about {fixed} {currency} before it has made
a litre (filters, wear, a visit, its price), and then {per_litre_ro:.1f} pence a litre for water and drain. Its own
resin counts for nothing until the product misses the limit of {limit:g} ppm, here from somewhere between
{needs_not:g} and {needs:g} ppm at the tap. So few litres favour resin, and every litre more favours membranes: at
{hundred:g} ppm the two are level at about {level:.0f} L each working day.

## Against the rule of thumb

- *Below about 100 ppm resin alone is often cheapest; above about 150 to 200 ppm membranes first pays.* Of the table's
  cases only those with little water, or with cheap resin and no labour, come near it. With the demo's prices and one
  van ({middle:g} L) membranes pay from about {cross_middle} ppm. The rule may date from dearer membranes, or count
  what is not counted here: the trouble of a second plant, space and frost, a drain to find, and water standing in a
  tank.
- *It is the ppm that decides*: the litres decide as much. The crossing moves {factor_litres:.0f}-fold from {little:g}
  to {much:g} L a day.

## How sure

Sure are the slopes: a resin's capacity is good to about ±{capacity}, and the litres it takes agree with the trade's
habit ({habit} L × ppm for each litre of resin here, against {habit_low:,.0f} to {habit_high:,.0f}; common practice,
no source). Not sure are your prices: the table's rows are their width. Someone who regenerates or has resin refilled
at a third of the price comes much nearer the rule. Below about {least:g} ppm, or for a few litres a week, nothing
here argues for membranes. Put your own prices into the site file and ask for both plans.
"""

PPM = np.array([15.0, 25.0, 40.0, 60.0, 100.0, 150.0, 200.0, 300.0])
DEMANDS = (40.0, 150.0, 400.0)  # L each working day: an odd job, one cleaner, a busy van (common practice, no source)
VESSEL, VESSEL_PRICE, CAPITAL = 25.0, 150.0, 900.0  # L; made-up prices
CHEAP = 2.2  # price of a litre of resin refilled or regenerated
LIMIT, FACTOR = 10.0, 0.5  # ppm where resin is changed; the meter's factor
STRICT = 5.0  # ppm, for those who work to 000–005
HABIT = (15_000.0, 30_000.0)  # L × ppm (factor 0.5) for each litre of resin; common practice, no source
PH = 7.6


def membranes_first(ppm: float) -> str:
    """The demo known by its reading and pH only, its water drawn at once into a van; the plant's price on its tank."""
    text = without(demo(), "[water.ions_mg_l]")
    text = re.sub(r"(?m)^(hardness|alkalinity)_mg_l_caco3.*\n", "", text)
    text = replaced(text, "vented = true", f"vented = true\nprice = {CAPITAL}")
    return edited(text, ph=PH, meter_ppm=ppm, draw_until='"08:16"')


def resin_alone(ppm: float) -> str:
    """The same without membranes and what belongs to them, with a larger vessel."""
    text = membranes_first(ppm)
    for mark, count in (("[[plant.membranes]]", 2), ('part = "restrictor"', 1), ('part = "shutoff"', 1)):
        text = without(text, mark, count)
    return edited(replaced(text, "litres = 7.0", f"litres = {VESSEL}"), price=VESSEL_PRICE)


@dataclass(frozen=True)
class Way:
    """A way of making the water: for every reading and demand the cost of a year by item, lives of resin and m³."""

    split: dict[str, Array]
    lives: Array
    delivered: Array

    def total(self, resin: float = 1.0, left_out: str = "") -> Array:
        """Cost of a year with resin at another share of its price and items left out, named in one string."""
        shares = {name: resin if name == "resin" else 1.0 for name in self.split if name not in left_out}
        return np.asarray(sum(share * self.split[name] for name, share in shares.items()))


def years(text: str, limits: tuple[float, ...]) -> list[tuple[Costs, Array, Array]]:
    """The year of a site file for every demand side by side, for resin changed at several limits [ppm]."""
    site = Site.loads(text)
    case = case_of(site.document, site.plant, site.tap)
    inputs, use = central_inputs(case, site.tap.water), central_resin(case)
    assert use is not None
    works = inputs.demand > 0.0

    def each(value: Any) -> Any:
        return np.repeat(value, len(DEMANDS), axis=0)

    inputs = replace(
        inputs,
        demand=np.concatenate([works * litres * LITRE for litres in DEMANDS]),
        water_factor=each(inputs.water_factor),
        salt_factor=each(inputs.salt_factor),
        flow_factor=each(inputs.flow_factor),
        shut_days=each(inputs.shut_days),
    )
    use = replace(use, composition=each(use.composition), co2=each(use.co2))
    bare, found = march(inputs), []
    for ppm in limits:
        ledger = through_resin(inputs, bare, replace(use, limit=ppm / FACTOR * US_CM))
        costs = priced(site.document, site.plant, ledger)
        found.append((costs, ledger.resin_spent.sum(axis=1), ledger.delivered.sum(axis=1)))
    return found


def ways(texts: list[str], limits: tuple[float, ...]) -> list[Way]:
    """A way of making the water, for every limit."""
    by_limit = zip(*(years(text, limits) for text in texts), strict=True)
    return [_way(found) for found in by_limit]


def _way(found: tuple[tuple[Costs, Array, Array], ...]) -> Way:
    names = sorted({name for costs, _, _ in found for name in costs.split})
    nothing = np.zeros(len(DEMANDS))
    split = {name: np.array([costs.split.get(name, nothing) for costs, _, _ in found]) for name in names}
    return Way(split, np.array([lives for _, lives, _ in found]), np.array([m3 for _, _, m3 in found]))


def hardness(ppm: float) -> float:
    """Of the water that the program makes of a reading [mg/L as CaCO3]."""
    return float(Site.loads(resin_alone(ppm)).tap.water.hardness[0] / MG_L)


def crossing(alone: Array, first: Array) -> float:
    """The reading above which resin alone costs more for good; the ends of PPM where it always or never does."""
    cheaper = np.flatnonzero(alone <= first)
    if not len(cheaper):
        return float(PPM[0])
    last = int(cheaper[-1])
    if last == len(PPM) - 1:
        return float("inf")
    gap = (alone - first)[[last, last + 1]]
    return float(PPM[last] - gap[0] * (PPM[last + 1] - PPM[last]) / (gap[1] - gap[0]))


def said(ppm: float) -> str:
    """A crossing in words."""
    if ppm <= PPM[0]:
        return f"below {PPM[0]:g}"
    return "never" if np.isinf(ppm) else near(ppm)


def facts() -> dict[str, Any]:
    """All numbers of the page."""
    first, strict_first = ways([membranes_first(ppm) for ppm in PPM], (LIMIT, STRICT))
    alone, strict_alone = ways([resin_alone(ppm) for ppm in PPM], (LIMIT, STRICT))
    prices = Site.loads(demo()).document.model.prices
    assert prices.resin_per_l is not None
    share = CHEAP / prices.resin_per_l
    cases = {
        "the demo's prices": (alone.total(), first.total()),
        "the same, without the plant's price": (alone.total(1.0, "capital"), first.total(1.0, "capital")),
        "the same, no labour": (alone.total(1.0, "labour"), first.total(1.0, "labour")),
        f"resin at {CHEAP:.2f} a litre": (alone.total(share), first.total(share)),
        f"resin at {CHEAP:.2f} a litre, no labour": (alone.total(share, "labour"), first.total(share, "labour")),
        f"resin changed at {STRICT:g} ppm": (strict_alone.total(), strict_first.total()),
    }
    cross = {name: [crossing(a[:, n], b[:, n]) for n in range(len(DEMANDS))] for name, (a, b) in cases.items()}
    rows = [[name, *(said(ppm) for ppm in found)] for name, found in cross.items()]
    header = ("crossing, ppm at the tap", *(f"{litres:g} L a working day" for litres in DEMANDS))
    total_alone, total_first = cases["the demo's prices"]
    picks = [int(np.flatnonzero(ppm == PPM)[0]) for ppm in (25.0, 60.0, 100.0, 150.0, 200.0, 300.0)]
    costs_table = table(
        (
            "tap, ppm",
            "its hardness",
            "resin alone",
            "of which resin",
            "vessels a year",
            "membranes first",
            "of which resin",
        ),
        [
            [
                f"{PPM[n]:g}",
                near(hardness(PPM[n])),
                near(total_alone[n, 1]),
                near(alone.split["resin"][n, 1]),
                near(alone.lives[n, 1]),
                near(total_first[n, 1]),
                near(first.split["resin"][n, 1]),
            ]
            for n in picks
        ],
    )
    hundred, more = (int(np.flatnonzero(ppm == PPM)[0]) for ppm in (100.0, 200.0))

    def slope(total: Array, n: int) -> float:
        """Pence that one more litre costs."""
        return float(100.0 * (total[n, 2] - total[n, 0]) / (first.delivered[n, 2] - first.delivered[n, 0]) / 1e3)

    fixed = float(total_first[hundred, 0] - 10.0 * slope(total_first, hundred) * first.delivered[hundred, 0])
    gap = (total_first - total_alone)[hundred]
    level = DEMANDS[0] + gap[0] * (DEMANDS[2] - DEMANDS[0]) / (gap[0] - gap[2])  # costs are nearly straight in litres
    own = cross["the demo's prices"]
    needed = int(np.argmax(first.lives[:, 1] > 0.0))
    habit = float(first.delivered[hundred, 1] / LITRE * 100.0 / (alone.lives[hundred, 1] * VESSEL))
    return {
        "table": costs_table, "crossings": table(header, rows), "cross": cross, "alone": total_alone,
        "first": total_first, "little": DEMANDS[0], "middle": DEMANDS[1], "much": DEMANDS[2],
        "cross_little": said(own[0]), "cross_middle": said(own[1]), "cross_much": said(own[2]),
        "currency": prices.currency, "vessel": VESSEL, "polish": 7, "ph": PH, "capital": CAPITAL, "years": prices.years,
        "vessel_price": VESSEL_PRICE, "factor": FACTOR, "least": PPM[0], "hundred": 100, "more": 200,
        "per_litre": slope(total_alone, hundred), "per_litre_more": slope(total_alone, more),
        "per_litre_ro": slope(total_first, hundred), "fixed": near(fixed), "limit": LIMIT,
        "needs": PPM[needed], "needs_not": PPM[needed - 1], "level": level,
        "factor_litres": own[0] / own[2], "habit": near(habit), "capacity": ANION_CAPACITY.uncertainty,
        "habit_low": HABIT[0], "habit_high": HABIT[1], "habit_value": habit,
    }  # fmt: skip


def picture(found: dict[str, Any]) -> str:
    """Cost of a year against the tap's reading, for one cleaner."""
    show = PPM <= 200.0
    lines = [
        Line("membranes first", PPM[show], found["first"][show, 1]),
        Line("resin alone", PPM[show], found["alone"][show, 1]),
    ]
    title = f"Cost of a year at {DEMANDS[1]:g} L each working day"
    return chart(title, "tap, ppm", f"{found['currency']} a year, {DEMANDS[1]:g} L each working day", lines)


if __name__ == "__main__":
    found = facts()
    write(__file__, PAGE, found, picture(found))
