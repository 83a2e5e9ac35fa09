"""What a float valve costs that trickles: the plant hovers at high back-pressure, the drain runs on."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
from page import Line, bill, chart, demo, edited, near, rates_of, replaced, table, write, year_inputs

from rinsewright.api import Site
from rinsewright.planning.ensemble import SALT_SPREAD
from rinsewright.quantities import Array
from rinsewright.seasons.inputs import Rates, YearInputs
from rinsewright.seasons.year import simulate

PAGE = """
# What a trickling float valve costs

A float valve that lets through only what is being drawn holds the plant at high back-pressure: it makes half the
water and sends all the waste. On the demo plant an hour of hovering at {draw:g} L/min sends {extra:.0f} L more to
drain than the same product costs at full flow, {currency} {extra_cost:.2f} with water and sewerage. One brush for
{hours} hours each working day makes {currency} {year_extra} of it in a year, and the product before the resin reads
{draw_ppm:.0f} ppm instead of {full_ppm:.0f}.

![Drain for each litre and reading both climb ever more steeply as the float lets less through.](trickle.svg)

{table}

The demo plant at {celsius:g} °C, {standing:g} bar standing. Its shut-off closes at {closes:g} of the feed's pressure,
where the product has fallen to {trip:.2f} L/min; the rows below that are for a shut-off that does not close, worn or
not fitted.

## A year, three ways

{year}

{litres:g} L each working day, drawn at {draw:g} L/min from the tank, the plant otherwise the same; resin is used up
by salt and by what creeps through while the plant stands.

## Why

The float throttles the product and not the drain. Product falls with the pressure left across the membrane; the
restrictor, which sees the full feed pressure, even passes a little more ({full_drain:.2f} to {trip_drain:.2f} L/min).
Salt passes by area and time as before, into less water. Nothing stops this until the shut-off closes, and a draw
between {trip:.1f} and {full:.1f} L/min keeps this plant from ever getting there. A smaller draw trips the valve, and
the plant starts and stops instead.

So the remedy is a float that opens well below the top and then fully, or filling while nobody draws. Hovering has one
thing for it: it starts {starts_hover:.0f} times a year and not {starts_band:,.0f}, so less salt creeps in. That does
not make up for it: the resin still lasts {resin_less:.0f} % less long than with the float that opens low.

## Against the rule of thumb

- *The automatic shut-off saves the waste*: not while someone draws more than {trip:.1f} L/min from a tank that is
  being filled.
- *The shut-off closes near two thirds of the feed pressure*: whether yours closes at {weak:.2f} or {strong:.2f} moves
  the draw it needs   from {trip_weak:.2f} to {trip_strong:.2f} L/min. The tap's pressure matters more: on {low_bar:g}
  bar this plant hovers at draws from {trip_low:.1f} to   {full_low:.1f} L/min, on {high_bar:g} bar from
  {trip_high:.1f} to {full_high:.1f}.

## How sure

The waste is the sure part: it is an orifice and a clock. With elements at the ends of their tolerance
(±{tolerance:.0f} % in flow) an hour costs {extra_low:.0f} to {extra_high:.0f} L. How often a plant hovers is yours to
find out: listen to the drain while somebody draws, with the tank nearly full. The reading of the throttled product is
less sure, as salt permeance is good to about ±{salt:.0f} %; that it climbs is not in doubt. The year counts the
throttled flows and readings at every day's water temperature, and takes the float to follow the draw exactly.
"""

CELSIUS = 12.0
DRAW, HOURS = 1.5, 4  # L/min at the brush, hours a day
OPENINGS = np.geomspace(12.0, 0.25, 24)  # L/min that the float would pass at 1 bar
FLOWS = (2.5, 2.0, 1.5, 0.75, 0.5)  # L/min that a part-open float lets through
WEAK, STRONG = 0.60, 0.67  # share of the feed's pressure at which shut-offs close (two trade articles)


def diary(text: str) -> str:
    """The demo with one brush drawing straight from the tank for some hours of each working day."""
    litres = DRAW * 60 * HOURS
    days = ", ".join(f"{day} = {litres:g}" for day in ("mon", "tue", "wed", "thu", "fri"))
    text = edited(text, litres_per_day=f"{{ {days}, sat = 0, sun = 0 }}")
    return edited(text, draw_until=f'"{8 + HOURS:02d}:00"')


def throttled(text: str, standing: float | None = None) -> dict[str, Array]:
    """The plant at each opening of the float, full open first."""
    rows = [Site.loads(edited(text, float_open_l_min=f"{x:.4f}")).solve_many(CELSIUS, standing) for x in OPENINGS]
    columns = [row.columns() for row in rows]
    return {name: np.concatenate([one[name] for one in columns]) for name in columns[0]}


def at(states: dict[str, Array], name: str, product: Array | float) -> Array:
    """A column where the float lets so much product [L/min] through."""
    order = np.argsort(states["product_l_min"])
    return np.asarray(np.interp(product, states["product_l_min"][order], states[name][order]))


def trips_at(states: dict[str, Array], share: float) -> float:
    """Product [L/min] at which the back-pressure reaches a share of the feed's and the shut-off closes."""
    ratio = states["back_pressure_bar"] / states["membrane_bar"]
    return float(np.interp(share, ratio, states["product_l_min"]))


def extra(states: dict[str, Array], product: float) -> float:
    """Litres that an hour at a throttled float sends to drain beyond what the same product costs at full flow."""
    full = states["drain_l_min"][0] / states["product_l_min"][0]
    return float(60.0 * (at(states, "drain_l_min", product) - product * full))


def hovering_rates(text: str) -> Rates:
    """Rates by day where the float lets just the draw through."""
    found = []
    for opening in np.geomspace(0.7, 2.2, 6):
        site = Site.loads(edited(text, float_open_l_min=f"{opening:.4f}"))
        found.append(rates_of(site))
    made = np.concatenate([rates.product for rates in found]) * 6e4
    days = range(made.shape[1])

    def interpolated(name: str) -> Array:
        values = np.concatenate([getattr(rates, name) for rates in found])
        return np.array([[np.interp(DRAW, made[:, day], values[:, day]) for day in days]])

    throttle = Rates(**{field.name: interpolated(field.name) for field in fields(Rates)})
    return replace(throttle, product=rates_of(Site.loads(text)).product)  # it could make more: the float holds it


def three_ways() -> tuple[Site, dict[str, YearInputs]]:
    """The same water drawn in a year: the float hovering, opening well below the top, and filling by night only."""
    text = diary(demo())
    site = Site.loads(text)
    by_day = year_inputs([site])
    assert by_day.tank is not None
    night = replaced(text, "product_limit_ppm", 'fill_from = "20:00"\nfill_until = "06:00"\nproduct_limit_ppm')
    return site, {
        "the float hovers": replace(by_day, rates=hovering_rates(text), tank=replace(by_day.tank, restart=0.0)),
        "it opens well below the top": by_day,
        "the tap is open by night only": year_inputs([Site.loads(night)]),
    }


def _year(site: Site, ways: dict[str, YearInputs]) -> tuple[str, dict[str, dict[str, float]]]:
    rows, told = [], {}
    for name, inputs in ways.items():
        ledger = simulate(inputs)
        split = bill(site, ledger).per_year()
        drain, starts, lives = (float(x.sum()) for x in (ledger.drain, ledger.starts, ledger.resin_spent))
        water = split["water"] + split["sewerage"]
        told[name] = {"water": water, "starts": starts, "lives": lives, "resin": split["resin"], "drain": drain}
        rows.append([name, f"{drain:.0f}", f"{starts:,.0f}", f"{water:.0f}", f"{split['resin']:.0f}"])
    currency = site.document.model.prices.currency
    header = ("", "to drain, m³", "starts", f"water and sewerage, {currency}", f"resin, {currency}")
    return table(header, rows), told


def facts() -> dict[str, Any]:
    """All numbers of the page."""
    states, site = throttled(demo()), Site.loads(demo())
    valve, prices = site.plant.shutoff, site.document.model.prices
    assert valve is not None
    assert prices.water_per_m3 is not None
    assert prices.sewerage_per_m3 is not None
    each = (prices.water_per_m3 + prices.sewerage_per_m3) / 1e3
    full, trip = float(states["product_l_min"][0]), trips_at(states, valve.closes_at_ratio)
    rows = []
    for flow in sorted((full, *FLOWS, trip), reverse=True):
        drain, ppm = (float(at(states, name, flow)) for name in ("drain_l_min", "product_meter_ppm"))
        lost = extra(states, flow)
        name = {full: "float full open", trip: "where the shut-off closes"}.get(flow, "part open")
        name = "part open, shut-off not closing" if flow < trip else name
        money = f"{lost * each:.2f}"
        rows.append([name, f"{flow:.2f}", f"{drain:.2f}", f"{drain / flow:.1f}", f"{ppm:.0f}", f"{lost:.0f}", money])
    header = (
        "float", "product, L/min", "drain, L/min", "drain for each litre", "reads before the resin, ppm",
        "wasted, L an hour", f"{prices.currency} an hour",
    )  # fmt: skip
    weak, strong = (throttled(edited_rating(flow)) for flow in (255.0, 345.0))
    low, high = (throttled(demo(), bar) for bar in (LOW_BAR, HIGH_BAR))
    same_site, ways = three_ways()
    year, told = _year(same_site, ways)
    hover, band = told["the float hovers"], told["it opens well below the top"]
    ends = sorted((extra(weak, DRAW), extra(strong, DRAW)))
    return {
        "states": states, "table": table(header, rows), "year": year, "told": told, "ways": list(ways),
        "draw": DRAW, "hours": HOURS, "litres": DRAW * 60 * HOURS, "celsius": CELSIUS, "currency": prices.currency,
        "standing": site.plant.supply.standing_pa / 1e5, "closes": valve.closes_at_ratio,
        "extra": extra(states, DRAW), "extra_cost": extra(states, DRAW) * each,
        "year_extra": near(hover["water"] - band["water"]), "difference": hover["water"] - band["water"],
        "draw_ppm": float(at(states, "product_meter_ppm", DRAW)), "full_ppm": states["product_meter_ppm"][0],
        "full": full, "trip": trip, "full_drain": states["drain_l_min"][0],
        "trip_drain": float(at(states, "drain_l_min", trip)),
        "weak": WEAK, "strong": STRONG, "trip_weak": trips_at(states, WEAK), "trip_strong": trips_at(states, STRONG),
        "low_bar": LOW_BAR, "high_bar": HIGH_BAR,
        "trip_low": trips_at(low, valve.closes_at_ratio), "trip_high": trips_at(high, valve.closes_at_ratio),
        "full_low": low["product_l_min"][0], "full_high": high["product_l_min"][0],
        "starts_hover": hover["starts"], "starts_band": band["starts"],
        "resin_less": 100 * (1.0 - band["lives"] / hover["lives"]),
        "tolerance": 100 * site.plant.elements[0].tolerance, "extra_low": ends[0], "extra_high": ends[1],
        "salt": 164.5 * SALT_SPREAD,
    }  # fmt: skip


LOW_BAR, HIGH_BAR = 3.0, 6.0


def edited_rating(litres_an_hour: float) -> str:
    """The demo with membranes of another rated flow."""
    return replaced(demo(), "product_l_h = 300", f"product_l_h = {litres_an_hour:g}", 2)


def picture(found: dict[str, Any]) -> str:
    """Drain and reading against the product that the float lets through."""
    states = found["states"]
    flow = states["product_l_min"]
    return chart(
        "Drain flow and reading against the product that the float lets through",
        "product, L/min",
        "drain for each litre of product, and the reading over that at full flow",
        [
            Line("L to drain for each litre", flow[::-1], (states["drain_l_min"] / flow)[::-1]),
            Line("reading, times full-flow's", flow[::-1], (states["product_meter_ppm"] / found["full_ppm"])[::-1]),
        ],
    )


if __name__ == "__main__":
    found = facts()
    write(__file__, PAGE, found, picture(found))
