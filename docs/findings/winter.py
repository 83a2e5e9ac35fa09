"""A booster pump or a second membrane against a slow winter: flow, drain, power, resin and money."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import numpy as np
from page import Line, Year, chart, demo, edited, filled, near, replaced, table, tables, without, write, year_of

from rinsewright.api import Site
from rinsewright.planning.ensemble import COLD_SPREAD
from rinsewright.plant.membrane.element import arrhenius
from rinsewright.quantities import KWH, kelvin
from rinsewright.seasons.filling import latest_fill_start
from rinsewright.water.scaling import THRESHOLDS

PAGE = """
# A pump or a second membrane for the winter

One membrane on {standing:g} bar makes {one_cold:.1f} L/min at {cold:g} °C. With a second one beside it the plant
makes {two_cold:.1f}, with a booster pump {pump_cold:.1f}. The pump also gives the better water, {pump_ppm:.0f} ppm
against {two_ppm:.0f} at {warm:g} °C, so its resin lasts longer: a year costs {currency} {pump_cost} with the pump,
{two_cost} with two membranes and {one_cost} with the one. Power ({currency} {power:.0f}, {kwh:.0f} kWh) and the
pump's price are counted. Give the pump a larger restrictor, though, or it pays with lime. And ask first whether you
need either: with the tap open all night the one membrane gives the day's {litres:g} L all winter.

![Product flow against water temperature: one membrane, two, and one with a pump.](winter.svg)

{table}

The demo yard on weak mains ({standing:g} bar standing, {running:g} bar at {at:g} L/min), {litres:g} L each working
day, drawn at once into a van. Restrictors are named by what they pass at {restrictor_bar:g} bar. Made-up prices
beside the demo's: pump and switch {pump_price:g}, housing and fittings of the second membrane {housing:g}, spread
over {years:g} years. The last column also counts filters, membranes and visits.

## How long must the tap be open?

{short}

Days in the year on which some water was missing: the median of {members} years drawn by chance (weather, water,
membranes, demand), with the ends of nine in ten. The tank holds two
days' water. With the tap free from {from_hour} to {until_hour} none is missing in any of the three.

{latest}

The latest time to open the tap for a full tank at eight in the morning, on the worst day of the month; the year
without chance, the tap free from {from_hour} to {until_hour}.

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
  nor second membrane. Where somebody must stand by, it does.

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


def at_once(text: str) -> str:
    """The site file with its water drawn at once, so that the plant fills at full flow."""
    return edited(text, draw_until='"08:16"')


NAMES = ("one membrane", "two membranes", "pump, one membrane")
MEMBERS = 10
WINDOWS = (("18:00", "22:00"), ("18:00", "20:00"))
NIGHT = ("16:00", "08:00")
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
    years = [year_of(at_once(text)) for text in PLANTS.values()]
    rows = []
    for name, plan, year in zip(sites, plans, years, strict=True):
        cold, warm, split = plan["coldest"], plan["warmest"], year.costs.per_year()
        rows.append(
            [
                name,
                f"{cold['product']['flow_l_min']:.1f}",
                f"{cold['drain_l_per_product_l']:.2f}",
                f"{warm['product']['meter_ppm']:.0f}",
                f"{split.get('energy', 0.0):.0f}",
                f"{split['water'] + split['sewerage']:.0f}",
                f"{split.get('resin', 0.0):.0f}",
                f"{split.get('capital', 0.0):.0f}",
                near(year.total[0], 3),
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
    one_cost, two_cost, pump_cost, _ = (float(year.total[0]) for year in years)
    resin = [year.costs.per_year().get("resin", 0.0) for year in years]
    short, days_short = _short()
    nights = [year_of(filled(at_once(make(size)), *NIGHT)) for make, size in MAKES]
    return {
        "table": table(header, rows), "short": short, "days_short": days_short, "latest": _latest(nights),
        "nights": nights, "members": MEMBERS, "from_hour": NIGHT[0], "until_hour": NIGHT[1],
        "costs": (pump_cost, one_cost, two_cost),
        "x": grid, "flows": [c["product_l_min"] for c in columns], "plans": plans,
        "standing": STANDING, "running": RUNNING, "at": AT, "cold": WINTER, "warm": WARM, "litres": LITRES,
        "currency": currency, "years": 5, "restrictor_bar": 4, "pump_price": PUMP_PRICE, "housing": HOUSING,
        "one_cold": _cold(first), "two_cold": _cold(second), "pump_cold": _cold(pump),
        "two_ppm": second["warmest"]["product"]["meter_ppm"], "pump_ppm": pump["warmest"]["product"]["meter_ppm"],
        "one_cost": near(one_cost), "two_cost": near(two_cost),
        "pump_cost": near(pump_cost),
        "power": years[2].costs.per_year()["energy"], "kwh": years[2].sum("energy") / KWH,
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
        "cheap_gap": near(two_cost - pump_cost - 0.5 * (resin[1] - resin[2])),
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
    years = [year_of(edited(at_once(make(size)), product_limit_ppm=limit)) for make, size in MAKES]
    return [year.costs.per_year()["resin"] for year in years]


def _short() -> tuple[str, list[list[float]]]:
    """Days short of water in the three plants, by the hours in which the tap may be open."""
    rows, middles = [], []
    for start, end in WINDOWS:
        days = [_days_short(year_of(filled(at_once(make(size)), start, end), MEMBERS)) for make, size in MAKES]
        middles.append([middle for _, middle, _ in days])
        rows.append([f"{start} to {end}", *(f"{mid:.0f} ({low:.0f} to {high:.0f})" for low, mid, high in days)])
    return table(("tap open", *NAMES), rows), middles


def _days_short(year: Year) -> tuple[float, float, float]:
    low, middle, high = np.quantile(year.ledger.short_days, [0.05, 0.5, 0.95])
    return float(low), float(middle), float(high)


def _latest(years: list[Year]) -> str:
    latest = [latest_fill_start(year.marched.inputs, year.ledger) for year in years]
    months = (("February", 1), ("May", 4), ("August", 7))
    rows = [[name, *(str(each[n] or "too late") for each in latest)] for name, n in months]
    return table(("", *NAMES), rows)


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
    flows = (found["flows"][0], found["flows"][1], found["flows"][2])
    lines = [Line(name, found["x"], flow) for name, flow in zip(NAMES, flows, strict=True)]
    return chart("Product flow against water temperature", "water temperature, °C", "product, L/min", lines)


if __name__ == "__main__":
    found = facts()
    write(__file__, PAGE, found, picture(found))
