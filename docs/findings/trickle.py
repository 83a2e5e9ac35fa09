"""What a float valve costs that trickles: the plant runs throttled at the top of a nearly full tank."""

from __future__ import annotations

from typing import Any

import numpy as np
from page import Line, Year, by_night, chart, demo, edited, near, table, without, write, year_of

from rinsewright.planning.ensemble import SALT_SPREAD
from rinsewright.quantities import BAR, L_MIN, US_CM, Array, kelvin

PAGE = """
# What a trickling float valve costs

A tank that is topped up while you draw from it hardly ever sees the plant at full flow. The float valve lets through
about what is drawn, the back-pressure rises, and the plant makes {throttled:.1f} to {eased:.1f} L/min instead of
{full:.1f} while all the waste runs on. The demo, with its {litres:g} L a working day drawn evenly over {hours:g}
hours, sends {drain_even:.0f} m³ a year to drain for {product:.0f} m³ made. The same plant with its tap open by night
only sends {drain_night:.0f}, and its year costs {currency} {saved} less ({saved_low} to {saved_high} less in nine
years of ten).

![Drain for each litre and reading both climb ever more steeply as the float lets less through.](trickle.svg)

{table}

The demo plant at {celsius:g} °C on {standing:g} bar. Its shut-off closes at {closes:g} of the feed's pressure and
opens again at {reopens:g}. The rows below the one where it closes are for a shut-off that does not, worn or not
fitted. *Wasted* is what an hour sends to drain beyond what the same product costs at full flow.

## The year, by what is changed

{year}

All drawn steadily, {even_flow:.2f} L/min over {hours:g} hours; {currency} a year; the reading is the year's mean before
the resin. A *late float valve* stays shut until the float has fallen to the bottom of its band, then opens fully.

## The year, by how it is drawn

{draws}

The same {litres:g} L a working day, the tap open all day.

## Why

The float throttles the product and not the drain. Product falls with the pressure left across the membrane; the
restrictor, which sees the full feed pressure, even passes a little more. Salt passes by area and time as before, into
less water. Only the shut-off can stop it, and it closes where the product has already fallen to {throttled:.1f} L/min.
Then two things may happen:

- The draw is smaller than that: the plant fills the top of the tank, stops, and starts again when the back-pressure
  has fallen to {reopens:g}, after {per_start:.0f} L. All its running lies between these two points. It makes
  {starts:.0f} starts a day.
- The draw is larger: the plant hovers where it makes just what is drawn and does not stop till the brush does.

By night nobody draws. The plant fills at full flow up to the last few litres, stops once and stays stopped. So it
does after a draw that is over in minutes.

## Against the rule of thumb

- *The automatic shut-off saves the waste*: only when the tank fills with nobody drawing. While the tank is topped up
  the demo sends {ratio_even:.1f} L to drain for each litre made; filled by night, {ratio_night:.1f}.
- *A bigger float valve, or one that works over more height, cures it*: neither changes the waste by more than
  {valve_change:.0f} %. They change how many litres lie between stop and start, and so the starts: {starts_small:.0f} a
  day or {starts:.0f}. What counts are the two ratios of the shut-off, and whether the valve opens late and then fully.
- *The shut-off closes near two thirds of the feed pressure*: whether yours closes at {weak:.2f} or, worn, at
  {worn:.2f} is {drain_weak:.0f} or {drain_worn:.0f} m³ a year.
- *Behind the resin it reads fine, so nothing is lost*: the throttled product reads {ppm_even:.0f} ppm before the
  resin instead of {ppm_night:.0f}, and the resin pays, {resin_even:.0f} a year instead of {resin_night:.0f}.

## How sure

The waste is the sure part: it is an orifice and a clock. The band above is {members} years drawn by chance, each with
its own membranes, water and demand, the same for both ways of filling. Not sure is how evenly you draw: slow and even
is about the worst, because it never lets the tank fall far enough for full flow. Your float valve's size is not sure
either, and does not matter. Salt permeance is good to about ±{salt:.0f} %; that the reading climbs is not in doubt.
Test it: with the tank nearly full let somebody draw, and listen to the drain.
"""

CELSIUS, LITRES = 12.0, 320.0
DRAWS = {"steadily": ("16:00", 480.0), "in a hurry": ("11:30", 210.0), "at once, into a van": ("08:16", 16.0)}
FLOWS = (2.5, 2.0, 1.5, 0.75, 0.5)  # L/min that a part-open float lets through
WEAK, WORN, NEVER = 0.60, 0.75, 0.94  # shut-off: low among those sold (common practice, no source), worn, and broken
MEMBERS = 12


def changes() -> dict[str, str]:
    """The demo's site file and what may be changed in it."""
    text = demo()
    return {
        "as it is": text,
        "tap open by night only": by_night(text),
        "late float valve": edited(text, reopens_at_ratio=0.05),
        "smaller float valve, 4 L/min at 1 bar": edited(text, float_open_l_min=4.0),
        "float band 200 mm instead of 60": edited(text, float_band_mm=200),
        f"shut-off closes at {WEAK:.2f}": edited(text, closes_at_ratio=WEAK),
        f"shut-off closes at {WORN:.2f}": edited(text, closes_at_ratio=WORN),
        "shut-off hardly ever closes": edited(text, closes_at_ratio=NEVER),
        "no shut-off": without(text, 'part = "shutoff"'),
    }


def throttled(year: Year) -> dict[str, Array]:
    """The plant at each opening of its float valve, full open first; the valve quite shut is left out."""
    response = year.marched.case.responses[0][1]
    standing = year.site.plant.supply.standing_pa
    curve = response.at(kelvin(np.array([CELSIUS])), np.array([standing]), np.ones(1))
    product = curve.product[0, :-1]
    ppm = curve.salt[0, :-1] / product / US_CM * year.marched.case.demand.meter_factor
    return {
        "product": product / L_MIN,
        "drain": curve.drain[0, :-1] / L_MIN,
        "ppm": ppm,
        "ratio": curve.ratio[0, :-1],
    }


def at(states: dict[str, Array], name: str, product: float) -> float:
    """A column where the float lets so much product [L/min] through."""
    return float(np.interp(product, states["product"][::-1], states[name][::-1]))


def product_at(states: dict[str, Array], ratio: float) -> float:
    """Product [L/min] at which the back-pressure has risen to a share of the feed's."""
    return float(np.interp(ratio, states["ratio"], states["product"]))


def wasted(states: dict[str, Array], product: float) -> float:
    """Litres that an hour at a throttled float sends to drain beyond what the same product costs at full flow."""
    full = states["drain"][0] / states["product"][0]
    return 60.0 * (at(states, "drain", product) - product * float(full))


def facts() -> dict[str, Any]:
    """All numbers of the page."""
    sites = changes()
    even = {name: year_of(text) for name, text in sites.items()}
    draws = {name: year_of(edited(demo(), draw_until=f'"{until}"')) for name, (until, _) in DRAWS.items()}
    now, night, _, small, wide, weak, worn, *_ = even.values()
    states, valve = throttled(now), now.site.plant.shutoff
    assert valve is not None
    prices = now.site.document.model.prices
    each = ((prices.water_per_m3 or 0.0) + (prices.sewerage_per_m3 or 0.0)) / 1e3
    full, trip = float(states["product"][0]), product_at(states, valve.closes_at_ratio)
    rows = []
    for flow in sorted((full, *FLOWS, trip), reverse=True):
        name = {full: "float full open", trip: "where the shut-off closes"}.get(flow, "part open")
        name = "part open, shut-off not closing" if flow < trip else name
        drain, lost = at(states, "drain", flow), wasted(states, flow)
        ppm = at(states, "ppm", flow)
        row = (f"{flow:.2f}", f"{drain:.2f}", f"{drain / flow:.1f}", f"{ppm:.0f}", f"{lost:.0f}", f"{lost * each:.2f}")
        rows.append([name, *row])
    header = (
        "float", "product, L/min", "drain, L/min", "drain for each litre", "reads before the resin, ppm",
        "wasted, L an hour", f"{prices.currency} an hour",
    )  # fmt: skip
    pair = [year_of(sites[name], MEMBERS).total for name in ("as it is", "tap open by night only")]
    low, _, high = np.quantile(pair[0] - pair[1], [0.05, 0.5, 0.95])
    resin = [year.costs.per_year()["resin"] for year in (now, night)]
    drains = [year.sum("drain") for year in (now, small, wide)]
    return {
        "states": states, "table": table(header, rows), "year": _by_change(even), "draws": _by_draw(draws),
        "even": even, "drawn": draws,
        "full": full, "throttled": trip, "eased": product_at(states, valve.reopens_at_ratio),
        "closes": valve.closes_at_ratio, "reopens": valve.reopens_at_ratio, "celsius": CELSIUS,
        "standing": now.site.plant.supply.standing_pa / BAR, "currency": prices.currency,
        "litres": LITRES, "hours": 8, "even_flow": LITRES / 480.0,
        "product": now.sum("product"), "drain_even": now.sum("drain"), "drain_night": night.sum("drain"),
        "ratio_even": now.sum("drain") / now.sum("product"), "ratio_night": night.sum("drain") / night.sum("product"),
        "saved": near(float(now.total[0] - night.total[0])), "saved_low": near(low), "saved_high": near(high),
        "starts": now.starts_a_day, "starts_small": small.starts_a_day, "per_start": LITRES / now.starts_a_day,
        "valve_change": np.ceil(100 * (max(drains) / min(drains) - 1.0)),
        "weak": WEAK, "worn": WORN, "drain_weak": weak.sum("drain"), "drain_worn": worn.sum("drain"),
        "ppm_even": now.before_ppm, "ppm_night": night.before_ppm, "resin_even": resin[0], "resin_night": resin[1],
        "members": MEMBERS, "salt": 164.5 * SALT_SPREAD,
    }  # fmt: skip


def _row(year: Year) -> list[str]:
    starts = near(year.starts_a_day) if year.starts_a_day > 0.5 else "runs on"
    costs = (year.costs.per_year()["resin"], year.total[0])
    return [starts, f"{year.before_ppm:.0f}", near(year.sum("drain")), *(near(cost) for cost in costs)]


def _by_change(years: dict[str, Year]) -> str:
    header = ("", "starts a working day", "reads, ppm", "to drain, m³", "resin", "all in all")
    return table(header, [[name, *_row(year)] for name, year in years.items()])


def _by_draw(years: dict[str, Year]) -> str:
    header = ("", "L/min", "starts a working day", "reads, ppm", "to drain, m³", "resin", "all in all")
    return table(header, [[name, f"{LITRES / DRAWS[name][1]:.2g}", *_row(year)] for name, year in years.items()])


def picture(found: dict[str, Any]) -> str:
    """Drain and reading against the product that the float lets through."""
    states = {name: values[found["states"]["product"] > 0.35][::-1] for name, values in found["states"].items()}
    flow = states["product"]
    return chart(
        "Drain flow and reading against the product that the float lets through",
        "product, L/min",
        "drain for each litre of product, and the reading over that at full flow",
        [
            Line("L to drain for each litre", flow, states["drain"] / flow),
            Line("reading, times full-flow's", flow, states["ppm"] / states["ppm"][-1]),
        ],
    )


if __name__ == "__main__":
    found = facts()
    write(__file__, PAGE, found, picture(found))
