"""A booster pump or a second membrane against a slow winter: flow, drain, power, resin and money."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import numpy as np
from page import Line, bill, chart, demo, edited, near, replaced, table, tables, without, write, year_inputs

from rinsewright.api import Site
from rinsewright.planning.ensemble import COLD_SPREAD
from rinsewright.plant.membrane.element import arrhenius
from rinsewright.quantities import kelvin
from rinsewright.seasons.year import simulate
from rinsewright.water.scaling import THRESHOLDS

PAGE = """
# A pump or a second membrane for the winter

One membrane on {standing:g} bar makes {one_cold:.1f} L/min at {cold:g} °C. With a second one beside it the plant
makes {two_cold:.1f}, with a booster pump {pump_cold:.1f}. The pump also gives the better water, {pump_ppm:.0f} ppm
against {two_ppm:.0f} at {warm:g} °C, so its resin lasts longer: a year costs {currency} {pump_cost} with the pump,
{two_cost} with two membranes and {one_cost} with the one. Power ({currency} {power:.0f}, {kwh:.0f} kWh) and the
pump's price are counted. Give the pump a larger restrictor, though, or it pays with lime.

![Product flow against water temperature: one membrane, two, and one with a pump.](winter.svg)

{table}

The demo yard on weak mains ({standing:g} bar standing, {running:g} bar at {at:g} L/min), {litres:g} L each working
day. Restrictors are named by what they pass at {restrictor_bar:g} bar. Made-up prices beside the demo's: pump and
switch {pump_price:g}, housing and fittings of the second membrane {housing:g}, spread over {years:g} years. The last
column also counts filters, membranes and visits.

## Why

Cold water is thick, and membranes pass less of it: the plant makes {lost:.0f} % less at {cold:g} than at {warm:g} °C.
A second membrane doubles the area, at a pressure that sags a little ({one_bar:.1f} to {two_bar:.1f} bar at the
membranes). The pump raises the pressure to {pump_bar:.1f} bar. Both make more water, but salt passes by area and time
and much less by pressure: at {cold:g} °C the pump brings {water_pump:.1f} times the water and {salt_pump:.1f} times
the salt (more of it is swept to the membrane), the second membrane {water_two:.1f} times the water and {salt_two:.1f}
times the salt, and twice as much that creeps through while the plant stands. That is why resin changed at {limit:g}
ppm costs {resin_two:.0f} a year behind two membranes and {resin_pump:.0f} behind the pump.

## Lime at the drain end

{verdicts}

A pump fitted before the old restrictor sends less to drain for each litre, and leaves the lime in less water. On this
water that brings the index at its membrane to {tight:.1f}; above {stop:.1f} scale is sure. Hence the larger
restrictor.

## Against the rule of thumb

- *Three per cent for each degree*: {per_degree:.1f} % here, between {cold:g} and {warm:g} °C.
- *A plant rated at 25 °C makes roughly 60 % of it at 10 °C*: {at_ten:.0f} % here. The membranes alone would make
  {alone_ten:.0f} %; a slower plant pulls the tap's pressure down less.
- *Below about 3 bar running an unpumped plant disappoints*: at {one_bar:.1f} bar and {cold:g} °C one membrane still
  makes the day's {litres:g} L in {hours_one:.1f} hours. Where it may fill all night, flow alone asks for neither pump
  nor second membrane.

## Before you fit a pump

Housings, filters and hoses must stand the tap's standing pressure plus the most the pump can add, {dead:.1f} bar
here. It runs behind a residual-current device, wired by someone licensed to. In Great Britain reverse-osmosis units,
and pumps drawing more than {notice:g} L/min, must be notified to the water supplier first; elsewhere ask what your
local rules want.

## How sure

Elements differ by ±{tolerance:.0f} % in flow. With all at the weak end the three make {weak} L/min at {cold:g} °C,
with all at the strong end {strong}: the order stays. What the cold takes is known to about ±{cold_spread:.0f} %, for
all alike. Resin is the widest item: behind the pump the product hardly needs it to meet {limit:g} ppm, and a few ppm
more would change that. Whoever works to {strict:g} ppm pays {resin_strict} a year for resin in the three plants, and
the pump stays ahead. At half the resin's price its year still costs {cheap_gap} less than that of two membranes. The
pump's own repairs are not counted. On stronger mains the gap closes; ask the program about your own.
"""

WINTER, WARM, LITRES = 5.0, 19.0, 320.0
STANDING, RUNNING, AT = 3.2, 2.4, 12.0
STRICT = 5.0  # ppm, for those who work to 000–005
PUMP_PRICE, HOUSING = 220.0, 110.0
CURVE = ((0.0, 4.0), (6.0, 3.0), (10.0, 1.0))
MEMBRANE = "[[plant.membranes]]"
PUMP = f"""[[plant.feed]]
part = "pump"
curve = [ {", ".join(f"{{ flow_l_min = {q}, bar = {bar} }}" for q, bar in CURVE)} ]
power_w = 180
cut_in_bar = 1.5
cut_out_bar = 7.0
min_inlet_bar = 0.5
price = {PUMP_PRICE}

"""


def one(restrictor: float, rated: float = 300.0) -> str:
    """The demo on weak mains, with one membrane."""
    text = edited(without(demo(), MEMBRANE), standing_bar=STANDING)
    text = replaced(text, "{ flow_l_min = 6.0, pressure_bar = 4.0 },", "")
    text = replaced(text, "flow_l_min = 12.0, pressure_bar = 3.4", f"flow_l_min = {AT}, pressure_bar = {RUNNING}")
    text = replaced(text, "product_l_h = 300", f"product_l_h = {rated}")
    return replaced(text, "flow_l_min = 3.0\nat_bar", f"flow_l_min = {restrictor}\nat_bar")


def two(restrictor: float, rated: float = 300.0) -> str:
    """The same with a second membrane beside it."""
    text = one(restrictor, rated)
    first = next(part for part in tables(text) if part.startswith(MEMBRANE))
    return replaced(text, first, first + replaced(first, "max_bar", f"price = {HOUSING}\nmax_bar"))


def pumped(restrictor: float, rated: float = 300.0) -> str:
    """The same with one membrane and a pump before it."""
    return replaced(one(restrictor, rated), MEMBRANE, PUMP + MEMBRANE)


PLANTS = {
    "one membrane, 1.5 L/min restrictor": one(1.5),
    "two membranes, 3.0 L/min restrictor": two(3.0),
    "pump, one membrane, 2.5 L/min restrictor": pumped(2.5),
    "pump, one membrane, 1.5 L/min restrictor": pumped(1.5),
}


def facts() -> dict[str, Any]:
    """All numbers of the page."""
    grid = np.linspace(4.0, 25.0, 22)
    sites = {name: Site.loads(text) for name, text in PLANTS.items()}
    columns = [site.solve_many(temperature_c=grid).columns() for site in sites.values()]
    plans = [site.plan().answer() for site in sites.values()]
    rows = []
    for name, plan in zip(sites, plans, strict=True):
        cold, warm, split = plan["coldest"], plan["warmest"], plan["cost_split"]
        rows.append(
            [
                name,
                f"{cold['product']['flow_l_min']:.1f}",
                f"{cold['drain_l_per_product_l']:.2f}",
                f"{warm['product']['meter_ppm']:.0f}",
                f"{split.get('energy', 0.0):.0f}",
                f"{split['water'] + split['sewerage']:.0f}",
                f"{split['resin']:.0f}",
                f"{split.get('capital', 0.0):.0f}",
                near(plan["year"]["cost"]["value"], 3),
            ]
        )
    currency = sites["one membrane, 1.5 L/min restrictor"].document.model.prices.currency
    header = (
        "plant", f"L/min at {WINTER:g} °C", "drain for each litre", f"ppm at {WARM:g} °C", "power",
        "water and sewerage", "resin", "bought, a year", f"all in all, {currency} a year",
    )  # fmt: skip
    first, second, pump, tight = plans
    flow = {float(t): float(q) for t, q in zip(grid, columns[0]["product_l_min"], strict=True)}
    spread = [
        [Site.loads(make(size, rated)).solve(temperature_c=WINTER).solved.product_l_min for make, size in MAKES]
        for rated in (255.0, 345.0)
    ]
    gap = second["year"]["cost"]["value"] - pump["year"]["cost"]["value"]
    resin = [plan["cost_split"]["resin"] for plan in plans]
    return {
        "table": table(header, rows), "x": grid, "flows": [c["product_l_min"] for c in columns], "plans": plans,
        "standing": STANDING, "running": RUNNING, "at": AT, "cold": WINTER, "warm": WARM, "litres": LITRES,
        "currency": currency, "years": 5, "restrictor_bar": 4, "pump_price": PUMP_PRICE, "housing": HOUSING,
        "one_cold": _cold(first), "two_cold": _cold(second), "pump_cold": _cold(pump),
        "two_ppm": second["warmest"]["product"]["meter_ppm"], "pump_ppm": pump["warmest"]["product"]["meter_ppm"],
        "one_cost": near(first["year"]["cost"]["value"]), "two_cost": near(second["year"]["cost"]["value"]),
        "pump_cost": near(pump["year"]["cost"]["value"]),
        "power": pump["cost_split"]["energy"], "kwh": pump["year"]["energy_kwh"]["value"],
        "lost": 100 * (1.0 - flow[WINTER] / flow[WARM]),
        "per_degree": 100 * (1.0 - (flow[WINTER] / flow[WARM]) ** (1.0 / (WARM - WINTER))),
        "at_ten": 100 * flow[10.0] / flow[25.0],
        "one_bar": first["coldest"]["feed"]["membrane_bar"], "pump_bar": pump["coldest"]["feed"]["membrane_bar"],
        "two_bar": second["coldest"]["feed"]["membrane_bar"],
        "alone_ten": 100 * float(arrhenius(2700.0, kelvin(np.array(10.0)))),
        "resin_two": resin[1], "resin_pump": resin[2], "limit": 10,
        "tight": _index(tight), "stop": CALCITE_STOP,
        "strict": STRICT, "resin_strict": _listed(_resin_at(STRICT), 0),
        "hours_one": first["coldest"]["fill_hours"], "dead": STANDING + max(bar for _, bar in CURVE),
        "verdicts": _verdicts(dict(zip(sites, plans, strict=True))),
        "notice": 12, "tolerance": 15, "cold_spread": 100 * 1.645 * COLD_SPREAD,
        "weak": _listed(spread[0]), "strong": _listed(spread[1]), "spread": spread,
        "water_two": _cold(second) / _cold(first), "water_pump": _cold(pump) / _cold(first),
        "salt_two": _salt(second) / _salt(first), "salt_pump": _salt(pump) / _salt(first),
        "gap": gap, "cheap_gap": near(gap - 0.5 * (resin[1] - resin[2])),
    }  # fmt: skip


CALCITE_STOP = THRESHOLDS["calcite"].stop.value


def _index(plan: dict[str, Any]) -> float:
    """The calcite index at the wall on the warmest day, as the plan's verdict tells it."""
    why = next(v["why"] for v in plan["verdicts"] if v["what"] == "lime scale at the drain end")
    found = re.search(r"calcite index is (-?[\d.]+) at the membrane", why)
    assert found is not None
    return float(found[1])


MAKES = ((one, 1.5), (two, 3.0), (pumped, 2.5))


def _cold(plan: dict[str, Any]) -> float:
    return float(plan["coldest"]["product"]["flow_l_min"])


def _salt(plan: dict[str, Any]) -> float:
    """Salt that passes in a minute on the coldest day [mg]."""
    return _cold(plan) * float(plan["coldest"]["product"]["tds_mg_l"])


def _listed(values: Sequence[float], digits: int = 1) -> str:
    said = [f"{value:.{digits}f}" for value in values]
    return f"{', '.join(said[:-1])} and {said[-1]}"


def _resin_at(limit: float) -> list[float]:
    """What a year's resin costs in the three plants, changed at another limit [ppm]."""
    sites = [Site.loads(edited(make(size), product_limit_ppm=limit)) for make, size in MAKES]
    return [float(cost) for cost in bill(sites[0], simulate(year_inputs(sites))).split["resin"]]


def _verdicts(plans: dict[str, dict[str, Any]]) -> str:
    """What each plan says about scale, first sentences only."""
    return "\n".join(
        f"- {name}: **{verdict['verdict']}**. {verdict['why'].partition('. ')[0].rstrip('.')}."
        for name, plan in plans.items()
        for verdict in plan["verdicts"]
        if "scale" in verdict["what"] and verdict["verdict"] != "fine"
    )


def picture(found: dict[str, Any]) -> str:
    """Product flow against temperature."""
    names = ("one membrane", "two membranes", "pump, one membrane")
    flows = (found["flows"][0], found["flows"][1], found["flows"][2])
    lines = [Line(name, found["x"], flow) for name, flow in zip(names, flows, strict=True)]
    return chart("Product flow against water temperature", "water temperature, °C", "product, L/min", lines)


if __name__ == "__main__":
    found = facts()
    write(__file__, PAGE, found, picture(found))
