"""Six invented plants for the plan sheet. Every name and number here is made up; none is a reference for "
"any physics."""

from __future__ import annotations

from typing import Any

from rinsewright.papers import PathPart, PlanPaper, Reading, Tag, TemperatureRow, WaterPath

IONS = {"Ca": 104.0, "Mg": 6.1, "Na": 14.0, "K": 2.0, "HCO3": 285.0, "SO4": 31.0, "Cl": 28.0, "NO3": 22.0, "SiO2": 11.0}


def banded(value: float, spread: float = 0.25) -> dict[str, float]:
    """A value with an invented band."""
    return {"value": value, "low": value * (1 - spread), "high": value * (1 + 1.2 * spread)}


def unknown() -> dict[str, None]:
    """A banded value that is not known."""
    return {"value": None, "low": None, "high": None}


def solved(
    *,
    tap_ppm: float,
    product_l_min: float,
    recovery: float,
    membrane_bar: float,
    product_ppm: float,
    delivered_ppm: float,
    fill_hours: float | None,
    calcite: float | None = 0.4,
    elements: int = 1,
    stages: int = 1,
) -> dict[str, Any]:
    """One invented steady state in the shape of the contract."""
    feed = product_l_min / recovery
    membranes = elements > 0
    return {
        "feed": {
            "flow_l_min": feed,
            "membrane_bar": membrane_bar,
            "conductivity_us_cm": 2 * tap_ppm,
            "meter_ppm": tap_ppm,
            "tds_mg_l": 1.45 * tap_ppm,
            "ph": 7.41,
            "co2_mg_l": 19.3,
            "ions_mg_l": {name: value * tap_ppm / 285 for name, value in IONS.items()},
        },
        "product": {
            "flow_l_min": product_l_min,
            "back_pressure_bar": 0.23,
            "conductivity_us_cm": 2 * product_ppm,
            "meter_ppm": product_ppm,
            "tds_mg_l": 1.2 * product_ppm,
            "residue_mg_l": 0.9 * product_ppm,
            "ph": 5.83,
            "co2_mg_l": 18.9,
            "ions_mg_l": {name: value * product_ppm / 285 for name, value in IONS.items()},
        },
        "delivered": {
            "conductivity_us_cm": 2 * delivered_ppm,
            "meter_ppm": delivered_ppm,
            "residue_mg_l": 0.31,
            "ph": 6.42,
        },
        "drain": {
            "flow_l_min": feed - product_l_min if membranes else 0.0,
            "pressure_bar": membrane_bar - 0.3 if membranes else None,
            "conductivity_us_cm": 2 * tap_ppm / (1 - recovery) if membranes else None,
            "tds_mg_l": 1.45 * tap_ppm / (1 - recovery) if membranes else None,
            "ph": 7.62 if membranes else None,
            "ions_mg_l": {name: value * 1.7 for name, value in IONS.items()} if membranes else {},
            "saturation": {"calcite": calcite, "gypsum": -1.52, "barite": -0.41, "silica": -0.93} if membranes else {},
        },
        "recovery": recovery,
        "rejection": 1 - product_ppm / tap_ppm if membranes else None,
        "elements": [
            {
                "stage": 1 + number * stages // elements,
                "feed_l_min": feed / elements,
                "product_l_min": product_l_min / elements,
                "recovery": recovery * (0.9 + 0.05 * number),
                "flux_l_m2_h": 60 * product_l_min / elements / 7.2,
                "wall_to_bulk": 1.13 + 0.02 * number,
            }
            for number in range(elements)
        ],
        "fill_hours": fill_hours,
        "drain_l_per_product_l": (1 - recovery) / recovery if membranes else 0.0,
        "notes": [],
    }


def year(*, dry: bool = False, tank: bool = True) -> dict[str, Any]:
    """One invented year."""
    return {
        "product_m3": banded(79.4, 0.02),
        "drain_m3": banded(118.0, 0.05),
        "starts": banded(262.0, 0.0),
        "short_days": banded(6.0 if dry else 0.0),
        "short_litres": banded(410.0 if dry else 0.0),
        "resin_changes": banded(1.4),
        "cartridge_changes": banded(5.0, 0.2),
        "energy_kwh": banded(0.0),
        "cost": banded(1183.0, 0.12),
        "cost_per_m3": banded(14.9, 0.12),
        "worst_meter_ppm": banded(4.2),
        "days_over_limit": banded(0.0),
        "dry_chance_by_week": [0.4 - 0.08 * week if dry and week < 5 else 0.0 for week in range(52)],
        "latest_fill_start": [
            f"{hour:02d}:{minute:02d}"
            for hour, minute in zip((19, 19, 20, 20, 21, 22, 22, 22, 21, 21, 20, 19), range(0, 60, 5), strict=True)
        ]
        if tank
        else [None] * 12,
        "notes": ["The year counts one average week, repeated; holidays are not taken out."],
    }


VERDICTS = [
    {
        "what": "flow on the coldest day",
        "verdict": "look",
        "why": "The tank fills in 10.2 h; the window from 20:00 to 06:00 has 10 h.",
        "do": "Start the fill at 19:45 in February, or fit a second tank.",
    },
    {
        "what": "reading at the brush",
        "verdict": "fine",
        "why": "Delivered water reads under 1 ppm all year with fresh resin.",
        "do": None,
    },
    {
        "what": "scale at the drain end",
        "verdict": "stop",
        "why": "At 19 °C lime would settle on the last part of the membrane.",
        "do": "Fit the next larger restrictor (2 L/min) before the first summer.",
    },
    {
        "what": "chlorine",
        "verdict": "fine",
        "why": "The carbon filter holds it back for longer than its change interval.",
        "do": "",
    },
]

CAUTIONS = [
    "Ask the water company before you connect: it may want notice, and it asks for protection against "
    "back-flow. Local rules decide.",
    "End drain and product lines above an air gap.",
    "Let the pressure off before you open a housing.",
    "650 L weigh 650 kg: check the floor under the tank.",
    "Not drinking water: say so on the tank.",
]

ASSUMPTIONS = [
    {"what": "tolerance of a new membrane's flow", "value": 15, "origin": "common practice, no source"},
    {"what": "usable share of the resin", "value": 0.6, "origin": "assumed"},
    {"what": "standing pressure", "value": "4.2 bar", "origin": "measured at the tap"},
    {"what": "sodium and chloride in the tap water", "value": None, "origin": "completed from the meter reading"},
]


def moved(target: str, central: float, *ends: tuple[str, str, float | None, str, float | None]) -> list[dict[str, Any]]:
    """Invented rows of what moves a target."""
    names = ("what", "low_text", "low", "high_text", "high")
    return [{"target": target, "central": central, **dict(zip(names, row, strict=True))} for row in ends]


SENSITIVITIES = [
    *moved(
        "winter product, L/min",
        2.13,
        ("standing pressure", "0.5 bar lower", 1.82, "0.5 bar higher", 2.41),
        ("water permeance of the membranes", "15 % lower", 1.88, "15 % higher", 2.36),
        ("flow of the drain restrictor", "20 % lower", 2.19, "20 % higher", 2.06),
    ),
    *moved(
        "summer reading, ppm",
        11.6,
        ("standing pressure", "0.5 bar lower", None, "0.5 bar higher", 10.9),
        ("salt permeance of the membranes", "28 % lower", 8.6, "39 % higher", 15.7),
    ),
    *moved(
        "resin to its limit, L",
        21840.0,
        ("salt permeance of the membranes", "28 % lower", None, "39 % higher", 14320.0),
        ("usable share of the resin", "50 %", 18200.0, "70 %", 25480.0),
    ),
    *moved(
        "cost of a year",
        1183.0,
        ("price of water and sewerage", "20 % lower", 1052.1, "20 % higher", 1313.9),
        ("price of labour", "20 % lower", 1147.0, "20 % higher", 1219.0),
    ),
]
RESIN_ALONE = {
    "cost_per_year": 9420.0,
    "plant_cost_per_year": 1031.7,
    "resin_litres_per_year": 1187.0,
    "changes_per_year": 169.6,
    "break_even_days": 21.4,
    "currency": "GBP",
}
DEARER = RESIN_ALONE | {"cost_per_year": 640.0, "break_even_days": None, "currency": "EUR"}
NO_PRICE = RESIN_ALONE | {"cost_per_year": None, "plant_cost_per_year": None, "break_even_days": None}
SOURCES = [
    {"what": "viscosity of water", "citation": "An invented book, 1903, page 7", "standing": "read"},
    {"what": "friction in tubes", "citation": "An invented paper", "standing": "from memory"},
]


def answer(today: Any, coldest: Any, warmest: Any, **over: Any) -> dict[str, Any]:
    """A whole invented answer of the job ``plan``."""
    base = {
        "schema": 1,
        "program": "0.1.0",
        "phreeqc": "3.8.6",
        "data": "2026-01",
        "seed": 1,
        "today": today,
        "coldest": coldest,
        "warmest": warmest,
        "resin": {
            "needed": True,
            "litres_to_first_slip": banded(5213.0),
            "litres_to_limit": banded(21840.0, 0.2),
            "plateau_meter_ppm": banded(3.1),
            "co2_share": banded(0.62, 0.1),
            "limited_by": "conductivity",
            "days_to_limit": banded(96.0, 0.2),
        },
        "cartridges": [
            {"media": "sediment", "days": 120.0, "limited_by": "months"},
            {"media": "carbon", "days": 183.0, "limited_by": "chlorine_capacity"},
        ],
        "membranes": {"years": banded(4.6, 0.3), "limited_by": "chlorine", "chlorine_mg_h_l_per_year": banded(212.0)},
        "year": year(),
        "cost_split": {
            "water": 395.0,
            "sewerage": 259.6,
            "energy": 0.0,
            "resin": 63.7,
            "sediment_cartridge": 27.4,
            "carbon_cartridge": 28.0,
            "membrane": 78.0,
            "labour": 180.0,
            "capital": 151.3,
        },
        "verdicts": VERDICTS,
        "cautions": CAUTIONS,
        "assumptions": ASSUMPTIONS,
        "resin_alone": RESIN_ALONE,
        "sensitivities": SENSITIVITIES,
        "sources": SOURCES,
    }
    return base | over


def rows(
    product: float,
    drain: float,
    bar: float,
    ppm: float,
    delivered: float,
    litres: float | None,
    si: float | None,
    *,
    dead_below: float = -1.0,
) -> tuple[TemperatureRow, ...]:
    """Invented rows from 4 to 20 °C: flow up 3 % a degree, salt passage too."""
    out = []
    for temperature in (4, 6, 8, 10, 12, 14, 16, 18, 20):
        factor = 1.03 ** (temperature - 12)
        if temperature < dead_below:
            out.append(TemperatureRow(temperature, *(None,) * 7))
            continue
        flow = product * factor
        fill = litres / flow / 60 if litres else None
        out.append(
            TemperatureRow(
                temperature,
                flow,
                drain,
                bar - 0.02 * temperature,
                ppm * factor,
                delivered,
                fill,
                si + 0.025 * (temperature - 12) if si is not None else None,
            )
        )
    return tuple(out)


WATER = {
    "hardness_mg_l_caco3": 284.7,
    "alkalinity_mg_l_caco3": 233.8,
    "residue_mg_l": 361.0,
    "osmotic_bar": 0.213,
    "charge_balance_pct": 1.4,
    "saturation": {"calcite": 0.12, "gypsum": -1.9},
    "bands": {
        "hardness_mg_l_caco3": {"low": 270.0, "high": 301.0},
        "alkalinity_mg_l_caco3": {"low": 221.0, "high": 246.0},
    },
    "notes": [],
}


def tern_quay() -> PlanPaper:
    """Two membranes side by side on mains pressure, filling a tank at night; hard water."""
    today = solved(
        tap_ppm=285,
        product_l_min=2.87,
        recovery=0.44,
        membrane_bar=3.31,
        product_ppm=9.4,
        delivered_ppm=0.6,
        fill_hours=1.86,
        elements=2,
    )
    coldest = solved(
        tap_ppm=285,
        product_l_min=2.13,
        recovery=0.37,
        membrane_bar=3.42,
        product_ppm=7.7,
        delivered_ppm=0.4,
        fill_hours=2.51,
        elements=2,
        calcite=0.31,
    )
    warmest = solved(
        tap_ppm=285,
        product_l_min=3.58,
        recovery=0.51,
        membrane_bar=3.2,
        product_ppm=11.6,
        delivered_ppm=0.8,
        fill_hours=1.49,
        elements=2,
        calcite=0.83,
    )
    path = WaterPath(
        feed=(
            PathPart("tap", "stop tap", "mains", Tag.of(pressure_bar=3.71, flow_l_min=6.52, meter_ppm=285), "supply"),
            PathPart("tube", "tube", "9 mm, 6 m", None, "plant.feed[0]"),
            PathPart("cartridge-sediment", "sediment filter", "10 in, 5 µm", None, "plant.feed[1]"),
            PathPart(
                "cartridge-carbon",
                "carbon filter",
                "10 in",
                Tag.of(pressure_bar=3.31, flow_l_min=6.52),
                "plant.feed[2]",
            ),
        ),
        membranes=(
            (
                PathPart("membrane", "4040 membrane", "7.2 m²", Tag.of(flow_l_min=1.45), "plant.membranes[0]"),
                PathPart("membrane", "4040 membrane", "7.2 m²", Tag.of(flow_l_min=1.42), "plant.membranes[1]"),
            ),
        ),
        drain=(
            PathPart(
                "restrictor",
                "restrictor",
                "1.5 L/min at 4 bar",
                Tag((Reading("3.65", "L/min"),), "stop"),
                "plant.drain[0]",
            ),
        ),
        product=(
            PathPart("check", "check valve", "", None, "plant.product[0]"),
            PathPart(
                "shutoff",
                "automatic shut-off",
                "closes at 0.66",
                Tag.of(pressure_bar=0.23, flow_l_min=2.87, meter_ppm=9.4, verdict="fine"),
                "plant.product[1]",
            ),
            PathPart("resin", "mixed-bed resin", "7 L", Tag.of(meter_ppm=0.6, verdict="fine"), "plant.product[2]"),
            PathPart("tank", "tank", "650 L", Tag((Reading("10.2", "h to fill"),), "look"), "plant.product[3]"),
        ),
    )
    return PlanPaper(
        "Tern Quay yard",
        "GB",
        "GBP",
        answer(today, coldest, warmest),
        path,
        rows(2.87, 3.65, 3.55, 9.4, 0.6, 320, 0.62),
        (
            "Winter gives 2.1 L/min, a quarter less than today.",
            "The tank still fills for an average day in about two and a half hours.",
            "The drain end would scale in summer: fit the next larger restrictor.",
        ),
        5.0,
        12.0,
        19.0,
        10.0,
        water=WATER,
        made_on="25 November 2026",
    )


def heather_row() -> PlanPaper:
    """Resin alone on soft water, straight to the pole: no membranes, no drain, no tank."""
    state: dict[str, Any] = {
        "tap_ppm": 62,
        "product_l_min": 1.6,
        "recovery": 1.0,
        "membrane_bar": None,
        "product_ppm": 62,
        "delivered_ppm": 0.2,
        "fill_hours": None,
        "calcite": None,
        "elements": 0,
    }
    resin = {
        "needed": True,
        "litres_to_first_slip": banded(2950.0, 0.2),
        "litres_to_limit": banded(3120.0, 0.2),
        "plateau_meter_ppm": unknown(),
        "co2_share": banded(0.18),
        "limited_by": "conductivity",
        "days_to_limit": banded(14.0, 0.2),
    }
    path = WaterPath(
        feed=(
            PathPart("tap", "outside tap", "mains", Tag.of(pressure_bar=2.9, flow_l_min=1.6, meter_ppm=62), "supply"),
            PathPart("cartridge-carbon", "carbon filter", "10 in", None, "plant.feed[0]"),
        ),
        product=(
            PathPart(
                "resin",
                "DI vessel",
                "11 L of mixed bed",
                Tag.of(flow_l_min=1.6, meter_ppm=0.2, verdict="fine"),
                "plant.product[0]",
            ),
            PathPart("tube", "hose", "8 mm, 60 m", None, "plant.product[1]"),
            PathPart(
                "brush",
                "pole and brush",
                "one brush, 9 m up",
                Tag.of(flow_l_min=1.6, meter_ppm=0.2),
                "plant.product[2]",
            ),
        ),
    )
    plan = answer(
        solved(**state),
        solved(**state),
        solved(**state),
        resin=resin,
        membranes={"years": unknown(), "limited_by": None, "chlorine_mg_h_l_per_year": unknown()},
        cartridges=[{"media": "carbon", "days": 183.0, "limited_by": "months"}],
        cost_split={"water": 22.0, "resin": 905.0, "labour": 390.0},
        year=year(tank=False),
        resin_alone=None,
        sensitivities=[row for row in SENSITIVITIES if row["target"] != "summer reading, ppm"],
        verdicts=[
            {
                "what": "resin alone",
                "verdict": "look",
                "why": "A bag lasts about two weeks; membranes pay from about 100 ppm.",
                "do": "Price a small membrane plant against 26 bags a year.",
            }
        ],
        cautions=CAUTIONS[:1] + CAUTIONS[4:],
    )
    return PlanPaper(
        "Heather Row",
        "GB",
        "GBP",
        plan,
        path,
        (),
        ("One fill of resin cleans about 3,100 L, two weeks of work.", "Nothing goes to drain."),
        6.0,
        11.0,
        18.0,
        10.0,
    )


def cold_beck() -> PlanPaper:
    """A well, a booster pump and one membrane, direct to two brushes."""
    today = solved(
        tap_ppm=410,
        product_l_min=3.2,
        recovery=0.46,
        membrane_bar=6.1,
        product_ppm=13.2,
        delivered_ppm=0.9,
        fill_hours=None,
    )
    coldest = solved(
        tap_ppm=410,
        product_l_min=2.8,
        recovery=0.42,
        membrane_bar=6.2,
        product_ppm=12.1,
        delivered_ppm=0.8,
        fill_hours=None,
    )
    warmest = solved(
        tap_ppm=410,
        product_l_min=3.5,
        recovery=0.48,
        membrane_bar=6.0,
        product_ppm=14.0,
        delivered_ppm=1.0,
        fill_hours=None,
    )
    path = WaterPath(
        feed=(
            PathPart("well", "well", "12 m deep", Tag.of(pressure_bar=1.4, meter_ppm=410), "supply"),
            PathPart("softener", "softener", "twin salt", None, "plant.feed[0]"),
            PathPart("cartridge-sediment", "sediment filter", "20 in, 5 µm", None, "plant.feed[1]"),
            PathPart("cartridge-carbon", "carbon filter", "20 in", Tag.of(pressure_bar=1.1), "plant.feed[2]"),
            PathPart("pump", "booster pump", "300 W", Tag.of(pressure_bar=6.1, flow_l_min=6.96), "plant.feed[3]"),
        ),
        membranes=((PathPart("membrane", "4040 membrane", "7.2 m²", Tag.of(flow_l_min=3.2), "plant.membranes[0]"),),),
        drain=(
            PathPart("flush", "flush valve", "20 L at stop", None, "plant.drain[0]"),
            PathPart("restrictor", "restrictor", "2.5 L/min at 4 bar", Tag.of(flow_l_min=3.76), "plant.drain[1]"),
        ),
        product=(
            PathPart(
                "check", "check valve", "", Tag.of(pressure_bar=0.4, flow_l_min=3.2, meter_ppm=13.2), "plant.product[0]"
            ),
            PathPart("resin", "resin", "11 L", Tag.of(meter_ppm=0.9), "plant.product[1]"),
            PathPart(
                "brush",
                "two brushes",
                "1.5 L/min each",
                Tag.of(flow_l_min=3.2, meter_ppm=0.9, verdict="fine"),
                "plant.product[2]",
            ),
        ),
    )
    return PlanPaper(
        "Cold Beck Farm",
        "GB",
        "GBP",
        answer(today, coldest, warmest, year=year(tank=False)),
        path,
        rows(3.2, 3.76, 6.35, 13.2, 0.9, None, -0.4),
        ("Two brushes run all year: 2.8 L/min on the coldest day, and they use 3.",),
        8.0,
        11.0,
        13.0,
        10.0,
        made_on="25 November 2026",
    )


def harbour_depot() -> PlanPaper:
    """A two-to-one array behind a break tank, two resin vessels, tank, delivery pump: the long path. Euros."""
    today = solved(
        tap_ppm=320,
        product_l_min=14.2,
        recovery=0.71,
        membrane_bar=8.4,
        product_ppm=8.8,
        delivered_ppm=0.3,
        fill_hours=2.3,
        elements=3,
        stages=2,
        calcite=1.2,
    )
    coldest = solved(
        tap_ppm=320,
        product_l_min=11.4,
        recovery=0.66,
        membrane_bar=8.8,
        product_ppm=7.1,
        delivered_ppm=0.2,
        fill_hours=2.9,
        elements=3,
        stages=2,
        calcite=1.0,
    )
    warmest = solved(
        tap_ppm=320,
        product_l_min=16.9,
        recovery=0.75,
        membrane_bar=8.1,
        product_ppm=10.9,
        delivered_ppm=0.4,
        fill_hours=1.9,
        elements=3,
        stages=2,
        calcite=1.5,
    )
    tag = Tag.of(pressure_bar=8.4, flow_l_min=20.0)
    path = WaterPath(
        feed=(
            PathPart("tap", "mains", "DN 25", Tag.of(pressure_bar=4.4, flow_l_min=20.0, meter_ppm=320), "supply"),
            PathPart("break-tank", "break tank", "100 L", None, "plant.feed[0]"),
            PathPart("cartridge-sediment", "sediment filter", "20 in", None, "plant.feed[1]"),
            PathPart("cartridge-carbon", "carbon filter", "20 in", None, "plant.feed[2]"),
            PathPart("inhibitor", "scale inhibitor", "dosing pot", None, "plant.feed[3]"),
            PathPart("solenoid", "solenoid valve", "230 V", None, "plant.feed[4]"),
            PathPart("pump", "multistage booster pump", "1.1 kW", tag, "plant.feed[5]"),
            PathPart("tube", "tube", "15 mm, 2 m", None, "plant.feed[6]"),
        ),
        membranes=(
            (
                PathPart("membrane", "4040 membrane", "7.2 m²", Tag.of(flow_l_min=5.4), "plant.membranes[0]"),
                PathPart("membrane", "4040 membrane", "7.2 m²", Tag.of(flow_l_min=5.3), "plant.membranes[1]"),
            ),
            (
                PathPart(
                    "membrane", "4040 membrane", "7.2 m²", Tag.of(flow_l_min=3.5, verdict="look"), "plant.membranes[2]"
                ),
            ),
        ),
        drain=(
            PathPart(
                "restrictor", "needle valve", "set by hand", Tag.of(flow_l_min=5.8, verdict="look"), "plant.drain[0]"
            ),
        ),
        product=(
            PathPart(
                "check", "check valve", "", Tag.of(pressure_bar=0.5, flow_l_min=14.2, meter_ppm=8.8), "plant.product[0]"
            ),
            PathPart("tank", "tank", "2,000 L", None, "plant.product[1]"),
            PathPart(
                "delivery-pump", "delivery pump", "750 W", Tag.of(pressure_bar=3.0, flow_l_min=30.0), "plant.product[2]"
            ),
            PathPart("resin", "lead resin", "25 L", None, "plant.product[3]"),
            PathPart("resin", "lag resin", "25 L", Tag.of(meter_ppm=0.3, verdict="fine"), "plant.product[4]"),
            PathPart("tube", "hose", "19 mm, 15 m", None, "plant.product[5]"),
            PathPart("brush", "van fill", "30 L/min", Tag.of(flow_l_min=30.0, meter_ppm=0.3), "plant.product[6]"),
        ),
    )
    return PlanPaper(
        "Harbour Lane depot",
        "DE",
        "EUR",
        answer(today, coldest, warmest),
        path,
        rows(14.2, 5.8, 8.7, 8.8, 0.3, 1960, 1.2),
        (
            "Five vans fill between six and seven, all year.",
            "The second stage runs close to scaling without its inhibitor.",
        ),
        4.0,
        12.0,
        20.0,
        10.0,
        calcite_limit=1.3,
        inhibitor_credit=0.7,
        water=WATER,
    )


def mill_loft() -> PlanPaper:
    """Tank in the loft: the lift costs pressure twice, and on the coldest day the plant does not work."""
    today = solved(
        tap_ppm=190,
        product_l_min=0.92,
        recovery=0.31,
        membrane_bar=1.9,
        product_ppm=11.2,
        delivered_ppm=0.7,
        fill_hours=5.4,
    )
    warmest = solved(
        tap_ppm=190,
        product_l_min=1.31,
        recovery=0.38,
        membrane_bar=1.8,
        product_ppm=14.9,
        delivered_ppm=1.1,
        fill_hours=3.8,
    )
    path = WaterPath(
        feed=(
            PathPart("tap", "kitchen tap", "mains", Tag.of(pressure_bar=2.1, flow_l_min=2.97, meter_ppm=190), "supply"),
            PathPart("cartridge-carbon", "carbon filter", "10 in", Tag.of(pressure_bar=1.9), "plant.feed[0]"),
        ),
        membranes=((PathPart("membrane", "2540 membrane", "2.6 m²", Tag.of(flow_l_min=0.92), "plant.membranes[0]"),),),
        drain=(PathPart("restrictor", "restrictor", "1.5 L/min at 4 bar", Tag.of(flow_l_min=2.05), "plant.drain[0]"),),
        product=(
            PathPart(
                "check",
                "check valve",
                "",
                Tag.of(pressure_bar=0.54, flow_l_min=0.92, meter_ppm=11.2, verdict="look"),
                "plant.product[0]",
            ),
            PathPart("lift", "up to the loft", "5 m", None, "plant.product[1]"),
            PathPart("tank", "loft tank", "400 L", Tag.of(meter_ppm=11.2), "plant.product[2]"),
            PathPart("resin", "resin", "4 L", Tag.of(meter_ppm=0.7), "plant.product[3]"),
            PathPart("brush", "brush", "1.5 L/min", Tag.of(meter_ppm=0.7), "plant.product[4]"),
        ),
    )
    verdicts = [
        {
            "what": "coldest day",
            "verdict": "stop",
            "why": "At 4 °C the pressure left for the membrane is under the shut-off's reopening pressure: "
            "no water is made.",
            "do": "Fit a booster pump, or put the tank on the ground floor.",
        },
        *VERDICTS[1:2],
    ]
    return PlanPaper(
        "Mill Loft",
        "IE",
        "EUR",
        answer(today, None, warmest, verdicts=verdicts, year=year(dry=True), resin_alone=DEARER),
        path,
        rows(0.92, 2.05, 2.1, 11.2, 0.7, 300, 0.1, dead_below=7),
        (
            "On the coldest day this plant makes no water.",
            "Today it gives 0.9 L/min; the loft takes half of the pressure.",
        ),
        4.0,
        12.0,
        19.0,
        10.0,
    )


EVIL = "<script>alert('x')</script> & \"Sons\""


def ohara() -> PlanPaper:
    """Names that must be escaped, three membranes in series, much not known, a currency without a symbol."""
    nothing = {
        "needed": True,
        "litres_to_first_slip": unknown(),
        "litres_to_limit": unknown(),
        "plateau_meter_ppm": unknown(),
        "co2_share": unknown(),
        "limited_by": None,
        "days_to_limit": unknown(),
    }
    today = solved(
        tap_ppm=540,
        product_l_min=4.4,
        recovery=0.52,
        membrane_bar=5.6,
        product_ppm=24.0,
        delivered_ppm=1.9,
        fill_hours=3.1,
        elements=3,
        stages=3,
        calcite=None,
    )
    path = WaterPath(
        feed=(
            PathPart(
                "tap", EVIL, "½ in & ¾ in <both>", Tag.of(pressure_bar=5.9, flow_l_min=8.46, meter_ppm=540), "supply"
            ),
            PathPart(
                "tube",
                "Wasserversorgungsanschlussleitung",
                "12.5 mm, 31 m of it through the cellar",
                None,
                "plant.feed[0]",
            ),
            PathPart("solenoid", "solenoid valve", "24 V", Tag.of(pressure_bar=5.6), "plant.feed[1]"),
        ),
        membranes=tuple(
            (
                PathPart(
                    "membrane",
                    f"4021 membrane no. {n}",
                    "3.3 m²",
                    Tag.of(flow_l_min=1.4 + n / 10),
                    f"plant.membranes[{n}]",
                ),
            )
            for n in range(3)
        ),
        drain=(
            PathPart("tube", "capillary", "1.2 mm, 2 m", None, "plant.drain[0]"),
            PathPart("restrictor", "restrictor", "", Tag.of(flow_l_min=4.06), "plant.drain[1]"),
        ),
        product=(
            PathPart(
                "blend",
                "blend valve",
                "shut",
                Tag.of(flow_l_min=4.4, meter_ppm=24.0, verdict="stop"),
                "plant.product[0]",
            ),
            PathPart("resin", "resin", "7 L", Tag.of(meter_ppm=1.9), "plant.product[1]"),
            PathPart("tank", "tank", "500 L", None, "plant.product[2]"),
        ),
    )
    evil = [{"what": EVIL, "verdict": "look", "why": EVIL, "do": EVIL}]
    over: dict[str, Any] = {
        "resin": nothing,
        "verdicts": evil,
        "cautions": [EVIL],
        "assumptions": [{"what": EVIL, "value": EVIL, "origin": EVIL}],
        "cost_split": {EVIL: 100.0, "water": None},
        "cartridges": [{"media": "sediment", "days": None, "limited_by": None}],
        "resin_alone": NO_PRICE | {"currency": "CHF"},
        "sensitivities": moved("winter product, L/min", 4.4, (EVIL, EVIL, None, EVIL, 4.9)),
        "sources": [{"what": EVIL, "citation": EVIL, "standing": "assumed"}],
    }
    return PlanPaper(
        EVIL,
        "CH",
        "CHF",
        answer(today, today, today, **over),
        path,
        rows(4.4, 4.06, 5.8, 24.0, 1.9, 800, None),
        (EVIL,),
        5.0,
        12.0,
        19.0,
        10.0,
        made_on=EVIL,
    )


SAMPLES = {
    "tern-quay": tern_quay,
    "heather-row": heather_row,
    "cold-beck": cold_beck,
    "harbour-depot": harbour_depot,
    "mill-loft": mill_loft,
    "ohara": ohara,
}
