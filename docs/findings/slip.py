"""First slip against limit, and resin before or behind a vented tank, by the tap's pH."""

from __future__ import annotations

from typing import Any

import numpy as np
from page import Line, chart, demo, edited, near, replaced, table, tables, write

from rinsewright.api import Site
from rinsewright.planning.ensemble import GAS_LOST, ResinOutlook, resin_outlook, solve_members
from rinsewright.quantities import LITRE, kelvin

ACIDITY = (7.2, 7.4, 7.6, 7.8, 8.0, 8.2)
CELSIUS = 12.0
EARLY, LIMIT, FACTOR = (
    1.0,
    10.0,
    0.5,
)  # where the hasty and where the patient change the resin [ppm]; the meter's factor

PAGE = """
# First slip, the limit, and a tank that breathes

Behind membranes on chalk water the resin has two ends. Its reading leaves zero early, when carbonic acid slips
through, and reaches your limit much later, when salts do. At pH {acid} the demo's resin slips after about {slip_acid}
L and reaches {limit_ppm:g} ppm after about {limit_acid} L, {ratio_acid:.1f} times as much; at pH {base} it slips
after {slip_base} L, and the two ends lie only {ratio_base:.1f} times apart. Change at {early_ppm:g} ppm and you throw
away {thrown:.0f} % of the resin at pH {acid}, {thrown_base:.0f} % at pH {base}.

Resin behind a vented tank slips later, by {gain_acid:.0f} % at pH {acid} and {gain_base:.0f} % at pH {base}, but
reaches the limit at the same litre. Moving it pays only if you change at first slip.

![Litres to first slip rise with the pH, before and behind a vented tank; litres to the limit stay level.](slip.svg)

{table}

The demo plant at {celsius:g} °C with its pH changed and nothing else; a meter of factor {factor:g}.

## Why

Membranes hold back salts and let dissolved carbon dioxide pass, and the lower the pH, the more of the water's
carbonate is dissolved gas. The anion resin takes it up first: at pH {acid} it is {share_acid:.0f} % of what that
resin takes up until first slip, at pH {base} {share_base:.0f} %. Chloride, nitrate and sulphate push it out again, so
it costs nothing in the end; until they break through, the meter stands at {plateau_low:.1f} to {plateau_high:.1f}
ppm. Carbonic acid leaves nothing on the glass.

The vented tank lets gas out before the resin. Gas is not what ends the resin at {limit_ppm:g} ppm, and so the limit
does not move (here by less than {limit_moved:.1f} %).

## Against the rule of thumb

- *The bag lasts several times longer than its first digit says*: so below about pH {worth}. On water of pH {base}, as
  when it   is dosed against lead, hardly: there the first digit and the end are near each other.
- *Letting the water breathe before the resin helps*: it moves the first digit and not the litres to {limit_ppm:g}
  ppm.
- *Carbonic acid is harmless*: so it is, but from first slip on silica passes too, and no meter sees it. Behind these
  membranes it is {silica:.1f} mg/L at most, of {residue:.0f} mg/L that the water would leave without resin.

## How sure

That the limit stands still while the slip moves follows from displacement and does not hang on the numbers. The
litres do: first slip is good to a factor of about {spread:.1f} either way (the bands above; membranes, resin capacity
and pH), the limit runs from {limit_low} to {limit_high} L because the product reads only {reads:.0f} ppm before the
resin, near the limit itself: a slightly better membrane hardly needs the resin. What a vented tank loses is assumed,
{lost_low:.0f} to {lost_high:.0f} % of the gas above the air's level; nobody measured it here. Selectivities and
capacities are from memory (see the program's list of assumptions). Test it: log the litre at which the reading leaves
zero, and the litre at which it leaves the plateau.
"""


def behind_tank(text: str) -> str:
    """The demo with its resin moved from before the tank to behind it."""
    resin = next(part for part in tables(text) if 'part = "resin"' in part)
    return replaced(replaced(text, resin, ""), "[prices]", f"{resin}[prices]")


def outlooks(ph: float) -> tuple[ResinOutlook, ResinOutlook, ResinOutlook]:
    """Resin before the tank to the limit, the same to the early change, and resin behind the tank to the limit."""
    before = Site.loads(edited(demo(), ph=ph))
    behind = Site.loads(behind_tank(edited(demo(), ph=ph))).plant
    plant, tap = before.plant, before.tap
    members = solve_members(plant, tap.water, tap.members, float(kelvin(CELSIUS)), plant.supply.standing_pa)
    vessel = plant.resin
    assert vessel is not None
    return (
        resin_outlook(plant, vessel, members, LIMIT, FACTOR),
        resin_outlook(plant, vessel, members, EARLY, FACTOR),
        resin_outlook(behind, vessel, members, LIMIT, FACTOR),
    )


def facts() -> dict[str, Any]:
    """All numbers of the page."""
    found = [outlooks(ph) for ph in ACIDITY]

    def litres(which: int, band: str, end: str = "value") -> np.ndarray[Any, Any]:
        return np.array([getattr(getattr(three[which], band), end) for three in found]) / LITRE

    slip, limit, early = litres(0, "to_first_slip"), litres(0, "to_limit"), litres(1, "to_limit")
    vented, vented_limit = litres(2, "to_first_slip"), litres(2, "to_limit")
    low, high = litres(0, "to_first_slip", "low"), litres(0, "to_first_slip", "high")
    share, plateau = (
        np.array([getattr(three[0], name).value for three in found]) for name in ("co2_share", "plateau_ppm")
    )
    rows = [
        [
            f"{ph:.1f}",
            f"{100 * share[n]:.0f} %",
            f"{near(slip[n])} ({near(low[n])} to {near(high[n])})",
            f"{plateau[n]:.1f}",
            near(limit[n]),
            f"{limit[n] / slip[n]:.1f}",
            near(vented[n]),
            near(vented_limit[n]),
        ]
        for n, ph in enumerate(ACIDITY)
    ]
    header = (
        "pH of the tap", "CO2 in the anion load", "first slip, L (90 % band)", "plateau, ppm", "limit, L",
        "limit over slip", "first slip behind a vented tank, L", "limit behind it, L",
    )  # fmt: skip
    acid, base = ACIDITY[0], ACIDITY[-1]
    silica = Site.loads(demo()).solve(temperature_c=CELSIUS)["product"]
    return {
        "table": table(header, rows),
        "x": np.array(ACIDITY), "slip": slip, "limit": limit, "vented": vented, "low": low, "high": high,
        "early": early, "vented_limit": vented_limit,
        "acid": acid, "base": base, "early_ppm": EARLY, "limit_ppm": LIMIT, "factor": FACTOR, "celsius": CELSIUS,
        "slip_acid": near(slip[0]), "slip_base": near(slip[-1]), "limit_acid": near(limit[0]),
        "spread": float(np.sqrt(np.max(high / low))),
        "ratio_acid": limit[0] / slip[0], "ratio_base": limit[-1] / slip[-1],
        "share_acid": 100 * share[0], "share_base": 100 * share[-1],
        "plateau_low": plateau.min(), "plateau_high": plateau.max(),
        "thrown": 100 * (1.0 - early[0] / limit[0]), "thrown_base": 100 * (1.0 - early[-1] / limit[-1]),
        "gain_acid": 100 * (vented[0] / slip[0] - 1.0), "gain_base": 100 * (vented[-1] / slip[-1] - 1.0),
        "limit_moved": 100 * np.max(np.abs(vented_limit / limit - 1.0)),
        "limit_low": near(litres(0, "to_limit", "low").min()), "limit_high": near(litres(0, "to_limit", "high").max()),
        "worth": ACIDITY[int(np.argmax(limit / slip < 2.5))],
        "silica": silica["ions_mg_l"]["SiO2"], "residue": silica["residue_mg_l"], "reads": silica["meter_ppm"],
        "lost_low": 100 * GAS_LOST[0], "lost_high": 100 * GAS_LOST[1],
    }  # fmt: skip


def picture(found: dict[str, Any]) -> str:
    """Litres against pH."""
    x = found["x"]
    return chart(
        "Litres of product to first slip and to the limit, by the pH of the tap",
        "pH of the tap",
        "litres of product",
        [
            Line("slip, before the tank", x, found["slip"], found["low"], found["high"]),
            Line(f"limit, {LIMIT:g} ppm", x, found["limit"]),
            Line("slip, behind the tank", x, found["vented"]),
        ],
    )


if __name__ == "__main__":
    found = facts()
    write(__file__, PAGE, found, picture(found))
