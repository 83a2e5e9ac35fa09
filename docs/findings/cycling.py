"""What short cycling does to quality: salt that creeps through while the plant stands, and the throttling that goes
with it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from page import Line, chart, demo, edited, near, replaced, table, write

from rinsewright.api import Site
from rinsewright.planning.pricing import priced
from rinsewright.planning.year import (
    CREEP_SHARE,
    PRODUCT_SIDE,
    Case,
    case_of,
    central_inputs,
    central_resin,
    standstill,
)
from rinsewright.quantities import HOUR, LITRE, US_CM, kelvin
from rinsewright.seasons.ledger import Ledger
from rinsewright.seasons.march import march
from rinsewright.seasons.quality import through_resin

PAGE = """
# What short cycling does to quality

A plant that starts again after every few litres sends a little standing water ahead each time. On the demo that is
{many:.0f} starts a working day, and what crept through while it stood is {creep_many:.0f} % of all the salt that its
resin sees, {currency} {creep_money} a year in resin. That is if a fifth of what could creep through really does; by
the only first flushes that we could read it is {creep_measured:.0f} %. Yet the number of starts is not the trouble:
with {few:.0f} instead of {many:.0f} it is still {creep_few:.0f} %. Short cycling does more harm by what comes with
it: the plant runs throttled, and reads {throttled_ppm:.0f} ppm before the resin even without any creep, instead of
{once_ppm:.0f} for the same water made at once.

![Share of the salt before the resin that is creep, against starts a working day, for three shares.](cycling.svg)

{table}

The demo, {litres:g} L each working day drawn evenly over {hours:g} hours, its float working over so many millimetres;
*drawn at once* is the same water pumped into a van in {minutes:g} minutes, after which the plant fills the tank in one
go. The drain beside the first four rows is the same, {drain:.0f} m³ a year.

## Without resin, and with a flush

{bare}

*In the tank* is the worst reading of the year in a tank without resin. *Flush*: {flush_litres:g} L of tap water sent
through the feed side at each stop, so that the membranes stand in tap water and not in concentrate.

## Why

While the plant stands, salt diffuses through the membrane until the product side is as salty as the feed. These
membranes hold about {volume:.1f} L on their product side and need {relaxation:.1f} h at {celsius:g} °C to go nearly
two thirds of the way. So a whole night makes one full slug and ten minutes makes a quarter of one. What counts is the
hours spent standing between starts, much the same however often they are broken up.

The throttling is another matter: a plant that starts and stops at the top of its float runs against high
back-pressure all the time, and the salt of a whole minute goes into half the water
(see [what a trickling float valve costs](trickle.md)).

## Bound, assumption, measurement

- **Bound**: the whole product side stands at the feed's strength after a long stop. No more salt than that can come
  out.
- **Assumed**: {assumed:g} of the bound, the program's own figure.
- **Measured**: after stops of unrecorded length, one {element} seawater element on {salt} gave first flushes that
  carried {measured} of the bound, the product side taken at the same {film:.2f} L for each m² and the feed as salty
  as the drain (open raw data of Sitterley, Jenne, Yu and Cath, draft manuscript on large feed-pressure fluctuations;
  read, our integral over the minutes from the first to the sixth, the first counted for the one before it too). The
  probe was off its scale in one of the three, so these are low. They took {flush} of product to come within a fifth
  of the steady reading.

A seawater element passes a tenth of the salt, so it relaxes slowly and its stops may have been too short; and no one
has measured a small tap-water element for us. The assumed share is thus on the careful side, and the bound is not
what happens.

## Against the rule of thumb

- *Many short starts spoil the tank*: {times:.0f} times the starts do {harm:.1f} times the harm. A wider float band
  spares the shut-off's diaphragm and hardly the water.
- *The first water after a stop is bad*: so it is, and there is little of it. A plant with resin hides it from the
  meter, and the resin pays.
- *A flush at every stop pays for itself*: here it spares {currency} {flush_saves} of resin a year and sends
  {flush_drain:.0f} m³ more to drain. With one start a day it spares {flush_saves_once} and sends {flush_drain_once}.
- *Let it fill in one go*: yes. That takes the reading from {many_ppm:.0f} to {once_ppm_all:.0f} ppm. Of the
  difference {part_throttled:.0f} % is throttling and the rest creep.

## How sure

The three curves are the answer's width: the share is known to a factor of about {width:.0f}. The shape, steep at
first and then level, is diffusion and does not depend on it. Not counted: the weaker rejection of the first seconds
while the pressure builds, salt left concentrated on the feed side, and the wear of valve and pump. The plant has a
check valve; without one the line runs back at each stop. Test it: after a night's stop catch the first {first:.0f} L
before the resin, litre by litre, and read each.
"""

BANDS = (600, 200, 60, 20)  # mm over which the float valve works
LITRES, FLUSH_LITRES, CELSIUS = 320.0, 5.0, 12.0
MINUTES_AT_ONCE = 16
FLUSH = f'[[plant.drain]]\npart = "flush"\nlitres = {FLUSH_LITRES}\n\n'
BEFORE_PRODUCT = "# ---- from the membranes to the tank"
# Conductivity [µS/cm] of the product 1, 2, 3, 4 and 6 minutes after pressure came on, steady, and of the reject;
# product flow 0.67 L/min, area 2.694 m2. Source as on the page, read from its raw data. The probe's scale ends at 2015.
FLUSHES = {
    "5 g/L NaCl": ((531.0, 64.9, 43.7, 39.7, 37.7), 35.7, 11_434.0),
    "35 g/L NaCl": ((2003.0, 871.0, 714.0, 619.0, 547.0), 533.0, 60_859.0),
    "sea salt": ((2015.0, 948.0, 392.0, 354.0, 344.0), 371.0, 49_533.0),
}
MINUTES, FLOW, AREA = np.array([1.0, 2.0, 3.0, 4.0, 6.0]), 0.67, 2.694
TO_A_FIFTH = (1.3, 3.0)  # L, least and most of the three


def measured_share(first: tuple[float, ...], steady: float, reject: float) -> float:
    """Salt of a first flush over the most that could stand on the product side, the feed taken as the reject."""
    above = np.maximum(np.array(first) - steady, 0.0)
    caught = float(np.sum(0.5 * (above[1:] + above[:-1]) * np.diff(MINUTES)) + above[0] * MINUTES[0]) * FLOW
    return caught / (PRODUCT_SIDE * AREA / LITRE * reject)


@dataclass(frozen=True)
class Marched:
    """A year with its resin, and what it says."""

    case: Case
    ledger: Ledger
    resin_cost: float

    @property
    def starts(self) -> float:
        """Starts on a working day."""
        return float(self.ledger.starts.sum() / (self.ledger.demand > 0.0).sum())

    @property
    def creep(self) -> float:
        """Creep in the salt before the resin [%]."""
        return float(100.0 * self.ledger.creep.sum() / self.ledger.salt.sum())

    @property
    def ppm(self) -> float:
        """Mean reading before the resin, creep included."""
        return float(self.ledger.salt.sum() / self.ledger.product.sum()) / US_CM * self.case.demand.meter_factor

    @property
    def own_ppm(self) -> float:
        """The same without what crept through."""
        return self.ppm * (1.0 - self.creep / 100.0)

    @property
    def drain(self) -> float:
        """To drain in the year [m3]."""
        return float(self.ledger.drain.sum())


def years(text: str, shares: tuple[float, ...]) -> tuple[list[Marched], list[float]]:
    """The year of a site file for several shares of the bound on creep; and the worst reading in a tank without resin.

    The litres do not depend on the resin, so one march serves both.
    """
    site = Site.loads(text)
    case = case_of(site.document, site.plant, site.tap)
    inputs, resin = central_inputs(case, site.tap.water), central_resin(case)
    assert resin is not None
    told, worst = [], []
    for share in shares:
        bare = march(replace(inputs, standstill=replace(inputs.standstill, share=share)))
        ledger = through_resin(inputs, bare, resin)
        cost = priced(site.document, site.plant, ledger).per_year()["resin"]
        told.append(Marched(case, ledger, cost))
        worst.append(float(bare.worst.max()) / US_CM * case.demand.meter_factor)
    return told, worst


def facts() -> dict[str, Any]:
    """All numbers of the page."""
    found = {name: measured_share(*flush) for name, flush in FLUSHES.items()}
    shares = (float(np.mean(list(found.values()))), CREEP_SHARE, 1.0)
    texts = {f"float over {band} mm": edited(demo(), float_band_mm=band) for band in BANDS}
    texts["drawn at once"] = edited(demo(), draw_until=f'"08:{MINUTES_AT_ONCE:02d}"')
    each, worst = zip(*(years(text, shares) for text in texts.values()), strict=True)
    flushed = [years(replaced(t, BEFORE_PRODUCT, FLUSH + BEFORE_PRODUCT), (CREEP_SHARE,))[0][0] for t in texts.values()]
    site = Site.loads(demo())
    currency = site.document.model.prices.currency
    rows, bare = [], []
    for name, (low, assumed, bound), tank, flush in zip(texts, each, worst, flushed, strict=True):
        creep = (f"{year.creep:.0f}" for year in (low, assumed, bound))
        rows.append([name, near(assumed.starts), *creep, f"{assumed.ppm:.0f}", near(assumed.resin_cost)])
        spared, more = assumed.resin_cost - flush.resin_cost, flush.drain - assumed.drain
        bare.append([name, *(f"{ppm:.0f}" for ppm in tank), f"{flush.creep:.0f}", near(spared), near(more)])
    header = (
        "", "starts a working day", "creep in the salt, %: as measured", "as assumed", "bound",
        "reads before the resin as assumed, ppm", f"resin as assumed, {currency} a year",
    )  # fmt: skip
    header_bare = (
        "", "in the tank, ppm: as measured", "as assumed", "bound", "with a flush: creep, %",
        f"resin spared, {currency}", "more to drain, m³",
    )  # fmt: skip
    few, many, lots, once = each[0][1], each[2][1], each[3][1], each[4][1]
    at_twelve = standstill(site.plant, np.asarray(kelvin(np.array([CELSIUS]))))
    relaxation = float(np.asarray(at_twelve.relaxation)[0, 0])
    per_salt = many.resin_cost / float(many.ledger.salt.sum())
    return {
        "table": table(header, rows), "bare": table(header_bare, bare), "currency": currency,
        "starts": np.array([year[1].starts for year in each[:4]]), "shares": shares, "measured_shares": found,
        "creep": np.array([[year[k].creep for year in each[:4]] for k in range(3)]), "each": each, "worst": worst,
        "flushed": flushed, "litres": LITRES, "hours": 8, "minutes": MINUTES_AT_ONCE, "celsius": CELSIUS,
        "few": few.starts, "many": many.starts, "creep_few": few.creep, "creep_many": many.creep,
        "creep_measured": each[2][0].creep, "creep_money": near(per_salt * float(many.ledger.creep.sum())),
        "throttled_ppm": many.own_ppm, "once_ppm": once.own_ppm, "once_ppm_all": once.ppm, "many_ppm": many.ppm,
        "part_throttled": 100.0 * (many.own_ppm - once.own_ppm) / (many.ppm - once.ppm), "drain": many.drain,
        "times": lots.starts / few.starts, "harm": float(lots.ledger.creep.sum() / few.ledger.creep.sum()),
        "volume": at_twelve.volume / LITRE, "relaxation": relaxation / HOUR,
        "quarter": 1.0 - np.exp(-600.0 / relaxation), "assumed": CREEP_SHARE, "flush_litres": FLUSH_LITRES,
        "flush_saves": near(many.resin_cost - flushed[2].resin_cost), "flush_drain": flushed[2].drain - many.drain,
        "flush_saves_once": near(once.resin_cost - flushed[4].resin_cost, 1),
        "flush_drain_once": near(flushed[4].drain - once.drain),
        "element": "2.5 × 40 in", "salt": "salt water", "film": PRODUCT_SIDE / LITRE,
        "measured": f"{min(found.values()):.2f} to {max(found.values()):.2f}",
        "flush": f"{TO_A_FIFTH[0]:g} to {TO_A_FIFTH[1]:g} L", "width": CREEP_SHARE / shares[0],
        "first": np.ceil(2 * at_twelve.volume / LITRE),
    }  # fmt: skip


def picture(found: dict[str, Any]) -> str:
    """Creep's share of the salt against starts a day."""
    names = ("as measured", "as assumed", "bound")
    order = np.argsort(found["starts"])
    lines = [Line(n, found["starts"][order], creep[order]) for n, creep in zip(names, found["creep"], strict=True)]
    return chart("Creep against starts a day", "starts a working day", "% of the salt before the resin", lines)


if __name__ == "__main__":
    found = facts()
    write(__file__, PAGE, found, picture(found))
