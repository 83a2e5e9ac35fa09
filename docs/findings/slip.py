"""First slip against limit, and resin before or behind a vented tank: real years by the tap's pH."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from page import Line, Year, chart, demo, edited, near, replaced, table, tables, write, year_of

from rinsewright.api import Site
from rinsewright.planning.pricing import priced
from rinsewright.planning.year import case_of, central_inputs, central_resin
from rinsewright.quantities import DAY, HOUR, LITRE, US_CM, Array, kelvin
from rinsewright.seasons.ledger import Ledger
from rinsewright.seasons.march import march
from rinsewright.seasons.quality import inflow, through_resin
from rinsewright.water.gas import GAS_VELOCITY

PAGE = """
# First slip, the limit, and a tank that breathes

Behind membranes on chalk water the resin has two ends. Its reading leaves zero early, when carbonic acid slips
through, and reaches your limit much later, when salts do. In a year of the demo at pH {acid}, whoever changes it at
{early_ppm:g} ppm does so {times_early:.0f} times, every {slip_acid} L; whoever waits for {limit_ppm:g} ppm does so
{times_limit:.0f} times, every {limit_acid} L, and saves {currency} {saved} with the visits. At pH {base} the two lie
only {ratio_base:.1f} times apart.

Resin behind a vented tank slips later, by {gain_acid:.0f} % at pH {acid} and {gain_base:.0f} % at pH {base}, but
reaches the limit at the same litre. Moving it pays only if you change at first slip.

![Litres to first slip rise with the pH, before and behind a vented tank; litres to the limit stay level.](slip.svg)

{table}

Whole years of the demo with its pH changed, its {litres:g} L drawn at once each working day so that the plant fills the
tank in one go; litres are those of one {vessel:g} L vessel, the year's mean. *First slip* is a reading of
{early_ppm:g} ppm behind the resin; a meter of factor {factor:g}.

## Why

Membranes hold back salts and let dissolved carbon dioxide pass, and the lower the pH, the more of the water's
carbonate is dissolved gas: at pH {acid} {share_acid:.0f} % of what the anion resin has to take up, at pH {base}
{share_base:.0f} %. Chloride, nitrate and sulphate push it out again, so it costs nothing in the end; until they break
through the meter stands at {plateau_low:.1f} to {plateau_high:.1f} ppm. Carbonic acid leaves nothing on the glass.

In the vented tank the water stands {days:.1f} days on average and loses {lost:.0f} % of the gas above the air's level.
Gas is not what ends the resin at {limit_ppm:g} ppm, and so the limit does not move (here by less than
{limit_moved:.0f} %).

## Before or behind

{places}

At pH {demo_ph}, changed at {limit_ppm:g} ppm. Before the tank the last litres of a vessel are mixed into some hundreds
of good ones, and the brush never sees the limit. Behind the tank it sees all of it.

## Against the rule of thumb

- *The bag lasts several times longer than its first digit says*: so below about pH {worth}. On water of pH {base}, as
  when it is dosed against lead, hardly: there the first digit and the end are near each other.
- *Letting the water breathe before the resin helps*: it moves the first digit and not the litres to {limit_ppm:g}
  ppm.
- *Polish last, just before the brush*: for the limit it makes no difference to the resin's life. The brush's water is
  better on most days, because the gas is gone, and worse on a vessel's last. Behind the tank is for those who change
  at first slip, and for water that picks something up in the tank.
- *Carbonic acid is harmless*: so it is, but silica goes with it. Run to the limit, a vessel gives back nearly all that
  it took: {silica_limit:.1f} mg/L of {silica_in:.1f} pass, the year's mean. Changed at first slip, {silica_early:.1f}
  do. No meter sees it; without resin the water would leave {residue:.0f} mg/L in all.

## How sure

That the limit stands still while the slip moves follows from displacement and does not hang on the numbers. The litres
do: over {members} years drawn by chance (membranes, resin, water, demand) a vessel lasts {slip_low} to {slip_high} L to
first slip at pH {demo_ph} and {limit_low} to {limit_high} L to the limit, nine in ten. The second is wide because the
product reads only {reads:.0f} ppm before the resin, near the limit itself: a slightly better membrane hardly needs the
resin. What a vented tank loses is assumed ({velocity:g} m/h through the surface, {velocity_range}); nobody measured it
here. Selectivities and capacities are from memory (see the program's list of assumptions). Test it: log the litre at
which the reading leaves zero, and the litre at which it leaves the plateau.
"""

ACIDITY, DEMO_PH = (7.2, 7.4, 7.6, 7.9, 8.2), 7.4
EARLY, LIMIT, FACTOR = 1.0, 10.0, 0.5  # where the hasty and the patient change the resin [ppm]; the meter's factor
MEMBERS, CELSIUS, SIO2 = 12, 12.0, 60.08  # g/mol


def site_file(ph: float) -> str:
    """The demo with another pH, its water drawn at once."""
    return edited(demo(), ph=ph, draw_until='"08:16"')


def behind_tank(text: str) -> str:
    """The site file with its resin moved from before the tank to behind it."""
    resin = next(part for part in tables(text) if 'part = "resin"' in part)
    return replaced(replaced(text, resin, ""), "[prices]", f"{resin}[prices]")


@dataclass(frozen=True)
class Resin:
    """A resin's year, changed at the early reading and at the limit, and what each costs."""

    early: Ledger
    limit: Ledger
    cost_early: float
    cost_limit: float
    gas: float  # dissolved, in what the anion resin would have to take up at 12 °C

    silica_in: float  # mg/L, the year's mean before the resin

    @property
    def plateau(self) -> float:
        """What the meter shows between first slip and the end [ppm]."""
        shown = self.limit.after / US_CM * FACTOR
        return float(np.median(shown[(shown > EARLY) & (shown < 0.5 * LIMIT)]))

    def litres(self, ledger: Ledger) -> float:
        """Through one vessel, the year's mean."""
        return float(ledger.delivered.sum() / ledger.resin_spent.sum()) / LITRE

    def silica(self, ledger: Ledger) -> float:
        """Mean of what leaves the resin [mg/L as SiO2]."""
        return float(ledger.silica_slipped.sum() / ledger.delivered.sum()) * SIO2

    def reading(self, ledger: Ledger) -> float:
        """Mean of the days' readings behind the resin [ppm]."""
        return float(np.nanmean(ledger.after)) / US_CM * FACTOR


def resin_year(text: str) -> Resin:
    """The year of a site file; its litres do not depend on the resin and are marched once."""
    site = Site.loads(text)
    case = case_of(site.document, site.plant, site.tap)
    inputs, use = central_inputs(case, site.tap.water), central_resin(case)
    assert use is not None
    bare = march(inputs)
    early, limit = (through_resin(inputs, bare, replace(use, limit=ppm / FACTOR * US_CM)) for ppm in (EARLY, LIMIT))
    costs = [sum(priced(site.document, site.plant, ledger).per_year().values()) for ledger in (early, limit)]
    response, twelve = case.responses[0][1], kelvin(np.array([CELSIUS]))
    load = response.load
    anions = load.anions.sum(axis=0) + load.carbonic + load.silica
    gas = response.along_temperature(load.co2, twelve) / response.along_temperature(anions, twelve)
    fed = inflow(inputs, bare, use)
    return Resin(early, limit, costs[0], costs[1], float(gas[0]), float(fed.silica.sum() / fed.volume.sum()) * SIO2)


def lives(year: Year) -> Array:
    """Litres through one vessel, (members)."""
    return np.asarray(year.ledger.delivered.sum(axis=1) / year.ledger.resin_spent.sum(axis=1) / LITRE)


def said(values: Array) -> tuple[str, str]:
    """The ends of nine in ten."""
    low, high = np.quantile(values, [0.05, 0.95])
    return near(low), near(high)


def facts() -> dict[str, Any]:
    """All numbers of the page."""
    before = [resin_year(site_file(ph)) for ph in ACIDITY]
    behind = [resin_year(behind_tank(site_file(ph))) for ph in ACIDITY]
    slip, limit, vented, vented_limit = (
        np.array([one.litres(getattr(one, end)) for one in places])
        for places in (before, behind)
        for end in ("early", "limit")
    )
    plateau = np.array([one.plateau for one in before])
    rows = []
    for n, (ph, one, other) in enumerate(zip(ACIDITY, before, behind, strict=True)):
        litres = (near(values[n]) for values in (slip, vented, limit, vented_limit))
        vessels = (near(float(year.resin_spent.sum())) for year in (one.early, other.early, one.limit))
        rows.append([f"{ph:.1f}", f"{100 * one.gas:.0f} %", *litres, f"{plateau[n]:.1f}", *vessels])
    header = (
        "pH of the tap", "CO2 in the anion load", "first slip, L: before the tank", "behind", "limit, L: before",
        "behind", "plateau, ppm", "vessels a year: first slip, before", "first slip, behind", "limit",
    )  # fmt: skip
    site = Site.loads(site_file(DEMO_PH))
    own = ACIDITY.index(DEMO_PH)
    currency = site.document.model.prices.currency
    product = site.solve(temperature_c=CELSIUS)["product"]
    slip_low, slip_high = said(lives(year_of(edited(site_file(DEMO_PH), product_limit_ppm=EARLY), MEMBERS)))
    limit_low, limit_high = said(lives(year_of(site_file(DEMO_PH), MEMBERS)))
    first, demos = before[0], before[own]
    tank, vessel = site.plant.tank, site.plant.resin
    assert tank is not None
    assert vessel is not None
    stays = (tank.usable_volume or tank.volume) / float(demos.limit.product.mean())  # days
    exchanged = GAS_VELOCITY.value * stays * DAY / (tank.height or 1.0)
    return {
        "table": table(header, rows), "places": _places(demos, behind[own], str(currency)), "x": np.array(ACIDITY),
        "slip": slip, "limit": limit, "vented": vented, "vented_limit": vented_limit, "before": before,
        "behind": behind, "demo_ph": DEMO_PH, "acid": ACIDITY[0], "base": ACIDITY[-1], "early_ppm": EARLY,
        "limit_ppm": LIMIT, "factor": FACTOR, "currency": currency, "litres": 320, "vessel": vessel.volume / LITRE,
        "times_early": first.early.resin_spent.sum(), "times_limit": first.limit.resin_spent.sum(),
        "slip_acid": near(slip[0]), "limit_acid": near(limit[0]), "ratio_base": limit[-1] / slip[-1],
        "saved": near(first.cost_early - first.cost_limit),
        "share_acid": 100 * first.gas, "share_base": 100 * before[-1].gas,
        "plateau_low": plateau.min(), "plateau_high": plateau.max(),
        "gain_acid": 100 * (vented[0] / slip[0] - 1.0), "gain_base": 100 * (vented[-1] / slip[-1] - 1.0),
        "limit_moved": np.ceil(100 * np.max(np.abs(vented_limit / limit - 1.0))),
        "days": stays, "lost": 100 * exchanged / (1.0 + exchanged),
        "worth": ACIDITY[int(np.argmax(limit / slip < 2.5))],
        "silica_limit": demos.silica(demos.limit), "silica_early": demos.silica(demos.early),
        "silica_in": demos.silica_in, "residue": product["residue_mg_l"], "members": MEMBERS,
        "slip_low": slip_low, "slip_high": slip_high, "limit_low": limit_low, "limit_high": limit_high,
        "reads": product["meter_ppm"],
        "velocity": GAS_VELOCITY.value * HOUR, "velocity_range": GAS_VELOCITY.uncertainty,
    }  # fmt: skip


def _places(before: Resin, behind: Resin, currency: str) -> str:
    header = (
        "", "vessels a year", "worst at the brush, ppm", "mean behind the resin, ppm", f"all in all, {currency} a year",
    )  # fmt: skip
    rows = [
        [
            name,
            near(float(one.limit.resin_spent.sum())),
            f"{one.limit.worst.max() / US_CM * FACTOR:.1f}",
            f"{one.reading(one.limit):.1f}",
            near(one.cost_limit),
        ]
        for name, one in (("resin before the tank", before), ("resin behind the tank", behind))
    ]
    return table(header, rows)


def picture(found: dict[str, Any]) -> str:
    """Litres against pH."""
    x = found["x"]
    return chart(
        "Litres of product to first slip and to the limit, by the pH of the tap",
        "pH of the tap",
        "litres of product through one vessel",
        [
            Line("slip, before the tank", x, found["slip"]),
            Line(f"limit, {LIMIT:g} ppm", x, found["limit"]),
            Line("slip, behind the tank", x, found["vented"]),
        ],
    )


if __name__ == "__main__":
    found = facts()
    write(__file__, PAGE, found, picture(found))
