"""Put a printed `solve` answer back into each part's own law and see what is left over.

The laws are written here once more from the site file's conventions; nothing is solved. Every residual is relative and
dimensionless. A tube inside Re 2000-4000 has no agreed law (each program blends in its own way), so look at the
answers of plants with tubes in them with a wider tolerance.
"""

from __future__ import annotations

import math
from typing import Any

from tests.independent.fluid import Fluid
from tests.independent.ode import BAR, L_MIN, LMH, MG_L, ZERO_C, Stream, line_drop, read_plant, restrictor_flow, stage

Answer = dict[str, Any]


def kell_density(t_k: float) -> float:
    """Density of air-free water at one atmosphere, kg/m3; Kell, J. Chem. Eng. Data 20 (1975) 97 (from memory)."""
    t = t_k - ZERO_C
    top = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t)))
    )
    return top / (1 + 16.879850e-3 * t)


def short_iapws_viscosity(t_k: float) -> float:
    """Viscosity of liquid water at 0.1 MPa, Pa s; IAPWS SR6-08(2011), four terms (from memory)."""
    t = t_k / 300
    value = 1e-6 * (280.68 * t**-1.9 + 511.45 * t**-7.7 + 61.131 * t**-19.6 + 0.45903 * t**-40)
    return float(value)


ANSWER_FLUID = Fluid(density=kell_density, viscosity=short_iapws_viscosity)


def residuals(site: Answer, answer: Answer, temperature_c: float | None = None) -> dict[str, float]:
    """Every explicit law's relative residual, by the law's name."""
    plant = read_plant(_without_ratings(site), temperature_c, ANSWER_FLUID)
    feed, product, drain = answer["feed"], answer["product"], answer["drain"]
    tap, made, gone = (stream["flow_l_min"] for stream in (feed, product, drain))
    restrictor = next(part for part in plant.drain if part["part"] == "restrictor")
    others = [part for part in plant.drain if part["part"] != "restrictor"]
    at_restrictor = drain["pressure_bar"] * BAR - line_drop(others, gone * L_MIN, plant.t_k, plant.fluid)
    back = line_drop(plant.product, made * L_MIN, plant.t_k, plant.fluid) / BAR
    found = {
        "supply and feed line": _off(plant.membrane_pressure(tap * L_MIN) / BAR, feed["membrane_bar"]),
        "restrictor": _off(restrictor_flow(restrictor, at_restrictor) / L_MIN, gone),
        "product line": (back - product["back_pressure_bar"]) / feed["membrane_bar"],
        "water": (made + gone - tap) / tap,
        "recovery": _off(made / tap, answer["recovery"]),
        "rejection": 1 - product["tds_mg_l"] / feed["tds_mg_l"] - answer["rejection"],
        "elements' product": _off(sum(element["product_l_min"] for element in answer["elements"]), made),
    }
    for ion, strength in feed["ions_mg_l"].items():
        if strength > 1e-6:
            carried = made * product["ions_mg_l"][ion] + gone * drain["ions_mg_l"][ion]
            found[f"balance of {ion}"] = carried / (tap * strength) - 1
    return found | _element_identities(site, answer)


def worst(found: dict[str, float]) -> tuple[str, float]:
    """The law with the largest residual, and its size."""
    name = max(found, key=lambda law: abs(found[law]))
    return name, abs(found[name])


def element_deviations(site: Answer, answer: Answer, temperature_c: float | None = None) -> dict[str, float]:
    """Each element integrated from its printed feed flow: relative deviation of what it makes, and of the drain's end.

    The inlet pressure of the first stage is printed; a later stage takes the integrated outlet of the one before.
    """
    plant = read_plant(site, temperature_c)
    recirculated = plant.recirculation / L_MIN
    tap = answer["feed"]["flow_l_min"]
    drain_nacl = _nacl(answer["drain"])
    nacl = (tap * plant.nacl + recirculated * drain_nacl) / (tap + recirculated)
    inlet = Stream(answer["feed"]["membrane_bar"] * BAR, (tap + recirculated) * L_MIN, nacl)
    printed = iter(answer["elements"])
    back = answer["product"]["back_pressure_bar"] * BAR
    found, salt = {}, 0.0
    for number, elements in enumerate(plant.stages, start=1):
        outlets = []
        for place, element in enumerate(elements, start=1):
            row = next(printed)
            share = Stream(inlet.pressure, row["feed_l_min"] * L_MIN, inlet.nacl)
            passed = stage([element], share, back, plant.t_k, plant.fluid)
            found[f"product of {number}.{place}"] = passed.product.flow / L_MIN / row["product_l_min"] - 1
            salt += passed.product.flow * passed.product.nacl
            outlets.append(passed.concentrate)
        for place, outlet in enumerate(outlets[1:], start=2):
            loss = max(inlet.pressure - outlets[0].pressure, 1.0)
            found[f"channel loss of {number}.{place}"] = (inlet.pressure - outlet.pressure) / loss - 1
        flow = sum(outlet.flow for outlet in outlets)
        inlet = Stream(outlets[0].pressure, flow, sum(outlet.flow * outlet.nacl for outlet in outlets) / flow)
    made = answer["product"]["flow_l_min"] * L_MIN
    found["product salt"] = salt / (made * _nacl(answer["product"])) - 1
    found["drain pressure"] = inlet.pressure / (answer["drain"]["pressure_bar"] * BAR) - 1
    return found


def _element_identities(site: Answer, answer: Answer) -> dict[str, float]:
    found = {}
    tables = site["plant"]["membranes"]
    for place, (row, table) in enumerate(zip(answer["elements"], tables, strict=True), start=1):
        flux = row["product_l_min"] * L_MIN / table["area_m2"] / LMH
        found[f"flux of element {place}"] = _off(flux, row["flux_l_m2_h"])
        found[f"recovery of element {place}"] = _off(row["product_l_min"] / row["feed_l_min"], row["recovery"])
    return found


def _without_ratings(site: Answer) -> Answer:
    """The same site with permeances of nothing: the explicit laws need none, and finding them is slow."""
    membranes = [{k: v for k, v in table.items() if k != "rated"} for table in site["plant"]["membranes"]]
    return site | {"plant": site["plant"] | {"membranes": membranes}}


def _off(law: float, printed: float) -> float:
    return law / printed - 1 if printed else math.inf


def _nacl(stream: Answer) -> float:
    return float(stream["ions_mg_l"]["Na"] + stream["ions_mg_l"]["Cl"]) * MG_L
