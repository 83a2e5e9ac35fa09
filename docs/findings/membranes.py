"""Resin alone against reverse osmosis and a little resin: cost of a year by the tap's reading and the day's litres."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from page import Line, bill, chart, demo, edited, near, replaced, table, without, write, year_inputs

from rinsewright.api import Site
from rinsewright.costs.prices import Costs
from rinsewright.plant.product.resin import ANION_CAPACITY
from rinsewright.quantities import Array
from rinsewright.seasons.year import simulate

PAGE = """
# Resin alone, or membranes first

With the demo's prices and {middle:g} L each working day, membranes with a little resin behind them cost less than
resin alone from about {cross_middle} ppm at the tap; with {little:g} L from about {cross_little} ppm, with {much:g} L
from {cross_much} ppm. The plant's price is counted. The lines cross well below the rule of thumb, and where they
cross hangs on litres and on the price of resin more than on the water.

![Cost of a year against the tap's reading, resin alone and membranes first.](membranes.svg)

{table}

{currency} a year at {middle:g} L each working day. Resin alone: a {vessel:g} L vessel. Membranes first: the demo
plant with its {polish:g} L vessel, filling by night. The tap is known by its reading and a pH of {ph:g} only; the
program completes it to an average water. A made-up {capital:g} is spread over {years:g} years for the membrane plant
and {vessel_price:g} for the vessel.

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
  cases that fits   {rule_holds}. With the demo's prices and one van ({middle:g} L) membranes pay from about
  {cross_middle} ppm. The rule may   date from dearer membranes, or count what is not counted here: the trouble of a
  second plant, space and frost, a drain to find, and water standing in a tank.
- *It is the ppm that decides*: the litres decide as much. The crossing moves {factor_litres:.0f}-fold from {little:g}
  to {much:g} L a day.

## How sure

Sure are the slopes: a resin's capacity is good to about ±{capacity}, and the litres it takes agree with the trade's
habit ({habit} L × ppm for each litre of resin here, against {habit_low:,.0f} to {habit_high:,.0f}; common practice,
no source). Not sure are your prices: the table's rows are their width. Someone who regenerates or has resin refilled
at a third of the price comes much nearer the rule. Below about {least:g} ppm, or for a few litres a week, nothing
here argues for membranes. Put your own prices into the site file and ask for both plans.
"""

PPM = np.array([15.0, 25.0, 40.0, 60.0, 80.0, 100.0, 125.0, 150.0, 200.0, 250.0, 300.0])
DAYS = (40.0, 150.0, 400.0)  # L each working day: an odd job, one cleaner, a busy van (common practice, no source)
VESSEL, VESSEL_PRICE, CAPITAL = 25.0, 150.0, 900.0  # L; made-up prices
CHEAP = 2.2  # price of a litre of resin refilled or regenerated
STRICT = 5.0  # ppm, for those who work to 000–005
HABIT = (15_000.0, 30_000.0)  # L × ppm (factor 0.5) for each litre of resin; common practice, no source
PH = 7.6


def known_by_reading(text: str) -> str:
    """The demo known by its reading and pH only, filling by night."""
    text = without(text, "[water.ions_mg_l]")
    text = re.sub(r"(?m)^(hardness|alkalinity)_mg_l_caco3.*\n", "", text)
    night = 'fill_from = "20:00"\nfill_until = "06:00"\nproduct_limit_ppm'
    return edited(replaced(text, "product_limit_ppm", night), ph=PH)


def resin_alone(text: str) -> str:
    """The same without membranes and what belongs to them, with a larger vessel."""
    for mark, count in (("[[plant.membranes]]", 2), ('part = "restrictor"', 1), ('part = "shutoff"', 1)):
        text = without(text, mark, count)
    return replaced(text, "litres = 7.0", f"litres = {VESSEL}")


def at(text: str, ppm: float, litres: float) -> Site:
    """The site with another reading at the tap and another demand."""
    week = ", ".join(f"{day} = {litres:g}" for day in ("mon", "tue", "wed", "thu", "fri"))
    return Site.loads(edited(text, meter_ppm=ppm, litres_per_day=f"{{ {week}, sat = 0, sun = 0 }}"))


def costs(text: str, capital: float) -> tuple[Costs, Array]:
    """A year for every reading and demand, readings slowest; and the lives of resin used."""
    sites = [at(text, ppm, litres) for ppm in PPM for litres in DAYS]
    ledger = simulate(year_inputs(sites))
    return bill(sites[0], ledger, capital), ledger.resin_spent.sum(axis=1).reshape(len(PPM), len(DAYS))


def summed(costs: Costs, resin: float = 1.0, left_out: tuple[str, ...] = ()) -> Array:
    """Cost of a year (readings, demands) with resin at another share of its price and some items left out."""
    shares = {name: resin if name == "resin" else 1.0 for name in costs.split if name not in left_out}
    total = sum(share * costs.split[name] for name, share in shares.items())
    return np.asarray(total).reshape(len(PPM), len(DAYS))


def crossing(alone: Array, first: Array) -> float:
    """The reading above which resin alone costs more for good; the ends of PPM where it always or never does."""
    dearer = alone > first
    if dearer.all():
        return float(PPM[0])
    last = int(np.flatnonzero(~dearer)[-1])
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
    text = known_by_reading(demo())
    first, polishing = costs(text, CAPITAL)
    alone, lives = costs(resin_alone(text), VESSEL_PRICE)
    strict = edited(text, product_limit_ppm=STRICT)
    strict_first, strict_alone = costs(strict, CAPITAL)[0], costs(resin_alone(strict), VESSEL_PRICE)[0]
    prices = Site.loads(text).document.model.prices
    assert prices.resin_per_l is not None
    share = CHEAP / prices.resin_per_l
    no_plant, no_labour = ("capital",), ("labour",)
    ways = {
        "the demo's prices": (summed(alone), summed(first)),
        "the same, without the plant's price": (summed(alone, 1.0, no_plant), summed(first, 1.0, no_plant)),
        "the same, no labour": (summed(alone, 1.0, no_labour), summed(first, 1.0, no_labour)),
        f"resin at {CHEAP:.2f} a litre": (summed(alone, share), summed(first, share)),
        f"resin at {CHEAP:.2f} a litre, no labour": (summed(alone, share, no_labour), summed(first, share, no_labour)),
        f"resin changed at {STRICT:g} ppm": (summed(strict_alone), summed(strict_first)),
    }
    cross = {name: [crossing(a[:, n], b[:, n]) for n in range(len(DAYS))] for name, (a, b) in ways.items()}
    rows = [[name, *(said(ppm) for ppm in found)] for name, found in cross.items()]
    header = ("crossing, ppm at the tap", *(f"{litres:g} L a working day" for litres in DAYS))
    total_alone, total_first = ways["the demo's prices"]
    split = {name: values.reshape(len(PPM), len(DAYS)) for name, values in first.split.items()}
    picks = [int(np.flatnonzero(ppm == PPM)[0]) for ppm in (25.0, 60.0, 100.0, 150.0, 200.0, 300.0)]
    costs_table = table(
        ("tap, ppm", "resin alone", "of which resin", "membranes first", "of which resin"),
        [
            [
                f"{PPM[n]:g}",
                near(total_alone[n, 1]),
                near(alone.split["resin"].reshape(len(PPM), -1)[n, 1]),
                near(total_first[n, 1]),
                near(split["resin"][n, 1]) if "resin" in split else "0",
            ]
            for n in picks
        ],
    )
    hundred, more = (int(np.flatnonzero(ppm == PPM)[0]) for ppm in (100.0, 200.0))
    delivered = first.delivered.reshape(len(PPM), len(DAYS))

    def slope(total: Array, n: int) -> float:
        """Pence that one more litre costs."""
        return float(100.0 * (total[n, 2] - total[n, 0]) / (delivered[n, 2] - delivered[n, 0]) / 1e3)

    fixed = float(total_first[hundred, 0] - slope(total_first, hundred) / 100.0 * 1e3 * delivered[hundred, 0])
    gap = (total_first - total_alone)[hundred]
    level = DAYS[0] + gap[0] * (DAYS[2] - DAYS[0]) / (gap[0] - gap[2])  # the costs are straight in the litres
    holds = [
        f"{DAYS[n]:g} L a day with {name}"
        for name, found in cross.items()
        for n in range(len(DAYS))
        if 100.0 <= found[n] <= 200.0
    ]
    own = cross["the demo's prices"]
    needed = int(np.argmax(polishing[:, 1] > 0.0))
    litres_of_resin = lives[hundred, 1] * VESSEL
    return {
        "table": costs_table, "crossings": table(header, rows), "cross": cross, "alone": total_alone,
        "first": total_first, "little": DAYS[0], "middle": DAYS[1], "much": DAYS[2],
        "cross_little": said(own[0]), "cross_middle": said(own[1]), "cross_much": said(own[2]),
        "currency": prices.currency, "vessel": VESSEL, "polish": 7, "ph": PH, "capital": CAPITAL, "years": prices.years,
        "vessel_price": VESSEL_PRICE, "factor": 0.5, "least": PPM[0], "hundred": 100, "more": 200,
        "per_litre": slope(total_alone, hundred), "per_litre_more": slope(total_alone, more),
        "per_litre_ro": slope(total_first, hundred), "fixed": near(fixed), "limit": 10,
        "needs": PPM[needed], "needs_not": PPM[needed - 1], "level": level,
        "rule_holds": "; ".join(holds) if holds else "none",
        "factor_litres": own[0] / own[2], "habit": near(delivered[hundred, 1] * 1e3 * 100.0 / litres_of_resin),
        "capacity": ANION_CAPACITY.uncertainty, "habit_low": HABIT[0], "habit_high": HABIT[1],
        "habit_value": delivered[hundred, 1] * 1e3 * 100.0 / litres_of_resin,
    }  # fmt: skip


def picture(found: dict[str, Any]) -> str:
    """Cost of a year against the tap's reading, for one cleaner."""
    show = PPM <= 200.0
    lines = [
        Line("membranes first", PPM[show], found["first"][show, 1]),
        Line("resin alone", PPM[show], found["alone"][show, 1]),
    ]
    title = f"Cost of a year at {DAYS[1]:g} L each working day"
    return chart(title, "tap, ppm", f"{found['currency']} a year, {DAYS[1]:g} L each working day", lines)


if __name__ == "__main__":
    found = facts()
    write(__file__, PAGE, found, picture(found))
